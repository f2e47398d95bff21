//! What did the probe record on a day, and what was made of it?

use std::ops::Range;

use waterseam_breaks::{IsothermCrossing, IsothermDepths, Settings, find_isotherm_steps};
use waterseam_column::{Pass, Sample};
use waterseam_demo::truth::{CrossingTruth, TripTruth};
use waterseam_demo::{Knobs, Scenario};

use crate::scored_days::{Chance, over_seeds, read};

/// What kind of water, and what the probe does in it.
#[derive(Clone, Copy, Debug)]
pub enum Water {
    /// One to three fronts, under each of which the thermocline stands 2 m to 7 m higher or lower, and internal waves of up to
    /// 0.5 m; the probe goes down and up in 2 to 4 minutes.
    Fronts,
    /// No front; internal waves of 0.3 m to 1 m; the same probe.
    Waves,
    /// The same water and fronts as in `Fronts`, but the probe hangs at the depth of its lure between looks.
    Seldom,
}

/// A day, its truth and what was found.
pub struct Day {
    pub truth: TripTruth,
    /// The isotherm that was followed, °C.
    pub isotherm_c: f64,
    pub found: Vec<IsothermCrossing>,
    /// Way in one cycle of the probe at trolling speed, m.
    pub cycle_m: f64,
    /// Time with the probe in the water, h.
    pub towed_h: f64,
    passes: Vec<Pass>,
    /// Zero of the clock of what was found.
    pub zero_us: i64,
}

impl Day {
    pub fn passes(&self) -> usize {
        self.passes.len()
    }

    /// Passes about a crossing: seconds after it, depth of the isotherm, m.
    pub fn passes_about(&self, truth: &CrossingTruth) -> Vec<(i64, f64)> {
        let after_s = |pass: &Pass| (pass.time_s - (truth.time_us - self.zero_us) as f64 / 1e6) as i64;
        let about = self.passes.iter().map(|pass| (after_s(pass), (10.0 * pass.depth_m).round() / 10.0));
        about.filter(|(after_s, _)| after_s.abs() < 1_200).collect()
    }

    /// Whether the probe was in the water at an instant.
    pub fn is_towed(&self, time_us: i64) -> bool {
        probe_spells(&self.truth).any(|(from_us, to_us)| (from_us..=to_us).contains(&time_us))
    }
}

/// Days of seeds.
pub fn days(seeds: Range<u64>, water: Water) -> Vec<Day> {
    over_seeds(seeds, |seed| day(seed, water))
}

fn day(seed: u64, water: Water) -> Day {
    let mut chance = Chance(seed);
    let cycle_s = chance.between(120.0, 240.0).round();
    let mut knobs = Knobs {
        troll_hours: Some(chance.between(4.0, 6.0)),
        least_crossing_deg: Some(18.0),
        probe_lag_s: chance.between(0.5, 6.0),
        probe_cycle_s: Some(cycle_s),
        // the line comes in with every bite
        bite_factor: 0.0,
        thermocline_m: Some(chance.between(10.0, 18.0)),
        ..Knobs::default()
    };
    match water {
        Water::Fronts | Water::Seldom => {
            let n = 1 + (chance.unit() * 3.0) as usize;
            knobs.steps_c = Some((0..n).map(|_| chance.between(0.6, 2.0)).collect());
            knobs.thermocline_step_m = Some(chance.between(2.0, 7.0));
            knobs.internal_wave_m = Some(chance.between(0.0, 0.5));
        }
        Water::Waves => {
            knobs.steps_c = Some(Vec::new());
            knobs.internal_wave_m = Some(chance.between(0.3, 1.0));
        }
    }
    if matches!(water, Water::Seldom) {
        knobs.probe_cycle_s = None;
    }
    let demo = waterseam_demo::trip_with(seed, Scenario::Random, &knobs);
    let trip = read(&demo.files[..2], &waterseam_track::Settings::default());
    let track = &trip.track;
    let zero_us = track.time_us[0];
    let samples: Vec<Sample> = trip
        .probe
        .iter()
        .filter(|sample| sample.temp_qc.is_usable())
        .filter_map(|sample| {
            let time_s = (sample.time_us - zero_us) as f64 / 1e6;
            Some(Sample { time_s, depth_m: sample.depth_m, temp_c: sample.temp_c? })
        })
        .collect();
    let settings = waterseam_column::Settings::default();
    let profiles = waterseam_column::profiles(&samples, &settings);
    let layers: Vec<_> =
        profiles.iter().map(|profile| waterseam_column::layers(profile, None, 0.0, &settings)).collect();
    let isotherm_c = waterseam_column::thermocline_temp_c(&profiles, &layers).unwrap().round();
    let passes = waterseam_column::passes(&samples, isotherm_c, &settings);
    let time_s: Vec<f64> = passes.iter().map(|pass| pass.time_s).collect();
    let run_m = |time_s: &f64| {
        let time_us = zero_us + (1e6 * time_s) as i64;
        let after = track.time_us.partition_point(|&t| t < time_us).clamp(1, track.len() - 1);
        let (t0, t1) = (track.time_us[after - 1], track.time_us[after]);
        let share = ((time_us - t0) as f64 / (t1 - t0) as f64).clamp(0.0, 1.0);
        track.distance_m[after - 1] + share * (track.distance_m[after] - track.distance_m[after - 1])
    };
    let distance_m: Vec<f64> = time_s.iter().map(run_m).collect();
    let depth_m: Vec<f64> = passes.iter().map(|pass| pass.depth_m).collect();
    let depths =
        IsothermDepths { temp_c: isotherm_c, time_s: &time_s, distance_m: &distance_m, depth_m: &depth_m };
    let found = find_isotherm_steps(&[depths], &Settings::default());
    let towed_us: i64 = probe_spells(&demo.truth).map(|(from_us, to_us)| to_us - from_us).sum();
    Day {
        cycle_m: 1.1 * cycle_s,
        towed_h: towed_us as f64 / 3.6e9,
        truth: demo.truth,
        isotherm_c,
        found,
        passes,
        zero_us,
    }
}

/// The rod whose line carries the probe.
fn probe_spells(truth: &TripTruth) -> impl Iterator<Item = (i64, i64)> {
    let spells = truth.spells.iter().filter(|spell| spell.rod == "port rigger");
    spells.map(|spell| (spell.start_us, spell.end_us))
}
