//! Where does the captain go on a day, and how long are his lines in which cell?

use h3o::{LatLng, Resolution};
use jiff::civil::Date;

use super::fishing::Fishing;
use super::{Stay, Stays};
use crate::dice::Dice;
use crate::lake::Point;

/// The water that is fished, m west of the harbour, and north or south of it.
const OFFSHORE_M: (f64, f64) = (400.0, 14_000.0);
const NORTH_M: (f64, f64) = (-12_000.0, 12_000.0);
/// Grounds of habit, and how far a boat likes to run, m: a ground at this distance is gone to a third as often.
const GROUNDS: usize = 12;
const LIKES_TO_RUN_M: f64 = 9_000.0;
/// Shares of the days on which the captain follows the talk of the harbour, and on which he tries new water.
const BY_TALK: f64 = 0.12;
const SOMEWHERE_NEW: f64 = 0.2;
/// He fishes within this of the ground that he chose, m.
const ABOUT_M: f64 = 3_500.0;
const TROLLED_MPS: f64 = 1.1;
/// A course is laid out in pieces of this length, m: shorter than a cell's edge.
const PIECE_M: f64 = 100.0;

/// Grounds of habit, with how often each is gone to.
pub(super) struct Grounds(Vec<(Point, f64)>);

impl Grounds {
    pub(super) fn draw(dice: &mut Dice) -> Self {
        let ground = |dice: &mut Dice| {
            let ground = anywhere(dice);
            let run_m = ground.distance_m(Point::default());
            (ground, (0.5 * dice.normal() - run_m / LIKES_TO_RUN_M).exp())
        };
        Self((0..GROUNDS).map(|_| ground(dice)).collect())
    }

    fn choose(&self, dice: &mut Dice) -> Point {
        let mut left = dice.unit() * self.0.iter().map(|(_, often)| often).sum::<f64>();
        let chosen = self.0.iter().find(|(_, often)| {
            left -= often;
            left < 0.0
        });
        chosen.map_or_else(Point::default, |(ground, _)| *ground)
    }
}

fn anywhere(dice: &mut Dice) -> Point {
    Point { east_m: -dice.uniform(OFFSHORE_M.0, OFFSHORE_M.1), north_m: dice.uniform(NORTH_M.0, NORTH_M.1) }
}

/// A day's course, by cells.
#[derive(Default)]
pub(super) struct Course {
    pub stays: Stays,
}

impl Course {
    pub(super) fn draw(grounds: &Grounds, fishing: &Fishing, day: Date, dice: &mut Dice) -> Self {
        let ground = match dice.unit() {
            drawn if drawn < BY_TALK => fishing.talk_of_the_harbour(day, dice).map(|area| area.middle),
            drawn if drawn < BY_TALK + SOMEWHERE_NEW => Some(anywhere(dice)),
            _ => None,
        };
        let ground = ground.unwrap_or_else(|| grounds.choose(dice));
        // nobody drops his lines twice on the same spot
        let start = within(ground.moved(dice.uniform(0.0, 360.0), dice.uniform(0.0, 1_500.0)));
        let rods = dice.whole(4, 7) as f64;
        let mut left_m = dice.uniform(3.5, 6.0) * 3600.0 * TROLLED_MPS;
        let mut course = Self::default();
        course.leg(Point::default(), start, 0.0);
        let (mut at, mut heading_deg) = (start, dice.uniform(0.0, 360.0));
        while left_m > 0.0 {
            let to = within(at.moved(heading_deg, dice.uniform(1_000.0, 3_000.0).min(left_m)));
            course.leg(at, to, rods);
            left_m -= at.distance_m(to).max(PIECE_M);
            at = to;
            let back_deg = at.bearing_deg(ground);
            let is_far = at.distance_m(ground) > ABOUT_M;
            heading_deg =
                if is_far { back_deg + 40.0 * dice.normal() } else { heading_deg + 70.0 * dice.normal() };
        }
        course.leg(at, Point::default(), 0.0);
        course
    }

    /// A straight leg with so many rods in the water.
    fn leg(&mut self, from: Point, to: Point, rods: f64) {
        let length_m = from.distance_m(to);
        let pieces = (length_m / PIECE_M).ceil().max(1.0);
        let piece_m = length_m / pieces;
        for piece in 0..pieces as usize {
            let Some(cell) = cell(from.between(to, (piece as f64 + 0.5) / pieces)) else { continue };
            let stay: &mut Stay = self.stays.entry(cell).or_default();
            stay.run_mm += (piece_m * 1e3).round() as i64;
            stay.fished_us += (rods * piece_m / TROLLED_MPS * 1e6).round() as i64;
        }
    }
}

/// The nearest point of the water that is fished.
fn within(point: Point) -> Point {
    Point {
        east_m: point.east_m.clamp(-OFFSHORE_M.1, -OFFSHORE_M.0),
        north_m: point.north_m.clamp(NORTH_M.0, NORTH_M.1),
    }
}

fn cell(point: Point) -> Option<u64> {
    let at = point.position();
    Some(LatLng::new(at.lat_deg, at.lon_deg).ok()?.to_cell(Resolution::Nine).into())
}
