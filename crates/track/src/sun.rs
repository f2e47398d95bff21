//! How high does the sun stand?
//!
//! NREL Solar Position Algorithm (I. Reda, A. Andreas, Solar Energy 76 (2004) 577–589; NREL/TP-560-34302),
//! through the `solar-positioning` crate.

use std::f64::consts::{PI, TAU};

use solar_positioning::time::JulianDate;
use solar_positioning::{Location, SolarPositions, delta_t};
use waterseam_units::LatLon;
use waterseam_units::time::US_PER_S;

/// Julian date of 1970-01-01T00:00:00 UTC.
const JULIAN_DATE_1970: f64 = 2_440_587.5;
const S_PER_DAY: f64 = 86_400.0;
/// Days in a Julian year.
const DAYS_PER_YEAR: f64 = 365.25;

/// The algorithm runs once in this time, µs; in between the sun goes round the earth evenly. That is good to three
/// thousandths of a degree wherever the boat goes meanwhile (tested).
const KNOT_US: i64 = 20 * 60 * US_PER_S;

/// Geometric elevation of the sun's centre above the horizon, degrees, as seen at sea level and without
/// refraction.
pub fn sun_elevation_deg(time_us: i64, at: LatLon) -> f64 {
    let [_, _, up] = direction(time_us, at);
    up.clamp(-1.0, 1.0).asin().to_degrees()
}

/// [`sun_elevation_deg`] for rows in time order, at a fraction of the time.
pub(crate) fn sun_elevations_deg(time_us: &[i64], at: impl Fn(usize) -> LatLon) -> Vec<f64> {
    let mut elevations = Vec::with_capacity(time_us.len());
    let Some(last) = time_us.len().checked_sub(1) else { return elevations };
    let mut from = Overhead::of(time_us[0], at(0));
    let mut sky = Sky::default();
    while elevations.len() <= last {
        let start = elevations.len();
        let end = time_us.partition_point(|&t| t <= time_us[start] + KNOT_US);
        let end = end.max(start + 1);
        let to = Overhead::of(time_us[end - 1], at(end - 1));
        let span = (time_us[end - 1] - time_us[start]).max(1) as f64;
        let way = from.way_to(&to);
        elevations.extend((start..end).map(|row| {
            let fraction = (time_us[row] - time_us[start]) as f64 / span;
            let sun = Overhead { lat: from.lat + fraction * way.lat, lon: from.lon + fraction * way.lon };
            sky.elevation(sun, at(row)).to_degrees()
        }));
        from = time_us.get(end).map_or(to, |&next_us| Overhead::of(next_us, at(end)));
    }
    elevations
}

/// The place over which the sun stands, radians.
#[derive(Clone, Copy, Debug)]
struct Overhead {
    lat: f64,
    lon: f64,
}

impl Overhead {
    /// From the direction in which the sun is seen somewhere.
    fn of(time_us: i64, from: LatLon) -> Self {
        let [east, north, up] = direction(time_us, from);
        let (sin_lat, cos_lat) = from.lat_deg.to_radians().sin_cos();
        // the same direction on axes of the earth: to the pole, away from its axis, and east
        let pole = north * cos_lat + up * sin_lat;
        let away = up * cos_lat - north * sin_lat;
        Self { lat: pole.clamp(-1.0, 1.0).asin(), lon: from.lon_deg.to_radians() + east.atan2(away) }
    }

    /// The way to where it stands less than half a day later.
    fn way_to(&self, to: &Self) -> Self {
        Self { lat: to.lat - self.lat, lon: (to.lon - self.lon + PI).rem_euclid(TAU) - PI }
    }
}

/// The angles of the row before: those of the next one are near them.
#[derive(Default)]
struct Sky {
    boat_lat: Near,
    sun_lat: Near,
    turn: Near,
    elevation: Near,
}

impl Sky {
    /// Elevation at a place, radians.
    fn elevation(&mut self, sun: Overhead, at: LatLon) -> f64 {
        let (sin_lat, cos_lat) = self.boat_lat.sin_cos(at.lat_deg.to_radians());
        let (sin_sun, cos_sun) = self.sun_lat.sin_cos(sun.lat);
        let (sin_turn, cos_turn) = self.turn.sin_cos(at.lon_deg.to_radians() - sun.lon);
        let up = sin_lat * sin_sun + cos_lat * cos_sun * cos_turn;
        // an arc sine would lose its digits with the sun overhead
        let (east, north) = (cos_sun * sin_turn, cos_lat * sin_sun - sin_lat * cos_sun * cos_turn);
        self.elevation.angle(up, (east * east + north * north).sqrt())
    }
}

/// An angle with its sine and cosine, from which those of near angles follow without trigonometry.
#[derive(Clone, Copy)]
struct Near {
    angle: f64,
    sin: f64,
    cos: f64,
}

impl Default for Near {
    fn default() -> Self {
        Self { angle: 0.0, sin: 0.0, cos: 1.0 }
    }
}

impl Near {
    /// Angles this near, radians: the series below are then as good as the numbers.
    const REACH: f64 = 0.02;

