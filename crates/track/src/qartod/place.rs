//! Can the boat have been there?

use waterseam_units::geodesy::distance_m;
use waterseam_units::time::seconds_between;
use waterseam_units::{Flag, LatLon};

use super::above;

/// A box of latitudes and longitudes, degrees, that does not cross 180°.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bounds {
    /// Southern border.
    pub south_deg: f64,
    /// Northern border.
    pub north_deg: f64,
    /// Western border.
    pub west_deg: f64,
    /// Eastern border.
    pub east_deg: f64,
}

/// Location: a place that is not on the earth, or of which one coordinate is missing, fails; one farther than
/// `farthest_m` from the place before is suspect. Whether a place is on land is not known here.
///
/// Distances are geodesics on WGS 84; to and from a place that is not on the earth there is none.
///
/// # Panics
/// When the two slices differ in length.
pub fn location(lat_deg: &[Option<f64>], lon_deg: &[Option<f64>], farthest_m: Option<f64>) -> Vec<Flag> {
    let places = places(lat_deg, lon_deg);
    let is_far = |row: usize| {
        let before = row.checked_sub(1).and_then(|before| places[before].ok());
        let step_m = before.zip(places[row].ok()).map(|(from, to)| distance_m(from, to));
        farthest_m.zip(step_m).is_some_and(|(farthest_m, step_m)| step_m > farthest_m)
    };
    let judge = |row: usize| match places[row] {
        Err(flag) => flag,
        Ok(_) if is_far(row) => Flag::Suspect,
        Ok(_) => Flag::Pass,
    };
    (0..places.len()).map(judge).collect()
}

/// Location within a box: outside and on its border fails.
///
/// # Panics
/// When the two slices differ in length.
pub fn location_bounds(lat_deg: &[Option<f64>], lon_deg: &[Option<f64>], bounds: Bounds) -> Vec<Flag> {
    assert_eq!(lat_deg.len(), lon_deg.len(), "a longitude for each latitude");
    let inside = |lat: f64, lon: f64| {
        (bounds.south_deg < lat && lat < bounds.north_deg) && (bounds.west_deg < lon && lon < bounds.east_deg)
    };
    let judge = |(&lat, &lon): (&Option<f64>, &Option<f64>)| match lat.zip(lon) {
        None => Flag::Missing,
        Some((lat, lon)) if inside(lat, lon) => Flag::Pass,
        Some(_) => Flag::Fail,
    };
    lat_deg.iter().zip(lon_deg).map(judge).collect()
}

/// Speed since the place before, m/s. The first place is not evaluated, nor one behind a place that is none.
///
/// # Panics
/// When the slices differ in length.
pub fn speed(
    time_us: &[i64],
    lat_deg: &[Option<f64>],
    lon_deg: &[Option<f64>],
    suspect_mps: f64,
    fail_mps: f64,
) -> Vec<Flag> {
    let places = places(lat_deg, lon_deg);
    assert_eq!(time_us.len(), places.len(), "a time for each place");
    let judge = |row: usize| {
        let to = match places[row] {
            Ok(to) => to,
            Err(flag) => return flag,
        };
        let Some((before, from)) = row.checked_sub(1).and_then(|b| Some((b, places[b].ok()?))) else {
            return Flag::NotEvaluated;
        };
        let step_m = distance_m(from, to);
        let seconds = seconds_between(time_us[before], time_us[row]).abs();
        if step_m == 0.0 { Flag::Pass } else { above(step_m / seconds, suspect_mps, fail_mps) }
    };
    (0..places.len()).map(judge).collect()
}

/// The places that are on the earth, and the flags of those that are not.
fn places(lat_deg: &[Option<f64>], lon_deg: &[Option<f64>]) -> Vec<Result<LatLon, Flag>> {
    assert_eq!(lat_deg.len(), lon_deg.len(), "a longitude for each latitude");
    let place = |(&lat, &lon): (&Option<f64>, &Option<f64>)| match (lat, lon) {
        (None, None) => Err(Flag::Missing),
        (Some(lat), Some(lon)) => LatLon::new(lat, lon).ok_or(Flag::Fail),
        _ => Err(Flag::Fail),
    };
    lat_deg.iter().zip(lon_deg).map(place).collect()
}
