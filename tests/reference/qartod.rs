//! The QARTOD tests against the reference implementation, flag by flag.
//!
//! Source: `qartod_series.csv`, `qartod_params.csv`: ioos_qc 3.0.0, functions of `ioos_qc.qartod`; definitions
//! of the US IOOS QARTOD manual for in-situ temperature and salinity (2020, version 2.1).

mod common;

use common::{Row, table};
use waterseam_track::qartod::{self, Bounds, Spread, Window};
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

/// Source: `qartod_signal.csv`: ioos_qc 3.0.0, `attenuated_signal_test` and `time_gap_test`.
#[test]
fn attenuated_signals_and_gaps_equal_those_of_the_reference() {
    let series = table("qartod_signal.csv");
    let mut ids: Vec<&str> = series.iter().map(|row| row.text("series_id")).collect();
    ids.dedup();
    let mut ranges = 0;
    for id in ids {
        let rows: Vec<&Row> = series.iter().filter(|row| row.text("series_id") == id).collect();
        let time_us: Vec<i64> = rows.iter().map(|row| (row.must("t_s") * 1e6).round() as i64).collect();
        let values: Vec<Option<f64>> = rows.iter().map(|row| row.number("value")).collect();
        let of = |name: &str| rows[0].must(name);
        let window = Window { period_s: of("period_s"), least_s: of("min_period_s") };
        let flags =
            |spread| qartod::attenuated_signal(&time_us, &values, window, spread, of("suspect"), of("fail"));
        check(&rows, "flag_std", &flags(Spread::StandardDeviation));
        if values.iter().all(Option::is_some) {
            check(&rows, "flag_range", &flags(Spread::Range));
            ranges += rows.len();
        }
        check(&rows, "flag_gap", &qartod::gap(&time_us, 360.0));
    }
    assert!(series.len() >= 200 && ranges >= 100);
}

/// Source: `qartod_places.csv`: ioos_qc 3.0.0, `location_test`, `location_bounds_test` and `argo.speed_test`.
#[test]
fn locations_equal_those_of_the_reference() {
    let rows = table("qartod_places.csv");
    let rows: Vec<&Row> = rows.iter().collect();
    let column = |name: &str| -> Vec<Option<f64>> { rows.iter().map(|row| row.number(name)).collect() };
    let (lat, lon) = (column("lat"), column("lon"));
    let on_earth =
        |row: usize| lat[row].zip(lon[row]).is_some_and(|(lat, lon)| lat.abs() <= 90.0 && lon.abs() <= 180.0);
    let location = qartod::location(&lat, &lon, Some(60.0));
    // the reference takes a distance to a place that is not on the earth, too
    let both: Vec<usize> =
        (0..rows.len()).filter(|&row| row == 0 || !on_earth(row) || on_earth(row - 1)).collect();
    let pick = |flags: &[Flag]| -> Vec<Flag> { both.iter().map(|&row| flags[row]).collect() };
    let picked: Vec<&Row> = both.iter().map(|&row| rows[row]).collect();
    check(&picked, "flag_location", &pick(&location));
    assert!(rows.len() >= 60 && picked.len() + 4 >= rows.len());

    let bounds = Bounds { south_deg: 46.2, north_deg: 46.2025, west_deg: -29.4, east_deg: -29.399 };
    let got = qartod::location_bounds(&lat, &lon, bounds);
    // one coordinate alone is missing there, as both are
    check(&rows, "flag_bounds", &got);

    // the reference saw the places on the earth alone
    let kept: Vec<usize> = (0..rows.len()).filter(|&row| on_earth(row)).collect();
    let time_us: Vec<i64> = kept.iter().map(|&row| (rows[row].must("t_s") * 1e6).round() as i64).collect();
    let of = |values: &[Option<f64>]| -> Vec<Option<f64>> { kept.iter().map(|&row| values[row]).collect() };
    let speeds = qartod::speed(&time_us, &of(&lat), &of(&lon), 8.0, 30.0);
    let kept: Vec<&Row> = kept.iter().map(|&row| rows[row]).collect();
    check(&kept, "flag_speed", &speeds);
}
