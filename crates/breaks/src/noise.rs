//! How much do these values wander on this day without any break?
//!
//! Three parts, estimated from the trip itself with one structure function (mean squared difference against lag):
//!
//! ```text
//! D(lag) = 2 white² + 2 drift² (1 - exp(-Δt / τ)) + background · Δx
//! ```
//!
//! - white: the sensor's scatter from sample to sample, rounding of its display included;
//! - drift: a correlated error in time, AR(1) (Ornstein–Uhlenbeck) with time constant τ;
//! - background: the water's own unevenness, a random walk in distance, so that a broad change is less surprising
//!   than a narrow one.
//!
//! To these comes the warming of the day, which is not estimated but allowed for: it makes a change between two
//! samples less surprising the more time lies between them.

use nalgebra::{Matrix3, Vector3};

use crate::stretches::{Cell, Track, median};
use crate::wanted::{Ordinary, Wanted};

/// Noise of values along a track, in their unit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Noise {
    /// Standard deviation of a sample, uncorrelated.
    pub white: f64,
    /// Standard deviation of the correlated error.
    pub drift: f64,
    /// Time constant of the correlated error, s.
    pub drift_s: f64,
    /// Growth of the variance of the water with distance, a metre.
    pub background_per_m: f64,
    /// Standard deviation of the slope of the water over the window of a fit, a metre.
    pub slope_per_m: f64,
    /// Standard deviation of the change of the water in place, a second.
    pub in_place_per_s: f64,
    /// Step between readings of the sensor; 0 where none can be seen.
    pub quantum: f64,
}

impl Noise {
    /// Uncorrelated noise alone.
    pub fn white(white: f64) -> Self {
        Self {
            white,
            drift: 0.0,
            drift_s: 1.0,
            background_per_m: 0.0,
            slope_per_m: 0.0,
            in_place_per_s: 0.0,
            quantum: 0.0,
        }
    }

    /// Variance of the uncorrelated part of a mean of samples.
    ///
    /// Rounding errors average out only as far as the scatter dithers them: the part that stays is
    /// quantum²/12 · exp(-4π² white²/quantum²) (Widrow's statistical theory of quantisation, from memory).
    pub(crate) fn mean_variance(&self, samples: f64) -> f64 {
        self.of_means().variance(samples)
    }

    /// What [`Self::mean_variance`] is made of, for many means.
    pub(crate) fn of_means(&self) -> OfMeans {
        let stays = if self.quantum > 0.0 {
            let ratio = std::f64::consts::TAU * self.white / self.quantum;
            self.quantum.powi(2) / 12.0 * (-ratio * ratio).exp()
        } else {
            0.0
        };
        OfMeans { white: self.white.powi(2), stays }
    }

    /// Variance of the difference between the means of two neighbouring lengths of track.
    pub(crate) fn contrast_variance(&self, length_m: f64, span_s: f64, samples: f64) -> f64 {
        let correlated_samples = (span_s / (2.0 * self.drift_s)).max(1.0);
        2.0 * self.mean_variance(samples)
            + 2.0 * self.drift.powi(2) / correlated_samples
            // two neighbouring means of a random walk over a length L each: variance 2/3 L
            + 2.0 / 3.0 * self.background_per_m * length_m
    }

    /// The noise of a track, from differences at many lags.
    ///
    /// Differences across breaks and spikes are kept out by trimming, so that breaks may fill nearly half of
    /// the track before they pass for background.
    ///
    /// `quantum` is the rounding step of the sensor, which [`quantum_of`] sees in the readings as they came.
    pub(crate) fn estimate(track: &Track, quantum: f64, wanted: &Wanted) -> Self {
        let ordinary = wanted.ordinary;
        let mut lags: Vec<Lag> =
            SAMPLE_LAGS.iter().filter_map(|&lag| sample_lag(track, lag, quantum)).collect();
        let distances = DISTANCE_LAGS_M.iter().filter(|&&lag_m| lag_m > 2.0 * track.spacing_m);
        lags.extend(distances.filter_map(|&lag_m| distance_lag(track, lag_m)));
        let floor = (quantum.powi(2) / 12.0).max(ordinary.least_white.powi(2));
        let [white, drift, background, drift_s] = best_parts(&lags, ordinary);
        let noise = Self {
            white: white.max(floor).sqrt(),
            drift: drift.sqrt(),
            drift_s,
            background_per_m: background.max(ordinary.least_background_per_m),
            slope_per_m: ordinary.greatest_slope_per_m,
            in_place_per_s: wanted.in_place_per_s,
            quantum,
        };
        Self { slope_per_m: noise.slope(track, ordinary), ..noise }
    }

