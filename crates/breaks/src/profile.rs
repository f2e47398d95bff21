//! Where is the centre of a break, how high is its step and how wide is it, and how sure is that?
//!
//! Least squares of the smooth step with which Shaw & Vennell follow fronts in satellite images (A. G. P. Shaw &
//! R. Vennell, A front-following algorithm for AVHRR SST imagery, Remote Sensing of Environment 75, 2001, 54–67;
//! from memory), with a slope of the background beside it:
//!
//! ```text
//! T(x) = level + slope (x - centre) + step/2 tanh((x - centre) / w)
//! ```
//!
//! Level, slope and step are linear and solved for exactly at each trial of the two others (variable projection,
//! Golub & Pereyra 1973, from memory); centre and ln w follow by Levenberg–Marquardt from the best point of a grid.

use multiversion::multiversion;
use nalgebra::{SMatrix, SVector};

use crate::exponential::tanh;
use crate::noise::Noise;
use crate::stretches::{Cell, median};
use crate::types::Series;
use crate::whiten::Whitener;

/// Width from 10 % to 90 % of the step over the scale w of the hyperbolic tangent: 2 atanh 0.8 = ln 9.
pub(crate) const WIDTH_PER_SCALE: f64 = 2.197_224_577_336_219_4;

/// What lies under the step.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Background {
    /// One level.
    Level,
    /// A slope, expected within the standard deviation given of none; infinite where nothing is known.
    Slope {
        /// Standard deviation of the slopes to be expected, a metre.
        sd_per_m: f64,
    },
}

/// A smooth step fitted to values along a track, in their unit (°C, or m for the depth of an isotherm).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Profile {
    /// Value at the centre, halfway between the levels before and after.
    pub level: f64,
    /// Slope of the background, a metre.
    pub slope_per_m: f64,
    /// Level after minus level before, the slope apart.
    pub step: f64,
    /// Distance along the track at the centre, m.
    pub centre_m: f64,
    /// From 10 % to 90 % of the step, m.
    pub width_m: f64,
    /// Standard error of the level.
    pub level_se: f64,
    /// Standard error of the step.
    pub step_se: f64,
    /// Standard error of the centre, m.
    pub centre_se_m: f64,
    /// Standard error of the width, m; 0 where it lies at the narrowest that the sampling resolves.
    pub width_se_m: f64,
    /// How much better than the background alone: fall of the sum of squares, in units of the noise variance.
    pub evidence: f64,
}

/// Fits a smooth step to a whole series, with uncorrelated noise of unknown size.
///
/// Standard errors are scaled by the residuals, and widened where neighbouring residuals are alike. `None` where
/// there are fewer than eight samples at different distances, or no step.
///
/// ```
/// use waterseam_breaks::{Background, Series, fit};
///
/// let distance_m: Vec<f64> = (0..100).map(|i| 10.0 * f64::from(i)).collect();
/// let temp_c: Vec<f64> = distance_m.iter().map(|x| 12.0 + 1.5 * ((x - 480.0) / 60.0).tanh()).collect();
/// let series = Series { time_s: &distance_m, distance_m: &distance_m, temp_c: &temp_c };
/// let profile = fit(series, Background::Level).unwrap();
/// assert!((profile.step - 3.0).abs() < 1e-6 && (profile.centre_m - 480.0).abs() < 1e-6);
/// ```
pub fn fit(series: Series, background: Background) -> Option<Profile> {
    let rows = series.time_s.iter().zip(series.distance_m).zip(series.temp_c);
    let cells: Vec<Cell> = rows
        .map(|((&time_s, &distance_m), &value)| Cell { distance_m, time_s, value, samples: 1.0 })
        .filter(|c| c.distance_m.is_finite() && c.time_s.is_finite() && c.value.is_finite())
        .collect();
    let span_m = cells.last()?.distance_m - cells.first()?.distance_m;
    let mut spacings: Vec<f64> = cells.windows(2).map(|w| w[1].distance_m - w[0].distance_m).collect();
    let spacing_m = median(&mut spacings);
    if span_m <= 0.0 || spacing_m <= 0.0 {
        return None;
    }
    let problem = Problem {
        cells: &cells,
        noise: &Noise::white(1.0),
        noise_is_known: false,
        background,
        narrowest_m: 0.2 * spacing_m,
        broadest_m: span_m,
        least_gain: 0.0,
    };
    let first_m = cells.first()?.distance_m;
    let mut starts = Vec::new();
    for i in 1..24 {
        for part in [0.02, 0.05, 0.1, 0.2, 0.4, 0.7] {
            starts.push(Start { centre_m: first_m + span_m * f64::from(i) / 24.0, width_m: part * span_m });
        }
    }
    problem.fit(&starts)
}

