//! Where does the boat cross a line of the lake?

use waterseam_units::LatLon;
use waterseam_units::angle::turn_deg;

use crate::clock::Clock;
use crate::dice::round;
use crate::lake::{Lake, Line};
use crate::truth::{CrossingTruth, EdgeCrossingTruth};
use crate::voyage::Voyage;

/// Fronts weaker than this where the boat passes are no fronts there, °C.
const STEP_MIN_C: f64 = 0.05;

/// Crossings of all fronts, in order of time.
pub(crate) fn of_fronts(lake: &Lake, voyage: &Voyage, clock: Clock) -> Vec<CrossingTruth> {
    let mut found: Vec<CrossingTruth> = Vec::new();
    for (index, front) in lake.fronts.iter().enumerate() {
        let time_s = |second: usize| lake.time_s(clock.us(second as f64));
        for pass in passes(|second| front.line_at(time_s(second)), voyage) {
            let state = &voyage.states[pass.second];
            let step_c = front.step_at_c(state.point, time_s(pass.second));
            if step_c < STEP_MIN_C {
                continue;
            }
            found.push(CrossingTruth {
                front: index,
                time_us: clock.us(pass.second as f64 + pass.share),
                at: pass.at,
                distance_m: round(pass.distance_m, 2),
                step_c: round(pass.side * step_c, 3),
                width_m: round(front.width_along_track_m(pass.angle_deg), 1),
                angle_deg: round(pass.angle_deg, 1),
                course_deg: round(state.course_deg(), 1),
                sog_mps: round(state.sog_mps(), 3),
                trolling: voyage.trolling.contains(&pass.second),
                nearest_other_m: None,
            });
        }
    }
    found.sort_by_key(|crossing| crossing.time_us);
    let distances: Vec<f64> = found.iter().map(|crossing| crossing.distance_m).collect();
    for (i, crossing) in found.iter_mut().enumerate() {
        let before = (i > 0).then(|| distances[i] - distances[i - 1]);
        let after = distances.get(i + 1).map(|next| next - distances[i]);
        crossing.nearest_other_m = before.into_iter().chain(after).reduce(f64::min).map(|m| round(m, 1));
    }
    found
}

/// Crossings of the current edge, in order of time.
pub(crate) fn of_edge(lake: &Lake, voyage: &Voyage, clock: Clock) -> Vec<EdgeCrossingTruth> {
    let Some(edge) = lake.current.edge else { return Vec::new() };
    let (east_mps, north_mps) = edge.change_mps();
    passes(|_| edge.line, voyage)
        .into_iter()
        .map(|pass| EdgeCrossingTruth {
            time_us: clock.us(pass.second as f64 + pass.share),
            at: pass.at,
            distance_m: round(pass.distance_m, 2),
            east_change_mps: round(pass.side * east_mps, 4),
            north_change_mps: round(pass.side * north_mps, 4),
            width_m: round(edge.width_m / pass.angle_deg.to_radians().sin(), 1),
            angle_deg: round(pass.angle_deg, 1),
            trolling: voyage.trolling.contains(&pass.second),
        })
        .collect()
}

/// The boat from one side of a line to the other.
struct Pass {
    /// Last second on the old side, and the share of the next one until the line.
    second: usize,
    share: f64,
    at: LatLon,
    distance_m: f64,
    /// +1 toward the line's right, -1 toward its left.
    side: f64,
    angle_deg: f64,
}

fn passes(line_at: impl Fn(usize) -> Line, voyage: &Voyage) -> Vec<Pass> {
    let states = voyage.states.iter().enumerate();
    let across_m: Vec<f64> =
        states.map(|(second, state)| line_at(second).along_across_m(state.point).1).collect();
    let seconds = voyage.under_way.start..voyage.under_way.end.min(voyage.states.len() - 1);
    seconds
        .filter(|&second| (across_m[second] < 0.0) != (across_m[second + 1] < 0.0))
        .map(|second| {
            let (state, next) = (&voyage.states[second], &voyage.states[second + 1]);
            let share = across_m[second] / (across_m[second] - across_m[second + 1]);
            let point = state.point.between(next.point, share);
            let off_square_deg = turn_deg(line_at(second).right_deg(point), state.course_deg()).abs();
            let at = point.position();
            Pass {
                second,
                share,
                at: LatLon { lat_deg: round(at.lat_deg, 7), lon_deg: round(at.lon_deg, 7) },
                distance_m: state.distance_m + share * state.sog_mps(),
                side: if across_m[second + 1] > across_m[second] { 1.0 } else { -1.0 },
                angle_deg: (90.0 - off_square_deg).abs(),
            }
        })
        .collect()
}
