//! What is the current, given velocities over ground on several courses but no compass?
//!
//! At one speed through the water the tips of the ground velocities lie on a circle: its centre is the current, its
//! radius the speed through the water.

use nalgebra::{Matrix3, Vector3};

use crate::Velocity;

/// Velocities closer together than this are one course, m/s. Well below what a receiver resolves.
const SAME_MPS: f64 = 1e-6;
/// Residuals above this part of the radius: the tips lie on no circle.
const RESIDUAL_PART_MAX: f64 = 0.25;
/// A centre with a standard error above this part of the radius is not determined.
const CENTRE_SE_PART_MAX: f64 = 0.25;
/// Rounds of the Gauss–Newton iteration, and the step at which it has arrived, m/s.
const ROUNDS: usize = 200;
const ARRIVED_MPS: f64 = 1e-14;

/// Circle through the tips of ground velocities.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CourseCircle {
    /// The current: centre of the circle.
    pub current: Velocity,
    /// Standard error of its east and north components, m/s; `None` for three velocities, which leave nothing over.
    pub current_se_mps: Option<(f64, f64)>,
    /// Speed through the water: radius of the circle, m/s.
    pub stw_mps: f64,
    /// Root mean square distance of the tips from the circle with n - 3 degrees of freedom, m/s.
    pub residual_rms_mps: Option<f64>,
}

/// Current and speed through the water from ground velocities on at least three courses at one speed through the water.
///
/// Least squares of the distances from the circle (geometric fit), by Gauss–Newton from the algebraic fit of Kåsa
/// (1976), IEEE Trans. Instrum. Meas. 25, 8–14. `None` where fewer than three velocities differ, where they lie on a
/// straight line or on no circle, and where they leave the centre open by a quarter of the radius or more.
pub fn course_circle(ground: &[Velocity]) -> Option<CourseCircle> {
    if different(ground) < 3 {
        return None;
    }
    let mut circle = algebraic(ground)?;
    for _ in 0..ROUNDS {
        let step = normal_matrix(ground, circle).try_inverse()? * gradient(ground, circle);
        circle += shortened(step, ground, circle)?;
        if step.norm() < ARRIVED_MPS * circle.norm().max(1.0) {
            break;
        }
    }
    let [east_mps, north_mps, stw_mps] = circle.into();
    let over = ground.len().checked_sub(3).filter(|&n| n > 0);
    let residual_rms_mps = over.map(|n| (cost(ground, circle) / n as f64).sqrt());
    let covariance = normal_matrix(ground, circle).try_inverse()?;
    let current_se_mps =
        residual_rms_mps.map(|rms| (rms * covariance[(0, 0)].sqrt(), rms * covariance[(1, 1)].sqrt()));
    let fits = residual_rms_mps.is_none_or(|rms| rms <= RESIDUAL_PART_MAX * stw_mps);
    let determined = current_se_mps.is_none_or(|(e, n)| e.hypot(n) <= CENTRE_SE_PART_MAX * stw_mps);
    let current = Velocity { east_mps, north_mps };
    (fits && determined && circle.iter().all(|v| v.is_finite())).then_some(CourseCircle {
        current,
        current_se_mps,
        stw_mps,
        residual_rms_mps,
    })
}

/// Number of velocities that differ, counted up to three.
fn different(ground: &[Velocity]) -> usize {
    let mut seen: Vec<Velocity> = Vec::new();
    for &velocity in ground {
        if seen.iter().all(|&other| (velocity - other).speed_mps() > SAME_MPS) {
            seen.push(velocity);
        }
        if seen.len() == 3 {
            break;
        }
    }
    seen.len()
}

