//! What did a boat with log and compass of any error record on a day, and what was true?

use std::ops::Range;

use waterseam_currents::{Currents, Velocity};
use waterseam_demo::lake::Point;
use waterseam_demo::truth::TripTruth;
use waterseam_demo::{Handling, Knobs, Scenario, WaterFaults};
use waterseam_process::currents::currents;
use waterseam_track::Track;

use crate::scored_days::{Chance, over_seeds, read};

/// Which instruments the boat has.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Aboard {
    Both,
    Log,
    Neither,
    /// Both, on a day with stops, circles, changes of speed and leeway, and a receiver that shows whole knots.
    Rough,
}

impl Aboard {
    /// So that no two are scored on the same days.
    pub fn seed_offset(self) -> u64 {
        10_000 * self as u64
    }
}

/// The boat has way on where the log reads this, m/s.
const WAY_MPS: f64 = 0.5;

/// How log and compass erred: scale, offset (m/s), A to E (degrees), lag (s).
pub type Errors = [f64; 8];

/// A day, its truth and what was found.
pub struct Day {
    pub seed: u64,
    pub truth: TripTruth,
    pub errors: Errors,
    pub found: Currents,
    track: Track,
}

impl Day {
    pub fn has_windows(&self) -> bool {
        !self.found.windows.is_empty()
    }

    /// The true current at the boat's place at a second of the estimate's clock.
    pub fn current(&self, time_s: f64) -> Velocity {
        let row = self.track.nearest_row(self.track.time_us[0] + (time_s * 1e6) as i64).unwrap();
        let (east_mps, north_mps) = self.truth.lake.current.surface_mps(Point::at(self.track.at(row)));
        Velocity { east_mps, north_mps }
    }

    /// True speed through the water over the log's reading, at the trip's median reading.
    pub fn true_factor(&self) -> f64 {
        let way = |mps: &f64| *mps >= WAY_MPS;
        let mut readings: Vec<f64> = self.track.stw_mps.iter().copied().flatten().filter(way).collect();
        readings.sort_by(f64::total_cmp);
        self.errors[0] + self.errors[1] / readings[readings.len() / 2]
    }

    pub fn instant_us(&self, time_s: f64) -> i64 {
        self.track.time_us[0] + (time_s * 1e6) as i64
    }
}

/// Days of seeds.
pub fn days(seeds: Range<u64>, aboard: Aboard) -> Vec<Day> {
    over_seeds(seeds, |seed| day(seed, aboard))
}

/// A log that is wrong by up to 10 %, a deviation of up to 3°, a lag of up to 3 s; one day in three has no edge.
fn day(seed: u64, aboard: Aboard) -> Day {
    let mut chance = Chance(seed);
    let scale = 1.0 / chance.between(0.9, 1.1);
    let offset_mps = chance.between(-0.04, 0.04);
    let deviation: [f64; 5] =
        std::array::from_fn(|i| chance.between(-1.0, 1.0) * [1.0, 0.7, 0.7, 0.3, 0.3][i]);
    let [a, b, c, d, e] = deviation;
    // the greatest deviation of any heading, at most
    let greatest = a.abs() + b.hypot(c) + d.hypot(e);
    let times = chance.between(0.5, 3.0) / greatest;
    let [a_deg, b_deg, c_deg, d_deg, e_deg] = [a, b, c, d, e].map(|part| part * times);
    let lag_s = chance.between(0.0, 3.0);
    let edge_mps = if chance.unit() < 1.0 / 3.0 { 0.0 } else { chance.between(0.2, 0.5) };
    let rough = aboard == Aboard::Rough;
    let handling = Handling {
        stops_per_hour: 1.0,
        circles_per_hour: 1.0,
        speed_changes_per_hour: 2.0,
        ..Handling::default()
    };
    let knobs = Knobs {
        handling: rough.then_some(handling),
        log_scale: Some(scale),
        heading_offset_deg: Some(a_deg),
        current_mps: Some(chance.between(0.0, 0.35)),
        edge_change_mps: Some(edge_mps),
        water_faults: WaterFaults {
            log: aboard != Aboard::Neither,
            compass: matches!(aboard, Aboard::Both | Aboard::Rough),
            leeway: if rough { chance.between(0.0, 0.015) } else { 0.0 },
            sog_decimals: if rough { 0 } else { 2 },
            log_offset_mps: offset_mps,
            cycles_deg: [b_deg, c_deg, d_deg, e_deg],
            lag_s,
        },
        ..Knobs::default()
    };
    let demo = waterseam_demo::trip_with(seed, Scenario::Random, &knobs);
    let track = read(&demo.files[..1], &waterseam_track::Settings::default()).track;
    let found = currents(&track, None);
    let errors = [scale, offset_mps, a_deg, b_deg, c_deg, d_deg, e_deg, lag_s];
    Day { seed, truth: demo.truth, errors, found, track }
}
