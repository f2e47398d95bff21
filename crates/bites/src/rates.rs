//! How many bites a rod-hour, and how sure is that?
//!
//! Counts over an exposure are taken for Poisson. Everything here is about one or several [`Counted`].

mod empirical_bayes;
mod gamma;
mod garwood;
mod mixture;
mod ratio;

pub use empirical_bayes::{Likelihood, Moments, maximum_likelihood, moments, poisson_log_likelihood};
pub use gamma::Gamma;
pub use garwood::garwood;
pub use mixture::Mixture;
pub use ratio::{RateRatio, rate_ratio};

/// Events in an exposure: bites in rod-hours.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Counted {
    /// Events.
    pub count: u64,
    /// Exposure, rod-hours; not negative.
    pub exposure: f64,
}

impl Counted {
    /// Events per exposure, `None` where there was no exposure.
    pub fn rate(self) -> Option<f64> {
        (self.exposure > 0.0).then(|| self.count as f64 / self.exposure)
    }

    /// Several taken together.
    pub fn total(all: &[Self]) -> Self {
        Self { count: all.iter().map(|c| c.count).sum(), exposure: all.iter().map(|c| c.exposure).sum() }
    }
}
