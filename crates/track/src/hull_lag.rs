//! How far does the sensor in the hull lag, as changes of speed show it away from breaks?
//!
//! A sensor that follows the water with a lag τ shows the water of a time τ ago, which at a run lies far behind the boat
//! and at trolling speed close by. Where the boat slows down, the reading still closes in on the water for a while in
//! which the boat hardly moves; where she speeds up, it falls behind:
//!
//! ```text
//!  water   ────────╲___                shown   ────────────╲_
//!               run │ troll                          run │  ╲____ troll
//! ```
//!
//! Water too is uneven, and a slope that ends is no lag. The two are told apart by what water can do within so many
//! metres: it has no memory of how fast the boat went.

use std::ops::Range;

use waterseam_units::LocalFrame;
use waterseam_units::time::{US_PER_S, seconds_between};

use crate::track::{Activity, Track};

/// Time of a run beside a change of speed that is looked at, s: long enough to see how steeply the water changes, and no
/// longer, for at a run a lag and water that is smooth look alike.
const AT_RUN_S: i64 = 30;
/// … and of trolling: sensors with a lag of a minute have come to rest.
const AT_TROLL_S: i64 = 180;
/// Least of both that must be free of breaks, s.
const LEAST_S: f64 = 25.0;
/// Fewest readings before and behind a change of speed.
const LEAST_READINGS: usize = 8;
/// Fewest changes of speed: one to give the lag, one to bear it out.
const LEAST_CHANGES: usize = 2;
/// An estimate with a greater standard error says nothing, s: a lag that could be anything up to the longest has 43.
const GREATEST_SE_S: f64 = 20.0;
/// A reading may be of the water of so long ago whatever its sensor does, s: instruments average and repeat (common
/// practice, no source). No number of changes takes it away.
const SINCE_READ_S: f64 = 1.5;

/// Lags that are tried, s. The longest is that of a sensor in a thick hull (common practice, no source).
const LAGS_S: [f64; 24] = [
    0.0, 2.0, 4.0, 6.0, 8.0, 10.0, 12.0, 15.0, 18.0, 21.0, 25.0, 30.0, 35.0, 40.0, 46.0, 53.0, 60.0, 70.0,
    80.0, 90.0, 100.0, 115.0, 130.0, 150.0,
];
/// Distances over which the slope of the surface temperature forgets itself, m: from water as rough as a random walk to
/// water that is smooth over the whole window.
const LENGTHS_M: [f64; 4] = [30.0, 100.0, 300.0, 1_000.0];
/// Standard deviations of that slope over that of a reading, 1/m: from 0.01 °C/km under a sensor with a noise of 0.03 °C
/// to 3 °C/km.
const SLOPES_PER_M: [f64; 6] = [3e-4, 1e-3, 3e-3, 1e-2, 3e-2, 1e-1];
/// Variance of a temperature that is not known, over that of a reading.
const UNKNOWN: f64 = 1e6;

/// What the changes of speed of a trip say about the lag of the sensor.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct HullLag {
    /// The lag, s.
    pub lag_s: f64,
    /// Its standard error, s.
    pub se_s: f64,
    /// Changes between run and troll that it rests on.
    pub changes: usize,
}

/// Estimates the lag from the changes between run and troll, but for those near `breaks` (stretches of time, µs).
///
/// `None` where there are fewer than two such changes, or they do not determine it.
///
/// # Method
/// The water's temperature is a random field whose slope forgets itself along the way of the boat (an integrated
/// Ornstein–Uhlenbeck process), the sensor a first-order lag on it, the readings have white noise; the likelihood of the
/// readings follows with a Kalman filter (R. E. Kalman, Journal of Basic Engineering 82, 1960, 35–45; from memory). Mean
/// and standard deviation of the lag are those over all roughnesses of the water, each as likely beforehand, with
/// the noise integrated out.
pub fn hull_lag(track: &Track, breaks: &[Range<i64>]) -> Option<HullLag> {
    let windows: Vec<Vec<Step>> = windows(track, breaks).into_iter().map(|rows| steps(track, rows)).collect();
    if windows.len() < LEAST_CHANGES {
        return None;
    }
    let mut logs: Vec<Vec<f64>> = Vec::new();
    for length_m in LENGTHS_M {
        for slope_per_m in SLOPES_PER_M {
            let water = Water { length_m, slope_variance: slope_per_m * slope_per_m };
            logs.push(LAGS_S.iter().map(|&lag_s| log_likelihood(&windows, water, lag_s)).collect());
        }
    }
    let greatest = logs.iter().flatten().copied().fold(f64::NEG_INFINITY, f64::max);
    let density = |lag: usize| logs.iter().map(|of| (of[lag] - greatest).exp()).sum::<f64>();
    let densities: Vec<f64> = (0..LAGS_S.len()).map(density).collect();
    let (lag_s, se_s) = moments(&densities)?;
    let se_s = se_s.hypot(SINCE_READ_S);
    (se_s <= GREATEST_SE_S).then_some(HullLag { lag_s, se_s, changes: windows.len() })
}

