//! How wrong are log and compass, by the trip's own courses?
//!
//! On every course the velocity over ground is the true velocity through the water plus the current. Log and compass
//! errors turn with the boat, the current does not: several courses tell them apart (Joyce 1989, J. Atmos. Oceanic
//! Technol. 6, 169–172; Pollard & Read 1989, same volume, 859–865).

use crate::stats::median;
use crate::steady::{GAP_S, Row, steady_s};
use crate::{Settings, Velocity};

/// A change between neighbouring means beyond this many standard deviations is other water, not drift.
const JUMP_SD: f64 = 4.0;
/// A piece shorter than this part of [`Settings::mean_s`] has no mean.
const LEAST_PART: f64 = 0.25;
/// Rounds of looking for jumps.
const ROUNDS: usize = 5;
/// Fewer changes between means say nothing about log and compass, and too little about noise.
const LEAST_STEPS_TO_CALIBRATE: usize = 8;
const LEAST_STEPS: usize = 3;
/// Median of the squared length of a vector of two standard normal components (chi square, two degrees of freedom).
const MEDIAN_SQUARE: f64 = 2.0 * std::f64::consts::LN_2;
/// Median of the square of a standard normal variable (chi square, one degree of freedom).
const MEDIAN_SQUARE_OF_ONE: f64 = 0.454_936_423_119_572_8;
/// Up to this many times its median the speed through the water is the ordinary one.
const ORDINARY_SPEED: f64 = 1.5;
/// Ratios of drift to noise variance that are tried: this many to a decade, from 1e-5 to 100.
const RATIOS_PER_DECADE: i32 = 4;

/// Errors of log and compass as a factor on the velocity through the water, and the noise that is left.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Fit {
    /// True water velocity along the measured one, as a part of it.
    pub along: f64,
    /// True water velocity a quarter turn clockwise of the measured one, as a part of it.
    pub across: f64,
    /// Variance of both.
    pub variance: f64,
    /// Variance of the noise of one component in a mean over [`Settings::mean_s`], m²/s².
    pub noise_mps2: f64,
    /// The part of it that shorter means would have more of and longer ones less: noise from row to row, m²/s².
    pub white_mps2: f64,
    /// Speed through the water at which the noise is that: the median of the trip, m/s.
    pub stw_mps: f64,
}

impl Fit {
    /// How much more the noise varies at a speed through the water: a direction that is off by a degree moves the tip
    /// of a velocity the further, the longer it is.
    pub fn noise_factor(&self, stw_mps: f64) -> f64 {
        let ratio = stw_mps / self.stw_mps;
        if ratio < ORDINARY_SPEED { 1.0 } else { ratio * ratio }
    }

    /// The true velocity through the water behind a measured one.
    pub fn true_water(&self, measured: Velocity) -> Velocity {
        measured * self.along + measured.quarter_clockwise() * self.across
    }

    /// True over measured speed, where the mean velocities over ground are shortened by `ground_short` and those through
    /// the water by `water_short` ([`shortening`]). The current needs no such correction: it compares means with means.
    pub fn scale(&self, ground_short: f64, water_short: f64) -> f64 {
        self.along.hypot(self.across) * water_short / ground_short
    }

    /// True minus measured heading, degrees.
    pub fn offset_deg(&self) -> f64 {
        self.across.atan2(self.along).to_degrees()
    }
}

/// Mean velocities over pieces of the track: each is unbroken, at most [`Settings::mean_s`] long, and so ends at a turn.
pub(crate) fn means(rows: &[Row], settings: &Settings) -> Vec<Row> {
    let mut means = Vec::new();
    for unbroken in rows.chunk_by(|a, b| b.time_s - a.time_s <= GAP_S) {
        let index = |row: &Row| ((row.time_s - unbroken[0].time_s) / settings.mean_s).floor();
        let pieces = unbroken.chunk_by(|a, b| index(a) == index(b));
        means.extend(pieces.filter(|piece| steady_s(piece) >= LEAST_PART * settings.mean_s).map(mean));
    }
    means
}

