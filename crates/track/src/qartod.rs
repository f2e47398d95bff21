//! Which samples of a series are of doubtful use?
//!
//! Four real-time tests of the US IOOS QARTOD manual for in-situ temperature and salinity (2020, version
//! 2.1, cited from memory), by the rules that the reference implementation ioos_qc 3.0.0 follows. A missing
//! sample is [`Flag::Missing`] in every test. All comparisons are strict: a value at a limit passes.
//!
//! The functions judge any series: they know nothing of boats. How they are combined, and with which limits,
//! is said in [`Limits`](crate::Limits).

use std::collections::VecDeque;
use std::ops::RangeInclusive;

use waterseam_units::Flag;
use waterseam_units::time::{US_PER_S, seconds_between};

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

/// Whether each window of `k + 1` samples that ends at a row spans less than `tolerance`; the rows of the
/// largest and of the smallest value are kept in two queues, so that the time does not grow with `k`.
fn flat_over(values: &[Option<f64>], k: usize, tolerance: f64) -> Vec<bool> {
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

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn seconds(n: usize) -> Vec<i64> {
        (0..n as i64).map(|second| second * US_PER_S).collect()
    }

    #[test]
    fn empty_series_have_no_flags() {
        assert!(gross_range(&[], &(0.0..=1.0), &(0.0..=1.0)).is_empty());
        assert!(spike(&[], 1.0, 2.0).is_empty());
        assert!(rate_of_change(&[], &[], 1.0, 2.0).is_empty());
        assert!(flat_line(&[], &[], 1.0, 2.0, 0.1).is_empty());
    }

    #[test]
    fn two_samples_of_one_instant() {
        let flags = rate_of_change(&[0, 0, 0], &[Some(1.0), Some(1.0), Some(2.0)], 1.0, 2.0);
        assert_eq!(flags, [Flag::Pass, Flag::Pass, Flag::Fail]);
    }

    #[test]
    fn median_of_an_even_number_of_intervals_is_their_middle() {
        assert_eq!(median_interval_s(&[0, 1_000_000, 4_000_000]), Some(2.0));
        assert_eq!(median_interval_s(&[0, 1_000_000, 4_000_000, 6_000_000]), Some(2.0));
        assert_eq!(median_interval_s(&[5]), None);
    }

    proptest! {
        /// The queues against the plain rule.
        #[test]
        fn flat_windows_agree_with_the_plain_rule(
            values in prop::collection::vec(prop::option::of(0u8..4), 0..60), k in 0usize..8,
        ) {
            let values: Vec<Option<f64>> = values.into_iter().map(|v| v.map(f64::from)).collect();
            let plain: Vec<bool> = (0..values.len())
                .map(|row| {
                    let window = values[row.saturating_sub(k)..=row].iter().flatten();
                    let (low, high) = window.fold((f64::MAX, f64::MIN), |(l, h), &v| (l.min(v), h.max(v)));
                    row >= k && low <= high && high - low < 1.5
                })
                .collect();
            prop_assert_eq!(flat_over(&values, k, 1.5), plain);
        }

        #[test]
        fn a_constant_series_passes_all_but_the_flat_line(n in 3usize..40, value in -50f64..50.0) {
            let values = vec![Some(value); n];
            prop_assert!(rate_of_change(&seconds(n), &values, 0.0, 0.0).iter().all(|&f| f == Flag::Pass));
            prop_assert!(spike(&values, 1e-9, 1e-9)[1..n - 1].iter().all(|&f| f == Flag::Pass));
            prop_assert_eq!(flat_line(&seconds(n), &values, 2.0, 1e6, 0.1)[n - 1], Flag::Suspect);
        }
    }
}
