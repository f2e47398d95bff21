use super::*;

/// A probe that goes through `(time_s, depth_m)` in straight lines, sampled every second; 18 °C above 10 m, 8 below.
fn log(points: &[(f64, f64)]) -> Vec<Sample> {
    let mut samples = Vec::new();
    for pair in points.windows(2) {
        let ((t0, z0), (t1, z1)) = (pair[0], pair[1]);
        let n = (t1 - t0) as usize;
        samples.extend((0..n).map(|i| {
            let depth_m = z0 + (z1 - z0) * i as f64 / n as f64;
            let temp_c = if depth_m < 10.0 { 18.0 } else { 8.0 };
            Sample { time_s: t0 + i as f64, depth_m, temp_c }
        }));
    }
    samples
}

/// Time, shallowest and deepest bin of each profile.
fn found(points: &[(f64, f64)]) -> Vec<(f64, f64, f64)> {
    let profiles = profiles(&log(points), &Settings::default());
    profiles.iter().map(|p| (p.time_s, p.bins[0].depth_m, p.bins[p.bins.len() - 1].depth_m)).collect()
}

#[test]
fn down_and_up_are_one_profile() {
    let [(time_s, top_m, deepest_m)] = found(&[(0.0, 0.0), (60.0, 30.0), (120.0, 0.0)])[..] else {
        panic!("one profile")
    };
    assert!((time_s - 60.0).abs() < 2.0 && top_m == 0.0 && deepest_m == 30.0);
}

#[test]
fn a_long_soak_makes_two() {
    assert_eq!(found(&[(0.0, 0.0), (60.0, 30.0), (3600.0, 30.0), (3660.0, 0.0)]).len(), 2);
}

#[test]
fn resetting_the_line_makes_one_profile_each_time() {
    let towed = [(0.0, 15.0), (1800.0, 15.0), (1830.0, 0.0), (1950.0, 0.0), (1990.0, 20.0), (3600.0, 20.0)];
    let [(time_s, top_m, deepest_m)] = found(&towed)[..] else { panic!("one profile") };
    assert!((1850.0..1990.0).contains(&time_s) && top_m == 0.0 && deepest_m == 20.0);
}

#[test]
fn a_stop_on_the_way_down_parts_two_casts() {
    let towed = [(0.0, 0.0), (30.0, 12.0), (1800.0, 12.0), (1830.0, 25.0)];
    let [(_, first_top, first_deepest), (_, second_top, second_deepest)] = found(&towed)[..] else {
        panic!("two profiles")
    };
    assert_eq!((first_top, first_deepest), (0.0, 12.0));
    assert!((12.0..=12.5).contains(&second_top) && second_deepest >= 24.5);
}

#[test]
fn a_line_that_creeps_deeper_makes_a_towed_profile() {
    let [(_, top_m, deepest_m)] = found(&[(0.0, 8.0), (3600.0, 16.0)])[..] else { panic!("one profile") };
    assert_eq!((top_m, deepest_m), (8.0, 16.0));
}

#[test]
fn a_probe_that_hangs_at_one_depth_makes_none() {
    assert_eq!(found(&[(0.0, 15.0), (7200.0, 15.0)]), []);
    assert_eq!(found(&[]), []);
}

#[test]
fn a_gap_ends_a_cast() {
    let mut samples = log(&[(0.0, 0.0), (4.0, 2.0)]);
    samples.extend(log(&[(5000.0, 20.0), (5004.0, 18.0)]));
    assert_eq!(profiles(&samples, &Settings::default()), []);
}

#[test]
fn order_and_broken_samples_do_not_matter() {
    let samples = log(&[(0.0, 0.0), (60.0, 30.0), (120.0, 0.0)]);
    let mut shuffled: Vec<Sample> = samples.iter().rev().copied().collect();
    shuffled.push(Sample { time_s: 30.0, depth_m: f64::NAN, temp_c: 4.0 });
    let settings = Settings::default();
    assert_eq!(profiles(&shuffled, &settings), profiles(&samples, &settings));
}
