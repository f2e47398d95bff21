//! How much later than the velocity over ground do log and compass show a change, and what did they show at the time?
//!
//! In a turn the velocity over ground changes as the velocity through the water does. The lag is where the changes of
//! both agree best (least squares), over the turns and the weaving of the whole trip; the current, which changes slowly,
//! drops out with a moving mean. A log that reads high and a compass that is off are fitted along: in turns that are not as
//! many to one side as to the other they look like a lag.

use nalgebra::{SMatrix, SVector};
use waterseam_units::angle::turn_deg;

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
    /// Headings as unit vectors.
    pub bows: Vec<Option<Velocity>>,
}

/// Times and values of the rows that have one.
fn readings(time_s: &[f64], column: &[Option<f64>]) -> (Vec<f64>, Vec<f64>) {
    (0..time_s.len()).filter_map(|i| Some((time_s[i], value(column, i)?))).unzip()
}

/// Looks up times that grow among those of readings.
#[derive(Clone, Copy)]
struct Cursor<'a> {
    readings_s: &'a [f64],
    after: usize,
}

impl<'a> Cursor<'a> {
    fn new(readings_s: &'a [f64]) -> Self {
        Self { readings_s, after: 0 }
    }

    /// Where a time lies: the reading before, and what part of the way it is to the next; no part where it lies on one.
    #[inline]
    fn place(&mut self, wanted_s: f64) -> Option<(usize, f64)> {
        while self.readings_s.get(self.after).is_some_and(|t| *t < wanted_s) {
            self.after += 1;
        }
        let to_s = *self.readings_s.get(self.after)?;
        if to_s == wanted_s {
            return Some((self.after, 0.0));
        }
        let before = self.after.checked_sub(1)?;
        let from_s = self.readings_s[before];
        let (past_s, apart_s) = (wanted_s - from_s, to_s - from_s);
        // most readings lie a second apart
        let part = if apart_s == 1.0 { past_s } else { past_s / apart_s };
        (apart_s <= READINGS_APART_S).then_some((before, part))
    }
}

/// The readings of log and compass, made ready for any lag.
#[derive(Clone, Debug, Default)]
pub(crate) struct Readings {
    log_s: Vec<f64>,
    stw_mps: Vec<f64>,
    compass_s: Vec<f64>,
    /// Headings as unit vectors, and the turn from each to the next, radians.
    bows: Vec<(Velocity, f64)>,
    /// Whether log and compass were read at the same times.
    together: bool,
}

impl Readings {
    pub fn new(motion: &Motion) -> Self {
        let (log_s, stw_mps) = readings(motion.time_s, motion.stw_mps);
        let (compass_s, headings_deg) = readings(motion.time_s, motion.heading_deg);
        let bow = |(i, &heading_deg): (usize, &f64)| {
            let next_deg = headings_deg.get(i + 1).copied().unwrap_or(heading_deg);
            (Velocity::toward(1.0, heading_deg), turn_deg(heading_deg, next_deg).to_radians())
        };
        let bows = headings_deg.iter().enumerate().map(bow).collect();
        let together = log_s == compass_s;
        Self { log_s, stw_mps, compass_s, bows, together }
    }

    fn cursors(&self) -> (Cursor<'_>, Cursor<'_>) {
        (Cursor::new(&self.log_s), Cursor::new(&self.compass_s))
    }

    #[inline]
    fn stw_mps(&self, (log, part): (usize, f64)) -> f64 {
        let from_mps = self.stw_mps[log];
        let next_mps = self.stw_mps.get(log + 1).copied().unwrap_or(from_mps);
        from_mps + (next_mps - from_mps) * part
    }

    #[inline]
    fn bow(&self, (compass, part): (usize, f64)) -> Velocity {
        let (bow, turn) = self.bows[compass];
        bow.turned(turn * part)
    }

    /// What log and compass showed a lag later than each time, between readings on a straight line.
    pub fn aligned(&self, time_s: &[f64], lag_s: f64) -> Aligned {
        let (mut log, mut compass) = self.cursors();
        Aligned {
            stw_mps: time_s.iter().map(|t| Some(self.stw_mps(log.place(t + lag_s)?))).collect(),
            bows: time_s.iter().map(|t| Some(self.bow(compass.place(t + lag_s)?))).collect(),
        }
    }

    /// Velocity through the water behind what log and compass showed at a time; `None` of a log that hardly turns.
    #[inline]
    fn water(
        &self,
        (log, compass): &mut (Cursor, Cursor),
        wanted_s: f64,
        settings: &Settings,
    ) -> Option<Velocity> {
        let at_log = log.place(wanted_s);
        let at_compass = if self.together { at_log } else { compass.place(wanted_s) };
        let stw_mps = self.stw_mps(at_log?);
        let compass = at_compass?;
        (stw_mps >= settings.least_stw_mps).then(|| self.bow(compass) * stw_mps)
    }
}

/// The lag of log and compass; `None` where the boat turned too little to tell.
pub(crate) fn lag(
    time_s: &[f64],
    readings: &Readings,
    ground: &[Option<Velocity>],
    settings: &Settings,
) -> Option<Known> {
    let mut room = Room::default();
    let mut improved = |lag_s: f64| improved(time_s, readings, ground, lag_s, settings, &mut room);
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
    let mut beside = |lag_s: f64| Some((lag_s, improved(lag_s)?.0));
    se_s /= part(beside(lag_s - PART_SIDE_S)?, beside(lag_s + PART_SIDE_S)?);
    (lag_s.abs() <= settings.lag_max_s && se_s <= settings.lag_se_max_s)
        .then_some(Known { value: lag_s, se: se_s })
}

