//! What the estimator takes and gives.

use crate::Calibration;

/// Motion of the boat: one row a second or so, time increasing.
///
/// `time_s` and `distance_m` are of equal length. Every other column is as long, or empty where the boat has no such
/// instrument.
#[derive(Clone, Copy, Debug, Default)]
pub struct Motion<'a> {
    /// Seconds since any epoch.
    pub time_s: &'a [f64],
    /// Distance along the track, m.
    pub distance_m: &'a [f64],
    /// Position toward east of any place nearby, m.
    pub east_m: &'a [Option<f64>],
    /// Position toward north of the same place, m.
    pub north_m: &'a [Option<f64>],
    /// Speed over ground, m/s.
    pub sog_mps: &'a [Option<f64>],
    /// Course over ground, degrees true.
    pub cog_deg: &'a [Option<f64>],
    /// Speed through the water, m/s.
    pub stw_mps: &'a [Option<f64>],
    /// Heading, degrees true.
    pub heading_deg: &'a [Option<f64>],
    /// Speed of the true wind over ground, m/s.
    pub wind_speed_mps: &'a [Option<f64>],
    /// Direction from which it blows, degrees true.
    pub wind_from_deg: &'a [Option<f64>],
}

/// From what a current was worked out.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Method {
    /// Heading and speed through the water.
    Heading,
    /// Speed through the water on several courses, without a heading: the tips of the velocities over ground lie on a
    /// circle.
    CourseCircle,
    /// Velocities over ground alone, on courses there and back at one throttle.
    ReciprocalLegs,
}

impl Method {
    /// As a snake_case word.
    pub fn word(self) -> &'static str {
        match self {
            Self::Heading => "heading",
            Self::CourseCircle => "course_circle",
            Self::ReciprocalLegs => "reciprocal_legs",
        }
    }
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
    /// From what it was worked out.
    pub method: Method,
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
    /// Shear along the track: change of the component toward starboard of the track over the width, 1/s (positive: the
    /// water ahead sets more to starboard).
    pub shear_per_s: f64,
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
    /// Log and compass, where this trip's courses or earlier trips determine them.
    pub calibration: Option<Calibration>,
    /// Why the current is not known, or what it rests on, in sentences.
    pub remarks: Vec<String>,
}
