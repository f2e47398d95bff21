//! How far did the boat go?

use waterseam_units::angle::turn_deg;
use waterseam_units::geodesy::DegreeLengths;
use waterseam_units::{LatLon, geodesy};

use crate::position::reach_m;
use crate::settings::Settings;
use crate::track::Activity;

/// Up to this difference of latitude or longitude, degrees, a distance is taken on the plane about the mid-latitude.
/// It differs from the geodesic by less than one part in 100,000 there, up to 75° of latitude (tested).
const PLANE_DEG: f64 = 0.05;

/// Up to this difference, and this latitude, the plane tells a distance to [`ROUGH_PLANE_ERROR`] (tested), which is enough for
/// what is much nearer or much farther than a limit.
const ROUGH_PLANE_DEG: f64 = 1.0;
const ROUGH_PLANE_LAT_DEG: f64 = 75.0;
const ROUGH_PLANE_ERROR: f64 = 0.01;
/// No degree of latitude is shorter than this on the ellipsoid, m (one at the equator has 110,574 m).
const M_PER_DEG_OF_LATITUDE_MIN: f64 = 110_500.0;

/// No degree of latitude or longitude is longer than this on the ellipsoid, m (a degree of latitude at the pole).
const M_PER_DEG_MAX: f64 = 111_700.0;

/// Length of one leg of the track, m. A fix wanders by a metre about its neighbours (or is rounded to 0.001′,
/// 1.9 m), so that a sum over every second grows with the wandering. Over legs of 10 m a scatter of 1 m adds
/// 1 %, one of 0.3 m 0.1 %; a turn of 30 m radius loses 0.5 %.
const LEG_M: f64 = 10.0;
/// What is as near by a bound is nearer than a leg, whatever a plane makes of it, m.
const SURELY_WITHIN_LEG_M: f64 = 9.9;

/// Distance between two positions, m.
pub(crate) fn step_m(from: LatLon, to: LatLon) -> f64 {
    if is_near(from, to) { plane_m(from, to) } else { geodesy::distance_m(from, to) }
}

fn is_near(from: LatLon, to: LatLon) -> bool {
    (to.lat_deg - from.lat_deg).abs() < PLANE_DEG && (to.lon_deg - from.lon_deg).abs() < PLANE_DEG
}

/// Distance on the plane about the mid-latitude, m.
fn plane_m(from: LatLon, to: LatLon) -> f64 {
    on_plane_m(from, to, geodesy::m_per_deg(f64::midpoint(from.lat_deg, to.lat_deg)))
}

fn on_plane_m(from: LatLon, to: LatLon, (m_per_deg_east, m_per_deg_north): (f64, f64)) -> f64 {
    let east_m = turn_deg(from.lon_deg, to.lon_deg) * m_per_deg_east;
    let north_m = (to.lat_deg - from.lat_deg) * m_per_deg_north;
    // not hypot: metres to kilometres neither overflow nor vanish when squared, and this is run for every fix
    (east_m * east_m + north_m * north_m).sqrt()
}

/// Measures many steps of one boat.
#[derive(Debug, Default)]
pub(crate) struct Ruler(DegreeLengths);

impl Ruler {
    /// As [`step_m`].
    pub fn step_m(&mut self, from: LatLon, to: LatLon) -> f64 {
        if !is_near(from, to) {
            return geodesy::distance_m(from, to);
        }
        on_plane_m(from, to, self.0.at(f64::midpoint(from.lat_deg, to.lat_deg)))
    }
}

/// Whether two positions lie within a distance of each other. Most neighbours do, and those that do by a wide
/// margin are told without trigonometry; a boat far out is not at the port, and that is told without a geodesic.
pub(crate) fn is_within(from: LatLon, to: LatLon, limit_m: f64) -> bool {
    if is_within_box(from, to, limit_m) {
        return true;
    }
    let (north_deg, east_deg) = ((to.lat_deg - from.lat_deg).abs(), (to.lon_deg - from.lon_deg).abs());
    // no way from one parallel to another is shorter than along a meridian
    if north_deg * M_PER_DEG_OF_LATITUDE_MIN > limit_m {
        return false;
    }
    let near = |deg: f64| north_deg < deg && east_deg < deg && from.lat_deg.abs() < ROUGH_PLANE_LAT_DEG;
    if near(ROUGH_PLANE_DEG) && !near(PLANE_DEG) {
        let apart_m = plane_m(from, to);
        if (apart_m - limit_m).abs() > ROUGH_PLANE_ERROR * apart_m {
            return apart_m < limit_m;
        }
    }
    step_m(from, to) <= limit_m
}

