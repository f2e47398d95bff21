//! How do internal waves lift the thermocline?

use std::f64::consts::TAU;

use serde::{Deserialize, Serialize};

use super::plane::Point;

/// A train of plane waves on the thermocline.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct InternalWave {
    /// Half the rise and fall, m.
    pub amplitude_m: f64,
    /// Wavelength, m.
    pub wavelength_m: f64,
    /// Direction in which it travels, degrees true.
    pub toward_deg: f64,
    /// Period, s.
    pub period_s: f64,
    /// Phase, rad.
    pub phase: f64,
}

impl InternalWave {
    /// By how much the thermocline lies deeper at a time since local midnight, m.
    pub fn deeper_m(&self, point: Point, time_s: f64) -> f64 {
        let (sin, cos) = self.toward_deg.to_radians().sin_cos();
        let toward_m = point.east_m * sin + point.north_m * cos;
        self.amplitude_m * (TAU * (toward_m / self.wavelength_m - time_s / self.period_s) + self.phase).sin()
    }
}
