//! How good is what was found?

use std::fmt;

use waterseam_breaks::IsothermCrossing;
use waterseam_demo::lake::Point;
use waterseam_demo::truth::CrossingTruth;

use crate::days::Day;

/// Flattest and broadest crossing that is scored, and the least way to the next one: two within it cannot be told apart by a probe
/// that passes the isotherm every hundred metres.
const LEAST_ANGLE_DEG: f64 = 15.0;
const GREATEST_WIDTH_M: f64 = 1_000.0;
const SEPARATE_M: f64 = 700.0;
/// A found step belongs to a true one of the same sign when their centres are this close along the track, in ways of one cycle, or
/// within half the true width.
const MATCH_CYCLES: f64 = 2.0;
/// Standard errors of a nominal 90 % interval to either side.
const NINETY_PERCENT: f64 = 1.645;

/// What came of the steps of some days.
#[derive(Default)]
pub struct Score {
    found: usize,
    missed: usize,
    invented: usize,
    centre_errors_m: Vec<f64>,
    centre_errors_cycles: Vec<f64>,
    step_errors_m: Vec<f64>,
    covered_centre: usize,
    covered_step: usize,
    hours: f64,
}

impl Score {
    /// Scores steps of at least so many metres.
    pub fn of(days: &[Day], least_step_m: f64) -> Self {
        let mut score = Self::default();
        for day in days {
            score.add(day, least_step_m);
        }
        score
    }

    fn add(&mut self, day: &Day, least_step_m: f64) {
        let show = std::env::var("WATERSEAM_SHOW").is_ok();
        let mut is_used = vec![false; day.found.len()];
        for truth in day.truth.crossings.iter().filter(|truth| truth.trolling) {
            let Some(Truth { step_m, later_s }) = self::truth(day, truth) else { continue };
            let near_m = (MATCH_CYCLES * day.cycle_m).max(0.5 * truth.width_m);
            let off_m = |i: usize| off_m(day, &day.found[i], truth, later_s);
            let best = (0..day.found.len())
                .filter(|&i| !is_used[i] && (day.found[i].step_m > 0.0) == (step_m > 0.0))
                .filter(|&i| off_m(i) <= near_m)
                .min_by(|&a, &b| off_m(a).total_cmp(&off_m(b)));
            if let Some(i) = best {
                is_used[i] = true;
            }
            let is_scored = step_m.abs() >= least_step_m
                && truth.angle_deg >= LEAST_ANGLE_DEG
                && truth.width_m <= GREATEST_WIDTH_M
                && truth.nearest_other_m.is_none_or(|m| m >= SEPARATE_M)
                && day.is_towed(truth.time_us);
            if !is_scored {
                continue;
            }
            let Some(got) = best.map(|i| &day.found[i]) else {
                self.missed += 1;
                if show {
                    println!("seed {}: missed {step_m:.1} m at {truth:?}", day.truth.seed);
                    println!("  passes, s and m: {:?}", day.passes_about(truth));
                }
                continue;
            };
            self.found += 1;
            let centre_m = off_m(best.unwrap());
            self.centre_errors_m.push(centre_m);
            self.centre_errors_cycles.push(centre_m / day.cycle_m);
            self.step_errors_m.push((got.step_m - step_m).abs());
            let (centre, step) = (centre_m / got.centre_se_m, (got.step_m - step_m) / got.step_se_m);
            self.covered_centre += usize::from(centre <= NINETY_PERCENT);
            self.covered_step += usize::from(step.abs() <= NINETY_PERCENT);
            if show {
                println!(
                    "seed {}: step {step_m:.1} width {:.0} cycle {:.0} m: centre off {centre_m:.0} m ({centre:.1} errors), \
                     step {:.1} ({step:.1} errors), width {:.0} gap {:.0}",
                    day.truth.seed, truth.width_m, day.cycle_m, got.step_m, got.width_m, got.gap_m
                );
            }
        }
        for (got, _) in
            day.found.iter().zip(is_used).filter(|(got, used)| !used && got.step_m.abs() >= least_step_m)
        {
            // a front that the boat touched, or crossed too flat to be scored, is there
            let is_there =
                day.truth.crossings.iter().any(|truth| {
                    off_m(day, got, truth, 0.0) <= (MATCH_CYCLES * day.cycle_m).max(truth.width_m)
                });
            if !is_there {
                self.invented += 1;
                if show {
                    println!("seed {}: invented {got:?}", day.truth.seed);
                }
            }
        }
        self.hours += day.towed_h;
    }

    pub fn true_steps(&self) -> usize {
        self.found + self.missed
    }

    pub fn f1(&self) -> f64 {
        2.0 * self.found as f64 / (2 * self.found + self.missed + self.invented) as f64
    }

    pub fn median_centre_cycles(&self) -> f64 {
        median(&self.centre_errors_cycles)
    }

    pub fn covered_centre(&self) -> f64 {
        self.covered_centre as f64 / self.found as f64
    }

    pub fn covered_step(&self) -> f64 {
        self.covered_step as f64 / self.found as f64
    }
}

impl fmt::Display for Score {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "{} found, {} missed, {} invented in {:.0} h of towing, F1 {:.3}; median error of the centre {:.0} m ({:.2} \
             cycles), of the step {:.2} m; nominal 90 % intervals cover centres {:.2}, steps {:.2}",
            self.found,
            self.missed,
            self.invented,
            self.hours,
            self.f1(),
            median(&self.centre_errors_m),
            self.median_centre_cycles(),
            median(&self.step_errors_m),
            self.covered_centre(),
            self.covered_step(),
        )
    }
}

/// A step that the front makes in the depth of the isotherm.
struct Truth {
    /// Depth after minus depth before, in the direction of travel, m.
    step_m: f64,
    /// Its centre, where the isotherm is halfway: seconds after the boat was over the middle of the front.
    later_s: f64,
}

fn truth(day: &Day, crossing: &CrossingTruth) -> Option<Truth> {
    let lake = &day.truth.lake;
    let (point, time_s) = (Point::at(crossing.at), lake.time_s(crossing.time_us));
    let depth_m = |share| lake.isotherm_in_front_m(crossing.front, point, time_s, day.isotherm_c, share);
    let (cold_m, warm_m) = (depth_m(-1.0)?, depth_m(1.0)?);
    let middle_m = 0.5 * (cold_m + warm_m);
    let (mut low, mut high) = (-1.0, 1.0);
    for _ in 0..40 {
        let middle = 0.5 * (low + high);
        let is_before = (depth_m(middle)? - middle_m) * (warm_m - cold_m) < 0.0;
        if is_before { low = middle } else { high = middle }
    }
    // the step of the surface is positive into the warm water
    let into_warm = crossing.step_c.signum();
    let later_m = into_warm * crossing.width_m * low.atanh() / (2.0 * 0.8_f64.atanh());
    Some(Truth { step_m: into_warm * (warm_m - cold_m), later_s: later_m / crossing.sog_mps })
}

/// Along the track, m.
fn off_m(day: &Day, found: &IsothermCrossing, truth: &CrossingTruth, later_s: f64) -> f64 {
    let truth_s = (truth.time_us - day.zero_us) as f64 / 1e6 + later_s;
    (found.time_s - truth_s).abs() * truth.sog_mps
}

/// The upper median.
fn median(values: &[f64]) -> f64 {
    let mut values = values.to_vec();
    values.sort_by(f64::total_cmp);
    values.get(values.len() / 2).copied().unwrap_or(f64::NAN)
}
