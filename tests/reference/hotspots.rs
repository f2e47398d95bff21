//! Hot-spot statistics on hexagons, against reference libraries, on made values and on an open survey.
//!
//! Sources: `hot_spot_values.csv`, `hot_spot_results.csv`: esda 2.9.0; `hot_spot_distance_weights.csv`: the formula of Ord & Getis
//! 1995, computed apart; `survey_*.csv`: esda 2.9.0 on hauls of the Eastern Bering Sea survey of 2017.

mod common;

use std::collections::BTreeMap;

use common::{close, table};
use waterseam_bites::rates::{Counted, moments};
use waterseam_breaks::benjamini_hochberg;
use waterseam_hotspots::{cells, gi_star, gi_stars, upper_tail};

fn cell(text: &str) -> u64 {
    u64::from_str_radix(text, 16).unwrap_or_else(|e| panic!("{text}: {e}"))
}

/// Each cell with those at one step that are there too, all with weight 1.
fn neighbourhoods(all: &[u64]) -> Vec<Vec<(usize, f64)>> {
    let find = |cell: &u64| all.iter().position(|other| other == cell);
    all.iter()
        .map(|&c| cells::rings(c, 1).concat().iter().filter_map(find).map(|i| (i, 1.0)).collect())
        .collect()
}

#[test]
fn gi_star_on_hexagons() {
    let mut sets: BTreeMap<String, Vec<(u64, f64, usize)>> = BTreeMap::new();
    for row in table("hot_spot_values.csv") {
        let values = (cell(row.text("cell")), row.must("value"), row.must("n_neighbours") as usize);
        sets.entry(row.text("data_set").to_owned()).or_default().push(values);
    }
    let mut results: BTreeMap<String, Vec<[f64; 4]>> = BTreeMap::new();
    for row in table("hot_spot_results.csv") {
        let want = ["z", "p_upper", "p_two_sided", "bh_adjusted"].map(|column| row.must(column));
        results.entry(row.text("data_set").to_owned()).or_default().push(want);
    }
    assert_eq!(sets.len(), results.len());
    for (set, values) in sets {
        let all: Vec<u64> = values.iter().map(|(cell, ..)| *cell).collect();
        let around = neighbourhoods(&all);
        for (around, (cell, _, n)) in around.iter().zip(&values) {
            assert_eq!(around.len(), n + 1, "{set}, {cell:x}");
        }
        let values: Vec<f64> = values.iter().map(|(_, value, _)| *value).collect();
        let got = gi_stars(&values, &around);
        let two_sided: Vec<f64> = got.iter().map(|z| 2.0 * upper_tail(z.expect("a deviate").abs())).collect();
        let adjusted = benjamini_hochberg(&two_sided, two_sided.len() as f64);
        for (i, [z, p_upper, p_two_sided, bh]) in results[&set].iter().enumerate() {
            let case = format!("{set}, row {i}");
            let z_got = got[i].expect("a deviate");
            close(&case, z_got, *z, 1e-8);
            close(&case, gi_star(&values, &around[i]).expect("a deviate"), z_got, 0.0);
            close(&case, upper_tail(z_got), *p_upper, 1e-9);
            close(&case, two_sided[i], *p_two_sided, 1e-9);
            close(&case, adjusted[i], *bh, 1e-9);
        }
    }
}

#[test]
fn gi_star_with_weights_that_fall_with_distance() {
    const LENGTH: f64 = 1.5;
    let rows = table("hot_spot_distance_weights.csv");
    let at: Vec<(f64, f64)> = rows.iter().map(|row| (row.must("x"), row.must("y"))).collect();
    let values: Vec<f64> = rows.iter().map(|row| row.must("value")).collect();
    for (i, row) in rows.iter().enumerate() {
        let weight = |j: usize| {
            let d = (at[i].0 - at[j].0).hypot(at[i].1 - at[j].1);
            if d <= 2.0 * LENGTH { (-d * d / (2.0 * LENGTH * LENGTH)).exp() } else { 0.0 }
        };
        let weights: Vec<(usize, f64)> = (0..at.len()).map(|j| (j, weight(j))).collect();
        close(row.text("i"), gi_star(&values, &weights).expect("a deviate"), row.must("z"), 1e-9);
    }
}

/// Hauls of the survey by cell.
fn hauls(resolution: u8) -> BTreeMap<u64, Vec<f64>> {
    let mut hauls: BTreeMap<u64, Vec<f64>> = BTreeMap::new();
    for row in table("survey_hauls.csv") {
        let at = waterseam_units::LatLon::new(row.must("lat"), row.must("lon")).expect("a position");
        let cell = cells::of(at, resolution).expect("a cell");
        hauls.entry(cell).or_default().push(row.must("cpue_kg_per_ha"));
    }
    hauls
}

#[test]
fn gi_star_of_an_open_survey() {
    let hauls = hauls(4);
    let all: Vec<u64> = hauls.keys().copied().collect();
    let means: Vec<f64> =
        hauls.values().map(|hauls| hauls.iter().sum::<f64>() / hauls.len() as f64).collect();
    let got = gi_stars(&means, &neighbourhoods(&all));
    let want = table("survey_gi_star.csv");
    assert_eq!(want.len(), all.len());
    for row in want {
        let i = all.binary_search(&cell(row.text("cell"))).expect("the cell is fished");
        assert_eq!(hauls[&all[i]].len(), row.must("hauls") as usize);
        close(
            row.text("cell"),
            means[i],
            row.must("mean_kg_per_ha"),
            1e-9 * row.must("mean_kg_per_ha").max(1.0),
        );
        close(row.text("cell"), got[i].expect("a deviate"), row.must("z"), 1e-8);
    }
}

#[test]
fn shrunken_rates_of_an_open_survey() {
    let hauls = hauls(3);
    let count = |hauls: &Vec<f64>| hauls.iter().filter(|&&catch| catch >= 10.0).count() as u64;
    let counted: Vec<Counted> =
        hauls.values().map(|hauls| Counted { count: count(hauls), exposure: hauls.len() as f64 }).collect();
    let prior = moments(&counted).and_then(|moments| moments.prior).expect("shares that differ");
    let all: Vec<u64> = hauls.keys().copied().collect();
    for row in table("survey_empirical_bayes.csv") {
        let i = all.binary_search(&cell(row.text("cell"))).expect("the cell is fished");
        close(row.text("cell"), counted[i].rate().expect("hauls"), row.must("rate"), 1e-9);
        close(row.text("cell"), prior.posterior(counted[i]).mean().expect("a mean"), row.must("eb"), 1e-9);
    }
}
