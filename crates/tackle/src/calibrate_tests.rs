//! Boats with tackle of known truth, whose captains observe some depths.
//!
//! `WATERSEAM_SEEDS=2000` for the full run.

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};
use waterseam_logs::boat::{DiverTable, SpreadRod};

use super::*;
use crate::factors::Factors;
use crate::rig::rig;
use crate::{Stream, shape};

// Written before anything was tuned.
/// Nominal 90 % intervals of depths hold so many, in percent.
const HOLD_PERCENT: std::ops::RangeInclusive<f64> = 86.0..=94.0;
/// Of the mean square error that would go where the boat's tackle is known exactly, four to eight observed depths
/// take away as much, on average over the kinds; and of the variance that the depths state as much again. Nothing
/// takes away what comes with each lure, with the boat's speed and with the swell.
const TAKEN: f64 = 0.6;

const SEEDS_FROM: u64 = 90_000;
const DENSITY: f64 = 1000.0;
const TABLE: [(f64, f64); 3] = [(20.0, 8.0), (40.0, 15.0), (60.0, 21.0)];

fn normal(dice: &mut ChaCha8Rng) -> f64 {
    StandardNormal.sample(dice)
}

fn diver() -> DiverTable {
    DiverTable { name: "d".to_owned(), rods: Vec::new(), speed_mps: 1.0, rows: TABLE.to_vec() }
}

fn setup(method: LineMethod, dice: &mut ChaCha8Rng) -> SpreadRod {
    let weighted = matches!(method, LineMethod::ClipWeight | LineMethod::KeelWeight);
    let is_core = method == LineMethod::Leadcore;
    SpreadRod {
        rod: String::new(),
        method,
        line_out_m: (!is_core).then(|| dice.random_range(22.0..58.0)),
        colors: is_core.then(|| f64::from(dice.random_range(3..=10))),
        weight_kg: weighted.then(|| dice.random_range(0.05..0.3)),
        leader_m: None,
        longest_m: None,
        lure: None,
        depth_m: None,
    }
}

/// Depth at which the line really runs: with this boat's tackle, this day's lure, and another speed than the log's.
fn truly_m(rod: &SpreadRod, kept: &Differences, stw_mps: f64, dice: &mut ChaCha8Rng) -> f64 {
    let method = rod.method;
    let mut differences = *kept;
    for prior in priors(method) {
        differences[prior.factor as usize] += (1.0 - prior.kept).sqrt() * normal(dice);
    }
    let factors = Factors::at(method, &differences);
    if method == LineMethod::Diver {
        let out_m = rod.line_out_m.unwrap();
        let at = TABLE.partition_point(|row| row.0 < out_m).min(2);
        let ((x0, y0), (x1, y1)) = (TABLE[at - 1], TABLE[at]);
        return factors.table * (y0 + (y1 - y0) * (out_m - x0) / (x1 - x0));
    }
    let sections = rig(&Setup::from(rod), method, DENSITY, &factors).unwrap();
    let speed_mps = stw_mps + crate::STW_SE_MPS * normal(dice);
    shape(&sections, Stream { speed_mps, density_kg_per_m3: DENSITY }).unwrap().depth_m
}

fn seen(rod: SpreadRod, speed_mps: f64, depth_m: f64) -> ObservedDepth {
    ObservedDepth { setup: rod, speed_mps, depth_m, how: HowSeen::Probe, give_or_take_m: None }
}

/// Depths of one kind with observations, without, and with tackle that is known exactly.
#[derive(Default)]
struct Score {
    errors_m2: [f64; 3],
    stated_m2: [f64; 3],
    held: [f64; 3],
    n: f64,
}

impl Score {
    /// One boat with some depths observed and others asked.
    fn add(&mut self, method: LineMethod, dice: &mut ChaCha8Rng) {
        let mut kept = [0.0; FACTORS];
        for prior in priors(method) {
            kept[prior.factor as usize] = prior.kept.sqrt() * normal(dice);
        }
        let observed: Vec<ObservedDepth> = (0..dice.random_range(4..=8))
            .map(|_| {
                let (rod, stw_mps) = (setup(method, dice), dice.random_range(0.8..1.2));
                let depth_m = truly_m(&rod, &kept, stw_mps, dice) + PROBE_SE_M * normal(dice);
                seen(rod, stw_mps, depth_m.max(0.0))
            })
            .collect();
        let with = Tackle::new(&[diver()], &observed, DENSITY);
        let without = Tackle::new(&[diver()], &[], DENSITY);
        assert_eq!(with.observed(method), observed.len());
        let mut known = without.clone();
        known.posteriors[method as usize] =
            Posterior { mean: kept, covariance: Some([[0.0; FACTORS]; FACTORS]), observed: 1 };
        for _ in 0..4 {
            let (rod, stw_mps) = (setup(method, dice), dice.random_range(0.8..1.2));
            // half a metre of swell is in every depth's error
            let truth_m = truly_m(&rod, &kept, stw_mps, dice) + 0.5 * normal(dice);
            let tow = Tow { density_kg_per_m3: DENSITY, ..Tow::by_log(stw_mps) };
            for (which, tackle) in [&with, &without, &known].into_iter().enumerate() {
                let depth = tackle.depth(&Setup::from(&rod), &tow).unwrap();
                let error_m = truth_m - depth.depth_m;
                self.errors_m2[which] += error_m * error_m;
                self.stated_m2[which] += depth.depth_se_m * depth.depth_se_m;
                // 1.645 standard errors hold 90 % of a normal
                self.held[which] += f64::from(error_m.abs() <= 1.645 * depth.depth_se_m);
            }
            self.n += 1.0;
        }
    }
}

