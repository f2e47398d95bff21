//! Objective analysis of scattered surface temperatures, against Gaussian processes and kriging.
//!
//! Source: `objective_analysis_targets.csv` and `_params.csv`: scikit-learn 1.9.1 `GaussianProcessRegressor` for a
//! known mean, the ordinary kriging system (equal to pykrige 1.7.3) for an unknown one. The tolerances are those of
//! their headers.

mod common;

use common::{Row, close, table};
use waterseam_breaks::{Covariance, CovarianceShape, Mean, ObjectiveAnalysis, Observation};

const KM: f64 = 1_000.0;
const TOLERANCE: f64 = 1e-6;

fn analysis(params: &Row) -> ObjectiveAnalysis {
    let observations: Vec<Observation> = table("objective_analysis_obs.csv")
        .iter()
        .map(|row| Observation {
            east_m: KM * row.must("x_km"),
            north_m: KM * row.must("y_km"),
            temp_c: row.must("temp_c"),
        })
        .collect();
    let shape = match params.text("covariance") {
        "gaussian" => CovarianceShape::Gaussian,
        "exponential" => CovarianceShape::Exponential,
        "matern32" => CovarianceShape::Matern32,
        "matern52" => CovarianceShape::Matern52,
        "spherical" => CovarianceShape::Spherical,
        other => panic!("{other} is no covariance"),
    };
    let covariance =
        Covariance { shape, variance_c2: params.must("var_c2"), length_m: KM * params.must("L_km") };
    let mean = params.number("mean_c").map_or(Mean::Estimated, Mean::Known);
    ObjectiveAnalysis::new(&observations, covariance, params.must("nugget_c2"), mean)
        .expect("a solvable case")
}

#[test]
fn estimates_and_their_errors_agree() {
    let targets = table("objective_analysis_targets.csv");
    let mut checked = 0;
    for params in &table("objective_analysis_params.csv") {
        let case = params.text("case_id");
        let rows: Vec<&Row> = targets.iter().filter(|row| row.text("case_id") == case).collect();
        let places_m: Vec<(f64, f64)> =
            rows.iter().map(|row| (KM * row.must("x_km"), KM * row.must("y_km"))).collect();
        let estimates = analysis(params).estimates(&places_m);
        assert_eq!(estimates.len(), rows.len());
        for (row, estimate) in rows.iter().zip(estimates) {
            let case = format!("{case}, target {}", row.text("target"));
            close(&case, estimate.temp_c, row.must("estimate_c"), TOLERANCE);
            close(&case, estimate.error_variance_c2, row.must("variance_c2"), TOLERANCE);
            checked += 1;
        }
    }
    assert_eq!(checked, targets.len());
}

#[test]
fn log_marginal_likelihoods_agree() {
    let mut checked = 0;
    for params in &table("objective_analysis_params.csv") {
        let Some(want) = params.number("log_marginal_likelihood") else { continue };
        close(params.text("case_id"), analysis(params).log_marginal_likelihood(), want, TOLERANCE);
        checked += 1;
    }
    assert!(checked >= 4);
}
