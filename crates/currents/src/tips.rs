//! What is the current along a track, by the velocities over ground of a boat without a compass?
//!
//! At one speed through the water the tips of the velocities over ground lie on a circle about the current
//! ([`crate::course_circle`]). Here the current may wander, and jump at edges, while the boat alternates between courses; the
//! radius is what the log shows, scaled and offset, or, without a log, what a throttle gives that is left alone. One tip
//! tells of the current along its own direction only; a smoother carries it from course to course (Rauch, Tung &
//! Striebel 1965, AIAA Journal 3, 1445–1450), linearised anew about its own answer.

use nalgebra::{SMatrix, SVector};

use crate::Velocity;
use crate::stats::median;

/// East and north of the current, what the log's reading is multiplied by, and what is added to it.
const STATES: usize = 4;
const SPEED: usize = 3;

type State = SVector<f64, STATES>;
type Cov = SMatrix<f64, STATES, STATES>;

/// Standard deviations that are tried: of the noise of a mean, m/s, and of what the current walks in ten minutes, m/s.
const NOISES_MPS: [f64; 9] = [0.001, 0.002, 0.004, 0.008, 0.015, 0.03, 0.06, 0.12, 0.24];
const WALKS_MPS: [f64; 8] = [0.0003, 0.001, 0.003, 0.01, 0.02, 0.04, 0.08, 0.16];
/// What a throttle that is left alone may change in ten minutes, m/s.
const THROTTLE_MPS: f64 = 0.01;
/// What it may change where the current seems to jump, m/s.
const THROTTLE_JUMP_MPS: f64 = 0.1;
const TEN_MINUTES_S: f64 = 600.0;
/// A speed over ground that changes by more than this part is another throttle.
const THROTTLE_PART: f64 = 0.4;
/// Standard deviation of a current before anything is known of it, and of its change where it jumps, m/s.
const CURRENT_MPS: f64 = 0.5;
const JUMP_MPS: f64 = 0.3;
/// What the current may change over a kilometre of a run, m/s.
const RUN_MPS: f64 = 0.1;
/// A tip further off than so many standard deviations is in other water.
const JUMP_SD: f64 = 3.5;
/// Directions that are closer than this (cosine) are one leg: 30°.
const ONE_LEG: f64 = 0.87;
/// Median of the square of a standard normal variable (chi square, one degree of freedom).
const MEDIAN_SQUARE_OF_ONE: f64 = 0.454_936_423_119_572_8;
/// The noise never vanishes, m/s.
const LEAST_NOISE_MPS: f64 = 0.003;
/// Water is even where all tips scatter by no more than this many times the scatter on one leg.
const EVEN: f64 = 3.0;
/// … and the current walks no faster in ten minutes, m/s.
const EVEN_WALK_MPS: f64 = 0.003;
/// Rounds of linearising and of looking for jumps.
const ROUNDS: usize = 12;

/// Mean over a stretch of steady motion.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Tip {
    pub time_s: f64,
    pub ground: Velocity,
    /// The log's reading, m/s; `None` for a boat without a log.
    pub stw_mps: Option<f64>,
    /// Variance of its noise in units of the ordinary one.
    pub noise: f64,
    /// Along the track, m.
    pub distance_m: f64,
    /// Whether the boat runs, much faster than she mostly does.
    pub runs: bool,
}

/// What is known of the log before.
#[derive(Clone, Copy, Debug)]
pub(crate) struct LogBefore {
    pub scale: (f64, f64),
    pub offset_mps: (f64, f64),
}

/// The current at a tip with its covariance (east-east, east-north, north-north).
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct At {
    pub current: Velocity,
    pub spread: (f64, f64, f64),
}

/// The current along the track.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Smoothed {
    /// At each tip.
    pub at: Vec<At>,
    /// Whether one water explains all tips as well as the tips of one leg explain one another.
    pub is_even: bool,
}

/// The current at each tip; `None` for fewer than three.
pub(crate) fn currents_at(tips: &[Tip], log: &LogBefore) -> Option<Smoothed> {
    if tips.len() < 3 {
        return None;
    }
    let mut about = vec![Velocity::default(); tips.len()];
    let mut jumps = vec![false; tips.len()];
    let mut smoothed = Vec::new();
    let mut is_even = true;
    for round in 0..ROUNDS {
        let ahead: Vec<Velocity> = tips.iter().zip(&about).map(|(tip, c)| unit(tip.ground - *c)).collect();
        let jumped = jumped(&ahead, &jumps);
        let model =
            |noise_mps, walk_mps| Model { tips, ahead: &ahead, jumped: &jumped, log, noise_mps, walk_mps };
        let tried = NOISES_MPS.iter().flat_map(|&noise| WALKS_MPS.map(|walk| (noise, walk)));
        let filtered = tried.map(|(noise, walk)| ((noise, walk), model(noise, walk).filter()));
        let ((noise_mps, walk_mps), filtered) =
            filtered.min_by(|a, b| a.1.deviance.total_cmp(&b.1.deviance))?;
        is_even = !jumps.contains(&true)
            && walk_mps <= EVEN_WALK_MPS
            && noise_mps <= EVEN * on_one_leg_mps(tips, &ahead);
        smoothed = filtered.smooth();
        let moved = smoothed.iter().zip(&about).map(|(at, c)| (at.current - *c).speed_mps());
        let moved = moved.fold(0.0, f64::max);
        about = smoothed.iter().map(|at: &At| at.current).collect();
        // the first round looks along the courses over ground: too early to tell other water
        let mut found = false;
        if let Some(worst) = filtered.worst_innovation(&jumps).filter(|_| round > 1) {
            jumps[worst] = true;
            found = true;
        }
        if round > 1 && !found && moved < 1e-4 {
            break;
        }
    }
    Some(Smoothed { at: smoothed, is_even })
}

