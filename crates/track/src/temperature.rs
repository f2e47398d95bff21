//! What is the temperature of the water at the hull, as far as the sensor can say?

use std::ops::Range;

use multiversion::multiversion;
use waterseam_units::Flag;
use waterseam_units::time::{US_PER_S, seconds_between};

use crate::series::Series;

/// Neighbouring readings within this time, s, are of nearly the same water: a boat at 15 m/s has gone 200 m.
const FLIP_WITHIN_S: f64 = 15.0;
/// Flips up, and as many down, that make a stretch doubtful …
const FLIPS_EACH_WAY: usize = 3;
/// … when they lie this close together, s: to cross that many fronts and as many back takes longer.
const FLIP_WINDOW_S: f64 = 600.0;
/// … and are at least this share of the readings there: three single wrong readings in ten minutes are spikes, which
/// the spike test takes out one by one; a sensor that serves two names flips at every few readings.
const FLIP_SHARE: f64 = 0.05;

/// The slope of the temperature is fitted over the sensor's time constant, but at least over this to either side,
/// s: over fewer samples the noise would be multiplied.
const SLOPE_S_MIN: f64 = 2.0;
/// Fewest samples of a slope.
const SLOPE_SAMPLES: usize = 3;

/// Stretches in which a sensor changes between two levels.
pub(crate) struct Flipping {
    /// Samples of the stretches.
    pub samples: Vec<Range<usize>>,
    /// Number of flips in them.
    pub flips: usize,
    /// Median height of the flips, °C.
    pub height_c: f64,
}

/// Finds where neighbouring readings go up and down again by more than `flip_c`, as when two sensors share one
/// name. None of the single tests sees that: each level is in range, and most readings are like their
/// neighbours. The samples are marked from [`FLIP_WINDOW_S`]/2 before the first flip to as long after the last.
pub(crate) fn flipping(series: &Series, flip_c: f64) -> Option<Flipping> {
    let Series { time_us, values } = series;
    let is_flip = |&row: &usize| {
        let near = seconds_between(time_us[row - 1], time_us[row]) <= FLIP_WITHIN_S;
        near && (values[row] - values[row - 1]).abs() > flip_c
    };
    let flips: Vec<usize> = (1..values.len()).filter(is_flip).collect();
    let goes_up = |row: usize| values[row] > values[row - 1];

    let margin_us = (FLIP_WINDOW_S / 2.0 * US_PER_S as f64) as i64;
    let mut found = vec![false; flips.len()];
    let mut first = 0;
    let mut up = 0;
    for (last, &row) in flips.iter().enumerate() {
        up += usize::from(goes_up(row));
        while time_us[flips[first]] < time_us[row] - 2 * margin_us {
            up -= usize::from(goes_up(flips[first]));
            first += 1;
        }
        let down = last + 1 - first - up;
        let readings = row + 1 - time_us.partition_point(|&t| t < time_us[row] - 2 * margin_us);
        let often = (up + down) as f64 >= FLIP_SHARE * readings as f64;
        if up.min(down) >= FLIPS_EACH_WAY && often {
            let new = found[first..=last].iter().rposition(|&found| found).map_or(first, |at| first + at);
            found[new..=last].fill(true);
        }
    }

    let mut samples: Vec<Range<usize>> = Vec::new();
    for (&row, _) in flips.iter().zip(&found).filter(|&(_, &found)| found) {
        let start = time_us.partition_point(|&t| t < time_us[row] - margin_us);
        let end = time_us.partition_point(|&t| t <= time_us[row] + margin_us);
        match samples.last_mut() {
            Some(stretch) if stretch.end >= start => stretch.end = end,
            _ => samples.push(start..end),
        }
    }
    let heights = flips.iter().zip(&found).filter(|&(_, &found)| found);
    let mut heights: Vec<f64> = heights.map(|(&row, _)| (values[row] - values[row - 1]).abs()).collect();
    let (flips, half) = (heights.len(), heights.len() / 2);
    (flips > 0).then(|| {
        let height_c = *heights.select_nth_unstable_by(half, f64::total_cmp).1;
        Flipping { samples, flips, height_c }
    })
}

