//! Simulated trips with known truth, through the whole pipeline: raw files in, tables out, scored.
//!
//! The thresholds stand here and were written before the code was tuned. `--nocapture` prints the scores.

#![expect(clippy::unwrap_used, reason = "a test ends at the first thing that is not as it should be")]
#![expect(clippy::print_stdout, reason = "the scores are printed for whoever runs this with --nocapture")]

#[path = "scored/bites.rs"]
mod bites;
#[path = "scored/lures.rs"]
mod lures;
#[path = "scored/sections.rs"]
mod sections;
#[path = "scored/sensor_care.rs"]
mod sensor_care;

use std::path::PathBuf;

use waterseam_demo::truth::{CrossingTruth, TripTruth};
use waterseam_demo::{DemoTrip, Scenario};
use waterseam_logs::boat::BoatFile;
use waterseam_process::Request;
use waterseam_tables::{TripTables, breaks};

/// Seeds of random trips.
const RANDOM_SEEDS: std::ops::Range<u64> = 100..124;
/// Seeds of flat days.
const FLAT_SEEDS: std::ops::Range<u64> = 200..220;

/// Breaks of this step and more are scored, °C.
const SCORED_STEP_C: f64 = 1.0;
/// Least share of true breaks that are found.
const LEAST_RECALL: f64 = 0.9;
/// Least share of found breaks that are true.
const LEAST_PRECISION: f64 = 0.9;
/// Greatest median distance of found from true centres, m.
const GREATEST_MEDIAN_CENTRE_M: f64 = 40.0;
/// Greatest RMS error of the thermocline's depth, m.
const GREATEST_THERMOCLINE_RMS_M: f64 = 1.0;

/// A found break belongs to a true one when their centres are this close along the track, m, or within the true width.
const MATCH_M: f64 = 150.0;
/// Two true crossings closer than this along the track (a turn on the front) cannot be told apart, m.
const SEPARATE_M: f64 = 300.0;
/// Flatter crossings are a front run along, not across, degrees.
const CROSSED_AT_DEG: f64 = 30.0;

/// Writes a trip's files, processes them and gives back the tables.
fn processed(trip: &DemoTrip) -> TripTables {
    processed_with(trip, &waterseam_demo::boat_file())
}

/// The same with another boat file.
fn processed_with(trip: &DemoTrip, boat_file: &str) -> TripTables {
    let dir = tempfile::tempdir().unwrap();
    let card = dir.path().join("card");
    for file in &trip.files {
        let path = card.join(&file.name);
        std::fs::create_dir_all(path.parent().unwrap()).unwrap();
        std::fs::write(path, &file.bytes).unwrap();
    }
    let boat = BoatFile::from_toml(boat_file, "waterseam.toml").unwrap();
    let inputs: [PathBuf; 1] = [card];
    let request = Request { inputs: &inputs, boat: &boat, logbook: &dir.path().join("logbook") };
    let done = waterseam_process::run(&request, &|_| (), &|_| (), &TripTables::clone).unwrap();
    let [trip] = &done.trips[..] else { panic!("one trip expected, found {}", done.trips.len()) };
    trip.shown.clone()
}

fn matches(found: &breaks::Row, truth: &CrossingTruth) -> bool {
    let apart_s = (found.time - truth.time_us).abs() as f64 / 1e6;
    let apart_m = apart_s * truth.sog_mps;
    found.depth_m.is_none()
        && apart_m <= MATCH_M.max(truth.width_m)
        && found.step_c.signum() == truth.step_c.signum()
}

fn centre_error_m(found: &breaks::Row, truth: &CrossingTruth) -> f64 {
    let at = |lat, lon| waterseam_units::LatLon { lat_deg: lat, lon_deg: lon };
    waterseam_units::geodesy::distance_m(at(found.lat, found.lon), truth.at)
}

fn is_scored(truth: &CrossingTruth) -> bool {
    let apart = truth.nearest_other_m.is_none_or(|m| m >= SEPARATE_M);
    truth.step_c.abs() >= SCORED_STEP_C && truth.angle_deg >= CROSSED_AT_DEG && apart
}

