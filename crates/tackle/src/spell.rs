//! Rod spells: a rod with its line in the water, from when to when, and how deep it runs.

use waterseam_logs::LineMethod;

/// A rod with its line in the water.
///
/// A spell runs from the time the line went into the water to the time it came out of it: in the table
/// `rod_spells` these are `time_in` (line into the water) and `time_out` (line out of the water).
#[derive(Clone, Debug, PartialEq)]
pub struct Spell {
    /// Rod.
    pub rod: String,
    /// Line into the water, µs since 1970 UTC.
    pub start_us: i64,
    /// Line out of the water, µs since 1970 UTC.
    pub end_us: i64,
    /// How the line is taken down.
    pub method: Option<LineMethod>,
    /// Line out, m.
    pub line_out_m: Option<f64>,
    /// Weight, kg.
    pub weight_kg: Option<f64>,
    /// Lure.
    pub lure: Option<String>,
    /// Running depth of the lure, m.
    pub running_depth_m: Option<f64>,
    /// Standard error of `running_depth_m`, m.
    pub running_depth_se_m: Option<f64>,
    /// Where the depth comes from.
    pub depth_source: Option<DepthSource>,
    /// True where no gear log was given and the usual spread is assumed.
    pub assumed: bool,
}

/// Where a running depth comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum DepthSource {
    /// Written down by someone.
    Recorded,
    /// The counter's line out, with the blow-back of the wire.
    Counter,
    /// The captain's table of a diver.
    Table,
    /// Computed from the setup and the speed.
    Model,
}

impl DepthSource {
    /// The word of the tables.
    pub fn word(self) -> &'static str {
        match self {
            Self::Recorded => "recorded",
            Self::Counter => "counter",
            Self::Table => "table",
            Self::Model => "model",
        }
    }
}
