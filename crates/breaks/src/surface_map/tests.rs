//! Is a mapped front where it was, and does the map know what it does not know?

use proptest::prelude::*;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};

use super::*;
use crate::covariance::CovarianceShape;

/// A front of 2 °C along a direction, in water that also slopes a little.
struct Water {
    along_deg: f64,
    width_m: f64,
}

impl Water {
    fn temp_c(&self, east_m: f64, north_m: f64) -> f64 {
        let (e, n) = waterseam_units::angle::east_north(1.0, self.along_deg + 90.0);
        let side_m = (east_m - 2_000.0) * e + (north_m - 2_000.0) * n;
        13.0 + (side_m * 9_f64.ln() / self.width_m).tanh() + 1e-4 * east_m
    }
}

/// Eight legs of 4 km, each back over the last at 17° and 600 m further north, at trolling speed, read by a sensor that shows tenths.
fn zig_zag(water: &Water, rng: &mut ChaCha8Rng) -> Vec<(f64, f64, f64)> {
    let mut samples = Vec::new();
    for (leg, row) in (0..8).enumerate() {
        for metre in (0..4_000).step_by(2) {
            let along_m = f64::from(metre);
            let east_m = if leg % 2 == 0 { along_m } else { 4_000.0 - along_m };
            let north_m = 600.0 * (f64::from(row) + along_m / 4_000.0);
            let noise: f64 = StandardNormal.sample(rng);
            let read_c = water.temp_c(east_m, north_m) + 0.05 * noise;
            samples.push((east_m, north_m, (read_c * 10.0).round() / 10.0));
        }
    }
    samples
}

/// What came of maps of many fronts.
#[derive(Default)]
struct Score {
    cells: f64,
    squared_errors: f64,
    squared_stated: f64,
    within_two: f64,
    covered_m2: f64,
}

impl Score {
    fn rms_error_c(&self) -> f64 {
        (self.squared_errors / self.cells).sqrt()
    }

    fn stated_error_c(&self) -> f64 {
        (self.squared_stated / self.cells).sqrt()
    }

    fn add(&mut self, map: &SurfaceMap, water: &Water) {
        for i in 0..map.nx * map.ny {
            assert_eq!(map.temp_c[i].is_some(), map.error_c[i].is_some());
            let (Some(temp_c), Some(error_c)) = (map.temp_c[i], map.error_c[i]) else { continue };
            let (east_m, north_m) = map.centre_m(i);
            let off_c = temp_c - water.temp_c(east_m, north_m);
            self.cells += 1.0;
            self.squared_errors += off_c * off_c;
            self.squared_stated += error_c * error_c;
            self.within_two += if off_c.abs() <= 2.0 * error_c { 1.0 } else { 0.0 };
            self.covered_m2 += map.cell_m * map.cell_m;
        }
    }
}

/// Maps of fronts that lie within a range of directions.
fn score(fronts: u32, along_deg: std::ops::Range<f64>) -> Score {
    let mut rng = ChaCha8Rng::seed_from_u64(11);
    let mut score = Score::default();
    for _ in 0..fronts {
        let water =
            Water { along_deg: rng.random_range(along_deg.clone()), width_m: rng.random_range(100.0..600.0) };
        let map = surface_map(&zig_zag(&water, &mut rng), &SurfaceMapSettings::default()).unwrap();
        score.add(&map, &water);
    }
    println!(
        "fronts of 100 to 600 m along {along_deg:?}°: RMS error {:.3} °C, stated {:.3} °C; within two errors {:.3}; \
         {:.1} km² of a map",
        score.rms_error_c(),
        score.stated_error_c(),
        score.within_two / score.cells,
        score.covered_m2 / f64::from(fronts) / 1e6,
    );
    score
}

