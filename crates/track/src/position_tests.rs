use super::*;
use waterseam_units::geodesy::direct;

const ORIGIN: LatLon = LatLon { lat_deg: 46.2, lon_deg: -29.4 };

/// A boat that goes north at a speed, one fix a second.
fn north(n: usize, speed_mps: f64) -> (Vec<Fix>, Series) {
    let fix = |second: usize| {
        Fix::new(
            second as i64 * US_PER_S,
            crate::steady::Sender::default(),
            direct(ORIGIN, 0.0, second as f64 * speed_mps),
        )
    };
    let speeds = (0..n).map(|second| (second as i64 * US_PER_S, speed_mps)).collect();
    ((0..n).map(fix).collect(), speeds)
}

fn failed(mut fixes: Vec<Fix>, speeds: &Series) -> Vec<usize> {
    screen(&mut fixes, speeds, &Settings::default());
    (0..fixes.len()).filter(|&row| fixes[row].flag == Flag::Fail).collect()
}

#[test]
fn a_plain_track_passes() {
    let (fixes, speeds) = north(500, 10.0);
    assert!(failed(fixes, &speeds).is_empty());
}

#[test]
fn jumps_fail_and_nothing_else_does() {
    let (mut fixes, speeds) = north(500, 1.0);
    fixes[0].at = direct(fixes[0].at, 90.0, 3000.0);
    fixes[100].at = direct(fixes[100].at, 90.0, 30.0);
    for fix in &mut fixes[200..240] {
        fix.at = direct(fix.at, 200.0, 900.0);
    }
    fixes[499].at = direct(fixes[499].at, 0.0, 5000.0);
    let want: Vec<usize> = [0, 100].into_iter().chain(200..240).chain([499]).collect();
    assert_eq!(failed(fixes, &speeds), want);
}

#[test]
fn a_move_that_lasts_is_believed() {
    let (mut fixes, speeds) = north(2000, 1.0);
    for fix in &mut fixes[1000..] {
        fix.at = direct(fix.at, 90.0, 50_000.0);
    }
    assert!(failed(fixes, &speeds).is_empty());
}

#[test]
fn two_receivers_under_one_name_are_told_apart() {
    let (mut fixes, speeds) = north(601, 1.0);
    for fix in fixes.iter_mut().skip(1).step_by(2) {
        fix.at = direct(fix.at, 90.0, 700.0);
    }
    assert_eq!(failed(fixes, &speeds), (1..601).step_by(2).collect::<Vec<_>>());
}

#[test]
fn a_frozen_position_fails_while_the_boat_moves() {
    let (mut fixes, speeds) = north(300, 2.0);
    let stuck = fixes[100].at;
    for fix in &mut fixes[101..160] {
        fix.at = stuck;
    }
    assert_eq!(failed(fixes, &speeds), (101..160).collect::<Vec<_>>());
}

#[test]
fn a_boat_at_rest_is_not_frozen() {
    let (fixes, mut speeds) = north(3600, 0.0);
    speeds.values.fill(0.1);
    assert!(failed(fixes, &speeds).is_empty());
}

#[test]
fn a_receiver_without_a_fix_is_not_in_the_gulf_of_guinea() {
    let (mut fixes, speeds) = north(50, 1.0);
    for fix in &mut fixes[10..40] {
        fix.at = LatLon { lat_deg: 0.0, lon_deg: 0.0 };
    }
    assert_eq!(failed(fixes, &speeds), (10..40).collect::<Vec<_>>());
}

#[test]
fn hard_turns_at_speed_pass() {
    // a circle of 40 m radius at 12 m/s: 3.6 m/s² of acceleration
    let (mut fixes, speeds) = north(200, 12.0);
    for (second, fix) in fixes.iter_mut().enumerate() {
        fix.at = direct(ORIGIN, (second as f64 * 12.0 / 40.0).to_degrees(), 40.0);
    }
    assert!(failed(fixes, &speeds).is_empty());
}

#[test]
fn the_waters_of_the_home_port_end_where_the_captain_says() {
    let (mut fixes, speeds) = north(300, 10.0);
    let settings =
        Settings { home_port: Some(ORIGIN), farthest_from_home_m: Some(2_005.0), ..Settings::default() };
    screen(&mut fixes, &speeds, &settings);
    assert_eq!(fixes.iter().filter(|fix| fix.flag == Flag::Fail).count(), 99);
    let quality = quality(&fixes, &settings);
    let location = quality.tests.iter().find(|tally| tally.test == Test::Location).unwrap();
    assert_eq!((location.passed, location.failed), (201, 99));
}
