//! How much later than the velocity over ground do log and compass show a change, and what did they show at the time?
//!
//! In a turn the velocity over ground changes as the velocity through the water does. The lag is where the changes of
//! both agree best (least squares), over the turns and the weaving of the whole trip; the current, which changes slowly,
//! drops out with a moving mean. A log that reads high and a compass that is off are fitted along: in turns that are not as
//! many to one side as to the other they look like a lag.

use nalgebra::{SMatrix, SVector};
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
/// What part of the way a step goes is seen from this far to either side of the lag, s.
const PART_SIDE_S: f64 = 1.0;
/// A part below this is taken for this: what noise leaves so little of is no lag.
const LEAST_PART: f64 = 0.05;

/// Normal equations of the lag, of the log's scale and of the compass's constant error.
type Normal = SMatrix<f64, 3, 3>;
type Right = SVector<f64, 3>;

/// Readings on the clock of the velocity over ground.
#[derive(Clone, Debug, Default)]
pub(crate) struct Aligned {
    pub stw_mps: Vec<Option<f64>>,
    pub heading_deg: Vec<Option<f64>>,
}

/// What log and compass showed a lag later than each row, between readings on a straight line.
pub(crate) fn aligned(motion: &Motion, lag_s: f64) -> Aligned {
    let column = |column: &[Option<f64>], between: fn(f64, f64, f64) -> f64| {
        let (times_s, values) = readings(motion.time_s, column);
        let at = |place: Option<(usize, f64)>| {
            let (before, part) = place?;
            let from = values[before];
            Some(if part > 0.0 { between(from, values[before + 1], part) } else { from })
        };
        places(motion.time_s, &times_s, lag_s).map(at).collect()
    };
    Aligned {
        stw_mps: column(motion.stw_mps, |from, to, part| from + (to - from) * part),
        heading_deg: column(motion.heading_deg, |from, to, part| wrap_deg(from + turn_deg(from, to) * part)),
    }
}

/// Times and values of the rows that have one.
fn readings(time_s: &[f64], column: &[Option<f64>]) -> (Vec<f64>, Vec<f64>) {
    (0..time_s.len()).filter_map(|i| Some((time_s[i], value(column, i)?))).unzip()
}

/// Where each time lies among those of readings, so much later: the reading before, and what part of the way it is to the next;
/// no part where it lies on one.
fn places(time_s: &[f64], readings_s: &[f64], later_s: f64) -> impl Iterator<Item = Option<(usize, f64)>> {
    let mut after = 0;
    time_s.iter().map(move |time_s| {
        let wanted_s = time_s + later_s;
        while readings_s.get(after).is_some_and(|t| *t < wanted_s) {
            after += 1;
        }
        let to_s = *readings_s.get(after)?;
        if to_s == wanted_s {
            return Some((after, 0.0));
        }
        let before = after.checked_sub(1)?;
        let from_s = readings_s[before];
        (to_s - from_s <= READINGS_APART_S).then(|| (before, (wanted_s - from_s) / (to_s - from_s)))
    })
}

/// The readings of log and compass, made ready for velocities through the water at any lag.
struct Readings {
    log_s: Vec<f64>,
    stw_mps: Vec<f64>,
    compass_s: Vec<f64>,
    /// Headings as unit vectors, and the turn from each to the next, radians.
    bows: Vec<(Velocity, f64)>,
}

impl Readings {
    fn new(motion: &Motion) -> Self {
        let (log_s, stw_mps) = readings(motion.time_s, motion.stw_mps);
        let (compass_s, headings_deg) = readings(motion.time_s, motion.heading_deg);
        let bow = |(i, &heading_deg): (usize, &f64)| {
            let next_deg = headings_deg.get(i + 1).copied().unwrap_or(heading_deg);
            (Velocity::toward(1.0, heading_deg), turn_deg(heading_deg, next_deg).to_radians())
        };
        let bows = headings_deg.iter().enumerate().map(bow).collect();
        Self { log_s, stw_mps, compass_s, bows }
    }

