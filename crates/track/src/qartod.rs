//! Which samples of a series are of doubtful use?
//!
//! Real-time tests of the US IOOS QARTOD manual for in-situ temperature and salinity (2020, version 2.1, cited
//! from memory), by the rules that the reference implementation ioos_qc 3.0.0 follows. A missing sample is
//! [`Flag::Missing`] in every test. All comparisons are strict: a value at a limit passes.
//!
//! | QARTOD test | here |
//! | --- | --- |
//! | gap | [`gap`] |
//! | syntax | the reader: a sentence that is not whole, or not what its address says, is set aside with its reason |
//! | location | [`location`], [`location_bounds`], [`speed`] |
//! | gross range | [`gross_range`] |
//! | spike | [`spike`] |
//! | rate of change | [`rate_of_change`] |
//! | flat line | [`flat_line`] |
//! | attenuated signal | [`attenuated_signal`] |
//!
//! The functions judge any series: they know nothing of boats. How they are combined, and with which limits,
//! is said in [`Limits`](crate::Limits).

mod attenuated;
mod place;
#[cfg(test)]
mod tests;

use std::collections::VecDeque;
use std::ops::RangeInclusive;

use waterseam_units::Flag;
use waterseam_units::time::{US_PER_S, seconds_between};

pub use self::attenuated::{Spread, Window, attenuated_signal};
pub use self::place::{Bounds, location, location_bounds, speed};

/// Gap: more than `most_s` since the sample before. The first sample has the flag of the second; alone it passes.
///
/// The flag says that data are missing before the sample, not that the sample is bad.
pub fn gap(time_us: &[i64], most_s: f64) -> Vec<Flag> {
    let judge = |pair: &[i64]| {
        if seconds_between(pair[0], pair[1]) > most_s { Flag::Fail } else { Flag::Pass }
    };
    let mut flags = Vec::with_capacity(time_us.len());
    flags.extend(time_us.first().map(|_| time_us.get(..2).map_or(Flag::Pass, judge)));
    flags.extend(time_us.windows(2).map(judge));
    flags
}

/// Gross range: outside `fail` fails, else outside `suspect` is suspect.
///
/// A value that is not a number fails.
pub fn gross_range(
    values: &[Option<f64>],
    suspect: &RangeInclusive<f64>,
    fail: &RangeInclusive<f64>,
) -> Vec<Flag> {
    let judge = |value: f64| match () {
        () if !fail.contains(&value) => Flag::Fail,
        () if !suspect.contains(&value) => Flag::Suspect,
        () => Flag::Pass,
    };
    values.iter().map(|value| value.map_or(Flag::Missing, judge)).collect()
}

/// Spike: distance of a sample from the mean of its two neighbours.
///
/// The first sample, the last one and those beside a missing sample are not evaluated. A spike marks its
/// neighbours too when half of it is above the limit: that is the rule of the standard.
pub fn spike(values: &[Option<f64>], suspect: f64, fail: f64) -> Vec<Flag> {
    let judge = |row: usize| {
        let Some(value) = values[row] else { return Flag::Missing };
        let before = row.checked_sub(1).and_then(|before| values[before]);
        let after = values.get(row + 1).copied().flatten();
        let (Some(before), Some(after)) = (before, after) else { return Flag::NotEvaluated };
        above((value - f64::midpoint(before, after)).abs(), suspect, fail)
    };
    (0..values.len()).map(judge).collect()
}

/// Rate of change since the sample before, in units of the value per second.
///
/// The first sample and one after a missing sample pass. Two samples of the same instant pass when they are
/// equal and fail when they are not.
///
/// # Panics
/// When the two slices differ in length.
pub fn rate_of_change(
    time_us: &[i64],
    values: &[Option<f64>],
    suspect_per_s: f64,
    fail_per_s: f64,
) -> Vec<Flag> {
    assert_eq!(time_us.len(), values.len(), "a time for each value");
    let judge = |row: usize| {
        let Some(value) = values[row] else { return Flag::Missing };
        let Some((before, before_us)) = row.checked_sub(1).and_then(|b| Some((values[b]?, time_us[b])))
        else {
            return Flag::Pass;
        };
        if value == before {
            return Flag::Pass;
        }
        let seconds = seconds_between(before_us, time_us[row]).abs();
        above((value - before).abs() / seconds, suspect_per_s, fail_per_s)
    };
    (0..values.len()).map(judge).collect()
}

