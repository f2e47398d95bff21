//! Do two rates differ, and by what factor?

use statrs::function::beta::{beta_reg, inv_beta_reg};
use statrs::function::gamma::ln_gamma;

use super::Counted;

/// The first rate over the second. The tests are conditional on the sum of the counts, which makes the
/// first count binomial with the first exposure's share.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RateRatio {
    /// Ratio of the rates; `None` where the second count is 0.
    pub ratio: Option<f64>,
    /// Lower end of its interval; `None` without any event.
    pub ratio_low: Option<f64>,
    /// Upper end; `None` where it is not bounded.
    pub ratio_high: Option<f64>,
    /// Probability, at equal rates, of a first count as high or higher.
    pub p_greater: f64,
    /// Probability, at equal rates, of a first count as low or lower.
    pub p_less: f64,
    /// Two-sided: the sum of all outcomes that are no more likely than the one observed.
    pub p_minlike: f64,
    /// Two-sided: twice the smaller tail, at most 1.
    pub p_double: f64,
    /// Two-sided: twice the smaller tail with half of the observed outcome, at most 1.
    pub p_mid: f64,
}

/// Compares two Poisson rates exactly, with an interval of the ratio at a level (for instance 0.9).
///
/// The interval is that of Clopper and Pearson for the binomial share (Biometrika 26 (1934) 404–413, cited
/// from memory), turned into a ratio; it belongs with [`RateRatio::p_double`]. `None` unless both exposures
/// are positive and the level lies in `0..1`.
pub fn rate_ratio(first: Counted, second: Counted, level: f64) -> Option<RateRatio> {
    let exposed = |c: Counted| c.exposure > 0.0 && c.exposure.is_finite();
    if !exposed(first) || !exposed(second) || !(0.0..1.0).contains(&level) {
        return None;
    }
    let (x, n) = (first.count, first.count + second.count);
    let share = first.exposure / (first.exposure + second.exposure);
    let (p_greater, p_less) = (at_least(x, n, share), at_most(x, n, share));
    let observed = probability(x, n, share);
    // outcomes that are exactly as likely must not be lost to rounding; scipy uses the same margin
    let limit = observed * (1.0 + 1e-7);
    let p_minlike: f64 = (0..=n).map(|k| probability(k, n, share)).filter(|&p| p <= limit).sum();
    let smaller = p_greater.min(p_less);
    let tail = 0.5 * (1.0 - level);
    let as_ratio = |share: f64| share / (1.0 - share) * second.exposure / first.exposure;
    let (events, second_count) = (n > 0, second.count);
    Some(RateRatio {
        ratio: first.rate().zip(second.rate()).filter(|_| second_count > 0).map(|(a, b)| a / b),
        ratio_low: events.then(|| {
            if x == 0 { 0.0 } else { as_ratio(inv_beta_reg(x as f64, (second_count + 1) as f64, tail)) }
        }),
        ratio_high: (second_count > 0)
            .then(|| as_ratio(inv_beta_reg((x + 1) as f64, second_count as f64, 1.0 - tail))),
        p_greater,
        p_less,
        p_minlike: p_minlike.min(1.0),
        p_double: (2.0 * smaller).min(1.0),
        p_mid: (2.0 * smaller - observed).min(1.0),
    })
}

/// Binomial probability of `x` in `n`.
fn probability(x: u64, n: u64, share: f64) -> f64 {
    let (k, m) = (x as f64, n as f64);
    let ways = ln_gamma(m + 1.0) - ln_gamma(k + 1.0) - ln_gamma(m - k + 1.0);
    (ways + k * share.ln() + (m - k) * (-share).ln_1p()).exp()
}

fn at_least(x: u64, n: u64, share: f64) -> f64 {
    if x == 0 { 1.0 } else { beta_reg(x as f64, (n - x + 1) as f64, share) }
}

fn at_most(x: u64, n: u64, share: f64) -> f64 {
    if x == n { 1.0 } else { beta_reg((n - x) as f64, (x + 1) as f64, 1.0 - share) }
}
