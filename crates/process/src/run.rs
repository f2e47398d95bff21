//! The main job: files in, trips in the logbook.

use std::collections::{BTreeMap, BTreeSet};
use std::panic::resume_unwind;
use std::path::{Path, PathBuf};
use std::sync::{Mutex, PoisonError};

use waterseam_logs::boat::BoatFile;
use waterseam_logs::{GearEntry, NoteTime, Observation, SetAside, SourceReport};
use waterseam_tables::{
    Logbook, LogbookWriter, Outcome, PackedTrip, Repair, TripTables, calibrations, sources, trips,
};
use waterseam_track::Trip;
use waterseam_units::time::US_PER_S;

use crate::card::{self, Batch, Card};
use crate::chain::{self, Chain};
use crate::copies::{self, Copy};
use crate::currents::{self, Earlier};
use crate::instruments::{self, Instruments};
use crate::placing::{self, Placer, Receipt, Stopped};
use crate::read::{self, ReadFile};
use crate::shelf::Shelf;
use crate::span::Span;
use crate::supersede::{self, Decision, Held, Written};
use crate::{ProcessError, clocks, current_rows, files, settings, trip, without_trip};

/// Observations this close to a day's first and last position are read with it.
const MARGIN_US: i64 = 60 * US_PER_S;

/// What to process.
#[derive(Clone, Copy, Debug)]
pub struct Request<'a> {
    /// Files and folders.
    pub inputs: &'a [PathBuf],
    /// Settings of the boat.
    pub boat: &'a BoatFile,
    /// Folder of the logbook.
    pub logbook: &'a Path,
}

/// What came of it.
#[derive(Debug)]
pub struct Done<T> {
    /// Trips in order of time.
    pub trips: Vec<DoneTrip<T>>,
    /// What was put right when the logbook was opened.
    pub repairs: Vec<Repair>,
    /// Files that are no log that can be read, with what they look like.
    pub unknown: Vec<(PathBuf, String)>,
    /// Files that another one holds whole, which were left out.
    pub copies: Vec<Copy>,
    /// Files of a known kind that no trip could use, with the reason in words.
    pub idle: Vec<(PathBuf, String)>,
    /// Notes that belong to no trip: file, line and reason.
    pub unplaced: Vec<(PathBuf, u64, &'static str)>,
    /// Trips that the logbook held of the same files at another time, as they were read before; they are gone.
    pub moved: Vec<String>,
}

/// What came of a trip.
#[derive(Debug)]
pub struct DoneTrip<T> {
    /// Its id.
    pub trip_id: String,
    /// What the logbook did with it.
    pub kept: Kept,
    /// Trips of the logbook, from files that are not there now, so shortly before or after it that the files of both
    /// together would be one trip.
    pub beside: Vec<String>,
    /// What `show` made of the tables that the logbook now holds.
    pub shown: T,
}

/// What the logbook did with a trip.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Kept {
    /// It is new.
    Added,
    /// The logbook held exactly this already.
    Unchanged,
    /// It took the place of what the logbook held of that time.
    Replaced,
    /// The logbook holds a trip of that time that rests on files which are not there now; it stays.
    HeldIsRicher {
        /// Files that are missing now.
        missing: Vec<String>,
    },
}