/// Flat line: the span (largest minus smallest) of the last `k + 1` samples is below `tolerance`, where `k`
/// is the number of median sampling intervals in `suspect_s` or `fail_s`. The first `k` samples pass; missing
/// samples are skipped.
///
/// # Panics
/// When the two slices differ in length.
pub fn flat_line(
    time_us: &[i64],
    values: &[Option<f64>],
    suspect_s: f64,
    fail_s: f64,
    tolerance: f64,
) -> Vec<Flag> {
    assert_eq!(time_us.len(), values.len(), "a time for each value");
    let Some(interval_s) = median_interval_s(time_us).filter(|&interval_s| interval_s > 0.0) else {
        return values.iter().map(|value| value.map_or(Flag::Missing, |_| Flag::Pass)).collect();
    };
    let flat = |threshold_s: f64| flat_over(values, (threshold_s / interval_s) as usize, tolerance);
    let (suspect, fail) = (flat(suspect_s), flat(fail_s));
    let judge = |row: usize| match values[row] {
        None => Flag::Missing,
        Some(_) if fail[row] => Flag::Fail,
        Some(_) if suspect[row] => Flag::Suspect,
        Some(_) => Flag::Pass,
    };
    (0..values.len()).map(judge).collect()
}

/// Median time between neighbouring samples, s; `None` for fewer than two samples.
pub(crate) fn median_interval_s(time_us: &[i64]) -> Option<f64> {
    let mut intervals: Vec<i64> = time_us.windows(2).map(|pair| pair[1] - pair[0]).collect();
    let half = intervals.len() / 2;
    let (below, &mut upper, _) =
        if intervals.is_empty() { return None } else { intervals.select_nth_unstable(half) };
    let even = below.len() == half && time_us.len() % 2 == 1;
    let lower = if even { below.iter().copied().max().unwrap_or(upper) } else { upper };
    Some((lower + upper) as f64 / (2 * US_PER_S) as f64)
}

fn above(value: f64, suspect: f64, fail: f64) -> Flag {
    match () {
        () if value > fail => Flag::Fail,
        () if value > suspect => Flag::Suspect,
        () => Flag::Pass,
    }
}

/// Most samples in a row whose step from the sample before is below `tolerance`, as all are in a window that spans less.
/// Beside a missing sample there is no step.
fn longest_calm(values: &[Option<f64>], tolerance: f64) -> usize {
    let (mut longest, mut calm, mut before) = (0, 0, None);
    for &value in values {
        let step = value.zip(before).map_or(0.0, |(value, before): (f64, f64)| (value - before).abs());
        calm = if step < tolerance { calm + 1 } else { 0 };
        longest = longest.max(calm);
        before = value;
    }
    longest
}

/// Whether each window of `k + 1` samples that ends at a row spans less than `tolerance`; the rows of the
/// largest and of the smallest value are kept in two queues, so that the time does not grow with `k`.
fn flat_over(values: &[Option<f64>], k: usize, tolerance: f64) -> Vec<bool> {
    // no window is so long, or no span so small
    if k >= values.len() || tolerance <= 0.0 || longest_calm(values, tolerance) < k {
        return vec![false; values.len()];
    }
    let mut largest: VecDeque<(usize, f64)> = VecDeque::new();
    let mut smallest: VecDeque<(usize, f64)> = VecDeque::new();
    let mut flat = Vec::with_capacity(values.len());
    for (row, value) in values.iter().enumerate() {
        if let &Some(value) = value {
            while largest.pop_back_if(|&mut (_, kept)| kept <= value).is_some() {}
            while smallest.pop_back_if(|&mut (_, kept)| kept >= value).is_some() {}
            largest.push_back((row, value));
            smallest.push_back((row, value));
        }
        while largest.pop_front_if(|&mut (kept, _)| row - kept > k).is_some() {}
        while smallest.pop_front_if(|&mut (kept, _)| row - kept > k).is_some() {}
        let span = largest.front().zip(smallest.front()).map(|(high, low)| high.1 - low.1);
        flat.push(row >= k && span.is_some_and(|span| span < tolerance));
    }
    flat
}
