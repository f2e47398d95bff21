//! Sections along the track and down against the truth: raw files in, tables out.
//!
//! `WATERSEAM_SEEDS=100 cargo test -p waterseam-cli --test scored_trips sections -- --nocapture` is the full run.

use waterseam_demo::{DemoTrip, Knobs, Scenario};
use waterseam_tables::sections;

use super::processed;

/// Greatest RMS error of a cell, °C, where the probe goes down and up all along, and between casts.
const GREATEST_RMS_C: [f64; 2] = [0.6, 0.8];

const SEEDS: u64 = 3;
const FIRST_SEED: u64 = 61_000;

fn from_environment(name: &str, default: u64) -> u64 {
    std::env::var(name).ok().and_then(|text| text.parse().ok()).unwrap_or(default)
}

/// A day with the probe going down and up in 2 to 4 minutes, or with casts only.
fn day(seed: u64, undulates: bool) -> DemoTrip {
    let knobs = Knobs {
        probe_cycle_s: undulates.then_some(120.0 + 30.0 * (seed % 5) as f64),
        internal_wave_m: undulates.then_some(0.1 * (seed % 6) as f64),
        bite_factor: if undulates { 0.0 } else { 1.0 },
        ..Knobs::default()
    };
    waterseam_demo::trip_with(seed, Scenario::Random, &knobs)
}

#[test]
fn sections_show_the_water_that_was_there_and_how_surely() {
    let (first, seeds) =
        (from_environment("WATERSEAM_FIRST_SEED", FIRST_SEED), from_environment("WATERSEAM_SEEDS", SEEDS));
    for (undulates, method, greatest_c) in
        [(true, "undulating", GREATEST_RMS_C[0]), (false, "between_casts", GREATEST_RMS_C[1])]
    {
        let (mut errors, mut cells, mut given) = (Vec::new(), 0, 0);
        for seed in first..first + seeds {
            let demo = day(seed, undulates);
            let tables = processed(&demo);
            let of_method = |row: &&sections::Row| row.method == method;
            for row in tables.sections.iter().filter(of_method) {
                cells += 1;
                let (Some(temp_c), Some(se_c)) = (row.temp_c, row.temp_se_c) else { continue };
                given += 1;
                let at = waterseam_units::LatLon { lat_deg: row.lat, lon_deg: row.lon };
                let truth_c = demo.truth.lake.temp_at_c(at, row.depth_m, row.time);
                errors.push((temp_c - truth_c, se_c));
            }
        }
        let n = errors.len() as f64;
        let rms_c = (errors.iter().map(|(off_c, _)| off_c * off_c).sum::<f64>() / n).sqrt();
        let held = errors.iter().filter(|(off_c, se_c)| off_c.abs() <= 1.645 * se_c).count() as f64 / n;
        println!(
            "{method}: {given} of {cells} cells given, RMS {rms_c:.2} °C, 90 % intervals hold {held:.3}"
        );
        assert!(given > 500 * seeds, "only {given} cells");
        assert!(rms_c <= greatest_c, "{method}: RMS {rms_c} °C");
    }
}
