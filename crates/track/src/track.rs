//! The fused track: columns of equal length, one row for each second that has a position.

use waterseam_units::{Flag, LatLon};

use crate::quality::StreamQuality;
use crate::temperature::{HullCorrection, corrected};

/// What the boat is doing.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Activity {
    /// Going somewhere.
    Run,
    /// Pulling lines.
    Troll,
    /// Moving with the water.
    Drift,
    /// Tied up or at anchor.
    Stopped,
}

impl Activity {
    /// The word of the tables.
    pub fn word(self) -> &'static str {
        match self {
            Self::Run => "run",
            Self::Troll => "troll",
            Self::Drift => "drift",
            Self::Stopped => "stopped",
        }
    }
}

/// One trip's track. Every column has the length of `time_us`; a value that nobody measured is `None`.
///
/// A row owns the time halfway to its neighbours, at most 2.5 s to either side; a measured column holds
/// the mean of the samples in that time and nothing is carried over from earlier rows. The position is the mean of
/// the usable fixes that round to the second. A column with a flag holds the mean of its best samples: of the usable
/// ones, else of the suspect ones, else of the failed ones; the flag says which.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Track {
    /// Whole seconds, as µs since 1970 UTC, strictly increasing.
    pub time_us: Vec<i64>,
    /// Latitude, degrees.
    pub lat_deg: Vec<f64>,
    /// Longitude, degrees.
    pub lon_deg: Vec<f64>,
    /// Flag of the position.
    pub position_qc: Vec<Flag>,
    /// Distance run along the track since its start, m (failed positions skipped).
    pub distance_m: Vec<f64>,
    /// Speed over ground, m/s.
    pub sog_mps: Vec<Option<f64>>,
    /// Flag of the speed over ground; where the receiver gave none that is good, that of the positions it rests on.
    pub sog_qc: Vec<Flag>,
    /// Course over ground, degrees true.
    pub cog_deg: Vec<Option<f64>>,
    /// Speed through the water, m/s; what failed is missing.
    pub stw_mps: Vec<Option<f64>>,
    /// Flag of the speed through the water.
    pub stw_qc: Vec<Flag>,
    /// Speed through the water across the hull, m/s to starboard; where the log has no second axis, missing.
    pub stw_across_mps: Vec<Option<f64>>,
    /// Heading, degrees true; what failed is missing.
    pub heading_deg: Vec<Option<f64>>,
    /// Flag of the heading.
    pub heading_qc: Vec<Flag>,
    /// Depth of the water below the surface, m.
    pub water_depth_m: Vec<Option<f64>>,
    /// Flag of the depth.
    pub water_depth_qc: Vec<Flag>,
    /// Hull temperature after offset and lag correction, °C.
    pub surface_temp_c: Vec<Option<f64>>,
    /// Hull temperature as read, °C.
    pub surface_temp_raw_c: Vec<Option<f64>>,
    /// Flag of the hull temperature.
    pub surface_temp_qc: Vec<Flag>,
    /// Depth of the probe, m.
    pub probe_depth_m: Vec<Option<f64>>,
    /// Temperature at the probe, °C.
    pub probe_temp_c: Vec<Option<f64>>,
    /// Speed through the water at the probe, m/s.
    pub probe_speed_mps: Vec<Option<f64>>,
    /// True wind speed, m/s.
    pub wind_speed_mps: Vec<Option<f64>>,
    /// Direction the true wind blows from, degrees true.
    pub wind_from_deg: Vec<Option<f64>>,
    /// What the boat is doing.
    pub activity: Vec<Activity>,
    /// Elevation of the sun's centre, degrees, without refraction.
    pub sun_elevation_deg: Vec<f64>,
    /// H3 cell at resolution 9.
    pub cell: Vec<u64>,
}

impl Track {
    /// Number of rows.
    pub fn len(&self) -> usize {
        self.time_us.len()
    }

    /// Whether there is no row.
    pub fn is_empty(&self) -> bool {
        self.time_us.is_empty()
    }

    /// Makes `surface_temp_c` of `surface_temp_raw_c` anew. The flags are those of the raw readings and stay.
    pub fn correct_surface_temp(&mut self, correction: HullCorrection) {
        self.surface_temp_c =
            corrected(&self.time_us, &self.surface_temp_raw_c, &self.surface_temp_qc, correction);
    }

    /// Position of a row.
    pub fn at(&self, row: usize) -> LatLon {
        LatLon { lat_deg: self.lat_deg[row], lon_deg: self.lon_deg[row] }
    }

