//! How long does the water column of a trip take, and does it grow with the trip? `cargo bench -p waterseam-column`
//!
//! A probe that logs every second for ten hours has 36,000 samples.

use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};
use waterseam_column::{
    Field, FieldSettings, Sample, SectionSettings, Settings, layer_errors, layers, profiles, sections,
    thermometer_lag,
};

const SAMPLES: [usize; 4] = [9_000, 18_000, 36_000, 72_000];
/// Down through the thermocline and up again, s.
const CYCLE_S: f64 = 240.0;
/// Target temperatures, °C.
const PREFERRED_C: Option<(f64, f64)> = Some((10.0, 14.0));

fn main() {
    divan::main();
}

/// A probe that goes down and up through a thermocline at 15 m, which rises and falls by a metre.
fn record(samples: usize) -> Vec<Sample> {
    let mut rng = ChaCha8Rng::seed_from_u64(1);
    let mut noise = |sd: f64| -> f64 {
        let normal: f64 = StandardNormal.sample(&mut rng);
        sd * normal
    };
    let at = |second: usize| {
        let time_s = second as f64;
        let down = 1.0 - (2.0 * (time_s / CYCLE_S).fract() - 1.0).abs();
        let depth_m = 1.0 + 27.0 * down;
        let middle_m = 15.0 + (time_s / 3_600.0).sin();
        let temp_c = 12.0 - 6.0 * ((depth_m - middle_m) / 3.0).tanh();
        Sample { time_s, depth_m: depth_m + noise(0.1), temp_c: temp_c + noise(0.05) }
    };
    (0..samples).map(at).collect()
}

/// Casts, their bins and their layers, with errors.
#[divan::bench(args = SAMPLES, sample_count = 10)]
fn profiles_and_layers(bencher: divan::Bencher, samples: usize) {
    let (record, settings) = (record(samples), Settings::default());
    let work = || -> Vec<_> {
        let of = |profile| {
            (layers(profile, PREFERRED_C, 0.0, &settings), layer_errors(profile, PREFERRED_C, 0.0, &settings))
        };
        profiles(&record, &settings).iter().map(of).collect()
    };
    let with_thermocline = work().iter().filter(|(layers, _)| layers.thermocline_depth_m.is_some()).count();
    assert!(with_thermocline >= samples / CYCLE_S as usize, "a thermocline in {with_thermocline} profiles");
    bencher.bench_local(work);
}

/// The lag of the thermometer, from casts down and up.
#[divan::bench(args = SAMPLES, sample_count = 10)]
fn lag(bencher: divan::Bencher, samples: usize) {
    let (record, settings) = (record(samples), Settings::default());
    assert!(thermometer_lag(&record, &settings).is_some());
    bencher.bench_local(|| thermometer_lag(&record, &settings));
}

/// The field of the trip and the sections that are drawn of it.
#[divan::bench(args = SAMPLES, sample_count = 10)]
fn field_and_sections(bencher: divan::Bencher, samples: usize) {
    let record = record(samples);
    let surface: Vec<(f64, f64)> = record.iter().map(|sample| (sample.time_s, 18.0)).collect();
    let way: Vec<(f64, f64)> = record.iter().map(|sample| (sample.time_s, 1.2 * sample.time_s)).collect();
    let work = || {
        let field = Field::new(&record, &surface, &Settings::default(), &FieldSettings::default());
        sections(&field, &way, &SectionSettings::default())
    };
    assert!(!work().is_empty());
    bencher.bench_local(work);
}
