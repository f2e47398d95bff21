//! Set and drift, current triangles and the compass-less circle.
//!
//! Sources: `set_drift_vectors.csv`: vector arithmetic by the definition; `set_drift_triangles.csv`: exact arithmetic, and
//! published answers of chart-work problems where the table has them; `current_circle_obs.csv` and
//! `current_circle_truth.csv`: closed form, and geometric fits by scipy's `least_squares`. The tolerances are those of the
//! tables.

mod common;

use common::{Row, close, table};
use waterseam_currents::triangle::{Way, course_and_speed, course_to_steer, made_good};
use waterseam_currents::{Velocity, course_circle, ground_minus_water};
use waterseam_units::angle::turn_deg;

#[test]
fn current_is_ground_minus_water() {
    for row in table("set_drift_vectors.csv") {
        let id = row.text("id");
        // no course: the boat lies still over ground
        let cog_deg = row.number("cog_deg").unwrap_or(0.0);
        let got = ground_minus_water(row.must("sog_mps"), cog_deg, row.must("stw_mps"), row.must("hdg_deg"));
        close(id, got.east_mps, row.must("current_e"), 1e-9);
        close(id, got.north_mps, row.must("current_n"), 1e-9);
        let (drift_mps, set_deg) = got.speed_direction();
        close(id, drift_mps, row.must("drift_mps"), 1e-9);
        if drift_mps > 0.01 {
            let off = turn_deg(row.must("set_deg"), set_deg.expect("a set"));
            close(id, off, 0.0, 1e-6);
        }
    }
}

#[test]
fn triangles_are_solved_exactly_and_as_published() {
    for row in table("set_drift_triangles.csv") {
        let (set_deg, drift) = (row.must("set_deg"), row.must("drift_kn"));
        let got = match row.text("problem") {
            "made_good" => made_good(row.must("course_deg"), row.must("speed_kn"), set_deg, drift),
            "course_to_steer" => course_to_steer(row.must("cmg_deg"), row.must("speed_kn"), set_deg, drift),
            "course_and_speed" => course_and_speed(row.must("cmg_deg"), row.must("smg_kn"), set_deg, drift),
            other => panic!("{other} is no problem of chart work"),
        };
        let Way { direction_deg, speed } = got.expect("a solution");
        let case = format!("{} in {drift} kn toward {set_deg}", row.text("problem"));
        close(&case, turn_deg(row.must("exact_deg"), direction_deg), 0.0, 1e-6);
        close(&case, speed, row.must("exact_kn"), 1e-6);
        if let Some((answer_deg, answer_kn)) = row.number("answer_deg").zip(row.number("answer_kn")) {
            close(&case, turn_deg(answer_deg, direction_deg), 0.0, row.must("tol_deg"));
            close(&case, speed, answer_kn, row.must("tol_kn"));
        }
    }
}

/// Ground velocities of a case.
fn tips(observations: &[Row], case: &str) -> Vec<Velocity> {
    let of_case = observations.iter().filter(|row| row.text("case_id") == case);
    of_case.map(|row| Velocity { east_mps: row.must("ground_e"), north_mps: row.must("ground_n") }).collect()
}

#[test]
fn circles_have_the_current_at_their_centre() {
    let observations = table("current_circle_obs.csv");
    for row in table("current_circle_truth.csv") {
        let case = row.text("case_id");
        let got = course_circle(&tips(&observations, case));
        if row.must("determinable") == 0.0 {
            assert_eq!(got, None, "{case}");
            continue;
        }
        let got = got.unwrap_or_else(|| panic!("{case}: no circle"));
        // exact cases against the truth, noisy ones against the same criterion minimised by scipy
        let (columns, within) = if row.must("noise_sd") == 0.0 {
            (["true_e", "true_n", "true_stw"], 1e-9)
        } else {
            (["geom_e", "geom_n", "geom_r"], 1e-6)
        };
        let values = [got.current.east_mps, got.current.north_mps, got.stw_mps];
        for (value, column) in values.into_iter().zip(columns) {
            close(&format!("{case} {column}"), value, row.must(column), within);
        }
        match row.number("residual_rms") {
            Some(rms) => close(case, got.residual_rms_mps.expect("more than three tips"), rms, 1e-6),
            // three tips leave nothing over; the table also has none where the fit is exact
            None => assert!(got.residual_rms_mps.is_none_or(|rms| rms < 1e-9), "{case}"),
        }
    }
}
