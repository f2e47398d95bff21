//! How long does the estimate of a trip take, and does it grow with the trip?
//!
//! A trip of ten hours with a row a second has 36,000 rows.

use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};
use waterseam_currents::{Motion, Settings, Velocity, estimate};

fn main() {
    divan::main();
}

/// A zig-zag at 1.2 m/s over an edge of 0.3 m/s every hour, by instruments that err.
struct Trip {
    time_s: Vec<f64>,
    distance_m: Vec<f64>,
    columns: [Vec<Option<f64>>; 4],
}

impl Trip {
    fn new(rows: usize) -> Self {
        let mut rng = ChaCha8Rng::seed_from_u64(1);
        let mut noise = |sd: f64| -> f64 {
            let normal: f64 = StandardNormal.sample(&mut rng);
            sd * normal
        };
        let time_s: Vec<f64> = (0..rows).map(|i| i as f64).collect();
        let distance_m = time_s.iter().map(|t| 1.2 * t).collect();
        let mut columns: [Vec<Option<f64>>; 4] = Default::default();
        for t in &time_s {
            let heading = [40.0, 130.0, 220.0, 310.0][(t / 900.0) as usize % 4] + 20.0 * (t / 600.0).sin();
            let hour = ((t + 450.0) / 3_600.0) as usize;
            let side = if hour.is_multiple_of(2) { 0.15 } else { -0.15 };
            let ground = Velocity::toward(1.2, heading) + Velocity { east_mps: side, north_mps: 0.1 };
            let (sog, cog) = ground.speed_direction();
            let row =
                [sog + noise(0.03), cog.unwrap_or(0.0) + noise(1.5), 1.1 + noise(0.02), heading + noise(1.0)];
            for (column, value) in columns.iter_mut().zip(row) {
                column.push(Some(value));
            }
        }
        Self { time_s, distance_m, columns }
    }

    fn motion(&self) -> Motion<'_> {
        let [sog_mps, cog_deg, stw_mps, heading_deg] = &self.columns;
        let (time_s, distance_m) = (&self.time_s, &self.distance_m);
        Motion { time_s, distance_m, sog_mps, cog_deg, stw_mps, heading_deg, ..Motion::default() }
    }
}

#[divan::bench(args = [9_000, 18_000, 36_000, 72_000])]
fn log_and_compass(bencher: divan::Bencher, rows: usize) {
    let trip = Trip::new(rows);
    let found = estimate(trip.motion(), None, &Settings::default());
    assert!(found.calibration.is_some() && !found.edges.is_empty(), "{:?}", found.remarks);
    bencher.bench_local(|| estimate(trip.motion(), None, &Settings::default()));
}

#[divan::bench(args = [9_000, 18_000, 36_000, 72_000])]
fn log_alone(bencher: divan::Bencher, rows: usize) {
    let trip = Trip::new(rows);
    let motion = Motion { heading_deg: &[], ..trip.motion() };
    assert!(!estimate(motion, None, &Settings::default()).windows.is_empty());
    bencher.bench_local(|| estimate(motion, None, &Settings::default()));
}