/// Mean of rows.
pub(crate) fn mean(rows: &[Row]) -> Row {
    let part = (rows.len() as f64).recip();
    Row {
        time_s: rows.iter().map(|r| r.time_s).sum::<f64>() * part,
        distance_m: rows.iter().map(|r| r.distance_m).sum::<f64>() * part,
        ground: rows.iter().map(|r| r.ground).sum::<Velocity>() * part,
        water: rows.iter().map(|r| r.water).sum::<Velocity>() * part,
    }
}

/// Log and compass errors from means in time order; `None` for too few means.
///
/// The current is a random walk seen through white noise; how fast it walks is estimated along with the rest
/// (restricted maximum likelihood), and where it jumps the means before and after are not compared. Standard errors
/// so account for a current that changes while the boat stays on a course.
pub(crate) fn calibrate(rows: &[Row], settings: &Settings) -> Option<Fit> {
    fit(rows, settings, true)
}

/// The noise of means where log and compass are taken for right, with the errors that raw instruments have.
pub(crate) fn uncalibrated(rows: &[Row], settings: &Settings) -> Option<Fit> {
    let variance = settings.raw_scale_se.hypot(settings.raw_heading_se_deg.to_radians()).powi(2) / 2.0;
    fit(rows, settings, false).map(|fit| Fit { variance, ..fit })
}

/// How much shorter a mean velocity is than the mean speed because its direction is noisy from row to row: exp(-σ²/2)
/// for a normal spread σ (Mardia & Jupp 2000, Directional Statistics, section 3.4).
pub(crate) fn shortening(rows: &[Row], velocity: impl Fn(&Row) -> Velocity) -> f64 {
    let near = rows.windows(2).filter(|pair| pair[1].time_s - pair[0].time_s <= GAP_S);
    let turn = |pair: &[Row]| {
        let (from, to) = (velocity(&pair[0]), velocity(&pair[1]));
        from.quarter_clockwise().dot(to).atan2(from.dot(to))
    };
    let squares: Vec<f64> = near.map(|pair| turn(pair).powi(2)).collect();
    // a turn between two rows has twice the variance of a direction
    (-0.25 * median(&squares) / MEDIAN_SQUARE_OF_ONE).exp()
}

/// Change from one mean to the next.
struct Step {
    /// Time between the two, in lengths of a mean.
    apart: f64,
    ground: Velocity,
    water: Velocity,
    /// Whether the current jumps here.
    jump: bool,
}

fn fit(rows: &[Row], settings: &Settings, with_errors: bool) -> Option<Fit> {
    let mut steps: Vec<Step> = means(rows, settings)
        .windows(2)
        .map(|pair| Step {
            apart: (pair[1].time_s - pair[0].time_s) / settings.mean_s,
            ground: pair[1].ground - pair[0].ground,
            water: pair[1].water - pair[0].water,
            jump: false,
        })
        .collect();
    let mut best = best_walk(&steps, with_errors)?;
    for _ in 0..ROUNDS {
        let off = best.residuals(&steps);
        let squares: Vec<f64> = off.iter().flatten().map(|r| r.dot(*r)).collect();
        let limit = JUMP_SD * JUMP_SD * median(&squares) / MEDIAN_SQUARE;
        let mut found = false;
        for (step, off) in steps.iter_mut().zip(off) {
            let jumps = off.is_some_and(|off| off.dot(off) > limit);
            step.jump |= jumps;
            found |= jumps;
        }
        if !found {
            break;
        }
        best = best_walk(&steps, with_errors)?;
    }
    let white_mps2 = white_mps2(rows, &best.fit, settings).min(best.fit.noise_mps2);
    let speeds: Vec<f64> = rows.iter().map(|row| best.fit.true_water(row.water).speed_mps()).collect();
    Some(Fit { white_mps2, stw_mps: median(&speeds), ..best.fit })
}

/// Variance of one component of a mean from noise that is independent from row to row.
fn white_mps2(rows: &[Row], fit: &Fit, settings: &Settings) -> f64 {
    let current = |row: &Row| row.ground - fit.true_water(row.water);
    let near: Vec<&[Row]> = rows.windows(2).filter(|pair| pair[1].time_s - pair[0].time_s <= GAP_S).collect();
    let (mut square, mut apart_s) = (0.0, 0.0);
    for pair in &near {
        let change = current(&pair[1]) - current(&pair[0]);
        square += change.dot(change);
        apart_s += pair[1].time_s - pair[0].time_s;
    }
    // two components, and a change has twice the variance of a row
    let row_mps2 = square / (4.0 * near.len().max(1) as f64);
    row_mps2 * (apart_s / near.len().max(1) as f64) / settings.mean_s
}

