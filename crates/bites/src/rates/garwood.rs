//! Between which rates does an observed count leave the truth, without any prior?

use super::{Counted, Gamma};

/// The exact confidence interval of a Poisson rate, for instance at the level 0.9.
///
/// F. Garwood, Fiducial limits for the Poisson distribution, Biometrika 28 (1936) 437–442 (cited from
/// memory), with gamma for chi-square quantiles: `chi2(p; 2k) / 2` is the quantile of a gamma distribution
/// of shape `k`. `None` without exposure, or for a level outside `0..1`.
pub fn garwood(seen: Counted, level: f64) -> Option<(f64, f64)> {
    if !(0.0..1.0).contains(&level) {
        return None;
    }
    let tail = 0.5 * (1.0 - level);
    let with_shape = |shape: f64| Gamma { shape, rate: seen.exposure };
    let count = seen.count as f64;
    let low = if seen.count == 0 { 0.0 } else { with_shape(count).quantile(tail)? };
    Some((low, with_shape(count + 1.0).quantile(1.0 - tail)?))
}
