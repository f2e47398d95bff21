//! How wrong are log and compass, by the trip's own courses?
//!
//! On every course the velocity over ground is the true velocity through the water plus the current. Log and compass
//! errors turn with the boat, the current does not: several courses tell them apart (Joyce 1989, J. Atmos. Oceanic
//! Technol. 6, 169–172; Pollard & Read 1989, same volume, 859–865).

use crate::model::{Slopes, Spread, TERMS, Terms, spread_of, sums_of_water_and_slopes, water};
use crate::stats::median;
use crate::steady::{GAP_S, Row, steady_s};
use crate::walk::{Before, Step, best_walk};
use crate::{Settings, Velocity};

/// A change between neighbouring means beyond this many standard deviations is other water, not drift.
const JUMP_SD: f64 = 4.0;
/// A piece shorter than this part of [`Settings::mean_s`] has no mean.
const LEAST_PART: f64 = 0.25;
/// Rounds of looking for jumps, each about terms that are better than the last ones.
const ROUNDS: usize = 6;
/// Rounds end when no term moves by more than this part of its standard error.
const ARRIVED: f64 = 0.01;
/// Fewer changes between means say too little about noise.
const LEAST_STEPS: usize = 3;
/// Median of the squared length of a vector of two standard normal components (chi square, two degrees of freedom).
const MEDIAN_SQUARE: f64 = 2.0 * std::f64::consts::LN_2;
/// Up to this many times its median the speed through the water is the ordinary one.
const ORDINARY_SPEED: f64 = 1.5;

/// Errors of log and compass, and the noise that is left.
#[derive(Clone, Debug)]
pub(crate) struct Fit {
    pub terms: Terms,
    pub spread: Spread,
    /// What the changes alone say of the terms: inverse of a covariance.
    pub told: Spread,
    /// The same as it scatters from change to change.
    pub scatter: Spread,
    /// Variance of the noise of one component in a mean over [`Settings::mean_s`], m²/s².
    pub noise_mps2: f64,
    /// Variance by which one component of the current walks in a second, m²/s³.
    pub walk_mps2_per_s: f64,
    /// Speed through the water at which the noise is that: the median of the trip, m/s.
    pub stw_mps: f64,
    /// Changes between means that it rests on.
    pub steps: usize,
}

impl Fit {
    /// How much more the noise varies at a speed through the water: a direction that is off by a degree moves the tip
    /// of a velocity the further, the longer it is.
    pub fn noise_factor(&self, stw_mps: f64) -> f64 {
        noise_factor(stw_mps, self.stw_mps)
    }

    /// Covariance (east-east, east-north, north-north) of a velocity through the water by what is open of the terms.
    pub fn spread_of(&self, slopes: &Slopes) -> (f64, f64, f64) {
        spread_of(slopes, &self.spread)
    }
}

fn noise_factor(stw_mps: f64, ordinary_mps: f64) -> f64 {
    let ratio = stw_mps / ordinary_mps;
    if ratio < ORDINARY_SPEED { 1.0 } else { ratio * ratio }
}

/// Mean of rows.
#[derive(Clone, Debug)]
pub(crate) struct Mean {
    pub time_s: f64,
    pub distance_m: f64,
    pub ground: Velocity,
    /// True velocity through the water.
    pub water: Velocity,
    pub slopes: Slopes,
}

/// Mean of rows; not of none.
pub(crate) fn mean(rows: &[Row], terms: &Terms) -> Mean {
    let part = (rows.len() as f64).recip();
    let (sum_of_water, sums_of_slopes) = sums_of_water_and_slopes(terms, rows.iter().map(|row| &row.reading));
    Mean {
        time_s: rows.iter().map(|r| r.time_s).sum::<f64>() * part,
        distance_m: rows.iter().map(|r| r.distance_m).sum::<f64>() * part,
        ground: rows.iter().map(|r| r.ground).sum::<Velocity>() * part,
        water: sum_of_water * part,
        slopes: sums_of_slopes.map(|sum| sum * part),
    }
}

/// Mean current of rows; not of none.
pub(crate) fn mean_current(rows: &[Row], terms: &Terms) -> Velocity {
    let current = |row: &Row| row.ground - water(terms, &row.reading);
    rows.iter().map(current).sum::<Velocity>() * (rows.len() as f64).recip()
}

