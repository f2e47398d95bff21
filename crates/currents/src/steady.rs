//! When did the boat move steadily enough, with instruments that work, to compare water and ground?

use waterseam_units::angle::turn_deg;

use crate::{Motion, Settings, Velocity};

/// Heading and speed are averaged over this long before and after a row, s: longer than any instrument's lag.
const SIDE_S: f64 = 15.0;
/// Rows further apart than this were not steady between, s.
pub(crate) const GAP_S: f64 = 10.0;
/// A log that never shows more reads zero, m/s.
const ZERO_MPS: f64 = 0.05;

/// A row of steady motion, in which everything was measured.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Row {
    pub time_s: f64,
    pub distance_m: f64,
    pub ground: Velocity,
    /// As log and compass have it.
    pub water: Velocity,
}

/// What is wrong with a motion as a whole.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Lack {
    Ground,
    WaterSpeed,
    LogReadsZero,
    Heading,
    SteadyMotion,
}

/// The steady rows, in time order, and whether rows were left out because the log was stuck.
///
/// Turns and changes of speed are left out, and what the log shows below [`Settings::least_stw_mps`].
pub(crate) fn steady_rows(motion: &Motion, settings: &Settings) -> Result<(Vec<Row>, bool), Lack> {
    let n = motion.time_s.len();
    let any = |column: &[Option<f64>]| column.iter().flatten().any(|v| v.is_finite());
    if !(any(motion.sog_mps) && any(motion.cog_deg)) {
        return Err(Lack::Ground);
    }
    if !any(motion.stw_mps) {
        return Err(Lack::WaterSpeed);
    }
    if motion.stw_mps.iter().flatten().all(|&stw| stw.is_nan() || stw < ZERO_MPS) {
        return Err(Lack::LogReadsZero);
    }
    if !any(motion.heading_deg) {
        return Err(Lack::Heading);
    }
    let sums = RunningSums::new(motion);
    let stuck = stuck_rows(motion, settings);
    let rows: Vec<Row> = (0..n)
        .filter(|&i| !stuck[i])
        .filter_map(|i| Some((i, motion.row(i)?)))
        .filter(|(i, row)| {
            row.water.speed_mps() >= settings.least_stw_mps && sums.is_steady(motion, *i, settings)
        })
        .map(|(_, row)| row)
        .collect();
    if rows.is_empty() { Err(Lack::SteadyMotion) } else { Ok((rows, stuck.contains(&true))) }
}

/// Time in which rows were steady, s.
pub(crate) fn steady_s(rows: &[Row]) -> f64 {
    rows.windows(2).map(|pair| pair[1].time_s - pair[0].time_s).filter(|&apart| apart <= GAP_S).sum()
}

impl Motion<'_> {
    /// A row in which everything was measured.
    fn row(&self, i: usize) -> Option<Row> {
        let (sog, cog, stw, heading) =
            (self.sog_mps[i]?, self.cog_deg[i]?, self.stw_mps[i]?, self.heading_deg[i]?);
        let (time_s, distance_m) = (self.time_s[i], self.distance_m[i]);
        let finite = [sog, cog, stw, heading, time_s, distance_m].iter().all(|v| v.is_finite());
        let (ground, water) = (Velocity::toward(sog, cog), Velocity::toward(stw, heading));
        finite.then_some(Row { time_s, distance_m, ground, water })
    }
}

/// Rows of a log that shows one value for long while the boat changes its speed too much for that.
fn stuck_rows(motion: &Motion, settings: &Settings) -> Vec<bool> {
    let mut stuck = vec![false; motion.time_s.len()];
    let logged: Vec<usize> = (0..stuck.len()).filter(|&i| motion.stw_mps[i].is_some()).collect();
    for run in logged.chunk_by(|&a, &b| motion.stw_mps[a] == motion.stw_mps[b]) {
        let (first, last) = (run[0], run[run.len() - 1]);
        let sog = motion.sog_mps[first..=last].iter().flatten();
        let (least, most) = sog.fold((f64::MAX, f64::MIN), |(l, m), &v| (l.min(v), m.max(v)));
        let long = motion.time_s[last] - motion.time_s[first] >= settings.stuck_s;
        if long && most - least > settings.stuck_sog_change_mps {
            stuck[first..=last].fill(true);
        }
    }
    stuck
}

