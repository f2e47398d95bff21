use super::*;
use crate::settings::Settings;

fn of(values: &[f64], interval_s: f64) -> Vec<Flag> {
    let step_us = (interval_s * US_PER_S as f64) as i64;
    let series = values.iter().enumerate().map(|(i, &value)| (i as i64 * step_us, value)).collect();
    judged(&series, &Settings::default().surface_temp, |value| value).flags
}

fn not_usable(flags: &[Flag]) -> Vec<usize> {
    (0..flags.len()).filter(|&sample| !flags[sample].is_usable()).collect()
}

/// Water of 12 °C with the last digit of a sensor flickering.
fn calm(n: usize) -> Vec<f64> {
    (0..n).map(|i| 12.0 + 0.1 * (i % 3) as f64).collect()
}

#[test]
fn a_spike_is_found_without_its_neighbours() {
    let mut values = calm(60);
    values[20] = 3.9;
    values[40] = 10.8;
    let got = of(&values, 1.0);
    assert_eq!(not_usable(&got), [20, 40]);
    assert_eq!((got[20], got[40]), (Flag::Fail, Flag::Suspect));
}

#[test]
fn samples_minutes_apart_have_spikes_too() {
    let mut values = calm(60);
    values[30] = 10.7;
    assert_eq!(not_usable(&of(&values, 180.0)), [30]);
}

#[test]
fn the_first_and_the_last_sample_are_not_above_suspicion() {
    let mut values = calm(30);
    values[0] = 0.0;
    values[29] = 25.0;
    let got = of(&values, 1.0);
    assert_eq!(not_usable(&got), [0, 29]);
}

#[test]
fn fronts_keep_their_samples_at_any_sampling() {
    // 3.4 °C within three samples, minutes apart: two to three kilometres of a ship's way
    let mut values = calm(30);
    values.extend([11.0, 9.6, 8.7]);
    values.extend(calm(30).iter().map(|v| v - 3.4));
    assert!(not_usable(&of(&values, 180.0)).is_empty());
    // a sharp step between two samples
    let mut values = calm(30);
    values.extend(calm(30).iter().map(|v| v - 3.0));
    assert!(not_usable(&of(&values, 180.0)).is_empty());
    // 3 °C in 4 s at ten samples a second: a run across a front
    let ramp: Vec<f64> = (0..200).map(|i| 12.0 - 0.075 * f64::from((i - 80).clamp(0, 40))).collect();
    assert!(not_usable(&of(&ramp, 0.1)).is_empty());
}

#[test]
fn half_a_day_of_tenths_without_a_change_is_doubtful_and_an_hour_is_not() {
    assert!(not_usable(&of(&vec![12.3; 3600], 1.0)).is_empty());
    let got = of(&vec![12.3; 8 * 360], 10.0);
    assert_eq!(got[6 * 360 - 1], Flag::Pass);
    assert_eq!(got[6 * 360], Flag::Suspect);
}

#[test]
fn a_row_takes_the_best_of_its_samples() {
    let series: Series = [(0, 12.0), (1, 14.0), (2, 0.0), (3, 7.0), (4, 9.0)].into_iter().collect();
    let flags = [Flag::Pass, Flag::NotEvaluated, Flag::Fail, Flag::Suspect, Flag::Fail];
    let (values, flags) = best_means([0..3, 2..5, 4..5, 5..5].into_iter(), &series, &flags);
    assert_eq!(values, [Some(13.0), Some(7.0), Some(9.0), None]);
    assert_eq!(flags, [Flag::Pass, Flag::Suspect, Flag::Fail, Flag::Missing]);
}
