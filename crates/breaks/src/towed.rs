//! Which breaks did the probe cross at the depth at which it was towed?
//!
//! The same search as at the surface, in each stretch over which the probe kept its depth. Where the water is layered, a
//! probe that rises and sinks reads other water: what that does to the readings is scatter to the search, and a
//! change of depth ends a stretch, so that none passes for a break.

use crate::find::find;
use crate::settings::Settings;
use crate::types::{Crossing, Series};

/// Readings of a towed probe: slices of equal length, good ones only, time increasing.
#[derive(Clone, Copy, Debug)]
pub struct Towed<'a> {
    /// Seconds since any epoch, increasing.
    pub time_s: &'a [f64],
    /// Distance along the track, m, never decreasing.
    pub distance_m: &'a [f64],
    /// Depth of the probe below the surface, m.
    pub depth_m: &'a [f64],
    /// Temperature at the probe, °C.
    pub temp_c: &'a [f64],
}

/// A break at a depth.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DeepCrossing {
    /// The crossing. It is never a thermal bar, which is a matter of the surface.
    pub crossing: Crossing,
    /// Depth at which the probe was towed, m.
    pub depth_m: f64,
}

/// Breaks along the probe's way, in order of time.
///
/// # Limits
/// An internal wave lifts the thermocline past a probe that hangs in it, as broad as the wave: what is narrower than the
/// greatest width of [`Settings`] is reported, whether a front or the face of such a wave.
pub fn find_towed(towed: Towed, settings: &Settings) -> Vec<DeepCrossing> {
    let settings = Settings { fresh: false, ..settings.clone() };
    let mut found = Vec::new();
    for piece in level_pieces(&towed, settings.greatest_depth_change_m) {
        let series = Series {
            time_s: &towed.time_s[piece.clone()],
            distance_m: &towed.distance_m[piece.clone()],
            temp_c: &towed.temp_c[piece.clone()],
        };
        let depth_m = towed.depth_m[piece.clone()].iter().sum::<f64>() / piece.len() as f64;
        found.extend(find(series, &settings).into_iter().map(|crossing| DeepCrossing { crossing, depth_m }));
    }
    found
}

/// Stretches over which the depth stays within a range, longest possible from each start.
fn level_pieces(towed: &Towed, greatest_change_m: f64) -> Vec<std::ops::Range<usize>> {
    /// Fewest readings of a stretch: fewer show no break with both of its sides.
    const LEAST_READINGS: usize = 60;
    let mut pieces = Vec::new();
    let (mut from, mut least, mut greatest) = (0, f64::INFINITY, f64::NEG_INFINITY);
    for to in 0..=towed.depth_m.len() {
        let depth_m = towed.depth_m.get(to).copied().unwrap_or(f64::NAN);
        (least, greatest) = (least.min(depth_m), greatest.max(depth_m));
        if depth_m.is_nan() || greatest - least > greatest_change_m {
            if to - from >= LEAST_READINGS {
                pieces.push(from..to);
            }
            (from, least, greatest) = (to, depth_m, depth_m);
        }
    }
    pieces
}

#[cfg(test)]
mod tests {
    use super::*;

    /// An hour at 1.2 m/s with the probe at a depth of each second, in water that is warmer by 1 °C a metre upwards
    /// and has a front of 1.5 °C halfway.
    fn breaks(depth_m: impl Fn(f64) -> f64) -> Vec<DeepCrossing> {
        let time_s: Vec<f64> = (0..5_000).map(f64::from).collect();
        let distance_m: Vec<f64> = time_s.iter().map(|t| 1.2 * t).collect();
        let depth_m: Vec<f64> = time_s.iter().map(|&t| depth_m(t)).collect();
        let temp_c: Vec<f64> = (0..5_000)
            .map(|i| {
                let front = 0.75 * ((distance_m[i] - 3_000.0) / 50.0).tanh();
                let noise = 0.05 * (12.9 * i as f64).sin();
                12.0 - (depth_m[i] - 15.0) + front + noise
            })
            .collect();
        let towed = Towed { time_s: &time_s, distance_m: &distance_m, depth_m: &depth_m, temp_c: &temp_c };
        find_towed(towed, &Settings::default())
    }

    #[test]
    fn a_front_at_depth_is_found() {
        let found = breaks(|t| 15.0 + 0.1 * (0.3 * t).sin());
        assert_eq!(found.len(), 1, "{found:?}");
        assert!((found[0].crossing.distance_m - 3_000.0).abs() < 15.0, "{found:?}");
        assert!((found[0].depth_m - 15.0).abs() < 0.1);
    }

    #[test]
    fn a_change_of_depth_is_no_break() {
        let found = breaks(|t| if t < 1_200.0 { 15.0 } else { 18.0 });
        assert_eq!(found.len(), 1, "{found:?}");
        assert!((found[0].crossing.distance_m - 3_000.0).abs() < 15.0, "{found:?}");
        assert!((found[0].depth_m - 18.0).abs() < 0.1);
    }
}