#[derive(Default)]
struct Score {
    true_breaks: usize,
    recalled: usize,
    found: usize,
    right: usize,
    centre_errors_m: Vec<f64>,
}

impl Score {
    fn add(&mut self, tables: &TripTables, truth: &TripTruth) {
        for crossing in truth.crossings.iter().filter(|c| is_scored(c)) {
            self.true_breaks += 1;
            let nearest = tables.breaks.iter().filter(|b| matches(b, crossing));
            if let Some(error) = nearest.map(|b| centre_error_m(b, crossing)).min_by(f64::total_cmp) {
                self.recalled += 1;
                self.centre_errors_m.push(error);
            } else {
                println!("seed {}: missed {crossing:?}", truth.seed);
            }
        }
        for found in tables.breaks.iter().filter(|b| b.depth_m.is_none() && b.step_c.abs() >= SCORED_STEP_C) {
            self.found += 1;
            if truth.crossings.iter().any(|c| matches(found, c)) {
                self.right += 1;
            } else {
                println!("seed {}: invented {found:?}", truth.seed);
            }
        }
    }
}

fn median(values: &mut [f64]) -> f64 {
    values.sort_by(f64::total_cmp);
    values[values.len() / 2]
}

/// True depth of the steepest density gradient at a time, between the known columns.
fn true_thermocline_m(truth: &TripTruth, time_us: i64) -> Option<f64> {
    let after = truth.columns.partition_point(|c| c.time_us < time_us);
    let (a, b) = (truth.columns.get(after.checked_sub(1)?)?, truth.columns.get(after)?);
    let part = (time_us - a.time_us) as f64 / (b.time_us - a.time_us) as f64;
    let (from, to) = (a.pycnocline_depth_m?, b.pycnocline_depth_m?);
    Some(from + part * (to - from))
}

#[test]
fn random_trips() {
    let mut score = Score::default();
    let mut thermocline_errors_m = Vec::new();
    for seed in RANDOM_SEEDS {
        let demo = waterseam_demo::trip(seed, Scenario::Random);
        let tables = processed(&demo);
        score.add(&tables, &demo.truth);
        for layers in &tables.layers {
            if let (Some(found), Some(truth)) =
                (layers.thermocline_depth_m, true_thermocline_m(&demo.truth, layers.time))
            {
                thermocline_errors_m.push(found - truth);
            }
        }
    }
    let recall = score.recalled as f64 / score.true_breaks as f64;
    let precision = score.right as f64 / score.found as f64;
    let centre_m = median(&mut score.centre_errors_m);
    let rms_m =
        (thermocline_errors_m.iter().map(|e| e * e).sum::<f64>() / thermocline_errors_m.len() as f64).sqrt();
    println!(
        "{} true breaks, recall {recall:.3}; {} found, precision {precision:.3}; median centre error {centre_m:.1} m; \
         thermocline RMS {rms_m:.2} m over {} profiles",
        score.true_breaks,
        score.found,
        thermocline_errors_m.len()
    );
    assert!(score.true_breaks >= 60, "only {} true breaks: too few to score", score.true_breaks);
    assert!(
        thermocline_errors_m.len() >= 60,
        "only {} profiles: too few to score",
        thermocline_errors_m.len()
    );
    assert!(recall >= LEAST_RECALL, "recall {recall}");
    assert!(precision >= LEAST_PRECISION, "precision {precision}");
    assert!(centre_m <= GREATEST_MEDIAN_CENTRE_M, "median centre error {centre_m} m");
    assert!(rms_m <= GREATEST_THERMOCLINE_RMS_M, "thermocline RMS error {rms_m} m");
}

#[test]
fn flat_days_have_no_break() {
    for seed in FLAT_SEEDS {
        let tables = processed(&waterseam_demo::trip(seed, Scenario::FlatDay));
        assert!(tables.breaks.is_empty(), "seed {seed}: {:?}", tables.breaks);
        assert!(tables.current_edges.is_empty(), "seed {seed}: {:?}", tables.current_edges);
        assert!(tables.track.len() > 3600, "seed {seed}: the trip is not there");
    }
}
