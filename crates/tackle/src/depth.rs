//! How deep does a lure run on this setup at this speed?

use waterseam_logs::boat::SpreadRod;
use waterseam_logs::{GearEntry, LineMethod};

use crate::cable::{Load, Section, Stream, shape};
use crate::materials::{
    CLIP_LEADER_M, COLOR_M, DOWNRIGGER_WEIGHT_KG, DOWNRIGGER_WIRE, FRESH_WATER_KG_PER_M3, LEAD_CORE,
    LEADER_M, LURE, Material, NYLON, TROLLING_WIRE, lead_weight,
};
use crate::spell::DepthSource;

/// A line as it is set. Line out is counted from the water's surface to the lure, on a downrigger to the
/// weight.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Setup {
    /// How the line is taken down.
    pub method: Option<LineMethod>,
    /// Line out, m; on a downrigger its counter.
    pub line_out_m: Option<f64>,
    /// Colours of cored line out.
    pub colors: Option<f64>,
    /// Weight, kg.
    pub weight_kg: Option<f64>,
    /// Leader, m; from a clip-on weight to the lure.
    pub leader_m: Option<f64>,
    /// Depth as someone noted it, m.
    pub depth_m: Option<f64>,
}

/// How the line is towed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Tow {
    /// Speed through the water, m/s.
    pub stw_mps: f64,
    /// Standard error of `stw_mps` as the speed of the water past the line, m/s.
    pub stw_se_mps: f64,
    /// Density of the water, kg/m³.
    pub density_kg_per_m3: f64,
}

/// A running depth.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Depth {
    /// Depth of the lure, m.
    pub depth_m: f64,
    /// Standard error, m.
    pub depth_se_m: f64,
    /// Where it comes from.
    pub source: DepthSource,
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

/// Standard error that no depth goes below: swell, rod tips, the lure above or below its weight (common
/// practice, no source), m.
const FLOOR_SE_M: f64 = 0.5;
/// Relative standard error of a noted depth (common practice, no source).
const NOTED_SE: f64 = 0.05;
/// Of a downrigger's blow-back: its wire, its weight's fin and the line clipped to it are not known (common
/// practice, no source).
const BLOW_BACK_SE: f64 = 0.5;

/// How the setup may differ from what was noted and from [`materials`](crate::materials).
#[derive(Clone, Copy)]
struct Variation {
    speed_mps: f64,
    length: f64,
    line_weight: f64,
    line_drag: f64,
    lure_weight: f64,
    lure_drag: f64,
}

const AS_NOTED: Variation = Variation {
    speed_mps: 0.0,
    length: 1.0,
    line_weight: 1.0,
    line_drag: 1.0,
    lure_weight: 1.0,
    lure_drag: 1.0,
};

/// Running depth of the lure, with its standard error and where it comes from.
///
/// A noted depth comes first (`recorded`), then a downrigger's counter with the blow-back of its wire
/// (`counter`), then the shape of the line (`model`).
///
/// `None` where nothing says: no method, no length of line, a clip-on weight without a weight or with all
/// of the line ahead of it, a diver without a noted depth (a diving plane obeys its maker's angles, not the
/// physics of a line).
///
/// # Standard error
/// A noted depth: 0.5 m and 5 %. A counter: 0.5 m, half the blow-back and the effect of the speed. A
/// modelled depth: 0.5 m and the change of depth for one standard error of each of speed, line out (5 %),
/// weight and diameter of line (15 % of weight and drag), weight of the lure (its double) and its drag
/// (half as much again), in quadrature. All are common practice, no source.
pub fn running_depth(setup: &Setup, tow: &Tow) -> Option<Depth> {
    let good = |value: Option<f64>| value.filter(|v| v.is_finite() && *v >= 0.0);
    if let Some(depth_m) = good(setup.depth_m) {
        return Some(Depth { depth_m, depth_se_m: noted_se_m(depth_m), source: DepthSource::Recorded });
    }
    let method = setup.method?;
    if !tow.stw_mps.is_finite() || !tow.stw_se_mps.is_finite() {
        return None;
    }
    let depth_of = |variation: Variation| {
        let speed_mps = (tow.stw_mps + variation.speed_mps).max(0.0);
        let sections = sections(setup, method, tow.density_kg_per_m3, variation)?;
        shape(&sections, Stream { speed_mps, density_kg_per_m3: tow.density_kg_per_m3 }).map(|s| s.depth_m)
    };
    let depth_m = depth_of(AS_NOTED)?;
    let by_speed_m = depth_of(Variation { speed_mps: tow.stw_se_mps, ..AS_NOTED })? - depth_m;
    let (variance_m2, source) = if method == LineMethod::Downrigger {
        let blow_back_m = good(setup.line_out_m)? - depth_m;
        ((BLOW_BACK_SE * blow_back_m).powi(2), DepthSource::Counter)
    } else {
        let variations = [
            Variation { length: 1.05, ..AS_NOTED },
            Variation { line_weight: 1.15, ..AS_NOTED },
            Variation { line_drag: 1.15, ..AS_NOTED },
            Variation { lure_weight: 2.0, ..AS_NOTED },
            Variation { lure_drag: 1.5, ..AS_NOTED },
        ];
        let mut sum_m2 = 0.0;
        for variation in variations {
            sum_m2 += (depth_of(variation)? - depth_m).powi(2);
        }
        (sum_m2, DepthSource::Model)
    };
    let depth_se_m = (variance_m2 + by_speed_m * by_speed_m + FLOOR_SE_M * FLOOR_SE_M).sqrt();
    Some(Depth { depth_m: depth_m.max(0.0), depth_se_m, source })
}

