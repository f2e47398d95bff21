//! How far off is the sensor in the hull, how far does it lag, and is that sure enough to correct?
//!
//! What the boat file states is taken as it stands. What it does not state is estimated: the bias against the probe,
//! the lag from breaks that were crossed in several directions and from changes of speed away from breaks. Correcting for
//! a lag moves and sharpens the breaks, so that they are found anew with each estimate until it stays.

use std::ops::Range;

use waterseam_breaks::{Lag, PlacedCrossing, Velocity};
use waterseam_logs::boat::BoatFile;
use waterseam_track::{HullCorrection, HullLag, Track, Trip, hull_lag};
use waterseam_units::LocalFrame;
use waterseam_units::time::US_PER_S;

use crate::{place, settings, water};

/// An estimate is applied when it is this many of its standard errors from zero.
const SURE_SE: f64 = 3.0;
/// Breaks are found anew for a lag that is this many standard errors from zero: a smaller one will not be sure.
const HOPEFUL_SE: f64 = 1.5;
/// … at most so many times, or until the estimate changes by less than this part of its standard error.
const ROUNDS: usize = 5;
const SETTLED_SE: f64 = 0.1;
/// Longest lag that is believed, s: a sensor in a thick hull takes a minute or two (common practice, no source).
const LONGEST_LAG_S: f64 = 150.0;
/// Steps between readings, °C, over which a lag is not taken back: the slope of a staircase is no slope of the
/// water.
const COARSE_C: f64 = 0.3;
/// Changes of speed this close to the edge of a break, s, say nothing: a lag shows the break behind its place.
const KEEP_OFF_S: f64 = 60.0;
/// The velocity at a crossing is that of this time before it, s.
const VELOCITY_US: i64 = 30 * US_PER_S;

/// A property of the sensor, how it is known, and whether the track is corrected for it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Known {
    /// °C or s.
    pub value: f64,
    /// Standard error; `None` where the boat file states the value.
    pub se: Option<f64>,
    /// Word of the tables.
    pub method: &'static str,
    /// Whether the track is corrected.
    pub applied: bool,
}

/// What is known of the hull sensor on one trip. `None`: neither stated nor determined.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct SensorCare {
    /// Reading minus water, °C.
    pub bias: Option<Known>,
    /// Lag, s.
    pub lag: Option<Known>,
}

impl SensorCare {
    /// What was corrected that the captain did not ask for, in sentences.
    pub fn remarks(&self) -> Vec<String> {
        let found =
            |known: Option<Known>| known.filter(|known| known.applied).and_then(|k| Some((k.value, k.se?)));
        let bias = found(self.bias).map(|(bias_c, se_c)| {
            let way = if bias_c > 0.0 { "high" } else { "low" };
            format!(
                "The hull sensor reads {:.2} °C {way} beside the probe near the surface (standard error {se_c:.2}): \
                 the surface temperature is corrected. `surface_temp_offset` in the boat file settles it.",
                bias_c.abs()
            )
        });
        let from = match self.lag.map(|lag| lag.method) {
            Some(SPEED_CHANGES) => "changes of speed",
            Some(BOTH) => "breaks crossed in several directions and changes of speed",
            _ => "breaks crossed in several directions",
        };
        let lag = found(self.lag).map(|(lag_s, se_s)| {
            format!(
                "The hull sensor lags {lag_s:.0} s behind the water (standard error {se_s:.0} s, from {from}): the \
                 surface temperature and the breaks are corrected. `surface_temp_lag_s` in the boat file settles it."
            )
        });
        bias.into_iter().chain(lag).collect()
    }
}

/// Estimates what the boat file does not state, corrects the track where that is sure, and gives the break crossings
/// of the track as it then is, found in its [`usable`](water::usable) rows.
pub fn care(trip: &mut Trip, usable: &[usize], boat: &BoatFile) -> (SensorCare, Vec<PlacedCrossing>) {
    let bias = bias(trip, boat);
    let add_c = bias.filter(|bias| bias.applied).map_or(0.0, |bias| -bias.value);
    let (lag, mut crossings) = lag(trip, usable, boat, add_c);
    if let Some(se_s) = lag.filter(|lag| lag.applied).and_then(|lag| lag.se) {
        // a centre is as unsure as the lag that it was moved for
        for placed in &mut crossings {
            let Velocity { east_mps, north_mps } = velocity(&trip.track, placed);
            let moved_m = east_mps.hypot(north_mps) * se_s;
            placed.crossing.centre_se_m = placed.crossing.centre_se_m.hypot(moved_m);
        }
    }
    (SensorCare { bias, lag }, crossings)
}

fn stated(value: f64) -> Known {
    Known { value, se: None, method: "boat_file", applied: value != 0.0 }
}

fn bias(trip: &Trip, boat: &BoatFile) -> Option<Known> {
    if let Some(offset_c) = boat.surface_temp_offset_c {
        // + 0.0 turns -0.0 into 0.0
        return Some(stated(-offset_c + 0.0));
    }
    let found = waterseam_track::hull_bias(trip)?;
    let applied = found.bias_c.abs() > SURE_SE * found.se_c;
    Some(Known { value: found.bias_c, se: Some(found.se_c), method: "probe", applied })
}

