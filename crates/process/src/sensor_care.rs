//! How far off is the sensor in the hull, how far does it lag, and is that sure enough to correct?
//!
//! What the boat file states is taken as it stands. What it does not state is estimated: the bias against the probe,
//! the lag from breaks that were crossed in several directions. Correcting for a lag moves and sharpens the
//! breaks, so that they are found anew with each estimate until it stays.

use waterseam_breaks::{Lag, PlacedCrossing, Velocity};
use waterseam_logs::boat::BoatFile;
use waterseam_track::{HullCorrection, Track, Trip};
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
        let lag = found(self.lag).map(|(lag_s, se_s)| {
            format!(
                "The hull sensor lags {lag_s:.0} s behind the water (standard error {se_s:.0} s, from breaks crossed \
                 in several directions): the surface temperature and the breaks are corrected. `surface_temp_lag_s` \
                 in the boat file settles it."
            )
        });
        bias.into_iter().chain(lag).collect()
    }
}

/// Estimates what the boat file does not state, corrects the track where that is sure, and gives the break crossings
/// of the track as it then is.
pub fn care(trip: &mut Trip, boat: &BoatFile) -> (SensorCare, Vec<PlacedCrossing>) {
    let bias = bias(trip, boat);
    let add_c = bias.filter(|bias| bias.applied).map_or(0.0, |bias| -bias.value);
    let (lag, mut crossings) = lag(trip, boat, add_c);
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

fn lag(trip: &mut Trip, boat: &BoatFile, add_c: f64) -> (Option<Known>, Vec<PlacedCrossing>) {
    let crossings_at = |trip: &mut Trip, lag_s: f64| {
        trip.track.correct_surface_temp(HullCorrection { add_c, lag_s });
        water::crossings(&trip.track, boat, lag_s)
    };
    if let Some(lag_s) = boat.surface_temp_lag_s {
        return (Some(stated(lag_s)), crossings_at(trip, lag_s));
    }
    let raw = crossings_at(trip, 0.0);
    let Some(first) = left(&trip.track, &raw, boat) else { return (None, raw) };
    let known =
        |lag: Lag, applied| Known { value: lag.lag_s, se: Some(lag.se_s), method: "crossings", applied };
    if first.lag_s < HOPEFUL_SE * first.se_s || LONGEST_LAG_S < first.lag_s || is_coarse(&trip.track) {
        return (Some(known(first, false)), raw);
    }
    let mut lag = first;
    let mut settled = None;
    for _ in 0..ROUNDS {
        let crossings = crossings_at(trip, lag.lag_s);
        match left(&trip.track, &crossings, boat) {
            Some(more) if more.lag_s.abs() >= SETTLED_SE * more.se_s => {
                lag = Lag { lag_s: (lag.lag_s + more.lag_s).clamp(0.0, LONGEST_LAG_S), ..more };
            }
            more => {
                lag = Lag { lag_s: lag.lag_s, ..more.unwrap_or(lag) };
                settled = Some(crossings);
                break;
            }
        }
    }
    let applied = lag.lag_s > SURE_SE * lag.se_s && lag.lag_s < LONGEST_LAG_S;
    if !applied {
        trip.track.correct_surface_temp(HullCorrection { add_c, lag_s: 0.0 });
        return (Some(known(lag, false)), raw);
    }
    let crossings = settled.unwrap_or_else(|| crossings_at(trip, lag.lag_s));
    (Some(known(lag, true)), crossings)
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