/// Legs run at 81° and 279°.
#[test]
fn a_front_crossed_at_thirty_degrees_and_more_is_mapped_within_the_stated_error() {
    let score = score(12, -51.0..51.0);
    assert!(score.rms_error_c() <= score.stated_error_c());
    assert!(score.within_two >= 0.95 * score.cells);
    // half of what the track goes around, at least
    assert!(score.covered_m2 / 12.0 >= 0.5 * 4_000.0 * 4_800.0);
}

/// Between two legs beside a front nothing says how it lies: the limit that the documentation states.
#[test]
fn a_front_along_the_legs_is_mapped_within_twice_the_stated_error() {
    let score = score(12, 51.0..129.0);
    assert!(score.rms_error_c() <= 2.0 * score.stated_error_c());
}

#[test]
fn away_from_the_track_the_map_is_blank() {
    let water = Water { along_deg: 20.0, width_m: 300.0 };
    let mut samples = zig_zag(&water, &mut ChaCha8Rng::seed_from_u64(5));
    // from the end of the zig-zag, 9 km on to the north and back no way
    let (east_m, north_m, temp_c) = *samples.last().unwrap();
    samples.extend((1..4_500).map(|i| (east_m, north_m + 2.0 * f64::from(i), temp_c)));
    let map = surface_map(&samples, &SurfaceMapSettings::default()).unwrap();
    let nearest_m = |(east_m, north_m): (f64, f64)| {
        samples.iter().step_by(20).map(|s| (s.0 - east_m).hypot(s.1 - north_m)).fold(f64::INFINITY, f64::min)
    };
    let (mut far, mut on_track, mut on_track_blank) = (0, 0, 0);
    for i in 0..map.nx * map.ny {
        let off_m = nearest_m(map.centre_m(i));
        if off_m > 1_000.0 {
            far += 1;
            assert_eq!((map.temp_c[i], map.error_c[i]), (None, None), "{off_m} m away");
        }
        if off_m < 50.0 {
            on_track += 1;
            on_track_blank += usize::from(map.temp_c[i].is_none());
        }
    }
    assert!(far > 1_000 && on_track > 300, "{far} {on_track}");
    assert!(on_track_blank * 10 <= on_track, "{on_track_blank} of {on_track} cells on the track are blank");
}

#[test]
fn settings_of_nothing_end() {
    let nothing = SurfaceMapSettings {
        least_block_m: 0.0,
        greatest_blocks: 40,
        least_cell_m: f64::NAN,
        greatest_cells: 0,
        greatest_error: 0.5,
        isotherm_interval_c: 0.0,
        least_gradient_c_per_km: 0.0,
    };
    let water = Water { along_deg: 20.0, width_m: 300.0 };
    let map = surface_map(&zig_zag(&water, &mut ChaCha8Rng::seed_from_u64(5)), &nothing).unwrap();
    assert_eq!((map.nx, map.ny), (2, 2));
}

#[test]
fn nothing_is_made_of_nothing() {
    let settings = SurfaceMapSettings::default();
    assert_eq!(surface_map(&[], &settings), None);
    let still: Vec<(f64, f64, f64)> = (0..5_000).map(|i| (f64::from(i % 7), 0.0, 12.0)).collect();
    assert_eq!(surface_map(&still, &settings), None, "a boat that lies still");
    let even: Vec<(f64, f64, f64)> = (0..5_000).map(|i| (2.0 * f64::from(i), 0.0, 12.0)).collect();
    assert_eq!(surface_map(&even, &settings), None, "water that does not vary");
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    /// Whatever is given, nothing panics and what is said is finite.
    #[test]
    fn any_samples_are_answered(
        samples in prop::collection::vec((-2e4f64..2e4, -2e3f64..2e3, -5f64..30.0), 0..120),
        is_broken in any::<bool>(),
    ) {
        let mut samples = samples;
        if is_broken && let Some(first) = samples.first_mut() {
            first.2 = f64::NAN;
        }
        let settings = SurfaceMapSettings { greatest_blocks: 60, greatest_cells: 400, ..Default::default() };
        if let Some(map) = surface_map(&samples, &settings) {
            prop_assert_eq!((map.temp_c.len(), map.error_c.len()), (map.nx * map.ny, map.nx * map.ny));
            prop_assert!(map.nx * map.ny <= 400);
            prop_assert!(map.temp_c.iter().chain(&map.error_c).flatten().all(|v| v.is_finite()));
        }
    }

    /// The error of a cell is that from all blocks, and never less, wherever it lies and however the water varies.
    #[test]
    fn tiles_tell_what_all_blocks_tell(
        shape in prop::sample::select(vec![CovarianceShape::Exponential, CovarianceShape::Matern32]),
        length_m in 200f64..7_000.0,
        noise in prop::sample::select(vec![0.000_3, 0.01, 0.3]),
        apart_m in 30f64..900.0,
        asked in prop::collection::vec(0f64..1.0, 6),
    ) {
        let more = most_more(shape, length_m, noise, apart_m, |cells| {
            asked.iter().map(|part| (part * cells as f64) as usize).collect()
        });
        prop_assert!(more <= 2e-4, "{}", more);
    }
}

