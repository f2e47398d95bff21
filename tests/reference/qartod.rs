//! The four QARTOD tests against the reference implementation, flag by flag.
//!
//! Source: `qartod_series.csv`, `qartod_params.csv`: ioos_qc 3.0.0, functions of `ioos_qc.qartod`; definitions
//! of the US IOOS QARTOD manual for in-situ temperature and salinity (2020, version 2.1).

mod common;

use common::{Row, table};
use waterseam_track::qartod;
use waterseam_units::Flag;

/// Compares one test's flags with a column of the table.
fn check(rows: &[&Row], column: &str, got: &[Flag]) {
    assert_eq!(rows.len(), got.len());
    for (row, flag) in rows.iter().zip(got) {
        let case = format!("{} sample {} {column}", row.text("series_id"), row.text("i"));
        assert_eq!(f64::from(flag.code()), row.must(column), "{case}");
    }
}

#[test]
fn flags_equal_those_of_the_reference() {
    let series = table("qartod_series.csv");
    let mut checked = 0;
    for limits in table("qartod_params.csv") {
        let id = limits.text("series_id");
        let rows: Vec<&Row> = series.iter().filter(|row| row.text("series_id") == id).collect();
        let time_us: Vec<i64> = rows.iter().map(|row| (row.must("t_s") * 1e6).round() as i64).collect();
        let values: Vec<Option<f64>> = rows.iter().map(|row| row.number("value")).collect();
        let of = |name: &str| limits.must(name);

        let suspect = of("susp_min")..=of("susp_max");
        let fail = of("fail_min")..=of("fail_max");
        check(&rows, "flag_gross_range", &qartod::gross_range(&values, &suspect, &fail));
        check(&rows, "flag_spike", &qartod::spike(&values, of("spike_susp"), of("spike_fail")));
        let rate = qartod::rate_of_change(&time_us, &values, of("rate_susp"), of("rate_fail"));
        check(&rows, "flag_rate_of_change", &rate);
        let flat = qartod::flat_line(&time_us, &values, of("flat_susp_s"), of("flat_fail_s"), of("flat_tol"));
        check(&rows, "flag_flat_line", &flat);
        checked += rows.len();
    }
    assert_eq!(checked, series.len(), "a series without limits was left out");
    assert!(checked >= 282);
}
