//! Running depths as JSON.

use serde_json::{Value, json};
use waterseam_logs::LineMethod;
use waterseam_units::UnitSystem;

use super::{LineRun, RunningDepths, refusal};
use crate::cautions::RUNNING_DEPTH_CAUTIONS;

/// The same in SI.
pub fn running_depths_json(asked: &RunningDepths<'_>) -> Value {
    let line = |line: &LineRun<'_>| {
        let (setup, depth) = (&line.setup, line.run.depth.ok());
        json!({
            "rod": setup.rod,
            "method": setup.method.map(LineMethod::word),
            "line_out_m": setup.line_out_m,
            "colors": setup.colors,
            "weight_kg": setup.weight_kg,
            "leader_m": setup.leader_m,
            "depth_m": depth.map(|d| d.depth_m),
            "depth_se_m": depth.map(|d| d.depth_se_m),
            "depth_source": depth.map(|d| d.source.word()),
            "depth_slower_m": line.run.slower_m,
            "depth_faster_m": line.run.faster_m,
            "chance_in_band": depth.zip(asked.band.as_ref()).map(|(d, band)| d.chance_between(band.low_m, band.high_m)),
            "angle_from_vertical_deg": line.shape.map(|shape| 90.0 - shape.top_angle_deg),
            "layback_m": line.shape.map(|shape| shape.layback_m),
            "observed_depths": line.observed,
            "depth_without_observed_m": line.without_m,
            "refused": line.run.depth.err().map(|reason| refusal(reason, UnitSystem::Metric)),
        })
    };
    let below: Vec<Value> =
        asked.tow.below.iter().map(|(depth_m, mps)| json!({ "depth_m": depth_m, "stw_mps": mps })).collect();
    json!({
        "stw_mps": asked.tow.stw_mps,
        "stw_se_mps": asked.tow.stw_se_mps,
        "below": below,
        "step_mps": asked.step_mps,
        "target_m": asked.target_m,
        "band": asked.band.as_ref().map(|band| json!({
            "low_m": band.low_m, "high_m": band.high_m, "trip_id": band.trip_id,
        })),
        "lines": asked.lines.iter().map(line).collect::<Vec<_>>(),
        "cautions": RUNNING_DEPTH_CAUTIONS,
    })
}