    /// The slope of the water: what differs over some hundred metres of track beyond the noise of the sensor.
    fn slope(&self, track: &Track, ordinary: &Ordinary) -> f64 {
        let slope = |lag: Lag| {
            let of_sensor = 2.0 * self.mean_variance(lag.samples) + 2.0 * self.drift.powi(2);
            (lag.mean_square - of_sensor).max(0.0).sqrt() / lag.distance_m
        };
        let slopes = SLOPE_LAGS_M.iter().filter_map(|&lag_m| distance_lag(track, lag_m)).map(slope);
        let steepest = slopes.reduce(f64::max).unwrap_or(ordinary.greatest_slope_per_m);
        steepest.clamp(ordinary.least_slope_per_m, ordinary.greatest_slope_per_m)
    }
}

/// Variances of the uncorrelated part of means of samples.
#[derive(Clone, Copy)]
pub(crate) struct OfMeans {
    /// Of one sample, but for what stays.
    white: f64,
    /// What no number of samples takes away.
    stays: f64,
}

impl OfMeans {
    /// Of a mean of so many samples.
    pub(crate) fn variance(self, samples: f64) -> f64 {
        self.white / samples.max(1.0) + self.stays
    }
}

/// Lags over which slopes are told, m: the usual windows of a fit.
const SLOPE_LAGS_M: [f64; 3] = [250.0, 500.0, 1_000.0];
/// Lags in samples: from sample to sample up to a few minutes.
const SAMPLE_LAGS: [usize; 8] = [1, 2, 4, 8, 16, 32, 64, 128];
/// Lags in metres: up to the scale at which breaks are sought.
const DISTANCE_LAGS_M: [f64; 4] = [50.0, 100.0, 200.0, 400.0];
/// Part of the differences that is kept, the smallest ones: a zigzag over one break touches a third of them.
const KEPT: f64 = 0.5;
/// Mean square of a normal value over its mean square within the central half,
/// 1 / (1 - 2 z φ(z) / 0.5) with z the upper quartile.
const TRIMMED_FACTOR: f64 = 7.0107;
/// Pairs looked at for one lag: enough for a variance within 3 %.
const GREATEST_PAIRS: usize = 4_000;
/// Fewest pairs that say anything.
const LEAST_PAIRS: usize = 20;
/// A change that makes up this share of all changes shows a coarse sensor; noise spreads over many.
const COMMON_CHANGE: f64 = 0.3;
/// Share of the changes that are then multiples of it; the others come from averaged rows.
const CHANGES_ON_GRID: f64 = 0.6;

/// Structure function at one lag.
struct Lag {
    mean_square: f64,
    time_s: f64,
    distance_m: f64,
    /// Samples in each of the two values compared.
    samples: f64,
}

/// A pair of values: squared difference, lag in time, lag in distance, samples in each.
type Pair = [f64; 4];

