//! Simulated years with known rates: do hot places, intervals and the model of luck hold?
//!
//! Nothing of the invented lake of `demo` is used here: discs of good water that move with the season, a lake without any, and trips that
//! stay near a ground of their own, so that luck and place are hard to tell apart.

use jiff::civil::{Date, date};
use rand::{Rng, RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, Normal, Poisson};
use waterseam_units::LatLon;
use waterseam_units::geodesy::{direct, inverse};

use super::*;

/// Middle of the simulated lake, in open ocean.
const MIDDLE: LatLon = LatLon { lat_deg: 46.2, lon_deg: -29.4 };
const BASE: f64 = 0.4;

struct Water {
    /// Middle of the good water in each of the seven months, its radius, m, and its factor; none on a uniform lake.
    good: Option<[(LatLon, f64, f64); 7]>,
}

impl Water {
    fn factor(&self, cell: u64, month: usize) -> f64 {
        let (Some(good), Some(at)) = (&self.good, cells::centre(cell)) else { return 1.0 };
        let (middle, radius_m, factor) = good[month];
        if inverse(middle, at).0 < radius_m { factor } else { 1.0 }
    }
}

struct Lake {
    water: Water,
    visits: Vec<Visit>,
    bites: Vec<Bite>,
}

fn somewhere(random: &mut impl Rng, within_m: f64) -> LatLon {
    direct(MIDDLE, random.random_range(0.0..360.0), within_m * random.random::<f64>().sqrt())
}

/// Ten years of forty trips from April to October.
fn lake(seed: u64, is_uniform: bool) -> Lake {
    let mut random = ChaCha8Rng::seed_from_u64(seed);
    let normal = Normal::new(0.0, 1.0).expect("a spread");
    let good = (!is_uniform).then(|| {
        let seasons: [(LatLon, f64, f64); 3] = std::array::from_fn(|_| {
            (
                somewhere(&mut random, 9000.0),
                random.random_range(2500.0..4500.0),
                random.random_range(3.5..7.0),
            )
        });
        [0, 0, 1, 1, 1, 2, 2].map(|season| seasons[season])
    });
    let water = Water { good };
    let grounds: Vec<LatLon> = (0..10).map(|_| somewhere(&mut random, 10_000.0)).collect();
    let mut lake = Lake { water, visits: Vec::new(), bites: Vec::new() };
    for year in 0..10_i16 {
        let year_factor = f64::exp(0.2 * normal.sample(&mut random));
        for n in 0..40 {
            let trip = 40 * year as usize + n;
            let day = date(2017 + year, 4, 1).saturating_add(jiff::Span::new().days(n as i64 * 214 / 40));
            let luck = f64::exp(0.6 * normal.sample(&mut random) - 0.18) * year_factor;
            let ground = match random.random_range(0..10) {
                0..7 => grounds[random.random_range(0..grounds.len())],
                _ => somewhere(&mut random, 12_000.0),
            };
            lake.trip(trip, day, ground, luck, &mut random);
        }
    }
    lake
}

impl Lake {
    fn trip(&mut self, trip: usize, day: Date, ground: LatLon, luck: f64, random: &mut ChaCha8Rng) {
        let (mut at, mut heading) = (ground, random.random_range(0.0..360.0));
        let mut hours: std::collections::BTreeMap<u64, f64> = std::collections::BTreeMap::new();
        for _ in 0..90 {
            at = direct(at, heading, 220.0);
            let (away_m, back) = inverse(at, ground);
            heading = if away_m > 4000.0 { back } else { heading + random.random_range(-60.0..60.0) };
            *hours.entry(cells::of(at, cells::FINEST).expect("a cell")).or_default() += 0.28;
        }
        let month = usize::from(day.month().unsigned_abs()) - 4;
        for (cell, rod_hours) in hours {
            self.visits.push(Visit {
                trip,
                day,
                cell,
                rod_hours,
                run_m: 220.0,
                breaks: 0,
                surface_temp_c: None,
            });
            let mean = BASE * self.water.factor(cell, month) * luck * rod_hours;
            let n = Poisson::new(mean).expect("a mean").sample(random) as usize;
            let bite = Bite {
                trip,
                day,
                cell,
                species: None,
                depth_m: Some(12.0),
                temp_at_depth_c: None,
                surface_temp_c: None,
            };
            self.bites.extend(std::iter::repeat_n(bite, n));
        }
    }

    /// True rate of a cell in a month: mean over what was fished in it.
    fn truth(&self) -> std::collections::BTreeMap<(usize, u64), f64> {
        let mut sums: std::collections::BTreeMap<(usize, u64), (f64, f64)> =
            std::collections::BTreeMap::new();
        for visit in &self.visits {
            let month = usize::from(visit.day.month().unsigned_abs()) - 4;
            let place = (month + 3, cells::parent(visit.cell, 7).expect("a cell"));
            let sum = sums.entry(place).or_default();
            sum.0 += visit.rod_hours * BASE * self.water.factor(visit.cell, month);
            sum.1 += visit.rod_hours;
        }
        sums.into_iter().map(|(place, (a, b))| (place, a / b)).collect()
    }
}

#[derive(Debug, Default)]
struct Score {
    right: usize,
    wrong: usize,
    missed: usize,
    held: usize,
    intervals: usize,
    lakes_with_hot: usize,
}