/// What is known of the sensor in the hull. The default corrects nothing.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct HullCorrection {
    /// Added to the reading, °C.
    pub add_c: f64,
    /// Time constant with which the sensor follows the water, s.
    pub lag_s: f64,
}

/// The temperature of each row with offset and lag corrected.
///
/// A sensor with time constant τ follows the water as τ dT/dt = T_water − T (first order); so the water has
/// T + τ dT/dt. The slope is that of a straight line fitted to the usable rows within τ/2 to either side. Where
/// rows are too far apart for that, and on rows that are not usable, only the offset is applied.
pub(crate) fn corrected(
    time_us: &[i64],
    raw_c: &[Option<f64>],
    flags: &[Flag],
    correction: HullCorrection,
) -> Vec<Option<f64>> {
    let HullCorrection { add_c, lag_s } = correction;
    if lag_s <= 0.0 {
        return raw_c.iter().map(|value| value.map(|value| value + add_c)).collect();
    }
    let reach_us = ((lag_s / 2.0).max(SLOPE_S_MIN) * US_PER_S as f64) as i64;
    let usable: Vec<(i64, f64)> = (0..raw_c.len())
        .filter(|&row| flags[row].is_usable())
        .filter_map(|row| Some((time_us[row], raw_c[row]?)))
        .collect();
    let (mut start, mut here, mut end) = (0, 0, 0);
    let even = EvenSlopes::new(&usable, reach_us);
    let mut slopes = Slopes::default();
    let row = |row: usize| {
        let raw_c = raw_c[row]?;
        if !flags[row].is_usable() {
            return Some(raw_c + add_c);
        }
        here += 1;
        if let Some(slope) = even.slope_per_s(here - 1) {
            return Some(raw_c + add_c + lag_s * slope);
        }
        while usable.get(start).is_some_and(|&(t, _)| t < time_us[row] - reach_us) {
            start += 1;
        }
        while usable.get(end).is_some_and(|&(t, _)| t <= time_us[row] + reach_us) {
            end += 1;
        }
        let slope = slopes.slope_per_s(&usable[start..end]);
        Some(raw_c + add_c + lag_s * slope.unwrap_or_default())
    };
    (0..raw_c.len()).map(row).collect()
}

/// Slopes where all samples of a window are as far apart as most samples are, worked out for many of them side by side: there
/// the line of least squares needs only the differences between samples that lie as long before the middle as behind it.
struct EvenSlopes<'a> {
    samples: &'a [(i64, f64)],
    /// To either side of the middle of a window.
    reach_us: i64,
    /// Samples of a window to either side of its middle; none where no window is even.
    side: usize,
    /// Sums of those differences, each times the number of steps to the middle, about every sample.
    pulls: Vec<f64>,
    /// How many steps of the usual length end with each sample, one after the other.
    steps: Vec<usize>,
    /// By what a sum becomes a slope.
    per_s: f64,
}

impl<'a> EvenSlopes<'a> {
    fn new(samples: &'a [(i64, f64)], reach_us: i64) -> Self {
        let usual = samples.windows(2).nth(samples.len() / 2).map_or(0, |pair| pair[1].0 - pair[0].0);
        let side = if usual > 0 { (reach_us / usual) as usize } else { 0 };
        let side = if samples.len() < 2 * side + LANES { 0 } else { side };
        let mut run = 0;
        let steps = samples.windows(2).map(|pair| {
            run = if pair[1].0 - pair[0].0 == usual { run + 1 } else { 0 };
            run
        });
        let steps = std::iter::once(0).chain(steps).collect();
        let values: Vec<f64> = samples.iter().map(|&(_, value)| value).collect();
        let mut pulls = vec![0.0; values.len()];
        if side > 0 {
            add_pulls(&values, side, &mut pulls);
        }
        let squares: f64 = (1..=side).map(|step| (step * step) as f64).sum();
        let per_s = (2.0 * squares * seconds_between(0, usual)).recip();
        Self { samples, reach_us, side, pulls, steps, per_s }
    }