/// Runs the main job. `found` is called with the number of files, `done` for each file that has been read, `show`
/// for each trip; the last two from several threads.
///
/// # Errors
/// Where an input cannot be read, no file is of a known kind, or the logbook cannot be written. Trips that are in the
/// logbook by then stay there whole.
pub fn run<T: Send>(
    request: &Request,
    found: &dyn Fn(usize),
    done: &(dyn Fn(&Path) + Sync),
    show: &(dyn Fn(&TripTables) -> T + Sync),
) -> Result<Done<T>, ProcessError> {
    let paths = files::find(request.inputs, Some(request.logbook))?;
    if paths.is_empty() {
        return Err(ProcessError::NoFile);
    }
    found(paths.len());
    let shelf = Shelf::beside(request.logbook);
    let (mut files, copies) = copies::apart(read::all(&paths, request.boat, &shelf, done)?);
    let unknown: Vec<(PathBuf, String)> = files
        .iter()
        .filter(|file| file.report.kind.is_none())
        .map(|file| (file.path.clone(), file.report.described.clone()))
        .collect();
    if unknown.len() == files.len() {
        return Err(ProcessError::NothingKnown { unknown });
    }
    clocks::align(&mut files, request.boat, &shelf)?;
    let card = card::sort(&files, (request.boat.trip_gap_s * US_PER_S as f64) as i64);
    account_for_unplaced(&card, &mut files);

    let writer = LogbookWriter::open_or_create(request.logbook)?;
    let held = supersede::held(writer.logbook().read_table(None)?, writer.logbook().read_table(None)?);
    let read_now: BTreeSet<&str> = files.iter().map(|file| file.report.content_hash.as_str()).collect();
    let days: Vec<Span> = card.batches.iter().map(|batch| batch.day).collect();
    let may_move: Vec<Held> = supersede::may_move(&held, &read_now, &days).cloned().collect();
    let known = earlier_trips(&writer, request.boat, &days, &may_move)?;
    let (placer, waiting) = placing::queue();
    let ground = Ground {
        chain: Chain::new(known),
        files: &files,
        shelf: &shelf,
        read_now: &read_now,
        boat: request.boat,
        logbook: writer.logbook(),
        placer,
        held: &held,
        may_move: &may_move,
        written: Mutex::default(),
    };
    let (trips, placed) = std::thread::scope(|scope| {
        let placed = scope.spawn(|| waiting.place_in(&writer));
        let trips = chain::in_order(
            card.batches.len(),
            |index| ground.batch(index, &card.batches),
            |made| made.into_iter().map(|(made, written)| Ok((ground.done(made, show)?, written))).collect(),
        );
        // no more come
        drop(ground);
        (trips, placed.join().unwrap_or_else(|panic| resume_unwind(panic)))
    });
    placed?;
    let trips: Vec<Vec<(DoneTrip<T>, Written)>> = trips.map_err(Stop::why)?;
    let (trips, written): (Vec<DoneTrip<T>>, Vec<Written>) = trips.into_iter().flatten().unzip();
    let moved = supersede::moved(&written, &held);
    let known = writer.logbook().trip_ids()?;
    // most went with the trips that they became; left is what lies between two new trips of one day
    for old in moved.iter().filter(|old| known.contains(old)) {
        writer.forget(old)?;
    }
    let used = supersede::content(&held, &written, &moved);
    without_trip::keep(&files, &card.idle_files, &used, &writer)?;
    let path = |file: usize| files[file].path.clone();
    Ok(Done {
        trips,
        moved,
        repairs: writer.logbook().repairs().to_vec(),
        unknown,
        copies,
        idle: card
            .idle_files
            .iter()
            .map(|&file| (path(file), without_trip::why_idle(&files[file].report)))
            .collect(),
        unplaced: card.unplaced.iter().map(|note| (path(note.file), note.line, note.reason)).collect(),
    })
}

/// What the trips of this boat that the logbook holds say of her log and compass; those that are made anew now are left out.
fn earlier_trips(
    writer: &LogbookWriter,
    boat: &BoatFile,
    days: &[Span],
    may_move: &[Held],
) -> Result<Vec<(Span, Earlier)>, ProcessError> {
    if boat.boat == BoatFile::default().boat {
        // boats without a name may be two
        return Ok(Vec::new());
    }
    let trips: Vec<trips::Row> = writer.logbook().read_table(None)?;
    let stays = |trip: &trips::Row| {
        let span = Span { first_us: trip.time_start, last_us: trip.time_end };
        let is_kept = trip.boat == boat.boat
            && !days.iter().any(|day| day.overlaps(&span))
            && !may_move.iter().any(|old| old.trip_id == trip.trip_id);
        is_kept.then(|| (trip.trip_id.clone(), span))
    };
    let spans: BTreeMap<String, Span> = trips.iter().filter_map(stays).collect();
    let rows: Vec<calibrations::Row> = writer.logbook().read_table(None)?;
    let known = |row: &calibrations::Row| Some((*spans.get(&row.trip_id)?, current_rows::earlier(row)?));
    Ok(rows.iter().filter_map(known).collect())
}

/// Notes that no day takes move from the used records of their file to those set aside.
fn account_for_unplaced(card: &Card, files: &mut [ReadFile]) {
    for note in &card.unplaced {
        let file = &mut files[note.file];
        file.report.records_used = file.report.records_used.saturating_sub(1);
        *file.report.set_aside.entry(note.reason).or_default() += 1;
        let raw = trip::line_of(&file.member, note.line);
        file.set_aside.push(SetAside { line: note.line, byte: raw.byte, reason: note.reason, raw: raw.text });
    }
}

/// Why no further batch is worked on.
enum Stop {
    /// A batch failed.
    Failed(ProcessError),
    /// Nothing is put into the logbook any more.
    NotPlaced,
}

