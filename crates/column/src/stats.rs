//! Middle and spread that a few wild values do not move.

/// Standard deviations in a median absolute deviation of normal noise.
const SD_PER_MAD: f64 = 1.482_602_218_505_602;

/// Median; 0 for no values.
pub(crate) fn median(values: &[f64]) -> f64 {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    match sorted.len() {
        0 => 0.0,
        n if n % 2 == 1 => sorted[n / 2],
        n => 0.5 * (sorted[n / 2 - 1] + sorted[n / 2]),
    }
}

/// Standard deviation from the median absolute deviation.
pub(crate) fn robust_sd(values: &[f64]) -> f64 {
    let middle = median(values);
    let deviations: Vec<f64> = values.iter().map(|v| (v - middle).abs()).collect();
    SD_PER_MAD * median(&deviations)
}
