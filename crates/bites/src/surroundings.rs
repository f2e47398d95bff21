//! What was around the boat: everything that a bite or a minute of effort is placed in.

use waterseam_currents::Window;
use waterseam_tackle::Tackle;
use waterseam_track::Track;
use waterseam_units::LatLon;
use waterseam_units::angle::length_direction;

use crate::along::{Place, minute_mean, usable_near};
use crate::near::{Breaks, NearBreak, nearest_break};

/// A temperature below the surface.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Temp {
    /// Temperature, °C.
    pub temp_c: f64,
    /// Standard error, °C.
    pub se_c: f64,
}

/// The trip as bites and effort are laid over it.
#[derive(Clone, Copy)]
pub struct Surroundings<'a> {
    /// The track.
    pub track: &'a Track,
    /// The thermal breaks.
    pub breaks: Breaks<'a>,
    /// Currents in order of time; their second 0 is that of `breaks`.
    pub windows: &'a [Window],
    /// Temperature at a time (µs since 1970 UTC) and depth (m); `None` where nobody measured.
    pub temp_at: &'a dyn Fn(i64, f64) -> Option<Temp>,
    /// Depth of the thermocline at a time (µs since 1970 UTC), m; `None` where nobody measured.
    pub thermocline_at: &'a dyn Fn(i64) -> Option<f64>,
    /// Density of the water, kg/m³.
    pub density_kg_per_m3: f64,
    /// What is known of the tackle.
    pub tackle: &'a Tackle,
}

/// A current further than this in time does not speak for a place (common practice, no source), µs.
const CURRENT_WITHIN_US: i64 = 15 * 60 * 1_000_000;
/// Nor one further along the track: as far as a trolling boat goes in half an hour (common practice, no
/// source), m.
const CURRENT_WITHIN_M: f64 = 2000.0;

/// A probe this near to a lure's depth feels the same stream (common practice, no source), m.
const PROBE_NEAR_M: f64 = 5.0;

/// The probe, mean of a minute.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Probe {
    depth_m: f64,
    speed_mps: Option<f64>,
}

impl Probe {
    /// Speed of the water past a lure at a depth, where the probe hangs near it.
    pub fn lure_speed_mps(&self, depth_m: f64) -> Option<f64> {
        self.speed_mps.filter(|_| (self.depth_m - depth_m).abs() <= PROBE_NEAR_M)
    }
}

impl Surroundings<'_> {
    pub(crate) fn surface_temp_c(&self, time_us: i64) -> Option<f64> {
        usable_near(self.track, &self.track.surface_temp_c, &self.track.surface_temp_qc, time_us)
    }

    pub(crate) fn water_depth_m(&self, time_us: i64) -> Option<f64> {
        usable_near(self.track, &self.track.water_depth_m, &self.track.water_depth_qc, time_us)
    }

    pub(crate) fn stw_mps(&self, time_us: i64) -> Option<f64> {
        minute_mean(self.track, &self.track.stw_mps, time_us)
    }

    /// Where the probe hung about a time, and what it showed.
    pub(crate) fn probe(&self, time_us: i64) -> Option<Probe> {
        let depth_m = minute_mean(self.track, &self.track.probe_depth_m, time_us)?;
        Some(Probe { depth_m, speed_mps: minute_mean(self.track, &self.track.probe_speed_mps, time_us) })
    }

    /// Speed of the water past a lure at a depth, by the probe, where that hangs near it.
    pub(crate) fn lure_speed_mps(&self, time_us: i64, depth_m: f64) -> Option<f64> {
        self.probe(time_us)?.lure_speed_mps(depth_m)
    }

    pub(crate) fn sog_mps(&self, time_us: i64) -> Option<f64> {
        minute_mean(self.track, &self.track.sog_mps, time_us)
    }

    pub(crate) fn nearest_break(&self, at: LatLon, time_us: i64) -> Option<NearBreak> {
        nearest_break(&self.breaks, at, time_us, self.surface_temp_c(time_us))
    }

    /// Set (toward, degrees true; `None` for still water) and drift (m/s) of the nearest current.
    pub(crate) fn set_and_drift(&self, place: &Place, time_us: i64) -> Option<(Option<f64>, f64)> {
        let away_us = |w: &&Window| (self.breaks.zero_us + (w.time_s * 1e6) as i64 - time_us).abs();
        let near = |w: &&Window| {
            away_us(w) <= CURRENT_WITHIN_US && (w.distance_m - place.distance_m).abs() <= CURRENT_WITHIN_M
        };
        let window = self.windows.iter().filter(near).min_by_key(away_us)?;
        let (drift_mps, set_deg) = length_direction(window.east_mps, window.north_mps);
        Some((set_deg, drift_mps))
    }
}
