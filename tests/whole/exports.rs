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

#[test]
fn shared_places_are_coarse_and_of_several_trips() {
    let dir = tempfile::tempdir().unwrap();
    let logbook = dir.path().join("logbook");
    expect_status(&process(&sample_logs(), &logbook), 0);
    let out = dir.path().join("out");
    let write = |words: &str| {
        expect_status(&export(&logbook, &format!("--what hotspots --season-part all {words}"), &out), 0);
        std::fs::read_to_string(&out).unwrap()
    };
    let rows = |sheet: &str| sheet.lines().skip(1).map(str::to_owned).collect::<Vec<_>>();

    let all = write("--format csv --blur 5km --least-trips 1");
    let heading = "cell,resolution,season_part,species,trips,years,rod_hours,bites,rate_per_rod_hour,bite_depth_m,bite_temp_c,bite_surface_temp_c,mind";
    assert_eq!(all.lines().next(), Some(heading));
    assert!(all.contains("Not for navigation"));
    let several = rows(&write("--format csv --blur 5km --least-trips 2"));
    assert!(!several.is_empty() && several.len() < rows(&all).len(), "{several:?}");
    for row in &several {
        let fields: Vec<&str> = row.split(',').collect();
        // a cell of resolution 6 in the notation of H3: its last nine digits, of three bits each, are empty
        let empty = (1_u64 << 27) - 1;
        let cell = u64::from_str_radix(fields[0], 16).unwrap();
        assert!(fields[0].starts_with("86") && cell & empty == empty && fields[1] == "6", "{row}");
        assert!(fields[4].parse::<u32>().unwrap() >= 2, "{row}");
    }
    let json: serde_json::Value =
        serde_json::from_str(&write("--format geojson --blur 5km --least-trips 2")).unwrap();
    assert_eq!(json["features"].as_array().unwrap().len(), several.len());
    expect_status(
        &export(&logbook, "--what hotspots --format geoparquet --blur 5km --least-trips 2", &out),
        0,
    );
    assert!(std::fs::read(&out).unwrap().starts_with(b"PAR1"));

    for (words, status, said) in [
        ("--what hotspots --format gpx --blur 5km", 1, "a waypoint would look like a spot"),
        ("--what bites --format csv --blur 5km", 1, "--blur is for --what hotspots"),
        ("--what hotspots --format csv --blur 9", 2, "finer cells would give a spot away"),
        ("--what hotspots --format csv --least-trips 3", 2, "--blur"),
        ("--what hotspots --format csv", 1, "waterseam hotspots --logbook"),
        ("--what bites --format geoparquet", 1, "only hotspots are written as geoparquet"),
    ] {
        let refused = export(&logbook, words, &out);
        expect_status(&refused, status);
        assert!(stderr(&refused).contains(said), "{words}: {}", stderr(&refused));
    }
}
