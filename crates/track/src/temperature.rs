//! What is the temperature of the water at the hull, as far as the sensor can say?

use std::ops::Range;

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
    let offset = |value: Option<f64>| value.map(|value| value + add_c);
    if lag_s <= 0.0 {
        return raw_c.iter().copied().map(offset).collect();
    }
    let reach_us = ((lag_s / 2.0).max(SLOPE_S_MIN) * US_PER_S as f64) as i64;
    let usable: Vec<(i64, f64)> = (0..raw_c.len())
        .filter(|&row| flags[row].is_usable())
        .filter_map(|row| Some((time_us[row], raw_c[row]?)))
        .collect();
    let (mut start, mut end) = (0, 0);
    let mut slopes = Slopes::default();
    let row = |row: usize| {
        while usable.get(start).is_some_and(|&(t, _)| t < time_us[row] - reach_us) {
            start += 1;
        }
        while usable.get(end).is_some_and(|&(t, _)| t <= time_us[row] + reach_us) {
            end += 1;
        }
        let slope = if flags[row].is_usable() { slopes.slope_per_s(&usable[start..end]) } else { None };
        offset(raw_c[row]).map(|value| value + lag_s * slope.unwrap_or_default())
    };
    (0..raw_c.len()).map(row).collect()
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
