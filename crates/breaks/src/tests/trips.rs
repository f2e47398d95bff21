//! What does a sensor record on a trip over water that is known?
//!
//! A boat runs out, trolls in legs with turns and stops, and runs home over straight fronts, gentle mesoscale
//! waves and a warming day; its sensor scatters, drifts, rounds, spikes and falls silent. Seconds and metres.

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};

use crate::Series;

/// A straight front without ends.
#[derive(Clone, Copy, Debug)]
pub struct Front {
    /// A point on it.
    pub east_m: f64,
    pub north_m: f64,
    /// Direction of the warm side, across it.
    pub warm_deg: f64,
    pub step_c: f64,
    /// Across it, 10 % to 90 % of the step.
    pub width_m: f64,
}

impl Front {
    /// Distance from the front, positive on the warm side.
    pub fn side_m(&self, east_m: f64, north_m: f64) -> f64 {
        let (e, n) = waterseam_units::angle::east_north(1.0, self.warm_deg);
        (east_m - self.east_m) * e + (north_m - self.north_m) * n
    }
}

/// What differs between trips.
#[derive(Clone, Copy, Debug)]
pub struct Sea {
    pub fronts: usize,
    pub step_c: (f64, f64),
    pub width_m: (f64, f64),
    /// Standard deviation of patches from 300 m to 2 km in size, °C.
    pub patches_c: f64,
    /// Greatest time constant of the sensor that is left in the record, s.
    pub lag_s: f64,
}

/// A crossing as it was.
#[derive(Clone, Copy, Debug)]
pub struct TrueCrossing {
    pub distance_m: f64,
    /// After minus before.
    pub step_c: f64,
    /// Along the track.
    pub width_m: f64,
    /// Between track and front.
    pub angle_deg: f64,
}

pub struct Trip {
    pub time_s: Vec<f64>,
    pub distance_m: Vec<f64>,
    pub temp_c: Vec<f64>,
    /// Of each second, those without temperature too.
    pub second_distance_m: Vec<f64>,
    pub east_m: Vec<f64>,
    pub north_m: Vec<f64>,
    pub course_deg: Vec<f64>,
    pub fronts: Vec<Front>,
}

impl Trip {
    pub fn series(&self) -> Series<'_> {
        Series { time_s: &self.time_s, distance_m: &self.distance_m, temp_c: &self.temp_c }
    }

    /// The second at which a distance was reached.
    pub fn second_at(&self, distance_m: f64) -> usize {
        self.second_distance_m.partition_point(|&d| d < distance_m).min(self.second_distance_m.len() - 1)
    }

    /// Crossings from one side to the other: three quarters of a width away on both.
    pub fn crossings(&self) -> Vec<TrueCrossing> {
        let mut crossings = Vec::new();
        for front in &self.fronts {
            let sides: Vec<f64> =
                self.east_m.iter().zip(&self.north_m).map(|(&e, &n)| front.side_m(e, n)).collect();
            let changes: Vec<usize> =
                (1..sides.len()).filter(|&i| (sides[i - 1] < 0.0) != (sides[i] < 0.0)).collect();
            for (k, &i) in changes.iter().enumerate() {
                let from = if k == 0 { 0 } else { changes[k - 1] };
                let to = changes.get(k + 1).copied().unwrap_or(sides.len());
                let reach = |part: &[f64]| part.iter().fold(0.0_f64, |most, s| most.max(s.abs()));
                let enough_m = 0.75 * front.width_m;
                if reach(&sides[from..i]) < enough_m || reach(&sides[i..to]) < enough_m {
                    continue;
                }
                let off = waterseam_units::angle::turn_deg(front.warm_deg, self.course_deg[i]).abs();
                let angle_deg = (90.0 - off).abs();
                let part = sides[i - 1] / (sides[i - 1] - sides[i]);
                let second_m = self.second_distance_m[i] - self.second_distance_m[i - 1];
                crossings.push(TrueCrossing {
                    distance_m: self.second_distance_m[i - 1] + part * second_m,
                    step_c: if off < 90.0 { front.step_c } else { -front.step_c },
                    width_m: front.width_m / angle_deg.to_radians().sin().max(0.05),
                    angle_deg,
                });
            }
        }
        crossings.sort_by(|a, b| a.distance_m.total_cmp(&b.distance_m));
        crossings
    }

    /// Whether a place on the track lies in the water of a front.
    pub fn is_in_front(&self, distance_m: f64) -> bool {
        let i = self.second_at(distance_m);
        self.fronts.iter().any(|f| f.side_m(self.east_m[i], self.north_m[i]).abs() < f.width_m)
    }
}

