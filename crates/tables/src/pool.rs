//! How do the many small files of one or more logbooks become a few large ones?
//!
//! ```text
//! pool.toml                                           version of this layout
//! <table>/boat=<name>/year=<YYYY>/part-<N>.parquet    a span of time of one boat, rows by cell and time
//! .sums/<YYYY>.<name>.blake3                          BLAKE3 of each file, and of what they were made from
//! .staging/<YYYY>.<name>/                             a boat's year on its way into the pool
//! .lock                                               held by the program that writes the pool
//! ```
//! A column that the folders' names hold, the boat of `trips`, is not in the files beside it: engines would find it twice.
//!
//! A pool is a copy: the logbooks stay the truth, and a pool can be deleted and made again at any time. It holds the
//! trips of the logbooks that it was made from and no others; a boat's year is written anew only where one of its
//! trips has changed. What belongs to no trip is not in it. The same logbooks give the same bytes, whatever the pool
//! held before. One thing is written out that a logbook may leave to be worked out: every trip of a pool has its day, for
//! engines that know no time zones.

use std::fs;
use std::io::ErrorKind;
use std::path::{Path, PathBuf};

use arrow::array::RecordBatch;
use serde::Deserialize;

use crate::disk::{sync_folder, write_whole};
use crate::error::Error;
use crate::layout;
use crate::lock::{self, Lock};
use crate::logbook::Logbook;
use crate::table::Table;
use crate::tables::trips;
use crate::trip::{EachTable, TripTables};

mod answers;
mod commit;
mod inputs;
mod key;
mod part;
mod places;
mod read;
#[cfg(test)]
mod tests;

pub use answers::read_answers;
use inputs::Trip;
pub use key::BoatYear;
pub use places::{PlaceCounts, parent, places};
pub use read::{PoolBite, PoolRows, PoolTrip, PoolVisit, read_pool};

/// Version of the layout and of how rows are ordered in it. A pool of another version is written anew, year by year.
const POOL_VERSION: u32 = 2;

/// The file that makes a folder a pool.
const TOML: &str = "pool.toml";

/// How large the files become.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Limits {
    /// Most rows of a file, unless a single trip has more.
    pub rows: usize,
    /// Most bytes that the rows of a file take in memory, unless a single trip takes more. The rows of one file at a
    /// time are in memory, once as they were read and a row group of them in order.
    pub bytes: usize,
    /// Rows of a row group: what an engine that looks for one cell reads at least, and passes over at once.
    pub row_group_rows: usize,
    /// Rows of a page, the smallest piece that an engine can pass over.
    pub page_rows: usize,
}

impl Default for Limits {
    fn default() -> Self {
        Self { rows: 2_000_000, bytes: 512 << 20, row_group_rows: 1 << 17, page_rows: 1 << 13 }
    }
}

/// What became of the pool.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Compaction {
    /// Years that were written, because a trip of theirs was new or had changed.
    pub written: Vec<Written>,
    /// Years that were as their trips are.
    pub unchanged: Vec<BoatYear>,
    /// Years that the logbooks do not have any more.
    pub removed: Vec<BoatYear>,
}

/// A year that was written.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Written {
    /// The boat and the year.
    pub of: BoatYear,
    /// Trips of that year.
    pub trips: usize,
    /// Files that were read.
    pub files_before: usize,
    /// Their bytes.
    pub bytes_before: u64,
    /// Files that were written.
    pub files_after: usize,
    /// Their bytes.
    pub bytes_after: u64,
}

/// Makes a pool hold what the logbooks hold, in few files.
///
/// Whatever happens in between, each year of each boat is in the pool as it was before or as it is after. What was
/// interrupted is put right when a pool is next compacted.
///
/// # Errors
/// Where a logbook or the pool cannot be opened, two logbooks hold different trips of one boat under one id, a file of a
/// logbook is damaged, or a file cannot be written. The years that were written before stay.
pub fn compact(logbooks: &[PathBuf], pool: &Path) -> Result<Compaction, Error> {
    compact_within(logbooks, pool, &Limits::default())
}

pub(crate) fn compact_within(
    logbooks: &[PathBuf],
    pool: &Path,
    limits: &Limits,
) -> Result<Compaction, Error> {
    let opened: Result<Vec<Logbook>, Error> = logbooks.iter().map(|root| Logbook::open(root)).collect();
    let opened = opened?;
    let years = inputs::by_boat_and_year(logbooks, &opened)?;
    let _alone = open_or_create(pool)?;
    let mut done = Compaction::default();
    for key in commit::keys(pool)? {
        if !years.contains_key(&key) {
            commit::Staging::begin(pool, &key)?.done(None)?;
            done.removed.push(key);
        }
    }
    for (key, trips) in &years {
        let made_from = inputs::hash(trips);
        if commit::is_made_from(pool, key, &made_from) {
            done.unchanged.push(key.clone());
        } else {
            done.written.push(write_year(pool, key, trips, &made_from, limits)?);
        }
    }
    if stated_version(pool)? != Some(POOL_VERSION) {
        write_version(pool)?;
    }
    Ok(done)
}