    fn sin_cos(&mut self, angle: f64) -> (f64, f64) {
        let x = angle - self.angle;
        if x.abs() > Self::REACH {
            let (sin, cos) = angle.sin_cos();
            *self = Self { angle, sin, cos };
            return (sin, cos);
        }
        let x2 = x * x;
        let sin = x * (1.0 + x2 * (-1.0 / 6.0 + x2 * (1.0 / 120.0)));
        let cos = 1.0 + x2 * (-0.5 + x2 * (1.0 / 24.0 + x2 * (-1.0 / 720.0)));
        (self.sin * cos + self.cos * sin, self.cos * cos - self.sin * sin)
    }

    /// The angle of which sine and cosine are these.
    fn angle(&mut self, sin: f64, cos: f64) -> f64 {
        let x = sin * self.cos - cos * self.sin;
        // the sine is as small on the other side
        if x.abs() > Self::REACH || sin * self.sin + cos * self.cos < 0.0 {
            *self = Self { angle: sin.atan2(cos), sin, cos };
            return self.angle;
        }
        let x2 = x * x;
        self.angle + x * (1.0 + x2 * (1.0 / 6.0 + x2 * (3.0 / 40.0 + x2 * (15.0 / 336.0))))
    }
}

/// Unit vector toward the sun: east, north, up.
fn direction(time_us: i64, at: LatLon) -> [f64; 3] {
    let days = time_us as f64 / US_PER_S as f64 / S_PER_DAY;
    let position = || {
        // TT - UT changes by a second a year; its error moves the sun by less than 1e-4°
        let delta_t_s = delta_t::estimate(1970.0 + days / DAYS_PER_YEAR)?;
        let time = JulianDate::new(JULIAN_DATE_1970 + days, delta_t_s)?;
        let place = Location { latitude: at.lat_deg, longitude: at.lon_deg };
        SolarPositions::new().at_from_julian(time, place, 0.0, None)
    };
    // observations are kept to the years 1970 to 2100 and to positions on the earth, which the algorithm covers
    position().map_or([0.0, 0.0, -1.0], |sun| {
        let (sin_zenith, up) = sun.zenith_angle().to_radians().sin_cos();
        let (east, north) = sun.azimuth().to_radians().sin_cos();
        [sin_zenith * east, sin_zenith * north, up]
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;
    use waterseam_units::geodesy::direct;

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(24))]

        /// Every row against the algorithm itself, also with the sun overhead and on zigzag courses.
        #[test]
        fn interpolation_is_good_to_a_few_thousandths_of_a_degree(
            start_s in 1_000_000_000i64..1_900_000_000, lat in -66f64..66.0, speed in 0f64..20.0,
            course in 0f64..360.0, step_s in 1i64..300, leg_s in 10i64..400,
        ) {
            let origin = LatLon { lat_deg: lat, lon_deg: -29.4 };
            let mut at = vec![origin];
            let time_us: Vec<i64> = (0..120).map(|row| (start_s + row * step_s) * US_PER_S).collect();
            for row in 1..time_us.len() {
                let back = (row as i64 * step_s / leg_s) % 2 == 1;
                let way = if back { course + 180.0 } else { course };
                at.push(direct(at[row - 1], way, speed * step_s as f64));
            }
            let got = sun_elevations_deg(&time_us, |row| at[row]);
            prop_assert_eq!(got.len(), time_us.len());
            for row in 0..got.len() {
                let want = sun_elevation_deg(time_us[row], at[row]);
                prop_assert!((got[row] - want).abs() < 0.003, "row {}: {} for {}", row, got[row], want);
            }
        }
    }

    proptest! {
        #[test]
        fn near_angles_are_as_good_as_any(about in -7f64..7.0, turn in -0.03f64..0.03) {
            let mut near = Near::default();
            near.sin_cos(about);
            let angle = about + turn;
            let ((sin, cos), (want_sin, want_cos)) = (near.sin_cos(angle), angle.sin_cos());
            prop_assert!((sin - want_sin).abs() < 1e-15 && (cos - want_cos).abs() < 1e-15);
            let mut near = Near::default();
            near.angle(about.sin(), about.cos());
            prop_assert!((near.angle(sin, cos) - angle).sin().abs() < 2e-15);
        }
    }

    #[test]
    fn overhead_on_the_equator_at_the_equinox() {
        let noon: jiff::Timestamp = "2026-03-20T12:00:00Z".parse().unwrap();
        let time_us: Vec<i64> = (0..1200).map(|s| noon.as_microsecond() + s * US_PER_S).collect();
        let at = LatLon { lat_deg: 0.0, lon_deg: 0.0 };
        let got = sun_elevations_deg(&time_us, |_| at);
        let worst = (0..1200).map(|row| (got[row] - sun_elevation_deg(time_us[row], at)).abs());
        assert!(worst.fold(0.0, f64::max) < 0.003);
        assert!(got.iter().copied().fold(0.0, f64::max) > 89.0);
    }

    #[test]
    fn no_rows_and_one_row() {
        let at = LatLon { lat_deg: 46.2, lon_deg: -29.4 };
        assert!(sun_elevations_deg(&[], |_| at).is_empty());
        assert!((sun_elevations_deg(&[0], |_| at)[0] - sun_elevation_deg(0, at)).abs() < 1e-9);
    }
}