fn score(seeds: std::ops::Range<u64>, is_uniform: bool) -> Score {
    let mut score = Score::default();
    for seed in seeds {
        let lake = lake(seed, is_uniform);
        let truth = lake.truth();
        let rows = layer(&lake.visits, &lake.bites, &Settings::default());
        // mean over the fished water of each month
        let mut mean = [(0.0, 0.0); 12];
        for row in &rows {
            if let Some(rate) = truth.get(&(row.part, row.cell)) {
                mean[row.part].0 += rate * row.rod_hours;
                mean[row.part].1 += row.rod_hours;
            }
        }
        let mut any = false;
        for row in &rows {
            let Some(rate) = row.rate else { continue };
            let true_rate = truth[&(row.part, row.cell)];
            let (sum, hours) = mean[row.part];
            let is_hot = true_rate >= 2.0 * sum / hours;
            score.held += usize::from(rate.low <= true_rate && true_rate <= rate.high);
            score.intervals += 1;
            any |= row.hot;
            if row.rod_hours >= 20.0 {
                score.right += usize::from(row.hot && is_hot);
                score.wrong += usize::from(row.hot && !is_hot);
                score.missed += usize::from(!row.hot && is_hot);
            }
        }
        score.lakes_with_hot += usize::from(any);
    }
    score
}

fn seeds(some: u64) -> u64 {
    std::env::var("WATERSEAM_SEEDS").ok().and_then(|text| text.parse().ok()).unwrap_or(some)
}

/// The goals are those that the project set itself for a lake like the demo's (precision 0.9, recall 0.8), less what chance does to so few places (two
/// standard errors of a share). Here trips are luckier and keep to their grounds, so that some good water cannot be told from lucky
/// trips: over 16 lakes precision is 0.94 and recall 0.80.
#[test]
fn hot_places_are_found_and_few_are_false() {
    let score = score(11..11 + seeds(2), false);
    println!("{score:?}");
    let (right, wrong, missed) = (score.right as f64, score.wrong as f64, score.missed as f64);
    let held = score.held as f64 / score.intervals as f64;
    println!(
        "precision {:.3}, recall {:.3}, intervals {held:.3}",
        right / (right + wrong),
        right / (right + missed)
    );
    let less = |share: f64, n: f64| share - 2.0 * (share * (1.0 - share) / n).sqrt();
    assert!(right + wrong >= 20.0 && right >= less(0.9, right + wrong) * (right + wrong), "precision");
    assert!(right >= less(0.8, right + missed) * (right + missed), "recall");
    assert!((0.85..0.97).contains(&held), "intervals hold {held:.3}");
}

#[test]
fn a_uniform_lake_has_no_hot_place() {
    let n = seeds(1);
    let score = score(1001..1001 + n, true);
    println!("{score:?} intervals {:.3}", score.held as f64 / score.intervals as f64);
    assert!(score.lakes_with_hot as f64 <= 0.05 * n as f64);
}

#[test]
fn nothing_gives_nothing() {
    assert!(layer(&[], &[], &Settings::default()).is_empty());
    assert_eq!(skill(&[], &[], &Settings::default()), None);
    assert!(Model::new(&[], &[], &Settings::default()).expected(6, Some(12.0)).is_empty());
    let cell = cells::of(MIDDLE, cells::FINEST).expect("a cell");
    let day = date(2026, 7, 4);
    let visit = Visit { trip: 0, day, cell, rod_hours: 0.0, run_m: 120.0, breaks: 0, surface_temp_c: None };
    let rows = layer(&[visit], &[], &Settings::default());
    assert_eq!((rows.len(), rows[0].rate, rows[0].rate_raw, rows[0].hot), (1, None, None, false));
    let rows = layer(&[Visit { rod_hours: 4.0, ..visit }], &[], &Settings::default());
    let rate = rows[0].rate.expect("effort");
    assert!(rate.mean > 0.0 && rate.low <= rate.mean && rate.mean <= rate.high);
}

#[test]
fn the_order_of_rows_changes_no_bit() {
    let mut lake = lake(5, false);
    let settings = Settings { draws: 9, ..Settings::default() };
    lake.visits.truncate(3000);
    lake.bites.retain(|bite| bite.trip < 30);
    let one = layer(&lake.visits, &lake.bites, &settings);
    lake.visits.reverse();
    assert_eq!(one, layer(&lake.visits, &lake.bites, &settings));
}

#[test]
fn water_that_the_fish_like_is_told_from_places() {
    // a lake without good places, where every degree above the usual is worth a fifth
    let mut random = ChaCha8Rng::seed_from_u64(7);
    let mut lake = lake(6, true);
    let mut of_trip: std::collections::BTreeMap<usize, f64> = std::collections::BTreeMap::new();
    lake.bites.clear();
    for visit in &mut lake.visits {
        let away = *of_trip.entry(visit.trip).or_insert_with(|| random.random_range(-3.0..3.0));
        visit.surface_temp_c = Some(12.0 + away);
        let mean = BASE * f64::exp(0.2 * away) * visit.rod_hours;
        for _ in 0..Poisson::new(mean).expect("a mean").sample(&mut random) as usize {
            let Visit { trip, day, cell, surface_temp_c, .. } = *visit;
            lake.bites.push(Bite {
                trip,
                day,
                cell,
                species: None,
                depth_m: None,
                temp_at_depth_c: None,
                surface_temp_c,
            });
        }
    }
    let model = Model::new(&lake.visits, &lake.bites, &Settings::default());
    let july = SeasonPart::Month.number(date(2026, 7, 4));
    let usual = model.usual_temp_c(july).expect("measured");
    let (warm, cold) = (model.factor(july, usual + 2.0), model.factor(july, usual - 2.0));
    assert!((warm / cold).ln() > 0.5 && (warm / cold).ln() < 1.1, "{warm} to {cold}");
}
