//! Bites, depths and rates of whole trips against the truth: raw files in, tables out.
//!
//! `WATERSEAM_SEEDS=200 cargo test -p waterseam-cli --test scored_trips bites -- --nocapture` is the full run.

use std::collections::BTreeMap;

use waterseam_demo::Scenario;
use waterseam_demo::truth::BiteTruth;
use waterseam_tables::{TripTables, bites};

use super::processed;

/// Greatest RMS error of the depth at a bite, m.
const GREATEST_DEPTH_RMS_M: f64 = 1.5;
/// Greatest RMS error of the temperature at the depth that a bite is given, °C. What an error of the depth adds in a thermocline is
/// printed: half a metre is a degree there.
const GREATEST_TEMP_RMS_C: f64 = 0.4;
/// What 90 % intervals of rates hold, and of temperatures at depths that are as uncertain as they are said to be.
const COVERAGE: std::ops::RangeInclusive<f64> = 0.87..=0.93;
/// A bite is noted within this time of when it came, s.
const NOTED_WITHIN_S: i64 = 180;

const SEEDS: u64 = 16;
const FIRST_SEED: u64 = 3000;

fn from_environment(name: &str, default: u64) -> u64 {
    std::env::var(name).ok().and_then(|text| text.parse().ok()).unwrap_or(default)
}

/// Numbers that look normal, the same each time (G. E. P. Box & M. E. Muller's transform of two sequences of irrational steps).
fn normal(index: usize) -> f64 {
    let part = |step: f64| (step * (index as f64 + 1.0)).fract();
    (-2.0 * part(0.618_033_988_75).ln()).sqrt() * (std::f64::consts::TAU * part(0.414_213_562_37)).cos()
}

fn rms(values: &[f64]) -> f64 {
    (values.iter().map(|v| v * v).sum::<f64>() / values.len() as f64).sqrt()
}

/// The row of a bite: of its rod, nearest in time.
fn row_of<'a>(tables: &'a TripTables, bite: &BiteTruth) -> Option<&'a bites::Row> {
    let apart_us = |row: &&bites::Row| (row.time - bite.time_us).abs();
    let same_rod = tables.bites.iter().filter(|row| row.rod.as_deref() == Some(&bite.rod));
    same_rod.min_by_key(apart_us).filter(|row| apart_us(row) <= NOTED_WITHIN_S * 1_000_000)
}

#[test]
fn bites_come_at_their_depth_and_temperature_and_rates_hold_the_truth() {
    let first = from_environment("WATERSEAM_FIRST_SEED", FIRST_SEED);
    let seeds = from_environment("WATERSEAM_SEEDS", SEEDS);
    let (mut depth_errors_m, mut temp_errors_c) = (Vec::new(), Vec::new());
    let (mut field_errors_c, mut temp_sigmas, mut drawn_sigmas) = (Vec::new(), Vec::new(), Vec::new());
    let (mut all, mut placed, mut of_rod, mut held, mut bins) = (0, 0, 0, 0, 0);
    for seed in first..first + seeds {
        let demo = waterseam_demo::trip(seed, Scenario::Random);
        let tables = processed(&demo);
        all += demo.truth.bites.len();
        placed += tables.bites.len();
        for bite in &demo.truth.bites {
            let Some(row) = row_of(&tables, bite) else { continue };
            of_rod += 1;
            depth_errors_m.extend(row.depth_m.map(|depth_m| depth_m - bite.depth_m));
            if let (Some(temp_c), Some(se_c), Some(depth_m)) =
                (row.temp_at_depth_c, row.temp_at_depth_se_c, row.depth_m)
            {
                field_errors_c.push(temp_c - demo.truth.lake.temp_at_c(bite.at, depth_m, bite.time_us));
                temp_errors_c.push(temp_c - bite.temp_at_depth_c);
                temp_sigmas.push((temp_c - bite.temp_at_depth_c) / se_c);
                // were the depth as uncertain as the row says: invented notes are more exact than a mate's
                let off_m = normal(temp_sigmas.len()) * row.depth_se_m.unwrap();
                let drawn_c = demo.truth.lake.temp_at_c(bite.at, (depth_m + off_m).max(0.0), bite.time_us);
                drawn_sigmas.push((temp_c - drawn_c) / se_c);
            }
        }
        // true rate in each bin of depth as the tables have it, from the spells that ran there
        let mut truth: BTreeMap<i64, (f64, f64)> = BTreeMap::new();
        for spell in &demo.truth.spells {
            let near = tables.rod_spells.iter().filter(|row| row.rod == spell.rod);
            let Some(row) = near.min_by_key(|row| (row.time_in - spell.start_us).abs()) else { continue };
            let Some(depth_m) = row.running_depth_m else { continue };
            let of_bin = truth.entry((depth_m / 3.0).floor() as i64).or_default();
            of_bin.0 += spell.expected_bites;
            of_bin.1 += (spell.end_us - spell.start_us) as f64 / 3.6e9;
        }
        for band in tables.bands.iter().filter(|band| band.factor == "depth_m" && band.species == "*") {
            let (Some(low), Some(high)) = (band.rate_low, band.rate_high) else { continue };
            let Some((bites, hours)) = truth.get(&((band.low / 3.0).round() as i64)) else { continue };
            held += u32::from((low..=high).contains(&(bites / hours)));
            bins += 1;
        }
    }
    let coverage = f64::from(held) / f64::from(bins);
    let (depth_m, temp_c, field_c) = (rms(&depth_errors_m), rms(&temp_errors_c), rms(&field_errors_c));
    let share =
        |sigmas: &[f64]| sigmas.iter().filter(|s| s.abs() <= 1.645).count() as f64 / sigmas.len() as f64;
    let (within, drawn_within) = (share(&temp_sigmas), share(&drawn_sigmas));
    println!(
        "{all} bites, {placed} in the tables, {of_rod} on their rod; depth RMS {depth_m:.2} m of {}, temperature RMS \
         {field_c:.2} °C of {} at the depth given, {temp_c:.2} °C at the true depth (90 % intervals hold {within:.3}, {drawn_within:.3} were depths as uncertain as they are said to be); 90 % intervals of {bins} depth bins hold {coverage:.3}",
        depth_errors_m.len(),
        temp_errors_c.len(),
    );
    assert_eq!(placed, all, "bites are lost or invented");
    assert!(depth_errors_m.len() * 10 >= all * 8, "most bites have a depth");
    assert!(depth_m <= GREATEST_DEPTH_RMS_M, "depth RMS {depth_m} m");
    assert!(field_c <= GREATEST_TEMP_RMS_C, "temperature RMS {field_c} °C");
    let chance = 3.0 * (0.09 / drawn_sigmas.len() as f64).sqrt();
    assert!(
        drawn_within >= COVERAGE.start() - chance && drawn_within <= COVERAGE.end() + chance,
        "90 % intervals of temperatures hold {drawn_within}"
    );
    // few bins scatter: the full run is held to the goal, a short one to three standard errors about it
    let slack = if seeds >= 200 { 0.0 } else { 3.0 * (0.09 / f64::from(bins)).sqrt() };
    assert!(
        coverage >= COVERAGE.start() - slack && coverage <= COVERAGE.end() + slack,
        "90 % intervals hold {coverage}"
    );
}
