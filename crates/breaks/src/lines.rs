//! Which crossings belong to one break, and how does it lie?
//!
//! Crossings are joined in pairs, nearest first, into chains without forks; then chains and single crossings that fit
//! one line that drifts are joined to it. A pair may be joined where the segment
//! between the two is a possible piece of one front: the boat went from the cold to the warm side of that segment,
//! or back, in the same sense at both ends; the steps are alike; and so is the water in the middle of the step.

mod merge;

use waterseam_units::angle::{length_direction, turn_deg, wrap_deg};
use waterseam_units::geodesy::distance_m;
use waterseam_units::{LatLon, LocalFrame};

use self::merge::Chain;
use crate::drift::{Course, Sighting};
use crate::settings::Settings;
use crate::types::{BreakLine, Kind, PlacedCrossing};

/// Least angle between the course and the segment at a crossing, degrees: at less the boat ran along the front,
/// and which side is warm cannot be told from its course.
const LEAST_CROSSING_ANGLE_DEG: f64 = 10.0;
/// Greatest angle between two courses into the warm water over one place, degrees: a front crossed at 15° from
/// either side. Near 180° the two look at each other over different fronts.
const GREATEST_SPREAD_DEG: f64 = 150.0;
/// Greatest ratio of two steps of one break: strength varies along a front (common practice, no source).
const GREATEST_STEP_RATIO: f64 = 1.6;
/// Greatest difference between the temperatures in the middle of two crossings, °C, on top of a quarter of the smaller
/// step: a day's warming between two passes.
const GREATEST_MIDDLE_DIFFERENCE_C: f64 = 0.5;
/// Greatest turn of the line at a vertex, degrees: what bends more is two breaks.
const GREATEST_BEND_DEG: f64 = 75.0;
/// How far a line may have turned from the segment between two crossings by its drift between them, as a tangent: 15°.
const GREATEST_DRIFT_TURN: f64 = 0.27;
/// Usual speed of a drift across a line, m/s (common practice, no source).
const USUAL_DRIFT_MPS: f64 = 0.01;
/// Crossings nearer than this, m, and than their errors are one place: the direction between them is chance.
const SAME_PLACE_M: f64 = 50.0;

/// Joins crossings of the same break into lines, in the order of their first crossings.
///
/// A line has at least two crossings at different places. It lists them, as indices into `crossings`, from the end
/// with the earlier crossing to the other; `warm_side_deg` is the mean of the directions across its segments.
/// Crossings whose warm sides contradict are never joined.
pub fn lines(crossings: &[PlacedCrossing], settings: &Settings) -> Vec<BreakLine> {
    let Some(origin) = crossings.first().map(|c| c.at) else { return Vec::new() };
    let frame = LocalFrame::new(origin);
    let places = places(crossings, &frame);
    let chains = merge::merged(chains(&places, settings.greatest_join_m), &places, settings.greatest_join_m);
    let mut lines: Vec<BreakLine> =
        chains.iter().map(|chain| line(chain, &places, crossings, &frame)).collect();
    lines.sort_by_key(|line| line.crossings.iter().copied().min());
    lines
}

/// Crossings of one break at one place, as a point.
#[derive(Clone, Debug)]
struct Place {
    members: Vec<usize>,
    east_m: f64,
    north_m: f64,
    time_s: f64,
    centre_se_m: f64,
    /// Absolute step, mean.
    step_c: f64,
    middle_c: f64,
    /// Courses into the warm water.
    warm_courses_deg: Vec<f64>,
    /// When it was crossed, and whether into the warm water.
    passes: Vec<(f64, bool)>,
}

/// The course turned so that it leads into the warm water.
fn warm_course_deg(crossing: &PlacedCrossing) -> f64 {
    wrap_deg(crossing.course_deg + if crossing.crossing.step_c < 0.0 { 180.0 } else { 0.0 })
}

