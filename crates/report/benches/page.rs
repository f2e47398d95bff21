//! How long does the page of a ten-hour trip take, from its tables?

use divan::Bencher;
use jiff::tz::TimeZone;
use waterseam_report::{OtherTrips, Style};
use waterseam_tables::{TripTables, bites, effort, profiles};
use waterseam_units::UnitSystem;

#[path = "../../tables/tests/sample/mod.rs"]
mod sample;

/// Ten hours at a row a second.
const SECONDS: usize = 36_000;

fn main() {
    divan::main();
}

/// A day of tacks over a break, with a wandering helm, a noisy thermometer, a probe that goes down and up, 12 casts,
/// 6 rods and 60 bites.
fn trip() -> TripTables {
    let mut tables = sample::trip("20260614T051200Z", sample::START_US, SECONDS);
    for (n, row) in tables.track.iter_mut().enumerate() {
        let t = n as f64;
        let tack = (t / 2_400.0).fract() - 0.5;
        row.lat = 46.2 + t * 4e-6 + 3e-5 * (t / 37.0).sin();
        row.lon = -29.4 + 0.02 * tack.abs() + 4e-5 * (t / 23.0).cos();
        row.surface_temp_c = Some(14.0 + 2.0 * (20.0 * (tack.abs() - 0.25)).tanh() + 0.1 * (t * 1.7).sin());
        row.stw_mps = Some(1.1 + 0.2 * (t / 11.0).sin());
        let down = 15.0 + 12.0 * (t / 120.0).sin();
        (row.probe_depth_m, row.probe_temp_c, row.probe_temp_qc) = (Some(down), Some(16.0 - 0.35 * down), 1);
    }
    let at = |k: usize, of: usize| sample::START_US + (SECONDS * k / of) as i64 * 1_000_000;
    let bite = tables.bites[0].clone();
    tables.bites = (0..60).map(|k| bites::Row { time: at(k, 60), ..bite.clone() }).collect();
    let bin = tables.profiles[0].clone();
    let casts = (0..12).flat_map(|k| (0..30).map(move |m| (k, m)));
    tables.profiles = casts
        .map(|(k, m)| profiles::Row {
            profile_id: format!("cast-{k:02}"),
            time: at(k, 12),
            depth_m: f64::from(m) + 0.5,
            temp_c: 16.0 - 0.35 * f64::from(m),
            ..bin.clone()
        })
        .collect();
    let minute = tables.effort[0].clone();
    let minutes = (0..6).flat_map(|rod| (0..600).map(move |m| (rod, m)));
    tables.effort = minutes
        .map(|(rod, m)| effort::Row {
            spell_id: format!("rod-{rod}"),
            time: at(m, 600),
            depth_m: Some(8.0 + 4.0 * f64::from(rod)),
            ..minute.clone()
        })
        .collect();
    tables
}

#[divan::bench]
fn page_of_ten_hours(bencher: Bencher) {
    let tables = trip();
    let style = Style { units: UnitSystem::Imperial, zone: TimeZone::UTC, several_days: false };
    let others = OtherTrips::default();
    let page = waterseam_report::trip_page(&tables, &others, &style);
    eprintln!("{} bytes", page.len());
    bencher.bench(|| waterseam_report::trip_page(divan::black_box(&tables), &others, &style));
}