/// Centre and radius that solve e² + n² = 2 a e + 2 b n + c by least squares, about the mean for precision.
fn algebraic(ground: &[Velocity]) -> Option<Vector3<f64>> {
    let mean = ground.iter().copied().sum::<Velocity>() * (ground.len() as f64).recip();
    let (mut matrix, mut right) = (Matrix3::zeros(), Vector3::zeros());
    for &velocity in ground {
        let tip = velocity - mean;
        let row = Vector3::new(2.0 * tip.east_mps, 2.0 * tip.north_mps, 1.0);
        matrix += row * row.transpose();
        right += row * tip.dot(tip);
    }
    let [a, b, c] = (matrix.try_inverse()? * right).into();
    let radius_squared = c + a * a + b * b;
    (radius_squared > 0.0 && radius_squared.is_finite())
        .then(|| Vector3::new(mean.east_mps + a, mean.north_mps + b, radius_squared.sqrt()))
}

/// Distance of a tip from the circle, outward, and how it changes with centre and radius.
fn residual(tip: Velocity, circle: Vector3<f64>) -> (f64, Vector3<f64>) {
    let (east, north) = (tip.east_mps - circle[0], tip.north_mps - circle[1]);
    let away = east.hypot(north);
    let towards = if away > 0.0 { (east / away, north / away) } else { (0.0, 0.0) };
    (away - circle[2], Vector3::new(towards.0, towards.1, 1.0))
}

fn normal_matrix(ground: &[Velocity], circle: Vector3<f64>) -> Matrix3<f64> {
    ground.iter().map(|&tip| residual(tip, circle).1).map(|row| row * row.transpose()).sum()
}

fn gradient(ground: &[Velocity], circle: Vector3<f64>) -> Vector3<f64> {
    ground.iter().map(|&tip| residual(tip, circle)).map(|(distance, row)| row * distance).sum()
}

fn cost(ground: &[Velocity], circle: Vector3<f64>) -> f64 {
    ground.iter().map(|&tip| residual(tip, circle).0.powi(2)).sum()
}

/// The step, halved until it leads no further uphill; `None` where it is not finite.
fn shortened(step: Vector3<f64>, ground: &[Velocity], circle: Vector3<f64>) -> Option<Vector3<f64>> {
    let here = cost(ground, circle);
    let halves = std::iter::successors(Some(step), |s| Some(s * 0.5)).take(30);
    let all_finite = step.iter().all(|v| v.is_finite());
    all_finite
        .then(|| halves.into_iter().find(|s| cost(ground, circle + s) <= here).unwrap_or_else(Vector3::zeros))
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn what_leaves_the_centre_open_is_refused() {
        let on = |courses: &[f64]| courses.iter().map(|&c| Velocity::toward(1.2, c)).collect::<Vec<_>>();
        assert_eq!(course_circle(&on(&[])), None);
        assert_eq!(course_circle(&on(&[10.0, 190.0, 10.0, 190.0])), None, "two courses");
        let line: Vec<Velocity> =
            (0..5).map(|i| Velocity { east_mps: f64::from(i), north_mps: 1.0 }).collect();
        assert_eq!(course_circle(&line), None, "a straight line");
        let two_blobs = [(1.0, 0.0), (1.01, 0.02), (0.99, -0.01), (-1.0, 0.01), (-1.02, 0.0), (-0.99, -0.02)]
            .map(|(east_mps, north_mps)| Velocity { east_mps, north_mps });
        assert_eq!(course_circle(&two_blobs), None, "two courses with noise");
        let blob = [(1.0, 0.0), (1.01, 0.02), (0.99, -0.01), (1.02, -0.02), (0.98, 0.01)]
            .map(|(east_mps, north_mps)| Velocity { east_mps, north_mps });
        assert_eq!(course_circle(&blob), None, "one course with noise");
    }

    proptest! {
        #[test]
        fn exact_tips_give_the_current(
            e in -1f64..1.0, n in -1f64..1.0, stw in 0.5f64..3.0, first in 0f64..360.0, apart in 40f64..120.0,
        ) {
            let current = Velocity { east_mps: e, north_mps: n };
            let tips: Vec<Velocity> =
                (0..4).map(|i| current + Velocity::toward(stw, first + apart * f64::from(i))).collect();
            let got = course_circle(&tips).unwrap();
            prop_assert!((got.current - current).speed_mps() < 1e-9);
            prop_assert!((got.stw_mps - stw).abs() < 1e-9);
        }
    }
}
