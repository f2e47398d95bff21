//! What the finder takes and gives.

use waterseam_units::LatLon;

/// Surface temperature along a track: slices of equal length, good samples only, time increasing.
#[derive(Clone, Copy, Debug)]
pub struct Series<'a> {
    /// Seconds since any epoch, increasing.
    pub time_s: &'a [f64],
    /// Distance along the track, m, never decreasing.
    pub distance_m: &'a [f64],
    /// Surface temperature, °C, finite.
    pub temp_c: &'a [f64],
}

/// A crossing of a thermal break.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Crossing {
    /// Time at the centre, seconds on the clock of the series.
    pub time_s: f64,
    /// Distance along the track at the centre, m.
    pub distance_m: f64,
    /// Temperature level before the break, °C.
    pub temp_before_c: f64,
    /// Temperature level after the break, °C.
    pub temp_after_c: f64,
    /// After minus before, °C.
    pub step_c: f64,
    /// Along the track from 10 % to 90 % of the step, m.
    pub width_m: f64,
    /// Steepest gradient along the track, absolute, °C/km.
    pub gradient_c_per_km: f64,
    /// Standard error of the centre, m.
    pub centre_se_m: f64,
    /// Standard error of the step, °C.
    pub step_se_c: f64,
    /// Chance of such a step from this sensor's noise alone, adjusted for the number of places searched and of breaks
    /// found: the part of false ones among the breaks of the trip that are at least as clear
    /// ([`benjamini_hochberg`](crate::benjamini_hochberg)).
    pub p_value: f64,
    /// What kind of break.
    pub kind: Kind,
}

/// Kind of break.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// Warm water beside cold.
    ThermalBreak,
    /// Fresh water that passes its temperature of maximum density, about 4 °C.
    ThermalBar,
}

impl Kind {
    /// The word of the tables.
    pub fn word(self) -> &'static str {
        match self {
            Self::ThermalBreak => "thermal_break",
            Self::ThermalBar => "thermal_bar",
        }
    }
}

/// A crossing with its place, as [`lines`](crate::lines) takes it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PlacedCrossing {
    /// The crossing.
    pub crossing: Crossing,
    /// Where its centre is.
    pub at: LatLon,
    /// Course over ground there, degrees true.
    pub course_deg: f64,
}

/// Several crossings of one break, joined.
#[derive(Clone, Debug, PartialEq)]
pub struct BreakLine {
    /// Indices of the crossings, in the order of the line.
    pub crossings: Vec<usize>,
    /// Vertices of the line.
    pub vertices: Vec<LatLon>,
    /// Mean absolute step, °C.
    pub step_c: f64,
    /// Length of the line, m.
    pub length_m: f64,
    /// Direction of the warm side, across the line, degrees true.
    pub warm_side_deg: f64,
}