impl Stop {
    /// What to tell, where the trips that were handed on could be put into the logbook.
    fn why(self) -> ProcessError {
        match self {
            Self::Failed(error) => error,
            Self::NotPlaced => unreachable!("who puts trips into the logbook stops early only with an error"),
        }
    }
}

impl From<ProcessError> for Stop {
    fn from(error: ProcessError) -> Self {
        Self::Failed(error)
    }
}

impl From<waterseam_tables::Error> for Stop {
    fn from(error: waterseam_tables::Error) -> Self {
        Self::Failed(error.into())
    }
}

impl From<Stopped> for Stop {
    fn from(_: Stopped) -> Self {
        Self::NotPlaced
    }
}

/// A trip of which it is clear what becomes of it.
enum Made {
    /// The logbook keeps what it holds.
    Held { trip_id: String, missing: Vec<String> },
    /// It is on its way into the logbook.
    HandedOn { tables: Box<TripTables>, receipt: Receipt, is_instead: bool, beside: Vec<String> },
}

struct Ground<'a> {
    chain: Chain,
    files: &'a [ReadFile],
    shelf: &'a Shelf,
    /// Content hashes of the files.
    read_now: &'a BTreeSet<&'a str>,
    boat: &'a BoatFile,
    /// As it was before.
    logbook: &'a Logbook,
    placer: Placer,
    held: &'a [Held],
    /// Held trips that go with the last of the new trips that their files make.
    may_move: &'a [Held],
    /// New trips that were handed on, where one may be the last of such.
    written: Mutex<Vec<Written>>,
}

