//! What is a break, what is none, and what is said of it, one case at a time?

use proptest::prelude::*;
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};

use crate::{Crossing, Kind, Series, Settings, find};

/// A record that is written second by second.
#[derive(Default)]
struct Record {
    time_s: Vec<f64>,
    distance_m: Vec<f64>,
    temp_c: Vec<f64>,
    now_s: f64,
    here_m: f64,
}

impl Record {
    /// Goes on for a while at a speed over water of a given temperature at each distance and time.
    fn go(mut self, seconds: u32, speed_mps: f64, water_c: impl Fn(f64, f64) -> f64) -> Self {
        let mut rng = ChaCha8Rng::seed_from_u64(self.time_s.len() as u64);
        for _ in 0..seconds {
            self.now_s += 1.0;
            self.here_m += speed_mps;
            let noise: f64 = StandardNormal.sample(&mut rng);
            self.time_s.push(self.now_s);
            self.distance_m.push(self.here_m);
            self.temp_c.push(water_c(self.here_m, self.now_s) + 0.05 * noise);
        }
        self
    }

    /// Lets time and distance pass without a sample.
    fn silence(mut self, seconds: f64, metres: f64) -> Self {
        self.now_s += seconds;
        self.here_m += metres;
        self
    }

    fn find(&self) -> Vec<Crossing> {
        find(self.series(), &Settings::default())
    }

    fn series(&self) -> Series<'_> {
        Series { time_s: &self.time_s, distance_m: &self.distance_m, temp_c: &self.temp_c }
    }
}

/// A smooth step of a height, centre and width from 10 % to 90 %.
fn step(step_c: f64, centre_m: f64, width_m: f64) -> impl Fn(f64) -> f64 {
    move |x| 0.5 * step_c * ((x - centre_m) * 9_f64.ln() / width_m).tanh()
}

#[test]
fn a_break_is_described() {
    let front = step(-2.0, 3_000.0, 150.0);
    let found = Record::default().go(5_000, 1.2, |x, _| 14.0 + front(x)).find();
    assert_eq!(found.len(), 1);
    let got = &found[0];
    assert!((got.distance_m - 3_000.0).abs() < 5.0, "{got:?}");
    assert!((got.time_s - 2_500.0).abs() < 5.0, "{got:?}");
    assert!((got.step_c + 2.0).abs() < 0.1 && (got.width_m - 150.0).abs() < 20.0, "{got:?}");
    assert!((got.temp_before_c - 15.0).abs() < 0.1 && (got.temp_after_c - 13.0).abs() < 0.1, "{got:?}");
    // steepest at the centre: step / 2 w, with w = width / ln 9
    assert!((got.gradient_c_per_km - 1000.0 * 9_f64.ln() / 150.0).abs() < 2.0, "{got:?}");
    assert_eq!(got.kind, Kind::ThermalBreak);
    assert!(got.gap_m < 10.0, "{got:?}");
}

#[test]
fn warming_while_stopped_is_no_break() {
    for stop_s in [600, 3_600, 7_200] {
        let record = Record::default()
            .go(2_000, 1.2, |_, _| 14.0)
            .go(stop_s, 0.02, |_, t| 14.0 + 0.4 * (t - 2_000.0) / 3_600.0)
            .go(2_000, 1.2, |_, _| 14.0 + 0.4 * f64::from(stop_s) / 3_600.0);
        assert!(record.find().is_empty(), "{stop_s} s: {:?}", record.find());
    }
}

#[test]
fn a_break_with_a_stop_in_it_is_found() {
    let front = step(2.0, 2_500.0, 200.0);
    let water_c = |x: f64, t: f64| 14.0 + front(x) + 0.2 * t / 3_600.0;
    let found =
        Record::default().go(2_050, 1.2, water_c).go(1_200, 0.01, water_c).go(2_000, 1.2, water_c).find();
    assert_eq!(found.len(), 1);
    assert!((found[0].distance_m - 2_500.0).abs() < 20.0, "{found:?}");
}

#[test]
fn slopes_are_no_breaks() {
    // 0.2 °C/km all along, 3 °C over 6 km, and a day's warming of 2 °C
    assert!(Record::default().go(20_000, 1.2, |x, _| 14.0 + 0.2e-3 * x).find().is_empty());
    let broad = step(3.0, 12_000.0, 6_000.0);
    assert!(Record::default().go(20_000, 1.2, |x, _| 14.0 + broad(x)).find().is_empty());
    assert!(Record::default().go(36_000, 1.2, |_, t| 14.0 + t / 18_000.0).find().is_empty());
}