/// Standard error of a depth that someone noted, m.
pub fn noted_se_m(depth_m: f64) -> f64 {
    FLOOR_SE_M.hypot(NOTED_SE * depth_m)
}

impl Tow {
    /// Towed in fresh water at a speed that the log measured.
    pub fn by_log(stw_mps: f64) -> Self {
        Self { stw_mps, stw_se_mps: STW_SE_MPS, density_kg_per_m3: FRESH_WATER_KG_PER_M3 }
    }

    /// Towed in fresh water at a speed over ground.
    pub fn over_ground(sog_mps: f64) -> Self {
        Self { stw_mps: sog_mps, stw_se_mps: SOG_AS_STW_SE_MPS, density_kg_per_m3: FRESH_WATER_KG_PER_M3 }
    }

    /// Towed in fresh water at the usual speed, where nobody measured it.
    pub fn usual() -> Self {
        Self {
            stw_mps: USUAL_STW_MPS,
            stw_se_mps: USUAL_STW_SE_MPS,
            density_kg_per_m3: FRESH_WATER_KG_PER_M3,
        }
    }
}

impl From<&GearEntry> for Setup {
    fn from(entry: &GearEntry) -> Self {
        Self {
            method: entry.method,
            line_out_m: entry.line_out_m,
            colors: entry.colors,
            weight_kg: entry.weight_kg,
            leader_m: entry.leader_m,
            depth_m: entry.depth_m,
        }
    }
}

impl From<&SpreadRod> for Setup {
    fn from(rod: &SpreadRod) -> Self {
        Self {
            method: Some(rod.method),
            line_out_m: rod.line_out_m,
            colors: rod.colors,
            weight_kg: rod.weight_kg,
            leader_m: rod.leader_m,
            depth_m: rod.depth_m,
        }
    }
}

/// The line in sections from its lower end, `None` where the setup does not say enough.
fn sections(
    setup: &Setup,
    method: LineMethod,
    density_kg_per_m3: f64,
    vary: Variation,
) -> Option<Vec<Section>> {
    let lengths = [setup.line_out_m, setup.colors, setup.weight_kg, setup.leader_m];
    if lengths.into_iter().flatten().any(|v| !v.is_finite() || v < 0.0) {
        return None;
    }
    let section = |material: Material, length_m: f64, load: Load| {
        let mut line = material.in_water(density_kg_per_m3);
        line.weight_n_per_m *= vary.line_weight;
        line.normal_drag *= vary.line_drag;
        Section { line, length_m: length_m * vary.length, load }
    };
    let lure =
        Load { weight_n: LURE.weight_n * vary.lure_weight, drag_area_m2: LURE.drag_area_m2 * vary.lure_drag };
    let leader_m = setup.leader_m.unwrap_or(LEADER_M);
    Some(match method {
        LineMethod::Downrigger => {
            let weight = lead_weight(setup.weight_kg.unwrap_or(DOWNRIGGER_WEIGHT_KG), density_kg_per_m3);
            vec![section(DOWNRIGGER_WIRE, setup.line_out_m?, weight)]
        }
        LineMethod::Diver => return None,
        LineMethod::Leadcore => {
            // all that is out beyond colours and leader is backing; without colours all but the leader is
            // cored
            let (cored_m, backing_m) = match (setup.colors, setup.line_out_m) {
                (Some(colors), out_m) => {
                    let cored_m = colors * COLOR_M;
                    (cored_m, out_m.map_or(0.0, |out_m| (out_m - leader_m - cored_m).max(0.0)))
                }
                (None, out_m) => ((out_m? - leader_m).max(0.0), 0.0),
            };
            let none = Load::default();
            vec![
                section(NYLON, leader_m, lure),
                section(LEAD_CORE, cored_m, none),
                section(NYLON, backing_m, none),
            ]
        }
        LineMethod::WeightedWire => {
            let (leader_m, wire_m) = split(setup.line_out_m?, leader_m);
            vec![section(NYLON, leader_m, lure), section(TROLLING_WIRE, wire_m, Load::default())]
        }
        LineMethod::ClipWeight => {
            let (leader_m, line_m) = split(setup.line_out_m?, setup.leader_m.unwrap_or(CLIP_LEADER_M));
            let weight = lead_weight(setup.weight_kg?, density_kg_per_m3);
            if line_m == 0.0 {
                return None;
            }
            vec![section(NYLON, leader_m, lure), section(NYLON, line_m, weight)]
        }
        LineMethod::FlatLine => vec![section(NYLON, setup.line_out_m?, lure)],
    })
}

