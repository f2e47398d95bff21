//! What does the water do at the depth of the probe, and what speed over ground gives a speed at the lures there?
//!
//! The boat tows the probe, so that both move over ground alike. The probe shows how fast it goes through the water
//! about it, not in what direction: on each course the current down there lies on a circle about the tip of the ground
//! velocity, with the probe's speed as its radius, and several courses have one point in common.
//!
//! ```text
//!   current = ground − water        |ground − current| = scale × probe, on every course
//! ```

use nalgebra::{Matrix3, Vector3};

use crate::{Known, Velocity};

/// Thresholds of [`at_probe`].
#[derive(Clone, Debug, PartialEq)]
pub struct LureSettings {
    /// Fewer looks say nothing. Default 5: five minutes.
    pub least_looks: usize,
    /// Standard error of the scale of a probe that nobody calibrated. Default 0.05 (common practice, no source).
    pub raw_scale_se: f64,
    /// The current at depth differs from that at the surface by so much, m/s, one standard deviation of each component.
    /// Default 0.25 (common practice, no source).
    pub shear_sd_mps: f64,
    /// The same where the current at the surface is not known, m/s: from zero. Default 0.4 (common practice, no source).
    pub unknown_sd_mps: f64,
    /// The current at depth differs from one leg to the next by at least so much, m/s, one standard deviation. Default 0.02:
    /// layers rise and sink, and water changes along the way (common practice, no source).
    pub leg_sd_mps: f64,
    /// No look is surer than this, m/s. Default 0.03: a probe writes tenths of a knot.
    pub least_noise_mps: f64,
}

impl Default for LureSettings {
    fn default() -> Self {
        Self {
            least_looks: 5,
            raw_scale_se: 0.05,
            shear_sd_mps: 0.25,
            unknown_sd_mps: 0.4,
            leg_sd_mps: 0.02,
            least_noise_mps: 0.03,
        }
    }
}

/// A minute or so on one course with the probe at one depth.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Look {
    /// Mean velocity over ground.
    pub ground: Velocity,
    /// Mean speed through the water that the probe showed, m/s.
    pub probe_mps: f64,
}

/// The water at the depth of the probe.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct AtProbe {
    /// Current there.
    pub current: Velocity,
    /// True speed through the water over the probe's reading.
    pub probe_scale: Known,
    /// Covariance of the current's east and north, m²/s², and the scale.
    covariance: Matrix3<f64>,
}

/// Rounds of the fit.
const ROUNDS: usize = 50;
/// A step of the current below which the fit has arrived, m/s.
const ARRIVED_MPS: f64 = 1e-9;
/// Residuals beyond this many standard deviations count less (Huber 1964, Ann. Math. Stat. 35, 73–101; the constant is
/// that of 95 % efficiency, from memory).
const HUBER_SD: f64 = 1.345;
/// Standard deviation over the median absolute deviation of normal errors.
const SD_PER_MAD: f64 = 1.482_602_218_505_602;
/// A leg is what the boat runs without turning by more than this, degrees.
const LEG_DEG: f64 = 30.0;

