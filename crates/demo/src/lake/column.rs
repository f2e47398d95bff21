//! How warm is the water below the surface?
//!
//! A mixed layer, a thermocline (tanh) and cold deep water. The thermocline rises and falls slowly in space and time,
//! as an internal seiche does. Water colder than the deep water at its surface is the same from top to bottom, as
//! it is in spring on the lake's side of a thermal bar.

use std::f64::consts::TAU;

use serde::{Deserialize, Serialize};

use super::plane::{Point, TENTH_TO_NINETIETH};

/// The water column.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Column {
    /// Temperature far below the thermocline, °C.
    pub deep_c: f64,
    /// Mean depth of the thermocline (steepest temperature gradient), m.
    pub thermocline_m: f64,
    /// From 10 % to 90 % of the change, m.
    pub thickness_m: f64,
    /// Half the rise and fall of the thermocline, m.
    pub swing_m: f64,
    /// Wavelength of the rise and fall, m.
    pub wavelength_m: f64,
    /// Direction in which the wave travels, degrees true.
    pub toward_deg: f64,
    /// Period of the wave, s.
    pub period_s: f64,
}

/// Least difference between surface and deep water that is called layered, °C.
const LAYERED_C: f64 = 1.0;
/// Step of the search for the steepest density gradient, m.
const SEARCH_STEP_M: f64 = 0.05;

impl Column {
    /// Depth of the steepest temperature gradient, m.
    pub fn thermocline_depth_m(&self, point: Point, time_s: f64) -> f64 {
        let (sin, cos) = self.toward_deg.to_radians().sin_cos();
        let toward_m = point.east_m * sin + point.north_m * cos;
        self.thermocline_m
            + self.swing_m * (TAU * (toward_m / self.wavelength_m - time_s / self.period_s)).sin()
    }

    /// Temperature at a depth under a surface of the given temperature, °C.
    pub fn temp_c(&self, surface_c: f64, depth_m: f64, thermocline_depth_m: f64) -> f64 {
        let deep_c = self.deep_c.min(surface_c);
        let scale_m = self.thickness_m / (2.0 * TENTH_TO_NINETIETH);
        let share = (1.0 - ((depth_m - thermocline_depth_m) / scale_m).tanh())
            / (1.0 + (thermocline_depth_m / scale_m).tanh());
        deep_c + (surface_c - deep_c) * share
    }

    /// Depth at which the water under a surface of the given temperature has another one, m; `None` where it has not.
    pub fn isotherm_depth_m(&self, surface_c: f64, temp_c: f64, thermocline_depth_m: f64) -> Option<f64> {
        let deep_c = self.deep_c.min(surface_c);
        let scale_m = self.thickness_m / (2.0 * TENTH_TO_NINETIETH);
        let share = (temp_c - deep_c) / (surface_c - deep_c);
        let below_m = scale_m * (1.0 - share * (1.0 + (thermocline_depth_m / scale_m).tanh())).atanh();
        let depth_m = thermocline_depth_m + below_m;
        (depth_m.is_finite() && depth_m >= 0.0).then_some(depth_m)
    }

    /// Whether the water under such a surface is layered.
    pub fn is_layered(&self, surface_c: f64) -> bool {
        surface_c - self.deep_c >= LAYERED_C
    }

    /// Depth of the steepest density gradient, m, by search. It lies above the steepest temperature gradient, because
    /// warm water changes its density faster.
    pub fn pycnocline_depth_m(&self, surface_c: f64, thermocline_depth_m: f64) -> f64 {
        let density = |depth_m| fresh_density(self.temp_c(surface_c, depth_m, thermocline_depth_m));
        let steps = ((thermocline_depth_m + self.thickness_m) / SEARCH_STEP_M) as usize;
        let mut steepest = (0.0, thermocline_depth_m);
        let mut above = density(0.0);
        for step in 1..=steps {
            let depth_m = step as f64 * SEARCH_STEP_M;
            let here = density(depth_m);
            if here - above > steepest.0 {
                steepest = (here - above, depth_m - 0.5 * SEARCH_STEP_M);
            }
            above = here;
        }
        steepest.1
    }
}

/// Density of fresh water at the surface pressure, kg/m³, temperature in °C (ITS-90).
///
/// Bigg (1967), as printed in Fofonoff & Millard (1983), UNESCO Technical Papers in Marine Science 44, p. 17, on IPTS-68.
fn fresh_density(temp_c: f64) -> f64 {
    let t = temp_c * 1.000_24;
    999.842_594
        + t * (6.793_952e-2
            + t * (-9.095_290e-3 + t * (1.001_685e-4 + t * (-1.120_083e-6 + t * 6.536_332e-9))))
}

#[cfg(test)]
mod tests {
    use super::*;

    const JULY: Column = Column {
        deep_c: 5.0,
        thermocline_m: 14.0,
        thickness_m: 5.0,
        swing_m: 1.0,
        wavelength_m: 12_000.0,
        toward_deg: 90.0,
        period_s: 36_000.0,
    };

    #[test]
    fn density_agrees_with_the_published_check_values() {
        // UNESCO Technical Papers in Marine Science 44 (1983), p. 22: S 0, p 0; 30 °C there is IPTS-68
        assert!((fresh_density(0.0) - 999.842_594).abs() < 1e-6);
        assert!((fresh_density(30.0 / 1.000_24) - 995.651_133_74).abs() < 1e-6);
    }

    #[test]
    fn from_the_surface_down_to_the_deep() {
        assert!((JULY.temp_c(19.0, 0.0, 14.0) - 19.0).abs() < 1e-12);
        assert!((JULY.temp_c(19.0, 14.0, 14.0) - 12.0).abs() < 0.01);
        assert!((JULY.temp_c(19.0, 60.0, 14.0) - 5.0).abs() < 1e-6);
        for depth_m in [9.0, 14.0, 17.5] {
            let temp_c = JULY.temp_c(19.0, depth_m, 14.0);
            assert!((JULY.isotherm_depth_m(19.0, temp_c, 14.0).unwrap() - depth_m).abs() < 1e-9);
        }
        assert_eq!(JULY.isotherm_depth_m(19.0, 4.0, 14.0), None);
        let steepest = JULY.pycnocline_depth_m(19.0, 14.0);
        assert!((12.0..14.0).contains(&steepest), "{steepest}");
    }

    #[test]
    fn water_under_a_cold_surface_is_mixed() {
        assert_eq!(JULY.temp_c(3.0, 40.0, 14.0), 3.0);
        assert!(!JULY.is_layered(3.0));
    }
}
