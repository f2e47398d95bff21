//! How much later than the velocity over ground do log and compass show a change, and what did they show at the time?
//!
//! In a turn the velocity over ground changes as the velocity through the water does. The lag is where the changes of
//! both agree best (least squares), over the turns and the weaving of the whole trip; the current, which changes slowly,
//! drops out with a moving mean. A log that reads high and a compass that is off are fitted along: in turns that are not as
//! many to one side as to the other they look like a lag.

use std::ops::Range;

use multiversion::multiversion;
use waterseam_units::angle::turn_deg;

use crate::calibration::Known;
use crate::ground::value;
use crate::turns::{Normal, ROW_S, Right, Turns, side_by_side};
use crate::vector::{SMALL, small_sin_cos};
use crate::{Motion, Settings, Velocity};

/// Between readings further apart nothing is known, s.
const READINGS_APART_S: f64 = 6.0;
/// Rounds of improving the lag, s.
const ROUNDS: usize = 8;
const ARRIVED_S: f64 = 0.005;
/// What part of the way a step goes is seen from so many rows' seconds to either side of the lag.
const PART_SIDE_ROWS: isize = 1;
/// A part below this is taken for this: what noise leaves so little of is no lag.
const LEAST_PART: f64 = 0.05;

/// Readings on the clock of the velocity over ground.
#[derive(Clone, Debug, Default)]
pub(crate) struct Aligned {
    pub stw_mps: Vec<Option<f64>>,
    /// Headings as unit vectors.
    pub bows: Vec<Option<Velocity>>,
}

/// Times and values of the rows that have one.
fn readings(time_s: &[f64], column: &[Option<f64>]) -> (Vec<f64>, Vec<f64>) {
    let mut both = (Vec::with_capacity(time_s.len()), Vec::with_capacity(time_s.len()));
    both.extend((0..time_s.len()).filter_map(|i| Some((time_s[i], value(column, i)?))));
    both
}

/// Looks up times that grow among those of readings.
#[derive(Clone, Copy)]
pub(crate) struct Cursor<'a> {
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
        // mostly it is the next one or the one after it
        let is_before = |t: &f64| *t < wanted_s;
        for _ in 0..2 {
            self.after += usize::from(self.readings_s.get(self.after).is_some_and(is_before));
        }
        if self.readings_s.get(self.after).is_some_and(is_before) {
            self.after += self.readings_s[self.after..].partition_point(is_before);
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
    /// The last of them twice.
    stw_mps: Vec<f64>,
    compass_s: Vec<f64>,
    /// Readings that follow one another as rows mostly do.
    log_runs: Vec<Range<usize>>,
    compass_runs: Vec<Range<usize>>,
    /// Headings as unit vectors toward east and north, and the turn from each to the next, radians.
    bows: [Vec<f64>; 3],
    /// Whether log and compass were read at the same times.
    together: bool,
}

/// Columns of velocities: toward east and north, m/s, and 1 where they are known, else all three are 0.
pub(crate) type Velocities = [Vec<f64>; 3];

impl Readings {
    pub fn new(motion: &Motion) -> Self {
        let (log_s, mut stw_mps) = readings(motion.time_s, motion.stw_mps);
        let (compass_s, headings_deg) = readings(motion.time_s, motion.heading_deg);
        stw_mps.extend(stw_mps.last().copied());
        let mut bows = [(); 3].map(|()| Vec::with_capacity(headings_deg.len()));
        for (i, &heading_deg) in headings_deg.iter().enumerate() {
            let next_deg = headings_deg.get(i + 1).copied().unwrap_or(heading_deg);
            let bow = Velocity::toward(1.0, heading_deg);
            bows[0].push(bow.east_mps);
            bows[1].push(bow.north_mps);
            bows[2].push(turn_deg(heading_deg, next_deg).to_radians());
        }
        let together = log_s == compass_s;
        let [log_runs, compass_runs] = [&log_s, &compass_s].map(|times_s| side_by_side(times_s));
        Self { log_s, stw_mps, compass_s, log_runs, compass_runs, bows, together }
    }

    pub fn cursors(&self) -> (Cursor<'_>, Cursor<'_>) {
        (Cursor::new(&self.log_s), Cursor::new(&self.compass_s))
    }

    #[inline]
    fn stw_mps(&self, (log, part): (usize, f64)) -> f64 {
        self.stw_mps[log] + (self.stw_mps[log + 1] - self.stw_mps[log]) * part
    }

    #[inline]
    fn bow(&self, (compass, part): (usize, f64)) -> Velocity {
        let [east, north, turn] = &self.bows;
        Velocity { east_mps: east[compass], north_mps: north[compass] }.turned(turn[compass] * part)
    }

    /// What log and compass showed a lag later than each time, between readings on a straight line.
    pub fn aligned(&self, time_s: &[f64], lag_s: f64) -> Aligned {
        let (mut log, mut compass) = self.cursors();
        Aligned {
            stw_mps: time_s.iter().map(|t| Some(self.stw_mps(log.place(t + lag_s)?))).collect(),
            bows: time_s.iter().map(|t| Some(self.bow(compass.place(t + lag_s)?))).collect(),
        }
    }

    /// Where a time lies among the readings of the log and among those of the compass.
    #[inline]
    fn places(&self, (log, compass): &mut (Cursor, Cursor), wanted_s: f64) -> Option<[(usize, f64); 2]> {
        let at_log = log.place(wanted_s);
        let at_compass = if self.together { at_log } else { compass.place(wanted_s) };
        Some([at_log?, at_compass?])
    }