/// Crossings that lie within their errors of each other and agree, as one place each.
fn places(crossings: &[PlacedCrossing], frame: &LocalFrame) -> Vec<Place> {
    let mut places: Vec<Place> = Vec::new();
    // a front that was run along has no side ahead, and what may be a shadow was in no line
    let has_side = |c: &PlacedCrossing| !matches!(c.crossing.kind, Kind::RunAlong | Kind::MaybeShadow);
    for (i, crossing) in crossings.iter().enumerate().filter(|(_, c)| has_side(c)) {
        let (east_m, north_m) = frame.to_local(crossing.at);
        let c = &crossing.crossing;
        let (step_c, middle_c) = (c.step_c.abs(), 0.5 * (c.temp_before_c + c.temp_after_c));
        let new = Place {
            members: vec![i],
            east_m,
            north_m,
            time_s: c.time_s,
            centre_se_m: c.centre_se_m,
            step_c,
            middle_c,
            warm_courses_deg: vec![warm_course_deg(crossing)],
            passes: vec![(c.time_s, c.step_c > 0.0)],
        };
        let same = places.iter_mut().find(|place| {
            let near_m = SAME_PLACE_M.max(2.0 * c.centre_se_m);
            (place.east_m - east_m).hypot(place.north_m - north_m) < near_m
                && alike(place, &new, GREATEST_STEP_RATIO)
                && place
                    .warm_courses_deg
                    .iter()
                    .all(|w| turn_deg(*w, new.warm_courses_deg[0]).abs() < GREATEST_SPREAD_DEG)
        });
        let Some(place) = same else {
            places.push(new);
            continue;
        };
        place.members.push(i);
        place.warm_courses_deg.extend(new.warm_courses_deg);
        place.passes.extend(new.passes);
        let share = 1.0 / place.members.len() as f64;
        place.east_m += share * (east_m - place.east_m);
        place.north_m += share * (north_m - place.north_m);
        place.time_s += share * (c.time_s - place.time_s);
        place.step_c += share * (step_c - place.step_c);
        place.middle_c += share * (middle_c - place.middle_c);
    }
    places
}

/// Whether steps and temperatures may belong to one break: the greater step at most so many times the other.
fn alike(a: &Place, b: &Place, greatest_step_ratio: f64) -> bool {
    let (least_c, greatest_c) = (a.step_c.min(b.step_c), a.step_c.max(b.step_c));
    greatest_c <= greatest_step_ratio * least_c
        && (a.middle_c - b.middle_c).abs() <= GREATEST_MIDDLE_DIFFERENCE_C + 0.25 * least_c
}

/// A segment that may be a piece of a line.
struct Segment {
    from: usize,
    to: usize,
    length_m: f64,
    /// Direction from `from` to `to`, degrees.
    direction_deg: f64,
    /// Whether the warm water lies to the right of that direction.
    warm_right: bool,
}

fn segment(places: &[Place], from: usize, to: usize) -> Option<Segment> {
    let (a, b) = (&places[from], &places[to]);
    let (length_m, direction_deg) = length_direction(b.east_m - a.east_m, b.north_m - a.north_m);
    let direction_deg = direction_deg?;
    let least_sine = LEAST_CROSSING_ANGLE_DEG.to_radians().sin();
    let warm_courses_deg = || a.warm_courses_deg.iter().chain(&b.warm_courses_deg);
    // sine of the turn from the segment to the warm course: positive to the right
    let to_right = |warm_deg: &f64| turn_deg(direction_deg, *warm_deg).to_radians().sin();
    let warm_right = warm_courses_deg().all(|w| to_right(w) >= least_sine);
    let warm_left = warm_courses_deg().all(|w| to_right(w) <= -least_sine);
    let drifted_m = USUAL_DRIFT_MPS * (a.time_s - b.time_s).abs();
    let is_told = drifted_m <= GREATEST_DRIFT_TURN * length_m;
    (is_told && alike(a, b, GREATEST_STEP_RATIO) && (warm_right || warm_left)).then_some(Segment {
        from,
        to,
        length_m,
        direction_deg,
        warm_right,
    })
}

