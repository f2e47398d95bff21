//! A day in July with one strong break and a current edge along it: what is its water like?

use jiff::civil::Date;

use super::{Habits, Intervals, NoteStyle, ProbeStyle, Sketch, bend_per_m, first_step_c, zigzag};
use crate::dice::Dice;
use crate::fish::SpeciesRate;
use crate::lake::{Edge, Front, Line};
use crate::scenario::Knobs;

pub(super) fn sketch(knobs: &Knobs, dice: &mut Dice) -> Sketch {
    let troll_mps = dice.rounded(1.06, 1.16, 2);
    let axis_deg = dice.rounded(165.0, 185.0, 0);
    let hours = knobs.troll_hours.unwrap_or(3.8);
    let zigzag = zigzag(
        dice.rounded(264.0, 280.0, 0),
        dice.rounded(8_600.0, 9_600.0, -1),
        axis_deg,
        50.0,
        hours,
        troll_mps,
    );
    // cold water has come up along the shore: warm offshore, to the right of the way out
    let line = Line { through: zigzag.ground, along_deg: axis_deg, bend_per_m: bend_per_m(dice) };
    let front = Front {
        line,
        step_c: first_step_c(knobs, dice.rounded(2.2, 3.2, 2)),
        width_m: knobs.width_m.unwrap_or(dice.rounded(90.0, 150.0, 0)),
        half_length_m: None,
        drift_mps: 0.0,
        deepens_m: 0.0,
    };
    let change_mps = knobs.edge_change_mps.unwrap_or(dice.rounded(0.22, 0.30, 2));
    let edge = Edge {
        line,
        along_change_mps: dice.sign() * change_mps,
        across_change_mps: -0.2 * change_mps,
        width_m: dice.rounded(120.0, 200.0, 0),
    };
    Sketch {
        date: knobs.date.unwrap_or(Date::constant(2026, 7, 18)),
        zigzag,
        troll_mps,
        base_c: dice.rounded(16.5, 17.5, 1),
        east_c_per_km: dice.rounded(-0.06, -0.02, 3),
        diurnal_c: knobs.diurnal_c.unwrap_or(dice.rounded(0.8, 1.2, 1)),
        fronts: vec![front],
        edge: (change_mps > 0.0).then_some(edge),
        current_mps: knobs.current_mps.unwrap_or(dice.rounded(0.08, 0.14, 2)),
        deep_c: 5.2,
        thermocline_m: knobs.thermocline_m.unwrap_or(dice.rounded(12.5, 14.5, 1)),
        thickness_m: dice.rounded(5.0, 6.5, 1),
        swing_m: dice.rounded(0.8, 1.2, 1),
        hull_noise_c: knobs.hull_noise_c.unwrap_or(dice.rounded(0.05, 0.07, 3)),
        rates: summer_rates(),
        fished_m: (8.0, 22.0),
        habits: Habits {
            intervals: Intervals {
                rmc: 1,
                gga: 30,
                vtg: 0,
                mtw: 1,
                dpt: 4,
                vhw: 2,
                hdg: 2,
                mwv: 60,
                gsv: 300,
                gll: 0,
            },
            probe: ProbeStyle::LocalImperial,
            probe_interval_s: 3,
            notes: NoteStyle::ClockOnly,
        },
    }
}

/// What the fish of the layered season like. Invented.
pub(super) fn summer_rates() -> Vec<SpeciesRate> {
    let rate = |species: &str, per_rod_hour, temp, temp_sd, depth, near| SpeciesRate {
        species: species.to_owned(),
        per_rod_hour,
        best_temp_c: temp,
        temp_sd_c: temp_sd,
        best_depth_m: depth,
        depth_sd_m: 6.0,
        near_break_factor: near,
        near_break_m: 300.0,
    };
    vec![
        rate("coho", 1.3, 12.5, 1.8, 13.0, 3.0),
        rate("chinook", 1.1, 10.0, 1.5, 17.0, 2.5),
        rate("steelhead", 0.65, 14.5, 2.5, 9.0, 4.0),
        rate("lake trout", 0.45, 7.5, 1.5, 22.0, 1.0),
    ]
}
