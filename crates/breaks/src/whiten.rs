//! How are correlated measurements made into independent ones of variance 1?
//!
//! The noise (white + AR(1) in time + random walk in distance) is a linear system of two states, so the
//! innovations of its Kalman filter are the whitened data: generalised least squares in one pass, for cells at any
//! spacing. (R. E. Kalman 1960; A. C. Harvey, Forecasting, Structural Time Series Models and the Kalman Filter,
//! 1989; both from memory.)

use crate::noise::Noise;
use crate::stretches::Cell;

/// The filter for one set of cells. Its gains do not depend on the data, so one serves every column of a fit.
pub(crate) struct Whitener {
    steps: Vec<Step>,
}

/// What the filter does at one cell.
struct Step {
    /// Part of the correlated error that is left from the cell before.
    kept: f64,
    background_gain: f64,
    drift_gain: f64,
    /// One over the standard deviation of the innovation.
    weight: f64,
}

impl Whitener {
    /// The filter for these cells under this noise. The temperature at the first cell is left to the fit.
    pub fn new(cells: &[Cell], noise: &Noise) -> Self {
        let drift_variance = noise.drift.powi(2);
        // covariance of the states (background, drift)
        let (mut p11, mut p12, mut p22) = (0.0, 0.0, drift_variance);
        let mut before: Option<&Cell> = None;
        let of_means = noise.of_means();
        let steps = cells
            .iter()
            .map(|cell| {
                let (mut past_s, mut moved_m) = (0.0, 0.0);
                if let Some(before) = before {
                    past_s = (cell.time_s - before.time_s).max(0.0);
                    moved_m = (cell.distance_m - before.distance_m).max(0.0);
                }
                before = Some(cell);
                let kept = (-past_s / noise.drift_s).exp();
                // next to nothing between two cells of a moving boat, all there is across a stop
                p11 += noise.background_per_m * moved_m + (noise.in_place_per_s * past_s).powi(2);
                p12 *= kept;
                p22 = kept * kept * p22 + drift_variance * (1.0 - kept * kept);
                let variance = p11 + 2.0 * p12 + p22 + of_means.variance(cell.samples);
                let (background_gain, drift_gain) = ((p11 + p12) / variance, (p12 + p22) / variance);
                p11 -= background_gain * background_gain * variance;
                p12 -= background_gain * drift_gain * variance;
                p22 -= drift_gain * drift_gain * variance;
                Step { kept, background_gain, drift_gain, weight: variance.sqrt().recip() }
            })
            .collect();
        Self { steps }
    }

    /// Whitens a column of values, one for each cell, in place.
    pub fn whiten(&self, column: &mut [f64]) {
        let (mut background, mut drift) = (0.0, 0.0);
        for (value, step) in column.iter_mut().zip(&self.steps) {
            drift *= step.kept;
            let innovation = *value - background - drift;
            background += step.background_gain * innovation;
            drift += step.drift_gain * innovation;
            *value = step.weight * innovation;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use nalgebra::{DMatrix, DVector};

    /// The whitened norm must equal yᵀ C⁻¹ y with the covariance written out in full.
    #[test]
    fn agrees_with_the_full_covariance() {
        let noise = Noise {
            white: 0.05,
            drift: 0.08,
            drift_s: 20.0,
            background_per_m: 3e-5,
            slope_per_m: 0.0,
            in_place_per_s: 0.0,
            quantum: 0.0,
        };
        let cells: Vec<Cell> = (0..40)
            .map(|i| {
                let i = f64::from(i);
                let distance_m = 6.0 * i + 3.0 * (1.7 * i).sin();
                Cell {
                    distance_m,
                    time_s: 4.0 * i + 30.0 * (i / 20.0).floor(),
                    value: 0.0,
                    samples: 1.0 + i % 3.0,
                }
            })
            .collect();
        let n = cells.len();
        let covariance = DMatrix::from_fn(n, n, |i, j| {
            let (a, b) = (&cells[i], &cells[j]);
            let drift = noise.drift.powi(2) * (-(a.time_s - b.time_s).abs() / noise.drift_s).exp();
            let walked_m = a.distance_m.min(b.distance_m) - cells[0].distance_m;
            let white = if i == j { noise.mean_variance(a.samples) } else { 0.0 };
            drift + noise.background_per_m * walked_m + white
        });
        let y = DVector::from_fn(n, |i, _| (i as f64 * 0.37).sin() + 0.02 * i as f64);
        let want = y.dot(&covariance.cholesky().unwrap().solve(&y));
        let mut column: Vec<f64> = y.iter().copied().collect();
        Whitener::new(&cells, &noise).whiten(&mut column);
        let got: f64 = column.iter().map(|v| v * v).sum();
        assert!((got - want).abs() < 1e-9 * want, "{got} {want}");
    }
}