fn sample_lag(track: &Track, lag: usize, quantum: f64) -> Option<Lag> {
    let total = track.stretches.iter().map(|s| s.samples.len().saturating_sub(lag)).sum::<usize>();
    let stride = total / GREATEST_PAIRS + 1;
    let mut pairs = Vec::with_capacity(total / stride + 1);
    // pairs to pass over in the next stretch
    let mut over = 0;
    for stretch in &track.stretches {
        let samples = &stretch.samples;
        let n = samples.len().saturating_sub(lag);
        for first in (over..n).step_by(stride) {
            let (a, b) = (&samples[first], &samples[first + lag]);
            // differences of rounded values are few numbers, whose trimmed mean means nothing: they are smeared over the
            // rounding step, and the variance that this adds (a sixth of its square) is taken off again
            let i = pairs.len();
            let smear = if quantum > 0.0 { quantum * (scattered(2 * i) - scattered(2 * i + 1)) } else { 0.0 };
            let mut pair = pair(a, b);
            pair[0] = (b.value - a.value + smear).powi(2);
            pairs.push(pair);
        }
        let seen = n.saturating_sub(over).div_ceil(stride);
        over = (over + seen * stride).saturating_sub(n);
    }
    let mut lag = summary(pairs)?;
    lag.mean_square = (lag.mean_square - quantum.powi(2) / 6.0).max(0.0);
    Some(lag)
}

/// A number from 0 to 1 that looks random and is the same each time (the finaliser of SplitMix64).
fn scattered(i: usize) -> f64 {
    let mut z = (i as u64).wrapping_add(1).wrapping_mul(0x9e37_79b9_7f4a_7c15);
    z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    ((z ^ (z >> 31)) >> 11) as f64 / (1_u64 << 53) as f64
}

fn distance_lag(track: &Track, lag_m: f64) -> Option<Lag> {
    let stride = track.stretches.iter().map(|s| s.cells.len()).sum::<usize>() / GREATEST_PAIRS + 1;
    let mut pairs = Vec::new();
    for stretch in &track.stretches {
        let cells = &stretch.cells;
        let mut end = 0;
        for cell in cells.iter().step_by(stride) {
            while end < cells.len() && cells[end].distance_m < cell.distance_m + lag_m {
                end += 1;
            }
            let Some(other) = cells.get(end) else { break };
            if other.distance_m < cell.distance_m + 1.25 * lag_m {
                pairs.push(pair(cell, other));
            }
        }
    }
    summary(pairs)
}

fn pair(a: &Cell, b: &Cell) -> Pair {
    let samples = 2.0 / (1.0 / a.samples + 1.0 / b.samples);
    [(b.value - a.value).powi(2), b.time_s - a.time_s, b.distance_m - a.distance_m, samples]
}

fn summary(mut pairs: Vec<Pair>) -> Option<Lag> {
    if pairs.len() < LEAST_PAIRS {
        return None;
    }
    let kept = (KEPT * pairs.len() as f64) as usize;
    pairs.select_nth_unstable_by(kept - 1, |a, b| a[0].total_cmp(&b[0]));
    let mean = |of: fn(&Pair) -> f64| pairs[..kept].iter().map(of).sum::<f64>() / kept as f64;
    Some(Lag {
        mean_square: TRIMMED_FACTOR * mean(|p| p[0]),
        time_s: mean(|p| p[1]),
        distance_m: mean(|p| p[2]),
        samples: 1.0 / mean(|p| 1.0 / p[3]),
    })
}

/// Variances of the white and of the correlated part, growth of the background, and the time constant.
///
/// Least squares in relative errors with no part below zero; the time constant is the best of a few.
fn best_parts(lags: &[Lag], ordinary: &Ordinary) -> [f64; 4] {
    let mut best = (f64::INFINITY, [0.0, 0.0, 0.0, ordinary.drift_s[0]]);
    for drift_s in ordinary.drift_s {
        let rows: Vec<([f64; 3], f64)> = lags
            .iter()
            .map(|lag| {
                let weight = 1.0 / lag.mean_square.max(ordinary.least_white.powi(2));
                let drift = 2.0 * (1.0 - (-lag.time_s / drift_s).exp());
                let row = [2.0 / lag.samples, drift, lag.distance_m].map(|v| v * weight);
                (row, lag.mean_square * weight)
            })
            .collect();
        let (misfit, parts) = non_negative_least_squares(&rows);
        if misfit < best.0 {
            best = (misfit, [parts[0], parts[1], parts[2], drift_s]);
        }
    }
    best.1
}

