//! Do the joined lines lie where the fronts lie?

use std::fmt;

use waterseam_breaks::{BreakLine, Settings};
use waterseam_demo::lake::{Front, Point};
use waterseam_units::LatLon;
use waterseam_units::angle::turn_deg;

use crate::score::median;
use crate::trips::Day;

/// What came of the lines of some days.
#[derive(Default)]
pub struct LineScore {
    pub lines: usize,
    /// Lines with crossings of two fronts.
    mixed: usize,
    joined: usize,
    crossings: usize,
    /// Of each vertex of each line from its true front.
    pub off_m: Vec<f64>,
    /// Direction across each line against that of the true front beside its middle.
    pub turns_deg: Vec<f64>,
    drift_errors_mps: Vec<f64>,
    drift_covered: usize,
}

/// Scores the lines of some days.
pub fn score(days: &[Day]) -> LineScore {
    let mut score = LineScore::default();
    for day in days {
        score.crossings += day.crossings.len();
        for line in waterseam_breaks::lines(&day.crossings, &Settings::default()) {
            score.add(day, &line);
        }
    }
    score
}

impl LineScore {
    fn add(&mut self, day: &Day, line: &BreakLine) {
        let lake = &day.truth.lake;
        let nearest = |at: LatLon, time_s: f64| {
            let off_m = |front: &Front| front.distance_m(Point::at(at), time_s).abs();
            lake.fronts.iter().min_by(|a, b| off_m(a).total_cmp(&off_m(b)))
        };
        let time_s =
            |index: usize| lake.time_s(day.zero_us + (1e6 * day.crossings[index].crossing.time_s) as i64);
        let fronts: Vec<&Front> =
            line.crossings.iter().filter_map(|&i| nearest(day.crossings[i].at, time_s(i))).collect();
        let Some(&front) = fronts.first() else { return };
        self.lines += 1;
        self.joined += line.crossings.len();
        self.mixed += usize::from(fronts.iter().any(|other| *other != front));
        let last_s = line.crossings.iter().map(|&i| time_s(i)).fold(0.0, f64::max);
        let truth = front.line_at(last_s);
        let off_m = line.vertices.iter().map(|&at| truth.along_across_m(Point::at(at)).1.abs());
        self.off_m.extend(off_m);
        let middle = Point::at(line.vertices[line.vertices.len() / 2]);
        self.turns_deg.push(turn_deg(line.warm_side_deg, truth.right_deg(middle)).abs());
        if let Some((mps, toward_deg, se_mps)) = line.drift() {
            let toward_warm = if turn_deg(toward_deg, line.warm_side_deg).abs() < 90.0 { 1.0 } else { -1.0 };
            let error_mps = (toward_warm * mps - front.drift_mps).abs();
            self.drift_errors_mps.push(error_mps);
            self.drift_covered += usize::from(error_mps <= 1.645 * se_mps);
        }
    }
}

impl fmt::Display for LineScore {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "{} lines of {} of {} crossings, {} over two fronts; median distance from the true front {:.0} m, error \
             of the direction {:.1}°; drift told of {}, median error {:.3} m/s, 90 % intervals cover {:.2}",
            self.lines,
            self.joined,
            self.crossings,
            self.mixed,
            median(&self.off_m),
            median(&self.turns_deg),
            self.drift_errors_mps.len(),
            median(&self.drift_errors_mps),
            self.drift_covered as f64 / self.drift_errors_mps.len() as f64,
        )
    }
}