fn unit(velocity: Velocity) -> Velocity {
    velocity * velocity.speed_mps().max(f64::MIN_POSITIVE).recip()
}

/// Standard deviation of the noise of an ordinary tip, m/s, by the changes from tip to tip on one leg, in the middle, so that
/// other water does not count.
fn on_one_leg_mps(tips: &[Tip], ahead: &[Velocity]) -> f64 {
    let along = |i: usize| ahead[i].dot(tips[i].ground) - tips[i].stw_mps.unwrap_or(0.0);
    let squares: Vec<f64> = (1..tips.len())
        .filter(|&i| ahead[i].dot(ahead[i - 1]) > ONE_LEG && !tips[i].runs && !tips[i - 1].runs)
        .map(|i| (along(i) - along(i - 1)).powi(2) / (tips[i].noise + tips[i - 1].noise))
        .collect();
    (median(&squares) / MEDIAN_SQUARE_OF_ONE).sqrt().max(LEAST_NOISE_MPS)
}

/// How much of a jump lies between each tip and the one before. A jump that shows when the boat turns may have been
/// anywhere on the leg before, across which it does not show.
fn jumped(ahead: &[Velocity], jumps: &[bool]) -> Vec<f64> {
    let mut jumped = vec![0.0; ahead.len()];
    for i in (1..ahead.len()).filter(|&i| jumps[i]) {
        let alike = |j: usize, k: usize| ahead[j].dot(ahead[k]) > ONE_LEG;
        let leg = (0..i).rev().take_while(|&j| !alike(i - 1, i) && alike(j, i - 1)).count();
        let from = (i - leg).max(1);
        for part in &mut jumped[from..=i] {
            *part += 1.0 / (i - from + 1) as f64;
        }
    }
    jumped
}

/// A noise and a walk that are tried.
struct Model<'a> {
    tips: &'a [Tip],
    /// Direction of the water velocity at each tip.
    ahead: &'a [Velocity],
    /// Jumps between the tip before and each tip.
    jumped: &'a [f64],
    log: &'a LogBefore,
    noise_mps: f64,
    walk_mps: f64,
}

/// States before and after each tip.
struct Filtered {
    predicted: Vec<(State, Cov)>,
    updated: Vec<(State, Cov)>,
    /// Square of each innovation over its variance.
    innovations: Vec<f64>,
    deviance: f64,
}

impl Model<'_> {
    fn filter(&self) -> Filtered {
        let (mut state, mut cov) = self.before();
        let mut filtered =
            Filtered { predicted: Vec::new(), updated: Vec::new(), innovations: Vec::new(), deviance: 0.0 };
        for (i, tip) in self.tips.iter().enumerate() {
            if i > 0 {
                cov += self.walked(i);
            }
            filtered.predicted.push((state, cov));
            // ahead · ground = ahead · current + speed through the water
            let row = State::from([
                self.ahead[i].east_mps,
                self.ahead[i].north_mps,
                tip.stw_mps.unwrap_or(0.0),
                1.0,
            ]);
            let off = self.ahead[i].dot(tip.ground) - row.dot(&state);
            let with_state = cov * row;
            let variance = row.dot(&with_state) + tip.noise * self.noise_mps * self.noise_mps;
            let gain = with_state / variance;
            state += gain * off;
            cov -= gain * with_state.transpose();
            cov = 0.5 * (cov + cov.transpose());
            filtered.updated.push((state, cov));
            filtered.innovations.push(off * off / variance);
            filtered.deviance += variance.ln() + off * off / variance;
        }
        filtered
    }

    fn before(&self) -> (State, Cov) {
        let has_log = self.tips.iter().any(|tip| tip.stw_mps.is_some());
        let sog_mps = self.tips[0].ground.speed_mps();
        let (speed, speed_se) = if has_log { self.log.offset_mps } else { (sog_mps, 0.5 * sog_mps) };
        let state = State::from([0.0, 0.0, self.log.scale.0, speed]);
        let se = State::from([CURRENT_MPS, CURRENT_MPS, self.log.scale.1, speed_se]);
        (state, Cov::from_diagonal(&se.component_mul(&se)))
    }

    /// What may have changed since the tip before.
    fn walked(&self, i: usize) -> Cov {
        let (before, tip) = (&self.tips[i - 1], &self.tips[i]);
        let part = (tip.time_s - before.time_s) / TEN_MINUTES_S;
        let mut current = self.walk_mps * self.walk_mps * part;
        if before.runs || tip.runs {
            // a run goes to other water
            current += RUN_MPS * RUN_MPS * (tip.distance_m - before.distance_m).max(0.0) / 1e3;
        }
        current += self.jumped[i] * JUMP_MPS * JUMP_MPS;
        let mut walked = Cov::from_diagonal(&State::from([current, current, 0.0, 0.0]));
        if tip.stw_mps.is_none() {
            let (from, to) = (before.ground.speed_mps(), tip.ground.speed_mps());
            let another = (to - from).abs() > THROTTLE_PART * from.min(to);
            let changed_mps = if another { 0.5 * from.max(to) } else { 0.0 };
            // what looks like other water may be another throttle
            let jumped = self.jumped[i] * THROTTLE_JUMP_MPS * THROTTLE_JUMP_MPS;
            walked[(SPEED, SPEED)] = THROTTLE_MPS * THROTTLE_MPS * part + changed_mps * changed_mps + jumped;
        }
        walked
    }
}

