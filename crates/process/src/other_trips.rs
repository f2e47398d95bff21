//! What do the boat's other trips say of the rates of one?
//!
//! Told where the whole logbook is read, never written to a table: the tables of a trip are the same whatever else is in the logbook.

pub use waterseam_bites::Rate;
use waterseam_bites::rates::Counted;
use waterseam_bites::{BandSettings, Factor, Fished};
use waterseam_tables::{Error, Logbook, TripTables, bands, trips};

use crate::season::{self, Trip};

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

/// The rates of one trip with the others of its boat.
///
/// # Errors
/// Where a table of the logbook is damaged.
pub fn with_others(logbook: &Logbook, trip: &TripTables) -> Result<WithOthers, Error> {
    let Some(row) = trip.trips.first() else { return Ok(WithOthers::default()) };
    let all: Vec<trips::Row> = logbook.read_table(None)?;
    let others: Vec<&trips::Row> = others(row, &all).collect();
    if others.is_empty() {
        return Ok(WithOthers::default());
    }
    let fished = season::trips(logbook, None)?;
    let of_others: Vec<Fished> =
        others.iter().filter_map(|other| fished.get(&other.trip_id)).map(Trip::fished).collect();
    let priors = waterseam_bites::priors(&of_others, None, &BandSettings::default());
    let informed = |band: &bands::Row| {
        let factor = Factor::ALL.iter().position(|factor| factor.word() == band.factor)?;
        let seen = Counted { count: band.bites as u64, exposure: band.rod_hours };
        let rate = waterseam_bites::with_prior(priors[factor].as_ref()?, seen, LEVEL)?;
        Some(bands::Row {
            rate_per_rod_hour: Some(rate.per_rod_hour),
            rate_low: Some(rate.low),
            rate_high: Some(rate.high),
            ..band.clone()
        })
    };
    Ok(WithOthers {
        trips: others.len(),
        rate: rate(row, &all),
        bands: trip.bands.iter().filter(|band| band.species == "*").filter_map(informed).collect(),
    })
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

fn counted(row: &trips::Row) -> Counted {
    Counted { count: row.bites as u64, exposure: row.rod_hours }
}
