//! Track, bites and breaks as files for a plotter, a GIS and a spreadsheet: what our own readers make of them.

use std::path::Path;

use waterseam_logs::boat::BoatFile;
use waterseam_logs::{Collected, Value};
use waterseam_tables::{Logbook, bites, track};

use super::helpers::{expect_status, process, sample_logs, stderr, waterseam};

const SUMMER: &str = "20260718T072244Z";

fn export(logbook: &Path, words: &str, out: &Path) -> std::process::Output {
    let command = &mut waterseam();
    command
        .args(["export", "--logbook"])
        .arg(logbook)
        .args(words.split(' '))
        .arg("--out")
        .arg(out)
        .output()
        .unwrap()
}

/// What our own reader finds in a GPX file: marks and positions.
fn read(gpx: &Path) -> (usize, usize) {
    let mut collected = Collected::default();
    for member in waterseam_logs::members(gpx).unwrap() {
        member.read(&BoatFile::default(), &mut collected).unwrap();
    }
    let n = |is: fn(&Value) -> bool| collected.observations.iter().filter(|o| is(&o.value)).count();
    (n(|v| matches!(v, Value::Mark { .. })), n(|v| matches!(v, Value::Fix { .. })))
}

#[test]
fn track_bites_and_breaks_in_every_form() {
    let dir = tempfile::tempdir().unwrap();
    let logbook = dir.path().join("logbook");
    expect_status(&process(&sample_logs(), &logbook), 0);
    let (all_bites, track): (Vec<bites::Row>, Vec<track::Row>) = {
        let logbook = Logbook::open(&logbook).unwrap();
        (logbook.read_table(None).unwrap(), logbook.read_table(None).unwrap())
    };
    let of_summer = all_bites.iter().filter(|row| row.trip_id == SUMMER).count();
    let seconds = track.iter().filter(|row| row.trip_id == SUMMER).count();
    let out = dir.path().join("out");
    let write = |words: &str| {
        expect_status(&export(&logbook, words, &out), 0);
        std::fs::read_to_string(&out).unwrap()
    };

    write(&format!("--trip {SUMMER} --what bites --format gpx"));
    assert_eq!(read(&out), (of_summer, 0));
    write("--what bites --format gpx");
    assert_eq!(read(&out), (all_bites.len(), 0));
    write(&format!("--trip {SUMMER} --what track --format gpx"));
    let (marks, positions) = read(&out);
    assert!(marks == 0 && positions > seconds * 9 / 10 && positions <= seconds, "{positions} of {seconds}");

    let route = write("--what bites --format gpx --as route --short-names");
    assert_eq!(route.matches("<rtept ").count(), all_bites.len());
    assert!(!route.contains("<wpt ") && route.contains("<name>BITE01</name>"), "{}", &route[..600]);

    let sheet = write(&format!("--trip {SUMMER} --what bites --format csv"));
    assert_eq!(sheet.lines().count(), of_summer + 1);
    assert!(sheet.starts_with("trip_id,bite_id,time_utc,time_se_s,lat_deg,lon_deg,species,"), "{sheet}");
    for what in ["track", "breaks", "currents", "surface-map"] {
        let sheet = write(&format!("--trip {SUMMER} --what {what} --format csv"));
        assert!(sheet.contains("Not for navigation"), "{what}");
    }
    for words in ["--what track --format geojson", "--what bites --format geojson"] {
        let text = write(words);
        let json: serde_json::Value = serde_json::from_str(&text).unwrap();
        assert!(json["cautions"].to_string().contains("Not for navigation"), "{words}");
        assert!(!json["features"].as_array().unwrap().is_empty(), "{words}");
    }
    let refused = export(&logbook, "--what surface-map --format gpx", &out);
    expect_status(&refused, 1);
    assert!(stderr(&refused).contains("geojson or csv"), "{}", stderr(&refused));
}