/// Whether two positions lie so close together that the way along a meridian and a parallel is within a distance.
#[inline]
pub(crate) fn is_within_box(from: LatLon, to: LatLon, limit_m: f64) -> bool {
    ((to.lat_deg - from.lat_deg).abs() + (to.lon_deg - from.lon_deg).abs()) * M_PER_DEG_MAX <= limit_m
}

/// One row of a track, as far as its length is concerned.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Step {
    pub time_us: i64,
    pub at: LatLon,
    pub is_usable: bool,
    pub activity: Activity,
}

/// Distance run since the first row, m, never decreasing.
///
/// Usable positions are joined by legs of at least [`LEG_M`]; inside a leg the distance grows with the steps
/// between its rows. A stopped boat runs nothing, whatever her fixes do, and neither does a boat that the receiver
/// has moved faster than she can go. A row without a usable position has the distance of the row before it.
pub(crate) fn along_m(steps: &[Step], settings: &Settings) -> Vec<f64> {
    let usable: Vec<usize> = (0..steps.len()).filter(|&row| steps[row].is_usable).collect();
    let mut distance_m = vec![None; steps.len()];
    let mut total_m = 0.0;
    let mut ruler = Ruler::default();
    let mut walked_m = Vec::new();
    let mut leg = 0; // place in `usable` at which the open leg starts
    for (place, &row) in usable.iter().enumerate() {
        let here = steps[row];
        let Some(&before) = place.checked_sub(1).and_then(|place| usable.get(place)) else {
            distance_m[row] = Some(0.0);
            continue;
        };
        let before = steps[before];
        let was_stopped = before.activity == Activity::Stopped;
        let is_stopped = here.activity == Activity::Stopped;
        let reached = is_within(before.at, here.at, reach_m(here.time_us - before.time_us, settings));
        if is_stopped && was_stopped || !reached {
            total_m +=
                close(steps, &usable[leg..place], total_m, &mut distance_m, (&mut ruler, &mut walked_m));
            distance_m[row] = Some(total_m);
            leg = place;
        } else if is_stopped
            || place + 1 == usable.len()
            || !is_within_box(steps[usable[leg]].at, here.at, SURELY_WITHIN_LEG_M)
                && ruler.step_m(steps[usable[leg]].at, here.at) >= LEG_M
        {
            total_m +=
                close(steps, &usable[leg..=place], total_m, &mut distance_m, (&mut ruler, &mut walked_m));
            leg = place;
        }
    }
    let mut last_m = 0.0;
    let carry = |distance: Option<f64>| {
        last_m = distance.unwrap_or(last_m);
        last_m
    };
    distance_m.into_iter().map(carry).collect()
}

