//! Which line is in the water, from when to when, and how deep does its lure run?
//!
//! The mate sets all lines three times a day, checks each one every half hour or so, and a line comes in
//! with every bite. Running depths follow rules of thumb, so that they do not rest on the physics that is to be tested.

use waterseam_units::convert::M_PER_FT;

use crate::days::Day;
use crate::dice::{Dice, Stream};
use crate::fish::{Bite, first_bite};
use crate::voyage::Voyage;

/// How a line is taken down.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Method {
    Downrigger,
    Diver,
    Leadcore,
    FlatLine,
}

impl Method {
    /// The word of the gear log.
    pub(crate) fn word(self) -> &'static str {
        match self {
            Self::Downrigger => "downrigger",
            Self::Diver => "diver",
            Self::Leadcore => "leadcore",
            Self::FlatLine => "flat_line",
        }
    }
}

/// A rod of the boat.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Rod {
    pub name: &'static str,
    pub method: Method,
    pub lure: &'static str,
    /// Where it fishes within the depths of the day, 0 at the top, 1 at the bottom.
    place: (f64, f64),
}

/// The rods that *Kittiwake* has out. The first one carries the probe on its cable.
pub(crate) const SPREAD: [Rod; 6] = [
    Rod { name: "port rigger", method: Method::Downrigger, lure: "green spoon", place: (0.45, 1.0) },
    Rod {
        name: "starboard rigger",
        method: Method::Downrigger,
        lure: "blue and silver spoon",
        place: (0.2, 0.8),
    },
    Rod { name: "port diver", method: Method::Diver, lure: "white fly behind paddle", place: (0.3, 0.9) },
    Rod {
        name: "starboard diver",
        method: Method::Diver,
        lure: "green fly behind paddle",
        place: (0.2, 0.8),
    },
    Rod { name: "starboard core", method: Method::Leadcore, lure: "orange spoon", place: (0.0, 0.6) },
    Rod { name: "port flat line", method: Method::FlatLine, lure: "small red plug", place: (0.0, 0.0) },
];

/// Index of the rod with the probe.
pub(crate) const PROBE_ROD: usize = 0;
/// Weight on a downrigger, lb.
pub(crate) const DOWNRIGGER_LB: f64 = 12.0;
/// Line behind the release of a downrigger, ft.
pub(crate) const DROP_BACK_FT: f64 = 25.0;
/// Line out on the flat line, ft.
const FLAT_LINE_OUT_FT: f64 = 90.0;
/// Depth of the flat line's plug, m. Invented.
const FLAT_LINE_M: f64 = 1.2;
/// Depth of a downrigger's weight over the counter's reading: the cable trails a little. Invented.
const CABLE_SHARE: f64 = 0.98;
/// Depth of a diver over its line out. From memory: makers' tables say a third to a half.
const DIVER_SHARE: f64 = 0.38;
/// Depth for each colour (10 yards) of lead-core line at about 2 mph, ft. Common practice, no source.
const FT_PER_COLOR: f64 = 5.0;

/// What is let out for a spell.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Setup {
    pub line_out_ft: Option<f64>,
    pub colors: Option<f64>,
    /// What the counter of a downrigger shows.
    pub counter_ft: Option<f64>,
    /// How deep the lure really runs, m.
    pub running_depth_m: f64,
}

/// A rod with its line in the water.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Spell {
    /// Index in [`SPREAD`].
    pub rod: usize,
    /// Seconds of the voyage.
    pub start: usize,
    pub end: usize,
    pub setup: Setup,
    /// The first spell after a set: the probe looks at the whole column on its way down.
    pub is_new_set: bool,
}

/// Times that all lines are set in a day.
const SETS: usize = 3;
/// From one rod to the next when lines go out or come in, s.
const STAGGER_S: usize = 80;
/// Shortest spell worth setting, s.
const SPELL_MIN_S: usize = 600;
/// A lure does not fish before it is down, s.
pub(crate) const SETTLE_S: usize = 120;