impl Filtered {
    fn smooth(&self) -> Vec<At> {
        let n = self.updated.len();
        let mut smoothed = self.updated.clone();
        for i in (0..n - 1).rev() {
            let (predicted, predicted_cov) = &self.predicted[i + 1];
            let (state, cov) = &self.updated[i];
            let Some(inverse) = predicted_cov.cholesky().map(|c| c.inverse()) else { continue };
            let gain = cov * inverse;
            let (later, later_cov) = smoothed[i + 1];
            smoothed[i] = (
                state + gain * (later - predicted),
                cov + gain * (later_cov - predicted_cov) * gain.transpose(),
            );
        }
        smoothed
            .iter()
            .map(|(state, cov)| At {
                current: Velocity { east_mps: state[0], north_mps: state[1] },
                spread: (cov[(0, 0)], cov[(0, 1)], cov[(1, 1)]),
            })
            .collect()
    }

    /// The tip that is the furthest out of its water, of those that are not known to be in other.
    fn worst_innovation(&self, jumps: &[bool]) -> Option<usize> {
        (1..jumps.len())
            .filter(|&i| !jumps[i] && self.innovations[i] > JUMP_SD * JUMP_SD)
            .max_by(|&a, &b| self.innovations[a].total_cmp(&self.innovations[b]))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::course_circle;

    const RAW: LogBefore = LogBefore { scale: (1.0, 0.1), offset_mps: (0.0, 0.05) };

    fn tips(stw_mps: Option<f64>, current: &dyn Fn(usize) -> Velocity) -> Vec<Tip> {
        (0..60)
            .map(|i| {
                let course = [50.0, 310.0, 230.0, 130.0][i / 5 % 4];
                let wobble = 0.01 * ((i * i) as f64).sin();
                let ground = Velocity::toward(1.2 + wobble, course) + current(i);
                Tip {
                    time_s: 120.0 * i as f64,
                    ground,
                    stw_mps,
                    noise: 1.0,
                    distance_m: 130.0 * i as f64,
                    runs: false,
                }
            })
            .collect()
    }

    #[test]
    fn an_even_current_is_the_centre_of_the_circle() {
        let current = Velocity { east_mps: 0.25, north_mps: -0.1 };
        for stw_mps in [None, Some(1.1)] {
            let tips = tips(stw_mps, &|_| current);
            let got = currents_at(&tips, &RAW).unwrap().at;
            let centre =
                course_circle(&tips.iter().map(|tip| tip.ground).collect::<Vec<_>>()).unwrap().current;
            let middle = got[30];
            assert!((middle.current - centre).speed_mps() < 0.01, "{middle:?} {centre:?}");
            assert!((middle.current - current).speed_mps() < 0.02, "{middle:?}");
            assert!(middle.spread.0.sqrt() < 0.05, "{middle:?}");
        }
    }

    #[test]
    fn a_current_that_jumps_is_followed() {
        let current = |i: usize| Velocity { east_mps: if i < 32 { 0.3 } else { -0.1 }, north_mps: 0.1 };
        let got = currents_at(&tips(Some(1.1), &current), &RAW).unwrap().at;
        for (i, at) in got.iter().enumerate().filter(|(i, _)| *i < 25 || *i > 45) {
            assert!((at.current - current(i)).speed_mps() < 0.06, "{i}: {at:?}");
        }
    }

    #[test]
    fn one_course_leaves_the_current_open() {
        let one: Vec<Tip> = (0..40)
            .map(|i| Tip {
                time_s: 120.0 * f64::from(i),
                ground: Velocity::toward(1.4 + 0.01 * f64::from(i * i).sin(), 70.0),
                stw_mps: Some(1.1),
                noise: 1.0,
                distance_m: 130.0 * f64::from(i),
                runs: false,
            })
            .collect();
        let at = currents_at(&one, &RAW).unwrap().at[20];
        assert!(at.spread.0.max(at.spread.2).sqrt() > 0.1, "{at:?}");
        assert_eq!(currents_at(&one[..2], &RAW), None);
    }
}
