//! Changes of a mean, against an exact optimiser.
//!
//! Source: `change_points_truth.csv`: ruptures 1.1.10 and a full dynamic programme over the same criterion. The
//! optimiser checked here is the one that the finder of breaks is compared with in its own tests; a comparison with
//! a wrong one would be worth nothing.

mod common;
#[path = "../../crates/breaks/src/tests/pelt.rs"]
mod pelt;

use common::{close, table};

/// Squared deviations from the means of the segments, with the penalty for each.
fn objective(values: &[f64], changes: &[usize], penalty: f64) -> f64 {
    let starts = std::iter::once(0).chain(changes.iter().copied());
    let ends = changes.iter().copied().chain([values.len()]);
    starts
        .zip(ends)
        .map(|(from, to)| {
            let segment = &values[from..to];
            let mean = segment.iter().sum::<f64>() / segment.len() as f64;
            segment.iter().map(|v| (v - mean).powi(2)).sum::<f64>() + penalty
        })
        .sum()
}

#[test]
fn the_exact_changes_and_their_cost_are_found() {
    let series = table("change_points_series.csv");
    let truth = table("change_points_truth.csv");
    for row in &truth {
        let id = row.text("series_id");
        let values: Vec<f64> =
            series.iter().filter(|r| r.text("series_id") == id).map(|r| r.must("value")).collect();
        assert_eq!(values.len() as f64, row.must("n"));
        let changes = pelt::change_points(&values, row.must("pen"), row.must("min_size") as usize);
        let wanted: Vec<usize> = row
            .text("exact")
            .split(';')
            .filter(|text| !text.is_empty())
            .map(|text| text.parse().expect("a sample number"))
            .collect();
        assert_eq!(changes, wanted, "{id}");
        close(id, objective(&values, &changes, row.must("pen")), row.must("exact_objective"), 1e-6);
    }
}