#[test]
fn two_breaks_close_to_each_other_are_two() {
    let (up, down) = (step(1.5, 3_000.0, 60.0), step(-1.2, 3_250.0, 80.0));
    let found = Record::default().go(5_000, 1.2, |x, _| 14.0 + up(x) + down(x)).find();
    assert_eq!(found.len(), 2, "{found:?}");
    assert!((found[0].distance_m - 3_000.0).abs() < 10.0 && (found[1].distance_m - 3_250.0).abs() < 10.0);
    assert!((found[0].step_c - 1.5).abs() < 0.2 && (found[1].step_c + 1.2).abs() < 0.2, "{found:?}");
    // the water between them is the one's after and the other's before
    for (got, want) in [
        (found[0].temp_before_c, 13.85),
        (found[0].temp_after_c, 15.35),
        (found[1].temp_before_c, 15.35),
        (found[1].temp_after_c, 14.15),
    ] {
        assert!((got - want).abs() < 0.1, "{got} {want}: {found:?}");
    }

    let (first, second) = (step(1.5, 3_000.0, 60.0), step(1.0, 3_300.0, 60.0));
    let found = Record::default().go(5_000, 1.2, |x, _| 14.0 + first(x) + second(x)).find();
    assert_eq!(found.len(), 2, "{found:?}");
}

#[test]
fn a_break_in_a_gap_is_as_wide_and_as_unsure_as_the_gap() {
    let front = step(2.0, 2_500.0, 50.0);
    let water_c = |x: f64, _| 14.0 + front(x);
    let found =
        Record::default().go(2_000, 1.2, water_c).silence(170.0, 200.0).go(2_000, 1.2, water_c).find();
    assert_eq!(found.len(), 1, "{found:?}");
    let got = &found[0];
    assert!(got.width_m >= 200.0 && got.centre_se_m > 50.0, "{got:?}");
    assert!((2_400.0..=2_600.0).contains(&got.distance_m), "{got:?}");
    assert!(got.gap_m >= 200.0 && got.gap_m <= 210.0, "{got:?}");

    // across more than counts as a break nothing is said
    let found =
        Record::default().go(2_000, 1.2, water_c).silence(900.0, 1_100.0).go(2_000, 1.2, water_c).find();
    assert!(found.is_empty(), "{found:?}");
}

#[test]
fn coarse_samples_show_broad_breaks_only() {
    // a ship at 5 m/s with a sample every three minutes: 900 m apart
    let front = step(3.0, 90_000.0, 300.0);
    let time_s: Vec<f64> = (0..200).map(|i| 180.0 * f64::from(i)).collect();
    let distance_m: Vec<f64> = time_s.iter().map(|t| 5.0 * t).collect();
    let temp_c: Vec<f64> = distance_m.iter().map(|x| 14.0 + 0.05 * (x / 700.0).sin() + front(*x)).collect();
    let found = find(
        Series { time_s: &time_s, distance_m: &distance_m, temp_c: &temp_c },
        &Settings { fresh: false, ..Settings::default() },
    );
    assert_eq!(found.len(), 1, "{found:?}");
    assert!((found[0].distance_m - 90_000.0).abs() < 900.0 && found[0].width_m >= 899.0, "{found:?}");
}

#[test]
fn fresh_water_through_four_degrees_is_a_thermal_bar() {
    let front = step(2.0, 3_000.0, 200.0);
    let record = Record::default().go(5_000, 1.2, |x, _| 4.2 + front(x));
    let found = record.find();
    assert_eq!((found.len(), found[0].kind), (1, Kind::ThermalBar));
    let salt = find(record.series(), &Settings { fresh: false, ..Settings::default() });
    assert_eq!(salt[0].kind, Kind::ThermalBreak);
}

#[test]
fn one_reading_of_a_coarse_sensor_is_no_break() {
    let front = step(0.4, 3_000.0, 100.0);
    let mut record = Record::default().go(5_000, 1.2, |x, _| 14.2 + front(x));
    for t in &mut record.temp_c {
        *t = (*t * 2.0).round() / 2.0;
    }
    assert!(record.find().is_empty(), "{:?}", record.find());
}

