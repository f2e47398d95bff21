//! Water that moves, through the whole program: instruments of one boat over several trips, two speed logs, an
//! instrument's own set and drift, and the map layer.

use std::path::{Path, PathBuf};

use jiff::civil::Date;
use serde_json::Value;
use waterseam_demo::{DemoTrip, Knobs, Scenario};
use waterseam_logs::boat::BoatFile;
use waterseam_logs::{Collected, Value as Seen};
use waterseam_units::angle::{length_direction, turn_deg};
use waterseam_units::convert::MPS_PER_KN;

use super::helpers::{contents, expect_status, process, sample_logs, sentence, stdout, waterseam};

/// Two short days of a boat whose log reads 7 % low and whose compass 2° low, and one of the boat with a new log.
fn days() -> [DemoTrip; 3] {
    [(1, 1.07), (2, 1.07), (3, 0.96)].map(|(day, scale)| {
        let knobs = Knobs {
            date: Some(Date::constant(2026, 8, day)),
            troll_hours: Some(1.5),
            log_scale: Some(scale),
            heading_offset_deg: Some(2.0),
            ..Knobs::default()
        };
        waterseam_demo::trip_with(70 + day as u64, Scenario::FlatDay, &knobs)
    })
}

fn put(card: &Path, demo: &DemoTrip) -> PathBuf {
    let folder = card.join(&demo.truth.date);
    std::fs::create_dir_all(&folder).unwrap();
    for file in &demo.files {
        std::fs::write(folder.join(&file.name), &file.bytes).unwrap();
    }
    folder
}

fn summary(logbook: &Path, more: &[&str]) -> String {
    let output = waterseam().arg("summary").args(more).arg("--logbook").arg(logbook).output().unwrap();
    expect_status(&output, 0);
    stdout(&output)
}

fn newest(logbook: &Path) -> Value {
    serde_json::from_str(&summary(logbook, &["--format", "json"])).unwrap()
}

