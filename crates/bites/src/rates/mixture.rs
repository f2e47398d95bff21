//! What is known of a rate when how much rates differ is itself not known.

use statrs::function::gamma::ln_gamma;

use super::empirical_bayes::{best_rate, exposed, log_likelihood};
use super::{Counted, Gamma};

/// Spreads of rates about their mean, as parts of it, that are thought equally likely beforehand: from a tenth to twice the mean.
const SPREADS: usize = 12;
const SPREAD_MIN: f64 = 0.1;
const SPREAD_MAX: f64 = 2.0;
/// The normal distribution at three points (Gauss–Hermite: ±√3 and 0): standard deviations off its mean, and weights.
const MEANS: [(f64, f64); 3] =
    [(-1.732_050_807_568_877, 1.0 / 6.0), (0.0, 2.0 / 3.0), (1.732_050_807_568_877, 1.0 / 6.0)];
/// Halvings of an interval in search of a quantile: to a part in a million of it.
const HALVINGS: usize = 40;

/// A rate whose distribution is one of several gammas.
#[derive(Clone, Debug, PartialEq)]
pub struct Mixture {
    /// Weight (they add up to 1) and distribution of each.
    parts: Vec<(f64, Gamma)>,
}

impl From<Gamma> for Mixture {
    fn from(gamma: Gamma) -> Self {
        Self { parts: vec![(1.0, gamma)] }
    }
}

impl Mixture {
    /// The prior that many cells give a further one: gamma about their mean with a spread that is weighed over, so that the
    /// interval of a rate does not pretend that few cells said exactly how much rates differ.
    ///
    /// Each spread has the weight of the cells' likelihood (negative binomial) over all means, by the approximation of Laplace about the most likely one;
    /// the mean is weighed over at three points. Spreads from a tenth to twice the mean are equally likely beforehand. With one spread and its most
    /// likely mean alone this is the empirical Bayes of [`maximum_likelihood`](super::maximum_likelihood). `None` without exposure or events.
    pub fn learned(cells: &[Counted]) -> Option<Self> {
        let cells: Vec<_> = exposed(cells).collect();
        if Counted::total(&cells).count == 0 {
            return None;
        }
        let spread = |i: usize| SPREAD_MIN + (SPREAD_MAX - SPREAD_MIN) * i as f64 / (SPREADS - 1) as f64;
        let parts = (0..SPREADS).flat_map(|i| {
            let shape = spread(i).powi(-2);
            let best = Gamma { shape, rate: best_rate(&cells, shape) };
            let mean = shape / best.rate;
            // what the cells tell of the logarithm of the mean
            let told: f64 = cells.iter().map(|c| mean * c.exposure / (1.0 + mean * c.exposure / shape)).sum();
            let se = told.sqrt().recip();
            let log = log_likelihood(&cells, best) + se.ln();
            MEANS.map(|(off_se, weight)| {
                (log + weight.ln(), Gamma { shape, rate: best.rate * (-off_se * se).exp() })
            })
        });
        Some(Self::weighed(parts.collect()))
    }

    /// Parts by the logarithms of their weights.
    fn weighed(parts: Vec<(f64, Gamma)>) -> Self {
        let top = parts.iter().map(|(log, _)| *log).fold(f64::NEG_INFINITY, f64::max);
        let total: f64 = parts.iter().map(|(log, _)| (log - top).exp()).sum();
        Self { parts: parts.into_iter().map(|(log, gamma)| ((log - top).exp() / total, gamma)).collect() }
    }

    /// What is known after events in an exposure.
    #[must_use]
    pub fn posterior(&self, seen: Counted) -> Self {
        if let [(_, gamma)] = self.parts[..] {
            return gamma.posterior(seen).into();
        }
        let x = seen.count as f64;
        let parts = self.parts.iter().map(|&(weight, gamma)| {
            let Gamma { shape, rate } = gamma;
            let chance = ln_gamma(shape + x)
                - ln_gamma(shape)
                - shape * (seen.exposure / rate).ln_1p()
                - x * (rate + seen.exposure).ln();
            (weight.ln() + chance, gamma.posterior(seen))
        });
        Self::weighed(parts.collect())
    }

    /// Mean; `None` where a part is improper.
    pub fn mean(&self) -> Option<f64> {
        self.parts.iter().map(|(weight, gamma)| Some(weight * gamma.mean()?)).sum()
    }

    /// The interval that holds the middle part of the distribution, for instance 0.9 of it; `None` where a part is improper.
    pub fn interval(&self, level: f64) -> Option<(f64, f64)> {
        let tail = 0.5 * (1.0 - level);
        Some((self.quantile(tail)?, self.quantile(1.0 - tail)?))
    }

    /// The value that the rate is below with a probability; `None` where a part is improper.
    pub fn quantile(&self, p: f64) -> Option<f64> {
        if let [(_, gamma)] = self.parts[..] {
            return gamma.quantile(p);
        }
        let heavy = self.parts.iter().filter(|(weight, _)| *weight > 1e-4);
        let of_each: Vec<f64> = heavy.clone().map(|(_, gamma)| gamma.quantile(p)).collect::<Option<_>>()?;
        let mut low = of_each.iter().copied().reduce(f64::min)?;
        let mut high = of_each.iter().copied().reduce(f64::max)?;
        let weight: f64 = heavy.clone().map(|(weight, _)| weight).sum();
        for _ in 0..HALVINGS {
            let middle = 0.5 * (low + high);
            let above: Option<f64> =
                heavy.clone().map(|(weight, gamma)| Some(weight * gamma.probability_above(middle)?)).sum();
            if above? > (1.0 - p) * weight {
                low = middle;
            } else {
                high = middle;
            }
            if high - low <= 1e-6 * high {
                break;
            }
        }
        Some(0.5 * (low + high))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_gamma_is_itself() {
        let gamma = Gamma { shape: 2.0, rate: 3.0 };
        let seen = Counted { count: 4, exposure: 5.0 };
        let mixture = Mixture::from(gamma).posterior(seen);
        assert_eq!(mixture.interval(0.9), gamma.posterior(seen).interval(0.9));
        assert_eq!(mixture.mean(), gamma.posterior(seen).mean());
    }

    #[test]
    fn a_quantile_leaves_its_share_below() {
        let cells: Vec<Counted> =
            (0..40).map(|i| Counted { count: [0, 1, 2, 5][i % 4], exposure: 3.0 }).collect();
        let mixture = Mixture::learned(&cells).unwrap();
        assert!((mixture.parts.iter().map(|(weight, _)| weight).sum::<f64>() - 1.0).abs() < 1e-12);
        assert!((mixture.mean().unwrap() - 2.0 / 3.0).abs() < 0.02);
        for p in [0.05, 0.5, 0.95] {
            let at = mixture.quantile(p).unwrap();
            let above: f64 = mixture.parts.iter().map(|(w, g)| w * g.probability_above(at).unwrap()).sum();
            assert!((above - (1.0 - p)).abs() < 1e-3, "{p}: {above}");
        }
    }

    #[test]
    fn nothing_teaches_nothing() {
        assert_eq!(Mixture::learned(&[]), None);
        assert_eq!(Mixture::learned(&[Counted { count: 0, exposure: 9.0 }]), None);
    }
}