    /// Velocity through the water behind what log and compass showed so much later than each time; `None` of a log that hardly
    /// turns.
    fn water(
        &self,
        time_s: &[f64],
        later_s: f64,
        settings: &Settings,
    ) -> impl Iterator<Item = Option<Velocity>> {
        let least_mps = settings.least_stw_mps;
        let log = places(time_s, &self.log_s, later_s);
        let compass = places(time_s, &self.compass_s, later_s);
        log.zip(compass).map(move |(log, compass)| {
            let ((log, log_part), (compass, compass_part)) = (log?, compass?);
            let from_mps = self.stw_mps[log];
            let next_mps = self.stw_mps.get(log + 1).copied().unwrap_or(from_mps);
            let stw_mps = from_mps + (next_mps - from_mps) * log_part;
            let (bow, turn) = self.bows[compass];
            (stw_mps >= least_mps).then(|| bow.turned(turn * compass_part) * stw_mps)
        })
    }
}

/// The lag of log and compass; `None` where the boat turned too little to tell.
pub(crate) fn lag(motion: &Motion, ground: &[Option<Velocity>], settings: &Settings) -> Option<Known> {
    let readings = Readings::new(motion);
    let improved = |lag_s: f64| improved(motion.time_s, &readings, ground, lag_s, settings);
    // noise makes slopes look steeper than they are: steps fall short, and their standard errors with them
    let part = |from: (f64, f64), to: (f64, f64)| ((from.1 - to.1) / (to.0 - from.0)).clamp(LEAST_PART, 1.0);
    let (mut lag_s, mut se_s) = (0.0, f64::INFINITY);
    let (mut last, mut gone) = (None, 1.0);
    for _ in 0..ROUNDS {
        let (step_s, error_s) = improved(lag_s)?;
        gone = last.map_or(gone, |last| part(last, (lag_s, step_s)));
        last = Some((lag_s, step_s));
        se_s = error_s;
        // a step is right only near the answer: a turn is done in a quarter of a minute
        let step_s = (step_s / gone).clamp(-2.0, 2.0);
        lag_s += step_s;
        if step_s.abs() < ARRIVED_S {
            break;
        }
    }
    let beside = |lag_s: f64| Some((lag_s, improved(lag_s)?.0));
    se_s /= part(beside(lag_s - PART_SIDE_S)?, beside(lag_s + PART_SIDE_S)?);
    (lag_s.abs() <= settings.lag_max_s && se_s <= settings.lag_se_max_s)
        .then_some(Known { value: lag_s, se: se_s })
}

/// Step from a lag toward a better one, with its standard error by pieces of the trip.
fn improved(
    time_s: &[f64],
    readings: &Readings,
    ground: &[Option<Velocity>],
    lag_s: f64,
    settings: &Settings,
) -> Option<(f64, f64)> {
    let water = |lag_s: f64| readings.water(time_s, lag_s, settings);
    let beside = water(lag_s - SLOPE_SIDE_S).zip(water(lag_s + SLOPE_SIDE_S));
    let mut rows: Vec<(f64, [Velocity; 3])> = Vec::with_capacity(time_s.len());
    for (((time_s, ground), here), beside) in time_s.iter().zip(ground).zip(water(lag_s)).zip(beside) {
        if let (Some(ground), Some(here), (Some(earlier), Some(later))) = (*ground, here, beside) {
            rows.push((*time_s, [ground - here, (later - earlier) * (0.5 / SLOPE_SIDE_S), here]));
        }
    }
    let mut pieces: Vec<(Normal, Right)> = Vec::new();
    let mut last = f64::NAN;
    for (time_s, [off, slope, here]) in without_mean(&rows) {
        let piece = (time_s / PIECE_S).floor();
        if piece != last {
            pieces.push((Normal::zeros(), Right::zeros()));
            last = piece;
        }
        let Some((normal, right)) = pieces.last_mut() else { continue };
        // a log that reads high lengthens the velocity, a compass that is off turns it: the two are square to one another
        let turned = here.quarter_clockwise();
        let square = here.dot(here);
        let (by_length, by_turn) = (slope.dot(here), slope.dot(turned));
        *normal += Normal::new(
            slope.dot(slope),
            by_length,
            by_turn, //
            by_length,
            square,
            0.0, //
            by_turn,
            0.0,
            square,
        );
        *right += Right::new(slope.dot(off), here.dot(off), turned.dot(off));
    }
    let total: f64 = pieces.iter().map(|piece| piece.0[(0, 0)]).sum();
    let squares: f64 = pieces.iter().map(|piece| piece.0[(0, 0)].powi(2)).sum();
    // pieces that count, as many as if all turned alike
    let n = total * total / squares;
    if total <= 0.0 || n.is_nan() || n < settings.least_turns {
        return None;
    }
    let normal: Normal = pieces.iter().map(|piece| piece.0).sum();
    let step = normal.cholesky()?.solve(&pieces.iter().map(|piece| piece.1).sum());
    // by how much the step changes without a piece (jackknife: Tukey 1958, Ann. Math. Statist. 29, 614)
    let without =
        |(part, right): &(Normal, Right)| Some((normal - part).cholesky()?.solve(&(right - part * step))[0]);
    let changes: Option<Vec<f64>> = pieces.iter().map(without).collect();
    let square: f64 = changes?.iter().map(|change| change * change).sum();
    Some((step[0], square.sqrt()))
}