/// The words of a text without its line breaks.
fn flowing(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

#[test]
fn log_and_compass_are_carried_from_trip_to_trip_one_by_one_or_all_at_once() {
    let dir = tempfile::tempdir().unwrap();
    let (card, boat) = (dir.path().join("card"), dir.path().join("card/waterseam.toml"));
    let folders = days().map(|demo| put(&card, &demo));
    std::fs::write(&boat, waterseam_demo::boat_file()).unwrap();
    let (at_once, one_by_one) = (dir.path().join("at-once"), dir.path().join("one-by-one"));
    expect_status(&process(&card, &at_once), 0);
    let mut said = Vec::new();
    for folder in &folders {
        let output = waterseam()
            .args(["process", "--no-report"])
            .arg(folder)
            .arg("--boat")
            .arg(&boat)
            .arg("--logbook")
            .arg(&one_by_one)
            .output()
            .unwrap();
        expect_status(&output, 0);
        said.push(flowing(&stdout(&output)));
    }
    let tables = |logbook: &Path| -> Vec<(PathBuf, Vec<u8>)> {
        contents(logbook).into_iter().filter(|(path, _)| path.to_string_lossy().contains("trip=")).collect()
    };
    let (a, b) = (tables(&at_once), tables(&one_by_one));
    assert!(a.len() > 30, "{}", a.len());
    for (a, b) in a.iter().zip(&b) {
        assert!(a == b, "{} differs", a.0.display());
    }
    assert_eq!(a.len(), b.len());
    assert!(said[0].contains("from this trip's courses"), "{}", said[0]);
    assert!(said[1].contains("from this trip and 1 earlier trip"), "{}", said[1]);
    assert!(said[2].contains("are not as on earlier trips"), "{}", said[2]);
    let last = &newest(&at_once)["calibrations"][0];
    assert_eq!((&last["is_changed"], &last["trips_used"]), (&Value::from(true), &Value::from(1)));
    assert!((last["log_factor"].as_f64().unwrap() - 0.96).abs() < 0.02, "{last}");
    // once more, with the logbook there
    let before = contents(&at_once);
    expect_status(&process(&card, &at_once), 0);
    assert!(before == contents(&at_once), "the second run changed the logbook");
}

/// Research ship on one course with two speed logs; see `tests/recordings/README.md`.
#[test]
fn two_speed_logs_that_disagree_are_both_tried_and_the_one_used_is_named() {
    let dir = tempfile::tempdir().unwrap();
    let recordings = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tests/recordings");
    let files = ["gnss_cnav", "gyro_1", "speedlog", "adcp_speedlog"];
    let files = files.map(|device| recordings.join(format!("{device}-2018-12-06.log.gz")));
    let run = waterseam()
        .args(["process", "--no-report"])
        .args(&files)
        .arg("--logbook")
        .arg(dir.path())
        .output()
        .unwrap();
    expect_status(&run, 0);
    let rows = newest(dir.path())["calibrations"].clone();
    let by = |name: &str| {
        let found = rows.as_array().unwrap().iter().find(|row| {
            let log = row["speed_log"].as_str().unwrap();
            log.contains(name) && log.contains("adcp") == name.contains("adcp")
        });
        let mps = |column: &str| found.unwrap()[column].as_f64().unwrap();
        let (drift_mps, set_deg) = length_direction(mps("mean_east_mps"), mps("mean_north_mps"));
        (drift_mps / MPS_PER_KN, set_deg.unwrap())
    };
    // source of the figures: mean of ground minus water, across-speed with it, by a script that shares nothing with this
    // project
    for (name, want_kn, want_deg) in [("speedlog", 0.73, 322.0), ("adcp_speedlog", 1.14, 308.0)] {
        let (drift_kn, set_deg) = by(name);
        assert!((drift_kn - want_kn).abs() < 0.05, "{name}: {drift_kn} kn");
        assert!(turn_deg(set_deg, want_deg).abs() < 4.0, "{name}: toward {set_deg}°");
    }
    let used = rows.as_array().unwrap().iter().filter(|row| row["is_used"] == true).count();
    assert_eq!((rows.as_array().unwrap().len(), used), (2, 1), "{rows}");
    let said = flowing(&summary(dir.path(), &["--units", "marine"]));
    assert!(said.contains("speed logs disagree: the mean current is"), "{said}");
    assert!(said.contains("(used)") && !said.contains("edge:"), "{said}");
}

/// A plotter that reports a set and drift of its own, by which the water runs at a knot and a half toward the west.
#[test]
fn a_reported_current_that_differs_is_told_of() {
    let dir = tempfile::tempdir().unwrap();
    let card = dir.path().join("card");
    let [demo, ..] = days();
    let folder = put(&card, &demo);
    std::fs::write(card.join("waterseam.toml"), waterseam_demo::boat_file()).unwrap();
    let log = demo.files.iter().find(|file| file.name.starts_with("LOG")).unwrap();
    let reported = sentence("IIVDR,270.0,T,,M,1.5,N");
    let text = String::from_utf8_lossy(&log.bytes);
    let with: String = text
        .split_inclusive('\n')
        .flat_map(|line| if line.contains("VHW") { [line, &reported] } else { [line, ""] })
        .collect();
    std::fs::write(folder.join(&log.name), with).unwrap();
    expect_status(&process(&card, &dir.path().join("logbook")), 0);
    let said = flowing(&summary(&dir.path().join("logbook"), &["--units", "marine"]));
    assert!(said.contains("that an instrument reported differ from it in"), "{said}");
    assert!(said.contains("it said 1.50 kn toward the west"), "{said}");
}

fn export(logbook: &Path, more: &[&str], out: &Path) -> std::process::Output {
    waterseam().args(["export", "--logbook"]).arg(logbook).args(more).arg("--out").arg(out).output().unwrap()
}

#[test]
fn currents_go_to_a_gis_and_to_a_plotter() {
    let dir = tempfile::tempdir().unwrap();
    let logbook = dir.path().join("logbook");
    expect_status(&process(&sample_logs(), &logbook), 0);
    let summer = ["--trip", "20260718T072244Z"];
    let (gis, plotter) = (dir.path().join("currents.geojson"), dir.path().join("currents.gpx"));
    let what = |format| [&["--what", "currents", "--format", format][..], &summer].concat();
    expect_status(&export(&logbook, &what("geojson"), &gis), 0);
    expect_status(&export(&logbook, &what("gpx"), &plotter), 0);
    let json: Value = serde_json::from_slice(&std::fs::read(&gis).unwrap()).unwrap();
    assert!(json["cautions"].to_string().contains("Not for navigation"));
    let features = json["features"].as_array().unwrap();
    let n = |what: &str| features.iter().filter(|feature| feature["properties"]["what"] == what).count();
    let (vectors, edges) = (n("current"), n("current_edge"));
    assert!(vectors > 20 && edges > 3, "{vectors} {edges}");
    let linked = |feature: &&Value| feature["properties"]["break_id"].is_string();
    assert!(features.iter().filter(linked).count() > 3, "edges on the break");

    // our own reader takes the edges for marks, and nothing for a track
    let mut collected = Collected::default();
    for member in waterseam_logs::members(&plotter).unwrap() {
        member.read(&BoatFile::default(), &mut collected).unwrap();
    }
    let marks = collected.observations.iter().filter(|o| matches!(o.value, Seen::Mark { .. })).count();
    assert_eq!((marks, collected.observations.len()), (edges, edges));
    let wrong = [&["--what", "surface-map", "--format", "gpx"][..], &summer].concat();
    expect_status(&export(&logbook, &wrong, &plotter), 1);
}
