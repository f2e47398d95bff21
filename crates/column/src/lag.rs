//! How slow is the probe's thermometer, by casts that go down and up through the same water?
//!
//! A sensor of first order with the time constant `tau` shows `T` where the water has `T + tau dT/dt`. At a depth
//! that a cast meets on its way down and on its way up the water is the same, so that
//!
//! ```text
//! T_down - T_up = tau (dT_up/dt - dT_down/dt)
//! ```
//!
//! (the matching of down and up casts is common practice in oceanography; e.g. Morison et al. 1994, J. Atmos.
//! Oceanic Technol. 11, 1151–1164, from memory). A thermocline that rises or sinks between the two ways looks like a
//! lag, longer or shorter by chance: one cast tells nothing, and the error is told by how several differ.

use std::ops::Range;

use crate::bins::is_finite;
use crate::casts::{pairs, passes};
use crate::stats::median;
use crate::{Sample, Settings};

/// A thermometer's time constant.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Lag {
    /// Time constant, s; by chance it may come out negative.
    pub lag_s: f64,
    /// Standard error, s.
    pub lag_se_s: f64,
    /// Casts down and up behind it.
    pub casts: usize,
}

impl Lag {
    /// Whether it is surely there and long enough to matter.
    pub fn is_sure(&self, settings: &Settings) -> bool {
        settings.lag_least_s <= self.lag_s
            && self.lag_s <= settings.lag_most_s
            && settings.lag_sure_se * self.lag_se_s <= self.lag_s
    }
}

/// The lag of a probe by its casts down and up, `None` where fewer than [`Settings::lag_least_casts`] went through
/// water that changes by [`Settings::least_range_c`].
///
/// Samples may come in any order; those that are not finite are passed over.
pub fn thermometer_lag(samples: &[Sample], settings: &Settings) -> Option<Lag> {
    let mut sorted: Vec<Sample> = samples.iter().filter(|s| is_finite(s)).copied().collect();
    sorted.sort_by(|a, b| a.time_s.total_cmp(&b.time_s));
    let mut sums = Vec::new();
    for unbroken in sorted.chunk_by(|a, b| b.time_s - a.time_s <= settings.gap_s) {
        for (one, other) in pairs(unbroken, &passes(unbroken, settings), settings) {
            sums.extend(other.and_then(|other| match_ways(unbroken, one, other, settings)));
        }
    }
    let casts = sums.len();
    if casts < settings.lag_least_casts.max(2) {
        return None;
    }
    let total: f64 = sums.iter().map(|sum| sum.squares).sum();
    let lag_s = sums.iter().map(|sum| sum.products).sum::<f64>() / total;
    // how much the casts disagree, each with its weight
    let off: f64 = sums.iter().map(|sum| (sum.products - lag_s * sum.squares).powi(2)).sum();
    let scatter_s = (off * casts as f64 / (casts as f64 - 1.0)).sqrt() / total;
    let apart: Vec<f64> = sorted.windows(2).map(|pair| pair[1].time_s - pair[0].time_s).collect();
    let lag_se_s = scatter_s.hypot(RATE_SE * median(&apart));
    Some(Lag { lag_s, lag_se_s, casts })
}

/// Samples in time order as a thermometer without lag would show them; where no neighbour is near they stay.
///
/// The rate is taken between the neighbours on both sides.
pub(crate) fn without_lag(samples: &[Sample], settings: &Settings) -> Vec<Sample> {
    let corrected = |row: usize| {
        let sample = samples[row];
        let (before, after) = (samples[row.saturating_sub(1)], samples[(row + 1).min(samples.len() - 1)]);
        let apart_s = after.time_s - before.time_s;
        let near = 0.0 < apart_s && apart_s <= RATE_OVER_LAGS_MAX * settings.lag_s;
        let rate = if near { (after.temp_c - before.temp_c) / apart_s } else { 0.0 };
        Sample { temp_c: sample.temp_c + settings.lag_s * rate, ..sample }
    };
    (0..samples.len()).map(corrected).collect()
}

/// A rate between two samples is not that of the moment: what that costs, in times between samples (from
/// simulated probes in swell).
const RATE_SE: f64 = 0.1;
/// A rate between samples that are this many lags apart, or more, says little of the moment between them.
const RATE_OVER_LAGS_MAX: f64 = 4.0;
/// Fewer depths that both ways cross tell nothing.
const LEAST_LEVELS: usize = 4;

/// Differences between both ways by differences between their rates, over the depths that both cross.
#[derive(Clone, Copy, Debug)]
struct Sums {
    products: f64,
    squares: f64,
}

fn match_ways(
    samples: &[Sample],
    one: Range<usize>,
    other: Range<usize>,
    settings: &Settings,
) -> Option<Sums> {
    let [one, other] = [&samples[one], &samples[other]];
    let levels = |way: &[Sample]| {
        let depths = || way.iter().map(|s| s.depth_m / settings.bin_m);
        (depths().fold(f64::INFINITY, f64::min).ceil() as i64, depths().fold(0.0, f64::max).floor() as i64)
    };
    let ((top, bottom), (other_top, other_bottom)) = (levels(one), levels(other));
    let (mut sums, mut n, mut range_c) = (Sums { products: 0.0, squares: 0.0 }, 0, (f64::MAX, f64::MIN));
    for level in top.max(other_top)..=bottom.min(other_bottom) {
        let depth_m = level as f64 * settings.bin_m;
        let (Some((temp_c, rate)), Some((other_c, other_rate))) =
            (crossing(one, depth_m), crossing(other, depth_m))
        else {
            continue;
        };
        let faster = other_rate - rate;
        sums.products += (temp_c - other_c) * faster;
        sums.squares += faster * faster;
        range_c = (range_c.0.min(temp_c), range_c.1.max(temp_c));
        n += 1;
    }
    (n >= LEAST_LEVELS && range_c.1 - range_c.0 >= settings.least_range_c && sums.squares > 0.0)
        .then_some(sums)
}

/// Temperature, °C, and its rate, °C/s, where a way first crosses a depth.
fn crossing(way: &[Sample], depth_m: f64) -> Option<(f64, f64)> {
    let crosses = |pair: &&[Sample]| (pair[0].depth_m <= depth_m) != (pair[1].depth_m <= depth_m);
    let pair = way.windows(2).find(crosses)?;
    let (before, after) = (pair[0], pair[1]);
    let apart_s = after.time_s - before.time_s;
    if apart_s <= 0.0 {
        return None;
    }
    let part = (depth_m - before.depth_m) / (after.depth_m - before.depth_m);
    let change_c = after.temp_c - before.temp_c;
    Some((before.temp_c + part * change_c, change_c / apart_s))
}

#[cfg(test)]
#[path = "lag_tests.rs"]
mod tests;