/// Least squares of three unknowns that must not be negative: the best of the eight sets of unknowns kept.
fn non_negative_least_squares(rows: &[([f64; 3], f64)]) -> (f64, [f64; 3]) {
    let misfit = |parts: [f64; 3]| -> f64 {
        rows.iter().map(|(a, y)| (y - a[0] * parts[0] - a[1] * parts[1] - a[2] * parts[2]).powi(2)).sum()
    };
    let mut best = (misfit([0.0; 3]), [0.0; 3]);
    for kept in 1..8_usize {
        let is_kept = |i: usize| kept & (1 << i) != 0;
        let mut normal = Matrix3::<f64>::identity();
        let mut right = Vector3::<f64>::zeros();
        // columns differ by many powers of ten: scaled to one
        let scale: [f64; 3] = std::array::from_fn(|i| {
            rows.iter().map(|(a, _)| a[i] * a[i]).sum::<f64>().sqrt().max(f64::MIN_POSITIVE)
        });
        for i in (0..3).filter(|&i| is_kept(i)) {
            right[i] = rows.iter().map(|(a, y)| a[i] / scale[i] * y).sum();
            for j in (0..3).filter(|&j| is_kept(j)) {
                normal[(i, j)] = rows.iter().map(|(a, _)| a[i] / scale[i] * (a[j] / scale[j])).sum();
            }
        }
        let Some(solution) = normal.cholesky().map(|c| c.solve(&right)) else { continue };
        if solution.iter().all(|&v| v >= 0.0) {
            let parts = std::array::from_fn(|i| solution[i] / scale[i]);
            let found = misfit(parts);
            if found < best.0 {
                best = (found, parts);
            }
        }
    }
    best
}

/// Step between the readings of a sensor: the usual distance between neighbouring values, where nearly every value
/// lies on such a grid; 0 where they do not.
pub(crate) fn quantum_of(track: &Track) -> f64 {
    let of_changes = quantum_of_changes(track);
    if of_changes > 0.0 { of_changes } else { quantum_of_levels(track) }
}

/// The step that the different values have between them.
fn quantum_of_levels(track: &Track) -> f64 {
    let all = || track.stretches.iter().flat_map(|s| s.samples.iter());
    let total = all().count();
    let mut values: Vec<f64> = all().step_by(total / GREATEST_PAIRS + 1).map(|s| s.value).collect();
    values.sort_by(f64::total_cmp);
    let mut gaps: Vec<f64> = values.windows(2).map(|w| w[1] - w[0]).filter(|&gap| gap > 1e-6).collect();
    // a sensor without steps gives nearly as many values as samples
    if gaps.is_empty() || gaps.len() * 4 > values.len() {
        return 0.0;
    }
    let quantum = median(&mut gaps);
    if on_grid(&gaps, quantum) >= 0.9 { quantum } else { 0.0 }
}

/// The commonest change from one sample to the next, where it is very common and most others are multiples of it: a row
/// that averages two readings of a coarse sensor lies between its steps and hides them from [`quantum_of_levels`].
fn quantum_of_changes(track: &Track) -> f64 {
    let changes = track.stretches.iter().flat_map(|s| s.samples.windows(2));
    let mut changes: Vec<f64> =
        changes.map(|pair| (pair[1].value - pair[0].value).abs()).filter(|&change| change > 1e-6).collect();
    changes.sort_by(f64::total_cmp);
    let commonest = changes.chunk_by(|a, b| b - a <= 1e-6).max_by_key(|same| same.len());
    let Some((n, quantum)) = commonest.map(|same| (same.len(), same[0])) else { return 0.0 };
    let common = n as f64 >= COMMON_CHANGE * changes.len() as f64;
    if common && on_grid(&changes, quantum) >= CHANGES_ON_GRID { quantum } else { 0.0 }
}

