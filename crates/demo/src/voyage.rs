//! Where is the boat in every second of the day?
//!
//! The helm steers each leg's course over ground, allowing for the current it is in, with a wandering heading. Velocity over
//! ground is velocity through the water plus current. Positions are stepped on the ellipsoid.

use std::ops::Range;

use waterseam_units::angle::{east_north, length_direction, turn_deg, wrap_deg};
use waterseam_units::{LatLon, LocalFrame};

use crate::dice::{Dice, Wander};
use crate::lake::{HARBOUR, Lake, Point};
use crate::route::{Leg, Pace};

/// The boat at one second, without any instrument.
#[derive(Clone, Copy, Debug)]
pub(crate) struct State {
    pub at: LatLon,
    pub point: Point,
    /// Run since the first second, m.
    pub distance_m: f64,
    pub heading_deg: f64,
    pub stw_mps: f64,
    /// Over ground, m/s.
    pub east_mps: f64,
    pub north_mps: f64,
    pub surface_temp_c: f64,
    pub thermocline_depth_m: f64,
}

impl State {
    pub(crate) fn sog_mps(&self) -> f64 {
        self.east_mps.hypot(self.north_mps)
    }

    /// Course over ground; the heading while the boat lies still.
    pub(crate) fn course_deg(&self) -> f64 {
        length_direction(self.east_mps, self.north_mps).1.unwrap_or(self.heading_deg)
    }
}

/// The whole day at 1 Hz.
pub(crate) struct Voyage {
    pub states: Vec<State>,
    /// Seconds under way.
    pub under_way: Range<usize>,
    /// Seconds at trolling speed.
    pub trolling: Range<usize>,
}

/// Speeds of the day.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Speeds {
    pub run_mps: f64,
    pub troll_mps: f64,
}

/// Time at the berth with the plotter on, before and after, s.
const BERTH_S: std::ops::RangeInclusive<u64> = 150..=280;
/// Within this distance of the harbour the boat goes slowly.
const HARBOUR_WATERS_M: f64 = 350.0;
const HARBOUR_SPEED_MPS: f64 = 2.8;
const BERTHING_M: f64 = 50.0;
const BERTHING_SPEED_MPS: f64 = 1.2;
/// A waypoint is passed when this much of the leg is left.
const PASSED_M: f64 = 15.0;
/// Time constant of speeding up and slowing down, s.
const SPEED_RESPONSE_S: f64 = 10.0;
/// Fastest turn, degrees a second.
const TURN_DEG_PER_S: f64 = 2.5;
/// A trip that takes longer than this has lost its way: no plan does.
const LONGEST_S: usize = 16 * 3600;

/// Takes the boat along the legs, from a berth at `start_s` (since local midnight) to the berth.
pub(crate) fn sail(lake: &Lake, legs: &[Leg], speeds: Speeds, start_s: f64, dice: &mut Dice) -> Voyage {
    let mut boat = Boat::berthed(lake, start_s, legs.first().map_or(0.0, Leg::bearing_deg));
    let mut wander = Helm { heading: Wander::new(2.5, 30.0), speed: Wander::new(0.03, 60.0) };
    boat.lie(dice.whole(*BERTH_S.start(), *BERTH_S.end()));
    let left = boat.states.len();
    let mut trolling = left..left;
    for leg in legs {
        let began = boat.states.len();
        while !boat.has_passed(leg) && boat.states.len() < LONGEST_S {
            boat.second(leg, speeds, &mut wander, dice);
        }
        if leg.pace == Pace::Troll {
            trolling = if trolling.is_empty() {
                began..boat.states.len()
            } else {
                trolling.start..boat.states.len()
            };
        }
    }
    let back = boat.states.len();
    boat.lie(dice.whole(*BERTH_S.start(), *BERTH_S.end()));
    Voyage { states: boat.states, under_way: left..back, trolling }
}

struct Helm {
    heading: Wander,
    speed: Wander,
}

