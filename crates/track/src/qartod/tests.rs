use super::*;
use proptest::prelude::*;

fn seconds(n: usize) -> Vec<i64> {
    (0..n as i64).map(|second| second * US_PER_S).collect()
}

#[test]
fn empty_series_have_no_flags() {
    let none: [Option<f64>; 0] = [];
    assert!(gross_range(&none, &(0.0..=1.0), &(0.0..=1.0)).is_empty());
    assert!(spike(&none, 1.0, 2.0).is_empty());
    assert!(rate_of_change(&[], &none, 1.0, 2.0).is_empty());
    assert!(flat_line(&[], &none, 1.0, 2.0, 0.1).is_empty());
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

    /// What is done where no sample is missing says the same as where some might be.
    #[test]
    fn whole_series_are_judged_as_those_with_gaps(
        steps in prop::collection::vec((0i64..3, 0u8..6), 0..80), suspect in 0f64..3.0, fail in 0f64..5.0,
    ) {
        let time_us: Vec<i64> = steps
            .iter()
            .scan(0, |at_us, &(step_s, _)| {
                *at_us += step_s * US_PER_S;
                Some(*at_us)
            })
            .collect();
        let whole: Vec<f64> = steps.iter().map(|&(_, value)| f64::from(value)).collect();
        let perhaps: Vec<Option<f64>> = whole.iter().copied().map(Some).collect();
        prop_assert_eq!(spike(&whole, suspect, fail), spike(&perhaps, suspect, fail));
        let rates = rate_of_change(&time_us, &whole, suspect, fail);
        prop_assert_eq!(rates, rate_of_change(&time_us, &perhaps, suspect, fail));
        let flat = flat_line(&time_us, &whole, 4.0, 8.0, suspect);
        prop_assert_eq!(flat, flat_line(&time_us, &perhaps, 4.0, 8.0, suspect));
        let window = Window { period_s: 10.0, least_s: 5.0 };
        for (suspect, fail) in [(suspect, fail), (0.0, 0.0)] {
            let faded = |spread| attenuated_signal(&time_us, &whole, window, spread, suspect, fail);
            for spread in [Spread::StandardDeviation, Spread::Range] {
                let want = attenuated_signal(&time_us, &perhaps, window, spread, suspect, fail);
                prop_assert_eq!(faded(spread), want);
            }
        }
    }

    #[test]
    fn the_usual_interval_is_the_median_where_it_is_most_of_them(steps in prop::collection::vec(0i64..4, 1..40)) {
        let mut time_us = vec![0];
        for step in &steps {
            time_us.push(time_us[time_us.len() - 1] + step.max(&1) * US_PER_S);
        }
        let mut sorted: Vec<i64> = steps.iter().map(|step| *step.max(&1)).collect();
        sorted.sort_unstable();
        let want = (sorted[sorted.len() / 2] + sorted[(sorted.len() - 1) / 2]) as f64 / 2.0;
        prop_assert_eq!(median_interval_s(&time_us), Some(want));
    }
}