impl Profile {
    /// The step alone at a distance along the track, from minus to plus half its height.
    pub(crate) fn step_at(&self, distance_m: f64) -> f64 {
        let z = (distance_m - self.centre_m) * WIDTH_PER_SCALE / self.width_m;
        // beyond that the hyperbolic tangent is one to the last digit
        0.5 * self.step * if z.abs() < 20.0 { tanh(z) } else { z.signum() }
    }
}

/// A place and a width to start a fit from.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Start {
    pub centre_m: f64,
    pub width_m: f64,
}

/// One fit: data, noise and limits.
pub(crate) struct Problem<'a> {
    pub cells: &'a [Cell],
    pub noise: &'a Noise,
    /// Whether the size of the noise is known; else it comes from the residuals alone.
    pub noise_is_known: bool,
    pub background: Background,
    pub narrowest_m: f64,
    pub broadest_m: f64,
    /// Fall of the sum of squares, in units of the noise, under which a fit is not worth its time.
    pub least_gain: f64,
}

/// Fewest cells that a step, a slope and two errors can be told from.
const LEAST_CELLS: usize = 8;
/// Parameters of the profile.
const PARAMETERS: usize = 5;
const LEVEL: usize = 0;
const SLOPE: usize = 1;
const STEP: usize = 2;
const CENTRE: usize = 3;
const LN_SCALE: usize = 4;

impl Problem<'_> {
    /// The best fit from the best of some starts.
    pub fn fit(&self, starts: &[Start]) -> Option<Profile> {
        if self.cells.len() < LEAST_CELLS {
            return None;
        }
        let whitened = Whitened::new(self)?;
        let scale = |width_m: f64| width_m.clamp(self.narrowest_m, self.broadest_m) / WIDTH_PER_SCALE;
        let mut best: Option<Trial> = None;
        for start in starts {
            let trial =
                whitened.trial(whitened.to_unit(start.centre_m), scale(start.width_m) / whitened.unit_m);
            if let Some(trial) = trial
                && best.as_ref().is_none_or(|b| trial.cost < b.cost)
            {
                best = Some(trial);
            }
        }
        let best = best?;
        let noise = (best.cost / whitened.values.len() as f64).max(1.0);
        if self.least_gain > 0.0 && (whitened.background_cost()? - best.cost) / noise < self.least_gain {
            return None;
        }
        let limits =
            [self.narrowest_m, self.broadest_m].map(|m| (m / WIDTH_PER_SCALE / whitened.unit_m).ln());
        let best = whitened.descend(best, limits)?;
        whitened.profile(&best, limits, self.noise_is_known)
    }
}

/// The data of a fit, whitened, with distance in units of half the window about its middle.
struct Whitened {
    /// Distance of each cell.
    unit: Vec<f64>,
    unit_m: f64,
    middle_m: f64,
    mean: f64,
    whitener: Whitener,
    values: Vec<f64>,
    level: Vec<f64>,
    slope: Vec<f64>,
    /// Weight that draws the slope to zero.
    slope_weight: f64,
}

/// A centre and a scale, with the linear parameters that fit best there.
struct Trial {
    centre: f64,
    scale: f64,
    linear: [f64; 3],
    cost: f64,
}

type Columns = [Vec<f64>; PARAMETERS];

impl Whitened {
    fn new(problem: &Problem) -> Option<Self> {
        let cells = problem.cells;
        let (first, last) = (cells.first()?, cells.last()?);
        let middle_m = 0.5 * (first.distance_m + last.distance_m);
        let unit_m = 0.5 * (last.distance_m - first.distance_m);
        if unit_m <= 0.0 {
            return None;
        }
        let unit: Vec<f64> = cells.iter().map(|c| (c.distance_m - middle_m) / unit_m).collect();
        let mean = cells.iter().map(|c| c.value).sum::<f64>() / cells.len() as f64;
        let whitener = Whitener::new(cells, problem.noise);
        let white = |mut column: Vec<f64>| {
            whitener.whiten(&mut column);
            column
        };
        let values = white(cells.iter().map(|c| c.value - mean).collect());
        let level = white(vec![1.0; cells.len()]);
        let (slope, slope_weight) = match problem.background {
            // a column of zeros with a weight of one keeps the slope at zero
            Background::Level => (vec![0.0; cells.len()], 1.0),
            Background::Slope { sd_per_m } => (white(unit.clone()), (sd_per_m * unit_m).powi(-2)),
        };
        Some(Self { unit, unit_m, middle_m, mean, whitener, values, level, slope, slope_weight })
    }

