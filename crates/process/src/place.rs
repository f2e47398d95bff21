//! Where on the track was that?

use waterseam_track::Track;
use waterseam_units::time::US_PER_S;
use waterseam_units::{LatLon, LocalFrame};

/// Position of the boat at an instant: between the rows about it on a straight line, at the ends the end.
/// `None` for a track without a row.
pub fn at(track: &Track, time_us: i64) -> Option<LatLon> {
    let after = track.time_us.partition_point(|&t| t < time_us);
    let Some(before) = after.checked_sub(1) else { return (!track.is_empty()).then(|| track.at(0)) };
    if after == track.len() {
        return Some(track.at(before));
    }
    let (t0, t1) = (track.time_us[before], track.time_us[after]);
    let part = (time_us - t0) as f64 / (t1 - t0) as f64;
    let frame = LocalFrame::new(track.at(before));
    let (east_m, north_m) = frame.to_local(track.at(after));
    Some(frame.to_position(east_m * part, north_m * part))
}

/// Distance run at an instant, m; `None` before the first row and after the last.
pub fn run_m(track: &Track, time_us: i64) -> Option<f64> {
    let after = track.time_us.partition_point(|&t| t < time_us);
    let to_m = *track.distance_m.get(after)?;
    if track.time_us[after] == time_us {
        return Some(to_m);
    }
    let before = after.checked_sub(1)?;
    let (t0, t1) = (track.time_us[before], track.time_us[after]);
    let part = (time_us - t0) as f64 / (t1 - t0) as f64;
    Some(track.distance_m[before] + part * (to_m - track.distance_m[before]))
}

/// Seconds since the track's first row, the clock of the science crates: small numbers keep their decimals.
pub fn seconds(track: &Track) -> Vec<f64> {
    track.time_us.iter().map(|&t| seconds_at(track, t)).collect()
}

/// An instant on that clock.
pub fn seconds_at(track: &Track, time_us: i64) -> f64 {
    (time_us - track.time_us.first().copied().unwrap_or_default()) as f64 / US_PER_S as f64
}

/// The instant behind a number on that clock.
pub fn instant(track: &Track, time_s: f64) -> i64 {
    track.time_us.first().copied().unwrap_or_default() + (time_s * US_PER_S as f64).round() as i64
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn between_two_rows_lies_the_middle() {
        let track = Track {
            time_us: vec![0, 10 * US_PER_S],
            lat_deg: vec![46.0, 46.001],
            lon_deg: vec![-29.4, -29.4],
            distance_m: vec![0.0, 111.0],
            ..Track::default()
        };
        let middle = at(&track, 5 * US_PER_S).unwrap();
        assert!((middle.lat_deg - 46.0005).abs() < 1e-9);
        assert_eq!(at(&track, -5), Some(track.at(0)));
        assert_eq!(at(&track, 99 * US_PER_S), Some(track.at(1)));
        assert_eq!(at(&Track::default(), 0), None);
        assert_eq!(run_m(&track, 5 * US_PER_S), Some(55.5));
        assert_eq!(
            [-5, 0, 10, 11].map(|s| run_m(&track, s * US_PER_S)),
            [None, Some(0.0), Some(111.0), None]
        );
    }
}