#[test]
fn a_distance_that_trembles_does_no_harm() {
    let front = step(1.5, 3_000.0, 100.0);
    let mut record = Record::default().go(5_000, 1.2, |x, _| 14.0 + front(x));
    let mut rng = ChaCha8Rng::seed_from_u64(3);
    let mut walked_m = 0.0;
    for d in &mut record.distance_m {
        // what a receiver's scatter adds to each second's way
        let more_m: f64 = StandardNormal.sample(&mut rng);
        walked_m += 0.3 * more_m.abs();
        *d += walked_m;
    }
    let second = record.time_s.iter().position(|&t| t == 2_500.0).unwrap();
    let found = record.find();
    assert_eq!(found.len(), 1);
    assert!((found[0].distance_m - record.distance_m[second]).abs() < 15.0, "{found:?}");
    assert!((found[0].time_s - 2_500.0).abs() < 15.0, "{found:?}");
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    /// Whatever is given, nothing panics and what is said is finite, in order and within the track.
    #[test]
    fn any_series_is_answered(
        rows in prop::collection::vec((0f64..400.0, 0f64..300.0, -5f64..30.0), 0..200),
        smooth in any::<bool>(),
    ) {
        let (mut time_s, mut distance_m, mut temp_c) = (vec![0.0], vec![0.0], vec![10.0]);
        for (dt, dx, t) in rows {
            time_s.push(time_s.last().unwrap() + dt);
            distance_m.push(distance_m.last().unwrap() + dx);
            temp_c.push(if smooth { 0.95 * temp_c.last().unwrap() + 0.05 * t } else { t });
        }
        let found = find(
            Series { time_s: &time_s, distance_m: &distance_m, temp_c: &temp_c },
            &Settings::default(),
        );
        for c in &found {
            let numbers = [c.time_s, c.temp_before_c, c.temp_after_c, c.step_c, c.width_m, c.gradient_c_per_km,
                c.centre_se_m, c.step_se_c, c.p_value];
            prop_assert!(numbers.iter().all(|v| v.is_finite()), "{c:?}");
            prop_assert!((0.0..=*distance_m.last().unwrap()).contains(&c.distance_m));
            prop_assert!(c.step_c.abs() >= 0.5 && c.p_value <= 0.01);
        }
        prop_assert!(found.windows(2).all(|w| w[0].distance_m <= w[1].distance_m));
    }

    /// Another zero of clock, distance and scale does not move a break.
    #[test]
    fn zero_points_do_not_matter(later_s in 0f64..1e9, further_m in 0f64..1e5, warmer_c in 1f64..10.0) {
        let front = step(1.5, 1_500.0, 100.0);
        let record = Record::default().go(2_500, 1.2, |x, _| 14.0 + front(x));
        let moved = Record {
            time_s: record.time_s.iter().map(|t| t + later_s).collect(),
            distance_m: record.distance_m.iter().map(|d| d + further_m).collect(),
            temp_c: record.temp_c.iter().map(|t| t + warmer_c).collect(),
            ..Record::default()
        };
        let (a, b) = (record.find(), moved.find());
        prop_assert_eq!((a.len(), b.len()), (1, 1));
        prop_assert!((a[0].distance_m + further_m - b[0].distance_m).abs() < 0.5);
        prop_assert!((a[0].step_c - b[0].step_c).abs() < 0.01);
    }
}

/// A sensor takes a minute and more to come from the air's temperature to the water's.
#[test]
fn a_sensor_that_wakes_up_is_no_break() {
    let waking =
        |from_s: f64, from_c: f64| move |_: f64, t: f64| 12.0 + from_c * (-(t - from_s) / 60.0).exp();
    for from_c in [-3.0, 4.0] {
        let found = Record::default().go(4_000, 1.2, waking(0.0, from_c)).find();
        assert!(found.is_empty(), "at the start: {found:?}");
        for silence_s in [120.0, 300.0] {
            let before = Record::default().go(2_000, 1.2, |_, _| 12.0);
            let found = before
                .silence(silence_s, 1.2 * silence_s)
                .go(3_000, 1.2, waking(2_000.0 + silence_s, from_c))
                .find();
            assert!(found.is_empty(), "after {silence_s} s: {found:?}");
        }
    }
}
