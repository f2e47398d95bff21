//! What is the current along the track, stretch by stretch?

use crate::calibrate::{Fit, mean};
use crate::steady::{Row, steady_s};
use crate::{Settings, Window};

/// A stretch with less steady motion says too little, s.
const LEAST_STEADY_S: f64 = 60.0;

/// Windows over the steady rows; none reaches across one of the `edge_times_s`.
///
/// The standard error holds three things: noise from row to row, which averages out in a window; slower errors (leeway,
/// gusts, a log that lags), which do not; and what log and compass may still be wrong by, times the mean velocity
/// through the water, so that it cancels where courses alternate within a window.
pub(crate) fn windows(rows: &[Row], fit: &Fit, edge_times_s: &[f64], settings: &Settings) -> Vec<Window> {
    let piece = |time_s: f64| edge_times_s.partition_point(|&edge| edge <= time_s);
    let mut windows = Vec::new();
    let mut rest = rows;
    while let Some(first) = rest.first() {
        let fits = |row: &Row| {
            row.time_s - first.time_s < settings.window_s
                && row.distance_m - first.distance_m < settings.window_m
                && piece(row.time_s) == piece(first.time_s)
        };
        let (window, later) = rest.split_at(rest.iter().position(|row| !fits(row)).unwrap_or(rest.len()));
        windows.extend(of(window, fit, settings));
        rest = later;
    }
    windows
}

fn of(rows: &[Row], fit: &Fit, settings: &Settings) -> Option<Window> {
    let steady_s = steady_s(rows);
    if steady_s < LEAST_STEADY_S {
        return None;
    }
    let mean = mean(rows);
    let water = fit.true_water(mean.water);
    let white_mps2 = fit.white_mps2 * settings.mean_s / steady_s;
    let slow_mps2 = fit.noise_mps2 - fit.white_mps2;
    let noise_mps2 = (white_mps2 + slow_mps2) * fit.noise_factor(water.speed_mps());
    let se_mps = (noise_mps2 + fit.variance * mean.water.dot(mean.water)).sqrt();
    let current = mean.ground - water;
    Some(Window {
        time_s: mean.time_s,
        distance_m: mean.distance_m,
        east_mps: current.east_mps,
        north_mps: current.north_mps,
        east_se_mps: se_mps,
        north_se_mps: se_mps,
    })
}
