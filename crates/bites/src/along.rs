//! What did the track say at this time?

use waterseam_track::{Activity, Track};
use waterseam_units::angle::turn_deg;
use waterseam_units::{Flag, LatLon};

/// Longest gap between positions that is bridged by a straight line, and over which the activity is taken
/// to go on. A boat at trolling speed goes a kilometre in it (common practice, no source), µs.
pub(crate) const GAP_US_MAX: i64 = 15 * 60 * 1_000_000;

/// Half of the time over which speeds are averaged, µs: the time of a note is hardly known better.
const SPEED_HALF_US: i64 = 30_000_000;
/// A measured temperature or depth stands for this time around it, s.
const STANDS_FOR_S: f64 = 30.0;

/// A place on the track.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Place {
    pub at: LatLon,
    /// Along the track, m.
    pub distance_m: f64,
    /// Nearest row in time.
    pub row: usize,
}

/// The place at a time: between the good positions around it, or at the first or last for a time beyond.
pub(crate) fn place_at(track: &Track, time_us: i64) -> Option<Place> {
    let good = |row: &usize| track.position_qc[*row].is_usable();
    let split = track.time_us.partition_point(|&t| t <= time_us);
    let before = (0..split).rev().find(good);
    let after = (split..track.len()).find(good);
    let on = |row: usize| Place { at: track.at(row), distance_m: track.distance_m[row], row };
    let (a, b) = match (before, after) {
        (Some(a), Some(b)) => (a, b),
        (Some(row), None) | (None, Some(row)) => {
            return ((track.time_us[row] - time_us).abs() <= GAP_US_MAX).then(|| on(row));
        }
        (None, None) => return None,
    };
    let (gap_us, past_us) = (track.time_us[b] - track.time_us[a], time_us - track.time_us[a]);
    if past_us == 0 {
        return Some(on(a));
    }
    if gap_us > GAP_US_MAX {
        return None;
    }
    let part = past_us as f64 / gap_us as f64;
    let between = |from: f64, to: f64| from + part * (to - from);
    let (from, to) = (track.at(a), track.at(b));
    let east_deg = part * turn_deg(from.lon_deg, to.lon_deg);
    let at = LatLon {
        lat_deg: between(from.lat_deg, to.lat_deg),
        lon_deg: turn_deg(0.0, from.lon_deg + east_deg),
    };
    let row = if part < 0.5 { a } else { b };
    Some(Place { at, distance_m: between(track.distance_m[a], track.distance_m[b]), row })
}

/// The row nearest in time, good or not; `None` for an empty track.
pub(crate) fn row_at(track: &Track, time_us: i64) -> Option<Place> {
    let row = track.nearest_row(time_us)?;
    Some(Place { at: track.at(row), distance_m: track.distance_m[row], row })
}

/// Mean of a column over the minute around a time.
pub(crate) fn minute_mean(track: &Track, column: &[Option<f64>], time_us: i64) -> Option<f64> {
    let from = track.time_us.partition_point(|&t| t < time_us - SPEED_HALF_US);
    let to = track.time_us.partition_point(|&t| t <= time_us + SPEED_HALF_US);
    let (mut sum, mut n) = (0.0, 0.0);
    for value in column[from..to].iter().flatten() {
        sum += value;
        n += 1.0;
    }
    (n > 0.0).then(|| sum / n)
}

/// The usable value of a column nearest in time, not further than half a minute.
pub(crate) fn usable_near(track: &Track, column: &[Option<f64>], qc: &[Flag], time_us: i64) -> Option<f64> {
    // most rows are good: look at the nearest before walking
    let nearest = track.nearest_row(time_us)?;
    let reach_us = (STANDS_FOR_S * 1e6) as i64;
    let near = |row: &usize| (track.time_us[*row] - time_us).abs() <= reach_us;
    let usable = |row: &usize| column[*row].is_some() && qc[*row].is_usable();
    let later = (nearest..track.len()).take_while(near).find(usable);
    let earlier = (0..=nearest).rev().take_while(near).find(usable);
    let row = earlier.into_iter().chain(later).min_by_key(|&row| (track.time_us[row] - time_us).abs())?;
    column[row]
}

/// Stretches of time (start and end, µs) in which the activity is one of those wanted.
///
/// Between two rows the activity of each goes to the middle; over a gap of more than a quarter of an hour
/// it is not known. Stretches that touch are one.
pub fn stretches(track: &Track, wanted: impl Fn(Activity) -> bool) -> Vec<(i64, i64)> {
    let mut found: Vec<(i64, i64)> = Vec::new();
    let mut add = |start: i64, end: i64, activity: Activity| {
        if start >= end || !wanted(activity) {
            return;
        }
        match found.last_mut() {
            Some(last) if last.1 == start => last.1 = end,
            _ => found.push((start, end)),
        }
    };
    for (pair, activity) in track.time_us.windows(2).zip(track.activity.windows(2)) {
        let (start, end) = (pair[0], pair[1]);
        if end - start <= GAP_US_MAX {
            let middle = start + (end - start) / 2;
            add(start, middle, activity[0]);
            add(middle, end, activity[1]);
        }
    }
    found
}
