//! What is known of a rate, as a gamma distribution.

use statrs::distribution::{ContinuousCDF, Gamma as GammaDistribution};

use super::Counted;

/// A gamma distribution of a rate, by shape and *rate* (one over the scale of many libraries).
///
/// A rate of 0 is an improper prior; it has no mean and no quantile until an exposure is added.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Gamma {
    /// Shape: events that it is worth.
    pub shape: f64,
    /// Rate: exposure that it is worth, rod-hours.
    pub rate: f64,
}

impl Gamma {
    /// The prior of Jeffreys for a Poisson rate: half an event in no exposure.
    pub const JEFFREYS: Self = Self { shape: 0.5, rate: 0.0 };

    /// A prior worth half an event, about the mean rate of everything that it is used for; that of Jeffreys
    /// where nothing happened or nothing was fished.
    ///
    /// It weighs as much as the exposure in which half an event is to be expected, and has the shape of
    /// Jeffreys's prior, so that intervals keep their coverage at small counts (tested on simulated trips).
    pub fn weak(total: Counted) -> Self {
        match total.rate() {
            Some(mean) if mean > 0.0 => Self { shape: 0.5, rate: 0.5 / mean },
            _ => Self::JEFFREYS,
        }
    }

    /// What is known after events in an exposure (conjugacy).
    #[must_use]
    pub fn posterior(self, seen: Counted) -> Self {
        Self { shape: self.shape + seen.count as f64, rate: self.rate + seen.exposure }
    }

    /// Whether it is a distribution at all.
    pub fn is_proper(self) -> bool {
        self.shape > 0.0 && self.rate > 0.0 && self.shape.is_finite() && self.rate.is_finite()
    }

    /// Mean; `None` where improper.
    pub fn mean(self) -> Option<f64> {
        self.is_proper().then(|| self.shape / self.rate)
    }

    /// Standard deviation; `None` where improper.
    pub fn standard_deviation(self) -> Option<f64> {
        self.is_proper().then(|| self.shape.sqrt() / self.rate)
    }

    /// The value that the rate is below with a probability; `None` where improper or `p` is not in `0..=1`.
    pub fn quantile(self, p: f64) -> Option<f64> {
        let unit = self.distribution()?;
        (0.0..=1.0).contains(&p).then(|| unit.inverse_cdf(p) / self.rate)
    }

    /// The interval that holds the middle part of the distribution, for instance 0.9 of it.
    pub fn interval(self, level: f64) -> Option<(f64, f64)> {
        let tail = 0.5 * (1.0 - level);
        Some((self.quantile(tail)?, self.quantile(1.0 - tail)?))
    }

    /// Probability that the rate is above a value; `None` where improper.
    pub fn probability_above(self, rate: f64) -> Option<f64> {
        Some(self.distribution()?.sf(rate * self.rate))
    }

    /// The distribution of the shape with unit rate: quantiles keep their digits at any scale.
    fn distribution(self) -> Option<GammaDistribution> {
        if self.is_proper() { GammaDistribution::new(self.shape, 1.0).ok() } else { None }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_improper_prior_says_nothing() {
        assert_eq!(Gamma::JEFFREYS.mean(), None);
        assert_eq!(Gamma::JEFFREYS.interval(0.9), None);
        assert!(Gamma::JEFFREYS.posterior(Counted { count: 0, exposure: 1.0 }).interval(0.9).is_some());
    }

    #[test]
    fn the_weak_prior_is_half_an_event_at_the_mean() {
        let weak = Gamma::weak(Counted { count: 12, exposure: 24.0 });
        assert_eq!((weak.shape, weak.mean()), (0.5, Some(0.5)));
        assert_eq!(Gamma::weak(Counted { count: 0, exposure: 24.0 }), Gamma::JEFFREYS);
        assert_eq!(Gamma::weak(Counted::default()), Gamma::JEFFREYS);
    }
}
