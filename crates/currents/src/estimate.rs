//! What does a trip say about the current, and what does it not say?

use waterseam_units::angle::length_direction;

use crate::calibrate::{Fit, calibrate, means, shortening, uncalibrated};
use crate::edges::edges;
use crate::steady::{Lack, Row, steady_rows};
use crate::windows::windows;
use crate::{Calibration, Currents, Motion, Settings, Velocity};

/// A log whose true speed is not between these parts of its reading is broken, not merely wrong.
const SCALES: std::ops::RangeInclusive<f64> = 0.5..=2.0;

/// Current along the track and its edges, with log and compass calibrated from the trip's own courses where these
/// determine it.
///
/// Where they do not, the windows carry the standard errors of instruments that nobody calibrated, and a remark says
/// so. Nothing is given where speed over ground, speed through the water or heading is missing, or where the log reads
/// zero or is stuck.
pub fn estimate(motion: Motion, settings: &Settings) -> Currents {
    let (rows, stuck) = match steady_rows(&motion, settings) {
        Ok(steady) => steady,
        Err(lack) => return Currents { remarks: vec![lack.remark().to_owned()], ..Currents::default() },
    };
    let mut remarks = Vec::new();
    if stuck {
        remarks.push(
            "The speed log was stuck for part of the trip; that part tells nothing about the current."
                .to_owned(),
        );
    }
    let means = means(&rows, settings);
    let fitted = calibrate(&rows, settings).filter(|fit| is_determined(fit, &means, settings));
    let Some(fit) = fitted.or_else(|| uncalibrated(&rows, settings)) else {
        remarks.push(Lack::SteadyMotion.remark().to_owned());
        return Currents { remarks, ..Currents::default() };
    };
    let calibration = fitted.map(|fit| calibration(&fit, &rows));
    if let Some(wrong) = calibration.filter(|calibration| !SCALES.contains(&calibration.log_scale)) {
        remarks.push(format!(
            "The current is not known: by the courses run, the true speed through the water is {:.1} times what the \
             speed log shows.",
            wrong.log_scale
        ));
        return Currents { remarks, ..Currents::default() };
    }
    if fitted.is_none() {
        remarks.push(uncalibrated_remark(&means, settings));
    }
    let edges = edges(&rows, &fit, settings);
    let edge_times_s: Vec<f64> = edges.iter().map(|edge| edge.time_s).collect();
    Currents { windows: windows(&rows, &fit, &edge_times_s, settings), edges, calibration, remarks }
}

fn calibration(fit: &Fit, rows: &[Row]) -> Calibration {
    let se = fit.variance.sqrt();
    let scale = fit.scale(shortening(rows, |row| row.ground), shortening(rows, |row| row.water));
    Calibration {
        log_scale: scale,
        log_scale_se: se,
        heading_offset_deg: fit.offset_deg(),
        heading_offset_se_deg: (se / scale).to_degrees(),
    }
}

fn is_determined(fit: &Fit, means: &[Row], settings: &Settings) -> bool {
    fit.variance.sqrt() <= settings.calibration_se_max && one_course_deg(means, settings).is_none()
}

/// The course of a boat that kept to one, degrees true.
fn one_course_deg(means: &[Row], settings: &Settings) -> Option<f64> {
    let unit = |row: &Row| row.water * row.water.speed_mps().max(f64::MIN_POSITIVE).recip();
    let sum: Velocity = means.iter().map(unit).sum();
    let (length, direction_deg) = length_direction(sum.east_mps, sum.north_mps);
    direction_deg.filter(|_| length > settings.one_course * means.len() as f64)
}

fn uncalibrated_remark(means: &[Row], settings: &Settings) -> String {
    let why = match one_course_deg(means, settings) {
        Some(course_deg) => format!("the boat kept to one course, about {course_deg:.0}° true"),
        None => "the courses and the current leave too much open".to_owned(),
    };
    format!(
        "Speed log and compass could not be checked against the track: {why}. The current given allows for a log that \
         is wrong by {:.0} % and a compass that is wrong by {:.0}°.",
        100.0 * settings.raw_scale_se,
        settings.raw_heading_se_deg,
    )
}

impl Lack {
    fn remark(self) -> &'static str {
        match self {
            Self::Ground => "The current is not known: there is no speed and course over ground.",
            Self::WaterSpeed => "The current is not known: no speed through the water was logged.",
            Self::LogReadsZero => "The current is not known: the speed log reads zero throughout.",
            Self::Heading => "The current is not known: no heading was logged.",
            Self::SteadyMotion => {
                "The current is not known: there is too little steady motion with a working speed log."
            }
        }
    }
}

#[cfg(test)]
#[path = "estimate_tests.rs"]
mod tests;
