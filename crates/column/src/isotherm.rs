//! How deep does an isotherm lie along the way of a probe that goes up and down through it?
//!
//! Every leg of falling or rising depth that goes through the isotherm gives one pass: the depth at which the probe read its
//! temperature. A slow thermistor reads it too deep on the way down and too shallow on the way up, by as much as the probe
//! moves within its lag, so that neighbouring passes disagree; what they disagree by is taken out.

use std::ops::Range;

use crate::bins::is_finite;
use crate::casts::legs;
use crate::interpolate::temp_at;
use crate::stats::{median, robust_sd};
use crate::{Layers, Profile, Sample, Settings};

/// The probe on its way through an isotherm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pass {
    /// When, seconds on the clock of the samples.
    pub time_s: f64,
    /// Depth of the isotherm, m.
    pub depth_m: f64,
    /// Standard error of that, m.
    pub depth_se_m: f64,
    /// How fast the probe sank, m/s; negative on its way up.
    pub sinks_mps: f64,
}

/// Samples within this time of a pass tell how fast the probe moves, s.
const RATE_S: f64 = 15.0;
/// Samples within this depth of a pass tell the gradient, m.
const GRADIENT_M: f64 = 1.0;
/// From so many samples within it the depth is that of a straight line through them.
const LEAST_FOR_LINE: usize = 4;
/// Passes this far apart say nothing about the lag, s: the isotherm itself has moved.
const LAG_WITHIN_S: f64 = 300.0;
/// Fewest triples of passes that tell a lag.
const LEAST_TRIPLES: usize = 10;
/// A lag is taken out when it is so many standard errors from zero.
const SURE_SE: f64 = 2.0;
/// Slowest thermistor that is believed, s.
const LONGEST_LAG_S: f64 = 20.0;

/// Depths of an isotherm, one for each time that the probe went through it, in order of time.
///
/// `samples` are in any order; those that are not finite are passed over. A pass where the water is hardly layered, or
/// where the probe hardly moves, is no pass: the isotherm came to the probe.
pub fn passes(samples: &[Sample], temp_c: f64, settings: &Settings) -> Vec<Pass> {
    let mut sorted: Vec<Sample> = samples.iter().filter(|s| is_finite(s)).copied().collect();
    sorted.sort_by(|a, b| a.time_s.total_cmp(&b.time_s));
    let mut found: Vec<Pass> = sorted
        .chunk_by(|a, b| b.time_s - a.time_s <= settings.gap_s)
        .flat_map(|unbroken| {
            let legs = legs(unbroken, settings.turn_m);
            legs.into_iter().filter_map(|leg| pass(&unbroken[leg], temp_c, settings)).collect::<Vec<_>>()
        })
        .collect();
    let lag_s = lag_s(&found);
    for pass in &mut found {
        pass.depth_m -= lag_s * pass.sinks_mps;
    }
    found
}

/// The temperature in the middle of the thermocline, °C: the median over the profiles of a trip; `None` where none has
/// a thermocline.
pub fn thermocline_temp_c(profiles: &[Profile], layers: &[Layers]) -> Option<f64> {
    let middles: Vec<f64> = profiles
        .iter()
        .zip(layers)
        .filter_map(|(profile, layers)| temp_at(profile, layers.thermocline_depth_m?))
        .collect();
    (!middles.is_empty()).then(|| median(&middles))
}

/// The pass of one leg.
fn pass(leg: &[Sample], temp_c: f64, settings: &Settings) -> Option<Pass> {
    let goes_down = leg.last()?.depth_m > leg.first()?.depth_m;
    let through: Vec<usize> = (1..leg.len())
        .filter(|&row| {
            let (a, b) = (&leg[row - 1], &leg[row]);
            let reaches = (a.temp_c - temp_c) * (b.temp_c - temp_c) <= 0.0 && a.temp_c != b.temp_c;
            reaches && (a.depth_m < b.depth_m) == goes_down && (a.temp_c > b.temp_c) == goes_down
        })
        .collect();
    // noise may take it through more than once
    let row = *through.get(through.len() / 2)?;
    let (a, b) = (&leg[row - 1], &leg[row]);
    let share = (a.temp_c - temp_c) / (a.temp_c - b.temp_c);
    let (time_s, between_m) =
        (a.time_s + share * (b.time_s - a.time_s), a.depth_m + share * (b.depth_m - a.depth_m));
    let about = within(leg, row, |s| (s.time_s - time_s).abs() <= RATE_S);
    let (first, last) = (&leg[about.start], &leg[about.end - 1]);
    let sinks_mps = (last.depth_m - first.depth_m) / (last.time_s - first.time_s);
    if !(sinks_mps.abs() >= settings.least_pass_mps && (sinks_mps > 0.0) == goes_down) {
        return None;
    }
    let near = &leg[within(leg, row, |s| (s.depth_m - between_m).abs() <= GRADIENT_M)];
    let (gradient_c_per_m, depth_m, n) = match line(near, temp_c) {
        Some((slope, depth_m)) if near.len() >= LEAST_FOR_LINE => (slope, depth_m, near.len() as f64),
        _ => ((b.temp_c - a.temp_c) / (b.depth_m - a.depth_m), between_m, 1.0),
    };
    let from_temp_m = settings.probe_temp_se_c / gradient_c_per_m.abs() / n.sqrt();
    let depth_se_m = from_temp_m.hypot(settings.probe_depth_se_m / n.sqrt());
    let is_layered = gradient_c_per_m <= -settings.least_gradient_c_per_m;
    let is_near = (depth_m - between_m).abs() <= GRADIENT_M;
    (is_layered && is_near).then_some(Pass { time_s, depth_m, depth_se_m, sinks_mps })
}

