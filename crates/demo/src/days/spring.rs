//! A day in May with a thermal bar: what is its water like?
//!
//! Inshore the sun has brought the shallow water above 4 °C; the open lake is still below it and mixed to the bottom. Where
//! the two meet, water of greatest density sinks.

use jiff::civil::Date;
use waterseam_units::angle::wrap_deg;

use super::{Habits, Intervals, NoteStyle, ProbeStyle, Sketch, bend_per_m, first_step_c, zigzag};
use crate::dice::Dice;
use crate::fish::SpeciesRate;
use crate::lake::{Front, Line};
use crate::scenario::Knobs;

pub(super) fn sketch(knobs: &Knobs, dice: &mut Dice) -> Sketch {
    let troll_mps = dice.rounded(1.0, 1.1, 2);
    let axis_deg = dice.rounded(172.0, 190.0, 0);
    let hours = knobs.troll_hours.unwrap_or(3.7);
    let zigzag = zigzag(
        dice.rounded(262.0, 276.0, 0),
        dice.rounded(6_600.0, 7_600.0, -1),
        axis_deg,
        52.0,
        hours,
        troll_mps,
    );
    let bar = Front {
        // the zig-zag lies offshore (right) of its inshore start, the warm side is inshore
        line: Line {
            through: zigzag.ground,
            along_deg: wrap_deg(axis_deg + 180.0),
            bend_per_m: bend_per_m(dice),
        },
        step_c: first_step_c(knobs, dice.rounded(2.4, 2.9, 2)),
        width_m: knobs.width_m.unwrap_or(dice.rounded(180.0, 260.0, 0)),
        half_length_m: None,
        drift_mps: 0.0,
        deepens_m: 0.0,
    };
    Sketch {
        date: knobs.date.unwrap_or(Date::constant(2026, 5, 3)),
        zigzag,
        troll_mps,
        base_c: dice.rounded(3.9, 4.1, 2),
        east_c_per_km: dice.rounded(0.08, 0.12, 3),
        diurnal_c: knobs.diurnal_c.unwrap_or(dice.rounded(0.3, 0.6, 2)),
        fronts: vec![bar],
        edge: None,
        current_mps: knobs.current_mps.unwrap_or(dice.rounded(0.03, 0.08, 2)),
        deep_c: 3.95,
        thermocline_m: knobs.thermocline_m.unwrap_or(dice.rounded(8.0, 10.0, 1)),
        thickness_m: dice.rounded(6.0, 8.0, 1),
        swing_m: 0.5,
        hull_noise_c: knobs.hull_noise_c.unwrap_or(dice.rounded(0.04, 0.06, 3)),
        rates: rates(),
        fished_m: (2.0, 10.0),
        habits: Habits {
            intervals: Intervals {
                rmc: 1,
                gga: 30,
                vtg: 0,
                mtw: 1,
                dpt: 4,
                vhw: 4,
                hdg: 4,
                mwv: 30,
                gsv: 300,
                gll: 0,
            },
            probe: ProbeStyle::IsoMetric,
            probe_interval_s: 4,
            notes: NoteStyle::FullDate,
        },
    }
}

fn rates() -> Vec<SpeciesRate> {
    let rate = |species: &str, per_rod_hour, temp, depth, near| SpeciesRate {
        species: species.to_owned(),
        per_rod_hour,
        best_temp_c: temp,
        temp_sd_c: 1.0,
        best_depth_m: depth,
        depth_sd_m: 3.5,
        near_break_factor: near,
        near_break_m: 250.0,
    };
    vec![
        rate("coho", 1.1, 5.6, 4.0, 3.0),
        rate("chinook", 0.5, 5.2, 8.0, 2.0),
        rate("lake trout", 0.5, 4.6, 9.0, 1.0),
        rate("steelhead", 0.25, 5.0, 3.0, 4.0),
    ]
}
