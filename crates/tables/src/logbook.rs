//! How is a logbook opened, read and written?

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::{Mutex, PoisonError};

use waterseam_units::time::utc_year;

use crate::commit::{self, Change, Files};
use crate::disk;
use crate::error::Error;
use crate::file;
use crate::format;
use crate::layer::{self, LayerId};
use crate::layout::{self, Partition};
use crate::lock::{self, Lock};
use crate::repair::Repair;
use crate::sums::{self, Sums};
use crate::table::Table;
use crate::tables::{hotspots, set_aside, sources, trips};
use crate::trip::{Rows, TripTables};

/// A logbook open for reading. Other programs may read it at the same time; none can write it.
#[derive(Debug)]
pub struct Logbook {
    root: PathBuf,
    repairs: Vec<Repair>,
    _lock: Lock,
}

impl Logbook {
    /// Opens an existing logbook for reading. A write that was interrupted is finished or undone first.
    ///
    /// # Errors
    /// Where there is no logbook, it is of a newer format, another program is writing it, or an interrupted
    /// write cannot be finished.
    pub fn open(root: &Path) -> Result<Self, Error> {
        format::version(root)?;
        let mut repairs = Vec::new();
        if commit::is_interrupted(root)? {
            let _alone = lock::exclusive(root)?;
            repairs = commit::recover(root)?;
        }
        Ok(Self { root: root.to_owned(), repairs, _lock: lock::shared(root)? })
    }

    /// What was put right when the logbook was opened.
    pub fn repairs(&self) -> &[Repair] {
        &self.repairs
    }

    /// The files that no trip could use.
    ///
    /// # Errors
    /// Where a file of the logbook is damaged.
    pub fn without_trip(&self) -> Result<WithoutTrip, Error> {
        let partition = Partition::without_trip();
        if !self.root.join(partition.file(sources::Row::NAME)).exists() {
            return Ok(WithoutTrip::default());
        }
        let mut files = FromFiles::new(&self.root, partition);
        Ok(WithoutTrip { sources: files.rows()?, set_aside: files.rows()? })
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
        let trips = layout::partitions_of(&self.root, trips::Row::NAME, trip_id)?;
        let partition = trips.into_iter().find(|partition| partition.year.is_some());
        let partition = partition.ok_or_else(|| Error::NoSuchTrip { trip_id: trip_id.to_owned() })?;
        TripTables::collect(&mut FromFiles::new(&self.root, partition))
    }

    /// Every trip in the order of [`trip_ids`](Self::trip_ids), to read some of its tables.
    ///
    /// # Errors
    /// Where the folder cannot be listed.
    pub fn trips(&self) -> Result<Vec<TripReader<'_>>, Error> {
        let partitions = layout::partitions(&self.root, trips::Row::NAME)?;
        let reader = |partition| TripReader { files: FromFiles::new(&self.root, partition) };
        Ok(partitions.into_iter().map(reader).collect())
    }

    /// One table over all trips, or over the trips of one year, in the order of [`trip_ids`](Self::trip_ids).
    ///
    /// # Errors
    /// Where a file is damaged.
    pub fn read_table<R: Table>(&self, year: Option<i16>) -> Result<Vec<R>, Error> {
        let mut rows = Vec::new();
        for partition in layout::partitions(&self.root, R::NAME)? {
            if year.is_none() || year == partition.year {
                rows.extend(FromFiles::new(&self.root, partition).rows::<R>()?);
            }
        }
        Ok(rows)
    }
}

/// A trip of a logbook, of which any table can be read for itself.
#[derive(Debug)]
pub struct TripReader<'a> {
    files: FromFiles<'a>,
}

impl TripReader<'_> {
    /// The trip.
    pub fn trip_id(&self) -> &str {
        &self.files.partition.trip_id
    }

    /// The rows of one table; `None` where the trip was written before there was such a table.
    ///
    /// # Errors
    /// Where its file is damaged or missing.
    pub fn rows<R: Table>(&mut self) -> Result<Option<Vec<R>>, Error> {
        if self.files.is_from_before::<R>() { Ok(None) } else { self.files.rows().map(Some) }
    }
}

