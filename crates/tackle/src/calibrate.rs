//! What do depths that a captain observed tell of his lines?
//!
//! The factors of a method are normal on the scale of their logarithms, as their priors say; an observation
//! is normal about the modelled depth. The posterior is that of Gauss and Newton: the most probable factors, and
//! the curvature there. What comes anew with each lure and each time that a line is set is noise of the
//! observation, and stays in the error of every depth.

use waterseam_logs::LineMethod;
use waterseam_logs::boat::{HowSeen, ObservedDepth};

use crate::factors::{Differences, FACTORS, priors};
use crate::refusal::Refusal;
use crate::setup::{Setup, Tow};
use crate::tackle::Tackle;

/// Standard error of a depth at which the lure ticked the bottom: swell, and a bottom that is not flat (common
/// practice, no source), m.
const BOTTOM_SE_M: f64 = 0.6;
/// Of a probe on the line: its scale, and where on the line it sits (common practice, no source), m.
const PROBE_SE_M: f64 = 0.4;
/// Of a depth that the captain knows (common practice, no source), m.
const KNOWN_SE_M: f64 = 1.0;

/// What is known of the factors of a method, in standard errors of the priors.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Posterior {
    pub mean: Differences,
    /// Covariance of what stays from day to day; `None`: that of the priors.
    covariance: Option<[Differences; FACTORS]>,
    /// Observations behind it.
    pub observed: usize,
}

impl Default for Posterior {
    fn default() -> Self {
        Self { mean: [0.0; FACTORS], covariance: None, observed: 0 }
    }
}

impl Posterior {
    /// Variance of a depth that changes so with each factor, m².
    pub fn variance_m2(&self, method: LineMethod, by_factor_m: &Differences) -> f64 {
        let Some(covariance) = &self.covariance else { return by_factor_m.iter().map(|g| g * g).sum() };
        let mut variance_m2 = fresh_m2(method, by_factor_m);
        for (row, g) in covariance.iter().zip(by_factor_m) {
            variance_m2 += g * row.iter().zip(by_factor_m).map(|(c, h)| c * h).sum::<f64>();
        }
        variance_m2.max(0.0)
    }
}

/// Variance by what comes anew each time, m².
fn fresh_m2(method: LineMethod, by_factor_m: &Differences) -> f64 {
    priors(method).iter().map(|prior| (1.0 - prior.kept) * by_factor_m[prior.factor as usize].powi(2)).sum()
}

/// An observed depth beside what would be thought without any.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Seen {
    /// Depth as it was seen, m.
    pub depth_m: f64,
    /// Standard error of that, m.
    pub depth_se_m: f64,
    /// Depth without it, m; or why nothing says it, so that the observation tells nothing.
    pub without: Result<f64, Refusal>,
}

impl Seen {
    pub(crate) fn by(tackle: &Tackle, seen: &ObservedDepth, density_kg_per_m3: f64) -> Self {
        let depth = tackle.depth(&Setup::from(&seen.setup), &tow(seen, density_kg_per_m3));
        Self { depth_m: seen.depth_m, depth_se_m: se_m(seen), without: depth.map(|depth| depth.depth_m) }
    }
}

fn tow(seen: &ObservedDepth, density_kg_per_m3: f64) -> Tow<'static> {
    Tow { density_kg_per_m3, ..Tow::by_log(seen.speed_mps) }
}

fn se_m(seen: &ObservedDepth) -> f64 {
    seen.give_or_take_m.unwrap_or(match seen.how {
        HowSeen::Bottom => BOTTOM_SE_M,
        HowSeen::Probe => PROBE_SE_M,
        HowSeen::Known => KNOWN_SE_M,
    })
}

/// Differences in which the slopes are taken: small beside a standard error, large beside the error of a shape.
const SLOPE_STEP: f64 = 0.05;
/// A step of Gauss and Newton goes no further than this in any factor.
const NEWTON_STEP_MAX: f64 = 1.0;
/// The factors are found when none moves more than this; four to eight steps do it.
const FOUND: f64 = 1e-6;
const NEWTON_STEPS: usize = 60;

