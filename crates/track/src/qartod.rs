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
    // what is surely no gap takes no division
    let surely_us = ((most_s * US_PER_S as f64) as i64).saturating_sub(1);
    let judge = |pair: &[i64]| {
        let is_gap = pair[1] - pair[0] > surely_us && seconds_between(pair[0], pair[1]) > most_s;
        if is_gap { Flag::Fail } else { Flag::Pass }
    };
    let mut flags = Vec::with_capacity(time_us.len());
    flags.extend(time_us.first().map(|_| time_us.get(..2).map_or(Flag::Pass, judge)));
    flags.extend(time_us.windows(2).map(judge));
    flags
}

/// A value that may be missing, or one of a series that has them all.
pub trait Sample: Copy + Into<Option<f64>> {}

impl<T: Copy + Into<Option<f64>>> Sample for T {}

/// Gross range: outside `fail` fails, else outside `suspect` is suspect.
///
/// A value that is not a number fails.
pub fn gross_range(
    values: &[impl Sample],
    suspect: &RangeInclusive<f64>,
    fail: &RangeInclusive<f64>,
) -> Vec<Flag> {
    // both are asked whatever the one says, so that the machine looks at several values at once
    let [suspect, fail] = [suspect, fail].map(|range| *range.start()..=*range.end());
    let judge = |value: f64| match (suspect.contains(&value), fail.contains(&value)) {
        (_, false) => Flag::Fail,
        (false, true) => Flag::Suspect,
        (true, true) => Flag::Pass,
    };
    let is_good = |value: f64| suspect.contains(&value) & fail.contains(&value);
    if all(values.iter().map(|&value| present(value).is_some_and(is_good))) {
        return vec![Flag::Pass; values.len()];
    }
    values.iter().map(|&value| present(value).map_or(Flag::Missing, judge)).collect()
}

/// Spike: distance of a sample from the mean of its two neighbours.
///
/// The first sample, the last one and those beside a missing sample are not evaluated. A spike marks its
/// neighbours too when half of it is above the limit: that is the rule of the standard.
pub fn spike(values: &[impl Sample], suspect: f64, fail: f64) -> Vec<Flag> {
    let end = |value: Option<f64>| value.map_or(Flag::Missing, |_| Flag::NotEvaluated);
    let off = |before: f64, value: f64, after: f64| (value - 0.5 * (before + after)).abs();
    let is_calm = |three: &[_]| match (present(three[0]), present(three[1]), present(three[2])) {
        (Some(before), Some(value), Some(after)) => off(before, value, after) <= suspect.min(fail),
        _ => false,
    };
    if let [first, .., last] = values
        && all(values.windows(3).map(is_calm))
    {
        let mut flags = vec![Flag::Pass; values.len()];
        (flags[0], flags[values.len() - 1]) = (end(present(*first)), end(present(*last)));
        return flags;
    }
    let mut flags = Vec::with_capacity(values.len());
    flags.extend(values.first().map(|&value| end(present(value))));
    flags.extend(values.windows(3).map(|three| {
        let Some(value) = present(three[1]) else { return Flag::Missing };
        let (Some(before), Some(after)) = (present(three[0]), present(three[2])) else {
            return Flag::NotEvaluated;
        };
        above(off(before, value, after), suspect, fail)
    }));
    flags.extend(values.get(1..).and_then(|others| others.last()).map(|&value| end(present(value))));
    flags
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
    values: &[impl Sample],
    suspect_per_s: f64,
    fail_per_s: f64,
) -> Vec<Flag> {
    assert_eq!(time_us.len(), values.len(), "a time for each value");
    let mut flags = Vec::with_capacity(values.len());
    flags.extend(values.first().map(pass));
    flags.extend(time_us.windows(2).zip(values.windows(2)).map(|(time_us, pair)| {
        let Some(value) = present(pair[1]) else { return Flag::Missing };
        let Some(before) = present(pair[0]).filter(|&before| before != value) else { return Flag::Pass };
        let seconds = seconds_between(time_us[0], time_us[1]).abs();
        above((value - before).abs() / seconds, suspect_per_s, fail_per_s)
    }));
    flags
}

