//! When did the boat move steadily enough, with instruments that work, to compare water and ground?

use crate::align::Aligned;
use crate::ground::value;
use crate::model::Reading;
use crate::{Motion, Settings, Velocity};

/// Heading and speed are averaged over this long before and after a row, s: longer than any instrument's lag.
const SIDE_S: f64 = 15.0;
/// Rows further apart than this were not steady between, s.
pub(crate) const GAP_S: f64 = 10.0;
/// So long before and after a reading of no way a boat may go astern, and a log shows that as if she went ahead, s.
const STOP_S: f64 = 30.0;
/// A wind that was logged holds for this long, s.
const WIND_HOLDS_S: f64 = 60.0;
/// A log that never shows more reads zero, m/s.
const ZERO_MPS: f64 = 0.05;

/// A row of steady motion, in which everything was measured.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Row {
    pub time_s: f64,
    pub distance_m: f64,
    pub ground: Velocity,
    /// As log and compass have it.
    pub reading: Reading,
}

/// The steady rows with log and compass, in time order.
pub(crate) fn steady_rows(
    motion: &Motion,
    ground: &[Option<Velocity>],
    winds: &Winds,
    aligned: &Aligned,
    settings: &Settings,
) -> Vec<Row> {
    let mut winds = winds.read();
    let steady = steady(motion.time_s, &aligned.bows, &aligned.stw_mps, settings);
    let mut rows = Vec::with_capacity(motion.time_s.len());
    let all = (0..motion.time_s.len())
        .filter(|&i| steady[i] && motion.time_s[i].is_finite() && motion.distance_m[i].is_finite())
        .filter_map(|i| {
            let (stw_mps, ground, bow) = (aligned.stw_mps[i]?, ground[i]?, aligned.bows[i]?);
            let felt = winds.toward(motion.time_s[i]).map(|wind| wind - ground);
            let cross_wind_mps = felt.map_or(0.0, |felt| felt.dot(bow.quarter_clockwise()));
            let reading = Reading { stw_mps, bow, cross_wind_mps };
            let row = Row { time_s: motion.time_s[i], distance_m: motion.distance_m[i], ground, reading };
            (stw_mps >= settings.least_stw_mps).then_some(row)
        });
    rows.extend(all);
    rows
}

/// Which rows lie in steady motion: direction (a unit vector) and speed agree before and after, and the boat does not stop;
/// what one side does not show is taken for steady.
pub(crate) fn steady(
    time_s: &[f64],
    ahead: &[Option<Velocity>],
    speed_mps: &[Option<f64>],
    settings: &Settings,
) -> Vec<bool> {
    let mut ahead_sums = Vec::with_capacity(time_s.len() + 1);
    let mut speed_sums = Vec::with_capacity(time_s.len() + 1);
    let (mut ahead_sum, mut speed_sum) = (Velocity::default(), (0.0, 0.0));
    ahead_sums.push(ahead_sum);
    speed_sums.push(speed_sum);
    for (ahead, speed) in ahead.iter().zip(speed_mps) {
        ahead_sum = ahead_sum + ahead.unwrap_or_default();
        speed_sum = (speed_sum.0 + speed.unwrap_or(0.0), speed_sum.1 + f64::from(u8::from(speed.is_some())));
        ahead_sums.push(ahead_sum);
        speed_sums.push(speed_sum);
    }
    let cos_turn = settings.turn_deg.to_radians().cos();
    // by the angle between two vectors; one without length shows no turn
    let turns = |a: Velocity, b: Velocity| {
        let lengths = (a.dot(a) * b.dot(b)).sqrt();
        lengths > 0.0 && a.dot(b) < cos_turn * lengths
    };
    let mean = |from: usize, to: usize| {
        let (sum, n) = (speed_sums[to].0 - speed_sums[from].0, speed_sums[to].1 - speed_sums[from].1);
        (n > 0.0).then(|| sum / n)
    };
    let (mut from, mut to) = (0, 0);
    let mut is_steady = |i: usize| {
        while time_s.get(from).is_some_and(|&t| t < time_s[i] - SIDE_S) {
            from += 1;
        }
        while time_s.get(to).is_some_and(|&t| t <= time_s[i] + SIDE_S) {
            to += 1;
        }
        if from > i || to < i {
            return false;
        }
        let change = mean(from, i).zip(mean(i, to)).map_or(0.0, |(a, b)| b - a);
        change.abs() <= settings.speed_change_mps
            && !turns(ahead_sums[i] - ahead_sums[from], ahead_sums[to] - ahead_sums[i])
    };
    let stops: Vec<f64> = (0..time_s.len())
        .filter(|&i| speed_mps[i].is_some_and(|speed| speed < settings.least_stw_mps))
        .map(|i| time_s[i])
        .collect();
    let mut stop = 0;
    let mut stops_near = |i: usize| {
        while stops.get(stop).is_some_and(|t| *t < time_s[i] - STOP_S) {
            stop += 1;
        }
        stops.get(stop).is_some_and(|t| *t <= time_s[i] + STOP_S)
    };
    (0..time_s.len()).map(|i| is_steady(i) & !stops_near(i)).collect()
}

/// The true wind as it was last logged.
#[derive(Clone, Debug, Default)]
pub(crate) struct Winds(Vec<(f64, Velocity)>);

impl Winds {
    pub fn new(motion: &Motion) -> Self {
        let wind = |i: usize| {
            let (speed, from) = (value(motion.wind_speed_mps, i)?, value(motion.wind_from_deg, i)?);
            Some((motion.time_s[i], Velocity::toward(speed, from + 180.0)))
        };
        Self((0..motion.time_s.len()).filter_map(wind).collect())
    }

    /// For times that grow.
    fn read(&self) -> WindsRead<'_> {
        WindsRead { winds: &self.0, after: 0 }
    }
}

