//! How is a line set, and how is it towed?

use waterseam_logs::boat::SpreadRod;
use waterseam_logs::{GearEntry, LineMethod};

use crate::materials::FRESH_WATER_KG_PER_M3;

/// A line as it is set. Line out is counted from the water's surface to the lure, on a downrigger to the
/// weight.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Setup<'a> {
    /// The rod, or the name of a diver's table.
    pub rod: Option<&'a str>,
    /// How the line is taken down.
    pub method: Option<LineMethod>,
    /// Line out, m; on a downrigger its counter.
    pub line_out_m: Option<f64>,
    /// Colours of cored line out.
    pub colors: Option<f64>,
    /// Weight, kg.
    pub weight_kg: Option<f64>,
    /// Leader, m; from a clip-on or keel weight to the lure.
    pub leader_m: Option<f64>,
    /// Most line that is worth letting out, m; `None`: as much as it takes.
    pub longest_m: Option<f64>,
    /// Depth as someone noted it, m.
    pub depth_m: Option<f64>,
}

/// How the line is towed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Tow<'a> {
    /// Speed through the water at the surface, m/s.
    pub stw_mps: f64,
    /// Standard error of `stw_mps` as the speed of the water past the line, m/s.
    pub stw_se_mps: f64,
    /// Density of the water, kg/m³.
    pub density_kg_per_m3: f64,
    /// Depths below the surface, m, rising, and the speed of the water past the line there, m/s, where
    /// somebody measured it; on straight lines between them. Empty: the speed at the surface at every depth.
    pub below: &'a [(f64, f64)],
}

/// Standard error of a log's speed as the speed past a line: the boat surges, and the water below moves
/// otherwise than at the hull (common practice, no source), m/s.
pub const STW_SE_MPS: f64 = 0.1;
/// Standard error where the speed over ground stands for the speed through the water: an ordinary lake
/// current besides (common practice, no source), m/s.
pub const SOG_AS_STW_SE_MPS: f64 = 0.2;
/// Speed where none was measured: 2.2 mph, the middle of the usual trolling speeds (common practice, no
/// source), m/s.
pub const USUAL_STW_MPS: f64 = 1.0;
/// Standard error of [`USUAL_STW_MPS`] (common practice, no source), m/s.
pub const USUAL_STW_SE_MPS: f64 = 0.25;

impl Tow<'_> {
    /// Towed in fresh water at a speed that the log measured.
    pub fn by_log(stw_mps: f64) -> Self {
        Self { stw_mps, stw_se_mps: STW_SE_MPS, density_kg_per_m3: FRESH_WATER_KG_PER_M3, below: &[] }
    }

    /// Towed in fresh water at a speed over ground.
    pub fn over_ground(sog_mps: f64) -> Self {
        Self { stw_se_mps: SOG_AS_STW_SE_MPS, ..Self::by_log(sog_mps) }
    }

    /// Towed in fresh water at the speed through the water, else that over ground, else the usual one.
    pub fn of(stw_mps: Option<f64>, sog_mps: Option<f64>) -> Self {
        match (stw_mps, sog_mps) {
            (Some(stw_mps), _) => Self::by_log(stw_mps),
            (None, Some(sog_mps)) => Self::over_ground(sog_mps),
            (None, None) => Self::usual(),
        }
    }

    /// Towed in fresh water at the usual speed, where nobody measured it.
    pub fn usual() -> Self {
        Self { stw_se_mps: USUAL_STW_SE_MPS, ..Self::by_log(USUAL_STW_MPS) }
    }
}

impl<'a> From<&'a GearEntry> for Setup<'a> {
    fn from(entry: &'a GearEntry) -> Self {
        Self {
            rod: Some(&entry.rod),
            method: entry.method,
            line_out_m: entry.line_out_m,
            colors: entry.colors,
            weight_kg: entry.weight_kg,
            leader_m: entry.leader_m,
            longest_m: None,
            depth_m: entry.depth_m,
        }
    }
}

impl<'a> From<&'a SpreadRod> for Setup<'a> {
    fn from(rod: &'a SpreadRod) -> Self {
        Self {
            rod: Some(&rod.rod),
            method: Some(rod.method),
            line_out_m: rod.line_out_m,
            colors: rod.colors,
            weight_kg: rod.weight_kg,
            leader_m: rod.leader_m,
            longest_m: rod.longest_m,
            depth_m: rod.depth_m,
        }
    }
}
