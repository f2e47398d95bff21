//! What the finder takes and gives.

use waterseam_units::LatLon;
use waterseam_units::angle::wrap_deg;

use crate::drift::Course;

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
    /// Longest piece of track without a reading between the edges of the break, m: where it is most of the width, the
    /// break lies inside a gap and is no broader than that.
    pub gap_m: f64,
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
    /// A front that the boat ran along and not across, several crossings as one
    /// ([`with_runs_along`](crate::with_runs_along)).
    RunAlong,
    /// Weak, slow, by day and seen once: a front or the shadow of a cloud ([`without_shadows`](crate::without_shadows)).
    MaybeShadow,
}

impl Kind {
    /// The word of the tables.
    pub fn word(self) -> &'static str {
        match self {
            Self::ThermalBreak => "thermal_break",
            Self::ThermalBar => "thermal_bar",
            Self::RunAlong => "run_along",
            Self::MaybeShadow => "maybe_shadow",
        }
    }
}

/// A crossing with its place, as [`lines`](crate::lines) takes it.
#[derive(Clone, Debug, PartialEq)]
pub struct PlacedCrossing {
    /// The crossing.
    pub crossing: Crossing,
    /// Where its centre is.
    pub at: LatLon,
    /// Course over ground there, degrees true.
    pub course_deg: f64,
    /// Where the front lies that the boat ran along: the centres of the crossings that this one stands for, in order of
    /// time. Empty for a crossing of its own.
    pub run: Vec<LatLon>,
}

impl PlacedCrossing {
    /// A crossing of its own.
    pub fn new(crossing: Crossing, at: LatLon, course_deg: f64) -> Self {
        Self { crossing, at, course_deg, run: Vec::new() }
    }

    /// Where the break was met: the way of the front that was run along, else one place.
    pub fn way(&self) -> &[LatLon] {
        if self.run.is_empty() { std::slice::from_ref(&self.at) } else { &self.run }
    }
}

/// Several crossings of one break, joined.
#[derive(Clone, Debug, PartialEq)]
pub struct BreakLine {
    /// Indices of the crossings, in the order of the line.
    pub crossings: Vec<usize>,
    /// Vertices of the line when the last of its crossings was made.
    pub vertices: Vec<LatLon>,
    /// Mean absolute step, °C.
    pub step_c: f64,
    /// Length of the line, m.
    pub length_m: f64,
    /// Direction of the warm side, across the line, degrees true.
    pub warm_side_deg: f64,
    /// How the line lies and moves, and how sure that is; `None` where that was not fitted.
    pub course: Option<Course>,
}

impl BreakLine {
    /// Speed across the line, m/s, the direction toward which it moves, degrees true, and the standard error of the
    /// speed; `None` where the crossings do not tell.
    pub fn drift(&self) -> Option<(f64, f64, f64)> {
        let course = self.course.as_ref().filter(|course| course.drift_is_seen())?;
        let right_mps = course.drift_mps();
        let toward_deg = course.direction_deg() + if right_mps < 0.0 { -90.0 } else { 90.0 };
        Some((right_mps.abs(), wrap_deg(toward_deg), course.drift_se_mps()))
    }
}