/// Mean and standard deviation of a density that is given at [`LAGS_S`] and straight between them.
fn moments(densities: &[f64]) -> Option<(f64, f64)> {
    let (mut sum, mut first, mut second) = (0.0, 0.0, 0.0);
    for (lags, density) in LAGS_S.windows(2).zip(densities.windows(2)) {
        let width_s = lags[1] - lags[0];
        // Simpson's rule is exact for a straight density times a square
        let at = [
            (lags[0], density[0], 1.0),
            (f64::midpoint(lags[0], lags[1]), f64::midpoint(density[0], density[1]), 4.0),
            (lags[1], density[1], 1.0),
        ];
        for (lag_s, density, weight) in at {
            let mass = weight * width_s * density / 6.0;
            sum += mass;
            first += mass * lag_s;
            second += mass * lag_s * lag_s;
        }
    }
    let mean_s = first / sum;
    let sd_s = (second / sum - mean_s * mean_s).max(0.0).sqrt();
    (mean_s.is_finite() && sd_s > 0.0).then_some((mean_s, sd_s))
}

/// Rows about the changes of speed that are far enough from breaks, each row once.
fn windows(track: &Track, breaks: &[Range<i64>]) -> Vec<Range<usize>> {
    let is_change = |&row: &usize| {
        matches!(
            (track.activity[row - 1], track.activity[row]),
            (Activity::Run, Activity::Troll) | (Activity::Troll, Activity::Run)
        )
    };
    let mut found: Vec<Range<usize>> = Vec::new();
    for row in (1..track.activity.len()).filter(is_change) {
        let time_us = track.time_us[row];
        let slows = track.activity[row] == Activity::Troll;
        let (before_s, behind_s) = if slows { (AT_RUN_S, AT_TROLL_S) } else { (AT_TROLL_S, AT_RUN_S) };
        let (mut from_us, mut to_us) = (time_us - before_s * US_PER_S, time_us + behind_s * US_PER_S);
        for near in breaks {
            if near.start > time_us {
                to_us = to_us.min(near.start);
            } else {
                from_us = from_us.max(near.end);
            }
        }
        let start = track.time_us.partition_point(|&t| t < from_us);
        let start = start.max(found.last().map_or(0, |before| before.end));
        let end = track.time_us.partition_point(|&t| t < to_us);
        let is_seen = |rows: Range<usize>| {
            let long = rows.len() > 1
                && seconds_between(track.time_us[rows.start], track.time_us[rows.end - 1]) >= LEAST_S;
            long && rows.filter(|&row| reading(track, row).is_some()).count() >= LEAST_READINGS
        };
        if start < row && row < end && is_seen(start..row) && is_seen(row..end) {
            found.push(start..end);
        }
    }
    found
}

fn reading(track: &Track, row: usize) -> Option<f64> {
    track.surface_temp_raw_c[row].filter(|_| track.surface_temp_qc[row].is_usable())
}

/// From one row to the next.
struct Step {
    seconds: f64,
    metres: f64,
    /// Direction of the way, a unit vector toward east and north.
    toward: (f64, f64),
    /// Reading at its end, °C.
    temp_c: Option<f64>,
}

fn steps(track: &Track, rows: Range<usize>) -> Vec<Step> {
    let mut before = rows.start;
    let mut toward = (0.0, 1.0);
    let step = |row: usize| {
        let (east_m, north_m) = LocalFrame::new(track.at(before)).to_local(track.at(row));
        let metres = east_m.hypot(north_m);
        if metres > 0.0 {
            toward = (east_m / metres, north_m / metres);
        }
        let seconds = seconds_between(track.time_us[before], track.time_us[row]);
        before = row;
        Step { seconds, metres, toward, temp_c: reading(track, row) }
    };
    rows.map(step).collect()
}

/// What water does along the way.
#[derive(Clone, Copy)]
struct Water {
    /// Distance over which its slope forgets itself, m.
    length_m: f64,
    /// Variance of its slope toward east, and toward north, over that of a reading, 1/m².
    slope_variance: f64,
}

/// Water, its slope toward east and north, and the sensor.
const STATES: usize = 4;
type Matrix = [[f64; STATES]; STATES];

