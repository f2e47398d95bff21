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