struct Boat<'a> {
    lake: &'a Lake,
    start_s: f64,
    states: Vec<State>,
    now: State,
}

impl<'a> Boat<'a> {
    fn berthed(lake: &'a Lake, start_s: f64, heading_deg: f64) -> Self {
        let point = Point::default();
        let now = State {
            at: HARBOUR,
            point,
            distance_m: 0.0,
            heading_deg,
            stw_mps: 0.0,
            east_mps: 0.0,
            north_mps: 0.0,
            surface_temp_c: 0.0,
            thermocline_depth_m: 0.0,
        };
        Self { lake, start_s, states: Vec::with_capacity(8 * 3600), now }
    }

    /// Keeps the state, with the water that it is in.
    fn keep(&mut self) {
        let time_s = self.start_s + self.states.len() as f64;
        self.now.surface_temp_c = self.lake.surface_temp_c(self.now.point, time_s);
        self.now.thermocline_depth_m = self.lake.column.thermocline_depth_m(self.now.point, time_s);
        self.states.push(self.now);
    }

    fn lie(&mut self, seconds: u64) {
        (self.now.stw_mps, self.now.east_mps, self.now.north_mps) = (0.0, 0.0, 0.0);
        for _ in 0..seconds {
            self.keep();
        }
    }

    fn has_passed(&self, leg: &Leg) -> bool {
        let left_m = self.now.point.distance_m(leg.to);
        let off_deg = turn_deg(leg.bearing_deg(), self.now.point.bearing_deg(leg.to));
        left_m * off_deg.to_radians().cos() < PASSED_M
    }

    fn wanted_speed_mps(&self, leg: &Leg, speeds: Speeds) -> f64 {
        let from_harbour_m = self.now.point.distance_m(Point::default());
        match leg.pace {
            Pace::Troll => speeds.troll_mps,
            Pace::Run if from_harbour_m < BERTHING_M => BERTHING_SPEED_MPS,
            Pace::Run if from_harbour_m < HARBOUR_WATERS_M => HARBOUR_SPEED_MPS,
            Pace::Run => speeds.run_mps,
        }
    }

    /// One second under way.
    fn second(&mut self, leg: &Leg, speeds: Speeds, helm: &mut Helm, dice: &mut Dice) {
        let current = self.lake.current.surface_mps(self.now.point);
        let wanted_mps = self.wanted_speed_mps(leg, speeds) * (1.0 + helm.speed.step(dice));
        self.now.stw_mps += (wanted_mps - self.now.stw_mps) / SPEED_RESPONSE_S;

        let course_deg = self.now.point.bearing_deg(leg.to);
        let heading_deg =
            course_deg + crab_deg(course_deg, self.now.stw_mps, current) + helm.heading.step(dice);
        let turn = turn_deg(self.now.heading_deg, heading_deg).clamp(-TURN_DEG_PER_S, TURN_DEG_PER_S);
        self.now.heading_deg = wrap_deg(self.now.heading_deg + turn);

        let (east, north) = east_north(self.now.stw_mps, self.now.heading_deg);
        (self.now.east_mps, self.now.north_mps) = (east + current.0, north + current.1);
        self.keep();
        self.now.at = LocalFrame::new(self.now.at).to_position(self.now.east_mps, self.now.north_mps);
        self.now.point = Point::at(self.now.at);
        self.now.distance_m += self.now.sog_mps();
    }
}

/// Angle to steer up against the current so that the boat keeps a course over ground.
fn crab_deg(course_deg: f64, stw_mps: f64, current: (f64, f64)) -> f64 {
    let (east, north) = east_north(1.0, course_deg + 90.0);
    let sideways_mps = current.0 * east + current.1 * north;
    // a current as fast as the boat cannot be held; 0.8 keeps way on
    -(sideways_mps / stw_mps.max(0.1)).clamp(-0.8, 0.8).asin().to_degrees()
}
