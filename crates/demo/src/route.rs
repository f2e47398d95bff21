//! Which way does the boat go?
//!
//! Out from the harbour, a zig-zag up the ground and another down, and home. Between the two zig-zags the boat runs on
//! along the axis, so that the way back crosses the water of the way out at other places.
//!
//! ```text
//!  start  /\  /\  _      axis ->
//!        /  \/  \/ |     the way back is shifted by the short leg
//! ```

use crate::lake::Point;

/// How fast a leg is run.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Pace {
    Run,
    Troll,
}

/// A straight leg.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Leg {
    pub from: Point,
    pub to: Point,
    pub pace: Pace,
}

impl Leg {
    pub(crate) fn bearing_deg(&self) -> f64 {
        self.from.bearing_deg(self.to)
    }

    pub(crate) fn length_m(&self) -> f64 {
        self.from.distance_m(self.to)
    }
}

/// The shape of a zig-zag.
#[derive(Clone, Copy, Debug)]
pub(crate) struct ZigZag {
    /// Middle of the fishing ground.
    pub ground: Point,
    /// Direction of the way out. The zig-zag lies to the right of its start.
    pub axis_deg: f64,
    /// Angle between legs and axis.
    pub half_angle_deg: f64,
    /// Legs each way, an even number.
    pub legs_each_way: usize,
    /// Length of all trolling legs together, m.
    pub length_m: f64,
}

/// Length of the short leg between the two zig-zags as a share of a long one.
const SHORT_LEG: f64 = 0.4;

impl ZigZag {
    fn leg_m(&self) -> f64 {
        self.length_m / (2.0 * self.legs_each_way as f64 + SHORT_LEG)
    }

    /// Half the length of the ground along the axis, m.
    pub(crate) fn reach_m(&self) -> f64 {
        0.5 * self.legs_each_way as f64 * self.leg_m() * self.half_angle_deg.to_radians().cos()
    }

    /// Width of the zig-zag across the axis, m.
    pub(crate) fn breadth_m(&self) -> f64 {
        self.leg_m() * self.half_angle_deg.to_radians().sin()
    }

    /// All legs from the harbour to the harbour.
    pub(crate) fn legs(&self) -> Vec<Leg> {
        let harbour = Point::default();
        let start = self
            .ground
            .moved(self.axis_deg + 180.0, self.reach_m())
            .moved(self.axis_deg - 90.0, 0.5 * self.breadth_m());
        let mut turns = vec![start];
        let mut at = start;
        let mut go = |toward_deg: f64, length_m: f64| {
            at = at.moved(toward_deg, length_m);
            turns.push(at);
        };
        for leg in 0..self.legs_each_way {
            let side = if leg % 2 == 0 { self.half_angle_deg } else { -self.half_angle_deg };
            go(self.axis_deg + side, self.leg_m());
        }
        go(self.axis_deg, SHORT_LEG * self.leg_m());
        for leg in 0..self.legs_each_way {
            let side = if leg % 2 == 0 { -self.half_angle_deg } else { self.half_angle_deg };
            go(self.axis_deg + 180.0 + side, self.leg_m());
        }
        let mut legs = vec![Leg { from: harbour, to: start, pace: Pace::Run }];
        legs.extend(turns.windows(2).map(|pair| Leg { from: pair[0], to: pair[1], pace: Pace::Troll }));
        legs.push(Leg { from: at, to: harbour, pace: Pace::Run });
        legs
    }
}