/// A trip of ten hours.
pub fn trip(seed: u64, sea: Sea) -> Trip {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let (east_m, north_m, course_deg, second_distance_m) = way(&mut rng);
    let fronts = fronts(&mut rng, sea);
    let water_c = water(&mut rng, sea, &fronts, &east_m, &north_m);
    let read_c = sensor(&mut rng, sea, &water_c);
    let (mut time_s, mut distance_m, mut temp_c) = (Vec::new(), Vec::new(), Vec::new());
    for (i, temp) in read_c.into_iter().enumerate() {
        if let Some(temp) = temp {
            time_s.push(i as f64);
            distance_m.push(second_distance_m[i]);
            temp_c.push(temp);
        }
    }
    Trip { time_s, distance_m, temp_c, second_distance_m, east_m, north_m, course_deg, fronts }
}

const SECONDS: usize = 36_000;
/// Waves that patches are made of.
const PATCH_WAVES: u32 = 9;
/// Sum of the lengths of those waves.
const PATCH_LENGTHS_M: f64 = 8_352.0;

fn normal(rng: &mut ChaCha8Rng) -> f64 {
    StandardNormal.sample(rng)
}

/// East, north, course and distance of each second.
fn way(rng: &mut ChaCha8Rng) -> (Vec<f64>, Vec<f64>, Vec<f64>, Vec<f64>) {
    let (mut east, mut north, mut courses, mut distances) = (vec![], vec![], vec![], vec![]);
    let (mut e, mut n, mut course, mut distance): (f64, f64, f64, f64) = (0.0, 0.0, 0.0, 0.0);
    let (run_s, home_s) = (rng.random_range(600..1_200), rng.random_range(600..1_200));
    let (mut wanted, mut leg_left, mut stop_left) = (0.0, run_s, 0_u32);
    let mut wobble = 0.0;
    for second in 0..SECONDS {
        let is_run = second < run_s || second + home_s >= SECONDS;
        wobble = 0.95 * wobble + 0.05 * normal(rng);
        let speed = match (is_run, stop_left) {
            (true, _) => 9.0 + wobble,
            (false, 0) => 1.2 + 0.5 * wobble,
            _ => 0.03,
        };
        stop_left = stop_left.saturating_sub(1);
        if leg_left == 0 {
            wanted = match (is_run, e.hypot(n) > 14_000.0 || n < 3_000.0) {
                (true, _) | (_, true) => (-e).atan2(8_000.0 - n).to_degrees() + rng.random_range(-20.0..20.0),
                _ => course + rng.random_range(-150.0..150.0),
            };
            leg_left = rng.random_range(1_200..3_600);
            if rng.random_bool(0.2) {
                stop_left = rng.random_range(60..2_400);
            }
        }
        leg_left -= 1;
        // two degrees a second is a tight turn with lines out
        course += waterseam_units::angle::turn_deg(course, wanted).clamp(-2.0, 2.0);
        let (de, dn) = waterseam_units::angle::east_north(speed.max(0.0), course);
        e += de;
        n += dn;
        distance += speed.max(0.0);
        east.push(e);
        north.push(n);
        courses.push(waterseam_units::angle::wrap_deg(course));
        distances.push(distance);
    }
    (east, north, courses, distances)
}

