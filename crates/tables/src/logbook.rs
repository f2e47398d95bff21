//! How is a logbook opened, read and written?

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::io::ErrorKind;
use std::path::{Path, PathBuf};
use std::sync::{Mutex, PoisonError};

use serde::Deserialize;
use waterseam_units::time::utc_year;

use crate::commit::{self, Files};
use crate::error::Error;
use crate::file;
use crate::layout::{self, Partition};
use crate::lock::{self, Lock};
use crate::sums::{self, Sums};
use crate::table::Table;
use crate::tables::{sources, trips};
use crate::trip::{Rows, TripTables};

/// Version of the layout and of the tables that this program writes.
pub const FORMAT_VERSION: u32 = 1;

/// A logbook open for reading. Other programs may read it at the same time; none can write it.
#[derive(Debug)]
pub struct Logbook {
    root: PathBuf,
    _lock: Lock,
}

impl Logbook {
    /// Opens an existing logbook for reading. A write that was interrupted is finished or undone first.
    ///
    /// # Errors
    /// Where there is no logbook, it is of a newer format, another program is writing it, or an interrupted
    /// write cannot be finished.
    pub fn open(root: &Path) -> Result<Self, Error> {
        check_format(root)?;
        if !layout::entries(&layout::staging_root(root))?.is_empty() {
            let _alone = lock::exclusive(root)?;
            commit::recover(root)?;
        }
        Ok(Self { root: root.to_owned(), _lock: lock::shared(root)? })
    }

    /// Ids of the trips, by year and id.
    ///
    /// # Errors
    /// Where the folder cannot be listed.
    pub fn trip_ids(&self) -> Result<Vec<String>, Error> {
        let trips = layout::partitions(&self.root, trips::Row::NAME)?;
        Ok(trips.into_iter().map(|partition| partition.trip_id).collect())
    }

    /// Every table of one trip.
    ///
    /// # Errors
    /// Where there is no such trip, or one of its files is damaged or missing.
    pub fn read_trip(&self, trip_id: &str) -> Result<TripTables, Error> {
        let trips = layout::partitions(&self.root, trips::Row::NAME)?;
        let partition = trips.into_iter().find(|partition| partition.trip_id == trip_id);
        let partition = partition.ok_or_else(|| Error::NoSuchTrip { trip_id: trip_id.to_owned() })?;
        TripTables::collect(&mut FromFiles::new(&self.root, partition))
    }

    /// One table over all trips, or over the trips of one year, in the order of [`trip_ids`](Self::trip_ids).
    ///
    /// # Errors
    /// Where a file is damaged.
    pub fn read_table<R: Table>(&self, year: Option<i16>) -> Result<Vec<R>, Error> {
        let mut rows = Vec::new();
        for partition in layout::partitions(&self.root, R::NAME)? {
            if year.is_none_or(|year| year == partition.year) {
                rows.extend(FromFiles::new(&self.root, partition).rows::<R>()?);
            }
        }
        Ok(rows)
    }

    /// Which trips hold which file: content hash to trip ids.
    ///
    /// # Errors
    /// Where a file is damaged.
    pub fn trips_by_content(&self) -> Result<BTreeMap<String, BTreeSet<String>>, Error> {
        let mut trips: BTreeMap<String, BTreeSet<String>> = BTreeMap::new();
        for source in self.read_table::<sources::Row>(None)? {
            trips.entry(source.content_hash).or_default().insert(source.trip_id);
        }
        Ok(trips)
    }
}

/// Reads the files of a trip, each against its sum: a changed file is refused before it is decoded. A copy of a
/// logbook without its sums is read without them.
struct FromFiles<'a> {
    root: &'a Path,
    partition: Partition,
    sums: Option<Sums>,
}

impl<'a> FromFiles<'a> {
    fn new(root: &'a Path, partition: Partition) -> Self {
        let sums = Sums::read(&layout::sums_file(root, &partition.trip_id)).ok();
        Self { root, partition, sums }
    }
}

impl Rows for FromFiles<'_> {
    type Error = Error;
    fn rows<R: Table>(&mut self) -> Result<Vec<R>, Error> {
        let path = self.partition.file(R::NAME);
        let file = self.root.join(&path);
        if !sums::is_unchanged(self.sums.as_ref(), self.root, &path)? {
            return Err(Error::Damaged {
                path: file,
                cause: "it has changed since it was written".to_owned(),
            });
        }
        file::rows(&file)
    }
}

/// What writing a trip did to the logbook.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Outcome {
    /// The trip is new.
    Added,
    /// The logbook held the same bytes already; nothing was touched.
    Unchanged,
    /// The trip was there with other content.
    Replaced,
}

/// A logbook open for writing, by one program at a time. Several threads may write trips; they are put in
/// place one after another.
#[derive(Debug)]
pub struct LogbookWriter {
    logbook: Logbook,
    placing: Mutex<()>,
}

