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
    while elevations.len() <= last {
        let start = elevations.len();
        let end = time_us.partition_point(|&t| t <= time_us[start] + KNOT_US);
        let end = end.max(start + 1);
        let to = Overhead::of(time_us[end - 1], at(end - 1));
        let span = (time_us[end - 1] - time_us[start]).max(1) as f64;
        elevations.extend((start..end).map(|row| {
            let fraction = (time_us[row] - time_us[start]) as f64 / span;
            from.toward(&to, fraction).elevation_deg(at(row))
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

    /// A fraction of the way to where it stands less than half a day later.
    fn toward(&self, to: &Self, fraction: f64) -> Self {
        let turn = (to.lon - self.lon + PI).rem_euclid(TAU) - PI;
        Self { lat: self.lat + fraction * (to.lat - self.lat), lon: self.lon + fraction * turn }
    }

    /// Elevation at a place.
    fn elevation_deg(&self, at: LatLon) -> f64 {
        let ((sin_lat, cos_lat), (sin_sun, cos_sun)) =
            (at.lat_deg.to_radians().sin_cos(), self.lat.sin_cos());
        let (sin_turn, cos_turn) = (at.lon_deg.to_radians() - self.lon).sin_cos();
        let up = sin_lat * sin_sun + cos_lat * cos_sun * cos_turn;
        // an arc sine would lose its digits with the sun overhead
        let level = (cos_sun * sin_turn).hypot(cos_lat * sin_sun - sin_lat * cos_sun * cos_turn);
        up.atan2(level).to_degrees()
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
