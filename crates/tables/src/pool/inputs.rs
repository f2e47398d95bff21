//! Which trips are there, of which boat and year, and have they changed?

use std::collections::BTreeMap;
use std::collections::btree_map::Entry;
use std::path::{Path, PathBuf};

use super::{BoatYear, POOL_VERSION};
use crate::error::Error;
use crate::layout::{self, Partition};
use crate::logbook::{FromFiles, Logbook};
use crate::sums::{self, Sums};
use crate::table::Table;
use crate::tables::trips;
use crate::trip::{Rows, SCHEMAS};

/// A trip of a logbook.
#[derive(Clone, Debug)]
pub(super) struct Trip {
    root: PathBuf,
    partition: Partition,
    pub id: String,
    time_start_us: i64,
    /// BLAKE3 of each of its files.
    sums: Sums,
}

impl Trip {
    /// The trip's file of a table; `None` where the trip is older than the table.
    pub fn file<R: Table>(&self) -> Result<Option<PathBuf>, Error> {
        FromFiles::new(&self.root, self.partition.clone()).file::<R>()
    }
}

/// The trips of all logbooks, each boat's year in order of time. A trip that several logbooks hold alike is there once.
pub(super) fn by_boat_and_year(
    roots: &[PathBuf],
    logbooks: &[Logbook],
) -> Result<BTreeMap<BoatYear, Vec<Trip>>, Error> {
    let mut once: BTreeMap<(String, String), Trip> = BTreeMap::new();
    for root in roots.iter().take(logbooks.len()) {
        for partition in layout::partitions(root, trips::Row::NAME)? {
            let Some(row) = FromFiles::new(root, partition.clone()).rows::<trips::Row>()?.into_iter().next()
            else {
                continue;
            };
            let trip = Trip {
                sums: sums_of(root, &partition)?,
                root: root.clone(),
                id: partition.trip_id.clone(),
                partition,
                time_start_us: row.time_start,
            };
            match once.entry((row.boat, trip.id.clone())) {
                Entry::Vacant(place) => {
                    place.insert(trip);
                }
                Entry::Occupied(there) if there.get().sums == trip.sums => {}
                Entry::Occupied(there) => {
                    return Err(Error::TwoTrips {
                        trip_id: trip.id,
                        boat: there.key().0.clone(),
                        first: there.get().root.clone(),
                        second: trip.root,
                    });
                }
            }
        }
    }
    let mut years: BTreeMap<BoatYear, Vec<Trip>> = BTreeMap::new();
    for ((boat, _), trip) in once {
        let key = BoatYear::new(&boat, trip.partition.year.unwrap_or_default());
        years.entry(key).or_default().push(trip);
    }
    for trips in years.values_mut() {
        trips.sort_by(|a, b| (a.time_start_us, &a.id).cmp(&(b.time_start_us, &b.id)));
    }
    Ok(years)
}

/// The sums that the logbook keeps of a trip; of a copy without them, worked out.
fn sums_of(root: &Path, partition: &Partition) -> Result<Sums, Error> {
    if let Ok(kept) = Sums::read(&layout::sums_file(root, &partition.trip_id)) {
        return Ok(kept);
    }
    let mut found = Sums::default();
    for table in SCHEMAS {
        let path = partition.file(table.name);
        let file = root.join(&path);
        if file.exists() {
            found.0.insert(path, sums::hash_of(&file)?);
        }
    }
    Ok(found)
}

/// One hash of everything that a year of the pool follows from: its trips, the tables as this program knows them, and
/// the layout.
pub(super) fn hash(trips: &[Trip]) -> String {
    let mut hasher = blake3::Hasher::new();
    hasher.update(format!("{POOL_VERSION} {} {SCHEMAS:?}\n", env!("CARGO_PKG_VERSION")).as_bytes());
    for trip in trips {
        hasher.update(format!("{} {}\n", trip.id, trip.time_start_us).as_bytes());
        hasher.update(trip.sums.text().as_bytes());
    }
    hasher.finalize().to_hex().to_string()
}
