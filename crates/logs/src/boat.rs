//! The boat file (`waterseam.toml`): everything that a captain can set, each with a default.

mod clocks;
mod entry;
mod error;
mod quality;
mod read;
mod tackle;
#[cfg(test)]
mod tests;

use std::collections::BTreeMap;

use jiff::tz::TimeZone;
use waterseam_units::{LatLon, UnitSystem};

pub use self::error::{BoatFileError, Suggestion};
pub use self::quality::{PositionLimits, Quality, StreamLimits};
use crate::observation::LineMethod;

/// A boat file with every key and what it means, to copy and change.
pub fn example_boat_file() -> &'static str {
    include_str!("boat/example.toml")
}

/// Settings of the boat. `Default` is what holds without a file.
#[derive(Clone, Debug)]
pub struct BoatFile {
    /// Name of the boat (`boat = "…"`), else `unnamed boat`.
    pub boat: String,
    /// Home port (`home_port = [lat, lon]`); `None`: trips are cut at gaps alone.
    pub home_port: Option<LatLon>,
    /// Time zone of notes, of naive clocks and of what is shown (`time_zone = "…"`, IANA), else UTC.
    pub time_zone: TimeZone,
    /// Whether the file named the zone.
    pub time_zone_stated: bool,
    /// Units of numbers without a unit in notes, and of what is shown (`units = "…"`), else imperial.
    pub units: UnitSystem,
    /// Practical salinity (`water = "fresh"` or `salinity = …`), else 0.
    pub salinity_psu: f64,
    /// Target species with the preferred temperatures (`[species.NAME] preferred = [low, high]`, in the file's units).
    pub species: BTreeMap<String, PreferredRange>,
    /// Rods that are usually out while trolling (`[[spread]]`), for days without a gear log. Empty: no effort is assumed.
    pub spread: Vec<SpreadRod>,
    /// Setups that are aboard beside those (`[[tackle]]`, each with a `name`).
    pub tackle: Vec<SpreadRod>,
    /// Tables of divers (`[[divers]]`).
    pub divers: Vec<DiverTable>,
    /// Depths that the captain saw lines run at (`[[observed_depths]]`).
    pub observed_depths: Vec<ObservedDepth>,
    /// Marks pressed on the plotter count as bites (`marks = "bites"`).
    pub marks_are_bites: bool,
    /// Day comes before month in dates like 03/04/2026 (`date_order = "day-first"` or `"month-first"`); `None`: not said.
    pub day_first: Option<bool>,
    /// Meaning of columns with unknown headings (`[columns] "heading" = "temp_c"`): the column is read as if the
    /// meaning were its heading; `ignore` leaves it out. In a log without headings the key is the number of the
    /// column behind the time, from 1.
    pub columns: BTreeMap<String, String>,
    /// Added to the hull sensor's reading, °C (`[sensors] surface_temp_offset`, a temperature difference); `None`:
    /// not said, so that it is estimated where a trip allows.
    pub surface_temp_offset_c: Option<f64>,
    /// First-order lag of the hull sensor, s (`[sensors] surface_temp_lag_s`); `None`: not said, as above.
    pub surface_temp_lag_s: Option<f64>,
    /// Depth of the transducer below the surface, m (`[sensors] transducer_depth`), for sounders that count from it.
    pub transducer_depth_m: Option<f64>,
    /// Depth of the keel below the surface, m (`[sensors] keel_depth`), for sounders that count from it.
    pub keel_depth_m: Option<f64>,
    /// Limits of the quality tests (`[quality.position]`, `[quality.surface_temp]` …).
    pub quality: Quality,
    /// Gap that ends a trip, s (`[trips] gap_hours`), else 3 h.
    pub trip_gap_s: f64,
    /// No log of this boat is older (`[trips] earliest = "2015-03-01"`), µs since 1970 to the start of the day in UTC:
    /// earlier dates are those of a receiver that is 1024 weeks off.
    pub earliest_us: Option<i64>,
    /// Least step of a thermal break, °C (`[breaks] least_step`), else the finder's own default.
    pub break_least_step_c: Option<f64>,
    /// Least step in the depth of an isotherm, m (`[breaks] least_depth_step`), else the finder's own default.
    pub break_least_depth_step_m: Option<f64>,
    /// Greatest width of a thermal break, m (`[breaks] greatest_width`), else the finder's own default.
    pub break_greatest_width_m: Option<f64>,
    /// How sure a thermal break must be, percent (`[breaks] confidence`), else the finder's own default.
    pub break_confidence_percent: Option<f64>,
    /// Clocks that the captain vouches for (`[clocks]`).
    pub clocks: StatedClocks,
    /// Trolling speeds through the water or over ground, low and high, m/s (`[trips] trolling_speed = [low, high]`).
    pub trolling_speed_mps: Option<(f64, f64)>,
}