struct WindsRead<'a> {
    winds: &'a [(f64, Velocity)],
    after: usize,
}

impl WindsRead<'_> {
    /// Velocity of the air over ground.
    fn toward(&mut self, time_s: f64) -> Option<Velocity> {
        while self.winds.get(self.after).is_some_and(|(t, _)| *t <= time_s) {
            self.after += 1;
        }
        let &(logged_s, wind) = self.winds.get(self.after.checked_sub(1)?)?;
        (time_s - logged_s <= WIND_HOLDS_S).then_some(wind)
    }
}

/// Time in which rows were steady, s.
pub(crate) fn steady_s<'a>(times_s: impl IntoIterator<Item = &'a f64>) -> f64 {
    let mut times_s = times_s.into_iter();
    let Some(mut last_s) = times_s.next() else { return 0.0 };
    let mut steady_s = 0.0;
    for time_s in times_s {
        if time_s - last_s <= GAP_S {
            steady_s += time_s - last_s;
        }
        last_s = time_s;
    }
    steady_s
}

/// The log's readings without those at which it was stuck, and whether there were such.
pub(crate) fn unstuck(
    motion: &Motion,
    ground: &[Option<Velocity>],
    settings: &Settings,
) -> (Vec<Option<f64>>, bool) {
    let stuck = stuck_rows(motion, ground, settings);
    let readings = (0..stuck.len()).map(|i| value(motion.stw_mps, i).filter(|_| !stuck[i])).collect();
    (readings, stuck.contains(&true))
}

/// Whether a log never shows more than nothing.
pub(crate) fn reads_zero(stw_mps: &[Option<f64>]) -> bool {
    stw_mps.iter().flatten().all(|&stw| stw.is_nan() || stw < ZERO_MPS)
}

/// Rows of a log that shows one value for long while the boat changes its speed too much for that.
fn stuck_rows(motion: &Motion, ground: &[Option<Velocity>], settings: &Settings) -> Vec<bool> {
    let mut stuck = vec![false; motion.time_s.len()];
    let logged: Vec<usize> = (0..stuck.len()).filter(|&i| value(motion.stw_mps, i).is_some()).collect();
    for run in logged.chunk_by(|&a, &b| motion.stw_mps[a] == motion.stw_mps[b]) {
        let (first, last) = (run[0], run[run.len() - 1]);
        if motion.time_s[last] - motion.time_s[first] < settings.stuck_s {
            continue;
        }
        let sog = ground[first..=last].iter().flatten().map(|v| v.speed_mps());
        let (least, most) = sog.fold((f64::MAX, f64::MIN), |(l, m), v| (l.min(v), m.max(v)));
        if most - least > settings.stuck_sog_change_mps {
            stuck[first..=last].fill(true);
        }
    }
    stuck
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::align::Readings;

    fn steady_of(stw: &dyn Fn(f64) -> f64, heading: &dyn Fn(f64) -> f64, sog: &dyn Fn(f64) -> f64) -> usize {
        let time_s: Vec<f64> = (0..1200).map(f64::from).collect();
        let column = |f: &dyn Fn(f64) -> f64| time_s.iter().map(|&t| Some(f(t))).collect::<Vec<_>>();
        let ground: Vec<Option<Velocity>> =
            time_s.iter().map(|&t| Some(Velocity::toward(sog(t), heading(t)))).collect();
        let (stw, heading) = (column(stw), column(heading));
        let motion = Motion { time_s: &time_s, distance_m: &time_s, stw_mps: &stw, ..Motion::default() };
        let settings = Settings::default();
        let (stw, _) = unstuck(&motion, &ground, &settings);
        let motion = Motion { stw_mps: &stw, heading_deg: &heading, ..motion };
        let aligned = Readings::new(&motion).aligned(&time_s, 0.0);
        steady_rows(&motion, &ground, &Winds::new(&motion), &aligned, &settings).len()
    }

    #[test]
    fn a_turn_is_left_out_and_nothing_else() {
        // 90° in 15 s, seen from a quarter minute before to a quarter minute after
        let rows = steady_of(&|_| 1.2, &|t| 90.0 * ((t - 600.0) / 15.0).clamp(0.0, 1.0), &|_| 1.2);
        assert!((1160..1180).contains(&rows), "{rows}");
    }

    #[test]
    fn a_log_that_is_stuck_gives_nothing() {
        assert_eq!(steady_of(&|_| 1.7, &|_| 90.0, &|t| if t < 600.0 { 1.2 } else { 8.0 }), 0);
        assert_eq!(steady_of(&|_| f64::NAN, &|_| 90.0, &|_| 1.2), 0);
        assert!(reads_zero(&[Some(0.0), None, Some(0.03)]) && !reads_zero(&[Some(0.0), Some(1.0)]));
    }

    #[test]
    fn the_wind_across_is_felt_over_the_boat() {
        let n = 300;
        let time_s: Vec<f64> = (0..n).map(f64::from).collect();
        let all = |v: f64| vec![Some(v); n as usize];
        let motion = Motion {
            time_s: &time_s,
            distance_m: &time_s,
            stw_mps: &all(1.0),
            heading_deg: &all(0.0),
            wind_speed_mps: &all(5.0),
            wind_from_deg: &all(270.0),
            ..Motion::default()
        };
        let ground = vec![Some(Velocity { east_mps: 0.5, north_mps: 1.0 }); n as usize];
        let aligned = Readings::new(&motion).aligned(&time_s, 0.0);
        let rows = steady_rows(&motion, &ground, &Winds::new(&motion), &aligned, &Settings::default());
        assert!((rows[50].reading.cross_wind_mps - 4.5).abs() < 1e-9, "{:?}", rows[50]);
    }
}
