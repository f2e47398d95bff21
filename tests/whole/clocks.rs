//! Clocks that are off: a probe that kept another time, notes of a phone in another zone, and what the captain is told.

use serde_json::Value;
use waterseam_demo::{DemoTrip, Knobs, Scenario};

use super::cards::{Boat, remarks};
use super::helpers::{stdout, waterseam};

/// A day with clear breaks that the probe crosses above the thermocline.
const SEED: u64 = 1032;
/// What the probe's clock is ahead by, s: an hour of another zone, and some.
const AHEAD_S: i64 = 3600 + 37;

fn demo(knobs: &Knobs) -> DemoTrip {
    let knobs = Knobs {
        fished_m: Some((1.5, 7.0)),
        steps_c: Some(vec![2.5, 2.0]),
        thermocline_m: Some(14.0),
        ..knobs.clone()
    };
    waterseam_demo::trip_with(SEED, Scenario::Random, &knobs)
}

fn card(demo: &DemoTrip) -> Boat {
    let boat = Boat::new();
    for file in &demo.files {
        boat.put(&file.name, &file.bytes);
    }
    boat
}

/// Adds to the boat file.
fn say(boat: &Boat, lines: &str) {
    let path = boat.card().join("waterseam.toml");
    let text = std::fs::read_to_string(&path).unwrap();
    std::fs::write(path, text + lines).unwrap();
}

fn source<'a>(trip: &'a Value, kind: &str) -> &'a Value {
    trip["sources"].as_array().unwrap().iter().find(|source| source["kind"] == kind).unwrap()
}

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap()
}

fn probe_name(demo: &DemoTrip) -> String {
    demo.files.iter().find(|file| file.name.starts_with("probe")).unwrap().name.clone()
}

#[test]
fn a_probe_that_kept_another_time_is_moved_to_the_boats() {
    let right = card(&demo(&Knobs::default()));
    right.process();
    let wrong = card(&demo(&Knobs { probe_clock_offset_s: AHEAD_S, ..Knobs::default() }));
    wrong.process();
    let (right, wrong) = (right.only_trip(), wrong.only_trip());

    let (as_it_was, moved) = (source(&right, "probe"), source(&wrong, "probe"));
    let added_s = number(&moved["clock_offset_s"]) - number(&as_it_was["clock_offset_s"]);
    // the lag of the hull sensor is stated in whole seconds, and the clock of the demo is a second or two off by itself
    assert!((added_s + AHEAD_S as f64).abs() <= 5.0, "{added_s}");
    assert_eq!(moved["clock_offset_method"], "temperature");
    let said = moved["remarks"].to_string();
    assert!(said.contains("ahead of GPS time, by its temperature against the hull's"), "{said}");

    // the water under the boat is the same again
    let depths = |trip: &Value| -> Vec<f64> {
        trip["layers"].as_array().unwrap().iter().filter_map(|p| p["thermocline_depth_m"].as_f64()).collect()
    };
    let (before, after) = (depths(&right), depths(&wrong));
    assert_eq!(before.len(), after.len());
    assert!(before.iter().zip(&after).all(|(a, b)| (a - b).abs() < 0.2), "{before:?} {after:?}");
}

#[test]
fn what_cannot_be_told_is_asked() {
    let flat = |ahead_s| {
        let knobs = Knobs { probe_clock_offset_s: ahead_s, probe_speed: false, ..Knobs::default() };
        waterseam_demo::trip_with(7, Scenario::FlatDay, &knobs)
    };
    let demo = flat(1800);
    let boat = card(&demo);
    boat.process();
    let lines = source(&boat.only_trip(), "probe").clone();
    assert_eq!(lines["clock_offset_method"], "gear_log", "the ups and downs of the lines tell it");
    assert!((number(&lines["clock_offset_s"]) - 7200.0 + 1800.0).abs() < 60.0, "{lines}");

    let gear = demo.files.iter().find(|file| file.name.starts_with("gear")).unwrap();
    boat.take(&gear.name);
    let inspected = waterseam().arg("inspect").arg(boat.card()).output().unwrap();
    let text = stdout(&inspected).split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(text.contains("could not be checked against the boat's"), "{text}");
    assert!(text.contains("[clocks.files]"), "{text}");

    // and the answer settles it
    let boat = card(&demo);
    say(&boat, &format!("\n[clocks.files]\n\"{}\" = \"-30 min\"\n", probe_name(&demo)));
    boat.process();
    let settled = boat.only_trip();
    let answer = source(&settled, "probe");
    assert_eq!(answer["clock_offset_method"], "boat_file");
    assert!((number(&answer["clock_offset_s"]) - 7200.0 + 1800.0).abs() < 1e-6, "{answer}");
}

#[test]
fn notes_of_another_zone_come_back_by_the_only_hour_that_fits() {
    let hours = 11;
    let boat = card(&demo(&Knobs { notes_clock_offset_s: hours * 3600, ..Knobs::default() }));
    boat.process();
    let trip = boat.only_trip();
    let right = card(&demo(&Knobs::default()));
    right.process();
    let right = right.only_trip();
    let bites = |trip: &Value| trip["bites"].as_array().map_or(0, Vec::len);
    assert!(bites(&right) > 0);
    assert_eq!(bites(&trip), bites(&right), "{}", remarks(&trip));
    let times = |trip: &Value| -> Vec<String> {
        trip["bites"].as_array().unwrap().iter().map(|bite| bite["time"].to_string()).collect()
    };
    assert_eq!(times(&trip), times(&right));
    assert_eq!(source(&trip, "bites")["clock_offset_method"], "whole_hours");
}
