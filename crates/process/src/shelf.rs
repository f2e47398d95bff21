//! Where do readings wait from the first look at a card until their day is worked on?
//!
//! Packed, some fourteen bytes each: in memory as long as there is room, and then in a file without a name, which is gone
//! when the program ends, however it ends. So a log is read once, and memory does not grow with the card.

mod packing;

use std::fs::File;
use std::io::{self, Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Mutex, PoisonError};

use waterseam_logs::{Observation, Value};

use self::packing::{Asked, Writing};
use crate::ProcessError;
use crate::span::Span;

/// Packed readings of all files that are kept in memory: those of some twenty trips with every sentence every second.
const ROOM_BYTES: usize = 64_000_000;

/// Readings that are packed at once: few enough to be near the processor still.
const AT_ONCE: usize = 4096;

/// A place for the readings of many files.
#[derive(Debug)]
pub struct Shelf {
    /// Where the file is made.
    folder: PathBuf,
    room_bytes: usize,
    in_memory: AtomicUsize,
    file: Mutex<Option<Overflow>>,
}

#[derive(Debug)]
struct Overflow {
    file: File,
    end: u64,
}

/// Readings that lie on a shelf, in the order in which they came.
#[derive(Debug, Default)]
pub struct Packed(Vec<Pack>);

#[derive(Debug)]
struct Pack {
    times: Span,
    n: usize,
    place: Place,
}

#[derive(Debug)]
enum Place {
    Memory(Box<[u8]>),
    File { start: u64, n_bytes: usize },
}

/// Packs readings one after the other.
pub struct Packer<'a> {
    shelf: &'a Shelf,
    /// From the first reading on.
    writing: Option<Writing>,
    /// Of those that were written since the last pack.
    times: Span,
    n: usize,
    packs: Vec<Pack>,
    /// The first that went wrong; a reader of logs cannot be told at once.
    error: Option<io::Error>,
}

impl Shelf {
    /// A shelf for what will be written to a folder, which need not be there yet: what has no room in memory goes to the
    /// same disk.
    pub fn beside(folder: &Path) -> Self {
        let there = folder.ancestors().find(|folder| folder.is_dir()).unwrap_or(Path::new("."));
        Self::with_room(there, ROOM_BYTES)
    }

    fn with_room(folder: &Path, room_bytes: usize) -> Self {
        Self { folder: folder.to_owned(), room_bytes, in_memory: AtomicUsize::new(0), file: Mutex::default() }
    }

    /// Packs the readings of a file.
    pub fn packer(&self) -> Packer<'_> {
        Packer { shelf: self, writing: None, times: Span::NEVER, n: 0, packs: Vec::new(), error: None }
    }

    fn put(&self, bytes: &[u8]) -> io::Result<Place> {
        if self.in_memory.fetch_add(bytes.len(), Ordering::Relaxed) + bytes.len() <= self.room_bytes {
            return Ok(Place::Memory(bytes.into()));
        }
        let mut overflow = self.file.lock().unwrap_or_else(PoisonError::into_inner);
        let Overflow { file, end } = match &mut *overflow {
            Some(there) => there,
            none => none.insert(Overflow { file: tempfile::tempfile_in(&self.folder)?, end: 0 }),
        };
        let start = *end;
        file.seek(SeekFrom::Start(start))?;
        file.write_all(bytes)?;
        *end += bytes.len() as u64;
        Ok(Place::File { start, n_bytes: bytes.len() })
    }

    fn get(&self, start: u64, n_bytes: usize) -> io::Result<Vec<u8>> {
        let mut file = self.file.lock().unwrap_or_else(PoisonError::into_inner);
        let Some(Overflow { file, .. }) = &mut *file else { return Err(io::ErrorKind::NotFound.into()) };
        let mut bytes = vec![0; n_bytes];
        file.seek(SeekFrom::Start(start))?;
        file.read_exact(&mut bytes)?;
        Ok(bytes)
    }

    fn failed(&self, error: io::Error) -> ProcessError {
        ProcessError::NoRoom { folder: self.folder.clone(), error }
    }
}

impl Packer<'_> {
    /// Adds readings.
    pub fn extend(&mut self, observations: &[Observation]) {
        for observation in observations {
            self.writing.get_or_insert_with(|| Writing::of_so_many(AT_ONCE)).add(observation);
            self.times.first_us = self.times.first_us.min(observation.time_us);
            self.times.last_us = self.times.last_us.max(observation.time_us);
            self.n += 1;
            if self.n == AT_ONCE {
                self.pack();
            }
        }
    }

    fn pack(&mut self) {
        let Some(writing) = self.writing.as_mut().filter(|_| self.n > 0) else { return };
        let (times, n) = (self.times, self.n);
        match self.shelf.put(writing.take()) {
            Ok(place) => self.packs.push(Pack { times, n, place }),
            Err(error) => _ = self.error.get_or_insert(error),
        }
        (self.times, self.n) = (Span::NEVER, 0);
    }

    /// All of them.
    ///
    /// # Errors
    /// Where the disk has no room for what memory has none for.
    pub fn finish(mut self) -> Result<Packed, ProcessError> {
        self.pack();
        match self.error {
            Some(error) => Err(self.shelf.failed(error)),
            None => Ok(Packed(self.packs)),
        }
    }
}

