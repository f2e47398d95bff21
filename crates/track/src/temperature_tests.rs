use super::*;

fn series(values: impl IntoIterator<Item = f64>, interval_s: i64) -> Series {
    values.into_iter().enumerate().map(|(i, value)| (i as i64 * interval_s * US_PER_S, value)).collect()
}

#[test]
fn two_levels_are_found_with_a_margin() {
    let level = |s: i32| if (1000..1600).contains(&s) && s % 7 < 3 { 19.5 } else { 16.0 };
    let found = flipping(&series((0..3000).map(level), 1), 1.2).unwrap();
    assert_eq!((found.samples.len(), found.height_c), (1, 3.5));
    assert!(found.samples[0].start.abs_diff(701) <= 7 && found.samples[0].end.abs_diff(1897) <= 7);
    assert!((168..=174).contains(&found.flips), "{}", found.flips);
}

#[test]
fn fronts_and_coarse_steps_are_no_flips() {
    // to and fro across a front of 3 °C, ten times in an hour
    let front = |s: i32| 10.0 + 1.5 * (f64::from(s % 720 - 360).abs() - 180.0).clamp(-1.0, 1.0);
    assert!(flipping(&series((0..7200).map(front), 1), 1.2).is_none());
    // a sensor that shows whole degrees, on the edge between two
    assert!(flipping(&series((0..3600).map(|s| 12.0 + f64::from(s % 2)), 1), 1.2).is_none());
    // samples minutes apart may be of different waters
    assert!(flipping(&series((0..300).map(|s| 12.0 + 4.0 * f64::from(s % 2)), 180), 1.2).is_none());
    assert!(flipping(&Series::default(), 1.2).is_none());
}

/// What a sensor of first order reads of water that is a step of 3 °C, exactly.
#[test]
fn a_few_spikes_in_ten_minutes_are_no_flips() {
    let spikes = |s: i32| 12.0 + if [100, 250, 400, 550].contains(&s) { 5.5 } else { 0.0 };
    assert!(flipping(&series((0..3600).map(spikes), 1), 1.2).is_none());
}

fn lagged(second: i64, tau_s: f64) -> f64 {
    let since = (second - 300) as f64;
    12.0 - if since > 0.0 { 3.0 * (1.0 - (-since / tau_s).exp()) } else { 0.0 }
}

fn correct(raw: &[Option<f64>], interval_s: i64, correction: HullCorrection) -> Vec<f64> {
    let time_us: Vec<i64> = (0..raw.len() as i64).map(|i| i * interval_s * US_PER_S).collect();
    corrected(&time_us, raw, &vec![Flag::Pass; raw.len()], correction).into_iter().flatten().collect()
}

#[test]
fn the_lag_of_a_step_is_taken_back() {
    let correction = HullCorrection { add_c: 0.0, lag_s: 20.0 };
    // what the plotter writes: tenths of a degree
    let raw: Vec<Option<f64>> = (0..600).map(|s| Some((lagged(s, 20.0) * 10.0).round() / 10.0)).collect();
    let got = correct(&raw, 1, correction);
    // the middle of the step is where it is in the water, not 14 s behind it
    let crossing = got.iter().position(|&value| value < 10.5).unwrap();
    assert!(crossing.abs_diff(300) <= 3, "{crossing}");
    for (second, value) in got.iter().enumerate() {
        let water = if second > 300 { 9.0 } else { 12.0 };
        if second.abs_diff(300) > 12 {
            assert!((value - water).abs() < 0.2, "{second}: {value}");
        }
    }
}

#[test]
fn the_noise_grows_by_less_than_half() {
    let correction = HullCorrection { add_c: 0.0, lag_s: 20.0 };
    // quadratic residues: as even as noise, and the same in each run
    let noise: Vec<f64> = (0..600u32).map(|s| f64::from(s * s % 1009) / 1009.0 - 0.5).collect();
    let raw: Vec<Option<f64>> = noise.iter().map(|noise| Some(12.0 + 0.1 * noise)).collect();
    let rms = |values: &[f64]| (values.iter().map(|v| v * v).sum::<f64>() / values.len() as f64).sqrt();
    let got: Vec<f64> = correct(&raw, 1, correction).iter().map(|v| (v - 12.0) / 0.1).collect();
    assert!(rms(&got) < 1.5 * rms(&noise), "{} from {}", rms(&got), rms(&noise));
}

#[test]
fn offset_alone_where_rows_are_far_apart() {
    let correction = HullCorrection { add_c: -0.4, lag_s: 20.0 };
    let got = correct(&[Some(12.0), Some(10.0), Some(8.0)], 180, correction);
    assert_eq!(got, [11.6, 9.6, 7.6]);
}

/// Windows that are even and others, as the plain line of least squares has them.
#[test]
fn the_slope_is_that_of_the_line_of_least_squares() {
    let correction = HullCorrection { add_c: 0.3, lag_s: 20.0 };
    let value = |s: i64| 12.0 + (s as f64 / 40.0).sin() + ((s * s) % 101) as f64 / 300.0;
    // a second apart, then two, a hole, half seconds and a few rows at the end
    let seconds = (0..300).chain((300..500).step_by(2)).chain(520..560).map(|s| s * US_PER_S);
    let halves = (0..200).map(|half| 600 * US_PER_S + half * US_PER_S / 2);
    let time_us: Vec<i64> = seconds.chain(halves).chain((720..728).map(|s| s * US_PER_S)).collect();
    let raw: Vec<Option<f64>> = time_us.iter().map(|t| (t % 97 != 5).then(|| value(t / 500_000))).collect();
    let flags: Vec<Flag> =
        (0..raw.len()).map(|i| if i % 150 == 149 { Flag::Fail } else { Flag::Pass }).collect();
    let got = corrected(&time_us, &raw, &flags, correction);
    for (i, got) in got.iter().enumerate() {
        let near = |j: &usize| flags[*j] == Flag::Pass && (time_us[*j] - time_us[i]).abs() <= 10 * US_PER_S;
        let about: Vec<(i64, f64)> =
            (0..raw.len()).filter(near).filter_map(|j| Some((time_us[j], raw[j]?))).collect();
        let slope = if flags[i] == Flag::Pass { Slopes::default().slope_per_s(&about) } else { None };
        let want = raw[i].map(|raw| raw + 0.3 + 20.0 * slope.unwrap_or_default());
        assert_eq!(got.is_some(), want.is_some());
        assert!(got.zip(want).is_none_or(|(got, want)| (got - want).abs() < 1e-12), "{i}: {got:?} {want:?}");
    }
}
