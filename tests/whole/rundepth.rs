//! How deep lines run, asked on the command line.

use std::fs;

use super::helpers::{expect_status, process, sample_logs, stderr, stdout, waterseam};

/// What `rundepth` says with these arguments, and its status.
fn rundepth(args: &[&str], status: i32) -> (String, String) {
    let output = waterseam().arg("rundepth").args(args).output().unwrap();
    expect_status(&output, status);
    (stdout(&output), stderr(&output))
}

/// A boat file that holds everything that bears on depths.
const BOAT: &str = r#"
boat = "Kittiwake"
[[spread]]
rod = "port rigger"
method = "downrigger"
weight = "12 lb"
line_out = 55
[[spread]]
rod = "starboard rigger"
method = "downrigger"
depth = 40
[[spread]]
rod = "port diver"
method = "diver"
line_out = 120
[[spread]]
rod = "starboard core"
method = "leadcore"
colors = 7
[[spread]]
rod = "flat line"
method = "flat_line"
line_out = 100
[[tackle]]
name = "keel weight"
method = "keel_weight"
weight = "3 oz"
line_out = 120
[[tackle]]
name = "clip weight"
method = "clip_weight"
weight = "6 oz"
line_out = 150
[[divers]]
name = "setting 2"
speed = 2.2
table = [[80, 30], [120, 44], [160, 57]]
[[observed_depths]]
method = "leadcore"
colors = 7
speed = 2.2
depth = 33
how = "bottom"
[[observed_depths]]
method = "leadcore"
colors = 5
speed = 2.0
depth = 24
how = "probe"
[[observed_depths]]
method = "diver"
rod = "starboard diver"
line_out = 300
speed = 2.2
depth = 90
how = "known"
"#;

/// The arguments behind a boat file with that text.
fn with_boat(args: &[&str], status: i32) -> (String, String) {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("kittiwake.toml");
    fs::write(&path, BOAT).unwrap();
    rundepth(&[&["--boat", path.to_str().unwrap()], args].concat(), status)
}

fn said(args: &[&str]) -> String {
    rundepth(args, 0).0
}

#[test]
fn seven_colours() {
    insta::assert_snapshot!(said(&[
        "--line", "core", "--colors", "7", "--speed", "2.1 mph", "--band", "40-60ft"
    ]));
}

#[test]
fn a_downrigger_blows_back() {
    let args = ["--line", "downrigger", "--weight", "12 lb", "--out", "80 ft", "--speed", "2.4"];
    insta::assert_snapshot!(said(&args));
}

#[test]
fn line_out_for_a_depth_where_the_water_is_slower_below() {
    let args = [
        "--line",
        "keel",
        "--weight",
        "3 oz",
        "--target",
        "30 ft",
        "--speed",
        "2.3",
        "--speed-at",
        "25 ft=1.7 mph",
    ];
    insta::assert_snapshot!(said(&args));
}

#[test]
fn metric_with_units() {
    let args = [
        "--line",
        "clip_weight",
        "--weight",
        "85 g",
        "--leader",
        "15",
        "--out",
        "40",
        "--speed",
        "3.5",
        "--units",
        "metric",
    ];
    insta::assert_snapshot!(said(&args));
}

#[test]
fn the_usual_lines_at_a_speed() {
    let (text, talk) = with_boat(&["--speed", "2.2 mph", "--band", "30-45ft"], 0);
    insta::assert_snapshot!(format!("{text}---\n{talk}"));
}

#[test]
fn lines_that_reach_a_depth() {
    let (text, _) = with_boat(&["--speed", "2.2 mph", "--target", "50 ft"], 0);
    insta::assert_snapshot!(text);
}

#[test]
fn one_rod_of_the_boat_file_with_other_line_out() {
    let (text, _) = with_boat(&["--rod", "port diver", "--out", "100", "--speed", "2.2"], 0);
    insta::assert_snapshot!(text);
}

