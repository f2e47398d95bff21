//! How long do the search of a trip and its map take, and do they grow with the trip?
//!
//! A trip of ten hours at a sample a second has 36,000 samples.

use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};
use waterseam_breaks::{Series, Settings, SurfaceMapSettings, find, surface_map};

fn main() {
    divan::main();
}

/// Trolling at 1.2 m/s over a front of 1.5 °C every 3 km, read in tenths with a scatter of 0.05 °C.
fn record(samples: usize) -> [Vec<f64>; 3] {
    let mut rng = ChaCha8Rng::seed_from_u64(1);
    let time_s: Vec<f64> = (0..samples).map(|i| i as f64).collect();
    let distance_m: Vec<f64> = time_s.iter().map(|t| 1.2 * t).collect();
    let temp_c = distance_m
        .iter()
        .map(|x| {
            let noise: f64 = StandardNormal.sample(&mut rng);
            let side = if (x / 3_000.0) as i64 % 2 == 0 { 1.0 } else { -1.0 };
            let front = 0.75 * side * ((x.rem_euclid(3_000.0) - 1_500.0) / 50.0).tanh();
            let wave = 0.2 * (x / 1_500.0).sin();
            ((14.0 + front + wave + 0.05 * noise) * 10.0).round() / 10.0
        })
        .collect();
    [time_s, distance_m, temp_c]
}

#[divan::bench(args = [9_000, 18_000, 36_000, 72_000])]
fn trip(bencher: divan::Bencher, samples: usize) {
    let [time_s, distance_m, temp_c] = record(samples);
    let series = Series { time_s: &time_s, distance_m: &distance_m, temp_c: &temp_c };
    let found = find(series, &Settings::default()).len();
    assert!(found >= samples / 3_000, "only {found} fronts in {samples} samples");
    bencher.bench_local(|| find(series, &Settings::default()));
}

/// The same water crossed by legs of 4 km, 300 m apart.
#[divan::bench(args = [9_000, 18_000, 36_000, 72_000])]
fn map(bencher: divan::Bencher, samples: usize) {
    let [_, distance_m, temp_c] = record(samples);
    let observations: Vec<(f64, f64, f64)> = distance_m
        .iter()
        .zip(&temp_c)
        .map(|(x, &temp_c)| {
            let along_m = x.rem_euclid(8_000.0);
            (along_m.min(8_000.0 - along_m), 300.0 * (x / 4_000.0).floor(), temp_c)
        })
        .collect();
    assert!(surface_map(&observations, &SurfaceMapSettings::default()).is_some());
    bencher.bench_local(|| surface_map(&observations, &SurfaceMapSettings::default()));
}