    /// Velocity through the water behind what log and compass showed at a time; `None` of a log that hardly turns.
    pub fn water(
        &self,
        cursors: &mut (Cursor, Cursor),
        wanted_s: f64,
        settings: &Settings,
    ) -> Option<Velocity> {
        let [log, compass] = self.places(cursors, wanted_s)?;
        let stw_mps = self.stw_mps(log);
        (stw_mps >= settings.least_stw_mps).then(|| self.bow(compass) * stw_mps)
    }

    /// The same a lag later than each time; where rows follow one another as readings do, many of them side by side.
    pub fn waters(&self, time_s: &[f64], lag_s: f64, settings: &Settings, to: &mut Velocities) {
        let mut cursors = self.cursors();
        for column in &mut *to {
            column.clear();
            column.resize(time_s.len(), 0.0);
        }
        let [mut log_runs, mut compass_runs] = [&self.log_runs, &self.compass_runs].map(Runs::new);
        for rows in side_by_side(time_s) {
            let mut row = rows.start;
            while row < rows.end {
                let Some([log, compass]) = self.places(&mut cursors, time_s[row] + lag_s) else {
                    row += 1;
                    continue;
                };
                let n = log_runs.from(log).min(compass_runs.from(compass)).min(rows.end - row);
                let stw_mps = &self.stw_mps[log.0..=log.0 + n];
                let bows = self.bows.each_ref().map(|column| &column[compass.0..compass.0 + n]);
                let to = to.each_mut().map(|column| &mut column[row..row + n]);
                water_of_run(stw_mps, bows, (log.1, compass.1), settings.least_stw_mps, to);
                row += n;
            }
        }
    }
}

/// Looks up readings that follow one another as rows mostly do.
struct Runs<'a> {
    runs: &'a [Range<usize>],
    at: usize,
}

impl<'a> Runs<'a> {
    fn new(runs: &'a Vec<Range<usize>>) -> Self {
        Self { runs, at: 0 }
    }

    /// How many times, as far apart as rows mostly are, lie as one does behind a reading, each behind the next of them.
    fn from(&mut self, (reading, part): (usize, f64)) -> usize {
        while self.runs.get(self.at).is_some_and(|run| run.end <= reading) {
            self.at += 1;
        }
        let end = self.runs.get(self.at).map_or(reading + 1, |run| run.end);
        // behind the last of them the next is not where it would be
        let left = end - reading;
        if part > 0.0 { (left - 1).max(1) } else { left }
    }
}

/// Rows that are worked on side by side.
const LANES: usize = 8;

/// Velocities through the water between readings that follow one another, one more of the log than rows.
#[multiversion(targets("x86_64+avx+avx2"))]
fn water_of_run(
    stw_mps: &[f64],
    bows: [&[f64]; 3],
    (log_part, compass_part): (f64, f64),
    least_mps: f64,
    to: [&mut [f64]; 3],
) {
    let rows = stw_mps.len() - 1;
    let [east, north, turn] = bows.map(|column| &column[..rows]);
    let [to_east, to_north, to_known] = to;
    let mut row = 0;
    while row < rows {
        let n = LANES.min(rows - row);
        let (mut sin, mut cos) = ([0.0; LANES], [1.0; LANES]);
        for lane in 0..n {
            sin[lane] = turn[row + lane] * compass_part;
        }
        let angles = sin;
        for lane in 0..LANES {
            (sin[lane], cos[lane]) = small_sin_cos(angles[lane]);
        }
        // a boat that spins
        if angles.iter().fold(false, |some, angle| some | (angle.abs() >= SMALL)) {
            for lane in 0..n {
                (sin[lane], cos[lane]) = angles[lane].sin_cos();
            }
        }
        for lane in 0..n {
            let at = row + lane;
            let mps = stw_mps[at] + (stw_mps[at + 1] - stw_mps[at]) * log_part;
            let known = if mps >= least_mps { 1.0 } else { 0.0 };
            to_east[at] = (east[at] * cos[lane] + north[at] * sin[lane]) * (mps * known);
            to_north[at] = (north[at] * cos[lane] - east[at] * sin[lane]) * (mps * known);
            to_known[at] = known;
        }
        row += n;
    }
}

/// The lag of log and compass; `None` where the boat turned too little to tell.
pub(crate) fn lag(
    time_s: &[f64],
    readings: &Readings,
    ground: &[Option<Velocity>],
    settings: &Settings,
) -> Option<Known> {
    let mut turns = Turns::new(time_s, readings, ground, settings);
    let mut improved = |lag_s: f64, rows: isize| improved(turns.equations(lag_s, rows), settings);
    // noise makes slopes look steeper than they are: steps fall short, and their standard errors with them
    let part = |from: (f64, f64), to: (f64, f64)| ((from.1 - to.1) / (to.0 - from.0)).clamp(LEAST_PART, 1.0);
    let (mut lag_s, mut se_s) = (0.0, f64::INFINITY);
    let (mut last, mut gone) = (None, 1.0);
    for _ in 0..ROUNDS {
        let (step_s, error_s) = improved(lag_s, 0)?;
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
    // rows mostly lie so far apart that both sides look at the same readings
    let mut beside = |rows: isize| Some((lag_s + rows as f64 * ROW_S, improved(lag_s, rows)?.0));
    se_s /= part(beside(-PART_SIDE_ROWS)?, beside(PART_SIDE_ROWS)?);
    (lag_s.abs() <= settings.lag_max_s && se_s <= settings.lag_se_max_s)
        .then_some(Known { value: lag_s, se: se_s })
}

/// Step from a lag toward a better one, with its standard error, by the equations of each piece of the trip.
fn improved(pieces: &[(Normal, Right)], settings: &Settings) -> Option<(f64, f64)> {
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
