//! How good is what was found?

use waterseam_breaks::PlacedCrossing;
use waterseam_demo::truth::CrossingTruth;
use waterseam_units::LatLon;

use crate::trips::{Day, Wanted};

/// A break that somebody found.
#[derive(Clone, Copy, Debug)]
pub struct Found {
    pub time_us: i64,
    pub at: LatLon,
    pub step_c: f64,
    pub width_m: f64,
    pub centre_se_m: f64,
    pub step_se_c: f64,
}

impl Found {
    pub fn new(placed: &PlacedCrossing, zero_us: i64) -> Self {
        let crossing = &placed.crossing;
        Self {
            time_us: zero_us + (1e6 * crossing.time_s) as i64,
            at: placed.at,
            step_c: crossing.step_c,
            width_m: crossing.width_m,
            centre_se_m: crossing.centre_se_m,
            step_se_c: crossing.step_se_c,
        }
    }
}

/// A found break belongs to a true one of the same sign when their centres are this close along the track, m, or
/// within half the true width.
const MATCH_M: f64 = 150.0;
/// Standard errors of a nominal 90 % interval to either side.
const NINETY_PERCENT: f64 = 1.645;

#[derive(Default)]
pub struct Score {
    found: usize,
    missed: usize,
    invented: usize,
    /// At trolling speed.
    pub centre_errors_m: Vec<f64>,
    pub step_errors: Vec<f64>,
    covered_centre: usize,
    covered_step: usize,
    km: f64,
}

impl Score {
    /// Scores what was found on some days.
    pub fn of(days: &[Day], wanted: Wanted, found: impl Fn(&Day) -> Vec<Found>) -> Self {
        let mut score = Self::default();
        for day in days {
            score.add(day, wanted, &found(day));
        }
        score
    }

    fn add(&mut self, day: &Day, wanted: Wanted, found: &[Found]) {
        let show = std::env::var("WATERSEAM_SHOW").is_ok() && found.iter().any(|f| f.width_m > 0.0);
        let mut is_used = vec![false; found.len()];
        for truth in &day.truth.crossings {
            let near_m = MATCH_M.max(0.5 * truth.width_m);
            let best = (0..found.len())
                .filter(|&i| !is_used[i] && (found[i].step_c > 0.0) == (truth.step_c > 0.0))
                .filter(|&i| off_m(&found[i], truth) <= near_m)
                .min_by(|&a, &b| off_m(&found[a], truth).total_cmp(&off_m(&found[b], truth)));
            if let Some(i) = best {
                is_used[i] = true;
            }
            if !wanted.counts(truth) {
                continue;
            }
            let Some(got) = best.map(|i| &found[i]) else {
                self.missed += 1;
                if show {
                    println!("seed {}: missed {truth:?}", day.truth.seed);
                }
                continue;
            };
            self.found += 1;
            let centre_m = off_m(got, truth);
            if truth.trolling {
                self.centre_errors_m.push(centre_m);
            }
            self.step_errors.push((got.step_c / truth.step_c - 1.0).abs());
            let (centre, step) = (centre_m / got.centre_se_m, (got.step_c - truth.step_c) / got.step_se_c);
            self.covered_centre += usize::from(centre <= NINETY_PERCENT);
            self.covered_step += usize::from(step.abs() <= NINETY_PERCENT);
            if show {
                println!(
                    "seed {}: step {:.2} width {:.0} angle {:.0} trolling {}: centre off {centre_m:.1} m ({centre:.1} \
                     errors), step {:.2} ({step:.1} errors), width {:.0}",
                    day.truth.seed,
                    truth.step_c,
                    truth.width_m,
                    truth.angle_deg,
                    truth.trolling,
                    got.step_c,
                    got.width_m
                );
            }
        }
        for (got, _) in found.iter().zip(is_used).filter(|(f, used)| !used && f.step_c.abs() >= wanted.step_c)
        {
            // a front that the boat touched and did not cross is there; one that is found twice is not
            let is_double =
                day.truth.crossings.iter().any(|truth| off_m(got, truth) <= MATCH_M.max(truth.width_m));
            if is_double || !day.is_in_front(got.at, got.time_us) {
                self.invented += 1;
                if show {
                    println!("seed {}: invented {got:?}", day.truth.seed);
                }
            }
        }
        self.km += day.km();
    }

    pub fn true_breaks(&self) -> usize {
        self.found + self.missed
    }

    pub fn f1(&self) -> f64 {
        2.0 * self.found as f64 / (2 * self.found + self.missed + self.invented) as f64
    }

    pub fn covered_centre(&self) -> f64 {
        self.covered_centre as f64 / self.found as f64
    }

    pub fn covered_step(&self) -> f64 {
        self.covered_step as f64 / self.found as f64
    }

    pub fn print(&self, name: &str) {
        println!(
            "{name}: {} found, {} missed, {} invented over {:.0} km, F1 {:.3}; median error of the centre {:.1} m, of \
             the step {:.1} %; nominal 90 % intervals cover centres {:.2}, steps {:.2}",
            self.found,
            self.missed,
            self.invented,
            self.km,
            self.f1(),
            median(&self.centre_errors_m),
            100.0 * median(&self.step_errors),
            self.covered_centre(),
            self.covered_step(),
        );
    }
}

/// Along the track, m.
fn off_m(found: &Found, truth: &CrossingTruth) -> f64 {
    (found.time_us - truth.time_us).abs() as f64 / 1e6 * truth.sog_mps
}

/// The upper median.
pub fn median(values: &[f64]) -> f64 {
    let mut values = values.to_vec();
    values.sort_by(f64::total_cmp);
    values.get(values.len() / 2).copied().unwrap_or(f64::NAN)
}
