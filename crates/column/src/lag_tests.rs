//! Probes of known lag in water that heaves.

use proptest::prelude::*;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};

use super::*;
use crate::{layers, profiles};

// Written before anything was tuned.
/// Errors of the lag beyond two standard errors, in percent of the probes, at most: of ten casts Student's t with nine
/// degrees of freedom leaves 7.7 % outside.
const BEYOND_TWO_SE_PERCENT: f64 = 12.0;
/// Probes without any lag that are given one, in percent, at most.
const INVENTED_PERCENT: f64 = 2.0;
/// Probes of 3 s to 12 s whose lag is found, in percent, at least.
const FOUND_PERCENT: f64 = 90.0;
/// The error of temperatures of lone casts through the thermocline falls to this part, or less.
const ERROR_PART: f64 = 0.5;

/// Seeds of the figures above; others were for writing the test.
const SEEDS: std::ops::Range<u64> = 5400..5550;

const SURFACE_C: f64 = 19.0;
const DEEP_C: f64 = 6.0;

/// Steps of the water that the sensor feels: short beside every lag, or the simulated sensor is another one.
const STEP_S: f64 = 0.05;
const STEPS_A_SAMPLE: i32 = 20;
const STEPS: i32 = 2000;

fn water_c(depth_m: f64, thermocline_m: f64) -> f64 {
    let part = 0.5 * (1.0 - ((depth_m - thermocline_m) / 2.5).tanh());
    DEEP_C + (SURFACE_C - DEEP_C) * part
}

/// Ten casts to 25 m at half a metre a second with half an hour between them. The thermocline heaves by decimetres
/// within a cast and by metres between them; swell moves the probe; the sensor has noise.
fn log(lag_s: f64, seed: u64) -> Vec<Sample> {
    let mut dice = ChaCha8Rng::seed_from_u64(seed);
    let mut normal = || -> f64 { StandardNormal.sample(&mut dice) };
    let mut samples = Vec::new();
    for cast in 0..10 {
        let middle_m = 12.0 + normal();
        let heave_m = 0.3 * normal();
        let (mut felt_c, response) = (None, if lag_s > 0.0 { 1.0 - (-STEP_S / lag_s).exp() } else { 1.0 });
        for step in 0..STEPS {
            let second = STEP_S * f64::from(step);
            let way = second / 50.0 - 1.0;
            let depth_m = (25.0 * (1.0 - way.abs()) + 0.15 * (second * 1.3).sin()).max(0.0);
            let here_c = water_c(depth_m, middle_m + 0.5 * heave_m * way);
            let before_c = felt_c.unwrap_or(here_c);
            let now_c = before_c + response * (here_c - before_c);
            felt_c = Some(now_c);
            if step % STEPS_A_SAMPLE == 0 {
                samples.push(Sample {
                    time_s: 1800.0 * f64::from(cast) + second,
                    depth_m: (depth_m + 0.05 * normal()).max(0.0),
                    temp_c: now_c + 0.02 * normal(),
                });
            }
        }
    }
    samples
}

#[test]
fn lags_are_found_with_honest_errors_and_none_is_invented() {
    let settings = Settings::default();
    let (mut beyond, mut found, mut invented) = (0, 0, 0);
    for seed in SEEDS {
        let truth_s = ChaCha8Rng::seed_from_u64(seed).random_range(3.0..12.0);
        let lag = thermometer_lag(&log(truth_s, seed), &settings).unwrap();
        assert_eq!(lag.casts, 10);
        beyond += usize::from((lag.lag_s - truth_s).abs() > 2.0 * lag.lag_se_s);
        found += usize::from(lag.is_sure(&settings));
        let none = thermometer_lag(&log(0.0, seed), &settings);
        invented += usize::from(none.is_some_and(|lag| lag.is_sure(&settings)));
    }
    let percent = |n: usize| 100.0 * n as f64 / SEEDS.count() as f64;
    let [beyond, found, invented] = [beyond, found, invented].map(percent);
    println!("lag: {beyond:.1} % beyond, {found:.1} % found, {invented:.1} % invented");
    assert!(beyond <= BEYOND_TWO_SE_PERCENT && found >= FOUND_PERCENT && invented <= INVENTED_PERCENT);
}

