//! The main job on the sample logs: what a captain sees, and that nothing changes the second time.

use super::helpers::{contents, expect_status, process, sample_logs, stderr, stdout, tables, waterseam};

/// Tables of the contract that every trip has.
const TABLES: [&str; 23] = [
    "sources",
    "set_aside",
    "trips",
    "track",
    "breaks",
    "break_lines",
    "surface_map",
    "isotherms",
    "isotherm_breaks",
    "currents",
    "current_edges",
    "calibrations",
    "lure_speeds",
    "profiles",
    "layers",
    "sections",
    "rod_spells",
    "bites",
    "effort",
    "cell_visits",
    "bands",
    "tackle_rates",
    "break_sides",
];

#[test]
fn sample_logs_give_three_trips_with_every_table() {
    let dir = tempfile::tempdir().unwrap();
    let output = process(&sample_logs(), dir.path());
    expect_status(&output, 0);
    insta::assert_snapshot!("three_summaries", stdout(&output));
    let found = tables(dir.path());
    for table in TABLES {
        // the page that tells what the logs are stands in the logbook as a file without a trip
        let of_trips = |path: &&std::path::PathBuf| {
            path.starts_with(table) && !path.to_string_lossy().contains("__HIVE")
        };
        let parts = found.iter().filter(of_trips).count();
        assert_eq!(parts, 3, "{table}: {found:?}");
    }
    expect_status(&waterseam().args(["verify", "--logbook"]).arg(dir.path()).output().unwrap(), 0);

    let pool = tempfile::tempdir().unwrap();
    let compact = || {
        let done = waterseam()
            .args(["compact", "--logbook"])
            .arg(dir.path())
            .arg("--out")
            .arg(pool.path())
            .output()
            .unwrap();
        expect_status(&done, 0);
        stdout(&done)
    };
    let said = compact();
    let expected = format!("boat=Kittiwake, year=2026: 3 trips, {} files of ", 3 * TABLES.len());
    assert!(said.starts_with(&expected) && said.lines().count() == 1, "{said}");
    assert_eq!(compact(), "boat=Kittiwake, year=2026: as before\n");
}

#[test]
fn the_same_input_again_changes_no_byte() {
    let dir = tempfile::tempdir().unwrap();
    expect_status(&process(&sample_logs(), dir.path()), 0);
    let before = contents(dir.path());
    let again = process(&sample_logs(), dir.path());
    expect_status(&again, 0);
    assert!(before == contents(dir.path()), "the second run changed the logbook");
    assert!(stderr(&again).contains("already in the logbook"), "{}", stderr(&again));
}

#[test]
fn one_thread_or_two_write_the_same_bytes() {
    let run = |threads: &str| {
        let dir = tempfile::tempdir().unwrap();
        let output = waterseam()
            .env("RAYON_NUM_THREADS", threads)
            .args(["process", "--no-report"])
            .arg(sample_logs())
            .arg("--logbook")
            .arg(dir.path())
            .output()
            .unwrap();
        expect_status(&output, 0);
        (stdout(&output), contents(dir.path()))
    };
    assert!(run("1") == run("2"));
}

#[test]
fn a_summary_comes_again_from_the_tables_alone() {
    let dir = tempfile::tempdir().unwrap();
    let processed = stdout(&process(&sample_logs(), dir.path()));
    let ids: Vec<String> = {
        let output = waterseam().args(["summary", "--all", "--logbook"]).arg(dir.path()).output().unwrap();
        expect_status(&output, 0);
        let text = stdout(&output);
        text.lines()
            .filter(|l| l.starts_with("20"))
            .map(|l| l.split(' ').next().unwrap().to_owned())
            .collect()
    };
    assert_eq!(ids.len(), 3);
    let mut again = String::new();
    for id in &ids {
        let output =
            waterseam().args(["summary", "--trip", id, "--logbook"]).arg(dir.path()).output().unwrap();
        expect_status(&output, 0);
        assert!(processed.contains(stdout(&output).trim_end()), "{}", stdout(&output));
        again.push_str(&stdout(&output));
    }
    assert!(!again.is_empty());
    let json = waterseam()
        .args(["summary", "--format", "json", "--trip", &ids[0], "--logbook"])
        .arg(dir.path())
        .output();
    let value: serde_json::Value = serde_json::from_slice(&json.unwrap().stdout).unwrap();
    assert_eq!(value["trip"]["trip_id"], ids[0].as_str());
}

