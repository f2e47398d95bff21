//! What do the changes from one mean to the next say of log and compass, while the current wanders?
//!
//! The current is a random walk, seen through the noise of the means. A change between neighbouring means is
//! what the walk, the noise of both and the errors of log and compass make of it; neighbouring changes share a mean.

use multiversion::multiversion;

use crate::Velocity;
use crate::model::{Slopes, Spread, TERMS, Terms};

/// Ratios of walk to noise that are tried: this many to a decade, from 1e-5 to 100.
const RATIOS_PER_DECADE: i32 = 4;
const DECADES: std::ops::RangeInclusive<i32> = -5..=2;
/// Rounds in which noise and terms find one another.
const ROUNDS: usize = 12;
/// Steps as which the ordinary noise counts beside those of the trip.
const ORDINARY_STEPS: f64 = 4.0;
/// Part of its variance that a term is left to be held.
const HELD: f64 = 1e-8;
/// The noise never vanishes, m²/s²: (1 mm/s)².
const LEAST_NOISE_MPS2: f64 = 1e-6;

/// Change from one mean to the next.
#[derive(Clone, Debug)]
pub(crate) struct Step {
    /// Time between the two, in lengths of a mean.
    pub apart: f64,
    /// Variance of the noise of the mean before and of the mean after, in units of the ordinary one.
    pub noise: (f64, f64),
    /// Of the current, by log and compass as they are taken to be.
    pub change: Velocity,
    /// How the change of the velocity through the water depends on the terms.
    pub slopes: Slopes,
    /// Whether the current jumps here.
    pub jump: bool,
}

/// What is known of the terms before.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Before {
    pub mean: Terms,
    pub spread: Spread,
    /// Inverse of `spread`.
    pub information: Spread,
}

impl Before {
    /// `None` for a covariance that is none.
    pub fn new(mean: Terms, spread: &Spread) -> Option<Self> {
        Some(Self { mean, spread: *spread, information: spread.cholesky()?.inverse() })
    }

    /// The same with all terms but the clear ones held where they are.
    pub fn held(&self, clear: [bool; TERMS]) -> Self {
        let mut information = self.information;
        for term in (0..TERMS).filter(|&term| !clear[term]) {
            information[(term, term)] += 1.0 / (HELD * self.spread[(term, term)]);
        }
        Self { information, ..*self }
    }
}

/// Terms and noise at one ratio of walk to noise.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Walk {
    pub ratio: f64,
    /// Change of the terms.
    pub terms: Terms,
    pub spread: Spread,
    /// What the steps alone say of the terms: inverse of a covariance.
    pub told: Spread,
    /// What the steps alone say of the terms as it scatters from step to step; where that is as the noise wants it, `told`.
    pub scatter: Spread,
    /// Variance of one component of an ordinary mean, m²/s².
    pub noise_mps2: f64,
    /// Minus twice the logarithm of the evidence, without constants.
    deviance: f64,
}

/// Ratios that are tried side by side.
const LANES: usize = 4;
/// The logarithms of so many variances are taken at once, as that of their product: each lies between the noise of a mean and some
/// thousand times that.
const AT_ONCE: usize = 16;

/// Numbers of as many walks, and vectors toward east and north of them.
type Lanes<const N: usize> = [f64; N];
type Vectors<const N: usize> = [Lanes<N>; 2];

/// The most likely walk; `None` where all steps jump, or where nothing can be solved.
///
/// The noise of each ratio maximises the evidence for a Gaussian knowledge of the terms before (MacKay 1992, Neural
/// Computation 4, 415–447).
pub(crate) fn best_walk(steps: &[Step], before: &Before) -> Option<Walk> {
    let exponents = DECADES.start() * RATIOS_PER_DECADE..=DECADES.end() * RATIOS_PER_DECADE;
    let ratios = exponents.map(|k| 10f64.powf(f64::from(k) / f64::from(RATIOS_PER_DECADE)));
    let ratios: Vec<f64> = ratios.collect();
    let walks = ratios.chunks(LANES).flat_map(|ratios| {
        let mut lanes = [1.0; LANES];
        lanes[..ratios.len()].copy_from_slice(ratios);
        let told = told(steps, lanes);
        (0..ratios.len()).filter_map(move |lane| walk(&told, lane, lanes[lane], before))
    });
    let mut best = walks.min_by(|a, b| a.deviance.total_cmp(&b.deviance))?;
    best.scatter = best.scatter(steps);
    Some(best)
}

