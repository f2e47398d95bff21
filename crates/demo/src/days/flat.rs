//! A day in August on which nothing is to be found: what is its water like?

use jiff::civil::Date;

use super::summer::summer_rates;
use super::{Habits, Intervals, NoteStyle, ProbeStyle, Sketch, zigzag};
use crate::dice::Dice;
use crate::scenario::Knobs;

/// Share of the usual bites.
const SLOW: f64 = 0.2;

pub(super) fn sketch(knobs: &Knobs, dice: &mut Dice) -> Sketch {
    let troll_mps = dice.rounded(1.05, 1.15, 2);
    let hours = knobs.troll_hours.unwrap_or(4.2);
    let mut rates = summer_rates();
    for rate in &mut rates {
        rate.per_rod_hour *= SLOW;
    }
    Sketch {
        date: knobs.date.unwrap_or(Date::constant(2026, 8, 22)),
        zigzag: zigzag(
            dice.rounded(250.0, 290.0, 0),
            dice.rounded(8_000.0, 10_000.0, -1),
            dice.rounded(150.0, 210.0, 0),
            45.0,
            hours,
            troll_mps,
        ),
        troll_mps,
        base_c: dice.rounded(18.0, 19.5, 1),
        east_c_per_km: dice.rounded(-0.03, 0.03, 3),
        diurnal_c: knobs.diurnal_c.unwrap_or(dice.rounded(0.8, 1.5, 1)),
        fronts: Vec::new(),
        edge: None,
        current_mps: knobs.current_mps.unwrap_or(dice.rounded(0.03, 0.10, 2)),
        deep_c: 5.4,
        thermocline_m: knobs.thermocline_m.unwrap_or(dice.rounded(15.0, 17.0, 1)),
        thickness_m: dice.rounded(5.0, 7.0, 1),
        swing_m: dice.rounded(0.4, 0.8, 1),
        hull_noise_c: knobs.hull_noise_c.unwrap_or(dice.rounded(0.05, 0.08, 3)),
        rates,
        fished_m: (10.0, 24.0),
        habits: Habits {
            intervals: Intervals {
                rmc: 2,
                gga: 0,
                vtg: 10,
                mtw: 2,
                dpt: 4,
                vhw: 4,
                hdg: 4,
                mwv: 0,
                gsv: 300,
                gll: 0,
            },
            probe: ProbeStyle::TwoColumns,
            probe_interval_s: 5,
            notes: NoteStyle::MonthFirst,
        },
    }
}
