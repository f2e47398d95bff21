//! What does a trip say about the current, and what does it not say?

use waterseam_units::angle::length_direction;

use crate::align::{Readings, lag};
use crate::calibrate::{Fit, calibrate, mean, pieces};
use crate::calibration::Known;
use crate::clear::{open, with_held};
use crate::edges::edges;
use crate::ground::{Ground, ground};
use crate::model::{self, DEVIATION, SCALE, TERMS};
use crate::no_compass::{self, Lack};
use crate::stats::median;
use crate::steady::{Row, Winds, reads_zero, steady_rows, unstuck};
use crate::walk::Before;
use crate::windows::windows;
use crate::{Basis, Calibration, Carried, Currents, Motion, Settings, Velocity};

/// A log whose true speed is not between these parts of its reading is broken, not merely wrong.
const SCALES: std::ops::RangeInclusive<f64> = 0.5..=2.0;
/// Fewer changes between means say nothing about log and compass.
const LEAST_STEPS_TO_CALIBRATE: usize = 8;
/// Where a trip leaves less than this of the standard error of earlier ones, it has said something itself.
const ADDS: f64 = 0.9;

const NO_GROUND: &str = "The current is not known: there is no speed and course over ground.";
const NOT_STEADY: &str =
    "The current is not known: there is too little steady motion with a working speed log.";

/// What the instruments of a trip recorded, made ready for estimates with different knowledge of log and compass.
pub struct Record<'a> {
    motion: Motion<'a>,
    settings: &'a Settings,
    ground: Ground,
    /// The log's readings where it was not stuck.
    stw_mps: Vec<Option<f64>>,
    is_stuck: bool,
    /// What log and compass showed, where neither lacks.
    both: Result<Both, Lack>,
}

/// What log and compass showed.
struct Both {
    readings: Readings,
    winds: Winds,
    /// By how much they lag, by this trip alone.
    lag_s: Option<Known>,
}

/// Log and compass of a trip, with the rows that they are known from.
struct Fitted {
    rows: Vec<Row>,
    fit: Fit,
    calibration: Option<Calibration>,
}

/// Current along the track and its edges, with log and compass calibrated from the trip's own courses where these
/// determine it, and from earlier trips of the boat where there is such a calibration.
///
/// Where neither does, the windows carry the standard errors of instruments that nobody calibrated, no edge is claimed, and a
/// remark says so. Without a heading, and without a log that works, the courses over ground give what they can
/// ([`Method`](crate::Method)). Nothing is given without speed over ground, or where the log is stuck.
pub fn estimate(motion: Motion, prior: Option<&Calibration>, settings: &Settings) -> Currents {
    Record::new(motion, settings).estimate(prior)
}

impl<'a> Record<'a> {
    /// Makes a trip ready: what it takes does not depend on what is known of log and compass.
    pub fn new(motion: Motion<'a>, settings: &'a Settings) -> Self {
        let ground = ground(&motion, settings);
        let (stw_mps, is_stuck) = unstuck(&motion, &ground.velocity, settings);
        let both = if let Some(lack) = lack(&motion) {
            Err(lack)
        } else {
            let readings = Readings::new(&Motion { stw_mps: &stw_mps, ..motion });
            let lag_s = lag(motion.time_s, &readings, &ground.velocity, settings);
            Ok(Both { readings, winds: Winds::new(&motion), lag_s })
        };
        Self { motion, settings, ground, stw_mps, is_stuck, both }
    }