    fn to_unit(&self, distance_m: f64) -> f64 {
        (distance_m - self.middle_m) / self.unit_m
    }

    /// Best level, slope and step for a centre and a scale.
    fn trial(&self, centre: f64, scale: f64) -> Option<Trial> {
        let mut step = self.unit.clone();
        half_steps(centre, scale, &mut step);
        self.whitener.whiten(&mut step);
        let columns = [&self.level, &self.slope, &step];
        let mut normal = SMatrix::<f64, 3, 3>::from_fn(|i, j| dot(columns[i], columns[j]));
        normal[(SLOPE, SLOPE)] += self.slope_weight;
        let right = SVector::<f64, 3>::from_fn(|i, _| dot(columns[i], &self.values));
        let linear: [f64; 3] = normal.cholesky()?.solve(&right).into();
        let misfit: f64 = (0..self.values.len())
            .map(|i| (self.values[i] - (0..3).map(|k| linear[k] * columns[k][i]).sum::<f64>()).powi(2))
            .sum();
        Some(Trial { centre, scale, linear, cost: misfit + self.slope_weight * linear[SLOPE].powi(2) })
    }

    /// Sum of squares of the background alone.
    fn background_cost(&self) -> Option<f64> {
        let columns = [&self.level, &self.slope];
        let mut normal = SMatrix::<f64, 2, 2>::from_fn(|i, j| dot(columns[i], columns[j]));
        normal[(SLOPE, SLOPE)] += self.slope_weight;
        let right = SVector::<f64, 2>::from_fn(|i, _| dot(columns[i], &self.values));
        let linear = normal.cholesky()?.solve(&right);
        Some(dot(&self.values, &self.values) - right.dot(&linear))
    }

    /// Derivatives of the model by its parameters, whitened, and what it leaves of the data.
    fn derivatives(&self, trial: &Trial) -> (Columns, Vec<f64>) {
        let height = trial.linear[STEP];
        let n = self.unit.len();
        let (mut step, mut centre, mut ln_scale) =
            (Vec::with_capacity(n), Vec::with_capacity(n), Vec::with_capacity(n));
        for x in &self.unit {
            let z = (x - trial.centre) / trial.scale;
            let tanh = tanh(z);
            let by_z = 0.5 * height * (1.0 - tanh * tanh);
            step.push(0.5 * tanh);
            centre.push(-by_z / trial.scale);
            ln_scale.push(-by_z * z);
        }
        for column in [&mut step, &mut centre, &mut ln_scale] {
            self.whitener.whiten(column);
        }
        let columns = [self.level.clone(), self.slope.clone(), step, centre, ln_scale];
        let left = (0..n)
            .map(|i| self.values[i] - (0..3).map(|k| trial.linear[k] * columns[k][i]).sum::<f64>())
            .collect();
        (columns, left)
    }

    fn normal(&self, columns: &Columns) -> SMatrix<f64, PARAMETERS, PARAMETERS> {
        let mut normal = SMatrix::zeros();
        for i in 0..PARAMETERS {
            for j in i..PARAMETERS {
                normal[(i, j)] = dot(&columns[i], &columns[j]);
                normal[(j, i)] = normal[(i, j)];
            }
        }
        normal[(SLOPE, SLOPE)] += self.slope_weight;
        normal
    }