/// Legs just beyond a fixed number of nearest blocks, or between what is near and what posts tell: where the error was too
/// large by most, with only the nearest 64.
#[test]
fn tiles_tell_what_all_blocks_tell_of_every_cell() {
    for (length_m, noise, apart_m) in [
        (1_509.665_489_579_202_1, 0.01, 333.469_553_513_688_65),
        (766.0, 0.01, 329.0),
        (417.0, 0.3, 382.0),
        (1_898.0, 0.3, 530.0),
    ] {
        let more =
            most_more(CovarianceShape::Matern32, length_m, noise, apart_m, |cells| (0..cells).collect());
        assert!(more <= 1e-4, "{more}: length {length_m} m, noise {noise}, legs {apart_m} m apart");
    }
}

/// By how much the error of one of some cells is at most larger than that from all blocks, as a part of the water's standard
/// deviation. Which cells, is said by their number.
fn most_more(
    shape: CovarianceShape,
    length_m: f64,
    noise: f64,
    apart_m: f64,
    which: impl FnOnce(usize) -> Vec<usize>,
) -> f64 {
    // legs of 3 km, a block every 80 m
    let blocks: Vec<Observation> = (0..400)
        .map(|i| {
            let (leg, along_m) = (f64::from(i / 38), 80.0 * f64::from(i % 38));
            let east_m = if i / 38 % 2 == 0 { along_m } else { 3_000.0 - along_m };
            let north_m = leg * apart_m + 0.05 * along_m;
            Observation { east_m, north_m, temp_c: 12.0 + (east_m / 700.0).sin() + (north_m / 900.0).cos() }
        })
        .collect();
    let covariance = Covariance { shape, variance_c2: 4.0, length_m };
    let analysis = ObjectiveAnalysis::new(&blocks, covariance, 4.0 * noise, Mean::Estimated).unwrap();
    let map = blank(&blocks, covariance, 4.0 * noise, &SurfaceMapSettings::default());
    let fits = vec![1.0; blocks.len()];
    let mut tiles = Tiles::new(&map, &analysis, &blocks, &fits);
    let cells = which(map.nx * map.ny);
    tiles.ask(&map, &cells);
    let places_m: Vec<(f64, f64)> = cells.iter().map(|&cell| map.centre_m(cell)).collect();
    let mut most = f64::NEG_INFINITY;
    for (&cell, want) in cells.iter().zip(analysis.estimates(&places_m)) {
        let (temp_c, error_c) = tiles.at(&map, cell).unwrap();
        let more_c = error_c - want.error_variance_c2.sqrt();
        assert!((temp_c - want.temp_c).abs() <= 1e-8, "{temp_c} {}", want.temp_c);
        assert!(more_c >= -1e-7, "{more_c} less than {want:?}");
        most = most.max(more_c / covariance.variance_c2.sqrt());
    }
    most
}