#[test]
fn json_says_the_same_in_si() {
    let args = ["--line", "weighted_wire", "--out", "125 ft", "--speed", "2 mph", "--format", "json"];
    let json: serde_json::Value = serde_json::from_str(&said(&args)).unwrap();
    let line = &json["lines"][0];
    let number = |name: &str| line[name].as_f64().unwrap_or_else(|| panic!("{name}: {line}"));
    assert!(
        (number("line_out_m") - 38.1).abs() < 1e-9
            && (json["stw_mps"].as_f64().unwrap() - 0.894_08).abs() < 1e-9
    );
    // the rule of the trade for 125 ft of weighted wire is 22 to 23 ft (common practice, no source)
    assert!((6.0..7.7).contains(&number("depth_m")) && number("depth_se_m") > 0.5);
    assert!(number("depth_slower_m") > number("depth_m") && number("depth_m") > number("depth_faster_m"));
    assert!(number("angle_from_vertical_deg") > 60.0 && number("layback_m") > 30.0);
    assert!(json["cautions"].as_array().unwrap().len() >= 2);
}

#[test]
fn what_is_wrong_is_named() {
    let wrong: [(&[&str], &str); 15] = [
        (
            &["--line", "rope", "--out", "9", "--speed", "2"],
            "--line: there is no kind 'rope'; write one of downrigger, diver",
        ),
        (
            &["--line", "flat", "--out", "60 lb", "--speed", "2"],
            "--out: found '60 lb'; write a number or \"40 ft\", \"12 m\"",
        ),
        (
            &["--line", "flat", "--out", "60", "--speed", "fast"],
            "--speed: found 'fast'; write a number or \"2.5 mph\"",
        ),
        (&["--line", "flat", "--out", "60", "--speed", "-2"], "--speed: found '-2'"),
        (&["--line", "flat", "--speed", "2"], "it is not said how much line is out: write --out LENGTH"),
        (&["--line", "clip_weight", "--out", "90", "--speed", "2"], "the weight is not said: write --weight"),
        (
            &["--line", "clip_weight", "--weight", "3 oz", "--out", "40", "--speed", "2"],
            "all of the line out is leader",
        ),
        (&["--line", "diver", "--out", "90", "--speed", "2"], "no table of the boat file ([[divers]])"),
        (&["--line", "core", "--colors", "200", "--speed", "2"], "--colors: write the number of colours out"),
        (&["--line", "flat", "--target", "0", "--speed", "2"], "--target: a line that runs at the surface"),
        (
            &["--line", "flat", "--out", "60", "--speed", "2", "--band", "60-40"],
            "--band: found '60-40'; write two depths",
        ),
        (
            &["--line", "flat", "--out", "60", "--speed", "2", "--speed-at", "30 ft"],
            "--speed-at: found '30 ft'; write a depth and",
        ),
        (&["--out", "60", "--speed", "2"], "--out is of one line: write --line KIND or --rod NAME too"),
        (&["--rod", "port", "--speed", "2"], "--rod: the boat file has no such line; it has none"),
        (&["--speed", "2"], "no line is named: write --line KIND"),
    ];
    for (args, want) in wrong {
        let (text, talk) = rundepth(args, 2);
        assert!(text.is_empty() && talk.contains(want), "{args:?}: {talk}");
    }
    // what the argument parser itself refuses
    for args in [
        &["--line", "flat", "--out", "60"][..],
        &["--line", "flat", "--out", "60", "--target", "20", "--speed", "2"],
    ] {
        rundepth(args, 2);
    }
}

