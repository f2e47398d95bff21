//! Did the boat run along a front rather than across it?
//!
//! Who follows a front wanders over it again and again. That is one front run along, and not as many breaks.

use waterseam_units::LocalFrame;
use waterseam_units::angle::{length_direction, turn_deg};

use crate::types::{Crossing, Kind, PlacedCrossing};

/// Fewest crossings of a run along: two are a look at a front and back.
const LEAST_CROSSINGS: usize = 3;
/// Longest way between two of them, m: half an hour of trolling along a front without touching it is leaving it.
const GREATEST_BETWEEN_M: f64 = 2_000.0;
/// Greatest angle between the course at each crossing and the way from the first to the last, degrees. Who works a
/// front in a zig-zag crosses it at more.
const GREATEST_ANGLE_DEG: f64 = 25.0;
/// Shortest way from the first to the last, m: less has no direction.
const LEAST_LENGTH_M: f64 = 150.0;
/// Greatest ratio of the steps.
const GREATEST_STEP_RATIO: f64 = 2.5;

/// The crossings with every run along a front as one, of kind [`Kind::RunAlong`], in order of time.
///
/// Of such a one, place and time are the middle of the run, `run` is its way and `width_m` its length along the track; the levels are
/// the means of its cold and its warm side in the order in which they were first met, and errors and p-value those of
/// its clearest crossing.
pub fn with_runs_along(crossings: &[PlacedCrossing]) -> Vec<PlacedCrossing> {
    let mut found = Vec::new();
    let mut from = 0;
    while from < crossings.len() {
        let longest =
            (from + LEAST_CROSSINGS..=crossings.len()).rev().find(|&to| is_along(&crossings[from..to]));
        if let Some(to) = longest {
            found.push(as_one(&crossings[from..to]));
            from = to;
        } else {
            found.push(crossings[from].clone());
            from += 1;
        }
    }
    found
}

fn is_along(run: &[PlacedCrossing]) -> bool {
    let (first, last) = (&run[0], &run[run.len() - 1]);
    let (east_m, north_m) = LocalFrame::new(first.at).to_local(last.at);
    let (length_m, Some(direction_deg)) = length_direction(east_m, north_m) else { return false };
    let lies_along = |placed: &PlacedCrossing| {
        let off_deg = turn_deg(direction_deg, placed.course_deg).abs();
        off_deg.min(180.0 - off_deg) <= GREATEST_ANGLE_DEG
    };
    let steps_c = || run.iter().map(|placed| placed.crossing.step_c.abs());
    let (least_c, greatest_c) = (steps_c().fold(f64::INFINITY, f64::min), steps_c().fold(0.0, f64::max));
    length_m >= LEAST_LENGTH_M
        && greatest_c <= GREATEST_STEP_RATIO * least_c
        && run.iter().all(lies_along)
        && run.windows(2).all(|pair| {
            let (a, b) = (&pair[0].crossing, &pair[1].crossing);
            (a.step_c > 0.0) != (b.step_c > 0.0) && b.distance_m - a.distance_m <= GREATEST_BETWEEN_M
        })
}

fn as_one(run: &[PlacedCrossing]) -> PlacedCrossing {
    let (first, last) = (&run[0], &run[run.len() - 1]);
    let clearest =
        run.iter().fold(
            first,
            |best, placed| {
                if placed.crossing.p_value < best.crossing.p_value { placed } else { best }
            },
        );
    let middle = &run[run.len() / 2];
    let mean = |of: fn(&Crossing) -> f64| {
        run.iter().map(|placed| of(&placed.crossing)).sum::<f64>() / run.len() as f64
    };
    let cold_c = mean(|c| c.temp_before_c.min(c.temp_after_c));
    let warm_c = mean(|c| c.temp_before_c.max(c.temp_after_c));
    let into_warm = first.crossing.step_c > 0.0;
    let (temp_before_c, temp_after_c) = if into_warm { (cold_c, warm_c) } else { (warm_c, cold_c) };
    PlacedCrossing {
        crossing: Crossing {
            temp_before_c,
            temp_after_c,
            step_c: temp_after_c - temp_before_c,
            width_m: last.crossing.distance_m - first.crossing.distance_m,
            kind: Kind::RunAlong,
            time_s: middle.crossing.time_s,
            distance_m: middle.crossing.distance_m,
            ..clearest.crossing
        },
        run: run.iter().map(|placed| placed.at).collect(),
        at: middle.at,
        course_deg: middle.course_deg,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use waterseam_units::LatLon;

    /// Crossings every 300 m along 60°, with a course that swings about it by some degrees.
    fn run(n: u32, swing_deg: f64) -> Vec<PlacedCrossing> {
        let frame = LocalFrame::new(LatLon { lat_deg: 46.2, lon_deg: -29.4 });
        (0..n)
            .map(|i| {
                let (e, n) = waterseam_units::angle::east_north(300.0 * f64::from(i), 60.0);
                let sign = if i % 2 == 0 { 1.0 } else { -1.0 };
                PlacedCrossing::new(
                    Crossing {
                        time_s: 250.0 * f64::from(i),
                        distance_m: 310.0 * f64::from(i),
                        temp_before_c: 12.0 - 0.7 * sign,
                        temp_after_c: 12.0 + 0.7 * sign,
                        step_c: 1.4 * sign,
                        width_m: 200.0,
                        gradient_c_per_km: 8.0,
                        centre_se_m: 10.0,
                        step_se_c: 0.1,
                        p_value: 1e-6,
                        gap_m: 0.0,
                        kind: Kind::ThermalBreak,
                    },
                    frame.to_position(e, n),
                    60.0 + sign * swing_deg,
                )
            })
            .collect()
    }

    #[test]
    fn ten_crossings_along_a_front_are_one() {
        let crossings = run(10, 12.0);
        let found = with_runs_along(&crossings);
        assert_eq!(found.len(), 1, "{found:?}");
        assert_eq!(found[0].way(), crossings.iter().map(|placed| placed.at).collect::<Vec<_>>());
        let one = &found[0].crossing;
        assert_eq!(one.kind, Kind::RunAlong);
        assert!((one.width_m - 2_790.0).abs() < 1.0 && (one.step_c - 1.4).abs() < 1e-9, "{one:?}");
    }

    #[test]
    fn a_zig_zag_over_a_front_stays_what_it_is() {
        let zig_zag = run(10, 45.0);
        assert_eq!(with_runs_along(&zig_zag), zig_zag);
        let two = run(2, 10.0);
        assert_eq!(with_runs_along(&two), two);
        assert!(with_runs_along(&[]).is_empty());
    }
}