/// Share of differences that are whole multiples of a step.
fn on_grid(differences: &[f64], quantum: f64) -> f64 {
    let off = |d: f64| ((d / quantum).round() * quantum - d).abs();
    differences.iter().filter(|&&d| off(d) < 0.1 * quantum).count() as f64 / differences.len() as f64
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::settings::Settings;
    use crate::wanted::{TEMPERATURE, Values};
    use rand::SeedableRng;
    use rand_chacha::ChaCha8Rng;
    use rand_distr::{Distribution, StandardNormal};

    fn estimate(value: &[f64]) -> Noise {
        let time_s: Vec<f64> = (0..value.len()).map(|i| i as f64).collect();
        let distance_m: Vec<f64> = time_s.iter().map(|t| 1.2 * t).collect();
        let values = Values { time_s: &time_s, distance_m: &distance_m, value };
        let settings = Settings { warming_c_per_h: 0.0, ..Settings::default() };
        let track = Track::new(values, &settings.at_the_surface());
        Noise::estimate(&track, quantum_of(&track), &settings.at_the_surface())
    }

    /// White noise, AR(1) noise of a time constant and a random walk, one value a second.
    fn record(n: usize, white: f64, drift_sd: f64, drift_s: f64, walk_sd: f64) -> Vec<f64> {
        let mut rng = ChaCha8Rng::seed_from_u64(7);
        let mut normal = || -> f64 { StandardNormal.sample(&mut rng) };
        let keep = (-1.0 / drift_s).exp();
        let (mut drift, mut walk) = (0.0, 0.0);
        (0..n)
            .map(|_| {
                drift = keep * drift + drift_sd * (1.0 - keep * keep).sqrt() * normal();
                walk += walk_sd * normal();
                15.0 + walk + drift + white * normal()
            })
            .collect()
    }

    #[test]
    fn the_parts_are_told_apart() {
        let noise = estimate(&record(36_000, 0.06, 0.05, 30.0, 0.003));
        assert!((noise.white - 0.06).abs() < 0.006, "{noise:?}");
        assert!((noise.drift - 0.05).abs() < 0.01, "{noise:?}");
        assert!((16.0..=64.0).contains(&noise.drift_s), "{noise:?}");
        let truth = 0.003_f64.powi(2) / 1.2;
        assert!((0.5..2.0).contains(&(noise.background_per_m / truth)), "{noise:?}");
        assert_eq!(noise.quantum, 0.0);
    }

    #[test]
    fn the_step_of_the_display_is_seen() {
        for quantum in [0.05, 0.1, 5.0 / 90.0, 0.5] {
            let rounded: Vec<f64> = record(20_000, 0.05, 0.0, 1.0, 0.004)
                .iter()
                .map(|t| (t / quantum).round() * quantum)
                .collect();
            let noise = estimate(&rounded);
            assert!((noise.quantum - quantum).abs() < 1e-9, "{quantum}: {noise:?}");
        }
    }

    #[test]
    fn rows_that_average_two_readings_do_not_hide_the_step() {
        let mut rounded: Vec<f64> =
            record(20_000, 0.3, 0.0, 1.0, 0.004).iter().map(|t| (t * 2.0).round() / 2.0).collect();
        for i in (0..rounded.len() - 1).step_by(23) {
            rounded[i] = f64::midpoint(rounded[i], rounded[i + 1]);
        }
        assert!((estimate(&rounded).quantum - 0.5).abs() < 1e-9);
    }

    #[test]
    fn breaks_do_not_pass_for_noise() {
        let mut value = record(36_000, 0.05, 0.0, 1.0, 0.0);
        for (i, t) in value.iter_mut().enumerate() {
            *t += 1.5 * ((i / 7_000) % 2) as f64;
        }
        let noise = estimate(&value);
        assert!((noise.white - 0.05).abs() < 0.005, "{noise:?}");
        assert!(noise.background_per_m * 1000.0 < 0.1 * 0.1, "{noise:?}");
    }

    #[test]
    fn a_record_without_noise_has_a_floor() {
        let noise = estimate(&vec![10.0; 500]);
        assert_eq!(noise.white, TEMPERATURE.least_white);
        assert!(noise.background_per_m > 0.0);
    }
}
