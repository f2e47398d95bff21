//! Invented logs: as many trips in each year as were asked for.

use super::helpers::{expect_status, waterseam};

#[test]
fn trips_are_counted_in_each_year() {
    let dir = tempfile::tempdir().unwrap();
    let demo = dir.path().join("demo");
    let output = waterseam()
        .arg("demo")
        .arg(&demo)
        .args(["--trips", "1", "--years", "2", "--seed", "5"])
        .output()
        .unwrap();
    expect_status(&output, 0);
    let truth: serde_json::Value =
        serde_json::from_slice(&std::fs::read(demo.join("truth.json")).unwrap()).unwrap();
    let days = truth["trips"].as_array().unwrap().iter().map(|trip| trip["date"].as_str().unwrap());
    let years: Vec<&str> = days.map(|day| &day[..4]).collect();
    assert_eq!(years, ["2025", "2026"]);
}
