//! The middle of values that a few wild ones do not move.

/// Median; 0 for no values.
pub(crate) fn median(values: &[f64]) -> f64 {
    let n = values.len();
    if n == 0 {
        return 0.0;
    }
    let mut values = values.to_vec();
    let (below, &mut upper, _) = values.select_nth_unstable_by(n / 2, f64::total_cmp);
    let lower = below.iter().copied().max_by(f64::total_cmp).filter(|_| n.is_multiple_of(2));
    lower.map_or(upper, |lower| 0.5 * (lower + upper))
}