    /// See [`estimate`].
    pub fn estimate(&self, prior: Option<&Calibration>) -> Currents {
        let Self { motion, settings, .. } = self;
        let velocity = &self.ground.velocity;
        if velocity.iter().flatten().next().is_none() {
            return Currents { remarks: vec![NO_GROUND.to_owned()], ..Currents::default() };
        }
        if let Err(lack) = self.both {
            let earlier = prior.map(|calibration| &calibration.carried);
            return no_compass::currents(motion, velocity, &self.stw_mps, lack, earlier, settings);
        }
        let mut remarks = Vec::new();
        if self.is_stuck {
            remarks.push(
                "The speed log was stuck for part of the trip; that part tells nothing about the current."
                    .to_owned(),
            );
        }
        if let Some(se_mps) = self.ground.positions_se_mps {
            remarks.push(format!(
                "The receiver's speed and course are too coarse for a current; the positions were taken instead, with an \
                 error of {se_mps:.2} m/s over {:.0} s.",
                2.0 * settings.slope_side_s
            ));
        }
        let Fitted { rows, fit, calibration } = match self.fitted(prior, &mut remarks) {
            Ok(fitted) => fitted,
            Err(remarks) => return Currents { remarks, ..Currents::default() },
        };
        let edges = if calibration.is_some() {
            edges(&rows, &fit, settings)
        } else {
            remarks.push(uncalibrated_remark(&rows, settings));
            Vec::new()
        };
        let edge_times_s: Vec<f64> = edges.iter().map(|edge| edge.time_s).collect();
        Currents { windows: windows(&rows, &fit, &edge_times_s, settings), edges, calibration, remarks }
    }

    /// The calibration that an estimate would give.
    pub fn calibration(&self, prior: Option<&Calibration>) -> Option<Calibration> {
        self.fitted(prior, &mut Vec::new()).ok()?.calibration
    }

    /// Log and compass; where they give no current, all remarks that are to be made of it.
    fn fitted(&self, prior: Option<&Calibration>, remarks: &mut Vec<String>) -> Result<Fitted, Vec<String>> {
        let not_steady = || vec![NOT_STEADY.to_owned()];
        let settings = self.settings;
        let Ok(Both { readings, winds, lag_s }) = &self.both else { return Err(not_steady()) };
        let earlier = prior.map(|calibration| &calibration.carried);
        let lag_s = best_of(*lag_s, earlier.and_then(|carried| carried.lag_s));
        let aligned = readings.aligned(self.motion.time_s, lag_s.map_or(0.0, |lag| lag.value));
        let rows = steady_rows(&self.motion, &self.ground.velocity, winds, &aligned, settings);
        let (fit, known) = fit(&rows, earlier, remarks, settings).ok_or_else(not_steady)?;
        if !SCALES.contains(&fit.terms[SCALE]) {
            remarks.push(format!(
                "The current is not known: by the courses run, the true speed through the water is {:.1} times what the \
                 speed log shows.",
                fit.terms[SCALE]
            ));
            return Err(std::mem::take(remarks));
        }
        let calibration = known.map(|basis| {
            let carried = Carried::new(&fit.terms, &fit.spread, lag_s);
            Calibration::of(&carried, fit.stw_mps, basis, settings)
        });
        Ok(Fitted { rows, fit, calibration })
    }
}

fn lack(motion: &Motion) -> Option<Lack> {
    let any = |column: &[Option<f64>]| column.iter().flatten().any(|v| v.is_finite());
    match (any(motion.stw_mps), any(motion.heading_deg)) {
        (false, false) => Some(Lack::Both),
        (false, true) => Some(Lack::WaterSpeed),
        (true, _) if reads_zero(motion.stw_mps) => Some(Lack::LogReadsZero),
        (true, false) => Some(Lack::Heading),
        (true, true) => None,
    }
}

/// Two numbers for one thing, weighed by their errors.
fn best_of(one: Option<Known>, other: Option<Known>) -> Option<Known> {
    let (Some(a), Some(b)) = (one, other) else { return one.or(other) };
    let (of_a, of_b) = (a.se.powi(-2), b.se.powi(-2));
    Some(Known { value: (a.value * of_a + b.value * of_b) / (of_a + of_b), se: (of_a + of_b).powf(-0.5) })
}

