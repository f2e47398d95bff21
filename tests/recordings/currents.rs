//! Currents in recordings of real boats and a ship: what is there is found, and faults of instruments are none.
//!
//! Source of the recordings and of what is in them: `README.md` beside this file.

#![expect(clippy::unwrap_used, reason = "a test ends at the first thing that is not as it should be")]

use std::path::Path;

use waterseam_currents::{Currents, Velocity, Window};
use waterseam_logs::Collected;
use waterseam_logs::boat::BoatFile;
use waterseam_process::currents::currents;
use waterseam_units::convert::MPS_PER_KN;

/// How far a scale and a component of a current may be from those of the independent scripts.
const SCALE_WITHIN: f64 = 0.02;
const CURRENT_WITHIN_KN: f64 = 0.1;

/// What the trips of some files say about the current.
fn of(names: &[&str]) -> Vec<Currents> {
    let mut collected = Collected::default();
    for name in names {
        let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tests/recordings").join(name);
        for member in waterseam_logs::members(&path).unwrap() {
            member.read(&BoatFile::default(), &mut collected).unwrap();
        }
    }
    let trips = waterseam_track::trips(collected.observations, &waterseam_track::Settings::default()).trips;
    trips.iter().map(|trip| currents(&trip.track, None)).collect()
}

/// Mean of the windows, kn.
fn mean_kn(windows: &[Window]) -> (f64, f64) {
    let sum: Velocity =
        windows.iter().map(|w| Velocity { east_mps: w.east_mps, north_mps: w.north_mps }).sum();
    let n = windows.len() as f64 * MPS_PER_KN;
    (sum.east_mps / n, sum.north_mps / n)
}

#[test]
fn a_lake_current_and_the_scale_of_the_log() {
    let found = of(&["lake-geneva-2008-05-28.nmea.gz"]);
    let [trip] = &found[..] else { panic!("{} trips", found.len()) };
    let scale = trip.calibration.as_ref().unwrap().speed_mps(1.5).value / 1.5;
    let (east_kn, north_kn) = mean_kn(&trip.windows);
    println!("scale {scale}, current E {east_kn} N {north_kn} kn");
    assert!((scale - 1.076).abs() <= SCALE_WITHIN, "{scale}");
    assert!((east_kn - 0.28).abs() <= CURRENT_WITHIN_KN, "{east_kn}");
    assert!((north_kn + 0.07).abs() <= CURRENT_WITHIN_KN, "{north_kn}");
}

#[test]
fn a_log_that_reads_low_makes_no_current_that_turns_with_the_boat() {
    let found = of(&["lake-geneva-2014-06-11.nmea.gz"]);
    let [trip] = &found[..] else { panic!("{} trips", found.len()) };
    let scale = trip.calibration.as_ref().unwrap().speed_mps(2.5).value / 2.5;
    let (east_kn, north_kn) = mean_kn(&trip.windows);
    println!("scale {scale}, current E {east_kn} N {north_kn} kn");
    assert!((scale - 1.207).abs() <= SCALE_WITHIN, "{scale}");
    assert!((east_kn + 0.16).abs() <= CURRENT_WITHIN_KN, "{east_kn}");
    assert!((north_kn + 0.11).abs() <= CURRENT_WITHIN_KN, "{north_kn}");
    assert_eq!(trip.edges, []);
    let strong = trip.windows.iter().filter(|w| w.east_mps.hypot(w.north_mps) > 0.95 * MPS_PER_KN).count();
    assert_eq!(strong, 0);
}

#[test]
fn a_log_that_reads_zero_at_the_berth_makes_no_current() {
    for trip in of(&["berth-2014-04-16.nmea.gz"]) {
        assert!(trip.windows.is_empty() && trip.edges.is_empty() && trip.calibration.is_none(), "{trip:?}");
        assert!(trip.remarks.iter().any(|remark| remark.contains("not known")), "{:?}", trip.remarks);
    }
}

#[test]
fn a_ship_on_one_course_has_no_edge_and_says_why() {
    for log in ["speedlog-2018-12-06.log.gz", "adcp_speedlog-2018-12-06.log.gz"] {
        let found = of(&["gnss_cnav-2018-12-06.log.gz", "gyro_1-2018-12-06.log.gz", log]);
        let [trip] = &found[..] else { panic!("{} trips", found.len()) };
        assert_eq!((trip.edges.len(), trip.calibration.is_none()), (0, true), "{trip:?}");
        assert!(trip.remarks.iter().any(|remark| remark.contains("one course")), "{:?}", trip.remarks);
        // the whole current of the windows is within what such instruments may be wrong by
        let told = trip
            .windows
            .iter()
            .filter(|w| w.east_mps.hypot(w.north_mps) > 2.0 * w.east_se_mps.hypot(w.north_se_mps));
        assert_eq!(told.count(), 0);
    }
}
