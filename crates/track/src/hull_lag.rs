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
    let sensors: Vec<Vec<Vec<Followed>>> =
        LAGS_S.map(|lag_s| of_steps(&windows, |step| step.followed(lag_s))).into();
    let mut logs: Vec<Vec<f64>> = Vec::new();
    for length_m in LENGTHS_M {
        let crossed = of_steps(&windows, |step| step.crossed(length_m));
        for slope_per_m in SLOPES_PER_M {
            let log = |(lag_s, followed): (f64, &Vec<Vec<Followed>>)| {
                log_likelihood(&windows, &crossed, slope_per_m * slope_per_m, followed, lag_s)
            };
            logs.push(LAGS_S.into_iter().zip(&sensors).map(log).collect());
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

/// Something of each step of each window.
fn of_steps<T>(windows: &[Vec<Step>], of: impl Fn(&Step) -> T) -> Vec<Vec<T>> {
    windows.iter().map(|steps| steps.iter().map(&of).collect()).collect()
}

/// What the water's slope does over a step, with a variance of the slope of one: it is asked for with every lag.
struct Crossed {
    /// Part of the slope that is left.
    kept: f64,
    /// What a slope toward east, and toward north, adds to the temperature, m.
    reach_m: (f64, f64),
    /// Variances that are new: of the temperature (m²), of it with the slopes toward east and north (m), of each slope.
    temp: f64,
    both: (f64, f64),
    slope: f64,
}

/// What the sensor shows after a step, of what it showed and of the water before and behind it.
struct Followed {
    old: f64,
    from: f64,
    to: f64,
}

impl Step {
    fn crossed(&self, length_m: f64) -> Crossed {
        if self.seconds <= 0.0 {
            return Crossed { kept: 1.0, reach_m: (0.0, 0.0), temp: 0.0, both: (0.0, 0.0), slope: 0.0 };
        }
        let part = self.metres / length_m;
        let (kept, kept_twice) = ((-part).exp(), (-2.0 * part).exp());
        let reach_m = length_m * (1.0 - kept);
        let both = length_m * (1.0 - kept).powi(2);
        let (east, north) = self.toward;
        Crossed {
            kept,
            reach_m: (reach_m * east, reach_m * north),
            temp: 2.0 * length_m.powi(2) * (part - 2.0 * (1.0 - kept) + 0.5 * (1.0 - kept_twice)),
            both: (both * east, both * north),
            slope: 1.0 - kept_twice,
        }
    }

    /// Of water whose temperature changes evenly over the step, the sensor shows exactly this.
    fn followed(&self, lag_s: f64) -> Followed {
        if self.seconds <= 0.0 {
            return Followed { old: 1.0, from: 0.0, to: 0.0 };
        }
        let old = if lag_s > 0.0 { (-self.seconds / lag_s).exp() } else { 0.0 };
        let behind = lag_s / self.seconds * (1.0 - old);
        Followed { old, from: behind - old, to: 1.0 - behind }
    }
}

/// Logarithm of the likelihood of the readings, up to a constant, with the variance of a reading integrated out.
/// `slope_variance` is that of the water's slope toward east, and toward north, over that of a reading, 1/m².
fn log_likelihood(
    windows: &[Vec<Step>],
    crossed: &[Vec<Crossed>],
    slope_variance: f64,
    followed: &[Vec<Followed>],
    lag_s: f64,
) -> f64 {
    let (mut logs, mut squares, mut readings) = (0.0, 0.0, 0.0);
    for ((steps, crossed), followed) in windows.iter().zip(crossed).zip(followed) {
        let mut sensor = Filter::new(steps, slope_variance, lag_s);
        // of many variances one logarithm; none is below one
        let mut variances = 1.0;
        for ((step, crossed), followed) in steps.iter().zip(crossed).zip(followed) {
            sensor.go(crossed, slope_variance, followed);
            if let Some((surprise, variance)) = step.temp_c.map(|temp_c| sensor.see(temp_c)) {
                variances *= variance;
                if variances > MANY {
                    logs += f64::ln(variances);
                    variances = 1.0;
                }
                squares += surprise * surprise / variance;
                readings += 1.0;
            }
        }
        logs += variances.ln();
        // the first reading of a window only says where the temperature is
        readings -= 1.0;
    }
    -0.5 * (logs + readings * f64::ln(squares))
}

/// A product of variances is no larger before the next one comes, which is far from what a number can hold.
const MANY: f64 = 1e100;

/// The water's temperature, its slope toward east and toward north, and the sensor: what is expected, and the covariances.
struct Filter {
    mean: [f64; 4],
    /// Of the water with all four.
    water: [f64; 4],
    /// Of the slope toward east with itself and those behind it.
    east: [f64; 3],
    north: [f64; 2],
    sensor: f64,
}

impl Filter {
    /// A sensor that has followed steady water at the speed of the first step.
    fn new(steps: &[Step], slope_variance: f64, lag_s: f64) -> Self {
        let first_c = steps.iter().find_map(|step| step.temp_c).unwrap_or_default();
        let moving = steps.iter().find(|step| step.seconds > 0.0);
        let behind = |share: fn(&Step) -> f64| {
            moving.map_or(0.0, |step| lag_s * share(step) * step.metres / step.seconds)
        };
        let (east_m, north_m) = (behind(|step| step.toward.0), behind(|step| step.toward.1));
        let (east, north) = (-east_m * slope_variance, -north_m * slope_variance);
        Self {
            mean: [first_c, 0.0, 0.0, first_c],
            water: [UNKNOWN, 0.0, 0.0, UNKNOWN],
            east: [slope_variance, 0.0, east],
            north: [slope_variance, north],
            sensor: UNKNOWN + slope_variance * (east_m * east_m + north_m * north_m),
        }
    }

    /// Goes on to the end of a step: `F P Fᵀ + Q`, written out, for most of `F` is nothing.
    fn go(&mut self, crossed: &Crossed, slope_variance: f64, followed: &Followed) {
        let Crossed { kept, reach_m: (to_east, to_north), temp, both, slope } = *crossed;
        let Followed { old, from, to } = *followed;
        // the slopes' share of a row, and the sensor's new value of one
        let slopes = |row: [f64; 4]| to_east * row[1] + to_north * row[2];
        let shown = |row: [f64; 4]| (from + to) * row[0] + to * slopes(row) + old * row[3];
        let [w, e, n, s] = [
            self.water,
            [self.water[1], self.east[0], self.east[1], self.east[2]],
            [self.water[2], self.east[1], self.north[0], self.north[1]],
            [self.water[3], self.east[2], self.north[1], self.sensor],
        ];
        let across: [f64; 4] = std::array::from_fn(|k| to_east * e[k] + to_north * n[k]);
        let water: [f64; 4] = std::array::from_fn(|k| w[k] + across[k]);
        let sensor: [f64; 4] = std::array::from_fn(|k| (from + to) * w[k] + to * across[k] + old * s[k]);
        let (temp, slope) = (slope_variance * temp, slope_variance * slope);
        let both = (slope_variance * both.0, slope_variance * both.1);
        self.mean =
            [self.mean[0] + slopes(self.mean), kept * self.mean[1], kept * self.mean[2], shown(self.mean)];
        self.water = [
            water[0] + slopes(water) + temp,
            kept * water[1] + both.0,
            kept * water[2] + both.1,
            shown(water) + to * temp,
        ];
        self.east = [kept * kept * e[1] + slope, kept * kept * e[2], kept * shown(e) + to * both.0];
        self.north = [kept * kept * n[2] + slope, kept * shown(n) + to * both.1];
        self.sensor = shown(sensor) + to * to * temp;
    }

    /// Takes a reading in; gives its distance from what was expected, and the variance of that.
    fn see(&mut self, temp_c: f64) -> (f64, f64) {
        let surprise = temp_c - self.mean[3];
        let with = [self.water[3], self.east[2], self.north[1], self.sensor];
        let variance = self.sensor + 1.0;
        let gain = with.map(|with| with / variance);
        for k in 0..4 {
            self.mean[k] += gain[k] * surprise;
            self.water[k] -= gain[0] * with[k];
        }
        for k in 0..3 {
            self.east[k] -= gain[1] * with[k + 1];
        }
        for k in 0..2 {
            self.north[k] -= gain[2] * with[k + 2];
        }
        self.sensor -= gain[3] * with[3];
        (surprise, variance)
    }
}

#[cfg(test)]
#[path = "hull_lag_tests.rs"]
mod tests;
