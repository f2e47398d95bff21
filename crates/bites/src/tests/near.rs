use super::*;
use crate::{NearBreak, Side, nearest_break};

fn near(
    crossings: &[PlacedCrossing],
    lines: &[BreakLine],
    at: (f64, f64),
    second: i64,
    temp_c: Option<f64>,
) -> NearBreak {
    let breaks = Breaks { zero_us: START_US, crossings, lines };
    let at = frame().to_position(at.0, at.1);
    nearest_break(&breaks, at, START_US + second * SECOND_US, temp_c).expect("a break")
}

fn check(got: NearBreak, distance_m: f64, side: Option<Side>) {
    assert!((got.distance_m - distance_m).abs() < 0.01 * distance_m, "{} m", got.distance_m);
    assert_eq!(got.side, side);
}

#[test]
fn without_breaks_there_is_none() {
    assert_eq!(nearest_break(&NO_BREAKS, frame().to_position(0.0, 0.0), START_US, Some(15.0)), None);
}

#[test]
fn the_track_tells_the_side_before_and_after_a_crossing() {
    let crossings = [crossing(1000.0, 3.0), crossing(3000.0, -3.0)];
    check(near(&crossings, &[], (0.0, 800.0), 800, None), 200.0, Some(Side::Cold));
    check(near(&crossings, &[], (0.0, 1300.0), 1300, None), 300.0, Some(Side::Warm));
    check(near(&crossings, &[], (0.0, 2900.0), 2900, None), 100.0, Some(Side::Warm));
    check(near(&crossings, &[], (0.0, 3400.0), 3400, None), 400.0, Some(Side::Cold));
}

#[test]
fn the_surface_tells_where_another_crossing_lies_between() {
    // much later the boat is back beside the first crossing, having crossed elsewhere in between
    let mut elsewhere = crossing(3000.0, -3.0);
    elsewhere.at = frame().to_position(2000.0, 1000.0);
    let crossings = [crossing(1000.0, 3.0), elsewhere];
    check(near(&crossings, &[], (50.0, 1000.0), 5000, Some(17.9)), 50.0, Some(Side::Warm));
    check(near(&crossings, &[], (50.0, 1000.0), 5000, Some(15.2)), 50.0, Some(Side::Cold));
    check(near(&crossings, &[], (50.0, 1000.0), 5000, None), 50.0, None);
}

#[test]
fn beside_a_front_that_was_run_along_the_surface_tells_the_side() {
    let mut along = crossing(1000.0, 3.0);
    along.crossing.kind = waterseam_breaks::Kind::RunAlong;
    let crossings = [along];
    check(near(&crossings, &[], (0.0, 1300.0), 1300, Some(15.2)), 300.0, Some(Side::Cold));
    check(near(&crossings, &[], (0.0, 1300.0), 1300, None), 300.0, None);
}

#[test]
fn a_front_that_was_run_along_is_near_all_along_its_way() {
    let mut along = crossing(1000.0, 3.0);
    along.crossing.kind = waterseam_breaks::Kind::RunAlong;
    along.run =
        [(-1500.0, 1000.0), (0.0, 1000.0), (900.0, 1300.0)].map(|(e, n)| frame().to_position(e, n)).to_vec();
    let crossings = [along];
    check(near(&crossings, &[], (-1200.0, 880.0), 1300, Some(15.2)), 120.0, Some(Side::Cold));
    check(near(&crossings, &[], (450.0, 1250.0), 1300, None), 100.0 * 900.0 / 900.0_f64.hypot(300.0), None);
    check(near(&crossings, &[], (-1500.0, 1200.0), 1300, None), 200.0, None);
}

#[test]
fn what_may_be_a_shadow_is_no_break_to_be_near() {
    let mut shadow = crossing(1000.0, -0.6);
    shadow.crossing.kind = waterseam_breaks::Kind::MaybeShadow;
    check(near(&[shadow, crossing(3000.0, -3.0)], &[], (0.0, 1300.0), 1300, None), 1700.0, Some(Side::Warm));
}

#[test]
fn a_break_line_is_nearer_than_its_crossings() {
    // the line runs east from the crossing, warm water to the north
    let crossings = [crossing(1000.0, 3.0)];
    let lines = [line(&[(0.0, 1000.0), (2000.0, 1000.0)], &[0], 0.0)];
    check(near(&crossings, &lines, (1500.0, 900.0), 500, None), 100.0, Some(Side::Cold));
    check(near(&crossings, &lines, (1500.0, 1100.0), 2000, None), 100.0, Some(Side::Warm));
    check(near(&crossings, &lines, (2300.0, 1000.0 + 400.0), 2500, None), 500.0, Some(Side::Warm));
}

#[test]
fn the_side_of_a_line_that_was_crossed_long_ago() {
    let mut elsewhere = crossing(3000.0, -3.0);
    elsewhere.at = frame().to_position(9000.0, 9000.0);
    let crossings = [crossing(1000.0, 3.0), elsewhere];
    let lines = [line(&[(0.0, 1000.0), (2000.0, 1000.0)], &[0], 0.0)];
    check(near(&crossings, &lines, (1000.0, 1060.0), 5000, None), 60.0, Some(Side::Warm));
    check(near(&crossings, &lines, (1000.0, 940.0), 5000, None), 60.0, Some(Side::Cold));
}
