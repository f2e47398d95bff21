//! Which trips are in a batch of observations?

use waterseam_logs::Observation;

use crate::cut;
use crate::position::Fix;
use crate::readings::is_sound;
use crate::receivers::{Positions, choose};
use crate::settings::Settings;
use crate::track::Trip;
use crate::trip::trip;

/// How far observations before the first and after the last position still belong to a trip, µs: what a row owns.
const MARGIN_US: i64 = 2_500_000;

/// The trips of a batch, and what belongs to none.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Batch {
    /// The trips in time order.
    pub trips: Vec<Trip>,
    /// Observations at a time when no trip was under way, or that are no numbers: they are in no trip.
    pub outside: usize,
}

/// Makes trips of the observations of one boat, which may come from several files and in any order.
///
/// 1. Observations are brought into time order (those of the same instant keep their order).
/// 2. One source of positions is chosen for the whole batch and its fixes are tested.
/// 3. Trips are cut at gaps in the positions and at stops in the home port. A trip starts and ends with a usable
///    position and has at least two rows; less is no trip.
/// 4. In each trip the samples are tested at their own rate and fused to the rows, see [`Track`](crate::Track). For
///    each quantity one instrument is used throughout.
///
/// An observation belongs to the trip in whose time it lies, from 2.5 s before the first row to 2.5 s after the last;
/// the others are counted in [`Batch::outside`]. Nothing here reads a clock or a file, and the time that it takes
/// grows with the number of observations (and the sorting of those that were out of order).
pub fn trips(observations: Vec<Observation>, settings: &Settings) -> Batch {
    trips_of(observations, &[], settings)
}

/// The same, where the observations come from several logs: `logs` are the names of their sources, for the sentences
/// that say which was used. Senders of one talker in two sources are two instruments.
pub fn trips_of(observations: Vec<Observation>, logs: &[String], settings: &Settings) -> Batch {
    let given = observations.len();
    let mut observations = observations;
    observations.retain(is_sound);
    observations.sort_by_key(|observation| observation.time_us);

    let Positions { fixes, remarks } = choose(&observations, logs, settings);
    let mut batch = Batch::default();
    let mut free = 0; // first observation that belongs to no trip yet
    let mut inside = 0;
    for fixes in cut::trips(&fixes, settings).into_iter().map(|range| &fixes[range]) {
        let (from_us, to_us) = span(fixes);
        let start = observations.partition_point(|o| o.time_us < from_us).max(free);
        let end = observations.partition_point(|o| o.time_us <= to_us).max(start);
        if let Some(mut trip) = trip(&observations[start..end], fixes, logs, settings) {
            trip.remarks.splice(0..0, remarks.iter().cloned());
            batch.trips.push(trip);
            inside += end - start;
            free = end;
        }
    }
    batch.outside = given - inside;
    batch
}

fn span(fixes: &[Fix]) -> (i64, i64) {
    (fixes[0].time_us - MARGIN_US, fixes[fixes.len() - 1].time_us + MARGIN_US)
}

#[cfg(test)]
#[path = "trips_tests.rs"]
mod tests;
