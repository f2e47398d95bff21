//! Where is the boat in every second of the day?
//!
//! The helm steers each leg's course over ground, allowing for the current it is in, with a wandering heading. Velocity over
//! ground is velocity through the water plus current. Positions are stepped on the ellipsoid.

use std::ops::Range;

use waterseam_units::angle::{east_north, length_direction, turn_deg, wrap_deg};
use waterseam_units::{LatLon, LocalFrame};

use crate::days::Day;
use crate::dice::{Dice, Wander};
use crate::handling::{Order, Wash};
use crate::lake::{HARBOUR, Point};
use crate::plotter::mean_wind;
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
    /// Of the water at the hull, with what the screw has mixed into it.
    pub at_hull_c: f64,
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
/// Time in which way is taken off, s.
const STOPS_S: usize = 20;
/// Speed astern, and that of a burst after a stop, with its time.
const ASTERN_MPS: f64 = -0.8;
const BURST_MPS: f64 = 2.2;
const BURST_S: usize = 8;
/// Turning of a tight circle, degrees a second.
const CIRCLE_DEG_PER_S: f64 = 8.0;
/// A trip that takes longer than this has lost its way: no plan does.
const LONGEST_S: usize = 16 * 3600;

/// Takes the boat of a day along its legs, from the berth to the berth.
pub(crate) fn sail(day: &Day, dice: &mut Dice) -> Voyage {
    let mut boat = Boat::berthed(day);
    let mut wander = Helm { heading: Wander::new(2.5, 30.0), speed: Wander::new(0.03, 60.0) };
    boat.lie(dice.whole(*BERTH_S.start(), *BERTH_S.end()));
    let left = boat.states.len();
    let mut trolling = left..left;
    let mut orders = day.orders.iter().peekable();
    for leg in &day.legs {
        let began = boat.states.len();
        if leg.pace == Pace::Troll && trolling.is_empty() {
            trolling = began..began;
        }
        while !boat.has_passed(leg) && boat.states.len() < LONGEST_S {
            let is_due = |order: &&(usize, Order)| {
                leg.pace == Pace::Troll && boat.states.len() - trolling.start >= order.0
            };
            if let Some((_, order)) = orders.next_if(is_due) {
                boat.carry_out(*order);
            }
            boat.second(leg, &mut wander, dice);
        }
        if leg.pace == Pace::Troll {
            trolling.end = boat.states.len();
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
    day: &'a Day,
    states: Vec<State>,
    now: State,
    wash: Wash,
    /// The day's mean wind: speed and direction from which it blows.
    wind: (f64, f64),
    /// Trolling speed over the usual one.
    factor: f64,
}

impl<'a> Boat<'a> {
    fn berthed(day: &'a Day) -> Self {
        let point = Point::default();
        let now = State {
            at: HARBOUR,
            point,
            distance_m: 0.0,
            heading_deg: day.legs.first().map_or(0.0, Leg::bearing_deg),
            stw_mps: 0.0,
            east_mps: 0.0,
            north_mps: 0.0,
            surface_temp_c: 0.0,
            at_hull_c: 0.0,
            thermocline_depth_m: 0.0,
        };
        Self {
            day,
            states: Vec::with_capacity(8 * 3600),
            now,
            wash: Wash::default(),
            wind: mean_wind(day.seed),
            factor: 1.0,
        }
    }

    /// Keeps the state, with the water that it is in.
    fn keep(&mut self) {
        let time_s = self.day.plotter_on_s + self.states.len() as f64;
        self.now.surface_temp_c = self.day.lake.surface_temp_c(self.now.point, time_s);
        self.now.at_hull_c = self.now.surface_temp_c - self.day.wash_c * self.wash.share();
        self.now.thermocline_depth_m = self.day.lake.thermocline_depth_m(self.now.point, time_s);
        self.states.push(self.now);
    }

    /// Lies still over ground, moored or at anchor.
    fn lie(&mut self, seconds: u64) {
        (self.now.stw_mps, self.now.east_mps, self.now.north_mps) = (0.0, 0.0, 0.0);
        for _ in 0..seconds {
            self.wash.second(0.0, 0.0, false, None);
            self.keep();
        }
    }

    fn has_passed(&self, leg: &Leg) -> bool {
        let left_m = self.now.point.distance_m(leg.to);
        let off_deg = turn_deg(leg.bearing_deg(), self.now.point.bearing_deg(leg.to));
        left_m * off_deg.to_radians().cos() < PASSED_M
    }

    fn wanted_speed_mps(&self, leg: &Leg) -> f64 {
        let from_harbour_m = self.now.point.distance_m(Point::default());
        match leg.pace {
            Pace::Troll => self.factor * self.day.speeds.troll_mps,
            Pace::Run if from_harbour_m < BERTHING_M => BERTHING_SPEED_MPS,
            Pace::Run if from_harbour_m < HARBOUR_WATERS_M => HARBOUR_SPEED_MPS,
            Pace::Run => self.day.speeds.run_mps,
        }
    }

    /// One second under way along a leg.
    fn second(&mut self, leg: &Leg, helm: &mut Helm, dice: &mut Dice) {
        let current = self.day.lake.current.surface_mps(self.now.point);
        let wanted_mps = self.wanted_speed_mps(leg) * (1.0 + helm.speed.step(dice));
        let stw_mps = self.now.stw_mps + (wanted_mps - self.now.stw_mps) / SPEED_RESPONSE_S;

        let course_deg = self.now.point.bearing_deg(leg.to);
        let heading_deg = course_deg + crab_deg(course_deg, stw_mps, current) + helm.heading.step(dice);
        let turn = turn_deg(self.now.heading_deg, heading_deg).clamp(-TURN_DEG_PER_S, TURN_DEG_PER_S);
        self.step(stw_mps, turn, None);
    }

    /// One second of an order, or all of lying still.
    fn carry_out(&mut self, order: Order) {
        match order {
            Order::Speed { factor } => self.factor = factor,
            Order::Anchor { lie_s } => {
                for _ in 0..STOPS_S {
                    self.step(self.now.stw_mps * (1.0 - 3.0 / STOPS_S as f64), 0.0, None);
                }
                self.lie(lie_s);
            }
            Order::Stop { astern_s, lie_s } => {
                for _ in 0..STOPS_S {
                    self.step(self.now.stw_mps * (1.0 - 3.0 / STOPS_S as f64), 0.0, None);
                }
                for _ in 0..astern_s {
                    self.step(self.now.stw_mps + (ASTERN_MPS - self.now.stw_mps) / 4.0, 0.0, None);
                }
                for _ in 0..lie_s {
                    self.step(0.8 * self.now.stw_mps, 0.0, None);
                }
                for _ in 0..BURST_S {
                    self.step(self.now.stw_mps + (BURST_MPS - self.now.stw_mps) / 6.0, 0.0, None);
                }
            }
            Order::Circle { side } => {
                let seconds = (360.0 / CIRCLE_DEG_PER_S) as usize;
                for second in 0..seconds {
                    self.step(self.now.stw_mps, side * CIRCLE_DEG_PER_S, Some(second));
                }
            }
        }
    }

    /// What the wind across the boat makes of her drift through the water, east and north, m/s.
    fn aside_mps(&self) -> (f64, f64) {
        let (wind_mps, from_deg) = self.wind;
        let (east, north) = east_north(wind_mps, from_deg + 180.0);
        let felt = (east - self.now.east_mps, north - self.now.north_mps);
        let starboard = east_north(1.0, self.now.heading_deg + 90.0);
        let drift_mps = self.day.leeway * (felt.0 * starboard.0 + felt.1 * starboard.1);
        (drift_mps * starboard.0, drift_mps * starboard.1)
    }

    /// One second at a speed through the water, turning.
    fn step(&mut self, stw_mps: f64, turned_deg: f64, circle_s: Option<usize>) {
        let current = self.day.lake.current.surface_mps(self.now.point);
        self.wash.second(stw_mps, stw_mps - self.now.stw_mps, true, circle_s);
        self.now.stw_mps = stw_mps;
        self.now.heading_deg = wrap_deg(self.now.heading_deg + turned_deg);
        let (east, north) = east_north(self.now.stw_mps, self.now.heading_deg);
        let aside = self.aside_mps();
        self.now.east_mps = east + current.0 + aside.0;
        self.now.north_mps = north + current.1 + aside.1;
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
