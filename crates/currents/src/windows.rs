//! What is the current along the track, stretch by stretch?

use crate::calibrate::{Fit, length_s, mean, mean_current};
use crate::steady::Row;
use crate::{Method, Settings, Velocity, Window};

/// A stretch with less steady motion says too little, s.
const LEAST_STEADY_S: f64 = 60.0;
/// Parts of a window that are compared with one another.
const PARTS: usize = 4;

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
    // the mean of a walk is that far from its middle
    let walk_mps2 = fit.walk_mps2_per_s * steady_s / 12.0;
    let (east_mps2, _, north_mps2) = fit.spread_of(&mean.slopes);
    let uneven = unevenness(rows, fit, noise_mps2);
    let current = mean.ground - mean.water;
    Some(Window {
        time_s: mean.time_s,
        distance_m: mean.distance_m,
        east_mps: current.east_mps,
        north_mps: current.north_mps,
        east_se_mps: (noise_mps2 + walk_mps2 + uneven.0 + east_mps2).sqrt(),
        north_se_mps: (noise_mps2 + walk_mps2 + uneven.1 + north_mps2).sqrt(),
        method: Method::Heading,
    })
}

/// Variance (east, north) by which a window's mean may miss the current in its middle, because the current changes within it:
/// beside an edge that is half the scatter of its parts beyond the noise, for a change that dies away over the window.
fn unevenness(rows: &[Row], fit: &Fit, noise_mps2: f64) -> (f64, f64) {
    let parts: Vec<Velocity> =
        rows.chunks(rows.len().div_ceil(PARTS)).map(|part| mean_current(part, &fit.terms)).collect();
    let n = parts.len() as f64;
    let beyond = |of: fn(&Velocity) -> f64| {
        let middle = parts.iter().map(of).sum::<f64>() / n;
        let square = parts.iter().map(|part| (of(part) - middle).powi(2)).sum::<f64>() / n;
        0.25 * (square - (n - 1.0) * noise_mps2).max(0.0)
    };
    (beyond(|v| v.east_mps), beyond(|v| v.north_mps))
}