/// Chains of places, each joined to at most two others, shortest segments first.
fn chains(places: &[Place], greatest_join_m: f64) -> Vec<Vec<usize>> {
    let mut segments: Vec<Segment> = (0..places.len())
        .flat_map(|i| (i + 1..places.len()).map(move |j| (i, j)))
        .filter_map(|(i, j)| segment(places, i, j))
        .filter(|s| s.length_m <= greatest_join_m)
        .collect();
    segments.sort_by(|a, b| a.length_m.total_cmp(&b.length_m).then((a.from, a.to).cmp(&(b.from, b.to))));

    let mut chains: Vec<Vec<usize>> = (0..places.len()).map(|i| vec![i]).collect();
    for segment in &segments {
        let chain_of = |place: usize| chains.iter().position(|c| c.contains(&place));
        let (Some(first), Some(second)) = (chain_of(segment.from), chain_of(segment.to)) else { continue };
        if first == second {
            continue;
        }
        let joined = [
            [chains[first].clone(), chains[second].clone()].concat(),
            [reversed(&chains[first]), chains[second].clone()].concat(),
            [chains[first].clone(), reversed(&chains[second])].concat(),
            [reversed(&chains[first]), reversed(&chains[second])].concat(),
        ]
        .into_iter()
        .find(|chain| has_link(chain, segment) && is_line(chain, places));
        if let Some(chain) = joined {
            chains[first] = chain;
            chains.remove(second);
        }
    }
    chains
}

fn reversed(chain: &[usize]) -> Vec<usize> {
    chain.iter().rev().copied().collect()
}

fn has_link(chain: &[usize], segment: &Segment) -> bool {
    chain
        .windows(2)
        .any(|w| (w[0], w[1]) == (segment.from, segment.to) || (w[1], w[0]) == (segment.from, segment.to))
}

/// Whether a chain bends gently and has its warm water on one side all along.
fn is_line(chain: &[usize], places: &[Place]) -> bool {
    let Some(segments) = segments_of(chain, places) else { return false };
    alternates(chain, places)
        && segments.windows(2).all(|w| {
            w[0].warm_right == w[1].warm_right
                && turn_deg(w[0].direction_deg, w[1].direction_deg).abs() <= GREATEST_BEND_DEG
        })
}

/// Whether the boat went into the warm water and out of it in turn: who crosses two lines of which the second is
/// warmer still goes in twice. Of a chain that still grows, the way back may lie over a place that it does not have yet.
fn alternates(members: &[usize], places: &[Place]) -> bool {
    let mut passes: Vec<(f64, bool, usize)> = members
        .iter()
        .flat_map(|&place| {
            places[place].passes.iter().map(move |&(time_s, into_warm)| (time_s, into_warm, place))
        })
        .collect();
    passes.sort_by(|a, b| a.0.total_cmp(&b.0));
    let returned = |from_s: f64, to_s: f64, into_warm: bool, like: &Place| {
        let is_return = |pass: &(f64, bool)| pass.1 != into_warm && from_s < pass.0 && pass.0 < to_s;
        places
            .iter()
            .any(|place| alike(place, like, GREATEST_STEP_RATIO) && place.passes.iter().any(is_return))
    };
    passes.windows(2).all(|pair| {
        let ((from_s, into_warm, place), (to_s, again, _)) = (pair[0], pair[1]);
        into_warm != again || returned(from_s, to_s, into_warm, &places[place])
    })
}

fn segments_of(chain: &[usize], places: &[Place]) -> Option<Vec<Segment>> {
    chain.windows(2).map(|w| segment(places, w[0], w[1])).collect()
}

fn line(chain: &Chain, places: &[Place], crossings: &[PlacedCrossing], frame: &LocalFrame) -> BreakLine {
    let members: Vec<usize> =
        chain.places.iter().flat_map(|&place| places[place].members.iter().copied()).collect();
    let sightings: Vec<Sighting> =
        members.iter().map(|&i| sighting(&crossings[i], chain.warm_deg, frame)).collect();
    let course = Course::new(&sightings, frame.to_position(0.0, 0.0));
    let last_s = sightings.iter().map(|s| s.time_s).fold(f64::NEG_INFINITY, f64::max);
    let vertices: Vec<LatLon> = course.as_ref().map(|course| course.at(last_s)).unwrap_or_default();
    let warm_side_deg = course.as_ref().map_or(chain.warm_deg, |course| course.side_deg(chain.warm_deg));
    let steps_c = members.iter().map(|&i| crossings[i].crossing.step_c.abs());
    BreakLine {
        step_c: steps_c.sum::<f64>() / members.len() as f64,
        length_m: vertices.windows(2).map(|w| distance_m(w[0], w[1])).sum(),
        warm_side_deg,
        crossings: members,
        vertices,
        course,
    }
}

