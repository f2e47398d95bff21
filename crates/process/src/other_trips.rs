//! What do the boat's other trips say of the rates of one?
//!
//! Told where the whole logbook is read, never written to a table: the tables of a trip are the same whatever else is in the logbook.

use std::collections::{BTreeMap, BTreeSet};

pub use waterseam_bites::Rate;
use waterseam_bites::rates::Counted;
use waterseam_tables::{Error, Logbook, TripTables, bands, trips};

/// Part of the posterior that intervals hold.
const LEVEL: f64 = 0.9;

/// Rates of one trip, drawn toward what the boat's other trips say as far as the trip itself is thin.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct WithOthers {
    /// Other trips of the boat with rods out.
    pub trips: usize,
    /// Bites per rod-hour, all species; `None` where the others are too few or no rod was out.
    pub rate: Option<Rate>,
    /// The trip's bins of every factor, all species, with the rates that the others make of them; those of factors that the
    /// others say too little of are left out.
    pub bands: Vec<bands::Row>,
}

/// What the trips of a logbook say of each other: their rates and the bins of their bands, all species.
#[derive(Debug)]
pub struct Logged {
    trips: Vec<trips::Row>,
    bins: Vec<bands::Row>,
}

impl Logged {
    /// Those of a logbook.
    ///
    /// # Errors
    /// Where a table of the logbook is damaged.
    pub fn of(logbook: &Logbook) -> Result<Self, Error> {
        let mut bins: Vec<bands::Row> = logbook.read_table(None)?;
        bins.retain(|bin| bin.species == "*");
        Ok(Self { trips: logbook.read_table(None)?, bins })
    }

    /// Whether the other trips of its boat are enough to say something of the rate of one.
    pub fn tell_of(&self, trip_id: &str) -> bool {
        self.trips.iter().any(|row| row.trip_id == trip_id && rate(row, &self.trips).is_some())
    }

    /// The rates of one trip with the others of its boat.
    pub fn with_others(&self, trip: &TripTables) -> WithOthers {
        let Some(row) = trip.trips.first() else { return WithOthers::default() };
        let others: BTreeSet<&str> = others(row, &self.trips).map(|other| other.trip_id.as_str()).collect();
        if others.is_empty() {
            return WithOthers::default();
        }
        let mut of_others: BTreeMap<&str, Vec<Counted>> = BTreeMap::new();
        for bin in self.bins.iter().filter(|bin| others.contains(bin.trip_id.as_str())) {
            of_others.entry(&bin.factor).or_default().push(counted_in(bin));
        }
        let mut bands = Vec::new();
        let own: Vec<&bands::Row> = trip.bands.iter().filter(|bin| bin.species == "*").collect();
        for bins in own.chunk_by(|a, b| a.factor == b.factor) {
            let of_others = of_others.get(bins[0].factor.as_str());
            let Some(prior) = of_others.and_then(|bins| waterseam_bites::prior_of_bins(bins)) else {
                continue;
            };
            bands.extend(bins.iter().filter_map(|bin| {
                let rate = waterseam_bites::with_prior(&prior, counted_in(bin), LEVEL)?;
                Some(bands::Row {
                    rate_per_rod_hour: Some(rate.per_rod_hour),
                    rate_low: Some(rate.low),
                    rate_high: Some(rate.high),
                    ..(*bin).clone()
                })
            }));
        }
        WithOthers { trips: others.len(), rate: rate(row, &self.trips), bands }
    }
}

/// The rate of each of some trips with the others of its boat, in their order. `all` are the trips of the logbook.
pub fn rates(trips: &[trips::Row], all: &[trips::Row]) -> Vec<Option<Rate>> {
    trips.iter().map(|row| rate(row, all)).collect()
}

fn rate(row: &trips::Row, all: &[trips::Row]) -> Option<Rate> {
    let others: Vec<Counted> = others(row, all).map(counted).collect();
    waterseam_bites::with_others(counted(row), &others, LEVEL)
}

/// Other trips of the same boat with rods out.
fn others<'a>(row: &'a trips::Row, all: &'a [trips::Row]) -> impl Iterator<Item = &'a trips::Row> {
    all.iter().filter(|other| other.trip_id != row.trip_id && other.boat == row.boat && other.rod_hours > 0.0)
}

fn counted_in(bin: &bands::Row) -> Counted {
    Counted { count: bin.bites as u64, exposure: bin.rod_hours }
}

fn counted(row: &trips::Row) -> Counted {
    Counted { count: row.bites as u64, exposure: row.rod_hours }
}