fn write_year(
    pool: &Path,
    key: &BoatYear,
    trips: &[Trip],
    made_from: &str,
    limits: &Limits,
) -> Result<Written, Error> {
    let staging = commit::Staging::begin(pool, key)?;
    let written = Written {
        of: key.clone(),
        trips: trips.len(),
        files_before: 0,
        bytes_before: 0,
        files_after: 0,
        bytes_after: 0,
    };
    let mut writer = Writer { staging, trips, limits, written };
    match TripTables::each(&mut writer).and_then(|()| writer.staging.done(Some(made_from))) {
        Ok(()) => Ok(writer.written),
        Err(cause) => {
            // what cannot be removed now is removed when the pool is next compacted
            let _ = commit::recover_one(pool, key);
            Err(cause)
        }
    }
}

/// Writes each table of a boat's year.
struct Writer<'a> {
    staging: commit::Staging<'a>,
    trips: &'a [Trip],
    limits: &'a Limits,
    written: Written,
}

impl EachTable for Writer<'_> {
    type Error = Error;
    fn table<R: Table>(&mut self) -> Result<(), Error> {
        let mut part = part::Part::<R>::new(self.limits);
        for trip in self.trips {
            let Some(file) = trip.file::<R>()? else { continue };
            self.written.files_before += 1;
            self.written.bytes_before += file.metadata().map_or(0, |data| data.len());
            let mut rows = crate::file::batches::<R>(&file)?;
            if R::NAME == trips::Row::NAME {
                rows = rows
                    .iter()
                    .map(with_day)
                    .collect::<Result<_, _>>()
                    .map_err(|cause| Error::Damaged { path: file.clone(), cause })?;
            }
            if let Some(full) = part.add(&trip.id, rows) {
                self.put::<R>(&full)?;
            }
        }
        part.rest().map_or(Ok(()), |rest| self.put::<R>(&rest))
    }
}

impl Writer<'_> {
    fn put<R: Table>(&mut self, rows: &part::Part<R>) -> Result<(), Error> {
        let bytes = rows.bytes()?;
        self.written.files_after += 1;
        self.written.bytes_after += bytes.len() as u64;
        self.staging.put(R::NAME, &bytes)
    }
}

/// Rows of `trips`, each with its day.
fn with_day(batch: &RecordBatch) -> Result<RecordBatch, String> {
    let mut rows = trips::Row::from_batch(batch).map_err(|bad| bad.to_string())?;
    for row in &mut rows {
        row.local_date = Some(row.day().to_string());
    }
    trips::Row::to_batch(&rows).map_err(|bad| bad.to_string())
}

/// Refuses a folder that is no pool, one of an older layout, and one in which not all files of a year are in place.
pub(crate) fn check_whole(root: &Path) -> Result<(), Error> {
    match stated_version(root)? {
        None => Err(Error::NotAPool { path: root.to_owned() }),
        Some(POOL_VERSION) => commit::check_whole(root),
        Some(_) => Err(Error::OlderPool { path: root.to_owned() }),
    }
}

/// What is in the pool and is not as its lists say, a line a file.
#[cfg(test)]
pub(crate) fn wrong_sums(pool: &Path) -> String {
    commit::wrong_sums(pool)
}

#[derive(Deserialize)]
struct Version {
    format_version: u32,
}

/// Takes a pool for writing, and makes it where the folder is empty or does not exist yet. What was interrupted is
/// finished or undone first.
pub(crate) fn open_or_create(root: &Path) -> Result<Lock, Error> {
    fs::create_dir_all(root).map_err(Error::io(root, "make the folder"))?;
    // before the lock, so that nothing is put into a folder that is no pool
    stated_version(root)?;
    let lock = lock::exclusive(root)?;
    if stated_version(root)?.is_none() {
        write_version(root)?;
        // the folder itself is a name in the one above, which may be one that cannot be opened
        let above = root.parent().filter(|above| above.is_dir()).unwrap_or(Path::new("."));
        let _ = sync_folder(above);
    }
    commit::recover(root)?;
    Ok(lock)
}

fn write_version(root: &Path) -> Result<(), Error> {
    write_whole(&root.join(TOML), format!("format_version = {POOL_VERSION}\n").as_bytes())
}

/// The version of the layout, `None` where the folder is empty or does not exist. Refuses one that holds other things, or
/// that a newer program wrote.
fn stated_version(root: &Path) -> Result<Option<u32>, Error> {
    let path = root.join(TOML);
    let text = match fs::read_to_string(&path) {
        Ok(text) => text,
        Err(e) if e.kind() == ErrorKind::NotFound => {
            let is_visible = |path: &PathBuf| !layout::name(path).starts_with('.');
            let is_other = layout::entries(root)?.iter().any(is_visible);
            return if is_other { Err(Error::NotAPool { path: root.to_owned() }) } else { Ok(None) };
        }
        Err(e) => return Err(Error::io(&path, "read")(e)),
    };
    match toml::from_str::<Version>(&text) {
        Ok(Version { format_version }) if format_version > POOL_VERSION => {
            Err(Error::NewerFormat { path, found: format_version, known: POOL_VERSION })
        }
        Ok(Version { format_version }) => Ok(Some(format_version)),
        Err(_) => Err(Error::NotAPool { path: root.to_owned() }),
    }
}
