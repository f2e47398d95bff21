//! What is true of the invented lake at a place, a depth and a time?
//!
//! Lake Corvane is fresh, deep and does not exist: its coordinates lie in open ocean. The shore runs north and south
//! through Alder Harbour, the lake lies west of it. A [`Lake`] is one day of it, and is part of the truth:
//! whoever reads the truth can ask it for the water anywhere.
//!
//! ```text
//! surface = base + slope + patches + warming of the day - shadows of clouds + fronts
//! below   = mixed layer, thermocline (with its seiche, internal waves and a step under each front), deep water
//! ```

mod cloud;
mod column;
mod current;
mod front;
mod internal_wave;
mod plane;

use serde::{Deserialize, Serialize};
use waterseam_units::LatLon;
use waterseam_units::time::seconds_between;

pub use cloud::Cloud;
pub use column::Column;
pub use current::{Current, Edge};
pub use front::{Front, LINE_AT_S};
pub use internal_wave::InternalWave;
pub use plane::{HARBOUR, Line, Point};

/// One day of Lake Corvane.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Lake {
    /// Local midnight at which the day begins, µs since 1970 UTC.
    pub midnight_us: i64,
    /// Surface temperature at the middle of the fishing ground before sunrise, between the sides of all fronts, °C.
    pub base_c: f64,
    /// Middle of the fishing ground, from which the slope counts.
    pub ground: Point,
    /// Slope of the surface temperature toward east, °C/km.
    pub east_c_per_km: f64,
    /// Slope of the surface temperature toward north, °C/km.
    pub north_c_per_km: f64,
    /// Warming at its height in mid-afternoon, °C.
    pub diurnal_c: f64,
    /// Small unevenness of the surface temperature.
    pub patches: Vec<Patch>,
    /// Thermal breaks.
    pub fronts: Vec<Front>,
    /// Shadows of clouds.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub clouds: Vec<Cloud>,
    /// Internal waves that lift the thermocline beside its slow rise and fall.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub internal_waves: Vec<InternalWave>,
    /// The water column.
    pub column: Column,
    /// Motion of the water.
    pub current: Current,
}

/// A plane wave of surface temperature; several of them make the surface patchy.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Patch {
    /// Amplitude, °C.
    pub amplitude_c: f64,
    /// Wave number toward east, rad/m.
    pub east_per_m: f64,
    /// Wave number toward north, rad/m.
    pub north_per_m: f64,
    /// Phase, rad.
    pub phase: f64,
}

impl Lake {
    /// Surface temperature, °C. `time_s` counts from local midnight.
    pub fn surface_temp_c(&self, point: Point, time_s: f64) -> f64 {
        let slope_c = self.east_c_per_km * (point.east_m - self.ground.east_m)
            + self.north_c_per_km * (point.north_m - self.ground.north_m);
        let patches_c: f64 = self
            .patches
            .iter()
            .map(|p| {
                p.amplitude_c * (p.east_per_m * point.east_m + p.north_per_m * point.north_m + p.phase).sin()
            })
            .sum();
        let fronts_c: f64 = self.fronts.iter().map(|front| front.anomaly_c(point, time_s)).sum();
        let clouds_c: f64 = self.clouds.iter().map(|cloud| cloud.cools_c(time_s)).sum();
        self.base_c + 1e-3 * slope_c + patches_c + self.diurnal_c * warming_share(time_s) + fronts_c
            - clouds_c
    }

    /// Depth of the steepest temperature gradient, m.
    pub fn thermocline_depth_m(&self, point: Point, time_s: f64) -> f64 {
        let fronts_m: f64 = self.fronts.iter().map(|front| front.deeper_m(point, time_s)).sum();
        let waves_m: f64 = self.internal_waves.iter().map(|wave| wave.deeper_m(point, time_s)).sum();
        self.column.thermocline_depth_m(point, time_s) + fronts_m + waves_m
    }