/// Seconds to be added to clocks. `None`: not said.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct StatedClocks {
    /// To the clock of probe logs (`probe = "+1 h"`).
    pub probe_s: Option<f64>,
    /// To the clock of bite notes and gear logs (`notes = "-37 s"`).
    pub notes_s: Option<f64>,
    /// To the clock of a file by its name (`[clocks.files] "probe_0718.csv" = "+1 h"`).
    pub files_s: BTreeMap<String, f64>,
}

/// Temperatures that a species is sought in.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PreferredRange {
    /// Coolest, °C.
    pub low_c: f64,
    /// Warmest, °C.
    pub high_c: f64,
}

/// How deep a diver runs, as the captain found it.
#[derive(Clone, Debug, PartialEq)]
pub struct DiverTable {
    /// Name of the diver and its setting; tables of one name are for several speeds.
    pub name: String,
    /// Rods that tow it; none: every diver that no table names.
    pub rods: Vec<String>,
    /// Speed through the water, m/s.
    pub speed_mps: f64,
    /// Line out and depth, m; two rows or more, both rising.
    pub rows: Vec<(f64, f64)>,
}

/// A depth that a line was seen to run at.
#[derive(Clone, Debug, PartialEq)]
pub struct ObservedDepth {
    /// How the line was set; its own depth is `None`, and its rod may be empty.
    pub setup: SpreadRod,
    /// Speed through the water, m/s.
    pub speed_mps: f64,
    /// Depth of the lure (of a downrigger's weight), m.
    pub depth_m: f64,
    /// How it was seen.
    pub how: HowSeen,
    /// Standard error that the captain gives it, m.
    pub give_or_take_m: Option<f64>,
}

/// How a depth was seen.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum HowSeen {
    /// The lure ticked the bottom.
    Bottom,
    /// A probe on the line.
    Probe,
    /// A depth that the captain knows: a ledge, weeds, a line that crossed.
    Known,
}

/// A rod that is usually out, or a setup that is aboard.
#[derive(Clone, Debug, PartialEq)]
pub struct SpreadRod {
    /// Name of the rod or of the setup.
    pub rod: String,
    /// How its line is taken down.
    pub method: LineMethod,
    /// Line out, m.
    pub line_out_m: Option<f64>,
    /// Colours out.
    pub colors: Option<f64>,
    /// Weight, kg.
    pub weight_kg: Option<f64>,
    /// Leader, m.
    pub leader_m: Option<f64>,
    /// Most line that is worth letting out, m (`longest_line`, else the boat's); `None`: whatever it takes.
    pub longest_m: Option<f64>,
    /// Lure.
    pub lure: Option<String>,
    /// Depth that it usually runs at, m.
    pub depth_m: Option<f64>,
}

impl Default for BoatFile {
    fn default() -> Self {
        Self {
            boat: "unnamed boat".to_owned(),
            home_port: None,
            time_zone: TimeZone::UTC,
            time_zone_stated: false,
            units: UnitSystem::Imperial,
            salinity_psu: 0.0,
            species: BTreeMap::new(),
            spread: Vec::new(),
            tackle: Vec::new(),
            divers: Vec::new(),
            observed_depths: Vec::new(),
            marks_are_bites: false,
            day_first: None,
            columns: BTreeMap::new(),
            surface_temp_offset_c: None,
            surface_temp_lag_s: None,
            transducer_depth_m: None,
            keel_depth_m: None,
            quality: Quality::default(),
            trip_gap_s: 3.0 * 3600.0,
            earliest_us: None,
            clocks: StatedClocks::default(),
            break_least_step_c: None,
            break_least_depth_step_m: None,
            break_greatest_width_m: None,
            break_confidence_percent: None,
            trolling_speed_mps: None,
        }
    }
}