impl Logbook {
    /// The layers of many trips that the logbook holds. Each is of all of its trips: a layer goes when a trip changes.
    ///
    /// # Errors
    /// Where their folder cannot be listed.
    pub fn layers(&self) -> Result<Vec<LayerId>, Error> {
        layer::list(&self.root)
    }

    /// The rows of a layer; `None` where it was not built since the trips last changed.
    ///
    /// # Errors
    /// Where its file is damaged.
    pub fn hotspots(&self, layer: &LayerId) -> Result<Option<Vec<hotspots::Row>>, Error> {
        layer::read(&self.root, layer)
    }
}

/// Reads the files of a trip, each against its sum: a changed file is refused before it is decoded. A copy of a
/// logbook without its sums is read without them.
#[derive(Debug)]
pub(crate) struct FromFiles<'a> {
    root: &'a Path,
    partition: Partition,
    sums: Option<Sums>,
}

impl<'a> FromFiles<'a> {
    pub fn new(root: &'a Path, partition: Partition) -> Self {
        let sums = Sums::read(&layout::sums_file(root, &partition.trip_id)).ok();
        Self { root, partition, sums }
    }

    fn is_from_before<R: Table>(&self) -> bool {
        sums::is_from_before::<R>(self.sums.as_ref(), self.root, &self.partition.file(R::NAME))
    }

    /// The file of a table, as it was written; `None` where the trip is older than the table.
    pub fn file<R: Table>(&self) -> Result<Option<PathBuf>, Error> {
        let path = self.partition.file(R::NAME);
        let file = self.root.join(&path);
        if self.is_from_before::<R>() {
            return Ok(None);
        }
        if !sums::is_unchanged(self.sums.as_ref(), self.root, &path)? {
            return Err(Error::Damaged {
                path: file,
                cause: "it has changed since it was written".to_owned(),
            });
        }
        Ok(Some(file))
    }
}

impl Rows for FromFiles<'_> {
    type Error = Error;
    fn rows<R: Table>(&mut self) -> Result<Vec<R>, Error> {
        self.file::<R>()?.map_or(Ok(Vec::new()), |file| file::rows(&file))
    }
}

/// What was given and no trip could use: rows of two tables whose `trip_id` is missing.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct WithoutTrip {
    /// The files.
    pub sources: Vec<sources::Row>,
    /// Their records that could not be used.
    pub set_aside: Vec<set_aside::Row>,
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

/// A trip as it will stand in a logbook.
#[derive(Debug)]
pub struct PackedTrip {
    id: String,
    files: Files,
    /// Trips that go when it comes.
    instead_of: Vec<String>,
}

impl PackedTrip {
    /// Makes the files of a trip. When it comes into a logbook, the trips `instead_of` go.
    ///
    /// # Errors
    /// Where the tables are not those of one trip, or a value cannot be stored.
    pub fn new(tables: &TripTables, instead_of: &[String]) -> Result<Self, Error> {
        let partition = partition_of(tables)?;
        let files =
            tables.files()?.into_iter().map(|(table, bytes)| (partition.file(table), bytes)).collect();
        Ok(Self { id: partition.trip_id, files, instead_of: instead_of.to_vec() })
    }

    fn change<'a>(&'a self, instead_of: &'a [String]) -> Change<'a> {
        Change { trip_id: &self.id, files: &self.files, instead_of }
    }

    fn ids(&self) -> impl Iterator<Item = &str> {
        std::iter::once(&self.id).chain(&self.instead_of).map(String::as_str)
    }
}