#[test]
fn what_cannot_be_reached_is_a_failure_that_is_explained() {
    let (_, talk) = rundepth(&["--line", "flat_line", "--target", "120 ft", "--speed", "2"], 1);
    assert!(talk.contains("this line reaches no more than"), "{talk}");
    let (_, talk) = rundepth(&["--line", "clip", "--weight", "6 oz", "--target", "1 ft", "--speed", "1"], 2);
    assert!(talk.contains("there is no kind 'clip'"), "{talk}");
    let (_, talk) =
        rundepth(&["--line", "clip weight", "--weight", "6 oz", "--target", "1 ft", "--speed", "1"], 1);
    assert!(talk.contains("this line runs no shallower than"), "{talk}");
    let (_, talk) = with_boat(&["--rod", "port diver", "--out", "300", "--speed", "2.2"], 1);
    assert!(talk.contains("the diver's table speaks for 80-160 ft of line out"), "{talk}");
    let (_, talk) = with_boat(&["--rod", "port diver", "--speed", "3.5"], 1);
    assert!(talk.contains("the diver's table speaks for 1.6 mph to 2.8 mph"), "{talk}");
    let (text, talk) = with_boat(&["--speed", "2.2", "--target", "200 ft"], 0);
    assert!(text.contains("port rigger") && text.contains("reaches no more than"), "{text}{talk}");
}

#[test]
fn the_help_has_an_example_and_every_answer_its_cautions() {
    let output = waterseam().args(["rundepth", "--help"]).output().unwrap();
    expect_status(&output, 0);
    assert!(stdout(&output).contains("waterseam rundepth --line leadcore --colors 7"));
    assert!(
        said(&["--line", "flat", "--out", "60", "--speed", "2"]).contains("A running depth is an estimate")
    );
}

#[test]
fn the_band_of_a_logbook() {
    let dir = tempfile::tempdir().unwrap();
    expect_status(&process(&sample_logs(), dir.path()), 0);
    let logbook = dir.path().to_str().unwrap();
    let (text, _) = rundepth(&["--line", "core", "--colors", "5", "--speed", "2.2", "--logbook", logbook], 0);
    let band = text.lines().find(|line| line.starts_with("Band")).unwrap();
    assert!(band.contains("(produced best on trip 2026"), "{band}");
    let empty = tempfile::tempdir().unwrap();
    let (_, talk) = rundepth(
        &["--line", "core", "--colors", "5", "--speed", "2.2", "--logbook", empty.path().to_str().unwrap()],
        1,
    );
    assert!(!talk.is_empty());
}

/// Running depths and their standard errors of the cored lines of the newest sample trip, with more in the boat file.
fn cored_lines(more: &str) -> (Vec<(f64, f64)>, String) {
    let dir = tempfile::tempdir().unwrap();
    let (boat, logbook) = (dir.path().join("boat.toml"), dir.path().join("logbook"));
    let text = fs::read_to_string(sample_logs().join("waterseam.toml")).unwrap();
    fs::write(&boat, text + more).unwrap();
    let mut command = waterseam();
    command
        .args(["process", "--no-report"])
        .arg(sample_logs())
        .arg("--logbook")
        .arg(&logbook)
        .arg("--boat")
        .arg(&boat);
    expect_status(&command.output().unwrap(), 0);
    let output =
        waterseam().args(["summary", "--format", "json", "--logbook"]).arg(&logbook).output().unwrap();
    let trip: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
    let spells = trip["rod_spells"].as_array().unwrap().iter();
    let depth = |spell: &serde_json::Value| {
        Some((spell["running_depth_m"].as_f64()?, spell["running_depth_se_m"].as_f64()?))
    };
    let cored = spells.filter(|spell| spell["method"] == "leadcore" && spell["depth_source"] == "model");
    (cored.filter_map(depth).collect(), trip["trip"]["remarks"].as_str().unwrap().to_owned())
}

#[test]
fn observed_depths_set_those_of_trips_too() {
    let seen = "\n[[observed_depths]]\nmethod = \"leadcore\"\ncolors = 6\nspeed = 2.2\ndepth = 36\nhow = \"probe\"\n";
    let (before, _) = cored_lines("");
    let (after, remarks) = cored_lines(&seen.repeat(3));
    assert!(!before.is_empty() && before.len() == after.len());
    for ((before_m, before_se_m), (after_m, after_se_m)) in before.iter().zip(&after) {
        assert!(after_m > &(1.02 * before_m) && after_se_m < before_se_m, "{before:?} {after:?}");
    }
    assert!(remarks.contains("Running depths are set by 3 observed depths of the boat file."), "{remarks}");
}