/// Mean square errors of lone casts down: of temperatures through the thermocline, and of its depth.
#[derive(Default)]
struct Errors {
    temp_c2: f64,
    bins: f64,
    thermocline_m2: f64,
    casts: f64,
}

#[test]
fn lone_casts_come_out_right_where_the_lag_is_taken_out() {
    let mut errors = [Errors::default(), Errors::default()];
    for seed in SEEDS {
        let truth_s = ChaCha8Rng::seed_from_u64(seed).random_range(3.0..12.0);
        let all = log(truth_s, seed);
        let plain = Settings::default();
        let lag = thermometer_lag(&all, &plain).unwrap();
        let corrected = Settings { lag_s: lag.lag_s, ..plain.clone() };
        // the way down of the first cast alone; its thermocline lies where the seed's first numbers put it
        let down = &all[..50];
        let mut dice = ChaCha8Rng::seed_from_u64(seed);
        let mut normal = || -> f64 { StandardNormal.sample(&mut dice) };
        let (middle_m, heave_m) = (12.0 + normal(), 0.3 * normal());
        let at_m = middle_m - 0.25 * heave_m;
        // in fresh water the steepest density lies above the steepest temperature
        let exact: Vec<Sample> =
            down.iter().map(|s| Sample { temp_c: water_c(s.depth_m, at_m), ..*s }).collect();
        let true_m = layers(&profiles(&exact, &plain)[0], None, 0.0, &plain).thermocline_depth_m.unwrap();
        for (settings, errors) in [&corrected, &plain].into_iter().zip(&mut errors) {
            let found = profiles(down, settings);
            let [profile] = &found[..] else { panic!("one profile") };
            for bin in profile.bins.iter().filter(|bin| (7.0..17.0).contains(&bin.depth_m)) {
                errors.temp_c2 += (bin.temp_c - water_c(bin.depth_m, at_m)).powi(2);
                errors.bins += 1.0;
            }
            let thermocline_m = layers(profile, None, 0.0, settings).thermocline_depth_m.unwrap();
            errors.thermocline_m2 += (thermocline_m - true_m).powi(2);
            errors.casts += 1.0;
        }
    }
    let [(with_c, with_m), (without_c, without_m)] =
        errors.map(|e| ((e.temp_c2 / e.bins).sqrt(), (e.thermocline_m2 / e.casts).sqrt()));
    println!(
        "lone casts: {with_c:.2} °C, with the lag left in {without_c:.2} °C; thermocline {with_m:.2} m, with it {without_m:.2} m"
    );
    assert!(with_c <= ERROR_PART * without_c && with_m <= ERROR_PART * without_m);
}

#[test]
fn too_few_casts_or_water_without_layers_tell_nothing() {
    let settings = Settings::default();
    assert_eq!(thermometer_lag(&[], &settings), None);
    assert_eq!(thermometer_lag(&log(5.0, 1)[..300], &settings), None);
    let mixed: Vec<Sample> =
        log(5.0, 1).into_iter().map(|s| Sample { temp_c: 12.0 + 0.01 * s.temp_c, ..s }).collect();
    assert_eq!(thermometer_lag(&mixed, &settings), None);
}

proptest! {
    #[test]
    fn any_samples_give_a_lag_or_none(
        rows in prop::collection::vec((0f64..5000.0, -1f64..40.0, -2f64..30.0), 0..200),
    ) {
        let samples: Vec<Sample> =
            rows.into_iter().map(|(time_s, depth_m, temp_c)| Sample { time_s, depth_m, temp_c }).collect();
        if let Some(lag) = thermometer_lag(&samples, &Settings::default()) {
            prop_assert!(lag.lag_s.is_finite() && lag.lag_se_s >= 0.0);
        }
        let corrected = without_lag(&samples, &Settings { lag_s: 5.0, ..Settings::default() });
        prop_assert!(corrected.len() == samples.len() && corrected.iter().all(is_finite));
    }
}