#[test]
fn breaks_and_map_go_to_a_gis() {
    let dir = tempfile::tempdir().unwrap();
    let logbook = dir.path().join("logbook");
    expect_status(&process(&sample_logs(), &logbook), 0);
    let export = |what: &str, more: &[&str], out: &std::path::Path| {
        waterseam()
            .args(["export", "--format", "geojson", "--what", what, "--logbook"])
            .arg(&logbook)
            .args(more)
            .arg("--out")
            .arg(out)
            .output()
            .unwrap()
    };
    let kinds = |path: &std::path::Path| {
        let value: serde_json::Value = serde_json::from_slice(&std::fs::read(path).unwrap()).unwrap();
        assert_eq!(value["type"], "FeatureCollection");
        assert!(value["cautions"].to_string().contains("Not for navigation"), "{}", value["cautions"]);
        let mut counts = std::collections::BTreeMap::<String, usize>::new();
        for feature in value["features"].as_array().unwrap() {
            let kind = feature["properties"]["what"].as_str().unwrap();
            *counts.entry(kind.to_owned()).or_default() += 1;
        }
        counts
    };
    let out = dir.path().join("breaks.geojson");
    let summer = ["--trip", "20260718T072244Z"];
    expect_status(&export("breaks", &summer, &out), 0);
    let counts = kinds(&out);
    assert_eq!((counts["thermal_break"], counts["break_line"]), (8, 1), "{counts:?}");
    expect_status(&export("surface-map", &summer, &out), 0);
    let counts = kinds(&out);
    assert!(counts["surface_map"] > 100 && counts["isotherm"] > 3, "{counts:?}");
    // without a choice those of all trips
    expect_status(&export("breaks", &[], &out), 0);
    let all = kinds(&out);
    assert!(all["thermal_break"] >= 8 && all["thermal_bar"] > 0, "{all:?}");
    let nowhere = export("breaks", &summer, &dir.path().join("not-there/breaks.geojson"));
    expect_status(&nowhere, 1);
    assert!(stderr(&nowhere).contains("cannot write"), "{}", stderr(&nowhere));
    expect_status(&export("breaks", &["--trip", "none"], &out), 1);
}

#[test]
fn a_forgotten_trip_leaves_nothing_behind() {
    let dir = tempfile::tempdir().unwrap();
    expect_status(&process(&sample_logs(), dir.path()), 0);
    let output = waterseam().args(["summary", "--all", "--logbook"]).arg(dir.path()).output().unwrap();
    let id = stdout(&output).split(' ').next().unwrap().to_owned();
    let forget =
        || waterseam().args(["forget", "--trip", &id, "--logbook"]).arg(dir.path()).output().unwrap();
    expect_status(&forget(), 0);
    assert!(contents(dir.path()).iter().all(|(path, _)| !path.to_string_lossy().contains(&id)));
    expect_status(&waterseam().args(["verify", "--logbook"]).arg(dir.path()).output().unwrap(), 0);
    let twice = forget();
    expect_status(&twice, 1);
    assert!(stderr(&twice).contains(&id), "{}", stderr(&twice));
}

#[test]
fn inspect_writes_nothing_and_names_every_kind() {
    let before = contents(&sample_logs());
    let output = waterseam().arg("inspect").arg(sample_logs()).output().unwrap();
    expect_status(&output, 0);
    let text = stdout(&output);
    for word in ["NMEA 0183", "probe", "bite", "gear", "set aside"] {
        assert!(text.contains(word), "{word} is missing:\n{text}");
    }
    assert!(before == contents(&sample_logs()));
}

#[test]
fn wrong_usage_is_status_two() {
    expect_status(&waterseam().arg("process").output().unwrap(), 2);
    expect_status(&waterseam().args(["summary", "--logbook", "x", "--units", "cubits"]).output().unwrap(), 2);
}