    /// The slope about a sample; `None` where its window is not even.
    fn slope_per_s(&self, here: usize) -> Option<f64> {
        let Self { samples, side, .. } = self;
        let (first, last) = (here.checked_sub(*side)?, here + side);
        let is_even = *side > 0 && *self.steps.get(last)? >= 2 * side;
        let middle_us = samples[here].0;
        // the samples beside the window may be nearer than others are
        let ends_before = first.checked_sub(1).is_none_or(|row| samples[row].0 < middle_us - self.reach_us);
        let ends_behind = samples.get(last + 1).is_none_or(|next| next.0 > middle_us + self.reach_us);
        (is_even && ends_before && ends_behind).then(|| self.pulls[here] * self.per_s)
    }
}

/// Samples whose windows are summed side by side.
const LANES: usize = 16;

/// For every sample with so many to either side, the differences between those behind it and before it, each times the steps
/// to it.
#[multiversion(targets("x86_64+avx+avx2"))]
fn add_pulls(values: &[f64], side: usize, pulls: &mut [f64]) {
    let width = 2 * side + LANES;
    let windows = values.len().saturating_sub(width - 1);
    // the last lot goes back as far as it must to be a whole one
    let starts = (0..windows).step_by(LANES).chain(windows.checked_sub(1));
    for start in starts {
        let about = &values[start..start + width];
        let mut sums = [0.0; LANES];
        for step in 1..=side {
            let (Some(before), Some(behind)) =
                (about[side - step..].first_chunk::<LANES>(), about[side + step..].first_chunk::<LANES>())
            else {
                continue;
            };
            for lane in 0..LANES {
                sums[lane] += step as f64 * (behind[lane] - before[lane]);
            }
        }
        pulls[start + side..start + side + LANES].copy_from_slice(&sums);
    }
}

/// Slopes of the straight lines of least squares through windows of samples. An instrument is regular: the times of a
/// window are mostly as far apart as those of the one before, and what follows from them alone is kept.
#[derive(Default)]
struct Slopes {
    /// Since the first sample of the window, µs.
    offsets_us: Vec<i64>,
    /// From the mean time of the window, s.
    from_mean_s: Vec<f64>,
    /// Sum of the squares of these.
    spread: f64,
}

impl Slopes {
    fn slope_per_s(&mut self, samples: &[(i64, f64)]) -> Option<f64> {
        let &(origin_us, _) = samples.first()?;
        if samples.len() < SLOPE_SAMPLES {
            return None;
        }
        let n = samples.len() as f64;
        let offsets_us = samples.iter().map(|&(time_us, _)| time_us - origin_us);
        if !offsets_us.clone().eq(self.offsets_us.iter().copied()) {
            self.offsets_us.clear();
            self.offsets_us.extend(offsets_us);
            let seconds = || self.offsets_us.iter().map(|&offset_us| seconds_between(0, offset_us));
            let mean_s = seconds().sum::<f64>() / n;
            self.from_mean_s.clear();
            self.from_mean_s.extend(seconds().map(|s| s - mean_s));
            self.spread = self.from_mean_s.iter().map(|s| s.powi(2)).sum();
        }
        let mean = samples.iter().map(|&(_, value)| value).sum::<f64>() / n;
        let product: f64 = samples
            .iter()
            .zip(&self.from_mean_s)
            .map(|(&(_, value), from_mean_s)| from_mean_s * (value - mean))
            .sum();
        (self.spread > 0.0).then(|| product / self.spread)
    }
}

#[cfg(test)]
#[path = "temperature_tests.rs"]
mod tests;
