//! A boat that trolls north from a known place, for the tests of this crate.

mod effort;
mod near;
mod place;
mod seasons;
mod simulated;

use std::sync::LazyLock;

use waterseam_breaks::{BreakLine, Crossing, Kind, PlacedCrossing};
use waterseam_currents::{Method, Window};
use waterseam_tackle::{Spell, Tackle};
use waterseam_track::{Activity, Track};
use waterseam_units::{Flag, LatLon, LocalFrame};

use crate::{Breaks, Surroundings, Temp};

/// 2026-06-14T09:00:00Z, on a whole minute.
pub(crate) const START_US: i64 = 1_781_427_600_000_000;
pub(crate) const SECOND_US: i64 = 1_000_000;
pub(crate) const MINUTE_US: i64 = 60 * SECOND_US;

pub(crate) fn frame() -> LocalFrame {
    LocalFrame::new(LatLon { lat_deg: 46.2, lon_deg: -29.4 })
}

/// North at 1 m/s, one row a second, trolling all the time; surface 15 °C. Columns that no bite needs are
/// left out.
pub(crate) fn track(seconds: i64) -> Track {
    let rows = 0..=seconds;
    let n = rows.clone().count();
    let at: Vec<LatLon> = rows.clone().map(|s| frame().to_position(0.0, s as f64)).collect();
    Track {
        time_us: rows.clone().map(|s| START_US + s * SECOND_US).collect(),
        lat_deg: at.iter().map(|p| p.lat_deg).collect(),
        lon_deg: at.iter().map(|p| p.lon_deg).collect(),
        position_qc: vec![Flag::Pass; n],
        distance_m: rows.map(|s| s as f64).collect(),
        sog_mps: vec![Some(1.0); n],
        stw_mps: vec![Some(1.1); n],
        probe_depth_m: vec![Some(12.0); n],
        probe_speed_mps: vec![Some(0.9); n],
        water_depth_m: vec![Some(40.0); n],
        water_depth_qc: vec![Flag::Pass; n],
        surface_temp_c: vec![Some(15.0); n],
        surface_temp_qc: vec![Flag::Pass; n],
        activity: vec![Activity::Troll; n],
        sun_elevation_deg: vec![20.0; n],
        cell: vec![0x0891_8c00_0000_0000; n],
        ..Track::default()
    }
}

/// 15 °C at the surface, half a degree colder each metre; thermocline at 12 m.
pub(crate) fn around<'a>(track: &'a Track, breaks: Breaks<'a>, windows: &'a [Window]) -> Surroundings<'a> {
    Surroundings {
        track,
        breaks,
        windows,
        temp_at: &|_, depth_m| (depth_m <= 30.0).then_some(Temp { temp_c: 15.0 - 0.5 * depth_m, se_c: 0.2 }),
        thermocline_at: &|_| Some(12.0),
        density_kg_per_m3: 1000.0,
        tackle: &ROUND_FIGURES,
    }
}

static ROUND_FIGURES: LazyLock<Tackle> = LazyLock::new(Tackle::default);

pub(crate) const NO_BREAKS: Breaks<'static> = Breaks { zero_us: START_US, crossings: &[], lines: &[] };

pub(crate) fn crossing(second: f64, step_c: f64) -> PlacedCrossing {
    PlacedCrossing::new(
        Crossing {
            time_s: second,
            distance_m: second,
            temp_before_c: 15.0,
            temp_after_c: 15.0 + step_c,
            step_c,
            width_m: 100.0,
            gradient_c_per_km: 20.0,
            centre_se_m: 5.0,
            step_se_c: 0.1,
            p_value: 1e-6,
            gap_m: 0.0,
            kind: Kind::ThermalBreak,
        },
        frame().to_position(0.0, second),
        0.0,
    )
}

pub(crate) fn line(vertices: &[(f64, f64)], crossings: &[usize], warm_side_deg: f64) -> BreakLine {
    BreakLine {
        crossings: crossings.to_vec(),
        vertices: vertices.iter().map(|&(e, n)| frame().to_position(e, n)).collect(),
        step_c: 2.0,
        length_m: 1000.0,
        course: None,
        warm_side_deg,
    }
}

pub(crate) fn spell(rod: &str, from_s: i64, to_s: i64) -> Spell {
    Spell {
        rod: rod.to_owned(),
        start_us: START_US + from_s * SECOND_US,
        end_us: START_US + to_s * SECOND_US,
        method: None,
        line_out_m: None,
        weight_kg: None,
        lure: None,
        running_depth_m: Some(14.0),
        running_depth_se_m: Some(0.8),
        depth_source: Some(waterseam_tackle::DepthSource::Model),
        assumed: false,
    }
}