/// What steps made independent of one another tell, each weighed by its variance, for several ratios of walk to noise.
struct Told {
    /// Components of the changes.
    n: f64,
    /// Of the variances of all of them.
    log_det: Lanes<LANES>,
    /// Of the changes.
    square: Lanes<LANES>,
    /// Lower triangle.
    normal: [[Lanes<LANES>; TERMS]; TERMS],
    right: [Lanes<LANES>; TERMS],
}

#[multiversion(targets("x86_64+avx+avx2"))]
fn told(steps: &[Step], ratios: Lanes<LANES>) -> Told {
    let none = [0.0; LANES];
    let (mut n, mut square) = (0, none);
    let (mut log_det, mut variances) = (none, [1.0; LANES]);
    let (mut normal, mut right) = ([[none; TERMS]; TERMS], [none; TERMS]);
    whiten(steps, ratios, |variance, change, slopes| {
        n += 1;
        let mut weight = none;
        for lane in 0..LANES {
            variances[lane] *= variance[lane];
            weight[lane] = variance[lane].recip();
            square[lane] += dot(change, change, lane) * weight[lane];
        }
        if n % AT_ONCE == 0 {
            for lane in 0..LANES {
                log_det[lane] += 2.0 * std::mem::replace(&mut variances[lane], 1.0).ln();
            }
        }
        for i in 0..TERMS {
            let mut weighted = [none; 2];
            for lane in 0..LANES {
                weighted[0][lane] = slopes[i][0][lane] * weight[lane];
                weighted[1][lane] = slopes[i][1][lane] * weight[lane];
                right[i][lane] += dot(&weighted, change, lane);
            }
            for (products, slopes) in normal[i].iter_mut().zip(slopes).take(i + 1) {
                for (lane, sum) in products.iter_mut().enumerate() {
                    *sum += dot(&weighted, slopes, lane);
                }
            }
        }
    });
    for lane in 0..LANES {
        log_det[lane] += 2.0 * variances[lane].ln();
    }
    Told { n: 2.0 * n as f64, log_det, square, normal, right }
}

/// Scalar product of the vectors of a lane.
#[inline]
fn dot<const N: usize>(a: &Vectors<N>, b: &Vectors<N>, lane: usize) -> f64 {
    a[0][lane] * b[0][lane] + a[1][lane] * b[1][lane]
}

fn walk(told: &Told, lane: usize, ratio: f64, before: &Before) -> Option<Walk> {
    let (n, log_det, square) = (told.n, told.log_det[lane], told.square[lane]);
    if n == 0.0 {
        return None;
    }
    let normal = Spread::from_fn(|i, j| told.normal[i.max(j)][i.min(j)][lane]);
    let right = Terms::from_fn(|i, _| told.right[i][lane]);
    let known = before.information * before.mean;
    let mut noise_mps2 = (square / n).max(LEAST_NOISE_MPS2);
    let mut best = None;
    for _ in 0..ROUNDS {
        let cholesky = (normal / noise_mps2 + before.information).cholesky()?;
        let spread = cholesky.inverse();
        let terms = spread * (right / noise_mps2 + known);
        let left = (square - 2.0 * right.dot(&terms) + (normal * terms).dot(&terms)).max(0.0);
        let told_by_steps = TERMS as f64 - (spread * before.information).trace();
        let off = terms - before.mean;
        let log_det_terms = 2.0 * cholesky.l().diagonal().iter().map(|v| v.ln()).sum::<f64>();
        let deviance = n * noise_mps2.ln()
            + log_det
            + left / noise_mps2
            + (before.information * off).dot(&off)
            + log_det_terms;
        let told = normal / noise_mps2;
        best = Some(Walk { ratio, terms, spread, told, scatter: told, noise_mps2, deviance });
        let before = noise_mps2;
        noise_mps2 = (left / (n - told_by_steps).max(1.0)).max(LEAST_NOISE_MPS2);
        if noise_mps2 == before {
            break;
        }
    }
    best.filter(|walk| walk.deviance.is_finite())
}