fn lag(
    trip: &mut Trip,
    usable: &[usize],
    boat: &BoatFile,
    add_c: f64,
) -> (Option<Known>, Vec<PlacedCrossing>) {
    // a track comes corrected for what the boat file states
    let stated_there = settings::track(boat);
    let mut made_with =
        HullCorrection { add_c: stated_there.surface_temp_offset_c, lag_s: stated_there.surface_temp_lag_s };
    let mut crossings_at = |trip: &mut Trip, lag_s: f64| {
        let wanted = HullCorrection { add_c, lag_s };
        if std::mem::replace(&mut made_with, wanted) != wanted {
            trip.track.correct_surface_temp(wanted);
        }
        water::crossings(&trip.track, usable, boat, lag_s)
    };
    if let Some(lag_s) = boat.surface_temp_lag_s {
        return (Some(stated(lag_s)), crossings_at(trip, lag_s));
    }
    let raw = crossings_at(trip, 0.0);
    let from_speed = hull_lag(&trip.track, &stretches_of(&trip.track, &raw));
    let Some(first) = Estimate::of(left(&trip.track, &raw, boat), from_speed) else { return (None, raw) };
    if first.lag_s < HOPEFUL_SE * first.se_s || LONGEST_LAG_S < first.lag_s || is_coarse(&trip.track) {
        return (Some(first.known(false)), raw);
    }
    let mut lag = first;
    let mut settled = None;
    for _ in 0..ROUNDS {
        let crossings = crossings_at(trip, lag.lag_s);
        // what is left of it, where the crossings still tell
        let whole =
            left(&trip.track, &crossings, boat).map(|more| Lag { lag_s: lag.lag_s + more.lag_s, ..more });
        let next = whole.and_then(|whole| Estimate::of(Some(whole), from_speed)).unwrap_or(lag);
        if (next.lag_s - lag.lag_s).abs() < SETTLED_SE * next.se_s {
            lag = Estimate { lag_s: lag.lag_s, ..next };
            settled = Some(crossings);
            break;
        }
        lag = Estimate { lag_s: next.lag_s.clamp(0.0, LONGEST_LAG_S), ..next };
    }
    let applied = lag.lag_s > SURE_SE * lag.se_s && lag.lag_s < LONGEST_LAG_S;
    if !applied {
        trip.track.correct_surface_temp(HullCorrection { add_c, lag_s: 0.0 });
        return (Some(lag.known(false)), raw);
    }
    let crossings = settled.unwrap_or_else(|| crossings_at(trip, lag.lag_s));
    (Some(lag.known(true)), crossings)
}

const SPEED_CHANGES: &str = "speed_changes";
const BOTH: &str = "crossings_and_speed_changes";

/// A lag and what it rests on.
#[derive(Clone, Copy)]
struct Estimate {
    lag_s: f64,
    se_s: f64,
    method: &'static str,
}

impl Estimate {
    /// The mean of both, each with the weight of its standard error; where they differ by more than these allow, the
    /// standard error of the mean is as many times larger (R. T. Birge, Physical Review 40, 1932, 207–227; from memory).
    fn of(crossings: Option<Lag>, speed: Option<HullLag>) -> Option<Self> {
        let crossings = crossings.map(|Lag { lag_s, se_s, .. }| Self { lag_s, se_s, method: "crossings" });
        let speed = speed.map(|HullLag { lag_s, se_s, .. }| Self { lag_s, se_s, method: SPEED_CHANGES });
        let (Some(a), Some(b)) = (crossings, speed) else { return crossings.or(speed) };
        let weights = [a, b].map(|one| (one.se_s * one.se_s).recip());
        let sum = weights[0] + weights[1];
        let apart = (a.lag_s - b.lag_s).abs() / a.se_s.hypot(b.se_s);
        Some(Self {
            lag_s: (weights[0] * a.lag_s + weights[1] * b.lag_s) / sum,
            se_s: apart.max(1.0) / sum.sqrt(),
            method: BOTH,
        })
    }

    fn known(self, applied: bool) -> Known {
        Known { value: self.lag_s, se: Some(self.se_s), method: self.method, applied }
    }
}

/// When the boat was in a break, or where a lag may have put it, µs.
fn stretches_of(track: &Track, crossings: &[PlacedCrossing]) -> Vec<Range<i64>> {
    let stretch = |placed: &PlacedCrossing| {
        let Velocity { east_mps, north_mps } = velocity(track, placed);
        let half_s = 0.5 * placed.crossing.width_m / east_mps.hypot(north_mps).max(0.1);
        let reach_us = ((half_s + KEEP_OFF_S) * US_PER_S as f64) as i64;
        let middle_us = place::instant(track, placed.crossing.time_s);
        middle_us - reach_us..middle_us + reach_us
    };
    crossings.iter().map(stretch).collect()
}

/// The lag that is left in the track.
fn left(track: &Track, crossings: &[PlacedCrossing], boat: &BoatFile) -> Option<Lag> {
    let lines = waterseam_breaks::lines(crossings, &settings::breaks(boat));
    let velocities: Vec<Velocity> = crossings.iter().map(|placed| velocity(track, placed)).collect();
    waterseam_breaks::lag(crossings, &lines, &velocities)
}

fn velocity(track: &Track, placed: &PlacedCrossing) -> Velocity {
    let time_us = place::instant(track, placed.crossing.time_s);
    let before = place::at(track, time_us - VELOCITY_US).unwrap_or(placed.at);
    let (east_m, north_m) = LocalFrame::new(before).to_local(placed.at);
    let seconds = VELOCITY_US as f64 / US_PER_S as f64;
    Velocity { east_mps: east_m / seconds, north_mps: north_m / seconds }
}

/// Whether neighbouring readings mostly differ by a large step where they differ at all.
fn is_coarse(track: &Track) -> bool {
    let readings: Vec<f64> = track.surface_temp_raw_c.iter().copied().flatten().collect();
    let mut steps: Vec<f64> =
        readings.windows(2).map(|pair| (pair[1] - pair[0]).abs()).filter(|&step| step > 1e-6).collect();
    let middle = steps.len() / 2;
    middle < steps.len() && *steps.select_nth_unstable_by(middle, f64::total_cmp).1 > COARSE_C
}
