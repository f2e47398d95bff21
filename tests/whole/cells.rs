//! What each trip did cell by cell: in the table, and worked out again for a logbook from before there was one.

use std::path::Path;

use waterseam_process::outings::{Outing, outings};
use waterseam_tables::{Logbook, trips};

use super::helpers::{expect_status, process, sample_logs, waterseam};

fn of(logbook: &Path) -> Vec<Outing> {
    outings(&Logbook::open(logbook).unwrap()).unwrap()
}

/// Makes a logbook what it was before there was a table `cell_visits`.
fn age(logbook: &Path) {
    let mut aged = 0;
    std::fs::remove_dir_all(logbook.join("cell_visits")).unwrap();
    for entry in std::fs::read_dir(logbook.join(".sums")).unwrap() {
        let path = entry.unwrap().path();
        let sums = std::fs::read_to_string(&path).unwrap();
        let without: String =
            sums.lines().filter(|line| !line.contains("cell_visits")).flat_map(|line| [line, "\n"]).collect();
        aged += usize::from(without.len() < sums.len());
        std::fs::write(&path, without).unwrap();
    }
    // the page that tells what the logs are is of no trip
    assert_eq!(aged, 3);
}

#[test]
fn cells_of_an_older_logbook_are_worked_out_alike() {
    let dir = tempfile::tempdir().unwrap();
    let logbook = dir.path().join("logbook");
    expect_status(&process(&sample_logs(), &logbook), 0);
    let written = of(&logbook);

    assert_eq!(written.len(), 3);
    let trips: Vec<trips::Row> = Logbook::open(&logbook).unwrap().read_table(None).unwrap();
    for (outing, trip) in written.iter().zip(&trips) {
        assert_eq!(outing.trip_id, trip.trip_id);
        assert_eq!(Some(outing.day.to_string()), trip.local_date);
        let sum = |value: fn(&waterseam_tables::cell_visits::Row) -> f64| -> f64 {
            outing.cells.iter().map(value).sum()
        };
        let (rod_hours, run_m) = (sum(|cell| cell.rod_hours), sum(|cell| cell.run_m));
        assert!((rod_hours - trip.rod_hours).abs() < 1e-6, "{rod_hours} of {} rod-hours", trip.rod_hours);
        assert!((run_m - trip.distance_m).abs() < 1e-3 * trip.distance_m, "{run_m} of {} m", trip.distance_m);
        assert!(outing.cells.iter().any(|cell| cell.rod_hours == 0.0), "no cell was only run through");
        assert_eq!(outing.bites.len() as i64, trip.bites);
    }
    let crossed: Vec<f64> =
        written.iter().map(|trip| trip.cells.iter().map(|cell| cell.breaks as f64).sum()).collect();
    assert_eq!(crossed[1], 8.0, "{crossed:?}");

    age(&logbook);
    assert_eq!(of(&logbook), written);
    expect_status(&waterseam().args(["verify", "--logbook"]).arg(&logbook).output().unwrap(), 0);
}
