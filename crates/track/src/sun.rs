//! How high does the sun stand?
//!
//! NREL Solar Position Algorithm (I. Reda, A. Andreas, Solar Energy 76 (2004) 577–589; NREL/TP-560-34302),
//! through the `solar-positioning` crate.

use solar_positioning::time::JulianDate;
use solar_positioning::{Location, SolarPositions, delta_t};
use waterseam_units::LatLon;
use waterseam_units::time::US_PER_S;

/// Julian date of 1970-01-01T00:00:00 UTC.
const JULIAN_DATE_1970: f64 = 2_440_587.5;
const S_PER_DAY: f64 = 86_400.0;
/// Days in a Julian year.
const DAYS_PER_YEAR: f64 = 365.25;

/// The algorithm runs once in this time, µs; in between the direction of the sun is interpolated. That is good
/// to 0.01° for a boat at up to 20 m/s that turns as she likes, and much better on a straight course (tested).
const KNOT_US: i64 = 30 * US_PER_S;

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
    let mut knot = (0, direction(time_us[0], at(0)));
    while elevations.len() <= last {
        let (start, from) = knot;
        let until = time_us.partition_point(|&t| t <= time_us[start] + KNOT_US);
        let end = (until - 1).max(start + 1).min(last);
        let to = if end == start { from } else { direction(time_us[end], at(end)) };
        let span = (time_us[end] - time_us[start]).max(1) as f64;
        for &t in &time_us[start..end] {
            elevations.push(elevation_between(from, to, (t - time_us[start]) as f64 / span));
        }
        if end == last {
            elevations.push(elevation_between(to, to, 0.0));
        }
        knot = (end, to);
    }
    elevations
}

/// Elevation of the direction at a fraction of the way between two. Directions are interpolated as vectors:
/// the elevation itself turns sharply where the sun passes overhead.
fn elevation_between(from: [f64; 3], to: [f64; 3], fraction: f64) -> f64 {
    let [east, north, up] = [0, 1, 2].map(|axis| from[axis] + fraction * (to[axis] - from[axis]));
    up.atan2((east * east + north * north).sqrt()).to_degrees()
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
        fn interpolation_is_good_to_a_hundredth_of_a_degree(
            start_s in 1_000_000_000i64..1_900_000_000, lat in -66f64..66.0, speed in 0f64..20.0,
            course in 0f64..360.0, step_s in 1i64..90, leg_s in 10i64..400,
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
                prop_assert!((got[row] - want).abs() < 0.01, "row {}: {} for {}", row, got[row], want);
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
        assert!(worst.fold(0.0, f64::max) < 0.01);
        assert!(got.iter().copied().fold(0.0, f64::max) > 89.0);
    }

    #[test]
    fn no_rows_and_one_row() {
        let at = LatLon { lat_deg: 46.2, lon_deg: -29.4 };
        assert!(sun_elevations_deg(&[], |_| at).is_empty());
        assert!((sun_elevations_deg(&[0], |_| at)[0] - sun_elevation_deg(0, at)).abs() < 1e-9);
    }
}
