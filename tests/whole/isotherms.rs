//! A day on which the probe goes down and up through the thermocline, from raw files to the summary.

use waterseam_demo::{Knobs, Scenario, trip_with};

use super::cards::Boat;
use super::helpers::{stdout, waterseam};

#[test]
fn a_front_that_lifts_the_thermocline_is_in_the_tables_and_the_summary() {
    let knobs = Knobs {
        probe_cycle_s: Some(150.0),
        thermocline_step_m: Some(5.0),
        internal_wave_m: Some(0.3),
        bite_factor: 0.0,
        ..Knobs::default()
    };
    let demo = trip_with(41, Scenario::SummerBreak, &knobs);
    let boat = Boat::new();
    for file in &demo.files {
        boat.put(&file.name, &file.bytes);
    }
    boat.process();
    let trip = boat.only_trip();
    let steps = trip["isotherm_breaks"].as_array().unwrap();
    assert!(steps.len() >= 3, "{steps:?}");
    for step in steps {
        let height_m = step["step_m"].as_f64().unwrap();
        assert!((2.0..9.0).contains(&height_m.abs()), "{step}");
        // within its width, which is that of the gap where the lines came in on the front
        let (time_us, width_m) = (step["time"].as_i64().unwrap(), step["width_m"].as_f64().unwrap());
        let is_there =
            demo.truth.crossings.iter().any(|truth| {
                (truth.time_us - time_us).abs() as f64 * 1e-6 * truth.sog_mps < width_m.max(150.0)
            });
        assert!(is_there, "no front there: {step}");
    }
    let args = ["summary", "--trip", trip["trip"]["trip_id"].as_str().unwrap(), "--logbook"];
    let said = stdout(&waterseam().args(args).arg(boat.logbook()).output().unwrap());
    let line =
        said.lines().find(|line| line.contains(" line drops from ") || line.contains(" line rises from "));
    assert!(line.is_some_and(|line| line.contains("°F")), "{said}");
}
