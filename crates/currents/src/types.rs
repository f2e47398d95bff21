//! What the estimator takes and gives.

/// Motion of the boat: slices of equal length, one row a second or so, time increasing.
#[derive(Clone, Copy, Debug)]
pub struct Motion<'a> {
    /// Seconds since any epoch.
    pub time_s: &'a [f64],
    /// Distance along the track, m.
    pub distance_m: &'a [f64],
    /// Speed over ground, m/s.
    pub sog_mps: &'a [Option<f64>],
    /// Course over ground, degrees true.
    pub cog_deg: &'a [Option<f64>],
    /// Speed through the water, m/s.
    pub stw_mps: &'a [Option<f64>],
    /// Heading, degrees true.
    pub heading_deg: &'a [Option<f64>],
}

/// Current over a stretch of the track.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Window {
    /// Middle of the stretch, seconds on the clock of the input.
    pub time_s: f64,
    /// Middle of the stretch along the track, m.
    pub distance_m: f64,
    /// Toward east, m/s.
    pub east_mps: f64,
    /// Toward north, m/s.
    pub north_mps: f64,
    /// Standard error of `east_mps`, m/s.
    pub east_se_mps: f64,
    /// Standard error of `north_mps`, m/s.
    pub north_se_mps: f64,
}

/// How the instruments relate to the truth, estimated from the trip itself.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Calibration {
    /// True speed through the water over the log's reading.
    pub log_scale: f64,
    /// Standard error of `log_scale`.
    pub log_scale_se: f64,
    /// Added to the compass to reach the true heading, degrees.
    pub heading_offset_deg: f64,
    /// Standard error of `heading_offset_deg`.
    pub heading_offset_se_deg: f64,
}

/// Crossing of a current edge.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Edge {
    /// Time at the centre, seconds on the clock of the input.
    pub time_s: f64,
    /// Distance along the track at the centre, m.
    pub distance_m: f64,
    /// Change of the east component, after minus before, m/s.
    pub east_change_mps: f64,
    /// Change of the north component, after minus before, m/s.
    pub north_change_mps: f64,
    /// Length of the change, m/s.
    pub change_mps: f64,
    /// Along the track over which it changes, m.
    pub width_m: f64,
    /// Convergence along the track (positive: waters meet), 1/s.
    pub convergence_per_s: f64,
    /// Chance of such a change from the noise alone, corrected for the number of places searched.
    pub p_value: f64,
}

/// What the trip says about the current.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Currents {
    /// Current in windows along the track; empty where it cannot be known.
    pub windows: Vec<Window>,
    /// Edges, in time order.
    pub edges: Vec<Edge>,
    /// Calibration, where the courses determine it.
    pub calibration: Option<Calibration>,
    /// Why the current is not known, or what it rests on, in sentences.
    pub remarks: Vec<String>,
}
