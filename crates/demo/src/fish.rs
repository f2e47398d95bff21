//! When does a fish bite?
//!
//! Bites of a species come as a Poisson process. Its rate for one rod is highest at one temperature and one depth and falls
//! off on both sides as a normal curve; near a break it is multiplied. The rates are invented, and are part of the truth.

use serde::{Deserialize, Serialize};

use crate::days::Day;
use crate::dice::{Dice, round};
use crate::lake::water_depth_m;
use crate::lines::{SETTLE_S, Spell};
use crate::voyage::Voyage;

/// True bite rate of one species.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct SpeciesRate {
    /// Species.
    pub species: String,
    /// Rate at the best temperature and depth, away from breaks, bites a rod-hour.
    pub per_rod_hour: f64,
    /// Best temperature at the lure, °C.
    pub best_temp_c: f64,
    /// Standard deviation of the curve about it, °C.
    pub temp_sd_c: f64,
    /// Best depth of the lure, m.
    pub best_depth_m: f64,
    /// Standard deviation of the curve about it, m.
    pub depth_sd_m: f64,
    /// Factor near a break.
    pub near_break_factor: f64,
    /// Distance from the middle of a break within which the factor holds, m.
    pub near_break_m: f64,
}

impl SpeciesRate {
    /// Rate in bites a rod-hour for a lure at a depth and temperature, at a distance from the nearest break.
    pub fn rate_per_rod_hour(&self, temp_c: f64, depth_m: f64, break_distance_m: Option<f64>) -> f64 {
        let bell = |x: f64, best: f64, sd: f64| (-0.5 * ((x - best) / sd).powi(2)).exp();
        let near = break_distance_m.is_some_and(|distance| distance.abs() <= self.near_break_m);
        let factor = if near { self.near_break_factor } else { 1.0 };
        self.per_rod_hour
            * factor
            * bell(temp_c, self.best_temp_c, self.temp_sd_c)
            * bell(depth_m, self.best_depth_m, self.depth_sd_m)
    }
}

/// A bite as it happened.
#[derive(Clone, Debug)]
pub(crate) struct Bite {
    /// Index of its spell.
    pub spell: usize,
    /// Seconds of the voyage.
    pub second: f64,
    pub species: String,
    pub outcome: &'static str,
    pub weight_kg: f64,
    pub depth_m: f64,
    pub temp_c: f64,
    pub break_distance_m: Option<f64>,
}

/// Time between looks at the rate, s.
const LOOK_S: usize = 5;
/// A lure is kept off the bottom by this much, m.
const OFF_BOTTOM_M: f64 = 1.0;

/// A lure at a second of the voyage.
struct Lure {
    depth_m: f64,
    temp_c: f64,
    break_distance_m: Option<f64>,
    /// Rate of each species, bites a rod-hour.
    rates: Vec<f64>,
}

fn lure_at(day: &Day, voyage: &Voyage, spell: &Spell, second: usize) -> Lure {
    let state = &voyage.states[second];
    let depth_m = spell.setup.running_depth_m.min(water_depth_m(state.point) - OFF_BOTTOM_M);
    let temp_c = day.lake.column.temp_c(state.surface_temp_c, depth_m, state.thermocline_depth_m);
    let break_distance_m = day.lake.front_distance_m(state.point, day.plotter_on_s + second as f64);
    let rate = |rate: &SpeciesRate| rate.rate_per_rod_hour(temp_c, depth_m, break_distance_m);
    Lure { depth_m, temp_c, break_distance_m, rates: day.rates.iter().map(rate).collect() }
}

/// Bites to be expected of a spell as long as it was: the rates of all species, integrated over it.
pub(crate) fn expected_bites(day: &Day, voyage: &Voyage, spell: &Spell) -> f64 {
    let looks = (spell.start + SETTLE_S..spell.end).step_by(LOOK_S);
    looks
        .map(|second| {
            let length_s = LOOK_S.min(spell.end - second) as f64;
            lure_at(day, voyage, spell, second).rates.iter().sum::<f64>() * length_s / 3600.0
        })
        .sum()
}

/// The first bite of a spell, if there is one before its planned end.
pub(crate) fn first_bite(
    day: &Day,
    voyage: &Voyage,
    spell: &Spell,
    spell_index: usize,
    luck: &mut Dice,
) -> Option<Bite> {
    for second in (spell.start + SETTLE_S..spell.end).step_by(LOOK_S) {
        let Lure { depth_m, temp_c, break_distance_m, rates } = lure_at(day, voyage, spell, second);
        let total: f64 = rates.iter().sum();
        let p = 1.0 - (-total * LOOK_S as f64 / 3600.0).exp();
        if luck.chance(p) {
            let species = day.rates[drawn(&rates, luck.uniform(0.0, total))].species.clone();
            let weight_kg = weight_kg(&species, luck);
            return Some(Bite {
                spell: spell_index,
                second: (second as f64 + luck.uniform(0.0, LOOK_S as f64)).min(spell.end as f64),
                species,
                outcome: ["landed", "landed", "landed", "released", "lost"][luck.whole(0, 4) as usize],
                weight_kg,
                depth_m,
                temp_c,
                break_distance_m,
            });
        }
    }
    None
}

/// Index of the share of a sum in which a value lies.
fn drawn(shares: &[f64], mut value: f64) -> usize {
    for (i, share) in shares.iter().enumerate() {
        if value < *share {
            return i;
        }
        value -= share;
    }
    shares.len() - 1
}

/// Weight of a fish, kg. Invented.
fn weight_kg(species: &str, luck: &mut Dice) -> f64 {
    let (low, high) = match species {
        "chinook" => (3.0, 10.0),
        "lake trout" => (2.0, 7.0),
        "steelhead" => (2.0, 6.0),
        _ => (1.2, 4.5),
    };
    // light fish are more common
    round(low + (high - low) * luck.unit().powi(2), 2)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_rate_is_highest_at_its_best_and_near_a_break() {
        let coho = SpeciesRate {
            species: "coho".to_owned(),
            per_rod_hour: 0.8,
            best_temp_c: 12.0,
            temp_sd_c: 2.0,
            best_depth_m: 15.0,
            depth_sd_m: 6.0,
            near_break_factor: 3.0,
            near_break_m: 300.0,
        };
        assert!((coho.rate_per_rod_hour(12.0, 15.0, None) - 0.8).abs() < 1e-12);
        assert!((coho.rate_per_rod_hour(12.0, 15.0, Some(-200.0)) - 2.4).abs() < 1e-12);
        assert!((coho.rate_per_rod_hour(14.0, 15.0, Some(900.0)) - 0.8 * (-0.5_f64).exp()).abs() < 1e-12);
    }
}
