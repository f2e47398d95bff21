//! How near is what was found to what was true?

use std::fmt;

use waterseam_currents::{Calibration, Known};
use waterseam_demo::truth::EdgeCrossingTruth;

use crate::trips::Day;

/// Weakest change that is to be found, m/s.
const LEAST_CHANGE_MPS: f64 = 0.2;
/// An edge counts as found within this distance along the track, or half its width where that is more, m.
const NEAR_M: f64 = 150.0;
/// Two crossings closer than this along the track (a turn on the edge) cannot be told apart, m.
const APART_M: f64 = 300.0;

const NAMES: [&str; 8] = ["scale", "offset", "A", "B", "C", "D", "E", "lag"];

/// Scores of days.
#[derive(Default)]
pub struct Score {
    pub rms_mps: f64,
    /// Of components of the current within nominal 90 % intervals.
    pub covered: f64,
    windows: usize,
    pub to_find: usize,
    recalled: usize,
    found: usize,
    right: usize,
    calibrated: usize,
    days: usize,
    /// For each term: days on which it is told, on which it is within two standard errors, mean standard error.
    terms: [(usize, usize, f64); 8],
}

impl Score {
    pub fn of(days: &[Day]) -> Self {
        let mut score = Self { days: days.len(), ..Self::default() };
        let (mut square, mut inside) = (0.0, 0);
        for day in days {
            for window in &day.found.windows {
                let truth = day.current(window.time_s);
                let (east, north) = (window.east_mps - truth.east_mps, window.north_mps - truth.north_mps);
                square += east * east + north * north;
                score.windows += 1;
                inside += usize::from(east.abs() <= 1.645 * window.east_se_mps);
                inside += usize::from(north.abs() <= 1.645 * window.north_se_mps);
            }
            score.calibrated += usize::from(day.found.calibration.is_some());
            if let Some(calibration) = &day.found.calibration {
                score.count_terms(calibration, &truth(day, calibration));
            }
            score.count_edges(day);
            if std::env::var_os("WATERSEAM_DETAILS").is_some() {
                print_details(day);
            }
        }
        score.rms_mps = (square / score.windows as f64).sqrt();
        score.covered = inside as f64 / (2 * score.windows) as f64;
        score
    }

    fn count_terms(&mut self, calibration: &Calibration, errors: &[f64; 8]) {
        for ((term, told), truth) in self.terms.iter_mut().zip(told(calibration)).zip(errors) {
            if let Some(known) = told {
                term.0 += 1;
                term.1 += usize::from((known.value - truth).abs() <= 2.0 * known.se);
                term.2 += known.se;
            }
        }
    }

    fn count_edges(&mut self, day: &Day) {
        let crossings = &day.truth.edge_crossings;
        let is_near = |time_s: f64, truth: &EdgeCrossingTruth| {
            let off_s = (day.instant_us(time_s) - truth.time_us).abs() as f64 / 1e6;
            // at trolling speed
            off_s * 1.1 <= NEAR_M.max(0.5 * truth.width_m)
        };
        for (i, truth) in crossings.iter().enumerate().filter(|(_, truth)| is_wanted(truth)) {
            let others = crossings.iter().enumerate().filter(|(other, _)| *other != i);
            if others.map(|(_, other)| (other.distance_m - truth.distance_m).abs()).all(|m| m >= APART_M) {
                self.to_find += 1;
                self.recalled += usize::from(day.found.edges.iter().any(|edge| is_near(edge.time_s, truth)));
            }
        }
        self.found += day.found.edges.len();
        let right = day.found.edges.iter().filter(|edge| crossings.iter().any(|t| is_near(edge.time_s, t)));
        self.right += right.count();
    }

    pub fn recall(&self) -> f64 {
        self.recalled as f64 / self.to_find as f64
    }

    pub fn precision(&self) -> f64 {
        self.right as f64 / self.found as f64
    }

    /// For each term its name, the days on which it is told and the share within two standard errors.
    pub fn each_term(&self) -> impl Iterator<Item = (&'static str, usize, f64)> {
        let share = |(told, within, _): (usize, usize, f64)| (told, within as f64 / told as f64);
        NAMES.into_iter().zip(self.terms.map(share)).map(|(name, (told, within))| (name, told, within))
    }

    /// Terms that are told, and the share of them within two standard errors.
    pub fn terms(&self) -> (usize, f64) {
        let told: usize = self.terms.iter().map(|term| term.0).sum();
        let within: usize = self.terms.iter().map(|term| term.1).sum();
        (told, within as f64 / told as f64)
    }
}

fn is_wanted(truth: &EdgeCrossingTruth) -> bool {
    truth.trolling && truth.east_change_mps.hypot(truth.north_change_mps) >= LEAST_CHANGE_MPS
}

/// How log and compass erred; where no offset is told, the scale is that at the trip's median reading.
fn truth(day: &Day, calibration: &Calibration) -> [f64; 8] {
    let mut errors = day.errors;
    if calibration.log_offset_mps.is_none() {
        errors[0] = day.true_factor();
    }
    errors
}

fn told(calibration: &Calibration) -> [Option<Known>; 8] {
    let [a, b, c, d, e] = calibration.deviation_deg;
    [calibration.log_scale, calibration.log_offset_mps, a, b, c, d, e, calibration.lag_s]
}

fn print_details(day: &Day) {
    println!("seed {}: {:?}", day.seed, day.found.remarks);
    if let Some(calibration) = &day.found.calibration {
        for ((known, truth), name) in told(calibration).iter().zip(truth(day, calibration)).zip(NAMES) {
            let Some(Known { value, se }) = known else { continue };
            println!("   {name} {value:.5} true {truth:.5} se {se:.5}: {:.1}", (value - truth) / se);
        }
    }
    for w in &day.found.windows {
        let t = day.current(w.time_s);
        let (e, n) = (w.east_mps - t.east_mps, w.north_mps - t.north_mps);
        println!("   {:6.0} s {e:+.3} ± {:.3} {n:+.3} ± {:.3}", w.time_s, w.east_se_mps, w.north_se_mps);
    }
    for edge in &day.found.edges {
        let (t, m, c, w) = (edge.time_s, edge.distance_m, edge.change_mps, edge.width_m);
        println!("   found at {t:.0} s, {m:.0} m: {c:.2} m/s in {w:.0} m");
    }
    for t in &day.truth.edge_crossings {
        let change = t.east_change_mps.hypot(t.north_change_mps);
        let s = (t.time_us - day.instant_us(0.0)) as f64 / 1e6;
        println!(
            "   true at {s:.0} s, {:.0} m: {change:.2} m/s in {:.0} m, {:.0}°",
            t.distance_m, t.width_m, t.angle_deg
        );
    }
}

impl fmt::Display for Score {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "{} days, {} windows, rms {:.3} m/s, 90 % intervals hold {:.3}",
            self.days, self.windows, self.rms_mps, self.covered,
        )?;
        if self.calibrated == 0 {
            return Ok(());
        }
        write!(
            f,
            "; edges: recall {:.3} of {}, precision {:.3} of {}; {} calibrated, within two standard errors {:.3}:",
            self.recall(),
            self.to_find,
            self.precision(),
            self.found,
            self.calibrated,
            self.terms().1,
        )?;
        for (name, (told, within, se)) in NAMES.iter().zip(self.terms) {
            let n = told.max(1) as f64;
            write!(f, " {name} {:.2} of {told} (± {:.3})", within as f64 / n, se / n)?;
        }
        Ok(())
    }
}