impl Packed {
    /// How many may lie in a stretch of time, at most.
    pub fn most_within(&self, span: Span) -> usize {
        self.packs_of(span).map(|pack| pack.n).sum()
    }

    fn packs_of(&self, span: Span) -> impl Iterator<Item = &Pack> {
        self.0.iter().filter(move |pack| pack.times.overlaps(&span))
    }

    /// Gives those of a stretch of time away, in their order.
    ///
    /// # Errors
    /// Where what was written to the disk cannot be read again.
    pub fn within(
        &self,
        span: Span,
        shelf: &Shelf,
        give: impl FnMut(Observation),
    ) -> Result<(), ProcessError> {
        self.some_within(span, shelf, |_| true, give)
    }

    /// The same of those kinds of values that are asked for; `asks` sees them without their numbers.
    ///
    /// # Errors
    /// As [`within`](Self::within).
    pub fn some_within(
        &self,
        span: Span,
        shelf: &Shelf,
        asks: impl Fn(&Value) -> bool,
        mut give: impl FnMut(Observation),
    ) -> Result<(), ProcessError> {
        let asked = Asked::of(asks);
        for Pack { times, n, place } in self.packs_of(span) {
            let again;
            let bytes = match place {
                Place::Memory(bytes) => bytes,
                Place::File { start, n_bytes } => {
                    again = shelf.get(*start, *n_bytes).map_err(|error| shelf.failed(error))?;
                    &again[..]
                }
            };
            let whole = if span.reaches(times.first_us, 0) && span.reaches(times.last_us, 0) {
                packing::each(bytes, *n, &asked, &mut give)
            } else {
                packing::each(bytes, *n, &asked, |o| {
                    if span.reaches(o.time_us, 0) {
                        give(o);
                    }
                })
            };
            whole.ok_or_else(|| shelf.failed(io::ErrorKind::InvalidData.into()))?;
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;
    use waterseam_logs::{NO_TALKER, Value};

    use super::*;

    fn readings(times: &[i64]) -> Vec<Observation> {
        let one = |(at, &time_us): (usize, &i64)| {
            let value = match at % 3 {
                0 => Value::WaterTemp { temp_c: at as f64 / 7.0 },
                1 => Value::WaterSpeed { stw_mps: -0.0, across_mps: (at % 2 == 0).then_some(1e-300) },
                _ => Value::Probe { depth_m: at as f64, temp_c: None, speed_mps: Some(0.1) },
            };
            Observation { time_us, talker: NO_TALKER, source: 0, value }
        };
        times.iter().enumerate().map(one).collect()
    }

    fn pack(shelf: &Shelf, readings: &[Observation]) -> Result<Packed, ProcessError> {
        let mut packer = shelf.packer();
        for reading in readings {
            packer.extend(std::slice::from_ref(reading));
        }
        packer.finish()
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(32))]
        #[test]
        fn what_lies_on_a_shelf_is_what_was_put_there(
            times in proptest::collection::vec(-1000_i64..1000, 0..3 * AT_ONCE),
            room_bytes in 0..200_000_usize,
            (first_us, last_us) in (-1200_i64..1200, -1200_i64..1200),
        ) {
            let dir = tempfile::tempdir().unwrap();
            let shelf = Shelf::with_room(dir.path(), room_bytes);
            let all = readings(&times);
            // packs of two files lie between each other
            let (one, other) = (pack(&shelf, &all).unwrap(), pack(&shelf, &all[all.len() / 2..]).unwrap());
            let span = Span { first_us, last_us };
            for (packed, given) in [(one, &all[..]), (other, &all[all.len() / 2..])] {
                let mut found = Vec::new();
                packed.within(span, &shelf, |o| found.push(o)).unwrap();
                prop_assert!(found.len() <= packed.most_within(span));
                let want: Vec<Observation> = given.iter().copied().filter(|o| span.reaches(o.time_us, 0)).collect();
                prop_assert_eq!(found, want);
            }
            prop_assert_eq!(std::fs::read_dir(dir.path()).unwrap().count(), 0, "the file has no name");
        }
    }

    #[test]
    fn a_disk_without_room_is_told_of() {
        let dir = tempfile::tempdir().unwrap();
        let shelf = Shelf::with_room(&dir.path().join("not there"), 0);
        assert!(matches!(pack(&shelf, &readings(&[1, 2, 3])), Err(ProcessError::NoRoom { .. })));
        // what fits into memory needs no disk
        let shelf = Shelf::with_room(&dir.path().join("not there"), 1000);
        let mut found = Vec::new();
        let all = Span { first_us: i64::MIN, last_us: i64::MAX };
        pack(&shelf, &readings(&[1, 2, 3])).unwrap().within(all, &shelf, |o| found.push(o)).unwrap();
        assert_eq!(found.len(), 3);
    }

    #[test]
    fn a_shelf_is_made_where_there_is_a_folder() {
        let dir = tempfile::tempdir().unwrap();
        let shelf = Shelf::beside(&dir.path().join("new/logbook"));
        assert_eq!(shelf.folder, dir.path());
    }
}
