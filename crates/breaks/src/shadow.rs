//! Did the water change in space, or in time while the boat went over it?
//!
//! The shadow of a cloud cools the surface everywhere at once, by some tenths of a degree in ten minutes to half an
//! hour; a boat that trolls on meanwhile records a broad, weak step. One pass cannot tell that from a broad front.
//! What can is another look at the same two places at another time: a front is still there, a shadow is not.
//!
//! ```text
//!  before ●────────▶● after      the pass: 0.6 °C colder in 12 minutes
//!         ○         ○            hours later: as warm as each other, so that it was the hour and not the place
//! ```

use crate::lines::lines;
use crate::settings::Settings;
use crate::types::{Kind, PlacedCrossing, Series};

/// Least time from 10 % to 90 % of a change that a cloud may have made, s (common practice, no source): the surface
/// follows the sun over minutes.
const LEAST_DURATION_S: f64 = 360.0;
/// Greatest such change, °C (common practice, no source): what an hour of full sun puts into the uppermost metre.
const GREATEST_STEP_C: f64 = 1.0;
/// Least elevation of the sun at which its going makes a difference, degrees.
const LEAST_SUN_DEG: f64 = 5.0;
/// Places within this distance are the same water for two looks, m.
const SAME_PLACE_M: f64 = 250.0;
/// Least time between the looks, s: longer than a shadow takes to come and go.
const LEAST_APART_S: f64 = 2_700.0;
/// Longest time between the two sides of another look, s: the day warms little meanwhile.
const GREATEST_LOOK_S: f64 = 2_400.0;
/// Part of the step that is still there at another look where it is a front.
const LEAST_PART: f64 = 0.5;
/// Where the levels are taken, in widths from the centre: there the step is 96 % done.
const SIDES_PER_WIDTH: f64 = 0.75;

/// The readings of a trip, with the places and the sun.
#[derive(Clone, Copy, Debug)]
pub struct Looks<'a> {
    /// The readings that the crossings were found in.
    pub series: Series<'a>,
    /// East of any origin, m, for each reading.
    pub east_m: &'a [f64],
    /// North of it, m.
    pub north_m: &'a [f64],
    /// Elevation of the sun, degrees.
    pub sun_deg: &'a [f64],
}

/// The crossings without those that were the hour and not the place. One that may be either, because the same water was
/// not seen again, is of kind [`Kind::MaybeShadow`].
///
/// A crossing is in doubt where it is weak and slow, by day, and belongs to no line that was crossed again.
///
/// # Panics
/// When the slices are not of equal length.
pub fn without_shadows(
    crossings: &[PlacedCrossing],
    looks: &Looks,
    settings: &Settings,
) -> Vec<PlacedCrossing> {
    let n = looks.series.time_s.len();
    assert!([looks.east_m, looks.north_m, looks.sun_deg].iter().all(|values| values.len() == n));
    let lines = lines(crossings, settings);
    let is_in_line = |index: &usize| lines.iter().any(|line| line.crossings.contains(index));
    crossings
        .iter()
        .enumerate()
        .filter_map(|(index, placed)| {
            if is_in_line(&index) || placed.crossing.kind != Kind::ThermalBreak {
                return Some(placed.clone());
            }
            let Some([before, after]) = looks.in_doubt(placed) else { return Some(placed.clone()) };
            match looks.again(before, after) {
                Some(difference_c) if difference_c / placed.crossing.step_c >= LEAST_PART => {
                    Some(placed.clone())
                }
                Some(_) => None,
                None => {
                    let mut placed = placed.clone();
                    placed.crossing.kind = Kind::MaybeShadow;
                    Some(placed)
                }
            }
        })
        .collect()
}

