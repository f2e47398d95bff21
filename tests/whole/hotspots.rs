//! The layer of many trips and the plan of a day, through the binary, from the sample logs.

use std::path::Path;
use std::process::Output;

use super::helpers::{expect_status, process, sample_logs, waterseam};

fn run(logbook: &Path, arguments: &[&str]) -> Output {
    let (command, rest) = arguments.split_first().unwrap();
    waterseam().arg(command).arg("--logbook").arg(logbook).args(rest).output().unwrap()
}

fn text(output: &Output) -> String {
    String::from_utf8(output.stdout.clone()).unwrap()
}

/// A text without its numbers: a chain of draws may go another way where the machine rounds otherwise.
fn form(text: &str) -> String {
    text.replace(|letter: char| letter.is_ascii_digit(), "0")
}

#[test]
fn layer_and_plan_of_the_sample_logs() {
    let dir = tempfile::tempdir().unwrap();
    let logbook = dir.path().join("logbook");
    expect_status(&process(&sample_logs(), &logbook), 0);

    let told = run(&logbook, &["hotspots", "--season-part", "season", "--resolution", "6"]);
    expect_status(&told, 0);
    insta::assert_snapshot!("hotspots_of_the_sample_logs", form(&text(&told)));
    let file = logbook.join("hotspots/cells=6/parts=season/part-0.parquet");
    let bytes = std::fs::read(&file).unwrap();
    expect_status(&run(&logbook, &["verify"]), 0);
    expect_status(&run(&logbook, &["hotspots", "--season-part", "season", "--resolution", "6"]), 0);
    assert_eq!(std::fs::read(&file).unwrap(), bytes, "the same logbook gives the same bytes");
    let json = run(&logbook, &["hotspots", "--season-part", "all", "--format", "json"]);
    let json: serde_json::Value = serde_json::from_slice(&json.stdout).unwrap();
    assert!(!json["hotspots"].as_array().unwrap().is_empty() && json["cautions"].is_array());

    let gpx = dir.path().join("start.gpx");
    let boat = sample_logs().join("waterseam.toml");
    let (gpx_text, boat) = (gpx.to_str().unwrap(), boat.to_str().unwrap());
    let plan = [
        "plan",
        "--date",
        "2026-07-18",
        "--boat",
        boat,
        "--within",
        "12 mi",
        "--resolution",
        "6",
        "--out",
        gpx_text,
    ];
    let planned = run(&logbook, &plan);
    expect_status(&planned, 0);
    insta::assert_snapshot!("plan_of_a_july_day", form(&text(&planned)));
    let float_plan = std::fs::read_to_string(dir.path().join("start.float-plan.txt")).unwrap();
    insta::assert_snapshot!("float_plan_of_a_july_day", float_plan);
    let waypoints = std::fs::read_to_string(&gpx).unwrap();
    assert!(waypoints.contains("<name>Start 1</name>"));
    assert!(waypoints.matches("float plan left ashore").count() > waypoints.matches("<wpt").count());

    // a trip that goes takes the layer with it, and nothing near enough is nothing to write
    let trips = text(&run(&logbook, &["summary", "--all"]));
    let trip = trips.split_whitespace().next().unwrap().to_owned();
    expect_status(&run(&logbook, &["forget", "--trip", &trip]), 0);
    assert!(!logbook.join("hotspots").exists());
    std::fs::remove_file(&gpx).unwrap();
    let far = ["plan", "--date", "2026-07-18", "--from", "10,10", "--within", "5 km", "--out", gpx_text];
    expect_status(&run(&logbook, &far), 1);
    assert!(!gpx.exists());
}

/// A layer is the same of a logbook, of the pool that it was copied into, and of what another engine answers about a pool.
#[test]
fn a_layer_does_not_depend_on_who_adds_up() {
    let dir = tempfile::tempdir().unwrap();
    let (logbook, pool) = (dir.path().join("logbook"), dir.path().join("pool"));
    expect_status(&process(&sample_logs(), &logbook), 0);
    expect_status(&run(&logbook, &["compact", "--out", pool.to_str().unwrap()]), 0);
    let of = |what: &str, folder: &Path, more: &[&str]| {
        let made = waterseam().args(["hotspots", what]).arg(folder).args(more).output().unwrap();
        expect_status(&made, 0);
        text(&made)
    };
    for more in [&["--season-part", "all"][..], &["--format", "json", "--resolution", "9"]] {
        assert_eq!(of("--pool", &pool, more), of("--logbook", &logbook, more));
    }

    // the answers are those of DataFusion and of Ballista, which the tests of crates/fleet hold to them
    let fleet = sample_logs().join("../crates/fleet/tests");
    let out = |name: &str| dir.path().join(name);
    let make = |what: &str, folder: &str, path: &Path| {
        of(what, &fleet.join(folder), &["--season-part", "all", "--out", path.to_str().unwrap()]);
        std::fs::read(path).unwrap()
    };
    let (mine, theirs) = (out("mine.parquet"), out("theirs.parquet"));
    assert_eq!(make("--pool", "pool", &mine), make("--answers", "answers", &theirs));
    let words = ["--season-part", "all", "--units", "marine"];
    let told = of("--answers", &fleet.join("answers"), &words);
    assert!(told.starts_with("18 trips in 3 years") && told.contains(" nmi across, by all"), "{told}");
    let missing = waterseam().args(["hotspots", "--answers"]).arg(&pool).output().unwrap();
    expect_status(&missing, 1);
    assert!(String::from_utf8_lossy(&missing.stderr).contains("outings.parquet"));
}

#[test]
fn what_makes_no_sense_is_refused() {
    let dir = tempfile::tempdir().unwrap();
    let logbook = dir.path().join("logbook");
    expect_status(&run(&logbook, &["hotspots"]), 1);
    assert!(!logbook.exists(), "a logbook is made by process alone");
    for arguments in [
        &["hotspots", "--resolution", "12"][..],
        &["hotspots", "--season-part", "fortnight"],
        &["hotspots", "--date", "2026-07-18"],
        &["hotspots", "--pool", "pool"],
        &["hotspots", "--out", "layer.parquet"],
        &["plan", "--date", "2026-07-18"],
    ] {
        expect_status(&run(&logbook, arguments), 2);
    }
}