/// The rows about one and the row before it, as far as they all are like that; at least these two.
fn within(leg: &[Sample], row: usize, is_like: impl Fn(&Sample) -> bool) -> Range<usize> {
    let before = leg[..row - 1].iter().rev().take_while(|s| is_like(s)).count();
    let after = leg[row + 1..].iter().take_while(|s| is_like(s)).count();
    row - 1 - before..row + 1 + after
}

/// Slope of temperature on depth, °C/m, and the depth at which the line has a temperature.
fn line(samples: &[Sample], temp_c: f64) -> Option<(f64, f64)> {
    let n = samples.len() as f64;
    let mean_m = samples.iter().map(|s| s.depth_m).sum::<f64>() / n;
    let mean_c = samples.iter().map(|s| s.temp_c).sum::<f64>() / n;
    let (mut spread, mut product) = (0.0, 0.0);
    for s in samples {
        spread += (s.depth_m - mean_m).powi(2);
        product += (s.depth_m - mean_m) * (s.temp_c - mean_c);
    }
    let slope = product / spread;
    let depth_m = mean_m + (temp_c - mean_c) / slope;
    depth_m.is_finite().then_some((slope, depth_m))
}

/// By how long the thermistor lags, s, as ways down and up disagree; 0 where they do not surely.
fn lag_s(passes: &[Pass]) -> f64 {
    let lags: Vec<f64> = passes
        .windows(3)
        .filter(|three| {
            let turns = |a: &Pass, b: &Pass| (a.sinks_mps > 0.0) != (b.sinks_mps > 0.0);
            turns(&three[0], &three[1])
                && turns(&three[1], &three[2])
                && three[2].time_s - three[0].time_s <= 2.0 * LAG_WITHIN_S
        })
        .map(|three| {
            let [a, b, c] = [three[0], three[1], three[2]];
            let share = (b.time_s - a.time_s) / (c.time_s - a.time_s);
            let beyond = |of: fn(&Pass) -> f64| of(&b) - of(&a) - share * (of(&c) - of(&a));
            beyond(|pass| pass.depth_m) / beyond(|pass| pass.sinks_mps)
        })
        .filter(|lag_s| lag_s.is_finite())
        .collect();
    if lags.len() < LEAST_TRIPLES {
        return 0.0;
    }
    let lag_s = median(&lags);
    // standard error of a median of normal values, of which neighbours share two passes of three
    let se_s = 1.2533 * robust_sd(&lags) / (lags.len() as f64 / 2.0).sqrt();
    if lag_s > SURE_SE * se_s { lag_s.min(LONGEST_LAG_S) } else { 0.0 }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A probe that goes up and down between 6 m and 20 m in cycles of three minutes for two hours, with a thermistor that lags, in
    /// water of 18 °C above and 6 °C below a thermocline at a depth of each second.
    fn log(lag_s: f64, thermocline_m: impl Fn(f64) -> f64) -> Vec<Sample> {
        let mut felt_c = None;
        (0..7_200)
            .map(|second| {
                let time_s = f64::from(second);
                let part = (time_s / 180.0).fract();
                let depth_m = 6.0 + 28.0 * part.min(1.0 - part);
                let water_c = 12.0 - 6.0 * ((depth_m - thermocline_m(time_s)) / 2.0).tanh();
                let response = if lag_s > 0.0 { 1.0 - (-1.0 / lag_s).exp() } else { 1.0 };
                let temp_c = felt_c.map_or(water_c, |felt_c: f64| felt_c + response * (water_c - felt_c));
                felt_c = Some(temp_c);
                Sample { time_s, depth_m, temp_c: temp_c + 0.03 * (12.9 * time_s).sin() }
            })
            .step_by(3)
            .collect()
    }

    #[test]
    fn each_way_down_and_up_is_a_pass() {
        let found = passes(&log(0.0, |_| 13.0), 12.0, &Settings::default());
        assert!((78..=80).contains(&found.len()), "{}", found.len());
        for pass in &found {
            assert!((pass.depth_m - 13.0).abs() < 0.15 && pass.depth_se_m < 0.3, "{pass:?}");
        }
    }

    #[test]
    fn an_isotherm_that_sinks_is_followed() {
        let at = |time_s: f64| 12.0 + 3.0 * time_s / 7_200.0;
        for pass in passes(&log(0.0, at), 12.0, &Settings::default()) {
            assert!((pass.depth_m - at(pass.time_s)).abs() < 0.15, "{pass:?}");
        }
    }

    #[test]
    fn a_slow_thermistor_is_seen_and_taken_out() {
        for lag_s in [4.0, 10.0] {
            let found = passes(&log(lag_s, |_| 13.0), 12.0, &Settings::default());
            let worst_m = found[1..].iter().map(|pass| (pass.depth_m - 13.0).abs()).fold(0.0, f64::max);
            assert!(worst_m < 0.06 * lag_s, "{worst_m} m with a lag of {lag_s} s");
        }
    }

    #[test]
    fn a_probe_that_hangs_passes_through_nothing() {
        let hangs: Vec<Sample> = (0..3_000)
            .map(f64::from)
            .map(|t| Sample {
                time_s: t,
                depth_m: 12.0 + 0.2 * (0.3 * t).sin(),
                temp_c: 12.0 + (0.01 * t).sin(),
            })
            .collect();
        assert_eq!(passes(&hangs, 12.0, &Settings::default()), []);
        assert_eq!(passes(&[], 12.0, &Settings::default()), []);
        let mixed = log(0.0, |_| 60.0);
        assert_eq!(passes(&mixed, 18.0, &Settings::default()), [], "no gradient, no depth");
    }
}