/// Logarithm of the likelihood of the readings, up to a constant, with the variance of a reading integrated out.
fn log_likelihood(windows: &[Vec<Step>], water: Water, lag_s: f64) -> f64 {
    let (mut logs, mut squares, mut readings) = (0.0, 0.0, 0.0);
    for steps in windows {
        let mut sensor = Filter::new(steps, water, lag_s);
        for step in steps {
            sensor.go(step, water, lag_s);
            if let Some((surprise, variance)) = step.temp_c.map(|temp_c| sensor.see(temp_c)) {
                logs += variance.ln();
                squares += surprise * surprise / variance;
                readings += 1.0;
            }
        }
        // the first reading of a window only says where the temperature is
        readings -= 1.0;
    }
    -0.5 * (logs + readings * squares.ln())
}

struct Filter {
    mean: [f64; STATES],
    covariance: Matrix,
}

impl Filter {
    /// A sensor that has followed steady water at the speed of the first step.
    fn new(steps: &[Step], water: Water, lag_s: f64) -> Self {
        let first_c = steps.iter().find_map(|step| step.temp_c).unwrap_or_default();
        let moving = steps.iter().find(|step| step.seconds > 0.0);
        let behind = |share: fn(&Step) -> f64| {
            moving.map_or(0.0, |step| lag_s * share(step) * step.metres / step.seconds)
        };
        let (east_m, north_m) = (behind(|step| step.toward.0), behind(|step| step.toward.1));
        let variance = water.slope_variance;
        let (east, north) = (-east_m * variance, -north_m * variance);
        let sensor = UNKNOWN + variance * (east_m * east_m + north_m * north_m);
        Self {
            mean: [first_c, 0.0, 0.0, first_c],
            covariance: [
                [UNKNOWN, 0.0, 0.0, UNKNOWN],
                [0.0, variance, 0.0, east],
                [0.0, 0.0, variance, north],
                [UNKNOWN, east, north, sensor],
            ],
        }
    }

    /// Goes on to the end of a step.
    fn go(&mut self, step: &Step, water: Water, lag_s: f64) {
        if step.seconds <= 0.0 {
            return;
        }
        let Water { length_m, slope_variance } = water;
        let part = step.metres / length_m;
        let (kept, kept_twice) = ((-part).exp(), (-2.0 * part).exp());
        let reach_m = length_m * (1.0 - kept);
        let (east, north) = step.toward;
        // of water whose temperature changes evenly over the step, the sensor shows exactly this
        let old = if lag_s > 0.0 { (-step.seconds / lag_s).exp() } else { 0.0 };
        let behind = lag_s / step.seconds * (1.0 - old);
        let (from, to) = (behind - old, 1.0 - behind);
        let forward: Matrix = [
            [1.0, reach_m * east, reach_m * north, 0.0],
            [0.0, kept, 0.0, 0.0],
            [0.0, 0.0, kept, 0.0],
            [from + to, to * reach_m * east, to * reach_m * north, old],
        ];
        let slope = slope_variance * (1.0 - kept_twice);
        let both = slope_variance * length_m * (1.0 - kept).powi(2);
        let temp =
            2.0 * slope_variance * length_m.powi(2) * (part - 2.0 * (1.0 - kept) + 0.5 * (1.0 - kept_twice));
        let noise: Matrix = [
            [temp, both * east, both * north, to * temp],
            [both * east, slope, 0.0, to * both * east],
            [both * north, 0.0, slope, to * both * north],
            [to * temp, to * both * east, to * both * north, to * to * temp],
        ];
        self.mean = forward.map(|row| dot(&row, &self.mean));
        let half: Matrix = forward
            .map(|row| std::array::from_fn(|k| (0..STATES).map(|j| row[j] * self.covariance[j][k]).sum()));
        self.covariance =
            std::array::from_fn(|i| std::array::from_fn(|k| dot(&half[i], &forward[k]) + noise[i][k]));
    }

    /// Takes a reading in; gives its distance from what was expected, and the variance of that.
    fn see(&mut self, temp_c: f64) -> (f64, f64) {
        const SENSOR: usize = STATES - 1;
        let surprise = temp_c - self.mean[SENSOR];
        let column: [f64; STATES] = std::array::from_fn(|i| self.covariance[i][SENSOR]);
        let variance = column[SENSOR] + 1.0;
        for i in 0..STATES {
            self.mean[i] += column[i] * surprise / variance;
            for k in 0..STATES {
                self.covariance[i][k] -= column[i] * column[k] / variance;
            }
        }
        (surprise, variance)
    }
}

fn dot(a: &[f64; STATES], b: &[f64; STATES]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

#[cfg(test)]
#[path = "hull_lag_tests.rs"]
mod tests;
