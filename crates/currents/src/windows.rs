//! What is the current along the track, stretch by stretch?

use crate::calibrate::{Fit, length_s, mean};
use crate::steady::Row;
use crate::{Method, Settings, Window};

/// A stretch with less steady motion says too little, s.
const LEAST_STEADY_S: f64 = 60.0;

/// Windows over the steady rows; none reaches across one of the `edge_times_s`.
///
/// The standard error holds the noise, which averages out in a window, and what is open of log and compass, times the mean
/// velocity through the water, so that it cancels where courses alternate within a window.
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
    let steady_s = length_s(rows);
    if steady_s < LEAST_STEADY_S {
        return None;
    }
    let mean = mean(rows, &fit.terms);
    let noise_mps2 = fit.noise_mps2 * fit.noise_factor(mean.water.speed_mps()) * settings.mean_s / steady_s;
    let (east_mps2, _, north_mps2) = fit.spread_of(&mean.slopes);
    let current = mean.ground - mean.water;
    Some(Window {
        time_s: mean.time_s,
        distance_m: mean.distance_m,
        east_mps: current.east_mps,
        north_mps: current.north_mps,
        east_se_mps: (noise_mps2 + east_mps2).sqrt(),
        north_se_mps: (noise_mps2 + north_mps2).sqrt(),
        method: Method::Heading,
    })
}