/// Log and compass from this trip and earlier ones, and what a calibration rests on; without it, they are raw.
fn fit(
    rows: &[Row],
    earlier: Option<&Carried>,
    remarks: &mut Vec<String>,
    settings: &Settings,
) -> Option<(Fit, Option<Basis>)> {
    let raw = Before::new(model::raw_terms(), &model::raw_spread(settings))?;
    let alone = calibrate(rows, &raw, settings)?;
    let own = || {
        let several = alone.steps >= LEAST_STEPS_TO_CALIBRATE && one_course_deg(rows, settings).is_none();
        several.then(|| determined(&alone, rows, &raw, settings)).flatten()
    };
    let own_or_raw = || match own() {
        Some(fit) => Some((fit, Some(Basis::ThisTrip))),
        None => Some((uncalibrated(rows, &raw, settings)?, None)),
    };
    let Some(earlier) = earlier else { return own_or_raw() };
    let before = Before::new(earlier.mean(), &(earlier.spread() + model::since_earlier(settings)))?;
    if contradicts(&alone, &before, settings) {
        remarks.push(
            "Log and compass read differently from earlier trips; what those said of them is not used."
                .to_owned(),
        );
        return own_or_raw();
    }
    let both = calibrate(rows, &before, settings)?;
    let Some(both) = determined(&both, rows, &before, settings) else { return own_or_raw() };
    let adds = [SCALE, DEVIATION].iter().any(|&i| both.spread[(i, i)] < ADDS * ADDS * before.spread[(i, i)]);
    Some((both, Some(if adds { Basis::Both } else { Basis::EarlierTrips })))
}

/// The fit with the terms held that it leaves open; `None` where the velocity through the water remains too open.
fn determined(all: &Fit, rows: &[Row], before: &Before, settings: &Settings) -> Option<Fit> {
    let mut fit = all.clone();
    let mut clear = [true; TERMS];
    while let Some(group) = open(&fit.spread, clear, settings) {
        for &term in group {
            clear[term] = false;
        }
        fit = calibrate(rows, &before.held(clear), settings)?;
    }
    let [information, scatter] = [fit.told, fit.scatter].map(|steps| steps + before.information);
    fit.spread = with_held(&information, &scatter, &before.spread, clear)?;
    let errors: Vec<f64> = pieces(rows, settings)
        .iter()
        .map(|piece| {
            let mean = mean(piece, &fit.terms);
            let (east, _, north) = fit.spread_of(&mean.slopes);
            (0.5 * (east + north)).sqrt() / mean.water.speed_mps()
        })
        .collect();
    (median(&errors) <= settings.calibration_se_max).then_some(fit)
}

/// Instruments that are taken for right, with the errors of raw ones.
fn uncalibrated(rows: &[Row], raw: &Before, settings: &Settings) -> Option<Fit> {
    let fit = calibrate(rows, &raw.held([false; TERMS]), settings)?;
    Some(Fit { terms: raw.mean, spread: raw.spread, ..fit })
}

/// Whether the trip alone says something else than the earlier ones (chi square of the difference).
fn contradicts(alone: &Fit, before: &Before, settings: &Settings) -> bool {
    let off = alone.terms - before.mean;
    let Some(cholesky) = (alone.spread + before.spread).cholesky() else { return true };
    let square = off.dot(&cholesky.solve(&off));
    // Wilson and Hilferty 1931: the cube root of a chi square over its degrees of freedom is nearly normal
    let k = TERMS as f64;
    let normal = ((square / k).cbrt() - (1.0 - 2.0 / (9.0 * k))) / (2.0 / (9.0 * k)).sqrt();
    normal > settings.earlier_sd_max
}

/// The course of a boat that kept to one, degrees true.
fn one_course_deg(rows: &[Row], settings: &Settings) -> Option<f64> {
    let sum: Velocity = rows.iter().map(|row| row.reading.bow).sum();
    let (length, direction_deg) = length_direction(sum.east_mps, sum.north_mps);
    direction_deg.filter(|_| length > settings.one_course * rows.len() as f64)
}

fn uncalibrated_remark(rows: &[Row], settings: &Settings) -> String {
    let why = match one_course_deg(rows, settings) {
        Some(course_deg) => format!("the boat kept to one course, about {course_deg:.0}° true"),
        None => "the courses and the current leave too much open".to_owned(),
    };
    format!(
        "Speed log and compass could not be checked against the track: {why}. The current given allows for a log that \
         is wrong by {:.0} % and a compass that is wrong by {:.0}°; edges are not looked for.",
        100.0 * settings.raw_scale_se,
        settings.raw_heading_se_deg.hypot(settings.raw_cycle_se_deg),
    )
}

#[cfg(test)]
#[path = "estimate_tests.rs"]
mod tests;