/// Memory that is used again for each lag that is looked at.
#[derive(Default)]
struct Room {
    water: Vec<Option<Velocity>>,
    rows: Vec<(f64, Changes)>,
}

/// What is compared at a row: velocity over ground less that through the water, by how much the one through the water changes in a
/// second, and that itself.
type Changes = [Velocity; 3];

/// Step from a lag toward a better one, with its standard error by pieces of the trip.
fn improved(
    time_s: &[f64],
    readings: &Readings,
    ground: &[Option<Velocity>],
    lag_s: f64,
    settings: &Settings,
    Room { water, rows }: &mut Room,
) -> Option<(f64, f64)> {
    let mut here = readings.cursors();
    water.clear();
    rows.clear();
    rows.reserve(time_s.len());
    water.extend(time_s.iter().map(|t| readings.water(&mut here, t + lag_s, settings)));
    let (mut earlier, mut later) = (readings.cursors(), readings.cursors());
    for (i, (&time_s_here, ground)) in time_s.iter().zip(ground).enumerate() {
        let (Some(ground), Some(here)) = (*ground, water[i]) else { continue };
        // mostly that of the row beside it
        let beside = |row: Option<usize>, wanted_s: f64, cursors: &mut (Cursor, Cursor)| match row
            .filter(|&row| time_s.get(row) == Some(&wanted_s))
        {
            Some(row) => water[row],
            None => readings.water(cursors, wanted_s + lag_s, settings),
        };
        let before = beside(i.checked_sub(1), time_s_here - SLOPE_SIDE_S, &mut earlier);
        let after = beside(Some(i + 1), time_s_here + SLOPE_SIDE_S, &mut later);
        if let (Some(before), Some(after)) = (before, after) {
            rows.push((time_s_here, [ground - here, (after - before) * (0.5 / SLOPE_SIDE_S), here]));
        }
    }
    let mut pieces: Vec<(Normal, Right)> = Vec::new();
    let mut piece_s = f64::NAN..f64::NAN;
    let mut sums = Sums::default();
    each_without_mean(rows, |time_s, [off, slope, here]| {
        if !piece_s.contains(&time_s) {
            if !piece_s.start.is_nan() {
                pieces.push(std::mem::take(&mut sums).equations());
            }
            let first_s = (time_s / PIECE_S).floor() * PIECE_S;
            piece_s = first_s..first_s + PIECE_S;
        }
        sums.add(off, slope, here);
    });
    if !rows.is_empty() {
        pieces.push(sums.equations());
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

/// Sums of a piece.
#[derive(Default)]
struct Sums {
    slope: f64,
    by_length: f64,
    by_turn: f64,
    square: f64,
    right: [f64; 3],
}

impl Sums {
    fn add(&mut self, off: Velocity, slope: Velocity, here: Velocity) {
        // a log that reads high lengthens the velocity, a compass that is off turns it: the two are square to one another
        let turned = here.quarter_clockwise();
        self.slope += slope.dot(slope);
        self.by_length += slope.dot(here);
        self.by_turn += slope.dot(turned);
        self.square += here.dot(here);
        self.right[0] += slope.dot(off);
        self.right[1] += here.dot(off);
        self.right[2] += turned.dot(off);
    }

    fn equations(self) -> (Normal, Right) {
        let Self { slope, by_length, by_turn, square, right } = self;
        let normal = Normal::new(
            slope, by_length, by_turn, //
            by_length, square, 0.0, //
            by_turn, 0.0, square,
        );
        (normal, Right::from(right))
    }
}

/// Calls back with each row without its moving mean.
fn each_without_mean(rows: &[(f64, Changes)], mut each: impl FnMut(f64, Changes)) {
    let mut sums = [Velocity::default(); 3];
    let (mut from, mut to) = (0, 0);
    let (mut n, mut part) = (0, 0.0);
    for &(time_s, values) in rows {
        while to < rows.len() && rows[to].0 <= time_s + MEAN_SIDE_S {
            sums = std::array::from_fn(|k| sums[k] + rows[to].1[k]);
            to += 1;
        }
        while rows[from].0 < time_s - MEAN_SIDE_S {
            sums = std::array::from_fn(|k| sums[k] - rows[from].1[k]);
            from += 1;
        }
        if n != to - from {
            n = to - from;
            part = (n as f64).recip();
        }
        each(time_s, std::array::from_fn(|k| values[k] - sums[k] * part));
    }
}

#[cfg(test)]
mod tests {
    use waterseam_units::angle::wrap_deg;

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
            let got = lag(&time_s, &Readings::new(&motion), &ground, &Settings::default()).unwrap();
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
            let got = lag(&time_s, &Readings::new(&motion), &ground, &Settings::default()).unwrap();
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
        let ground = vec![Some(Velocity::toward(1.2, 50.0)); 3600];
        assert_eq!(lag(&time_s, &Readings::new(&motion), &ground, &Settings::default()), None);
    }
}
