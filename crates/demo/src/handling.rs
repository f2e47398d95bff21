//! What does the helm do beside trolling along the plan, and what does the screw do to the water at the hull?
//!
//! She stops for a fish, backs down on it and goes on with a burst of throttle; she turns a tight circle; she changes
//! her speed; she lies at anchor. Astern, at rest and in a burst the screw brings up colder water, in which the hull sensor
//! then lies; a few lengths ahead the water is new again. All of it is invented, and common practice without a source.

use std::ops::Range;

use crate::dice::Dice;
use crate::scenario::Handling;

/// Something that is done once.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Order {
    /// Stop, go astern, lie, and away with a burst.
    Stop { astern_s: usize, lie_s: usize },
    /// A full circle, to the right (+1) or left (-1).
    Circle { side: f64 },
    /// From now on so many times the usual trolling speed.
    Speed { factor: f64 },
    /// At anchor with the engine off.
    Anchor { lie_s: u64 },
}

/// Orders with the seconds since the first line went out at which they are given, earliest first.
pub(crate) fn orders(handling: &Handling, planned_s: f64, dice: &mut Dice) -> Vec<(usize, Order)> {
    let mut orders = Vec::new();
    let mut add = |per_hour: f64, dice: &mut Dice, order: &dyn Fn(&mut Dice) -> Order| {
        for _ in 0..(per_hour * planned_s / 3600.0).round() as usize {
            orders.push((dice.uniform(300.0, planned_s) as usize, order(dice)));
        }
    };
    add(handling.stops_per_hour, dice, &|dice| Order::Stop {
        astern_s: dice.whole(0, 40) as usize,
        lie_s: dice.whole(20, 300) as usize,
    });
    add(handling.circles_per_hour, dice, &|dice| Order::Circle { side: dice.sign() });
    add(handling.speed_changes_per_hour, dice, &|dice| Order::Speed { factor: dice.rounded(0.6, 2.0, 2) });
    if handling.anchored_h > 0.0 {
        let lie_s = (3600.0 * handling.anchored_h) as u64;
        orders.push(((0.5 * planned_s) as usize, Order::Anchor { lie_s }));
    }
    orders.sort_by_key(|(second, _)| *second);
    orders
}

/// Astern, and in a burst, the water at the hull is all mixed after some of these, s.
const MIXES_S: f64 = 8.0;
/// An engine that idles does it more slowly, s.
const IDLE_MIXES_S: f64 = 60.0;
/// Way ahead over which it is new again, m.
const RENEWED_M: f64 = 8.0;
/// Ahead the throttle is open when she gains more than this, m/s in a second, from less than [`SLOW_MPS`].
const BURST_MPS2: f64 = 0.15;
const SLOW_MPS: f64 = 0.9;
/// Within this time a circle leads back into her own wake, s.
const CIRCLE_S: Range<usize> = 18..45;

/// How much of the water at the hull the screw has mixed, 0 to 1.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Wash(f64);

impl Wash {
    /// One second: speed through the water, what it gained, whether the engine turns, seconds into a circle.
    pub(crate) fn second(&mut self, stw_mps: f64, gained_mps: f64, engine: bool, circle_s: Option<usize>) {
        let in_wake = circle_s.is_some_and(|second| CIRCLE_S.contains(&second));
        let mixes_s = match () {
            () if !engine => return,
            () if stw_mps < -0.05 || in_wake => MIXES_S,
            () if gained_mps > BURST_MPS2 && stw_mps < SLOW_MPS => MIXES_S,
            () if stw_mps < 0.1 => IDLE_MIXES_S,
            () => {
                self.0 *= (-stw_mps / RENEWED_M).exp();
                return;
            }
        };
        self.0 += (1.0 - self.0) / mixes_s;
    }

    pub(crate) fn share(self) -> f64 {
        self.0
    }
}
