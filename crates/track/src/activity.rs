//! What is the boat doing?
//!
//! Common practice, no source: a boat that pulls lines goes at 1 to 5 mph, faster she runs. Slower she lies still or
//! goes with the water, and only the way made good over ten minutes tells these two apart.

use waterseam_units::time::{US_PER_S, seconds_between};
use waterseam_units::{Flag, LatLon};

use crate::distance::is_within;
use crate::rows::Row;
use crate::settings::Settings;
use crate::track::Activity;

/// Speeds are averaged over this time to either side before they are judged, s: longer than a wave or a surge.
const SMOOTH_S: f64 = 15.0;
/// A boat that does one thing must pass a limit of speed by this share before she does another.
const HYSTERESIS: f64 = 0.1;
/// The way made good of a slow boat is taken over this time to either side, s.
const DRIFT_S: f64 = 300.0;
/// Part of that way which the noise of two positions explains, m.
const NOISE_M: f64 = 10.0;

/// The activity of each row.
pub(crate) fn activities(rows: &[Row], sog_mps: &[Option<f64>], settings: &Settings) -> Vec<Activity> {
    let speeds = smoothed(rows, sog_mps);
    let mut activities = by_speed(&speeds, settings);
    lasting(rows, &mut activities, settings.activity_min_s);
    // a slow stretch is first called a drift; what lies still in it is stopped
    let mut start = 0;
    for stretch in activities.clone().chunk_by(|a, b| a == b) {
        let end = start + stretch.len();
        if stretch[0] == Activity::Drift {
            mark_stopped(&rows[start..end], &mut activities[start..end], settings);
        }
        start = end;
    }
    lasting(rows, &mut activities, settings.activity_min_s);
    activities
}

/// Mean speed within [`SMOOTH_S`]; where nobody knows one, that of the row before.
fn smoothed(rows: &[Row], sog_mps: &[Option<f64>]) -> Vec<f64> {
    let reach_us = (SMOOTH_S * US_PER_S as f64) as i64;
    // sum and number of the known speeds before each row
    let mut before: Vec<(f64, usize)> = Vec::with_capacity(sog_mps.len() + 1);
    let (mut sum, mut n) = (0.0, 0);
    before.push((sum, n));
    before.extend(sog_mps.iter().map(|speed| {
        sum += speed.unwrap_or_default();
        n += usize::from(speed.is_some());
        (sum, n)
    }));
    let (mut start, mut end) = (0, 0);
    let mut last = None;
    let mut speeds: Vec<Option<f64>> = Vec::with_capacity(rows.len());
    for row in rows {
        while rows[start].time_us < row.time_us - reach_us {
            start += 1;
        }
        while rows.get(end).is_some_and(|other| other.time_us <= row.time_us + reach_us) {
            end += 1;
        }
        let ((sum_end, n_end), (sum_start, n_start)) = (before[end], before[start]);
        let known = n_end - n_start;
        last = if known > 0 { Some((sum_end - sum_start) / known as f64) } else { last };
        speeds.push(last);
    }
    let first = speeds.iter().copied().flatten().next().unwrap_or_default();
    speeds.into_iter().map(|speed| speed.unwrap_or(first)).collect()
}

fn by_speed(speeds: &[f64], settings: &Settings) -> Vec<Activity> {
    let (slowest, fastest) = (*settings.trolling_speed_mps.start(), *settings.trolling_speed_mps.end());
    let class = |speed: f64, slowest: f64, fastest: f64| match () {
        () if speed > fastest => Activity::Run,
        () if speed >= slowest => Activity::Troll,
        () => Activity::Drift,
    };
    let (less, more) = (1.0 - HYSTERESIS, 1.0 + HYSTERESIS);
    let mut now = speeds.first().map(|&speed| class(speed, slowest, fastest));
    let mut activities = Vec::with_capacity(speeds.len());
    for &speed in speeds {
        let next = match now {
            Some(Activity::Run) => class(speed, slowest * less, fastest * less),
            Some(Activity::Troll) => class(speed, slowest * less, fastest * more),
            _ => class(speed, slowest * more, fastest * more),
        };
        now = Some(next);
        activities.push(next);
    }
    activities
}

/// A stretch shorter than `shortest_s` becomes part of the one before it, or at the start of the one after it.
fn lasting(rows: &[Row], activities: &mut [Activity], shortest_s: f64) {
    let Some(last) = rows.last() else { return };
    let mut stretches: Vec<(usize, Activity)> = Vec::new();
    let mut start = 0;
    for stretch in activities.chunk_by(|a, b| a == b) {
        let end = start + stretch.len();
        let end_us = rows.get(end).unwrap_or(last).time_us;
        if seconds_between(rows[start].time_us, end_us) >= shortest_s {
            stretches.push((start, stretch[0]));
        }
        start = end;
    }
    if let Some(first) = stretches.first_mut() {
        first.0 = 0;
    }
    for (i, &(start, activity)) in stretches.iter().enumerate() {
        let end = stretches.get(i + 1).map_or(activities.len(), |&(end, _)| end);
        activities[start..end].fill(activity);
    }
}