#[test]
fn observed_depths_make_others_better_and_their_errors_stay_honest() {
    let seeds = std::env::var("WATERSEAM_SEEDS").ok().and_then(|n| n.parse().ok()).unwrap_or(150u64);
    let (mut n, mut held) = (0.0, [0.0; 3]);
    let mut parts = Vec::new();
    for method in LineMethod::ALL {
        let mut score = Score::default();
        for seed in 0..seeds {
            score.add(method, &mut ChaCha8Rng::seed_from_u64(SEEDS_FROM + seed));
        }
        let taken = |[with, without, known]: [f64; 3]| (without - with) / (without - known);
        let part = (taken(score.errors_m2), taken(score.stated_m2));
        let [with, without, known] = score.errors_m2.map(|m2| (m2 / score.n).sqrt());
        println!(
            "{:<14} error {with:.2} m, without observations {without:.2} m, with tackle known exactly {known:.2} m: \
             {:.0} % taken, {:.0} % of what is stated; 90 % hold {:.1} %",
            method.word(),
            100.0 * part.0,
            100.0 * part.1,
            100.0 * score.held[0] / score.n,
        );
        parts.push(part);
        n += score.n;
        held = [held[0] + score.held[0], held[1] + score.held[1], held[2] + score.held[2]];
    }
    let mean = |part: fn(&(f64, f64)) -> f64| parts.iter().map(part).sum::<f64>() / parts.len() as f64;
    let [held, without, _] = held.map(|held| 100.0 * held / n);
    println!("90 % intervals hold {held:.1} %, without observations {without:.1} %");
    assert!(HOLD_PERCENT.contains(&held) && HOLD_PERCENT.contains(&without));
    assert!(mean(|part| part.0) >= TAKEN && mean(|part| part.1) >= TAKEN);
}

/// A probe on five colours shows `depth_m` at a metre a second.
fn five_colours(depth_m: f64) -> ObservedDepth {
    let rod = SpreadRod {
        rod: String::new(),
        method: LineMethod::Leadcore,
        line_out_m: None,
        colors: Some(5.0),
        weight_kg: None,
        leader_m: None,
        longest_m: None,
        lure: None,
        depth_m: None,
    };
    seen(rod, 1.0, depth_m)
}

#[test]
fn depths_move_towards_what_was_seen_and_other_kinds_stay() {
    let at = |tackle: &Tackle, rod: &SpreadRod| tackle.depth(&Setup::from(rod), &Tow::by_log(1.0)).unwrap();
    let plain = Tackle::default();
    let core = five_colours(0.0).setup;
    let before = at(&plain, &core);
    let deeper_m = before.depth_m + 1.0;
    let once = at(&Tackle::new(&[], &[five_colours(deeper_m)], DENSITY), &core);
    let often = Tackle::new(&[], &vec![five_colours(deeper_m); 8], DENSITY);
    let eight_times = at(&often, &core);
    assert!(before.depth_m + 0.1 < once.depth_m && once.depth_m < eight_times.depth_m, "{once:?}");
    assert!((eight_times.depth_m - deeper_m).abs() < 0.2, "{eight_times:?}");
    assert!(once.depth_se_m < before.depth_se_m && eight_times.depth_se_m < once.depth_se_m);
    let flat = SpreadRod { method: LineMethod::FlatLine, line_out_m: Some(30.0), colors: None, ..core };
    assert_eq!(at(&often, &flat), at(&plain, &flat));
}

#[test]
fn the_order_of_observations_does_not_matter() {
    let depths = [7.0, 9.5, 8.1, 8.8].map(five_colours);
    let mut turned = depths.clone();
    turned.reverse();
    let mean =
        |observed: &[ObservedDepth]| Tackle::new(&[], observed, DENSITY).posterior(LineMethod::Leadcore).mean;
    for (a, b) in mean(&depths).iter().zip(mean(&turned)) {
        assert!((a - b).abs() < 1e-6);
    }
}

#[test]
fn observations_that_contradict_each_other_are_trusted_less() {
    let rod = five_colours(0.0).setup;
    let se_m = |observed: &[f64]| {
        let observed: Vec<_> = observed.iter().copied().map(five_colours).collect();
        Tackle::new(&[], &observed, DENSITY).depth(&Setup::from(&rod), &Tow::by_log(1.0)).unwrap().depth_se_m
    };
    assert!(se_m(&[4.0, 12.0, 4.5, 11.5]) > 1.05 * se_m(&[8.0, 8.2, 7.9, 8.1]));
}

#[test]
fn an_observation_that_nothing_can_be_made_of_is_named() {
    let rod = SpreadRod { method: LineMethod::Diver, line_out_m: Some(30.0), ..five_colours(0.0).setup };
    let tackle = Tackle::new(&[], &[seen(rod, 1.0, 11.0), five_colours(8.0)], DENSITY);
    assert_eq!(tackle.seen()[0].without, Err(Refusal::NoTable));
    assert!(tackle.seen()[1].without.is_ok());
    assert_eq!((tackle.observed(LineMethod::Diver), tackle.observed(LineMethod::Leadcore)), (0, 1));
}
