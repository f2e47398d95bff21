//! Simulated trips with known rates: do the intervals hold the truth, does the scan cry wolf, does it find
//! a band?

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, Poisson};

use super::*;
use crate::rates::{Counted, rate_ratio};
use crate::{
    Band, BandSettings, EffortRow, Evidence, Factor, Fished, PlacedBite, ScanSettings, bands, bites_needed,
    evidence, scan,
};

pub(super) fn minute(index: i64, depth_m: f64, rod_hours: f64) -> EffortRow {
    EffortRow {
        time_us: START_US + index * MINUTE_US,
        at: frame().to_position(0.0, 0.0),
        cell: 0,
        spell: 0,
        rod_hours,
        depth_m: Some(depth_m),
        temp_at_depth_c: None,
        surface_temp_c: None,
        stw_mps: None,
        lure_speed_mps: None,
        break_distance_m: None,
        break_side: None,
        above_thermocline_m: None,
        sun_elevation_deg: 10.0,
    }
}

pub(super) fn bite(index: i64, species: &str) -> PlacedBite {
    PlacedBite {
        note_index: 0,
        time_us: START_US + index * MINUTE_US + SECOND_US,
        time_se_s: 30.0,
        at: frame().to_position(0.0, 0.0),
        species: Some(species.to_owned()),
        outcome: None,
        weight_kg: None,
        length_m: None,
        rod: None,
        spell: Some(0),
        lure: None,
        depth_m: None,
        depth_se_m: None,
        depth_source: None,
        temp_at_depth_c: None,
        temp_at_depth_se_c: None,
        surface_temp_c: None,
        water_depth_m: None,
        sog_mps: None,
        stw_mps: None,
        lure_speed_mps: None,
        set_deg: None,
        drift_mps: None,
        break_distance_m: None,
        break_side: None,
        above_thermocline_m: None,
        sun_elevation_deg: 10.0,
        cell: 0,
        note: None,
    }
}

/// Bins of one factor of one trip.
fn of_trip(
    effort: &[EffortRow],
    bites: &[PlacedBite],
    factor: Factor,
    species: Option<&str>,
    settings: &BandSettings,
) -> Vec<Band> {
    let all = bands(&[Fished { spells: &[], effort, bites }], species, settings);
    all.into_iter().filter(|band| band.factor == factor).collect()
}

/// A trip in eight depth bins, 3 m each, with Poisson bites at given rates: one row of effort a bin.
fn trip(hours: &[f64; 8], rates: &[f64; 8], random: &mut ChaCha8Rng) -> Vec<Band> {
    let settings = BandSettings {
        scan: ScanSettings { draws: 199, ..ScanSettings::default() },
        ..BandSettings::default()
    };
    let effort: Vec<_> = (0..8).map(|i| minute(i as i64 * 10, 3.0 * i as f64 + 1.0, hours[i])).collect();
    let mut bites = Vec::new();
    for i in 0..8 {
        let expected = hours[i] * rates[i];
        let count = Poisson::new(expected).expect("a rate").sample(random) as u64;
        (0..count).for_each(|_| bites.push(bite(i as i64 * 10, "chinook")));
    }
    of_trip(&effort, &bites, Factor::Depth, None, &settings)
}

fn some_hours(random: &mut ChaCha8Rng, scale: f64) -> [f64; 8] {
    std::array::from_fn(|_| scale * (0.3 + random.random::<f64>()))
}

#[test]
fn ninety_percent_intervals_hold_the_truth_that_often() {
    let mut random = ChaCha8Rng::seed_from_u64(1);
    for (scale, spread) in [(3.0, 0.0), (3.0, 1.0), (10.0, 1.0), (40.0, 1.0)] {
        let (mut held, mut all) = (0, 0);
        for _ in 0..300 {
            let hours = some_hours(&mut random, scale);
            // rates about 0.5 a rod-hour, up to threefold apart
            let rates = std::array::from_fn(|_| 0.5 * (spread * 1.1 * (random.random::<f64>() - 0.5)).exp());
            for (band, truth) in trip(&hours, &rates, &mut random).iter().zip(rates) {
                let rate = band.rate.expect("a rate");
                assert!((rate.low..=rate.high).contains(&rate.per_rod_hour), "{band:?}");
                held += u32::from(rate.low <= truth && truth <= rate.high);
                all += 1;
            }
        }
        let coverage = f64::from(held) / f64::from(all);
        println!("{scale} rod-hours a bin, spread {spread}: coverage {coverage:.3}");
        assert!((0.85..=0.95).contains(&coverage), "coverage {coverage} at {scale} rod-hours a bin");
    }
}

#[test]
fn without_a_band_the_scan_finds_one_in_twenty_times_at_most() {
    let mut random = ChaCha8Rng::seed_from_u64(2);
    let found = (0..1000).filter(|_| {
        let hours = some_hours(&mut random, 8.0);
        trip(&hours, &[0.5; 8], &mut random).iter().any(|band| band.in_productive_band)
    });
    let false_alarms = found.count() as f64 / 1000.0;
    println!("false alarms {false_alarms:.3}");
    // 5 % and two standard errors of a thousand trips
    assert!(false_alarms <= 0.065, "false alarms {false_alarms}");
}