impl Looks<'_> {
    /// The readings on both sides of a crossing that a shadow may have made.
    fn in_doubt(&self, placed: &PlacedCrossing) -> Option<[usize; 2]> {
        let crossing = &placed.crossing;
        let at = |distance_m: f64| {
            let after = self.series.distance_m.partition_point(|&d| d < distance_m);
            (after < self.series.distance_m.len()).then_some(after)
        };
        let side_m = SIDES_PER_WIDTH * crossing.width_m;
        let before = at(crossing.distance_m - side_m)?;
        let after = at(crossing.distance_m + side_m)?;
        let from_tenth_s = (self.series.time_s[after] - self.series.time_s[before]) / (2.0 * SIDES_PER_WIDTH);
        let in_doubt = from_tenth_s >= LEAST_DURATION_S
            && crossing.step_c.abs() <= GREATEST_STEP_C
            && self.sun_deg[before].max(self.sun_deg[after]) >= LEAST_SUN_DEG;
        in_doubt.then_some([before, after])
    }

    /// Difference between two places, second minus first, when both were seen again at another time, °C: the mean over
    /// all such looks; `None` where there is none.
    fn again(&self, first: usize, second: usize) -> Option<f64> {
        let (firsts, seconds) = (self.visits(first), self.visits(second));
        let apart_s = |visit: &Visit, other: &Visit| (visit.time_s - other.time_s).abs();
        let differences: Vec<f64> = firsts
            .iter()
            .filter_map(|visit| {
                let other = seconds.iter().min_by(|a, b| apart_s(a, visit).total_cmp(&apart_s(b, visit)))?;
                (apart_s(visit, other) <= GREATEST_LOOK_S).then_some(other.temp_c - visit.temp_c)
            })
            .collect();
        (!differences.is_empty()).then(|| differences.iter().sum::<f64>() / differences.len() as f64)
    }

    /// Other visits to the place of a reading, long before or after it, one for each time that the boat came by.
    fn visits(&self, reading: usize) -> Vec<Visit> {
        let Series { time_s, temp_c, .. } = self.series;
        let is_near = |&i: &usize| {
            let off_m =
                (self.east_m[i] - self.east_m[reading]).hypot(self.north_m[i] - self.north_m[reading]);
            off_m <= SAME_PLACE_M && (time_s[i] - time_s[reading]).abs() >= LEAST_APART_S
        };
        let near: Vec<usize> = (0..time_s.len()).filter(is_near).collect();
        near.chunk_by(|a, b| time_s[*b] - time_s[*a] <= GREATEST_LOOK_S)
            .map(|visit| {
                let mean =
                    |values: &[f64]| visit.iter().map(|&i| values[i]).sum::<f64>() / visit.len() as f64;
                Visit { time_s: mean(time_s), temp_c: mean(temp_c) }
            })
            .collect()
    }
}

struct Visit {
    time_s: f64,
    temp_c: f64,
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::find::find;
    use waterseam_units::{LatLon, LocalFrame};

    const ORIGIN: LatLon = LatLon { lat_deg: 46.2, lon_deg: -29.4 };

    /// Trolling north at 1.2 m/s for an hour and a half, and back over the same water, which is as warm as it is at each
    /// second and metre north. What is left of the crossings that were found.
    fn left(there_and_back: bool, sun_deg: f64, water_c: impl Fn(f64, f64) -> f64) -> Vec<PlacedCrossing> {
        let seconds = if there_and_back { 10_800 } else { 5_400 };
        let time_s: Vec<f64> = (0..seconds).map(f64::from).collect();
        let distance_m: Vec<f64> = time_s.iter().map(|t| 1.2 * t).collect();
        let north_m: Vec<f64> = distance_m.iter().map(|&d| d.min(2.0 * 6_480.0 - d)).collect();
        let noise = |t: f64| 0.05 * (12.9 * t).sin();
        let temp_c: Vec<f64> = time_s.iter().zip(&north_m).map(|(&t, &n)| water_c(t, n) + noise(t)).collect();
        let series = Series { time_s: &time_s, distance_m: &distance_m, temp_c: &temp_c };
        let frame = LocalFrame::new(ORIGIN);
        let crossings: Vec<PlacedCrossing> = find(series, &Settings::default())
            .into_iter()
            .map(|crossing| {
                let (north_m, course_deg) = if crossing.distance_m < 6_480.0 {
                    (crossing.distance_m, 0.0)
                } else {
                    (2.0 * 6_480.0 - crossing.distance_m, 180.0)
                };
                PlacedCrossing::new(crossing, frame.to_position(0.0, north_m), course_deg)
            })
            .collect();
        assert!(!crossings.is_empty(), "the finder takes none of it for a break");
        let (east_m, sun_deg) = (vec![0.0; time_s.len()], vec![sun_deg; time_s.len()]);
        let looks = Looks { series, east_m: &east_m, north_m: &north_m, sun_deg: &sun_deg };
        without_shadows(&crossings, &looks, &Settings::default())
    }

    /// A shadow at 2,400 s that stays and one that goes: 0.8 °C in 10 minutes.
    fn shadow(t: f64, _: f64) -> f64 {
        12.0 - 0.4 * ((t - 2_400.0) * 9_f64.ln() / 600.0).tanh()
    }

    fn front(_: f64, north_m: f64) -> f64 {
        12.0 - 0.4 * ((north_m - 2_880.0) * 9_f64.ln() / 720.0).tanh()
    }

    #[test]
    fn a_shadow_that_another_look_does_not_find_is_none() {
        assert_eq!(left(true, 40.0, shadow), []);
    }

    #[test]
    fn a_front_that_another_look_finds_stays() {
        let kept = left(true, 40.0, front);
        assert_eq!(kept.len(), 2, "{kept:?}");
        assert!(kept.iter().all(|placed| placed.crossing.kind == Kind::ThermalBreak), "{kept:?}");
    }

    #[test]
    fn one_look_does_not_tell_and_that_is_said() {
        for water_c in [shadow, front] {
            let kept = left(false, 40.0, water_c);
            assert_eq!(
                kept.iter().map(|placed| placed.crossing.kind).collect::<Vec<_>>(),
                [Kind::MaybeShadow]
            );
            let at_night = left(false, -10.0, water_c);
            assert_eq!(at_night[0].crossing.kind, Kind::ThermalBreak);
        }
    }
}
