//! Middle and spread that a few wild values do not move.

/// Standard deviations in a median absolute deviation of normal noise.
const SD_PER_MAD: f64 = 1.482_602_218_505_602;

/// Median; 0 for no values.
pub(crate) fn median(values: &[f64]) -> f64 {
    middle(&mut values.to_vec())
}

/// The same of values whose order does not matter any more.
fn middle(values: &mut [f64]) -> f64 {
    let n = values.len();
    if n == 0 {
        return 0.0;
    }
    let (below, &mut upper, _) = values.select_nth_unstable_by(n / 2, f64::total_cmp);
    let lower = below.iter().copied().max_by(f64::total_cmp).filter(|_| n.is_multiple_of(2));
    lower.map_or(upper, |lower| 0.5 * (lower + upper))
}

/// Standard deviation from the median absolute deviation.
pub(crate) fn robust_sd(values: &[f64]) -> f64 {
    let centre = median(values);
    let mut deviations: Vec<f64> = values.iter().map(|v| (v - centre).abs()).collect();
    SD_PER_MAD * middle(&mut deviations)
}
