//! How do log and compass err beside the scale and the offset that every day draws?

use waterseam_units::angle::{turn_deg, wrap_deg};

use crate::voyage::State;

/// Errors of log, compass and receiver that a test asks for.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct WaterFaults {
    /// Whether there is a speed log.
    pub log: bool,
    /// Whether there is a compass.
    pub compass: bool,
    /// True speed = scale × reading + this, m/s.
    pub log_offset_mps: f64,
    /// B, C, D and E of the deviation, degrees: true heading = reading + A + B sin h + C cos h + D sin 2h + E cos 2h with the
    /// heading h as it is read (true); A is the heading offset.
    pub cycles_deg: [f64; 4],
    /// Log and compass show what was this long ago, s.
    pub lag_s: f64,
    /// Sideways drift through the water as a part of the wind across the boat.
    pub leeway: f64,
    /// Decimals of the speed over ground in knots.
    pub sog_decimals: usize,
}

impl Default for WaterFaults {
    fn default() -> Self {
        Self {
            log: true,
            compass: true,
            log_offset_mps: 0.0,
            cycles_deg: [0.0; 4],
            lag_s: 0.0,
            leeway: 0.0,
            sog_decimals: 2,
        }
    }
}

impl WaterFaults {
    /// Heading and speed through the water as they were a lag before a second.
    pub(crate) fn late(&self, states: &[State], second: usize) -> (f64, f64) {
        let at = (second as f64 - self.lag_s).clamp(0.0, (states.len() - 1) as f64);
        let (before, part) = (at.floor() as usize, at.fract());
        let (from, to) = (&states[before], &states[(before + 1).min(states.len() - 1)]);
        let heading_deg = wrap_deg(from.heading_deg + turn_deg(from.heading_deg, to.heading_deg) * part);
        (heading_deg, from.stw_mps + (to.stw_mps - from.stw_mps) * part)
    }

    /// What a compass of constant deviation A reads on a true heading, degrees.
    pub(crate) fn read_deg(&self, true_deg: f64, a_deg: f64) -> f64 {
        let [b, c, d, e] = self.cycles_deg;
        let deviation_deg = |read_deg: f64| {
            let (sin, cos) = read_deg.to_radians().sin_cos();
            let (sin2, cos2) = (2.0 * read_deg).to_radians().sin_cos();
            a_deg + b * sin + c * cos + d * sin2 + e * cos2
        };
        // a few degrees of deviation change little within themselves: this is there after three rounds
        (0..6).fold(true_deg, |read_deg, _| true_deg - deviation_deg(read_deg))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_reading_and_its_deviation_make_the_heading() {
        let faults = WaterFaults { cycles_deg: [2.0, -1.5, 0.5, 0.3], ..WaterFaults::default() };
        for true_deg in [0.0, 77.0, 200.0, 359.0] {
            let read: f64 = faults.read_deg(true_deg, 1.0);
            let h = read.to_radians();
            let deviation =
                1.0 + 2.0 * h.sin() - 1.5 * h.cos() + 0.5 * (2.0 * h).sin() + 0.3 * (2.0 * h).cos();
            assert!((read + deviation - true_deg).abs() < 1e-6, "{true_deg}: {read}");
        }
    }
}
