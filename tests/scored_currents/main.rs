//! How well are currents, their edges and the errors of log and compass found on invented days?
//!
//! `WATERSEAM_SEEDS=100` is the full run. The goals were set before the estimator was tuned; other days than the scored ones
//! served for that (`WATERSEAM_FIRST_SEED`).

#![expect(clippy::unwrap_used, reason = "a test ends at the first thing that is not as it should be")]
#![expect(clippy::print_stdout, reason = "the scores are printed for whoever runs this with --nocapture")]

mod score;
#[path = "../scored_days.rs"]
mod scored_days;
mod trips;

use score::Score;
use trips::{Aboard, Day, days};

/// Root mean square of the error of the current vector, m/s, with a compass and without one.
const GOAL_RMS_MPS: f64 = 0.06;
const GOAL_CIRCLE_RMS_MPS: f64 = 0.12;
/// Share of true values within the nominal 90 % intervals, and of terms within two standard errors.
const GOAL_COVERED: std::ops::RangeInclusive<f64> = 0.85..=0.95;
const GOAL_WITHIN_TWO: std::ops::RangeInclusive<f64> = 0.90..=0.98;
/// Of edges that change the current by 0.2 m/s and more.
const GOAL_RECALL: f64 = 0.85;
const GOAL_PRECISION: f64 = 0.9;

/// First seed of the days that are scored, and their number, unless `WATERSEAM_FIRST_SEED` and `WATERSEAM_SEEDS` say.
const SCORED_FROM: u64 = 710_000;
const DAYS: u64 = 12;

/// Of the days of the full run, 80 and more tell each term.
const FULL_RUN_TOLD: usize = 80;

fn variable(name: &str, unless: u64) -> u64 {
    std::env::var(name).ok().and_then(|text| text.parse().ok()).unwrap_or(unless)
}

fn scored(aboard: Aboard) -> Vec<Day> {
    let from = variable("WATERSEAM_FIRST_SEED", SCORED_FROM) + aboard.seed_offset();
    days(from..from + variable("WATERSEAM_SEEDS", DAYS), aboard)
}

/// The goal with what chance does to a share of so many independent days: in the short run they are few.
fn about(goal: &std::ops::RangeInclusive<f64>, days: usize) -> std::ops::RangeInclusive<f64> {
    let chance = |share: f64| 2.0 * (share * (1.0 - share) / days as f64).sqrt();
    if days >= 100 {
        goal.clone()
    } else {
        goal.start() - chance(*goal.start())..=goal.end() + chance(*goal.end())
    }
}

/// The same for a single term, where three standard deviations of chance are let pass: there are eight of them.
fn about_one(goal: &std::ops::RangeInclusive<f64>, days: usize) -> std::ops::RangeInclusive<f64> {
    let chance = |share: f64| 3.0 * (share * (1.0 - share) / days.max(1) as f64).sqrt();
    if days >= FULL_RUN_TOLD {
        goal.clone()
    } else {
        goal.start() - chance(*goal.start())..=goal.end() + chance(*goal.end())
    }
}

#[test]
fn with_log_and_compass() {
    let days = scored(Aboard::Both);
    let score = Score::of(&days);
    println!("log and compass: {score}");
    assert!(score.rms_mps <= GOAL_RMS_MPS, "rms {}", score.rms_mps);
    assert!(about(&GOAL_COVERED, days.len()).contains(&score.covered), "covered {}", score.covered);
    let (terms, within) = score.terms();
    assert!(terms >= 4 * days.len(), "only {terms} terms are told");
    assert!(about(&GOAL_WITHIN_TWO, days.len()).contains(&within), "within two standard errors: {within}");
    for (name, told, within) in score.each_term() {
        assert!(about_one(&GOAL_WITHIN_TWO, told).contains(&within), "{name} of {told} days: {within}");
    }
    assert!(score.to_find >= days.len(), "only {} edges to find", score.to_find);
    assert!(score.recall() >= GOAL_RECALL, "recall {}", score.recall());
    assert!(score.precision() >= GOAL_PRECISION, "precision {}", score.precision());
}

/// Stops, circles and leeway make no edges, and positions stand in for a receiver's whole knots.
#[test]
fn rough_days() {
    let days = scored(Aboard::Rough);
    let score = Score::of(&days);
    println!("rough: {score}");
    assert!(score.rms_mps <= GOAL_RMS_MPS, "rms {}", score.rms_mps);
    assert!(score.covered >= *GOAL_COVERED.start(), "covered {}", score.covered);
    assert!(score.recall() >= GOAL_RECALL, "recall {}", score.recall());
    assert!(score.precision() >= GOAL_PRECISION, "precision {}", score.precision());
}

#[test]
fn without_a_compass() {
    let days = scored(Aboard::Log);
    let score = Score::of(&days);
    println!("log without compass: {score}");
    assert!(days.iter().filter(|day| day.has_windows()).count() * 10 >= days.len() * 9, "too few currents");
    assert!(score.rms_mps <= GOAL_CIRCLE_RMS_MPS, "rms {}", score.rms_mps);
    assert!(about(&GOAL_COVERED, days.len()).contains(&score.covered), "covered {}", score.covered);
}

/// No goal was given for a boat with neither: the circle's is taken, and that its errors are not too small.
#[test]
fn without_log_and_compass() {
    let days = scored(Aboard::Neither);
    let score = Score::of(&days);
    let with = days.iter().filter(|day| day.has_windows()).count();
    // where the current changes, a throttle could as well have done it: nothing is to be claimed
    let even = days.iter().filter(|day| day.truth.edge_crossings.is_empty()).count();
    println!("neither log nor compass: a current on {with} days, {even} had no edge; {score}");
    assert!(days.len() < 100 || with * 4 >= even, "too few currents");
    if with == 0 {
        return;
    }
    assert!(score.rms_mps <= GOAL_CIRCLE_RMS_MPS, "rms {}", score.rms_mps);
    assert!(score.covered >= *GOAL_COVERED.start(), "covered {}", score.covered);
    let unsaid = days.iter().filter(|day| !day.has_windows() && !day.found.remarks[0].contains("not known"));
    assert_eq!(unsaid.count(), 0, "a day without a current does not say why");
}
