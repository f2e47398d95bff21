//! How much later than the velocity over ground do log and compass show a change, and what did they show at the time?
//!
//! In a turn the velocity over ground changes as the velocity through the water does. The lag is where the changes of
//! both agree best (least squares), over the turns and the weaving of the whole trip; the current, which changes slowly,
//! drops out with a moving mean.

use waterseam_units::angle::{turn_deg, wrap_deg};

use crate::calibration::Known;
use crate::ground::value;
use crate::{Motion, Settings, Velocity};

/// Between readings further apart nothing is known, s.
const READINGS_APART_S: f64 = 6.0;
/// A change is what is left after the mean over this long to either side, s: a turn is shorter.
const MEAN_SIDE_S: f64 = 30.0;
/// The change of the velocity through the water is taken over this long to either side, s.
const SLOPE_SIDE_S: f64 = 1.0;
/// Rows in pieces of this length are taken for independent of one another, s: a turn takes no longer.
const PIECE_S: f64 = 240.0;
/// Rounds of improving the lag, s.
const ROUNDS: usize = 8;
const ARRIVED_S: f64 = 0.005;

/// Readings on the clock of the velocity over ground.
#[derive(Clone, Debug, Default)]
pub(crate) struct Aligned {
    pub stw_mps: Vec<Option<f64>>,
    pub heading_deg: Vec<Option<f64>>,
}

/// What log and compass showed a lag later than each row, between readings on a straight line.
pub(crate) fn aligned(motion: &Motion, lag_s: f64) -> Aligned {
    let straight = |from: f64, to: f64, part: f64| from + (to - from) * part;
    let turning = |from: f64, to: f64, part: f64| wrap_deg(from + turn_deg(from, to) * part);
    Aligned {
        stw_mps: at_times(motion.time_s, motion.stw_mps, lag_s, straight),
        heading_deg: at_times(motion.time_s, motion.heading_deg, lag_s, turning),
    }
}

fn at_times(
    time_s: &[f64],
    column: &[Option<f64>],
    later_s: f64,
    between: impl Fn(f64, f64, f64) -> f64,
) -> Vec<Option<f64>> {
    let readings: Vec<(f64, f64)> =
        (0..time_s.len()).filter_map(|i| Some((time_s[i], value(column, i)?))).collect();
    let mut after = 0;
    time_s
        .iter()
        .map(|time_s| {
            let wanted_s = time_s + later_s;
            while readings.get(after).is_some_and(|(t, _)| *t < wanted_s) {
                after += 1;
            }
            let &(to_s, to) = readings.get(after)?;
            if to_s == wanted_s {
                return Some(to);
            }
            let &(from_s, from) = readings.get(after.checked_sub(1)?)?;
            (to_s - from_s <= READINGS_APART_S)
                .then(|| between(from, to, (wanted_s - from_s) / (to_s - from_s)))
        })
        .collect()
}

/// The lag of log and compass; `None` where the boat turned too little to tell.
pub(crate) fn lag(motion: &Motion, ground: &[Option<Velocity>], settings: &Settings) -> Option<Known> {
    let mut lag_s = 0.0;
    let mut se_s = f64::INFINITY;
    for _ in 0..ROUNDS {
        let (step_s, error_s) = improved(motion, ground, lag_s, settings)?;
        // a step is right only near the answer: a turn is done in a quarter of a minute
        let step_s = step_s.clamp(-2.0, 2.0);
        lag_s += step_s;
        se_s = error_s;
        if step_s.abs() < ARRIVED_S {
            break;
        }
    }
    (lag_s.abs() <= settings.lag_max_s && se_s <= settings.lag_se_max_s)
        .then_some(Known { value: lag_s, se: se_s })
}