    /// The row nearest in time, `None` for an empty track.
    pub fn nearest_row(&self, time_us: i64) -> Option<usize> {
        let after = self.time_us.partition_point(|&t| t < time_us);
        [after.checked_sub(1), (after < self.len()).then_some(after)]
            .into_iter()
            .flatten()
            .min_by_key(|&row| (self.time_us[row] - time_us).abs())
    }

    /// The measured value of a column nearest in time, not further than `within_s`.
    pub fn nearest_value(&self, column: &[Option<f64>], time_us: i64, within_s: f64) -> Option<f64> {
        let middle = self.nearest_row(time_us)?;
        let reach_us = (within_s * 1e6) as i64;
        let near = |row: &usize| (self.time_us[*row] - time_us).abs() <= reach_us;
        let later = (middle..self.len()).take_while(near).find(|&row| column[row].is_some());
        let earlier = (0..=middle).rev().take_while(near).find(|&row| column[row].is_some());
        later
            .into_iter()
            .chain(earlier)
            .min_by_key(|&row| (self.time_us[row] - time_us).abs())
            .and_then(|row| column[row])
    }
}

/// What one log says of the speed through the water, row by row.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct SpeedLog {
    /// Its name in a sentence: its talker, and its file where several logs are read together.
    pub name: String,
    /// Ahead, m/s; what failed is missing.
    pub stw_mps: Vec<Option<f64>>,
    /// Flag of it.
    pub stw_qc: Vec<Flag>,
    /// To starboard, m/s.
    pub stw_across_mps: Vec<Option<f64>>,
    /// What each quality test said about it.
    pub quality: StreamQuality,
}

/// A sample of the probe at its own rate, flagged.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ProbeSample {
    /// µs since 1970 UTC.
    pub time_us: i64,
    /// Depth below the surface, m.
    pub depth_m: f64,
    /// Temperature, °C.
    pub temp_c: Option<f64>,
    /// Flag of the temperature and of the depth that it belongs to.
    pub temp_qc: Flag,
    /// Speed through the water at the probe, m/s.
    pub speed_mps: Option<f64>,
}

/// Set and drift as an instrument reported them.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ReportedCurrent {
    /// µs since 1970 UTC.
    pub time_us: i64,
    /// Direction toward, degrees true.
    pub set_deg: f64,
    /// Speed, m/s.
    pub drift_mps: f64,
}

/// A mark that someone pressed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Mark {
    /// µs since 1970 UTC.
    pub time_us: i64,
    /// Where.
    pub at: LatLon,
}

/// How deep the transducer of the sounder sits.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TransducerDepth {
    /// Below the surface, m.
    pub depth_m: f64,
    /// The settings state it; else the sounder itself does.
    pub is_stated: bool,
}

/// One trip: its track and what was recorded beside it.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Trip {
    /// The track.
    pub track: Track,
    /// Probe samples in time order.
    pub probe: Vec<ProbeSample>,
    /// Reported currents in time order.
    pub reported_currents: Vec<ReportedCurrent>,
    /// Marks in time order.
    pub marks: Vec<Mark>,
    /// Name of the speed log that is in the track, where there is one.
    pub speed_log: Option<String>,
    /// Speed logs that are not.
    pub other_speed_logs: Vec<SpeedLog>,
    /// Depth of the sounder's transducer that is in `water_depth_m`, where depths count from it and it is known.
    pub transducer_depth: Option<TransducerDepth>,
    /// What each quality test said about each stream that has samples.
    pub quality: Vec<StreamQuality>,
    /// What the captain should know, in sentences (talker chosen, receivers that disagree …).
    pub remarks: Vec<String>,
}

impl Trip {
    /// Puts another speed log into the track; what was there becomes one of the others.
    pub fn use_speed_log(&mut self, other: usize) {
        let Some(log) = self.other_speed_logs.get_mut(other) else { return };
        std::mem::swap(&mut log.stw_mps, &mut self.track.stw_mps);
        std::mem::swap(&mut log.stw_qc, &mut self.track.stw_qc);
        std::mem::swap(&mut log.stw_across_mps, &mut self.track.stw_across_mps);
        if let Some(used) = self.quality.iter_mut().find(|used| used.stream == log.quality.stream) {
            std::mem::swap(used, &mut log.quality);
        }
        let used = std::mem::take(&mut log.name);
        log.name = self.speed_log.replace(used).unwrap_or_default();
    }
}