/// Sums of unit heading vectors and of water speeds up to each row.
struct RunningSums {
    heading: Vec<Velocity>,
    speed: Vec<(f64, f64)>,
}

impl RunningSums {
    fn new(motion: &Motion) -> Self {
        let (mut heading, mut speed) = (vec![Velocity::default()], vec![(0.0, 0.0)]);
        for i in 0..motion.time_s.len() {
            let unit = motion.heading_deg[i].filter(|v| v.is_finite()).map(|deg| Velocity::toward(1.0, deg));
            heading.push(heading[i] + unit.unwrap_or_default());
            let stw = motion.stw_mps[i].filter(|v| v.is_finite());
            speed.push((speed[i].0 + stw.unwrap_or(0.0), speed[i].1 + f64::from(u8::from(stw.is_some()))));
        }
        Self { heading, speed }
    }

    /// Whether heading and speed agree before and after a row; what one side does not show is taken for steady.
    fn is_steady(&self, motion: &Motion, i: usize, settings: &Settings) -> bool {
        let from = motion.time_s.partition_point(|&t| t < motion.time_s[i] - SIDE_S);
        let to = motion.time_s.partition_point(|&t| t <= motion.time_s[i] + SIDE_S);
        let heading = |from: usize, to: usize| (self.heading[to] - self.heading[from]).speed_direction().1;
        let speed = |from: usize, to: usize| {
            let (sum, n) = (self.speed[to].0 - self.speed[from].0, self.speed[to].1 - self.speed[from].1);
            (n > 0.0).then(|| sum / n)
        };
        let both = |before: Option<f64>, after: Option<f64>| before.zip(after);
        let turn =
            both(heading(from, i), heading(i, to)).map_or(0.0, |(before, after)| turn_deg(before, after));
        let change = both(speed(from, i), speed(i, to)).map_or(0.0, |(before, after)| after - before);
        turn.abs() <= settings.turn_deg && change.abs() <= settings.speed_change_mps
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn steady(
        stw: &dyn Fn(f64) -> f64,
        heading: &dyn Fn(f64) -> f64,
        sog: &dyn Fn(f64) -> f64,
    ) -> Result<usize, Lack> {
        let time_s: Vec<f64> = (0..1200).map(f64::from).collect();
        let column = |f: &dyn Fn(f64) -> f64| time_s.iter().map(|&t| Some(f(t))).collect::<Vec<_>>();
        let (stw, heading, sog) = (column(stw), column(heading), column(sog));
        let motion = Motion {
            time_s: &time_s,
            distance_m: &time_s,
            sog_mps: &sog,
            cog_deg: &heading,
            stw_mps: &stw,
            heading_deg: &heading,
        };
        steady_rows(&motion, &Settings::default()).map(|(rows, _)| rows.len())
    }

    #[test]
    fn a_turn_is_left_out_and_nothing_else() {
        // 90° in 15 s, seen from a quarter minute before to a quarter minute after
        let rows = steady(&|_| 1.2, &|t| 90.0 * ((t - 600.0) / 15.0).clamp(0.0, 1.0), &|_| 1.2).unwrap();
        assert!((1160..1180).contains(&rows), "{rows}");
    }

    #[test]
    fn a_log_that_reads_zero_or_is_stuck_gives_nothing() {
        assert_eq!(steady(&|_| 0.0, &|_| 90.0, &|_| 0.03), Err(Lack::LogReadsZero));
        assert_eq!(
            steady(&|_| 1.7, &|_| 90.0, &|t| if t < 600.0 { 1.2 } else { 8.0 }),
            Err(Lack::SteadyMotion)
        );
        assert_eq!(steady(&|_| f64::NAN, &|_| 90.0, &|_| 1.2), Err(Lack::WaterSpeed));
    }
}