/// Rows without their moving mean.
fn without_mean<const N: usize>(rows: &[(f64, [Velocity; N])]) -> impl Iterator<Item = (f64, [Velocity; N])> {
    let mut sums = Vec::with_capacity(rows.len() + 1);
    let mut sum = [Velocity::default(); N];
    sums.push(sum);
    for (_, values) in rows {
        sum = std::array::from_fn(|k| sum[k] + values[k]);
        sums.push(sum);
    }
    let (mut from, mut to) = (0, 0);
    rows.iter().map(move |&(time_s, values)| {
        while rows[from].0 < time_s - MEAN_SIDE_S {
            from += 1;
        }
        while to < rows.len() && rows[to].0 <= time_s + MEAN_SIDE_S {
            to += 1;
        }
        let part = ((to - from) as f64).recip();
        (time_s, std::array::from_fn(|k| values[k] - (sums[to][k] - sums[from][k]) * part))
    })
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

    /// Legs with turns between, all to one side: a log of 9 tenths and a compass that is 3° off are no lag, and noise is not
    /// taken for a turn. Rows of a second, readings of two.
    #[test]
    fn the_error_of_the_lag_is_told() {
        let mut seed = 1_u64;
        let mut noise = move || {
            // twelve even numbers make a nearly normal one (Park and Miller 1988, Commun. ACM 31, 1192)
            let sum: f64 = (0..12)
                .map(|_| {
                    seed = seed * 48_271 % 2_147_483_647;
                    seed as f64 / 2_147_483_647.0
                })
                .sum();
            sum - 6.0
        };
        let time_s: Vec<f64> = (0..5400).map(f64::from).collect();
        let legs = |t: f64| 100.0 * (t / 400.0).floor() + 2.5 * t.rem_euclid(400.0).min(40.0);
        let (mut squares, trips) = (0.0, 60);
        for trip in 0..trips {
            let late_s = 0.05 * f64::from(trip);
            let ground: Vec<Option<Velocity>> = time_s
                .iter()
                .map(|&t| {
                    let off = Velocity { east_mps: 0.03 * noise(), north_mps: 0.03 * noise() };
                    Some(Velocity::toward(1.2, legs(t)) + off)
                })
                .collect();
            let read = |t: f64, value: f64| (t % 2.0 == 0.0).then_some(value);
            let stw: Vec<_> = time_s.iter().map(|&t| read(t, 1.08 + 0.02 * noise())).collect();
            let shown: Vec<_> =
                time_s.iter().map(|&t| read(t, wrap_deg(legs(t - late_s) + 3.0 + 0.7 * noise()))).collect();
            let motion = Motion {
                time_s: &time_s,
                distance_m: &time_s,
                stw_mps: &stw,
                heading_deg: &shown,
                ..Motion::default()
            };
            let got = lag(&motion, &ground, &Settings::default()).unwrap();
            squares += ((got.value - late_s) / got.se).powi(2);
        }
        let scaled = (squares / f64::from(trips)).sqrt();
        // a tenth is what chance does to 60 trips
        assert!((0.7..1.3).contains(&scaled), "errors are {scaled} of what is told");
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