/// Line out as leader and what lies above it.
fn split(line_out_m: f64, leader_m: f64) -> (f64, f64) {
    let leader_m = leader_m.min(line_out_m);
    (leader_m, line_out_m - leader_m)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn depth(setup: Setup, stw_mps: f64) -> Option<Depth> {
        running_depth(&setup, &Tow::by_log(stw_mps))
    }

    fn by(method: LineMethod, line_out_m: f64) -> Setup {
        Setup { method: Some(method), line_out_m: Some(line_out_m), ..Setup::default() }
    }

    #[test]
    fn the_order_of_sources() {
        let noted = Setup { depth_m: Some(18.0), ..by(LineMethod::Downrigger, 25.0) };
        assert_eq!(depth(noted, 1.0).unwrap().source, DepthSource::Recorded);
        assert_eq!(depth(noted, 1.0).unwrap().depth_m, 18.0);
        assert_eq!(depth(by(LineMethod::Downrigger, 25.0), 1.0).unwrap().source, DepthSource::Counter);
        assert_eq!(depth(by(LineMethod::FlatLine, 25.0), 1.0).unwrap().source, DepthSource::Model);
    }

    #[test]
    fn what_is_not_known_has_no_depth() {
        assert_eq!(depth(Setup::default(), 1.0), None);
        assert_eq!(depth(by(LineMethod::Diver, 50.0), 1.0), None);
        assert_eq!(depth(by(LineMethod::ClipWeight, 30.0), 1.0), None);
        let all_leader =
            Setup { weight_kg: Some(0.1), leader_m: Some(30.0), ..by(LineMethod::ClipWeight, 30.0) };
        assert_eq!(depth(all_leader, 1.0), None);
        assert_eq!(depth(by(LineMethod::FlatLine, -3.0), 1.0), None);
        assert_eq!(depth(by(LineMethod::FlatLine, f64::NAN), 1.0), None);
        assert_eq!(depth(by(LineMethod::FlatLine, 30.0), f64::NAN), None);
        let diver = Setup { depth_m: Some(15.0), ..by(LineMethod::Diver, 50.0) };
        assert_eq!(depth(diver, 1.0).unwrap().depth_m, 15.0);
    }

    #[test]
    fn blow_back_grows_with_speed_and_shrinks_with_weight() {
        let light = Setup { weight_kg: Some(4.0), ..by(LineMethod::Downrigger, 40.0) };
        let heavy = Setup { weight_kg: Some(7.0), ..light };
        let at = |setup, u| depth(setup, u).unwrap().depth_m;
        assert!(at(light, 1.4) < at(light, 1.0) && at(light, 1.0) < at(heavy, 1.0) && at(heavy, 1.0) < 40.0);
    }

    #[test]
    fn backing_takes_cored_line_deeper() {
        let five =
            Setup { colors: Some(5.0), ..Setup { method: Some(LineMethod::Leadcore), ..Setup::default() } };
        let with_backing = Setup { line_out_m: Some(5.0 * COLOR_M + LEADER_M + 30.0), ..five };
        assert!(depth(with_backing, 1.0).unwrap().depth_m > depth(five, 1.0).unwrap().depth_m + 0.3);
    }

    proptest! {
        #[test]
        fn a_depth_is_within_the_line_and_its_error_is_honest(
            out in 1f64..150.0, weight in 0.05f64..8.0, u in 0.3f64..2.5, which in 0usize..5,
        ) {
            let method = [
                LineMethod::Downrigger, LineMethod::Leadcore, LineMethod::WeightedWire, LineMethod::ClipWeight,
                LineMethod::FlatLine,
            ][which];
            let setup = Setup { weight_kg: Some(weight), ..by(method, out) };
            if let Some(got) = depth(setup, u) {
                let line_m = out.max(if method == LineMethod::Leadcore { LEADER_M } else { 0.0 });
                prop_assert!(got.depth_m >= 0.0 && got.depth_m <= line_m * (1.0 + 1e-6));
                prop_assert!(got.depth_se_m >= FLOOR_SE_M && got.depth_se_m.is_finite());
            }
        }
    }
}