impl LogbookWriter {
    /// Opens a logbook for writing, and makes it where the folder is empty or does not exist yet. A write that
    /// was interrupted is finished or undone first.
    ///
    /// # Errors
    /// Where the folder holds other things, cannot be written, is a logbook of a newer format, or another
    /// program has it open.
    pub fn open_or_create(root: &Path) -> Result<Self, Error> {
        fs::create_dir_all(root).map_err(Error::io(root, "make the folder"))?;
        let new = match check_format(root) {
            Ok(()) => false,
            Err(Error::NoLogbook { .. }) => true,
            Err(other) => return Err(other),
        };
        let visible = |path: &PathBuf| !layout::name(path).starts_with('.');
        if new && layout::entries(root)?.iter().any(visible) {
            return Err(Error::NotALogbook { path: root.to_owned() });
        }
        let lock = lock::exclusive(root)?;
        if new {
            commit::write_whole(&root.join(TOML), &format!("format_version = {FORMAT_VERSION}\n"))?;
        }
        commit::recover(root)?;
        Ok(Self { logbook: Logbook { root: root.to_owned(), _lock: lock }, placing: Mutex::new(()) })
    }

    /// The logbook, to read.
    pub fn logbook(&self) -> &Logbook {
        &self.logbook
    }

    /// Writes every table of a trip, in place of what the logbook holds of it. The tables change together: after
    /// an error the logbook is as it was, or the rest is put in place when it is next opened.
    ///
    /// # Errors
    /// Where the tables are not those of one trip, a value cannot be stored, or a file cannot be written.
    pub fn write_trip(&self, tables: &TripTables) -> Result<Outcome, Error> {
        let root = &self.logbook.root;
        let partition = partition_of(tables)?;
        let files =
            tables.files()?.into_iter().map(|(table, bytes)| (partition.file(table), bytes)).collect();
        let _alone = self.placing.lock().unwrap_or_else(PoisonError::into_inner);
        if is_there(root, &partition.trip_id, &files) {
            return Ok(Outcome::Unchanged);
        }
        let known = self.logbook.trip_ids()?.contains(&partition.trip_id);
        commit::replace(root, &partition.trip_id, &files)?;
        Ok(if known { Outcome::Replaced } else { Outcome::Added })
    }

    /// Removes a trip from every table.
    ///
    /// # Errors
    /// Where there is no such trip, or its files cannot be removed.
    pub fn forget(&self, trip_id: &str) -> Result<(), Error> {
        let _alone = self.placing.lock().unwrap_or_else(PoisonError::into_inner);
        if !self.logbook.trip_ids()?.iter().any(|id| id == trip_id) {
            return Err(Error::NoSuchTrip { trip_id: trip_id.to_owned() });
        }
        commit::replace(&self.logbook.root, trip_id, &Files::new())
    }
}

/// Where the trip belongs. Refuses tables that are not those of one trip.
fn partition_of(tables: &TripTables) -> Result<Partition, Error> {
    let [trip] = tables.trips.as_slice() else { return Err(Error::NotOneTrip { found: tables.trips.len() }) };
    layout::check_trip_id(&trip.trip_id)?;
    if let Some((table, found)) = tables.trip_ids().find(|(_, id)| *id != trip.trip_id) {
        return Err(Error::OtherTrip { table, found: found.to_owned(), expected: trip.trip_id.clone() });
    }
    Ok(Partition { year: utc_year(trip.time_start), trip_id: trip.trip_id.clone() })
}

/// Whether the logbook holds exactly these files of the trip.
fn is_there(root: &Path, trip_id: &str, files: &Files) -> bool {
    let mut sums = Sums::default();
    for (path, bytes) in files {
        sums.insert(path.clone(), bytes);
    }
    let same =
        |(path, bytes): &(String, Vec<u8>)| fs::read(root.join(path)).is_ok_and(|there| there == *bytes);
    Sums::read(&layout::sums_file(root, trip_id)).is_ok_and(|there| there == sums) && files.iter().all(same)
}

const TOML: &str = "logbook.toml";

#[derive(Deserialize)]
struct Format {
    format_version: u32,
}

/// Refuses a folder that is no logbook, and a logbook that a newer program wrote.
pub(crate) fn check_format(root: &Path) -> Result<(), Error> {
    let path = root.join(TOML);
    let text = match fs::read_to_string(&path) {
        Ok(text) => text,
        Err(e) if e.kind() == ErrorKind::NotFound => return Err(Error::NoLogbook { path: root.to_owned() }),
        Err(e) => return Err(Error::io(&path, "read")(e)),
    };
    let format: Format = toml::from_str(&text)
        .map_err(|e| Error::Toml { path: path.clone(), cause: e.message().to_owned() })?;
    if format.format_version > FORMAT_VERSION {
        return Err(Error::NewerFormat { path, found: format.format_version, known: FORMAT_VERSION });
    }
    Ok(())
}