/// Trips in their order, so many together as have nothing to do with each other.
fn unrelated(trips: &[PackedTrip]) -> Vec<&[PackedTrip]> {
    let (mut groups, mut from, mut ids) = (Vec::new(), 0, BTreeSet::new());
    for (at, trip) in trips.iter().enumerate() {
        if trip.ids().any(|id| ids.contains(id)) {
            groups.push(&trips[from..at]);
            from = at;
            ids.clear();
        }
        ids.extend(trip.ids());
    }
    groups.push(&trips[from..]);
    groups
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
        // before the lock, so that nothing is put into a folder that is no logbook
        version_or_new(root)?;
        let lock = lock::exclusive(root)?;
        let version = version_or_new(root)?;
        if version.is_none() {
            format::create(root)?;
            // the folder itself is a name in the one above, which may be one that cannot be opened
            let above = root.parent().filter(|above| above.is_dir()).unwrap_or(Path::new("."));
            let _ = disk::sync_folder(above);
        }
        let mut repairs = commit::recover(root)?;
        repairs.extend(version.map_or(Ok(None), |version| format::migrate(root, version))?);
        let logbook = Logbook { root: root.to_owned(), repairs, _lock: lock };
        Ok(Self { logbook, placing: Mutex::new(()) })
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
        self.write_trip_instead_of(tables, &[])
    }

    /// The same, and other trips go when this one comes: at no moment does the logbook hold both, or neither. Ids
    /// that it does not hold are passed over.
    ///
    /// # Errors
    /// As [`write_trip`](Self::write_trip).
    pub fn write_trip_instead_of(&self, tables: &TripTables, others: &[String]) -> Result<Outcome, Error> {
        Ok(self.put(&[PackedTrip::new(tables, others)?])?[0])
    }

    /// The same with many trips, in their order: to flush the disk takes time, and of many no longer than of one. After an
    /// error some of them may be in the logbook; each is whole or not at all.
    ///
    /// # Errors
    /// Where a file cannot be written.
    pub fn put(&self, trips: &[PackedTrip]) -> Result<Vec<Outcome>, Error> {
        let _alone = self.placing.lock().unwrap_or_else(PoisonError::into_inner);
        let mut outcomes = Vec::with_capacity(trips.len());
        for group in unrelated(trips) {
            outcomes.extend(self.put_group(group)?);
        }
        Ok(outcomes)
    }

    fn put_group(&self, trips: &[PackedTrip]) -> Result<Vec<Outcome>, Error> {
        let root = &self.logbook.root;
        let is_known = |id: &str| {
            layout::partitions_of(root, trips::Row::NAME, id).map(|partitions| !partitions.is_empty())
        };
        let (mut outcomes, mut changed) = (Vec::new(), Vec::new());
        for trip in trips {
            let was_there = is_known(&trip.id)?;
            let mut stood: Vec<String> = Vec::new();
            for id in trip.instead_of.iter().filter(|id| **id != trip.id) {
                stood.extend(is_known(id)?.then(|| id.clone()));
            }
            let same = is_there(root, &trip.id, &trip.files);
            if !same || !stood.is_empty() {
                changed.push((trip, stood));
            }
            outcomes.push(match (same, was_there) {
                (true, _) => Outcome::Unchanged,
                (false, true) => Outcome::Replaced,
                (false, false) => Outcome::Added,
            });
        }
        let changes: Vec<Change> = changed.iter().map(|(trip, stood)| trip.change(stood)).collect();
        if !changes.is_empty() {
            layer::remove_all(root)?;
            commit::replace(root, &changes)?;
        }
        Ok(outcomes)
    }

    /// Writes the files that no trip could use, in place of those that the logbook holds.
    ///
    /// # Errors
    /// Where a row belongs to a trip, a value cannot be stored, or a file cannot be written.
    pub fn write_without_trip(&self, rows: &WithoutTrip) -> Result<Outcome, Error> {
        let root = &self.logbook.root;
        let partition = Partition::without_trip();
        let of_trip = |table, id: Option<&String>| {
            id.map_or(Ok(()), |id| {
                Err(Error::OtherTrip { table, found: id.clone(), expected: "none".to_owned() })
            })
        };
        of_trip(sources::Row::NAME, rows.sources.iter().find_map(|row| row.trip_id.as_ref()))?;
        of_trip(set_aside::Row::NAME, rows.set_aside.iter().find_map(|row| row.trip_id.as_ref()))?;
        let files: Files = if rows.sources.is_empty() {
            Files::new()
        } else {
            vec![
                (partition.file(sources::Row::NAME), file::bytes(&rows.sources)?),
                (partition.file(set_aside::Row::NAME), file::bytes(&rows.set_aside)?),
            ]
        };
        let _alone = self.placing.lock().unwrap_or_else(PoisonError::into_inner);
        let known = layout::sums_file(root, &partition.trip_id).exists();
        if is_there(root, &partition.trip_id, &files) || (files.is_empty() && !known) {
            return Ok(Outcome::Unchanged);
        }
        let change = Change { trip_id: &partition.trip_id, files: &files, instead_of: &[] };
        commit::replace(root, &[change])?;
        Ok(if known { Outcome::Replaced } else { Outcome::Added })
    }

    /// Writes a layer of many trips, in place of the one that is there: whole, or not at all.
    ///
    /// # Errors
    /// Where a value cannot be stored, or the file cannot be written.
    pub fn write_hotspots(&self, layer: &LayerId, rows: &[hotspots::Row]) -> Result<Outcome, Error> {
        let _alone = self.placing.lock().unwrap_or_else(PoisonError::into_inner);
        layer::write(&self.logbook.root, layer, rows)
    }

    /// Removes a trip from every table, and the layers that it is in.
    ///
    /// # Errors
    /// Where there is no such trip, or its files cannot be removed.
    pub fn forget(&self, trip_id: &str) -> Result<(), Error> {
        let _alone = self.placing.lock().unwrap_or_else(PoisonError::into_inner);
        if !self.logbook.trip_ids()?.iter().any(|id| id == trip_id) {
            return Err(Error::NoSuchTrip { trip_id: trip_id.to_owned() });
        }
        layer::remove_all(&self.logbook.root)?;
        commit::replace(&self.logbook.root, &[Change { trip_id, files: &Files::new(), instead_of: &[] }])
    }
}

