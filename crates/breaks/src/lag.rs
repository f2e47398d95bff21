//! How far does the sensor in the hull lag behind the water?
//!
//! A sensor that follows the water with a lag τ shows a break where the boat is a time τ later. Crossed the other
//! way the break is shown on its other side, and at a run far behind it:
//!
//! ```text
//!        cold │ warm            shown at place + v τ, with v the boat's velocity over ground
//!  ───────────┼──•─────▶        out
//!     ◀─────•─┼────────         back: 2 |v| τ between the two
//! ```
//!
//! So each crossing of a line lies off the line by τ times its speed across, beside what the line itself does: it
//! has a direction, it bends, it moves with the water, and it is not smooth. All of that is estimated together.

use nalgebra::{Cholesky, DMatrix, DVector, Dyn};
use statrs::distribution::{ContinuousCDF, StudentsT};
use waterseam_units::LocalFrame;
use waterseam_units::angle::east_north;

use crate::types::{BreakLine, PlacedCrossing};

/// The boat over ground at a crossing, mean of the half-minute before it, m/s.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Velocity {
    /// Toward east.
    pub east_mps: f64,
    /// Toward north.
    pub north_mps: f64,
}

/// What the crossings of a trip say about the lag of the sensor.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Lag {
    /// The lag, s; negative where the breaks are shown before the boat is there, which no sensor does.
    pub lag_s: f64,
    /// Its standard error, s: 1.645 of them to either side are an interval of 90 %, few crossings considered.
    pub se_s: f64,
    /// Independent differences between crossings of one line in different directions or at different speeds that the
    /// estimate rests on. The first gives the lag, the others bear it out.
    pub contrasts: f64,
}

// What lines do, as standard deviations; from memory of fronts in satellite images of big lakes and coasts, no source.
// They are wide: what a few crossings cannot tell from a lag shall not be taken for one.
/// Off where it is expected, m: anywhere.
const PLACE_M: f64 = 1e4;
/// Turned from its mean direction, as a slope.
const SLOPE: f64 = 1.0;
/// Bent, 1/m: a radius of 8 km.
const BEND_PER_M: f64 = 1.0 / 8_000.0;
/// Moving across itself, m/s: as fast as a lake's ordinary currents.
const DRIFT_MPS: f64 = 0.05;
/// A line is never smoother than this, m: a receiver's own error, twice.
const LEAST_ROUGHNESS_M: f64 = 3.0;
const GREATEST_ROUGHNESS_M: f64 = 3_000.0;

/// Fewest contrasts of an estimate: one for the lag, one to bear it out.
const LEAST_CONTRASTS: f64 = 2.0;
/// A lag with a greater standard error says nothing, s.
const GREATEST_SE_S: f64 = 60.0;
/// Probability below the upper end of a 90 % interval, and the same in standard errors.
const UPPER: f64 = 0.95;
const UPPER_SE: f64 = 1.644_853_626_951_472_2;

/// Estimates the lag from crossings, the lines that join them, and the velocity at each crossing.
///
/// `None` where the trip does not determine it: no line is crossed in different directions or at different speeds
/// often enough.
///
/// # Method
/// Generalised least squares of the places across their line on place, direction, bend and drift of each line (with
/// the spread that lines have) and one lag for all. The roughness of the lines is what makes the residuals as large
/// as they are (R. C. Paule & J. Mandel, Journal of Research of the National Bureau of Standards 87, 1982, 377–385;
/// from memory); the standard error is widened by Student's t for the residuals that are left.
///
/// # Panics
/// When there is not a velocity for each crossing.
pub fn lag(crossings: &[PlacedCrossing], lines: &[BreakLine], velocities: &[Velocity]) -> Option<Lag> {
    assert_eq!(crossings.len(), velocities.len(), "a velocity for each crossing");
    let lines: Vec<Across> = lines.iter().filter_map(|line| across(line, crossings, velocities)).collect();
    let residuals = |roughness_m: f64| -> Option<f64> {
        let fit = Fit::of(&lines, roughness_m)?;
        Some(fit.misfit - (fit.contrasts - 1.0))
    };
    let (mut least, mut greatest) = (LEAST_ROUGHNESS_M, GREATEST_ROUGHNESS_M);
    if residuals(least)? <= 0.0 {
        greatest = least;
    }
    while greatest > 1.001 * least {
        let middle = (least * greatest).sqrt();
        if residuals(middle)? > 0.0 { least = middle } else { greatest = middle }
    }
    let fit = Fit::of(&lines, greatest)?;
    let few = StudentsT::new(0.0, 1.0, (fit.contrasts - 1.0).max(1.0)).ok()?.inverse_cdf(UPPER) / UPPER_SE;
    let se_s = few * fit.se_s;
    (fit.contrasts >= LEAST_CONTRASTS && se_s <= GREATEST_SE_S).then_some(Lag {
        lag_s: fit.lag_s,
        se_s,
        contrasts: fit.contrasts,
    })
}