/// Writes the distances of the rows of one leg, which starts at `start_m`; gives the leg's length. `walked_m` is room to
/// work in.
fn close(
    steps: &[Step],
    leg: &[usize],
    start_m: f64,
    distance_m: &mut [Option<f64>],
    (ruler, walked_m): (&mut Ruler, &mut Vec<f64>),
) -> f64 {
    let (Some(&first), Some(&last)) = (leg.first(), leg.last()) else { return 0.0 };
    let length_m = ruler.step_m(steps[first].at, steps[last].at);
    let mut all_m = 0.0;
    walked_m.clear();
    walked_m.push(all_m);
    for pair in leg.windows(2) {
        all_m += ruler.step_m(steps[pair[0]].at, steps[pair[1]].at);
        walked_m.push(all_m);
    }
    for (&row, walked_m) in leg.iter().zip(walked_m) {
        let share = if all_m > 0.0 { *walked_m / all_m } else { 0.0 };
        distance_m[row] = Some(start_m + length_m * share);
    }
    length_m
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;
    use waterseam_units::LocalFrame;
    use waterseam_units::geodesy::{direct, distance_m};

    const ORIGIN: LatLon = LatLon { lat_deg: 46.2, lon_deg: -29.4 };

    fn steps(at: impl Iterator<Item = LatLon>, activity: Activity) -> Vec<Step> {
        at.enumerate()
            .map(|(second, at)| Step { time_us: second as i64 * 1_000_000, at, is_usable: true, activity })
            .collect()
    }

    /// Wandering of a fix about the truth, m, without a random generator: two slow waves and a quick one.
    fn wander(second: usize) -> (f64, f64) {
        let s = second as f64;
        (2.5 * (s / 95.0).sin() + 0.3 * (s * 2.1).sin(), 2.5 * (s / 71.0).cos() + 0.3 * (s * 1.7).cos())
    }

    #[test]
    fn a_straight_track_is_as_long_as_its_geodesic_and_even() {
        let track = steps((0..1000).map(|s| direct(ORIGIN, 40.0, f64::from(s) * 1.3)), Activity::Troll);
        let along = along_m(&track, &Settings::default());
        for (second, along_m) in along.iter().enumerate() {
            assert!((along_m - second as f64 * 1.3).abs() < 0.01, "{second}: {along_m}");
        }
    }

    #[test]
    fn wandering_fixes_lengthen_a_track_by_less_than_one_percent() {
        let frame = LocalFrame::new(ORIGIN);
        let at = (0..3600).map(|s| {
            let (east, north) = wander(s);
            frame.to_position(east + s as f64, north)
        });
        let along = along_m(&steps(at, Activity::Troll), &Settings::default());
        assert!((along[3599] - 3599.0).abs() < 0.01 * 3599.0, "{}", along[3599]);
    }

    #[test]
    fn a_stopped_boat_runs_nothing() {
        let frame = LocalFrame::new(ORIGIN);
        let at = (0..36_000).map(|s| {
            let (east, north) = wander(s);
            frame.to_position(4.0 * east, 4.0 * north)
        });
        let along = along_m(&steps(at, Activity::Stopped), &Settings::default());
        assert_eq!(along[35_999], 0.0);
    }

    #[test]
    fn the_way_to_and_from_a_stop_counts() {
        let way = |s: i32| direct(ORIGIN, 0.0, f64::from(s.min(100) + (s - 700).max(0)) * 2.0);
        let mut track = steps((0..800).map(way), Activity::Run);
        for step in &mut track[100..700] {
            step.activity = Activity::Stopped;
        }
        let along = along_m(&track, &Settings::default());
        assert!((along[799] - 398.0).abs() < 0.01, "{}", along[799]);
    }

    proptest! {
        #[test]
        fn far_positions_are_told_apart_as_the_geodesic_does(
            lat in -80f64..80.0, lon in -180f64..180.0, azimuth in 0f64..360.0, d in 1_000f64..150_000.0, part in 0.9f64..1.1,
        ) {
            let from = LatLon { lat_deg: lat, lon_deg: lon };
            let to = direct(from, azimuth, d);
            let want = distance_m(from, to);
            for limit_m in [part * want, 0.3 * want, 3.0 * want, 0.9999 * want, 1.0001 * want] {
                prop_assert_eq!(is_within(from, to, limit_m), want <= limit_m, "{} m, limit {} m", want, limit_m);
            }
            let is_near = (to.lat_deg - lat).abs() < ROUGH_PLANE_DEG && (to.lon_deg - lon).abs() < ROUGH_PLANE_DEG;
            if is_near && lat.abs() < ROUGH_PLANE_LAT_DEG {
                prop_assert!((plane_m(from, to) - want).abs() < 0.2 * ROUGH_PLANE_ERROR * want);
            }
        }

        #[test]
        fn a_ruler_measures_as_trigonometry_does(
            lat in -89f64..89.0, lon in -180f64..180.0, steps in prop::collection::vec((-0.02f64..0.02, -0.02f64..0.02), 1..30),
        ) {
            let mut ruler = Ruler::default();
            let mut from = LatLon { lat_deg: lat, lon_deg: lon };
            for (north_deg, east_deg) in steps {
                let to = LatLon { lat_deg: from.lat_deg + north_deg, lon_deg: from.lon_deg + east_deg };
                let (got, want) = (ruler.step_m(from, to), step_m(from, to));
                prop_assert!((got - want).abs() <= 1e-11 * want, "{got} instead of {want}");
                from = to;
            }
        }

        #[test]
        fn a_step_agrees_with_the_geodesic(
            lat in -75f64..75.0, lon in -180f64..180.0, azimuth in 0f64..360.0, d in 0.1f64..20_000.0,
        ) {
            let from = LatLon { lat_deg: lat, lon_deg: lon };
            let to = direct(from, azimuth, d);
            let want = distance_m(from, to);
            prop_assert!((step_m(from, to) - want).abs() < 1e-5 * want + 1e-6);
            prop_assert!(is_within(from, to, 1.001 * want) && !is_within(from, to, 0.999 * want));
        }
    }
}
