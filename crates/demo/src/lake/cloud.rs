//! What does the shadow of a cloud do to the surface?

use serde::{Deserialize, Serialize};

/// A shadow: the sun-warmed surface cools everywhere at once, and is warmed again more slowly.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Cloud {
    /// When the surface begins to cool, seconds since local midnight.
    pub from_s: f64,
    /// How long it takes to cool, s.
    pub falls_s: f64,
    /// How long it stays cool, s.
    pub stays_s: f64,
    /// How long it takes to warm again, s.
    pub rises_s: f64,
    /// By how much it cools, °C.
    pub cools_c: f64,
}

impl Cloud {
    /// By how much the surface is cooler at a time since local midnight, °C.
    pub fn cools_c(&self, time_s: f64) -> f64 {
        let falls = (time_s - self.from_s) / self.falls_s;
        let rises = (time_s - self.from_s - self.falls_s - self.stays_s) / self.rises_s;
        self.cools_c * (smooth(falls) - smooth(rises))
    }
}

/// From 0 to 1 along half a cosine.
fn smooth(share: f64) -> f64 {
    0.5 * (1.0 - (std::f64::consts::PI * share.clamp(0.0, 1.0)).cos())
}