    /// Depth of an isotherm within a front, all else as it is at a point of it, m: `share` is -1 on its cold side, 0 in its middle
    /// and 1 on its warm side. `None` where the water there has no such temperature.
    pub fn isotherm_in_front_m(
        &self,
        front: usize,
        point: Point,
        time_s: f64,
        temp_c: f64,
        share: f64,
    ) -> Option<f64> {
        let front = self.fronts.get(front)?;
        let (along_m, _) = front.line_at(time_s).along_across_m(point);
        let surface_c = self.surface_temp_c(point, time_s) - front.anomaly_c(point, time_s)
            + share * 0.5 * front.step_at_c(point, time_s);
        let deeper_m = share * 0.5 * front.deepens_at_m(along_m) - front.deeper_m(point, time_s);
        let thermocline_m = self.thermocline_depth_m(point, time_s) + deeper_m;
        self.column.isotherm_depth_m(surface_c, temp_c, thermocline_m)
    }

    /// Temperature at a depth, °C.
    pub fn temp_c(&self, point: Point, depth_m: f64, time_s: f64) -> f64 {
        let thermocline_depth_m = self.thermocline_depth_m(point, time_s);
        self.column.temp_c(self.surface_temp_c(point, time_s), depth_m, thermocline_depth_m)
    }

    /// Temperature at a position, a depth (m) and an instant (µs since 1970 UTC), °C.
    pub fn temp_at_c(&self, at: LatLon, depth_m: f64, time_us: i64) -> f64 {
        self.temp_c(Point::at(at), depth_m, self.time_s(time_us))
    }

    /// Velocity of the surface water at a position, east and north, m/s.
    pub fn current_at_mps(&self, at: LatLon) -> (f64, f64) {
        self.current.surface_mps(Point::at(at))
    }

    /// Current at a place, depth and time (µs since 1970 UTC), east and north, m/s.
    pub fn current_at_depth_mps(&self, at: LatLon, depth_m: f64, time_us: i64) -> (f64, f64) {
        let point = Point::at(at);
        let thermocline_depth_m = self.column.thermocline_depth_m(point, self.time_s(time_us));
        self.current.at_depth_mps(point, depth_m, thermocline_depth_m)
    }

    /// Distance to the nearest front, m, positive on its warm side; `None` without fronts.
    pub fn front_distance_m(&self, point: Point, time_s: f64) -> Option<f64> {
        let distances = self.fronts.iter().map(|front| front.distance_m(point, time_s));
        distances.min_by(|a, b| a.abs().total_cmp(&b.abs()))
    }

    /// Seconds since local midnight of an instant.
    pub fn time_s(&self, time_us: i64) -> f64 {
        seconds_between(self.midnight_us, time_us)
    }
}

/// Depth of the water, m: it falls away from the shore, with a little relief.
pub fn water_depth_m(point: Point) -> f64 {
    let offshore_m = (-point.east_m).max(0.0);
    let relief_m = 2.0 * (point.north_m / 1_700.0).sin() * (1.0 - (-offshore_m / 2_000.0).exp());
    (3.5 + 70.0 * (1.0 - (-offshore_m / 7_000.0).exp()) + relief_m).max(2.0)
}

/// Hour of the day at which the sun begins to warm the surface.
const WARMING_FROM_H: f64 = 6.0;
/// Hour at which the surface is warmest.
const WARMEST_H: f64 = 15.0;

/// Share of the day's warming that has come, 0 to 1: half a cosine up, a slower one down.
fn warming_share(time_s: f64) -> f64 {
    let hour = time_s / 3600.0;
    let (from_warmest_h, half_period_h) = if hour < WARMEST_H {
        ((WARMEST_H - hour).min(WARMEST_H - WARMING_FROM_H), WARMEST_H - WARMING_FROM_H)
    } else {
        (hour - WARMEST_H, 24.0 - WARMEST_H + WARMING_FROM_H)
    };
    0.5 * (1.0 + (std::f64::consts::PI * from_warmest_h / half_period_h).cos())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_day_warms_from_morning_to_afternoon() {
        assert_eq!(warming_share(3.0 * 3600.0), 0.0);
        assert_eq!(warming_share(15.0 * 3600.0), 1.0);
        assert!((warming_share(10.5 * 3600.0) - 0.5).abs() < 1e-12);
        assert!(warming_share(20.0 * 3600.0) < 1.0);
    }

    #[test]
    fn the_harbour_is_shallow_and_the_ground_deep() {
        assert!(water_depth_m(Point::default()) < 5.0);
        assert!(water_depth_m(Point { east_m: -9_000.0, north_m: 500.0 }) > 45.0);
    }
}