    /// Levenberg–Marquardt in centre and logarithm of the scale.
    fn descend(&self, mut best: Trial, [least, greatest]: [f64; 2]) -> Option<Trial> {
        const MOST_STEPS: usize = 40;
        /// Change of centre (in scales) and of ln scale that is none.
        const SETTLED: f64 = 1e-7;
        let mut damping = 1e-3;
        let mut at = self.derivatives(&best);
        for _ in 0..MOST_STEPS {
            let (columns, left) = &at;
            let mut normal = self.normal(columns);
            let mut right = SVector::<f64, PARAMETERS>::from_fn(|i, _| dot(&columns[i], left));
            right[SLOPE] -= self.slope_weight * best.linear[SLOPE];
            for i in 0..PARAMETERS {
                normal[(i, i)] += damping * normal[(i, i)] + f64::MIN_POSITIVE;
            }
            let change = normal.cholesky()?.solve(&right);
            let centre = (best.centre + change[CENTRE]).clamp(-1.0, 1.0);
            let ln_scale = (best.scale.ln() + change[LN_SCALE].clamp(-1.0, 1.0)).clamp(least, greatest);
            let moved = ((centre - best.centre) / best.scale).abs().max((ln_scale - best.scale.ln()).abs());
            let trial = self.trial(centre, ln_scale.exp())?;
            if trial.cost <= best.cost {
                best = trial;
                damping = (damping * 0.2).max(1e-9);
                if moved < SETTLED {
                    break;
                }
                at = self.derivatives(&best);
            } else {
                damping *= 8.0;
                if moved < SETTLED || damping > 1e6 {
                    break;
                }
            }
        }
        Some(best)
    }

    fn profile(&self, best: &Trial, limits: [f64; 2], noise_is_known: bool) -> Option<Profile> {
        let (columns, left) = self.derivatives(best);
        let mut normal = self.normal(&columns);
        // at a limit the width is given and not found
        let ln_scale = best.scale.ln();
        let width_is_found = ln_scale > limits[0] + 1e-6 && ln_scale < limits[1] - 1e-6;
        if !width_is_found {
            normal.fill_row(LN_SCALE, 0.0);
            normal.fill_column(LN_SCALE, 0.0);
            normal[(LN_SCALE, LN_SCALE)] = 1.0;
        }
        let covariance = normal.cholesky()?.inverse();
        let factor = NoiseFactor::of(&left, noise_is_known);
        let se = |i: usize| (factor.of_errors * covariance[(i, i)]).sqrt();
        let width_m = WIDTH_PER_SCALE * best.scale * self.unit_m;
        let slope_per_m = best.linear[SLOPE] / self.unit_m;
        let centre_m = self.middle_m + best.centre * self.unit_m;
        Some(Profile {
            level: self.mean + best.linear[LEVEL] + best.linear[SLOPE] * best.centre,
            slope_per_m,
            step: best.linear[STEP],
            centre_m,
            width_m,
            level_se: se(LEVEL),
            step_se: se(STEP),
            centre_se_m: se(CENTRE) * self.unit_m,
            width_se_m: if width_is_found { se(LN_SCALE) * width_m } else { 0.0 },
            evidence: (self.background_cost()? - best.cost).max(0.0)
                / factor.of_evidence.max(f64::MIN_POSITIVE),
        })
    }
}

/// How much larger the noise is than its model says: by the size of the residuals, and by as many independent ones as
/// there are fewer where neighbours are alike, (1 + r) / (1 - r) (Bartlett 1946, from memory).
///
/// A known noise is a floor: residuals that happen to be small do not make the fit surer.
struct NoiseFactor {
    /// Of the variances of the parameters.
    of_errors: f64,
    /// Of the gain of a step: where the noise is known, residuals that happen to be large make it less sure as well.
    of_evidence: f64,
}

impl NoiseFactor {
    fn of(left: &[f64], noise_is_known: bool) -> Self {
        const GREATEST_CORRELATION: f64 = 0.9;
        let sum = dot(left, left);
        let degrees = (left.len() - PARAMETERS) as f64;
        let size = sum / degrees;
        let neighbours: f64 = left.windows(2).map(|w| w[0] * w[1]).sum();
        // the standard error of a correlation of none; only what is beyond it counts
        let unsure = 1.0 / (left.len() as f64).sqrt();
        let correlation =
            if sum > 0.0 { (neighbours / sum - unsure).clamp(0.0, GREATEST_CORRELATION) } else { 0.0 };
        let fewer = (1.0 + correlation) / (1.0 - correlation);
        if !noise_is_known {
            return Self { of_errors: size * fewer, of_evidence: size * fewer };
        }
        // the standard error of a mean square of ones; again only what is beyond it
        let beyond = (size - (2.0 / degrees).sqrt()).max(1.0);
        Self { of_errors: beyond * fewer, of_evidence: (size * fewer).max(1.0) }
    }
}

/// Turns places into heights of a step from minus to plus a half.
// wider lanes where the machine has them; each lane does the same on every machine
#[multiversion(targets("x86_64+avx+avx2"))]
fn half_steps(centre: f64, scale: f64, places: &mut [f64]) {
    for place in places {
        *place = 0.5 * tanh((*place - centre) / scale);
    }
}

fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}
