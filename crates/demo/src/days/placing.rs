//! Where can a front lie so that the boat crosses it cleanly?
//!
//! A crossing is clean when the track passes right through the front: at 30° or more, far enough from the next turn and
//! from the next front that both levels are seen. Fronts are drawn at random and kept when every crossing is.

use waterseam_units::angle::turn_deg;

use crate::dice::Dice;
use crate::lake::{Front, Line, Point};
use crate::route::{Leg, Pace};

/// Front to be placed.
#[derive(Clone, Copy, Debug)]
pub(super) struct Wanted {
    pub step_c: f64,
    pub width_m: f64,
    /// Least angle between a planned leg and the front.
    pub least_angle_deg: f64,
}

/// Places tried before a front is given up.
const TRIES: usize = 600;
/// Least angle between a planned leg and a front, unless a test says. The track is to cross at 30° or more; the helm
/// wanders.
pub(super) const ANGLE_MIN_DEG: f64 = 38.0;
/// Clear water beyond the front's own width at both ends of a leg, m.
const CLEAR_M: f64 = 110.0;
/// Clear water along the track between the widths of two fronts, m.
const BETWEEN_M: f64 = 250.0;
/// Step along a leg in the search for crossings, m.
const SEARCH_STEP_M: f64 = 25.0;

/// A front across one of the trolling legs, or `None` where there is no room.
pub(super) fn place(wanted: Wanted, others: &[Front], legs: &[Leg], dice: &mut Dice) -> Option<Front> {
    let taken: Vec<Passage> = others
        .iter()
        .flat_map(|front| passages(front, wanted.least_angle_deg, legs).unwrap_or_default())
        .collect();
    (0..TRIES).find_map(|_| {
        let front = somewhere(wanted, legs, dice);
        let passages = passages(&front, wanted.least_angle_deg, legs)?;
        let apart = passages.iter().all(|a| taken.iter().all(|b| a.is_apart(b)));
        (apart && !passages.is_empty()).then_some(front)
    })
}

fn somewhere(wanted: Wanted, legs: &[Leg], dice: &mut Dice) -> Front {
    let trolled: Vec<&Leg> = legs.iter().filter(|leg| leg.pace == Pace::Troll).collect();
    let leg = dice.pick(&trolled);
    let through = leg.from.between(leg.to, dice.uniform(0.25, 0.75));
    Front {
        line: Line {
            through: Point { east_m: through.east_m.round(), north_m: through.north_m.round() },
            along_deg: dice.rounded(0.0, 359.0, 0),
            bend_per_m: dice.rounded(-8e-5, 8e-5, 6),
        },
        step_c: wanted.step_c,
        width_m: wanted.width_m,
        half_length_m: if dice.chance(0.3) { Some(dice.rounded(3_000.0, 5_000.0, -1)) } else { None },
        drift_mps: 0.0,
        deepens_m: 0.0,
    }
}

/// Where the planned track passes a front.
struct Passage {
    /// Along the track, m.
    distance_m: f64,
    /// From the centre to the end of the step along the track, and as much again.
    reach_m: f64,
}

impl Passage {
    fn is_apart(&self, other: &Self) -> bool {
        (self.distance_m - other.distance_m).abs() > self.reach_m + other.reach_m + BETWEEN_M
    }
}

/// All passages of the planned track through a front; `None` where one of them is not clean.
fn passages(front: &Front, least_angle_deg: f64, legs: &[Leg]) -> Option<Vec<Passage>> {
    let clear_m = front.width_m + CLEAR_M;
    let mut found = Vec::new();
    let mut start_m = 0.0;
    for leg in legs {
        let across_m = |point| front.line.along_across_m(point).1;
        let (before_m, after_m) = (across_m(leg.from), across_m(leg.to));
        if before_m.abs() < clear_m || after_m.abs() < clear_m {
            return None;
        }
        let mut crossings = 0;
        let steps = (leg.length_m() / SEARCH_STEP_M).ceil() as usize;
        let mut last_m = before_m;
        for step in 1..=steps {
            let share = step as f64 / steps as f64;
            let here = leg.from.between(leg.to, share);
            let here_m = across_m(here);
            if here_m.signum() != last_m.signum() {
                crossings += 1;
                let off_square_deg = turn_deg(front.line.right_deg(here), leg.bearing_deg()).abs();
                let angle_deg = (90.0 - off_square_deg).abs();
                if crossings > 1 || angle_deg < least_angle_deg {
                    return None;
                }
                let reach_m = front.width_along_track_m(angle_deg);
                found.push(Passage { distance_m: start_m + share * leg.length_m(), reach_m });
            } else if before_m.signum() == after_m.signum() && here_m.abs() < clear_m {
                return None;
            }
            last_m = here_m;
        }
        start_m += leg.length_m();
    }
    Some(found)
}
