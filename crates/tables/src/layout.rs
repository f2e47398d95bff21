//! Where in the logbook's folder does each file stand?
//!
//! ```text
//! logbook.toml                                    format version
//! <table>/year=<YYYY>/trip=<trip_id>/part-0.parquet
//! .sums/<trip_id>.blake3                          BLAKE3 of each file of the trip
//! .staging/<trip_id>/                             a trip on its way into the logbook
//! <table>/year=__HIVE_DEFAULT_PARTITION__/trip=__HIVE_DEFAULT_PARTITION__/part-0.parquet   what belongs to no trip
//! .lock                                           held by the program that has the logbook open
//! ```
//! Names that start with `.` are passed over by the engines that read such folders.

use std::fs;
use std::io::ErrorKind;
use std::num::ParseIntError;
use std::path::{Path, PathBuf};

use crate::error::Error;

/// The file of a table's partition.
pub(crate) const PART: &str = "part-0.parquet";

/// Name of a partition whose key is NULL, as Hive writes it and the engines read it.
pub(crate) const NO_TRIP: &str = "__HIVE_DEFAULT_PARTITION__";

/// One partition of a table.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct Partition {
    /// Year of the folder's name; `None` for what belongs to no trip.
    pub year: Option<i16>,
    /// Trip of the folder's name.
    pub trip_id: String,
}

impl Partition {
    /// The partition of a file's path from the root of the logbook.
    pub fn of_file(path: &str) -> Option<Self> {
        let trip_folder = Path::new(path).parent()?;
        let year = year_of(key_value(trip_folder.parent()?, "year")?).ok()?;
        Some(Self { year, trip_id: key_value(trip_folder, "trip")?.to_owned() })
    }

    /// The partition of what belongs to no trip.
    pub fn without_trip() -> Self {
        Self { year: None, trip_id: NO_TRIP.to_owned() }
    }

    /// The partition's folder, from the root of the logbook, with `/` between the names on every system.
    pub fn folder(&self, table: &str) -> String {
        let year = self.year.map_or_else(|| NO_TRIP.to_owned(), |year| format!("{year:04}"));
        format!("{table}/year={year}/trip={}", self.trip_id)
    }

    /// The partition's file, likewise.
    pub fn file(&self, table: &str) -> String {
        format!("{}/{PART}", self.folder(table))
    }
}

/// The partitions of a table's trips, by year and trip. Folders with other names are passed over.
pub(crate) fn partitions(root: &Path, table: &str) -> Result<Vec<Partition>, Error> {
    let every = every_partition(root, table)?;
    Ok(every.into_iter().filter(|partition| partition.year.is_some()).collect())
}

/// The same, and that of what belongs to no trip.
pub(crate) fn every_partition(root: &Path, table: &str) -> Result<Vec<Partition>, Error> {
    let mut found = Vec::new();
    for year_folder in entries(&root.join(table))? {
        let Some(year) = key_value(&year_folder, "year").map(year_of) else { continue };
        let Ok(year) = year else { continue };
        for trip_folder in entries(&year_folder)? {
            let Some(trip_id) = key_value(&trip_folder, "trip") else { continue };
            if year.is_some() == (trip_id != NO_TRIP) {
                found.push(Partition { year, trip_id: trip_id.to_owned() });
            }
        }
    }
    found.sort();
    Ok(found)
}

/// The partitions of one trip, by year; more than one where its year has changed. They are looked up and not listed with
/// all others, so that a trip is written as fast into a long logbook as into a new one.
pub(crate) fn partitions_of(root: &Path, table: &str, trip_id: &str) -> Result<Vec<Partition>, Error> {
    let mut found = Vec::new();
    for year_folder in entries(&root.join(table))? {
        let Some(Ok(year)) = key_value(&year_folder, "year").map(year_of) else { continue };
        let is_there = year_folder.join(format!("trip={trip_id}")).is_dir();
        if is_there && year.is_some() == (trip_id != NO_TRIP) {
            found.push(Partition { year, trip_id: trip_id.to_owned() });
        }
    }
    found.sort();
    Ok(found)
}

/// The year of a folder's name, `None` where it is of no trip.
fn year_of(text: &str) -> Result<Option<i16>, ParseIntError> {
    if text == NO_TRIP { Ok(None) } else { text.parse().map(Some) }
}

/// Names of the folders that may hold a table.
pub(crate) fn tables(root: &Path) -> Result<Vec<String>, Error> {
    let names = entries(root)?.iter().map(|path| name(path).to_owned()).collect::<Vec<_>>();
    Ok(names.into_iter().filter(|name| !name.starts_with('.')).collect())
}

/// What a folder holds, by name; nothing where there is no such folder.
pub(crate) fn entries(folder: &Path) -> Result<Vec<PathBuf>, Error> {
    let listing = match fs::read_dir(folder) {
        Ok(listing) => listing,
        Err(e) if matches!(e.kind(), ErrorKind::NotFound | ErrorKind::NotADirectory) => return Ok(Vec::new()),
        Err(e) => return Err(Error::io(folder, "list")(e)),
    };
    let paths: Result<Vec<PathBuf>, _> = listing.map(|entry| entry.map(|entry| entry.path())).collect();
    let mut paths = paths.map_err(Error::io(folder, "list"))?;
    paths.sort();
    Ok(paths)
}

/// Last part of a path, empty where it is no text.
pub(crate) fn name(path: &Path) -> &str {
    path.file_name().and_then(|name| name.to_str()).unwrap_or_default()
}

fn key_value<'a>(path: &'a Path, key: &str) -> Option<&'a str> {
    name(path).strip_prefix(key)?.strip_prefix('=')
}

/// Where the sums of the trips stand.
pub(crate) fn sums_folder(root: &Path) -> PathBuf {
    root.join(".sums")
}

/// Where the sums of a trip stand.
pub(crate) fn sums_file(root: &Path, trip_id: &str) -> PathBuf {
    sums_folder(root).join(format!("{trip_id}.blake3"))
}

/// Where trips on their way into the logbook stand.
pub(crate) fn staging_root(root: &Path) -> PathBuf {
    root.join(".staging")
}

/// Refuses a trip id that cannot name a folder on every system.
pub(crate) fn check_trip_id(id: &str) -> Result<(), Error> {
    let letters = id.bytes().all(|b| b.is_ascii_alphanumeric() || b"-_.".contains(&b));
    let good = letters && (1..=100).contains(&id.len()) && !id.starts_with('.') && id != NO_TRIP;
    if good { Ok(()) } else { Err(Error::TripId { id: id.to_owned() }) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ids_that_leave_the_folder_are_refused() {
        for bad in ["", "..", ".hidden", "a/b", "a\\b", "a b", "a=b", "é", NO_TRIP, &"x".repeat(101)] {
            assert!(check_trip_id(bad).is_err(), "{bad:?}");
        }
        for good in ["2026-06-14T0512Z-3f2a", "a_b.c", &"x".repeat(100)] {
            assert!(check_trip_id(good).is_ok(), "{good:?}");
        }
    }

    #[test]
    fn years_have_four_digits() {
        let partition = Partition { year: Some(2026), trip_id: "a".to_owned() };
        assert_eq!(partition.file("track"), "track/year=2026/trip=a/part-0.parquet");
    }
}
