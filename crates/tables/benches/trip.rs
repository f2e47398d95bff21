//! How long do the tables of a trip take to a disk and back? `cargo bench -p waterseam-tables`
//!
//! A trip of ten hours has 36,000 rows of track; writing it whole or not at all waits for the disk.

use divan::Bencher;
use waterseam_tables::{Logbook, LogbookWriter, Outcome, TripTables};

#[path = "../tests/sample/mod.rs"]
mod sample;

const SECONDS: [usize; 4] = [9_000, 18_000, 36_000, 72_000];

fn main() {
    divan::main();
}

/// Values that change as a track's do, as finely as its instruments tell them.
fn trip(seconds: usize) -> TripTables {
    let mut tables = sample::trip("20260614T051200Z", sample::START_US, seconds);
    let to = |value: f64, step: f64| (value / step).round() * step;
    for (n, row) in tables.track.iter_mut().enumerate() {
        let t = n as f64;
        row.lat = to(46.2 + 0.03 * (t / 3_000.0).sin(), 1e-7);
        row.lon = to(-29.4 + 0.04 * (t / 1_700.0).cos(), 1e-7);
        row.surface_temp_c = Some(to(14.0 + (t / 900.0).sin() + 0.1 * (t * 1.7).sin(), 0.01));
        row.stw_mps = Some(to(1.1 + 0.2 * (t / 11.0).sin(), 0.001));
        (row.probe_depth_m, row.probe_temp_c) = (Some(to(15.0 + 12.0 * (t / 120.0).sin(), 0.01)), Some(9.0));
    }
    tables
}

#[divan::bench(args = SECONDS, sample_count = 20)]
fn write(bencher: Bencher, seconds: usize) {
    let tables = trip(seconds);
    bencher.with_inputs(|| tempfile::tempdir().expect("a temporary folder")).bench_values(|dir| {
        let logbook = LogbookWriter::open_or_create(dir.path()).expect("a new logbook");
        assert_eq!(logbook.write_trip(&tables).expect("a written trip"), Outcome::Added);
        dir
    });
}

#[divan::bench(args = SECONDS, sample_count = 20)]
fn read(bencher: Bencher, seconds: usize) {
    let (tables, dir) = (trip(seconds), tempfile::tempdir().expect("a temporary folder"));
    let writer = LogbookWriter::open_or_create(dir.path()).expect("a new logbook");
    writer.write_trip(&tables).expect("a written trip");
    drop(writer);
    let logbook = Logbook::open(dir.path()).expect("a logbook");
    let id = &tables.trips[0].trip_id;
    bencher.bench(|| logbook.read_trip(id).expect("a trip"));
}
