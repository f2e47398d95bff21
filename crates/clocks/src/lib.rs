//! What time was it really when a logger without a receiver wrote a sample?
//!
//! ```text
//! log ─▶ segments ─▶ blocks ─┐
//!                            ├─▶ scan over all lags (FFT) ─▶ fine likelihood ─▶ grade
//! boat ─▶ reference ─────────┘
//! ```
//!
//! A probe's clock is off by seconds or by whole time zones, it drifts, and it may be set in the middle of its log.
//! [`align`] compares what the probe felt with what the boat recorded at GPS time: positions, else the speed, else the
//! temperature against the hull sensor, else the times of the gear log at which a line went out or came in. It says
//! for each segment of the log what is to be added to its clock, how well that is known and from what; and where the
//! evidence does not single out one answer it says that ([`Grade`]). [`notes`] does the same for notes.
//!
//! # Method
//! For every lag the samples of a block are regressed on the boat's series at that lag, with the block's own
//! level, trend and dependence on depth as nuisance. With Gaussian noise of unknown variance the profile likelihood of the
//! lag is `-n/2 ln RSS(lag)`, with `n` the effective number of samples (Seber & Wild 1989, Nonlinear Regression,
//! section 2.8.3; the effective number by the initial positive sequence of Geyer 1992, Statistical Science 7:473-483,
//! section 3.3). The sums over all lags are cross-correlations by FFT. Noise of the hull sensor only lowers the gain of the
//! regression; the likelihood is taken over levels, never over slopes, so that it does not pull the lag to one side.

mod blocks;
mod curve;
mod decide;
mod fine;
mod ground;
mod lines;
mod look;
pub mod notes;
mod observed;
mod reference;
mod resets;
mod scan;
mod segments;
mod settings;
mod shifted;

use std::ops::Range;

use waterseam_units::LatLon;

pub use self::decide::align;
pub use self::observed::samples;
pub use self::segments::{Boundary, segments};
pub use self::settings::Settings;

/// A sample of the log, in the order of the file.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Sample {
    /// Time on the log's own clock, s.
    pub time_s: f64,
    /// Depth, m.
    pub depth_m: f64,
    /// Temperature, °C.
    pub temp_c: Option<f64>,
    /// Speed, m/s.
    pub speed_mps: Option<f64>,
    /// Position.
    pub at: Option<LatLon>,
}

/// What the boat recorded, at GPS time. Each series is in time order.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Boat {
    /// Positions: s, place.
    pub fixes: Vec<(f64, LatLon)>,
    /// Velocity over ground: s, speed in m/s, course in degrees.
    pub velocity: Vec<(f64, f64, Option<f64>)>,
    /// Temperature at the hull: s, °C.
    pub temp: Vec<(f64, f64)>,
}

/// A line that goes into the water or comes out of it, by the gear log.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LineEvent {
    /// GPS time, s.
    pub time_s: f64,
    /// Number of the rod.
    pub rod: usize,
    /// It goes into the water.
    pub goes_in: bool,
}

/// What is known about a segment of the log.
#[derive(Clone, Debug, PartialEq)]
pub struct Aligned {
    /// Samples of the segment.
    pub samples: Range<usize>,
    /// How well it is known.
    pub grade: Grade,
    /// What it rests on; `None` where nothing speaks.
    pub evidence: Option<Evidence>,
    /// To be added to the log's clock at `at_s`, s. 0 where it is not known.
    pub offset_s: f64,
    /// Growth of the offset for each second of the log's clock after `at_s`.
    pub drift: f64,
    /// When on the log's own clock the offset holds, s.
    pub at_s: f64,
    /// Standard error of the offset, s; of what is not known: infinite.
    pub se_s: f64,
}

impl Aligned {
    /// Whether the clock is to be moved: the offset is known and is not zero within its error.
    pub fn is_off(&self) -> bool {
        self.grade != Grade::Ambiguous && self.offset_s.abs() > (2.0 * self.se_s).max(0.5)
    }

    /// GPS time of a reading of the log's clock, s.
    pub fn gps_s(&self, time_s: f64) -> f64 {
        time_s + self.offset_s + self.drift * (time_s - self.at_s)
    }
}

/// How well an offset is known.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Grade {
    /// To 2 s or better.
    Certain,
    /// One answer, to its standard error, which is at most a minute.
    About,
    /// Not known: several answers are possible, or none stands out.
    Ambiguous,
}

/// What an offset rests on.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Evidence {
    /// Positions in the log.
    Positions,
    /// Speed in the log.
    Speed,
    /// Temperature in the log, against the hull sensor.
    Temperature,
    /// Depth in the log, against the times at which lines went out and came in.
    Lines,
    /// The segments before and after.
    Continuity,
}

impl Evidence {
    /// The word of the table `sources`.
    pub fn word(self) -> &'static str {
        match self {
            Self::Positions => "positions",
            Self::Speed => "speed",
            Self::Temperature => "temperature",
            Self::Lines => "gear_log",
            Self::Continuity => "continuity",
        }
    }
}