/// Step from a lag toward a better one, with its standard error by pieces of the trip.
fn improved(
    motion: &Motion,
    ground: &[Option<Velocity>],
    lag_s: f64,
    settings: &Settings,
) -> Option<(f64, f64)> {
    let water = |lag_s: f64| -> Vec<Option<Velocity>> {
        let Aligned { stw_mps, heading_deg } = aligned(motion, lag_s);
        let slow = |stw: f64| stw < settings.least_stw_mps;
        let both = stw_mps.into_iter().zip(heading_deg);
        both.map(|(stw, heading)| Some(Velocity::toward(stw.filter(|v| !slow(*v))?, heading?))).collect()
    };
    let (here, earlier, later) = (water(lag_s), water(lag_s - SLOPE_SIDE_S), water(lag_s + SLOPE_SIDE_S));
    let rows: Vec<(f64, Velocity, Velocity)> = (0..motion.time_s.len())
        .filter_map(|i| {
            let slope = (later[i]? - earlier[i]?) * (0.5 / SLOPE_SIDE_S);
            Some((motion.time_s[i], ground[i]? - here[i]?, slope))
        })
        .collect();
    let off = without_mean(&rows, |row| row.1);
    let slope = without_mean(&rows, |row| row.2);
    let piece = |i: usize| (rows[i].0 / PIECE_S).floor();
    let mut pieces: Vec<(f64, f64)> = Vec::new();
    let all: Vec<usize> = (0..rows.len()).collect();
    for rows in all.chunk_by(|&a, &b| piece(a) == piece(b)) {
        let sum = |f: &dyn Fn(usize) -> f64| rows.iter().map(|&i| f(i)).sum::<f64>();
        pieces.push((sum(&|i| slope[i].dot(off[i])), sum(&|i| slope[i].dot(slope[i]))));
    }
    let total: f64 = pieces.iter().map(|piece| piece.1).sum();
    let squares: f64 = pieces.iter().map(|piece| piece.1 * piece.1).sum();
    // pieces that count, as many as if all turned alike
    let n = total * total / squares;
    if total <= 0.0 || n.is_nan() || n < settings.least_turns {
        return None;
    }
    let step_s = pieces.iter().map(|piece| piece.0).sum::<f64>() / total;
    // a piece that weighs much drags the step along with its own error (the jackknife's correction)
    let error = |piece: &(f64, f64)| (piece.0 - piece.1 * step_s) / (1.0 - piece.1 / total);
    let square: f64 = pieces.iter().map(|piece| error(piece).powi(2)).sum();
    Some((step_s, square.sqrt() / total))
}

/// Values without their moving mean.
fn without_mean(
    rows: &[(f64, Velocity, Velocity)],
    of: impl Fn(&(f64, Velocity, Velocity)) -> Velocity,
) -> Vec<Velocity> {
    let mut sums = vec![Velocity::default()];
    sums.extend(rows.iter().scan(Velocity::default(), |sum, row| {
        *sum = *sum + of(row);
        Some(*sum)
    }));
    let (mut from, mut to) = (0, 0);
    rows.iter()
        .map(|row| {
            while rows[from].0 < row.0 - MEAN_SIDE_S {
                from += 1;
            }
            while to < rows.len() && rows[to].0 <= row.0 + MEAN_SIDE_S {
                to += 1;
            }
            of(row) - (sums[to] - sums[from]) * ((to - from) as f64).recip()
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_lag_of_a_boat_that_turns_is_found() {
        let time_s: Vec<f64> = (0..3600).map(f64::from).collect();
        // two minutes each way, and turns of twenty seconds
        let heading = |t: f64| 100.0 * ((t / 38.0).sin() * 3.0).tanh();
        for late_s in [-1.5, 0.0, 2.5] {
            let current = Velocity { east_mps: 0.2, north_mps: 0.3 };
            let ground: Vec<Option<Velocity>> =
                time_s.iter().map(|&t| Some(Velocity::toward(1.2, heading(t)) + current)).collect();
            let shown: Vec<Option<f64>> =
                time_s.iter().map(|&t| Some(wrap_deg(heading(t - late_s)))).collect();
            let motion = Motion {
                time_s: &time_s,
                distance_m: &time_s,
                stw_mps: &vec![Some(1.2); 3600],
                heading_deg: &shown,
                ..Motion::default()
            };
            let got = lag(&motion, &ground, &Settings::default()).unwrap();
            assert!((got.value - late_s).abs() < 0.05, "{late_s}: {got:?}");
        }
    }

    #[test]
    fn a_boat_that_holds_her_course_tells_no_lag() {
        let time_s: Vec<f64> = (0..3600).map(f64::from).collect();
        let motion = Motion {
            time_s: &time_s,
            distance_m: &time_s,
            stw_mps: &vec![Some(1.2); 3600],
            heading_deg: &vec![Some(50.0); 3600],
            ..Motion::default()
        };
        assert_eq!(lag(&motion, &vec![Some(Velocity::toward(1.2, 50.0)); 3600], &Settings::default()), None);
    }
}
