//! What was true of a trip, for whoever scores a reading of its files?
//!
//! Times are µs since 1970 UTC, depths are positive down from the surface, directions degrees true.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};
use waterseam_units::LatLon;

use crate::fish::SpeciesRate;
use crate::lake::Lake;
use crate::scenario::Scenario;

/// Truth of a folder of trips.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Truth {
    /// Seed of the folder.
    pub seed: u64,
    /// Trips in order of time.
    pub trips: Vec<TripTruth>,
}

/// Truth of one trip.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct TripTruth {
    /// Local date, which is also the name of the trip's folder.
    pub date: String,
    /// Kind of day.
    pub scenario: Scenario,
    /// Seed of the trip.
    pub seed: u64,
    /// First second with a usable position in the log.
    pub start_us: i64,
    /// Last second of the log.
    pub end_us: i64,
    /// Casting off and making fast.
    pub under_way_us: (i64, i64),
    /// First and last second at trolling speed.
    pub trolling_us: (i64, i64),
    /// Run over ground, m.
    pub distance_m: f64,
    /// The water of the day.
    pub lake: Lake,
    /// Crossings of every front by the boat, in order of time.
    pub crossings: Vec<CrossingTruth>,
    /// Crossings of the current edge, in order of time.
    pub edge_crossings: Vec<EdgeCrossingTruth>,
    /// The column under the boat, every ten minutes.
    pub columns: Vec<ColumnTruth>,
    /// Casts of the probe: each way down and each way up.
    pub casts: Vec<CastTruth>,
    /// Every row of the probe's log; too many to be written down.
    #[serde(skip)]
    pub probe_times: Vec<ProbeTimeTruth>,
    /// How the instruments erred.
    pub instruments: InstrumentTruth,
    /// What the log holds.
    pub log: LogTruth,
    /// True bite rates.
    pub rates: Vec<SpeciesRate>,
    /// Every rod with its line in the water, in order of time.
    pub spells: Vec<SpellTruth>,
    /// Sum of the spells, h.
    pub rod_hours: f64,
    /// Every bite, in order of time.
    pub bites: Vec<BiteTruth>,
}

/// The boat over the middle of a front.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct CrossingTruth {
    /// Index of the front in [`Lake::fronts`].
    pub front: usize,
    /// When.
    pub time_us: i64,
    /// Where.
    pub at: LatLon,
    /// Run since the log began, m.
    pub distance_m: f64,
    /// After minus before, in the direction of travel, °C.
    pub step_c: f64,
    /// From 10 % to 90 % of the step along the track, m.
    pub width_m: f64,
    /// Between track and front, 0 to 90 degrees.
    pub angle_deg: f64,
    /// Course over ground.
    pub course_deg: f64,
    /// Speed over ground, m/s.
    pub sog_mps: f64,
    /// Whether the boat was at trolling speed.
    pub trolling: bool,
    /// Along the track to the nearest other crossing, m.
    pub nearest_other_m: Option<f64>,
}

/// The boat over the middle of a current edge.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct EdgeCrossingTruth {
    /// When.
    pub time_us: i64,
    /// Where.
    pub at: LatLon,
    /// Run since the log began, m.
    pub distance_m: f64,
    /// Change toward east, after minus before, m/s.
    pub east_change_mps: f64,
    /// Change toward north, after minus before, m/s.
    pub north_change_mps: f64,
    /// From 10 % to 90 % of the change along the track, m.
    pub width_m: f64,
    /// Between track and edge, 0 to 90 degrees.
    pub angle_deg: f64,
    /// Whether the boat was at trolling speed.
    pub trolling: bool,
}

/// The column at a time under the boat.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct ColumnTruth {
    /// When.
    pub time_us: i64,
    /// Where.
    pub at: LatLon,
    /// Surface temperature, °C.
    pub surface_temp_c: f64,
    /// Depth of the steepest temperature gradient, m; `None` where surface and deep differ by less than 1 °C.
    pub thermocline_depth_m: Option<f64>,
    /// Depth of the steepest density gradient, m.
    pub pycnocline_depth_m: Option<f64>,
    /// Depth of the water, m.
    pub water_depth_m: f64,
}

/// The probe on its way down or up.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct CastTruth {
    /// From, true time.
    pub start_us: i64,
    /// To, true time.
    pub end_us: i64,
    /// `true` on the way down.
    pub down: bool,
    /// Deepest, m.
    pub deepest_m: f64,
    /// Depth of the steepest temperature gradient there and then, m.
    pub thermocline_depth_m: Option<f64>,
    /// Depth of the steepest density gradient there and then, m.
    pub pycnocline_depth_m: Option<f64>,
}

/// A row of the probe's log: when its clock said that it was, and when it was.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ProbeTimeTruth {
    /// What the row says.
    pub shown_us: i64,
    /// True time.
    pub true_us: i64,
}

/// How the instruments erred.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct InstrumentTruth {
    /// Standard deviation of the hull sensor's noise, °C.
    pub hull_noise_c: f64,
    /// Lag of the hull sensor, s.
    pub hull_lag_s: f64,
    /// Single wrong readings of the hull sensor.
    pub spikes_us: Vec<i64>,
    /// Times at which the hull sensor was silent, from and to.
    pub dropouts_us: Vec<(i64, i64)>,
    /// True speed through the water over the log's reading.
    pub log_scale: f64,
    /// Added to the compass's heading, after variation and the known deviation, to reach the true heading, degrees.
    pub heading_offset_deg: f64,
    /// Depth of the transducer below the surface, m.
    pub transducer_depth_m: f64,
    /// Added to true time by the probe's clock, s.
    pub probe_clock_s: i64,
}

/// What the plotter's log holds.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct LogTruth {
    /// Whole sentences with a right checksum by kind, void fixes with them.
    pub sentences: BTreeMap<String, u64>,
    /// RMC of status V.
    pub void_rmc: u64,
    /// GGA of quality 0.
    pub void_gga: u64,
    /// Sentences with a wrong checksum.
    pub checksum_wrong: u64,
    /// Pieces of sentences, the first and the last of the file with them.
    pub torn: u64,
}

/// A rod with its line in the water.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct SpellTruth {
    /// Rod.
    pub rod: String,
    /// Line into the water.
    pub start_us: i64,
    /// Line out of the water.
    pub end_us: i64,
    /// How deep the lure ran, m.
    pub running_depth_m: f64,
    /// Bites of all species to be expected of it, by the true rates.
    pub expected_bites: f64,
}

/// A bite.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct BiteTruth {
    /// When.
    pub time_us: i64,
    /// Where the boat was.
    pub at: LatLon,
    /// Species.
    pub species: String,
    /// `landed`, `released` or `lost`.
    pub outcome: String,
    /// Index in [`TripTruth::spells`].
    pub spell: usize,
    /// Rod.
    pub rod: String,
    /// Depth of the lure, m.
    pub depth_m: f64,
    /// Temperature at the lure, °C.
    pub temp_at_depth_c: f64,
    /// Surface temperature, °C.
    pub surface_temp_c: f64,
    /// To the middle of the nearest front, m, positive on its warm side; `None` without fronts.
    pub break_distance_m: Option<f64>,
    /// Rate of this species for this rod then, bites a rod-hour.
    pub rate_per_rod_hour: f64,
    /// Weight of the fish, kg.
    pub weight_kg: f64,
}
