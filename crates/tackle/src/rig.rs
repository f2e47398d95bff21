//! Of which lengths of line and which loads does a setup consist?

use waterseam_logs::LineMethod;

use crate::cable::{Load, Section};
use crate::factors::Factors;
use crate::materials::{
    COLOR_M, DOWNRIGGER_WEIGHT_KG, DOWNRIGGER_WIRE, KEEL_DRAG, LEAD_CORE, LURE, Material, NYLON,
    TROLLING_WIRE, WEIGHT_DRAG, lead_weight, usual_leader_m,
};
use crate::refusal::Refusal;
use crate::setup::Setup;

/// Sections from the lower end; what is not there has no length.
pub(crate) type Rig = [Section; 3];

/// The sections of a setup whose line is not a diver's.
///
/// # Errors
/// What the setup does not say.
pub(crate) fn rig(
    setup: &Setup<'_>,
    method: LineMethod,
    density_kg_per_m3: f64,
    factors: &Factors,
) -> Result<Rig, Refusal> {
    let section = |material: Material, length_m: f64, load: Load| {
        let mut line = material.in_water(density_kg_per_m3);
        line.weight_n_per_m *= factors.line_weight;
        line.normal_drag *= factors.line_drag;
        Section { line, length_m: length_m * factors.line_out, load }
    };
    let weight = |kg: f64, drag: f64, factor: f64| {
        let load = lead_weight(kg, density_kg_per_m3, drag);
        Load { drag_area_m2: load.drag_area_m2 * factor, ..load }
    };
    let lure = Load {
        weight_n: LURE.weight_n * factors.lure_weight,
        drag_area_m2: LURE.drag_area_m2 * factors.lure_drag,
    };
    let (line_out_m, none) = (setup.line_out_m.ok_or(Refusal::NoLineOut), Load::default());
    let leader_m = setup.leader_m.or(usual_leader_m(method)).unwrap_or_default();
    let nothing = Section::default();
    Ok(match method {
        LineMethod::Downrigger => {
            let kg = setup.weight_kg.unwrap_or(DOWNRIGGER_WEIGHT_KG);
            let ball = weight(kg, WEIGHT_DRAG, factors.line_drag);
            [section(DOWNRIGGER_WIRE, line_out_m?, ball), nothing, nothing]
        }
        LineMethod::Diver => return Err(Refusal::NoTable),
        LineMethod::Leadcore => {
            let (cored_m, backing_m) = cored_line(setup, leader_m)?;
            [
                section(NYLON, leader_m, lure),
                section(LEAD_CORE, cored_m, none),
                section(NYLON, backing_m, none),
            ]
        }
        LineMethod::WeightedWire => {
            let (leader_m, wire_m) = split(line_out_m?, leader_m);
            [section(NYLON, leader_m, lure), section(TROLLING_WIRE, wire_m, none), nothing]
        }
        LineMethod::ClipWeight | LineMethod::KeelWeight => {
            let drag = if method == LineMethod::ClipWeight { WEIGHT_DRAG } else { KEEL_DRAG };
            let (leader_m, line_m) = split(line_out_m?, leader_m);
            let kg = setup.weight_kg.ok_or(Refusal::NoWeight)?;
            if line_m == 0.0 {
                return Err(Refusal::AllLeader);
            }
            [
                section(NYLON, leader_m, lure),
                section(NYLON, line_m, weight(kg, drag, factors.weight_drag)),
                nothing,
            ]
        }
        LineMethod::FlatLine => [section(NYLON, line_out_m?, lure), nothing, nothing],
    })
}

/// Cored line and backing, m: all that is out beyond colours and leader is backing; without colours all but the
/// leader is cored.
fn cored_line(setup: &Setup<'_>, leader_m: f64) -> Result<(f64, f64), Refusal> {
    Ok(match (setup.colors, setup.line_out_m) {
        (Some(colors), out_m) => {
            let cored_m = colors * COLOR_M;
            (cored_m, out_m.map_or(0.0, |out_m| (out_m - leader_m - cored_m).max(0.0)))
        }
        (None, out_m) => ((out_m.ok_or(Refusal::NoLineOut)? - leader_m).max(0.0), 0.0),
    })
}

/// Line out as leader and what lies above it.
fn split(line_out_m: f64, leader_m: f64) -> (f64, f64) {
    let leader_m = leader_m.min(line_out_m);
    (leader_m, line_out_m - leader_m)
}