/// Flat line: the span (largest minus smallest) of the last `k + 1` samples is below `tolerance`, where `k`
/// is the number of median sampling intervals in `suspect_s` or `fail_s`. The first `k` samples pass; missing
/// samples are skipped.
///
/// # Panics
/// When the two slices differ in length.
pub fn flat_line(
    time_us: &[i64],
    values: &[impl Sample],
    suspect_s: f64,
    fail_s: f64,
    tolerance: f64,
) -> Vec<Flag> {
    assert_eq!(time_us.len(), values.len(), "a time for each value");
    let Some(interval_s) = median_interval_s(time_us).filter(|&interval_s| interval_s > 0.0) else {
        return values.iter().map(pass).collect();
    };
    let [suspect_k, fail_k] = [suspect_s, fail_s].map(|threshold_s| (threshold_s / interval_s) as usize);
    if !may_be_flat(values, suspect_k.min(fail_k), tolerance) {
        return values.iter().map(pass).collect();
    }
    let (suspect, fail) = (flat_over(values, suspect_k, tolerance), flat_over(values, fail_k, tolerance));
    let judge = |(row, value): (usize, &_)| match pass(value) {
        Flag::Pass if fail[row] => Flag::Fail,
        Flag::Pass if suspect[row] => Flag::Suspect,
        flag => flag,
    };
    values.iter().enumerate().map(judge).collect()
}

/// Median time between neighbouring samples, s; `None` for fewer than two samples.
pub(crate) fn median_interval_s(time_us: &[i64]) -> Option<f64> {
    let n = time_us.len().checked_sub(1).filter(|&n| n > 0)?;
    let intervals = || time_us.windows(2).map(|pair| pair[1] - pair[0]);
    let half = n / 2;
    // what most of them are is the median, and most instruments are regular
    let usual = time_us[half + 1] - time_us[half];
    if intervals().filter(|&interval| interval == usual).count() > half {
        return Some((usual + usual) as f64 / (2 * US_PER_S) as f64);
    }
    let mut intervals: Vec<i64> = intervals().collect();
    let (below, &mut upper, _) = intervals.select_nth_unstable(half);
    let even = below.len() == half && n % 2 == 0;
    let lower = if even { below.iter().copied().max().unwrap_or(upper) } else { upper };
    Some((lower + upper) as f64 / (2 * US_PER_S) as f64)
}

/// Whether all are so: without an early end, so that the machine looks at several of them at once. Most series are good
/// throughout, and are told so in one go.
pub(crate) fn all(are: impl Iterator<Item = bool>) -> bool {
    are.fold(true, |all, is| all & is)
}

fn above(value: f64, suspect: f64, fail: f64) -> Flag {
    match () {
        () if value > fail => Flag::Fail,
        () if value > suspect => Flag::Suspect,
        () => Flag::Pass,
    }
}

fn present(value: impl Sample) -> Option<f64> {
    value.into()
}

fn pass(value: &impl Sample) -> Flag {
    present(*value).map_or(Flag::Missing, |_| Flag::Pass)
}

/// Whether a window of `k + 1` samples can span less than `tolerance`: not when none is so long, or no span so small, or
/// no `k` steps in a row are below it, as all are in such a window. Beside a missing sample there is no step.
fn may_be_flat(values: &[impl Sample], k: usize, tolerance: f64) -> bool {
    if k >= values.len() || tolerance <= 0.0 {
        return false;
    }
    let (mut longest, mut calm, mut before) = (0, 0, None);
    for &value in values {
        let value = present(value);
        let step = value.zip(before).map_or(0.0, |(value, before): (f64, f64)| (value - before).abs());
        calm = if step < tolerance { calm + 1 } else { 0 };
        longest = longest.max(calm);
        before = value;
    }
    longest >= k
}

/// Whether each window of `k + 1` samples that ends at a row spans less than `tolerance`; the rows of the
/// largest and of the smallest value are kept in two queues, so that the time does not grow with `k`.
fn flat_over(values: &[impl Sample], k: usize, tolerance: f64) -> Vec<bool> {
    if !may_be_flat(values, k, tolerance) {
        return vec![false; values.len()];
    }
    let mut largest: VecDeque<(usize, f64)> = VecDeque::new();
    let mut smallest: VecDeque<(usize, f64)> = VecDeque::new();
    let mut flat = Vec::with_capacity(values.len());
    for (row, &value) in values.iter().enumerate() {
        if let Some(value) = present(value) {
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