/// Current at the depth of the probe from looks in time order. `about` is the current at the surface with the standard
/// error of its components, m/s, where it is known.
///
/// Least squares of `|ground − current| − scale × probe` with the prior that the current is that of the surface give or
/// take [`LureSettings::shear_sd_mps`] and the scale 1 give or take [`LureSettings::raw_scale_se`], by Gauss–Newton; far
/// residuals count less. The looks of a leg err alike, for the water is not the same everywhere: however many they are, a
/// leg is no surer than legs differ from each other. `None` for too few looks.
pub fn at_probe(looks: &[Look], about: Option<(Velocity, f64)>, settings: &LureSettings) -> Option<AtProbe> {
    if looks.len() < settings.least_looks {
        return None;
    }
    let unknown = (Velocity::default(), settings.unknown_sd_mps);
    let (centre, sd_mps) =
        about.map_or(unknown, |(current, se_mps)| (current, settings.shear_sd_mps.hypot(se_mps)));
    let prior = Vector3::new(centre.east_mps, centre.north_mps, 1.0);
    let component = sd_mps.powi(-2);
    let prior_information =
        Matrix3::from_diagonal(&Vector3::new(component, component, settings.raw_scale_se.powi(-2)));
    let mut at = prior;
    let mut noise_mps = settings.least_noise_mps.max(0.1);
    let mut information = prior_information;
    let legs = legs(looks);
    for _ in 0..ROUNDS {
        let off = residuals(looks, &at);
        let leg_mps = between_legs(&legs, &off).max(settings.leg_sd_mps);
        let of_leg = legs.iter().flat_map(|&n| std::iter::repeat_n(n as f64, n));
        let mut pull = prior_information * (prior - at);
        information = prior_information;
        for ((look, &off), n) in looks.iter().zip(&off).zip(of_leg) {
            let slope = slope(look, &at);
            let spread_mps = noise_mps.hypot(leg_mps);
            let trust = (HUBER_SD * spread_mps / off.abs().max(f64::MIN_POSITIVE)).min(1.0);
            // the mean of n such looks has the variance of the leg and an nth of the noise
            let weight = trust / (noise_mps * noise_mps + n * leg_mps * leg_mps);
            information += slope * slope.transpose() * weight;
            pull -= slope * (off * weight);
        }
        let step = information.cholesky()?.solve(&pull);
        at += step;
        noise_mps = spread(&residuals(looks, &at)).max(settings.least_noise_mps);
        if step.norm() < ARRIVED_MPS {
            break;
        }
    }
    let covariance = information.cholesky()?.inverse();
    Some(AtProbe {
        current: Velocity { east_mps: at[0], north_mps: at[1] },
        probe_scale: Known { value: at[2], se: covariance[(2, 2)].sqrt() },
        covariance,
    })
}

impl AtProbe {
    /// Standard errors of the current toward east and north, m/s.
    pub fn current_se_mps(&self) -> (f64, f64) {
        (self.covariance[(0, 0)].sqrt(), self.covariance[(1, 1)].sqrt())
    }

    /// Speed over ground, m/s, on a course over ground, degrees true, at which the probe shows `probe_mps`; with its
    /// standard error. `None` where the current is too strong for that.
    pub fn sog_mps(&self, course_deg: f64, probe_mps: f64) -> Option<Known> {
        let along = Velocity::toward(1.0, course_deg);
        let starboard = along.quarter_clockwise();
        let through_mps = self.probe_scale.value * probe_mps;
        let across_mps = self.current.dot(starboard);
        let ahead_mps = (through_mps * through_mps - across_mps * across_mps).max(0.0).sqrt();
        let value = self.current.dot(along) + ahead_mps;
        if value <= 0.0 || ahead_mps <= 0.0 {
            return None;
        }
        let by_current = along + starboard * (-across_mps / ahead_mps);
        let by_scale = through_mps * probe_mps / ahead_mps;
        let slope = Vector3::new(by_current.east_mps, by_current.north_mps, by_scale);
        Some(Known { value, se: (slope.transpose() * self.covariance * slope)[0].max(0.0).sqrt() })
    }
}

fn residuals(looks: &[Look], at: &Vector3<f64>) -> Vec<f64> {
    let current = Velocity { east_mps: at[0], north_mps: at[1] };
    looks.iter().map(|look| (look.ground - current).speed_mps() - at[2] * look.probe_mps).collect()
}

/// How a residual changes with current and scale.
fn slope(look: &Look, at: &Vector3<f64>) -> Vector3<f64> {
    let water = look.ground - Velocity { east_mps: at[0], north_mps: at[1] };
    let unit = water * water.speed_mps().max(f64::MIN_POSITIVE).recip();
    Vector3::new(-unit.east_mps, -unit.north_mps, -look.probe_mps)
}

/// Standard deviation from the median absolute value.
fn spread(off: &[f64]) -> f64 {
    let sizes: Vec<f64> = off.iter().map(|off| off.abs()).collect();
    SD_PER_MAD * crate::stats::median(&sizes)
}