impl Ground<'_> {
    /// Makes the trips of a batch and hands them on.
    fn batch(&self, index: usize, batches: &[Batch]) -> Result<Vec<(Made, Written)>, Stop> {
        let (batch, is_last) = (&batches[index], index + 1 == batches.len());
        let place = self.chain.place(index);
        let span = batch.day;
        let wide = Span { first_us: span.first_us - MARGIN_US, last_us: span.last_us + MARGIN_US };
        let most = batch.files.iter().map(|&file| self.files[file].most_within(wide)).sum();
        let mut observations = Vec::with_capacity(most);
        for (source, &file) in batch.files.iter().enumerate() {
            let source = u16::try_from(source).unwrap_or(u16::MAX);
            let from = |observation| Observation { source, ..observation };
            self.files[file]
                .observations_within(wide, self.shelf, |observation| observations.push(from(observation)))?;
        }
        let reports: Vec<&SourceReport> = batch.files.iter().map(|&file| &self.files[file].report).collect();
        let Instruments { names, doubles } = instruments::tell_apart(&mut observations, &reports);
        let given = observations.len();
        let waterseam_track::Batch { mut trips, outside } =
            waterseam_track::trips_of(observations, &names, &settings::track(self.boat));
        for (file, n) in doubles {
            let name = &reports[file].file_name;
            let said = format!("{n} readings of {name} are in another file too and count once.");
            for trip in &mut trips {
                trip.remarks.push(said.clone());
            }
        }
        // a few readings before the first fix are ordinary and not worth a line
        if let Some(first) = trips.first_mut().filter(|_| outside * 100 > given) {
            first.remarks.push(format!(
                "{outside} of {given} readings came at times without a position; they are in no trip."
            ));
        }
        let spans: Vec<Span> = trips.iter().filter_map(span_of).collect();
        let currents: Vec<currents::Found> = trips
            .iter_mut()
            .zip(&spans)
            .map(|(trip, &span)| {
                let earlier = if self.boat.boat == BoatFile::default().boat {
                    None
                } else {
                    place.before(span.first_us)
                };
                let found = currents::find(trip, earlier.as_ref());
                place.leave(span, found.carry());
                found
            })
            .collect();
        drop(place);
        let mut bites = by_trip(&batch.bites, |note| Some(note.time), &spans, span, self.boat);
        let mut gear =
            by_trip(&batch.gear, |entry: &GearEntry| entry.start.or(entry.end), &spans, span, self.boat);
        trips
            .into_iter()
            .zip(currents)
            .enumerate()
            .map(|(index, (one, currents))| {
                let bites = bites.remove(&index).unwrap_or_default();
                let gear = gear.remove(&index).unwrap_or_default();
                let material = trip::Material {
                    trip: one,
                    currents,
                    span: spans[index],
                    files: self.files,
                    batch,
                    bites,
                    gear,
                    is_last,
                };
                let tables = trip::tables(material, self.boat);
                self.keep(tables, spans[index])
            })
            .collect()
    }

    fn keep(&self, tables: TripTables, span: Span) -> Result<(Made, Written), Stop> {
        let trip_id = tables.trips[0].trip_id.clone();
        match supersede::decide(&trip_id, span, &tables.sources, self.held, &|is, was| {
            self.begins_with(is, was)
        }) {
            Decision::Keep { trip_id, missing } => {
                let written = Written { span, content: Vec::new(), stands_for: Vec::new() };
                Ok((Made::Held { trip_id, missing }, written))
            }
            Decision::Write { instead_of } => {
                let written = Written {
                    span,
                    content: tables.sources.iter().map(|source| source.content_hash.clone()).collect(),
                    stands_for: [std::slice::from_ref(&trip_id), &instead_of].concat(),
                };
                let receipt = self.hand_on(&tables, &written)?;
                let gap_us = (self.boat.trip_gap_s * US_PER_S as f64) as i64;
                let beside = supersede::beside(span, gap_us, self.held, &|hash| self.read_now.contains(hash));
                let is_instead = !instead_of.is_empty();
                Ok((Made::HandedOn { tables: Box::new(tables), receipt, is_instead, beside }, written))
            }
        }
    }

    /// Waits until a trip is where it belongs, and shows what the logbook then holds.
    fn done<T>(&self, made: Made, show: &(dyn Fn(&TripTables) -> T + Sync)) -> Result<DoneTrip<T>, Stop> {
        match made {
            Made::Held { trip_id, missing } => {
                let shown = show(&self.logbook.read_trip(&trip_id)?);
                Ok(DoneTrip { trip_id, kept: Kept::HeldIsRicher { missing }, beside: Vec::new(), shown })
            }
            Made::HandedOn { tables, receipt, is_instead, beside } => {
                let kept = match receipt.outcome()? {
                    Outcome::Unchanged => Kept::Unchanged,
                    Outcome::Added if !is_instead => Kept::Added,
                    Outcome::Added | Outcome::Replaced => Kept::Replaced,
                };
                let trip_id = tables.trips[0].trip_id.clone();
                Ok(DoneTrip { trip_id, kept, beside, shown: show(&tables) })
            }
        }
    }

    /// Hands a trip on, to be put in place of those that it stands for, and of held ones that have moved and of which it
    /// is the last.
    fn hand_on(&self, tables: &TripTables, new: &Written) -> Result<Receipt, Stop> {
        if self.may_move.is_empty() {
            return Ok(self.placer.put(PackedTrip::new(tables, &new.stands_for)?)?);
        }
        // one after another: a held trip goes when the others that its files make are there
        let mut written = self.written.lock().unwrap_or_else(PoisonError::into_inner);
        written.push(new.clone());
        let moved = supersede::moved(&written, self.may_move);
        let packed = PackedTrip::new(tables, &[new.stands_for.clone(), moved].concat())?;
        Ok(self.placer.put(packed)?)
    }

    /// Whether a file of now begins with all of one that the logbook knows.
    fn begins_with(&self, is: &sources::Row, was: &sources::Row) -> bool {
        let file = self.files.iter().find(|file| file.report.content_hash == is.content_hash);
        let begin = file.and_then(|file| file.member.hash_of_first(was.bytes as u64).ok().flatten());
        begin.as_ref() == Some(&was.content_hash)
    }
}

fn span_of(trip: &Trip) -> Option<Span> {
    let times = &trip.track.time_us;
    Some(Span { first_us: *times.first()?, last_us: *times.last()? })
}

/// Notes by the index of the trip that is nearest in time.
fn by_trip<N: Clone>(
    notes: &[(usize, N)],
    time: impl Fn(&N) -> Option<NoteTime>,
    trips: &[Span],
    batch: Span,
    boat: &BoatFile,
) -> BTreeMap<usize, Vec<(usize, N)>> {
    let mut sorted: BTreeMap<usize, Vec<(usize, N)>> = BTreeMap::new();
    for (file, note) in notes {
        let instant =
            time(note).and_then(|time| card::instant(time, &boat.time_zone, batch)).unwrap_or(batch.first_us);
        let outside = |span: &Span| (span.first_us - instant).max(instant - span.last_us).max(0);
        if let Some(trip) = (0..trips.len()).min_by_key(|&trip| outside(&trips[trip])) {
            sorted.entry(trip).or_default().push((*file, note.clone()));
        }
    }
    sorted
}