impl Walk {
    /// Sum of the squared pulls of the steps on the terms (White 1980, Econometrica 48, 817–838): noise along the keel, where
    /// the log errs, is not that across it, where the compass does. A few steps scatter by chance, and the ordinary noise
    /// counts as some more.
    fn scatter(&self, steps: &[Step]) -> Spread {
        let (mut squares, mut n) = (Spread::zeros(), 0.0);
        self.each(steps, |variance, change, slopes| {
            let told: Velocity = (0..TERMS).map(|i| slopes[i] * self.terms[i]).sum();
            let off = (change - told) * (variance * self.noise_mps2).recip();
            let pull = Terms::from_fn(|i, _| slopes[i].dot(off));
            squares += pull * pull.transpose();
            n += 1.0;
        });
        // the terms have followed the noise of the steps: two components each
        let followed = 2.0 * n / (2.0 * n - TERMS as f64).max(n);
        (squares * (followed * n) + self.told * ORDINARY_STEPS) * (n + ORDINARY_STEPS).recip()
    }

    /// What the walk leaves of each step, in units of its standard deviation times that of the noise; `None` at jumps.
    pub fn residuals(&self, steps: &[Step]) -> Vec<Option<Velocity>> {
        let mut left = Vec::new();
        self.each(steps, |variance, change, slopes| {
            let told: Velocity = (0..TERMS).map(|i| slopes[i] * self.terms[i]).sum();
            left.push((change - told) * variance.sqrt().recip());
        });
        let mut left = left.into_iter();
        steps.iter().map(|step| if step.jump { None } else { left.next() }).collect()
    }

    /// Calls back with each step that is no jump, made independent of those before it, and its variance.
    fn each(&self, steps: &[Step], mut each: impl FnMut(f64, Velocity, &Slopes)) {
        let velocity = |of: &Vectors<1>| Velocity { east_mps: of[0][0], north_mps: of[1][0] };
        whiten(steps, [self.ratio], |[variance], change, slopes| {
            each(variance, velocity(change), &slopes.each_ref().map(velocity));
        });
    }
}

/// Calls back with each step that is no jump, made independent of those before it, and its variance in units of the
/// noise (L D Lᵀ of the tridiagonal covariance), for several ratios of walk to noise.
#[inline]
fn whiten<const N: usize>(
    steps: &[Step],
    ratios: Lanes<N>,
    mut each: impl FnMut(Lanes<N>, &Vectors<N>, &[Vectors<N>; TERMS]),
) {
    let lanes = |of: Velocity| [[of.east_mps; N], [of.north_mps; N]];
    let mut last: Option<(Lanes<N>, Vectors<N>, [Vectors<N>; TERMS])> = None;
    for step in steps {
        if step.jump {
            last = None;
            continue;
        }
        let mut variance = ratios.map(|ratio| ratio * step.apart + step.noise.0 + step.noise.1);
        let (mut change, mut slopes) = (lanes(step.change), step.slopes.map(lanes));
        if let Some((variance_before, change_before, slopes_before)) = &last {
            // neighbours share a mean, with opposite sign
            let part = variance_before.map(|variance_before| step.noise.0 / variance_before);
            for lane in 0..N {
                variance[lane] -= part[lane] * step.noise.0;
            }
            for side in 0..2 {
                for lane in 0..N {
                    change[side][lane] += change_before[side][lane] * part[lane];
                }
                for term in 0..TERMS {
                    for lane in 0..N {
                        slopes[term][side][lane] += slopes_before[term][side][lane] * part[lane];
                    }
                }
            }
        }
        each(variance, &change, &slopes);
        last = Some((variance, change, slopes));
    }
}