/// The format of the logbook, `None` where there is to be a new one. Refuses a folder that holds other things.
fn version_or_new(root: &Path) -> Result<Option<u32>, Error> {
    let visible = |path: &PathBuf| !layout::name(path).starts_with('.');
    match format::version(root) {
        Ok(version) => Ok(Some(version)),
        Err(Error::NoLogbook { .. }) if !layout::entries(root)?.iter().any(visible) => Ok(None),
        // another program may have made the logbook just now
        Err(Error::NoLogbook { path }) => match format::version(root) {
            Err(Error::NoLogbook { .. }) => Err(Error::NotALogbook { path }),
            other => other.map(Some),
        },
        Err(other) => Err(other),
    }
}

/// Where the trip belongs. Refuses tables that are not those of one trip.
fn partition_of(tables: &TripTables) -> Result<Partition, Error> {
    let [trip] = tables.trips.as_slice() else { return Err(Error::NotOneTrip { found: tables.trips.len() }) };
    layout::check_trip_id(&trip.trip_id)?;
    if let Some((table, found)) = tables.trip_ids().find(|(_, id)| *id != trip.trip_id) {
        return Err(Error::OtherTrip { table, found: found.to_owned(), expected: trip.trip_id.clone() });
    }
    Ok(Partition { year: Some(utc_year(trip.time_start)), trip_id: trip.trip_id.clone() })
}

/// Whether the logbook holds exactly these files of the trip.
fn is_there(root: &Path, trip_id: &str, files: &Files) -> bool {
    let Ok(there) = Sums::read(&layout::sums_file(root, trip_id)) else { return false };
    let mut sums = Sums::default();
    for (path, bytes) in files {
        sums.insert(path.clone(), bytes);
    }
    let same =
        |(path, bytes): &(String, Vec<u8>)| fs::read(root.join(path)).is_ok_and(|there| there == *bytes);
    there == sums && files.iter().all(same)
}