/// All spells and bites of a day, in order of time.
pub(crate) fn fish(day: &Day, voyage: &Voyage) -> (Vec<Spell>, Vec<Bite>) {
    let mut mate = Dice::new(day.seed, Stream::Lines);
    let mut luck = Dice::new(day.seed, Stream::Bites);
    let mut spells = Vec::new();
    let mut bites = Vec::new();
    for (rod, set) in (0..SPREAD.len()).flat_map(|rod| (0..SETS).map(move |set| (rod, set))) {
        let (mut from, until) = set_times(voyage, set, rod);
        let setup = draw_setup(rod, day.fished_m, &mut mate);
        let mut is_new_set = true;
        while from + SPELL_MIN_S < until {
            let check = from + mate.whole(25 * 60, 45 * 60) as usize;
            // a last stretch too short to set again is fished through
            let planned = if check + SPELL_MIN_S + 300 > until { until } else { check };
            let mut spell = Spell { rod, start: from, end: planned, setup, is_new_set };
            if let Some(bite) = first_bite(day, voyage, &spell, spells.len(), &mut luck) {
                spell.end = bite.second.ceil() as usize;
                bites.push(bite);
            }
            spells.push(spell);
            from = spell.end + mate.whole(170, 420) as usize;
            is_new_set = false;
        }
    }
    in_order_of_time(&spells, bites)
}

/// Seconds of the voyage between which a rod fishes in one of the sets.
fn set_times(voyage: &Voyage, set: usize, rod: usize) -> (usize, usize) {
    /// All lines in, a look at the lures, all lines out again.
    const PAUSE_S: usize = 240;
    let stagger = rod * STAGGER_S;
    let length = voyage.trolling.len() / SETS;
    let start = voyage.trolling.start + set * length;
    let last = (SPREAD.len() - 1) * STAGGER_S;
    (start + 90 + stagger, (start + length).saturating_sub(PAUSE_S + last - stagger))
}

fn draw_setup(rod: usize, fished_m: (f64, f64), mate: &mut Dice) -> Setup {
    let Rod { method, place, .. } = SPREAD[rod];
    let place = mate.uniform(place.0, place.1);
    let wanted_ft = (fished_m.0 + place * (fished_m.1 - fished_m.0)) / M_PER_FT;
    let none = Setup { line_out_ft: None, colors: None, counter_ft: None, running_depth_m: 0.0 };
    match method {
        Method::Downrigger => {
            let counter_ft = wanted_ft.round();
            Setup {
                counter_ft: Some(counter_ft),
                running_depth_m: counter_ft * CABLE_SHARE * M_PER_FT,
                ..none
            }
        }
        Method::Diver => {
            let out_ft = (wanted_ft / DIVER_SHARE / 5.0).round().max(6.0) * 5.0;
            Setup { line_out_ft: Some(out_ft), running_depth_m: out_ft * DIVER_SHARE * M_PER_FT, ..none }
        }
        Method::Leadcore => {
            let colors = (2.0 * wanted_ft / FT_PER_COLOR).round().clamp(4.0, 20.0) / 2.0;
            Setup { colors: Some(colors), running_depth_m: colors * FT_PER_COLOR * M_PER_FT, ..none }
        }
        Method::FlatLine => {
            Setup { line_out_ft: Some(FLAT_LINE_OUT_FT), running_depth_m: FLAT_LINE_M, ..none }
        }
    }
}

/// Sorts spells by their start and bites by their time; a bite's spell stays its own.
fn in_order_of_time(spells: &[Spell], mut bites: Vec<Bite>) -> (Vec<Spell>, Vec<Bite>) {
    let mut order: Vec<usize> = (0..spells.len()).collect();
    order.sort_by_key(|&i| (spells[i].start, spells[i].rod));
    for bite in &mut bites {
        bite.spell = order.iter().position(|&i| i == bite.spell).unwrap_or(bite.spell);
    }
    bites.sort_by(|a, b| a.second.total_cmp(&b.second));
    (order.iter().map(|&i| spells[i]).collect(), bites)
}