/// Pieces of the track: each is unbroken, at most [`Settings::mean_s`] long, and so ends at a turn.
pub(crate) fn pieces<'a>(rows: &'a [Row], settings: &Settings) -> Vec<&'a [Row]> {
    let mut pieces = Vec::new();
    for unbroken in rows.chunk_by(|a, b| b.time_s - a.time_s <= GAP_S) {
        let index = |row: &Row| ((row.time_s - unbroken[0].time_s) / settings.mean_s).floor();
        let mut rest = unbroken;
        while let Some(first) = rest.first() {
            let of_first = index(first);
            let (piece, later) = rest.split_at(rest.partition_point(|row| index(row) <= of_first).max(1));
            if length_s(piece) >= LEAST_PART * settings.mean_s {
                pieces.push(piece);
            }
            rest = later;
        }
    }
    pieces
}

/// Steady time in rows, s.
pub(crate) fn length_s(rows: &[Row]) -> f64 {
    steady_s(rows.iter().map(|row| &row.time_s))
}

/// Log and compass errors from rows in time order and from what was known before; `None` for too few rows.
///
/// The current is a random walk seen through white noise; how fast it walks is estimated along with the rest, and where
/// it jumps the means before and after are not compared. Standard errors so account for a current that changes while
/// the boat stays on a course.
pub(crate) fn calibrate(rows: &[Row], before: &Before, settings: &Settings) -> Option<Fit> {
    let pieces = pieces(rows, settings);
    let speeds: Vec<f64> = rows.iter().map(|row| row.reading.stw_mps).collect();
    let stw_mps = median(&speeds);
    let mut terms = before.mean;
    let mut jumps = vec![false; pieces.len().saturating_sub(1)];
    let mut fit = None;
    for _ in 0..ROUNDS {
        let mut steps = steps(&pieces, &terms, stw_mps, settings);
        for (step, &jump) in steps.iter_mut().zip(&jumps) {
            step.jump = jump;
        }
        let used = jumps.iter().filter(|jump| !**jump).count();
        if used < LEAST_STEPS {
            return fit;
        }
        let walk = best_walk(&steps, &Before { mean: before.mean - terms, ..*before })?;
        terms += walk.terms;
        fit = Some(Fit {
            terms,
            spread: walk.spread,
            told: walk.told,
            scatter: walk.scatter,
            noise_mps2: walk.noise_mps2,
            walk_mps2_per_s: walk.ratio * walk.noise_mps2 / settings.mean_s,
            stw_mps,
            steps: used,
        });
        let off = walk.residuals(&steps);
        let squares: Vec<f64> = off.iter().flatten().map(|r| r.dot(*r)).collect();
        let limit = JUMP_SD * JUMP_SD * median(&squares) / MEDIAN_SQUARE;
        let mut found = false;
        for (jump, off) in jumps.iter_mut().zip(off) {
            let jumps = off.is_some_and(|off| off.dot(off) > limit);
            *jump |= jumps;
            found |= jumps;
        }
        let moved = (0..TERMS).any(|i| walk.terms[i].abs() > ARRIVED * walk.spread[(i, i)].sqrt());
        if !found && !moved {
            break;
        }
    }
    fit
}

fn steps(pieces: &[&[Row]], terms: &Terms, stw_mps: f64, settings: &Settings) -> Vec<Step> {
    let means: Vec<Mean> = pieces.iter().map(|piece| mean(piece, terms)).collect();
    // a short piece averages less of the noise away
    let noise: Vec<f64> = means
        .iter()
        .zip(pieces)
        .map(|(mean, piece)| {
            noise_factor(mean.water.speed_mps(), stw_mps) * settings.mean_s / length_s(piece).max(1.0)
        })
        .collect();
    (1..means.len())
        .map(|i| {
            let (from, to) = (&means[i - 1], &means[i]);
            Step {
                apart: (to.time_s - from.time_s) / settings.mean_s,
                noise: (noise[i - 1], noise[i]),
                change: (to.ground - to.water) - (from.ground - from.water),
                slopes: std::array::from_fn(|k| to.slopes[k] - from.slopes[k]),
                jump: false,
            }
        })
        .collect()
}