#[test]
fn a_doubled_rate_is_found_with_the_evidence_that_is_asked_for() {
    let mut random = ChaCha8Rng::seed_from_u64(3);
    let rates = [0.5, 0.5, 0.5, 1.0, 1.0, 0.5, 0.5, 0.5];
    // four times in five is what `bites_needed` promises; two standard errors of 400 trips below it is 0.76
    for (times, power_min) in [(1.0, 0.76), (3.0, 0.9)] {
        // a quarter of the effort lies in the band: five bites where the common rate alone would give four
        let scale = times * bites_needed() as f64 / (0.5 * 1.25 * 8.0 * 0.8);
        let (mut found, mut overlap) = (0, 0.0);
        for _ in 0..400 {
            let hours = some_hours(&mut random, scale);
            let bands = trip(&hours, &rates, &mut random);
            let in_band: Vec<bool> = bands.iter().map(|b| b.in_productive_band).collect();
            if in_band.iter().any(|&b| b) {
                found += 1;
                let both = (3..5).filter(|&i| in_band[i]).count() as f64;
                overlap += both / (2.0 + in_band.iter().filter(|&&b| b).count() as f64 - both);
            }
        }
        let (power, jaccard) = (f64::from(found) / 400.0, overlap / f64::from(found));
        println!("{times} times the bites asked for: found {power:.2}, overlap {jaccard:.2}");
        assert!(power >= power_min, "found {power} of the bands with {times} times the bites asked for");
        assert!(jaccard >= 0.6, "overlap {jaccard}");
    }
}

#[test]
fn too_little_evidence_says_how_much_more() {
    let mut random = ChaCha8Rng::seed_from_u64(4);
    let thin = trip(&[1.0; 8], &[0.5; 8], &mut random);
    let Evidence::TooThin { more_rod_hours, more_bites } = evidence(&thin) else { panic!("thin") };
    let seen: u64 = thin.iter().map(|b| b.bites).sum();
    assert_eq!(more_bites, bites_needed() - seen);
    assert!(more_rod_hours > 8.0);
    assert_eq!(evidence(&[]), Evidence::NoEffort);
    let strong = trip(&[60.0; 8], &[0.5, 0.5, 0.5, 2.0, 2.0, 0.5, 0.5, 0.5], &mut random);
    assert_eq!(evidence(&strong), Evidence::Found);
    let even = [Band { bites: bites_needed(), in_productive_band: false, ..thin[0].clone() }];
    assert_eq!(evidence(&even), Evidence::EnoughForNone);
    let fishless = trip(&[1.0; 8], &[1e-9; 8], &mut random);
    assert!(matches!(evidence(&fishless), Evidence::TooThin { .. }));
}

#[test]
fn species_are_counted_apart_over_the_same_effort() {
    let effort = [minute(0, 1.0, 2.0), minute(1, 4.0, 2.0)];
    let bites = [bite(0, "chinook"), bite(1, "coho"), bite(1, "coho")];
    let count = |species| {
        let bands = of_trip(&effort, &bites, Factor::Depth, species, &BandSettings::default());
        bands.iter().map(|b| (b.bites, b.rod_hours, b.species.clone())).collect::<Vec<_>>()
    };
    assert_eq!(count(Some("coho")), [(0, 2.0, "coho".to_owned()), (2, 2.0, "coho".to_owned())]);
    assert_eq!(count(None), [(1, 2.0, "*".to_owned()), (2, 2.0, "*".to_owned())]);
}

#[test]
fn a_bite_where_no_effort_was_logged_has_no_rate() {
    let stray = PlacedBite { spell: None, depth_m: Some(25.0), ..bite(0, "coho") };
    let bands = of_trip(&[minute(0, 1.0, 2.0)], &[stray], Factor::Depth, None, &BandSettings::default());
    assert_eq!((bands[1].low, bands[1].high, bands[1].bites, bands[1].rate), (24.0, 27.0, 1, None));
    assert!(bands[0].rate.is_some() && bands[0].band_p_value.is_none());
}

#[test]
fn bins_of_the_distance_to_a_break_double() {
    let at = |m: f64| EffortRow { break_distance_m: Some(m), ..minute(0, 1.0, 1.0) };
    let effort = [at(0.0), at(99.0), at(100.0), at(250.0), at(5000.0)];
    let got = of_trip(&effort, &[], Factor::BreakDistance, None, &BandSettings::default());
    let edges: Vec<_> = got.iter().map(|b| (b.low, b.high, b.rod_hours)).collect();
    assert_eq!(edges, [(0.0, 100.0, 2.0), (100.0, 200.0, 1.0), (200.0, 400.0, 1.0), (3200.0, 6400.0, 1.0)]);
}

#[test]
fn the_scan_is_the_same_each_time_and_finds_a_planted_band() {
    let bins: Vec<_> =
        [2, 1, 3, 14, 12, 2, 1, 2].iter().map(|&count| Counted { count, exposure: 5.0 }).collect();
    let first = scan(&bins, &ScanSettings::default()).unwrap();
    assert_eq!(first.bins, 3..5);
    assert!(first.p_value <= 0.002);
    assert_eq!(Some(first), scan(&bins, &ScanSettings::default()));
    assert_eq!(scan(&[Counted { count: 3, exposure: 1.0 }], &ScanSettings::default()), None);
    // the two sides of the planted band compared exactly
    let inside = Counted { count: 26, exposure: 10.0 };
    let outside = Counted { count: 11, exposure: 30.0 };
    assert!(rate_ratio(inside, outside, 0.9).unwrap().ratio_low.unwrap() > 2.0);
}
