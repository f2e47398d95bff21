//! How many of the findings of many tests may be false?
//!
//! Benjamini & Hochberg (1995): among all findings with an adjusted p-value of at most `q`, no more than the part
//! `q` are expected to be false, where tests are independent or depend on each other positively (Benjamini &
//! Yekutieli 2001), as those of overlapping places do.

/// Adjusted p-values, in the order of `p_values`: the least over all ranks `k` from its own on of `p_(k) tests / k`,
/// at most 1.
///
/// `tests` is the number of tests made, where only the smallest p-values of them are given; at least as many as
/// are given.
pub fn benjamini_hochberg(p_values: &[f64], tests: f64) -> Vec<f64> {
    let tests = tests.max(p_values.len() as f64);
    let mut order: Vec<usize> = (0..p_values.len()).collect();
    order.sort_by(|&a, &b| p_values[a].total_cmp(&p_values[b]));
    let mut adjusted = vec![1.0; p_values.len()];
    let mut least = 1.0_f64;
    for (rank, &i) in order.iter().enumerate().rev() {
        least = least.min(p_values[i] * tests / (rank + 1) as f64);
        adjusted[i] = least;
    }
    adjusted
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn tests_that_are_not_listed_count() {
        let all = benjamini_hochberg(&[0.001, 0.004, 0.9, 0.95, 1.0], 5.0);
        let some = benjamini_hochberg(&[0.001, 0.004], 5.0);
        assert_eq!(all[..2], some);
        assert!(benjamini_hochberg(&[], 100.0).is_empty());
    }
}
