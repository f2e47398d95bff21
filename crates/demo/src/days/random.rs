//! Any day from May to September: what is drawn for it?

use jiff::civil::Date;

use super::placing::{ANGLE_MIN_DEG, Wanted, place};
use super::summer::summer_rates;
use super::{Habits, Intervals, NoteStyle, ProbeStyle, Sketch, zigzag};
use crate::dice::{Dice, Stream, round};
use crate::lake::{Edge, Front};
use crate::route::Leg;
use crate::scenario::Knobs;

/// Most breaks of a day.
const FRONTS_MAX: u64 = 4;
/// Steps of breaks, °C.
const STEP_C: (f64, f64) = (0.6, 4.0);
/// Widths of breaks, m.
const WIDTH_M: (f64, f64) = (30.0, 400.0);

pub(super) fn sketch(seed: u64, knobs: &Knobs, dice: &mut Dice) -> Sketch {
    let date = knobs.date.unwrap_or_else(|| random_date(dice));
    let troll_mps = dice.rounded(1.0, 1.2, 2);
    let hours = knobs.troll_hours.unwrap_or(dice.rounded(3.0, 6.0, 1));
    let zigzag = zigzag(
        dice.rounded(245.0, 295.0, 0),
        dice.rounded(9_000.0, 12_000.0, -1),
        dice.rounded(0.0, 360.0, 0),
        dice.rounded(44.0, 50.0, 0),
        hours,
        troll_mps,
    );
    let fronts = fronts(seed, knobs, &zigzag.legs());
    let deep_c = dice.rounded(4.1, 5.8, 1);
    let steps_c: f64 = fronts.iter().map(|front| front.step_c).sum();
    // even where every cold side meets, the surface stays warmer than the deep
    let base_c = seasonal_c(date).max(deep_c + 0.5 * steps_c + 2.5);
    let thermocline_m = knobs.thermocline_m.unwrap_or(dice.rounded(9.0, 18.0, 1));
    Sketch {
        date,
        zigzag,
        troll_mps,
        base_c: round(base_c, 1),
        east_c_per_km: dice.rounded(-0.06, 0.06, 3),
        diurnal_c: knobs.diurnal_c.unwrap_or(dice.rounded(0.0, 2.0, 1)),
        edge: edge(seed, knobs, &fronts, &zigzag.legs()),
        fronts,
        current_mps: knobs.current_mps.unwrap_or(dice.rounded(0.0, 0.2, 2)),
        deep_c,
        thermocline_m,
        thickness_m: dice.rounded(4.0, 8.0, 1),
        swing_m: dice.rounded(0.3, 1.5, 1),
        hull_noise_c: knobs.hull_noise_c.unwrap_or(dice.rounded(0.03, 0.10, 3)),
        rates: summer_rates(),
        fished_m: (thermocline_m - 5.0, thermocline_m + 7.0),
        habits: habits(dice),
    }
}

fn random_date(dice: &mut Dice) -> Date {
    let days = dice.whole(0, 130) as i64;
    let first = Date::constant(2026, 5, 15);
    first.checked_add(jiff::Span::new().days(days)).unwrap_or(first)
}

/// Surface temperature of the season: coldest in winter, warmest in early August, °C.
fn seasonal_c(date: Date) -> f64 {
    let from_warmest_days = f64::from(date.day_of_year()) - 215.0;
    5.0 + 14.0 * (-(from_warmest_days / 60.0).powi(2)).exp()
}

fn fronts(seed: u64, knobs: &Knobs, legs: &[Leg]) -> Vec<Front> {
    let mut dice = Dice::new(seed, Stream::Fronts);
    let steps_c = knobs.steps_c.clone().unwrap_or_else(|| {
        let n = dice.whole(0, FRONTS_MAX);
        (0..n).map(|_| dice.rounded(STEP_C.0, STEP_C.1, 2)).collect()
    });
    let mut placed: Vec<Front> = Vec::new();
    for step_c in steps_c {
        let width_m = knobs.width_m.unwrap_or(dice.rounded(WIDTH_M.0, WIDTH_M.1, 0));
        // a front that finds no room among the others is left out; the truth holds those that exist
        let least_angle_deg = knobs.least_crossing_deg.unwrap_or(ANGLE_MIN_DEG);
        placed.extend(place(Wanted { step_c, width_m, least_angle_deg }, &placed, legs, &mut dice));
    }
    placed
}

/// A current edge, along the first front or on a line of its own. Half of the days have one, unless a test says.
fn edge(seed: u64, knobs: &Knobs, fronts: &[Front], legs: &[Leg]) -> Option<Edge> {
    let mut dice = Dice::new(seed, Stream::Edge);
    let drawn_mps = if dice.chance(0.5) { dice.rounded(0.12, 0.35, 2) } else { 0.0 };
    let change_mps = knobs.edge_change_mps.unwrap_or(drawn_mps);
    if change_mps <= 0.0 {
        return None;
    }
    let width_m = dice.rounded(60.0, 250.0, 0);
    let line = match fronts.first() {
        Some(front) => front.line,
        None => {
            place(Wanted { step_c: 0.0, width_m, least_angle_deg: ANGLE_MIN_DEG }, &[], legs, &mut dice)?.line
        }
    };
    let convergence = dice.rounded(-0.3, 0.3, 2);
    Some(Edge {
        line,
        along_change_mps: dice.sign() * change_mps,
        across_change_mps: round(convergence * change_mps, 3),
        width_m,
    })
}

fn habits(dice: &mut Dice) -> Habits {
    Habits {
        intervals: Intervals {
            rmc: 1,
            gga: 10,
            vtg: 10,
            mtw: 1,
            dpt: 2,
            vhw: 2,
            hdg: 2,
            mwv: 10,
            gsv: 120,
            gll: 0,
        },
        probe: *dice.pick(&[ProbeStyle::IsoMetric, ProbeStyle::LocalImperial, ProbeStyle::TwoColumns]),
        probe_interval_s: dice.whole(2, 5) as usize,
        notes: *dice.pick(&[NoteStyle::FullDate, NoteStyle::ClockOnly, NoteStyle::MonthFirst]),
    }
}