/// A fit at one ratio of drift to noise variance.
struct Walk {
    ratio: f64,
    fit: Fit,
    /// Minus twice the restricted log-likelihood, without constants.
    deviance: f64,
}

fn best_walk(steps: &[Step], with_errors: bool) -> Option<Walk> {
    let used = steps.iter().filter(|step| !step.jump).count();
    if used < if with_errors { LEAST_STEPS_TO_CALIBRATE } else { LEAST_STEPS } {
        return None;
    }
    let exponents = -5 * RATIOS_PER_DECADE..=2 * RATIOS_PER_DECADE;
    let walks =
        exponents.map(|k| walk(steps, 10f64.powf(f64::from(k) / f64::from(RATIOS_PER_DECADE)), with_errors));
    walks.min_by(|a, b| a.deviance.total_cmp(&b.deviance))
}

/// Generalised least squares of the steps: their covariance is tridiagonal, because neighbours share a mean.
fn walk(steps: &[Step], ratio: f64, with_errors: bool) -> Walk {
    let (mut n, mut log_det) = (0.0, 0.0);
    let (mut water_square, mut ground_square, mut along, mut across) = (0.0, 0.0, 0.0, 0.0);
    whiten(steps, ratio, |variance, ground, water| {
        n += 2.0;
        log_det += 2.0 * variance.ln();
        water_square += water.dot(water) / variance;
        ground_square += ground.dot(ground) / variance;
        along += water.dot(ground) / variance;
        across += water.quarter_clockwise().dot(ground) / variance;
    });
    if with_errors {
        let (along, across) = (along / water_square, across / water_square);
        let left = ground_square - (along * along + across * across) * water_square;
        let noise = left.max(0.0) / (n - 2.0);
        let fit = Fit {
            along,
            across,
            variance: noise / water_square,
            noise_mps2: noise,
            white_mps2: noise,
            stw_mps: 1.0,
        };
        Walk { ratio, fit, deviance: (n - 2.0) * noise.ln() + log_det + 2.0 * water_square.ln() }
    } else {
        let noise = (ground_square - 2.0 * along + water_square).max(0.0) / n;
        let fit = Fit {
            along: 1.0,
            across: 0.0,
            variance: 0.0,
            noise_mps2: noise,
            white_mps2: noise,
            stw_mps: 1.0,
        };
        Walk { ratio, fit, deviance: n * noise.ln() + log_det }
    }
}

impl Walk {
    /// What the fit leaves of each step, in units of its standard deviation times that of the noise; `None` at jumps.
    fn residuals(&self, steps: &[Step]) -> Vec<Option<Velocity>> {
        let mut left = Vec::new();
        whiten(steps, self.ratio, |variance, ground, water| {
            left.push((ground - self.fit.true_water(water)) * variance.sqrt().recip());
        });
        let mut left = left.into_iter();
        steps.iter().map(|step| if step.jump { None } else { left.next() }).collect()
    }
}

/// Calls back with each step that is no jump, made independent of those before it, and its variance in units of the
/// noise (L D Lᵀ of the tridiagonal covariance).
fn whiten(steps: &[Step], ratio: f64, mut each: impl FnMut(f64, Velocity, Velocity)) {
    let mut before: Option<(f64, Velocity, Velocity)> = None;
    for step in steps {
        if step.jump {
            before = None;
            continue;
        }
        let (mut variance, mut ground, mut water) = (ratio * step.apart + 2.0, step.ground, step.water);
        if let Some((variance_before, ground_before, water_before)) = before {
            // neighbours share a mean, with opposite sign: covariance -1
            variance -= variance_before.recip();
            ground = ground + ground_before * variance_before.recip();
            water = water + water_before * variance_before.recip();
        }
        each(variance, ground, water);
        before = Some((variance, ground, water));
    }
}
