//! What are lines, weights and lures made of?
//!
//! Round figures for things that are on every boat. What a captain's own tackle differs by is in the
//! standard errors of a [running depth](crate::Tackle::depth).

use std::f64::consts::PI;

use waterseam_logs::LineMethod;
use waterseam_units::convert::{M_PER_FT, STANDARD_GRAVITY_MPS2};

use crate::cable::{Line, Load};

/// Density of fresh water, kg/m³, good to 1 part in 2000 between 0 and 10 °C and to 1 in 500 up to 20 °C.
pub const FRESH_WATER_KG_PER_M3: f64 = 1000.0;
/// A colour of cored line: ten yards (common practice, no source), m.
pub const COLOR_M: f64 = 30.0 * M_PER_FT;

/// Drag coefficient of a line across the stream: smooth circular cylinder at Reynolds numbers of a few
/// hundred (S. F. Hoerner, Fluid-Dynamic Drag, 1965; from memory).
pub const NORMAL_DRAG: f64 = 1.2;
/// Drag coefficient of a line along the stream, on its whole surface: the order of skin friction (from
/// memory).
pub const TANGENTIAL_DRAG: f64 = 0.01;
/// Drag coefficient of a compact weight: a sphere below its drag crisis has 0.47 (Hoerner 1965, from
/// memory); fin, eye and clip make it 0.6 (common practice, no source).
pub const WEIGHT_DRAG: f64 = 0.6;
/// Drag coefficient of a keel weight: long bodies that are rounded in front but not drawn out behind have 0.2
/// (Hoerner 1965, from memory); keel and chains make it 0.3 (common practice, no source).
pub const KEEL_DRAG: f64 = 0.3;
/// Density of lead, kg/m³ (from memory).
const LEAD_KG_PER_M3: f64 = 11_340.0;

/// A line as it comes off the spool.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Material {
    /// Diameter, m.
    pub diameter_m: f64,
    /// Mass per metre, kg/m.
    pub mass_kg_per_m: f64,
}

/// Nylon line of 20 lb or so: 0.45 mm (common practice, no source) of 1140 kg/m³ (from memory).
pub const NYLON: Material = round_line(0.45e-3, 1140.0);
/// Solid stainless trolling wire: 0.38 mm (common practice, no source) of 7900 kg/m³ (from memory).
pub const TROLLING_WIRE: Material = round_line(0.38e-3, 7900.0);
/// Stranded stainless wire of a downrigger: 0.7 mm over its strands, three quarters of it steel (common
/// practice, no source).
pub const DOWNRIGGER_WIRE: Material = round_line(0.7e-3, 0.75 * 7900.0);
/// Lead-core line: 0.86 mm over its braid (common practice, no source); the mass is set so that
/// ten colours run at 50 ft at two miles an hour, the rule of the trade (common practice, no source).
pub const LEAD_CORE: Material = Material { diameter_m: 0.86e-3, mass_kg_per_m: 1.67e-3 };

/// A spoon or plug: the weight in water of 5 g, and the drag of a plate of 6 cm² (round figures, common
/// practice, no source).
pub const LURE: Load = Load { weight_n: 0.05, drag_area_m2: 6e-4 };

/// Weight of a downrigger where nobody noted it: ten pounds (common practice, no source), kg.
pub const DOWNRIGGER_WEIGHT_KG: f64 = 4.5;
/// Leader ahead of the lure where nobody noted it: twenty feet (common practice, no source), m.
pub const LEADER_M: f64 = 20.0 * M_PER_FT;
/// From a clip-on weight to the lure where nobody noted it: fifty feet (common practice, no source), m.
pub const CLIP_LEADER_M: f64 = 50.0 * M_PER_FT;
/// From a keel weight to the lure where nobody noted it: six feet (common practice, no source), m.
pub const KEEL_LEADER_M: f64 = 6.0 * M_PER_FT;

/// The leader ahead of the lure where nobody noted it, m; `None` where the method has none that matters.
pub fn usual_leader_m(method: LineMethod) -> Option<f64> {
    match method {
        LineMethod::Leadcore | LineMethod::WeightedWire => Some(LEADER_M),
        LineMethod::ClipWeight => Some(CLIP_LEADER_M),
        LineMethod::KeelWeight => Some(KEEL_LEADER_M),
        LineMethod::Downrigger | LineMethod::Diver | LineMethod::FlatLine => None,
    }
}

impl Material {
    /// The line in water of a density (kg/m³), lighter by what it displaces.
    pub fn in_water(self, density_kg_per_m3: f64) -> Line {
        let displaced_kg_per_m = density_kg_per_m3 * area_m2(self.diameter_m);
        Line {
            diameter_m: self.diameter_m,
            weight_n_per_m: (self.mass_kg_per_m - displaced_kg_per_m) * STANDARD_GRAVITY_MPS2,
            normal_drag: NORMAL_DRAG,
            tangential_drag: TANGENTIAL_DRAG,
        }
    }
}

/// A lead weight in water of a density (kg/m³): its weight less what it displaces, and its drag by a
/// coefficient on the frontal area of a ball of its mass.
pub fn lead_weight(mass_kg: f64, density_kg_per_m3: f64, drag: f64) -> Load {
    let volume_m3 = mass_kg / LEAD_KG_PER_M3;
    let diameter_m = (6.0 * volume_m3 / PI).cbrt();
    Load {
        weight_n: (mass_kg - density_kg_per_m3 * volume_m3) * STANDARD_GRAVITY_MPS2,
        drag_area_m2: drag * area_m2(diameter_m),
    }
}

const fn round_line(diameter_m: f64, density_kg_per_m3: f64) -> Material {
    Material { diameter_m, mass_kg_per_m: density_kg_per_m3 * area_m2(diameter_m) }
}

const fn area_m2(diameter_m: f64) -> f64 {
    0.25 * PI * diameter_m * diameter_m
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lead_loses_a_twelfth_in_water() {
        let load = lead_weight(1.0, 1000.0, WEIGHT_DRAG);
        assert!((load.weight_n / STANDARD_GRAVITY_MPS2 - (1.0 - 1.0 / 11.34)).abs() < 1e-12);
    }

    #[test]
    fn every_line_sinks_in_salt_water_too() {
        for material in [NYLON, TROLLING_WIRE, DOWNRIGGER_WIRE, LEAD_CORE] {
            assert!(material.in_water(1030.0).weight_n_per_m > 0.0);
        }
    }
}