/// The crossings of one line: where and when across it, how fast.
struct Across {
    /// Off the line, toward the warm side, m.
    off_m: Vec<f64>,
    /// Standard error of that, m.
    se_m: Vec<f64>,
    /// Speed toward the warm side, m/s.
    speed_mps: Vec<f64>,
    /// Columns of what the line does, each in its standard deviation.
    shape: DMatrix<f64>,
}

const SHAPE: usize = 4;

fn across(line: &BreakLine, crossings: &[PlacedCrossing], velocities: &[Velocity]) -> Option<Across> {
    let members = &line.crossings;
    let frame = LocalFrame::new(crossings[*members.first()?].at);
    let (warm_east, warm_north) = east_north(1.0, line.warm_side_deg);
    let to_warm = |east: f64, north: f64| east * warm_east + north * warm_north;
    let places: Vec<(f64, f64)> = members.iter().map(|&i| frame.to_local(crossings[i].at)).collect();
    let centred = |values: Vec<f64>| -> Vec<f64> {
        let mean = values.iter().sum::<f64>() / values.len() as f64;
        values.into_iter().map(|value| value - mean).collect()
    };
    let off_m = centred(places.iter().map(|&(east, north)| to_warm(east, north)).collect());
    let along_m = centred(places.iter().map(|&(e, n)| e * warm_north - n * warm_east).collect());
    let time_s = centred(members.iter().map(|&i| crossings[i].crossing.time_s).collect());
    let speed_mps: Vec<f64> =
        members.iter().map(|&i| to_warm(velocities[i].east_mps, velocities[i].north_mps)).collect();
    let square = |i: usize| {
        let Velocity { east_mps, north_mps } = velocities[i];
        let speed = east_mps.hypot(north_mps);
        if speed > 0.0 { to_warm(east_mps, north_mps).abs() / speed } else { 1.0 }
    };
    let se_m = members.iter().map(|&i| crossings[i].crossing.centre_se_m * square(i)).collect();
    let shape = DMatrix::from_fn(members.len(), SHAPE, |row, column| match column {
        0 => PLACE_M,
        1 => SLOPE * along_m[row],
        2 => BEND_PER_M * 0.5 * along_m[row] * along_m[row],
        _ => DRIFT_MPS * time_s[row],
    });
    Some(Across { off_m, se_m, speed_mps, shape })
}

/// The lag at one roughness of the lines.
struct Fit {
    lag_s: f64,
    se_s: f64,
    /// Residuals left by the lines and the lag, squared, in their variance.
    misfit: f64,
    /// Independent differences left by the lines.
    contrasts: f64,
}

impl Fit {
    fn of(lines: &[Across], roughness_m: f64) -> Option<Self> {
        let (mut information, mut score, mut square, mut contrasts) = (0.0, 0.0, 0.0, 0.0);
        for line in lines {
            let weight: Vec<f64> =
                line.se_m.iter().map(|se_m| 1.0 / (se_m * se_m + roughness_m * roughness_m)).collect();
            let root = DVector::from_iterator(weight.len(), weight.iter().map(|weight| weight.sqrt()));
            let whitened = |values: &[f64]| {
                DVector::from_iterator(
                    values.len(),
                    values.iter().zip(&root).map(|(value, root)| value * root),
                )
            };
            let shape = DMatrix::from_diagonal(&root) * &line.shape;
            let normal = shape.transpose() * &shape;
            // each column is in its standard deviation: one is the spread that lines have
            let spread = &normal + DMatrix::identity(SHAPE, SHAPE);
            let cholesky: Cholesky<f64, Dyn> = spread.cholesky()?;
            let left =
                |values: &DVector<f64>| values - &shape * cholesky.solve(&(shape.transpose() * values));
            let (off, speed) = (whitened(&line.off_m), whitened(&line.speed_mps));
            let off_left = left(&off);
            information += speed.dot(&left(&speed));
            score += speed.dot(&off_left);
            square += off.dot(&off_left);
            contrasts += weight.len() as f64 - cholesky.solve(&normal).trace();
        }
        let lag_s = score / information;
        (information > 0.0 && lag_s.is_finite()).then(|| Self {
            lag_s,
            se_s: information.sqrt().recip(),
            misfit: (square - lag_s * score).max(0.0),
            contrasts,
        })
    }
}

#[cfg(test)]
#[path = "lag_tests.rs"]
mod tests;