/// Marks the rows of one slow stretch at which the boat lies still.
fn mark_stopped(rows: &[Row], activities: &mut [Activity], settings: &Settings) {
    let usable: Vec<&Row> = rows.iter().filter(|row| row.flag.is_usable()).collect();
    let reach_us = (DRIFT_S * US_PER_S as f64) as i64;
    let in_port =
        |at: LatLon| settings.home_port.is_some_and(|port| is_within(port, at, settings.home_port_radius_m));
    let (mut start, mut end) = (0, 0);
    for (row, activity) in rows.iter().zip(activities) {
        while usable.get(start).is_some_and(|other| other.time_us < row.time_us - reach_us) {
            start += 1;
        }
        while usable.get(end).is_some_and(|other| other.time_us <= row.time_us + reach_us) {
            end += 1;
        }
        let [first, .., last] = usable[start..end] else {
            *activity = Activity::Stopped;
            continue;
        };
        let share = seconds_between(first.time_us, last.time_us) / (2.0 * DRIFT_S);
        let still_m = NOISE_M + (settings.drift_m - NOISE_M).max(0.0) * share;
        let is_at_port = row.flag != Flag::Fail && in_port(row.at);
        if is_at_port || is_within(first.at, last.at, still_m) {
            *activity = Activity::Stopped;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use waterseam_units::geodesy::direct;

    const ORIGIN: LatLon = LatLon { lat_deg: 46.2, lon_deg: -29.4 };

    /// A boat that goes east at the speed of each second.
    fn boat(speeds: &[f64]) -> (Vec<Row>, Vec<Option<f64>>) {
        let mut gone_m = 0.0;
        let row = |(second, &speed): (usize, &f64)| {
            gone_m += speed;
            let at = direct(ORIGIN, 90.0, gone_m);
            Row { time_us: second as i64 * US_PER_S, at, flag: Flag::Pass }
        };
        (speeds.iter().enumerate().map(row).collect(), speeds.iter().copied().map(Some).collect())
    }

    fn of(speeds: &[f64], settings: &Settings) -> Vec<Activity> {
        let (rows, sog_mps) = boat(speeds);
        activities(&rows, &sog_mps, settings)
    }

    fn stretches(parts: &[(usize, f64)]) -> Vec<f64> {
        parts.iter().flat_map(|&(n, speed)| std::iter::repeat_n(speed, n)).collect()
    }

    #[test]
    fn a_day_out_is_divided_where_the_speed_changes() {
        let speeds = stretches(&[(1200, 0.0), (900, 9.0), (3600, 1.2), (1200, 0.2), (900, 9.0)]);
        let got = of(&speeds, &Settings::default());
        let change = |from: usize| (from..got.len()).find(|&row| got[row] != got[from]).unwrap();
        assert_eq!(got[0], Activity::Stopped);
        for (row, after, want) in [
            (1200, 0, Activity::Run),
            (2100, 1300, Activity::Troll),
            (5700, 2300, Activity::Drift),
            (6900, 6000, Activity::Run),
        ] {
            let at = change(after);
            assert!(at.abs_diff(row) <= 16, "{want:?} at {at} instead of {row}");
            assert_eq!(got[at], want);
        }
    }

    #[test]
    fn a_turn_or_a_wave_does_not_change_the_activity() {
        let mut speeds = stretches(&[(600, 2.1), (30, 0.3), (600, 2.1)]);
        for (second, speed) in speeds.iter_mut().enumerate() {
            *speed += 0.6 * (second as f64).sin();
        }
        assert!(of(&speeds, &Settings::default()).iter().all(|&activity| activity == Activity::Troll));
    }

    #[test]
    fn a_slow_boat_in_port_is_stopped() {
        let settings = Settings { home_port: Some(ORIGIN), ..Settings::default() };
        let speeds = stretches(&[(1500, 0.2)]);
        assert!(of(&speeds, &settings).iter().all(|&activity| activity == Activity::Stopped));
        assert!(of(&speeds, &Settings::default()).iter().all(|&activity| activity == Activity::Drift));
    }

    #[test]
    fn no_rows_and_unknown_speeds() {
        assert!(activities(&[], &[], &Settings::default()).is_empty());
        let (rows, _) = boat(&[0.0; 100]);
        assert_eq!(activities(&rows, &[None; 100], &Settings::default()), [Activity::Stopped; 100]);
    }
}