/// Looks of each leg.
fn legs(looks: &[Look]) -> Vec<usize> {
    let is_on = |a: &Look, b: &Look| {
        let turn = a.ground.quarter_clockwise().dot(b.ground).atan2(a.ground.dot(b.ground));
        turn.to_degrees().abs() <= LEG_DEG
    };
    looks.chunk_by(is_on).map(<[Look]>::len).collect()
}

/// Root mean square of the mean residuals of the legs.
fn between_legs(legs: &[usize], off: &[f64]) -> f64 {
    let mut rest = off;
    let squares = legs.iter().map(|&n| {
        let (leg, later) = rest.split_at(n);
        rest = later;
        (leg.iter().sum::<f64>() / n as f64).powi(2)
    });
    (squares.sum::<f64>() / legs.len() as f64).sqrt()
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    /// Looks on courses at a speed of the probe, without any error.
    fn looks(courses_deg: &[f64], current: Velocity, probe_mps: f64, scale: f64) -> Vec<Look> {
        let look = |&course_deg: &f64| Look {
            ground: Velocity::toward(scale * probe_mps, course_deg) + current,
            probe_mps,
        };
        courses_deg.iter().map(look).collect()
    }

    #[test]
    fn too_few_looks_say_nothing() {
        let looks = looks(&[0.0, 90.0, 180.0], Velocity::default(), 1.0, 1.0);
        assert_eq!(at_probe(&looks, None, &LureSettings::default()), None);
    }

    #[test]
    fn one_course_leaves_the_current_across_it_open() {
        let current = Velocity::toward(0.3, 0.0);
        let looks = looks(&[0.0; 30], current, 1.1, 1.0);
        let found = at_probe(&looks, Some((Velocity::default(), 0.02)), &LureSettings::default()).unwrap();
        let (east, north) = found.current_se_mps();
        assert!(east > 0.2 && (0.04..0.1).contains(&north), "{east} {north}");
        assert!((found.current.north_mps - 0.3).abs() < 2.0 * north);
        let (with, across) = (found.sog_mps(0.0, 1.1).unwrap(), found.sog_mps(90.0, 1.1).unwrap());
        // the course that was run is known however the current is, as surely as one leg tells
        assert!(with.se < 0.06 && across.se > 0.2, "{with:?} {across:?}");
        assert!((with.value - 1.4).abs() < 0.02, "{with:?}");
    }

    #[test]
    fn a_current_too_strong_for_the_lures() {
        let current = Velocity::toward(2.0, 180.0);
        let found =
            AtProbe { current, probe_scale: Known { value: 1.0, se: 0.0 }, covariance: Matrix3::zeros() };
        assert_eq!(found.sog_mps(0.0, 1.0), None, "carried backward");
        assert_eq!(found.sog_mps(90.0, 1.0), None, "sets across faster than the lures go");
        assert_eq!(found.sog_mps(180.0, 1.0), Some(Known { value: 3.0, se: 0.0 }));
    }

    proptest! {
        #[test]
        fn courses_all_round_tell_current_and_scale(
            drift in 0.0..0.5, set in 0.0..360.0, scale in 0.9..1.1, probe in 0.8..1.5,
        ) {
            let current = Velocity::toward(drift, set);
            let courses: Vec<f64> = (0..240).map(|i| f64::from(i) * 45.0).collect();
            let looks = looks(&courses, current, probe, scale);
            let found = at_probe(&looks, None, &LureSettings::default()).unwrap();
            prop_assert!((found.current - current).speed_mps() < 0.01, "{found:?}");
            prop_assert!((found.probe_scale.value - scale).abs() < 0.01, "{found:?}");
            // what is asked for a course gives back the probe's speed
            let sog = found.sog_mps(77.0, probe).unwrap().value;
            let through = (Velocity::toward(sog, 77.0) - found.current).speed_mps();
            prop_assert!((through - found.probe_scale.value * probe).abs() < 1e-9);
        }
    }
}