/// Fronts side by side through the water that is trolled, 1.5 km apart at least.
fn fronts(rng: &mut ChaCha8Rng, sea: Sea) -> Vec<Front> {
    let along: f64 = rng.random_range(0.0..180.0);
    let mut offset_m = rng.random_range(-3_000.0..1_000.0);
    (0..sea.fronts)
        .map(|_| {
            let (e, n) = waterseam_units::angle::east_north(offset_m, along + 90.0);
            offset_m += rng.random_range(1_500.0..4_000.0);
            let warm_deg = along + if rng.random_bool(0.5) { 90.0 } else { 270.0 };
            Front {
                east_m: e,
                north_m: 8_000.0 + n,
                warm_deg: waterseam_units::angle::wrap_deg(warm_deg + rng.random_range(-5.0..5.0)),
                step_c: rng.random_range(sea.step_c.0..sea.step_c.1),
                width_m: rng.random_range(sea.width_m.0..sea.width_m.1),
            }
        })
        .collect()
}

/// Temperature of the water under the boat each second.
fn water(rng: &mut ChaCha8Rng, sea: Sea, fronts: &[Front], east_m: &[f64], north_m: &[f64]) -> Vec<f64> {
    let mut wave = |length_m: f64, height_c: f64| {
        let wave_number = std::f64::consts::TAU / length_m;
        let (e, n) = waterseam_units::angle::east_north(wave_number, rng.random_range(0.0..360.0));
        (height_c, e, n, rng.random_range(0.0..6.0))
    };
    let mut waves = Vec::new();
    for i in 0..3 {
        // steepest 0.1 to 0.2 °C/km together
        let length_m = [3_500.0, 7_000.0, 14_000.0][i];
        waves.push(wave(length_m, 0.05e-3 * length_m / std::f64::consts::TAU));
    }
    for i in 0..PATCH_WAVES {
        // long waves are higher, as in a random walk
        let length_m = 300.0 * (2_000.0_f64 / 300.0).powf(f64::from(i) / f64::from(PATCH_WAVES - 1));
        let share = (2.0 * length_m / PATCH_LENGTHS_M).sqrt();
        waves.push(wave(length_m, sea.patches_c * share));
    }
    let warming_c = rng.random_range(0.0..2.0);
    east_m
        .iter()
        .zip(north_m)
        .enumerate()
        .map(|(second, (&e, &n))| {
            let day = second as f64 / SECONDS as f64;
            let warming = warming_c * 0.5 * (1.0 - (std::f64::consts::PI * day).cos());
            let wave: f64 = waves
                .iter()
                .map(|(height_c, ke, kn, phase)| height_c * (ke * e + kn * n + phase).sin())
                .sum();
            let step: f64 = fronts
                .iter()
                .map(|f| 0.5 * f.step_c * (f.side_m(e, n) * 9_f64.ln() / f.width_m).tanh())
                .sum();
            14.0 + warming + wave + step
        })
        .collect()
}

/// What the sensor says each second.
fn sensor(rng: &mut ChaCha8Rng, sea: Sea, water_c: &[f64]) -> Vec<Option<f64>> {
    let white_c = rng.random_range(0.02..0.1);
    let (drift_c, drift_s) = (rng.random_range(0.0..0.05), rng.random_range(5.0..60.0));
    let quantum_c = [0.0, 0.1, 0.1, 0.1, 5.0 / 90.0][rng.random_range(0..5)];
    let lag_s = sea.lag_s * rng.random_range(0.0..1.0);
    let keep = (-1.0_f64 / drift_s).exp();
    let (mut drift, mut felt, mut spike_left, mut spike_c, mut silent) = (0.0, water_c[0], 0, 0.0, 0);
    water_c
        .iter()
        .map(|&water| {
            felt += (water - felt) / (1.0 + lag_s);
            drift = keep * drift + drift_c * (1.0 - keep * keep).sqrt() * normal(rng);
            if rng.random_bool(1.0 / 1_500.0) {
                spike_left = rng.random_range(1..=3);
                spike_c = rng.random_range(1.0..8.0) * if rng.random_bool(0.5) { 1.0 } else { -1.0 };
            }
            if rng.random_bool(1.0 / 6_000.0) {
                silent = rng.random_range(5..120);
            }
            let mut read = felt + drift + white_c * normal(rng);
            if spike_left > 0 {
                spike_left -= 1;
                read += spike_c;
            }
            if quantum_c > 0.0 {
                read = (read / quantum_c).round() * quantum_c;
            }
            if silent > 0 {
                silent -= 1;
                return None;
            }
            Some(read)
        })
        .collect()
}
