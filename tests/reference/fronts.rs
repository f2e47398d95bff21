//! Fits of a smooth step, and what the finder makes of the same series, against closed forms and scipy.
//!
//! Source: `front_tanh_series.csv` and `front_tanh_truth.csv`: closed form with Gaussian noise, fitted with
//! scipy.optimize.curve_fit. The tolerances are those of their headers.

mod common;

use common::{Row, close, table};
use waterseam_breaks::{Background, Series, Settings, find, fit};

/// Distance and temperature of one series; at a walking pace, as the series has no time.
struct Track {
    time_s: Vec<f64>,
    distance_m: Vec<f64>,
    temp_c: Vec<f64>,
}

impl Track {
    fn new(rows: &[Row], series_id: &str) -> Self {
        let rows: Vec<&Row> = rows.iter().filter(|row| row.text("series_id") == series_id).collect();
        let distance_m: Vec<f64> = rows.iter().map(|row| row.must("x_m")).collect();
        Self {
            time_s: distance_m.iter().map(|x| x / 1.2).collect(),
            temp_c: rows.iter().map(|row| row.must("temp_c")).collect(),
            distance_m,
        }
    }

    fn series(&self) -> Series<'_> {
        Series { time_s: &self.time_s, distance_m: &self.distance_m, temp_c: &self.temp_c }
    }
}

/// The rows with a front, or without, each with its series.
fn cases(has_front: bool) -> Vec<(Row, Track)> {
    let series = table("front_tanh_series.csv");
    table("front_tanh_truth.csv")
        .into_iter()
        .filter(|row| (row.must("has_front") == 1.0) == has_front)
        .map(|row| {
            let track = Track::new(&series, row.text("series_id"));
            (row, track)
        })
        .collect()
}

/// The weak front, which the header leaves to choice.
fn is_weak(row: &Row) -> bool {
    row.must("amp_c").abs() <= 5.0 * row.must("noise_sd")
}

#[test]
fn clean_fits_agree_with_the_closed_form() {
    let mut checked = 0;
    for (row, track) in cases(true).iter().filter(|(row, _)| row.must("noise_sd") == 0.0) {
        let id = row.text("series_id");
        for background in [Background::Level, Background::Slope { sd_per_m: f64::INFINITY }] {
            let profile = fit(track.series(), background).expect("a fit");
            let (width_m, amp_c) = (row.must("width_10_90_m"), row.must("amp_c"));
            close(&format!("{id} centre"), profile.centre_m, row.must("centre_m"), 0.1);
            close(&format!("{id} width"), profile.width_m, width_m, 1e-4 * width_m);
            close(&format!("{id} amplitude"), profile.step, amp_c, 1e-4 * amp_c.abs());
            close(&format!("{id} mean"), profile.level, row.must("mean_c"), 1e-4 * amp_c.abs());
            checked += 1;
        }
    }
    assert!(checked >= 4, "only {checked} fits were checked");
}

#[test]
fn noisy_fits_agree_with_least_squares() {
    let mut checked = 0;
    for (row, track) in cases(true).iter().filter(|(row, _)| row.must("noise_sd") > 0.0) {
        let id = row.text("series_id");
        let profile = fit(track.series(), Background::Level).expect("a fit");
        // the same model on the same samples: the minimum is one point, however it is looked for
        let width_per_w = row.must("width_10_90_m") / row.must("w_m");
        close(&format!("{id} mean"), profile.level, row.must("fit_mean"), 1e-5);
        close(&format!("{id} amplitude"), profile.step, row.must("fit_amp"), 1e-5);
        close(&format!("{id} centre"), profile.centre_m, row.must("fit_centre"), 1e-2);
        close(&format!("{id} width"), profile.width_m, row.must("fit_w") * width_per_w, 1e-2);
        // standard errors: scipy's, or wider where neighbouring residuals are alike by chance
        for (name, got, want) in [
            ("mean", profile.level_se, row.must("se_mean")),
            ("amplitude", profile.step_se, row.must("se_amp")),
            ("centre", profile.centre_se_m, row.must("se_centre")),
            ("width", profile.width_se_m, row.must("se_w") * width_per_w),
        ] {
            assert!((0.999..1.25).contains(&(got / want)), "{id}: error of {name} {got}, scipy says {want}");
        }
        checked += 1;
    }
    assert!(checked >= 5, "only {checked} fits were checked");
}

#[test]
fn the_finder_finds_these_fronts() {
    let mut checked = 0;
    for (row, track) in cases(true).iter().filter(|(row, _)| !is_weak(row)) {
        let id = row.text("series_id");
        let found = find(track.series(), &Settings::default());
        assert_eq!(found.len(), 1, "{id}: {found:?}");
        let (got, amp_c) = (&found[0], row.must("amp_c"));
        // its own standard errors: it allows for a slope and for uneven water, which the series do not have
        close(&format!("{id} centre"), got.distance_m, row.must("centre_m"), 3.0 * got.centre_se_m);
        close(&format!("{id} step"), got.step_c, amp_c, 3.0 * got.step_se_c);
        assert!(got.step_se_c < 0.15 * amp_c.abs(), "{id}: {got:?}");
        let gradient_c_per_km = 1000.0 * row.must("max_grad_c_per_m").abs();
        close(&format!("{id} gradient"), got.gradient_c_per_km, gradient_c_per_km, 0.15 * gradient_c_per_km);
        close(
            &format!("{id} width"),
            got.width_m,
            row.must("width_10_90_m"),
            0.15 * row.must("width_10_90_m"),
        );
        checked += 1;
    }
    assert!(checked >= 6, "only {checked} series were checked");
}

#[test]
fn the_finder_finds_nothing_where_nothing_is() {
    let flat = cases(false);
    assert!(!flat.is_empty());
    for (row, track) in &flat {
        let found = find(track.series(), &Settings::default());
        assert!(found.is_empty(), "{}: {found:?}", row.text("series_id"));
    }
}