/// The posterior of a method's factors.
///
/// Observations that scatter about the model more than they and the model admit are all trusted less, by the
/// same factor (Birge, Phys. Rev. 40 (1932) 207–227, from memory).
pub(crate) fn calibrated(
    tackle: &Tackle,
    method: LineMethod,
    observed: &[&ObservedDepth],
    density_kg_per_m3: f64,
) -> Posterior {
    let Some(first) = most_probable(tackle, method, observed, density_kg_per_m3, 1.0) else {
        return Posterior::default();
    };
    let birge = first.misfit / first.posterior.observed as f64;
    if birge <= 1.0 {
        return first.posterior;
    }
    let wider = most_probable(tackle, method, observed, density_kg_per_m3, birge);
    wider.map_or(first.posterior, |wider| wider.posterior)
}

struct Found {
    posterior: Posterior,
    /// Squares of what the observations miss the model by, in their variances.
    misfit: f64,
}

fn most_probable(
    tackle: &Tackle,
    method: LineMethod,
    observed: &[&ObservedDepth],
    density_kg_per_m3: f64,
    birge: f64,
) -> Option<Found> {
    let mut mean = [0.0; FACTORS];
    for step in 1..=NEWTON_STEPS {
        // what holds for a factor of another method: nothing is known, and nothing depends on it
        let mut information = [[0.0; FACTORS]; FACTORS];
        for (i, row) in information.iter_mut().enumerate() {
            row[i] = 1.0;
        }
        for prior in priors(method) {
            information[prior.factor as usize][prior.factor as usize] = 1.0 / prior.kept;
        }
        let (mut pull, mut used, mut misfit) = ([0.0; FACTORS], 0, 0.0);
        for seen in observed {
            let (setup, tow) = (Setup::from(&seen.setup), tow(seen, density_kg_per_m3));
            let Ok(slopes) = tackle.slopes(&setup, method, &tow, &mean, SLOPE_STEP) else { continue };
            let g = &slopes.by_factor;
            let variance_m2 = birge * (se_m(seen).powi(2) + slopes.by_speed_m.powi(2) + fresh_m2(method, g));
            let miss_m = seen.depth_m - slopes.depth_m;
            let linear_m = miss_m + g.iter().zip(&mean).map(|(g, m)| g * m).sum::<f64>();
            for i in 0..FACTORS {
                pull[i] += g[i] * linear_m / variance_m2;
                for j in 0..FACTORS {
                    information[i][j] += g[i] * g[j] / variance_m2;
                }
            }
            used += 1;
            misfit += miss_m * miss_m / variance_m2;
        }
        if used == 0 {
            return None;
        }
        let covariance = inverse(&information)?;
        let mut moved: f64 = 0.0;
        for (i, row) in covariance.iter().enumerate() {
            let to = row.iter().zip(&pull).map(|(c, p)| c * p).sum::<f64>();
            let by = (to - mean[i]).clamp(-NEWTON_STEP_MAX, NEWTON_STEP_MAX);
            mean[i] += by;
            moved = moved.max(by.abs());
        }
        if moved <= FOUND || step == NEWTON_STEPS {
            let posterior = Posterior { mean, covariance: Some(covariance), observed: used };
            return Some(Found { posterior, misfit });
        }
    }
    None
}

/// The inverse of a symmetric, positive definite matrix, by Gauss and Jordan; such a one needs no pivots.
fn inverse(matrix: &[Differences; FACTORS]) -> Option<[Differences; FACTORS]> {
    let mut left = *matrix;
    let mut right = [[0.0; FACTORS]; FACTORS];
    for (i, row) in right.iter_mut().enumerate() {
        row[i] = 1.0;
    }
    for pivot in 0..FACTORS {
        let per = 1.0 / left[pivot][pivot];
        if !per.is_finite() || per <= 0.0 {
            return None;
        }
        for column in 0..FACTORS {
            left[pivot][column] *= per;
            right[pivot][column] *= per;
        }
        let (left_pivot, right_pivot) = (left[pivot], right[pivot]);
        for row in (0..FACTORS).filter(|&row| row != pivot) {
            let factor = left[row][pivot];
            for column in 0..FACTORS {
                left[row][column] -= factor * left_pivot[column];
                right[row][column] -= factor * right_pivot[column];
            }
        }
    }
    Some(right)
}

#[cfg(test)]
#[path = "calibrate_tests.rs"]
mod tests;
