//! Is there enough evidence to speak of a band, and if not, how much more would it take?

use crate::bands::Band;
use crate::rates::{Counted, Gamma};

/// What the effort of a factor can tell.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Evidence {
    /// A productive band was found.
    Found,
    /// None was found, though a doubled rate would probably have been.
    EnoughForNone,
    /// Too little to tell a doubled rate.
    TooThin {
        /// Rod-hours more at the same rate of bites, roughly, that would settle it.
        more_rod_hours: f64,
        /// Bites more.
        more_bites: u64,
    },
    /// Nothing was fished, or nothing was measured where it was fished.
    NoEffort,
}

/// Share of the effort of the band that is meant to be told: a third.
const BAND_SHARE: f64 = 1.0 / 3.0;
/// How much oftener bites come in it.
const RATE_RATIO: f64 = 2.0;
/// Normal quantile of the test: one-sided 5 % shared by the twenty or so bands of a factor with eight bins and by the
/// eight factors, of which some say the same in other words (0.05 / 20 / 4).
const Z_TEST: f64 = 3.227;
/// Normal quantile of the power: found four times in five (0.8).
const Z_POWER: f64 = 0.842;

/// Bites with which a doubled rate in a third of the effort is found four times in five.
///
/// The logarithm of a ratio of two Poisson rates has about the variance `1/x1 + 1/x2`; it must be
/// `z_test + z_power` standard errors from 0. With a share `q` of the effort at `r` times the rate of the
/// rest, `n` bites fall inside and outside as `q r` to `1 - q`. Rough: the scan looks at many bands, which
/// the test quantile allows for (compared with the scan itself on simulated trips in the tests).
pub fn bites_needed() -> u64 {
    let inside = BAND_SHARE * RATE_RATIO;
    let outside = 1.0 - BAND_SHARE;
    let variance_of_one_bite = (inside + outside) * (1.0 / inside + 1.0 / outside);
    (((Z_TEST + Z_POWER) / RATE_RATIO.ln()).powi(2) * variance_of_one_bite).ceil() as u64
}

/// What the bands of one factor can tell.
///
/// The rate at which further bites are to be expected is the posterior mean with the prior of Jeffreys, so
/// that a trip without bites has an answer too.
pub fn evidence(bands: &[Band]) -> Evidence {
    let counted = |band: &Band| Counted { count: band.bites, exposure: band.rod_hours };
    let fished: Vec<Counted> = bands.iter().map(counted).filter(|c| c.exposure > 0.0).collect();
    let seen = Counted::total(&fished);
    let Some(rate) = Gamma::JEFFREYS.posterior(seen).mean() else {
        return Evidence::NoEffort;
    };
    if bands.iter().any(|band| band.in_productive_band) {
        return Evidence::Found;
    }
    match bites_needed().saturating_sub(seen.count) {
        0 => Evidence::EnoughForNone,
        more_bites => Evidence::TooThin { more_rod_hours: more_bites as f64 / rate, more_bites },
    }
}