/// Where a crossing saw the line, and how far across it that may be wrong.
fn sighting(placed: &PlacedCrossing, warm_deg: f64, frame: &LocalFrame) -> Sighting {
    let (east_m, north_m) = frame.to_local(placed.at);
    let across = turn_deg(placed.course_deg, warm_deg).to_radians().cos().abs();
    Sighting { east_m, north_m, time_s: placed.crossing.time_s, se_m: across * placed.crossing.centre_se_m }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::types::Crossing;
    use proptest::prelude::*;
    use waterseam_units::angle::east_north;

    /// A crossing at metres from an origin in open ocean.
    fn crossing(east_m: f64, north_m: f64, course_deg: f64, step_c: f64) -> PlacedCrossing {
        let frame = LocalFrame::new(LatLon { lat_deg: 46.2, lon_deg: -29.4 });
        PlacedCrossing::new(
            Crossing {
                time_s: 0.0,
                distance_m: 0.0,
                temp_before_c: 12.0 - 0.5 * step_c,
                temp_after_c: 12.0 + 0.5 * step_c,
                step_c,
                width_m: 80.0,
                gradient_c_per_km: 20.0,
                centre_se_m: 5.0,
                step_se_c: 0.05,
                p_value: 1e-9,
                gap_m: 0.0,
                kind: Kind::ThermalBreak,
            },
            frame.to_position(east_m, north_m),
            course_deg,
        )
    }

    #[test]
    fn five_passes_over_a_straight_front_are_one_line() {
        // the front runs along 60°, warm to the south-east of it (150°)
        let crossings: Vec<PlacedCrossing> = (0..5)
            .map(|i| {
                let (e, n) = east_north(600.0 * f64::from(i), 60.0);
                // out over the front at 45° to it, back at 45°
                let (course, step) = if i % 2 == 0 { (105.0, 1.6) } else { (15.0, -1.4) };
                crossing(e, n, course, step)
            })
            .collect();
        let lines = lines(&crossings, &Settings::default());
        assert_eq!(lines.len(), 1, "{lines:?}");
        assert_eq!(lines[0].crossings, [0, 1, 2, 3, 4]);
        assert!((lines[0].length_m - 2_400.0).abs() < 5.0);
        assert!((lines[0].step_c - 1.52).abs() < 1e-9);
        assert!(turn_deg(lines[0].warm_side_deg, 150.0).abs() < 0.5);
    }

    #[test]
    fn a_zig_zag_out_and_home_over_one_front_is_one_line() {
        // as a spring trip met it: the neighbours along the front were all crossed in the same sense, hours apart
        let placed = |(north_m, course_deg, step_c): (f64, f64, f64), time_s: f64| {
            let mut placed = crossing(2.5e-5 * north_m * north_m, north_m, course_deg, step_c);
            placed.crossing.time_s = time_s;
            placed
        };
        let crossings = [
            placed((1_937.0, 229.0, -2.6), 0.0),
            placed((902.0, 125.0, 2.6), 1_600.0),
            placed((-146.0, 226.0, -2.6), 3_300.0),
            placed((-1_161.0, 126.0, 2.6), 4_900.0),
            placed((-1_815.0, 309.0, -2.7), 7_300.0),
            placed((-825.0, 49.0, 2.6), 8_700.0),
            placed((243.0, 305.0, -2.7), 10_300.0),
            placed((1_263.0, 48.0, 2.8), 11_800.0),
        ];
        let lines = lines(&crossings, &Settings::default());
        assert_eq!(lines.len(), 1, "{lines:?}");
        assert_eq!(lines[0].crossings, [0, 7, 1, 6, 2, 5, 3, 4]);
    }

    #[test]
    fn two_steps_up_one_after_the_other_are_two_lines() {
        // weak ones, so that the water does not tell them apart; out over both and back over both
        let placed = |(east_m, north_m, course_deg, step_c): (f64, f64, f64, f64), time_s: f64| {
            let mut placed = crossing(east_m, north_m, course_deg, step_c);
            placed.crossing.time_s = time_s;
            placed
        };
        let crossings = [
            placed((0.0, 0.0, 0.0, 0.6), 0.0),
            placed((100.0, 900.0, 0.0, 0.6), 800.0),
            placed((1_000.0, 900.0, 180.0, -0.6), 3_000.0),
            placed((900.0, 0.0, 180.0, -0.6), 3_800.0),
        ];
        let lines = lines(&crossings, &Settings::default());
        assert_eq!(lines.iter().map(|line| line.crossings.clone()).collect::<Vec<_>>(), [[0, 3], [1, 2]]);
    }

    #[test]
    fn a_filament_of_warm_water_is_two_lines() {
        // two parallel edges, 300 m apart, warm between them; crossed there and back again 500 m on
        let crossings = [
            crossing(0.0, 0.0, 0.0, 1.5),
            crossing(0.0, 300.0, 0.0, -1.5),
            crossing(500.0, 300.0, 180.0, 1.5),
            crossing(500.0, 0.0, 180.0, -1.5),
        ];
        let lines = lines(&crossings, &Settings::default());
        assert_eq!(lines.len(), 2);
        assert_eq!(lines[0].crossings, [0, 3]);
        assert_eq!(lines[1].crossings, [1, 2]);
        assert!(turn_deg(lines[0].warm_side_deg, 0.0).abs() < 0.5);
        assert!(turn_deg(lines[1].warm_side_deg, 180.0).abs() < 0.5);
    }

    #[test]
    fn crossings_that_differ_stay_apart() {
        let settings = Settings::default();
        let base = crossing(0.0, 0.0, 0.0, 1.0);
        assert!(lines(&[], &settings).is_empty());
        assert!(lines(std::slice::from_ref(&base), &settings).is_empty());
        let contradicting = crossing(500.0, 0.0, 0.0, -1.0);
        assert!(lines(&[base.clone(), contradicting], &settings).is_empty());
        let stronger = crossing(500.0, 0.0, 0.0, 4.0);
        assert!(lines(&[base.clone(), stronger], &settings).is_empty());
        let far = crossing(9_000.0, 0.0, 0.0, 1.0);
        assert!(lines(&[base.clone(), far], &settings).is_empty());
        let same_place = crossing(5.0, 3.0, 20.0, 1.0);
        assert!(lines(&[base, same_place], &settings).is_empty(), "one place is no line");
    }

    proptest! {
        #[test]
        fn no_line_contradicts_itself(
            rows in prop::collection::vec((-3e3f64..3e3, -3e3f64..3e3, 0f64..360.0, -3f64..3.0), 0..14),
        ) {
            let crossings: Vec<PlacedCrossing> = rows
                .into_iter()
                .map(|(e, n, course, step)| crossing(e, n, course, if step.abs() < 0.5 { 0.5 } else { step }))
                .collect();
            let lines = lines(&crossings, &Settings::default());
            let mut is_used = vec![false; crossings.len()];
            for line in &lines {
                prop_assert!(line.crossings.len() >= 2 && line.vertices.len() >= 2);
                prop_assert!(line.length_m.is_finite() && (0.0..360.0).contains(&line.warm_side_deg));
                for &i in &line.crossings {
                    prop_assert!(!std::mem::replace(&mut is_used[i], true), "crossing {} is in two lines", i);
                }
                if let [a, b] = line.crossings[..] {
                    for i in [a, b] {
                        let off = turn_deg(line.warm_side_deg, warm_course_deg(&crossings[i])).abs();
                        prop_assert!(off < 90.0);
                    }
                }
            }
        }
    }
}
