//! Which lure and which rod do the bites speak for, once the water that they ran in is taken off?
//!
//! A lure that only ever ran in good water has many bites and is none the better for it. Counted are bites a rod-hour in cells of lure, rod,
//! depth, temperature and trip; each of the five has a factor of its own on the rate, and what the water explains is not
//! credited to the lure.

use std::collections::{BTreeMap, BTreeSet};

use waterseam_tackle::rod_key;

use crate::bands::{BandSettings, Fished, interrupted, of_each};
use crate::effort::EffortRow;
use crate::factor::Factor;
use crate::place::PlacedBite;
use crate::rates::Counted;
use crate::regression::{Block, Cell, Fit, fit};

/// Levels of the comparison.
#[derive(Clone, Debug, PartialEq)]
pub struct CreditSettings {
    /// Bins of depth and temperature. Default: 1 m and 0.5 °C, finer than those of bands: what the water does within a
    /// bin is credited to the lure that ran there.
    pub bins: BandSettings,
    /// Normal quantile of the ends of an interval. Default 1.645: nine in ten lie within.
    pub quantile: f64,
}

impl Default for CreditSettings {
    fn default() -> Self {
        Self {
            bins: BandSettings { depth_step_m: 1.0, temp_step_c: 0.5, ..BandSettings::default() },
            quantile: 1.645,
        }
    }
}

/// What a lure, or a rod in its place, is worth.
#[derive(Clone, Debug, PartialEq)]
pub struct Credit {
    /// Lure or rod, as it was first written.
    pub name: String,
    /// Effort with it, rod-hours.
    pub rod_hours: f64,
    /// Bites on it.
    pub bites: u64,
    /// Bites that the average one of its kind would have had in the same water, on the same trips.
    pub expected: f64,
    /// Its rate over that of the average one, shrunken toward 1 as far as the evidence is thin.
    pub ratio: f64,
    /// Lower end of the interval of `ratio`.
    pub ratio_low: f64,
    /// Upper end.
    pub ratio_high: f64,
}

/// Lures and rods, each in alphabetical order of their names in lower case.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Credits {
    /// Lures.
    pub lures: Vec<Credit>,
    /// Rods.
    pub rods: Vec<Credit>,
}

const LURE: usize = 0;
const ROD: usize = 1;
/// Lure, rod, depth, temperature and trip.
const BLOCKS: usize = 5;

/// What lures and rods are worth, over one trip or several, for one species or (`None`) for all.
///
/// Effort without a lure takes part as one lure of its own, which is not given; bites that interrupted no effort take none. Empty where nothing bit.
///
/// # Method
/// Poisson regression with a factor for each lure, rod, depth bin, temperature bin and trip, all shrunken: normal on the logarithm, those of
/// neighbouring bins alike (a random walk), how far they differ learned from the data themselves (see `regression`).
pub fn credits(trips: &[Fished], species: Option<&str>, settings: &CreditSettings) -> Credits {
    credits_of_each(trips, &[species], settings).pop().unwrap_or_default()
}

/// The same for each of several species, one after the other: the effort is gone through once.
pub fn credits_of_each(
    trips: &[Fished],
    species: &[Option<&str>],
    settings: &CreditSettings,
) -> Vec<Credits> {
    let mut names = [Names::default(), Names::default()];
    let mut hours: BTreeMap<Key, f64> = BTreeMap::new();
    let mut bitten: Vec<(&PlacedBite, Key)> = Vec::new();
    for (index, trip) in trips.iter().enumerate() {
        let bin = |factor: Factor, value: Option<f64>| factor.bin(value?, &settings.bins);
        // minutes of a spell have one lure and rod
        let mut of_spell: BTreeMap<usize, [String; 2]> = BTreeMap::new();
        let mut key = |row: &EffortRow| {
            let [lure, rod] = of_spell.entry(row.spell).or_insert_with(|| {
                let spell = trip.spells.get(row.spell);
                let lure = spell.and_then(|spell| spell.lure.as_deref()).unwrap_or_default();
                [names[LURE].of(lure), names[ROD].of(spell.map_or("", |spell| &spell.rod))]
            });
            Key {
                lure: lure.clone(),
                rod: rod.clone(),
                depth: bin(Factor::Depth, row.depth_m),
                temp: bin(Factor::TempAtDepth, row.temp_at_depth_c),
                trip: index,
            }
        };
        for row in trip.effort {
            *hours.entry(key(row)).or_default() += row.rod_hours;
        }
        let interrupted = trip.bites.iter().filter_map(|bite| Some((bite, interrupted(trip.effort, bite)?)));
        bitten.extend(interrupted.map(|(bite, row)| (bite, key(&trip.effort[row]))));
    }
    hours.retain(|_, hours| *hours > 0.0);
    let table = Table::new(&hours, names);
    let all: Vec<&PlacedBite> = bitten.iter().map(|(bite, _)| *bite).collect();
    of_each(&all, species, |is_counted| {
        let counted = bitten.iter().zip(is_counted).filter(|(_, is_counted)| **is_counted);
        table.compare(counted.map(|((_, key), _)| key), settings).unwrap_or_default()
    })
}

/// Everything that effort is told apart by.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
struct Key {
    lure: String,
    rod: String,
    depth: Option<i64>,
    temp: Option<i64>,
    trip: usize,
}

/// Names as they were first written, by what is the same in all ways of writing them.
#[derive(Default)]
struct Names(BTreeMap<String, String>);

impl Names {
    fn of(&mut self, written: &str) -> String {
        let key = rod_key(written);
        self.0.entry(key.clone()).or_insert_with(|| written.trim().to_owned());
        key
    }
}

/// The effort in cells, before any event is counted.
struct Table<'a> {
    /// In order.
    keys: Vec<&'a Key>,
    cells: Vec<Cell<BLOCKS>>,
    blocks: [Block; BLOCKS],
    lures: Levels<&'a str>,
    rods: Levels<&'a str>,
    names: [Names; 2],
}

impl<'a> Table<'a> {
    fn new(hours: &'a BTreeMap<Key, f64>, names: [Names; 2]) -> Self {
        let lures = Levels::new(hours.keys().map(|key| &*key.lure));
        let rods = Levels::new(hours.keys().map(|key| &*key.rod));
        let depths = Levels::new(hours.keys().map(|key| key.depth));
        let temps = Levels::new(hours.keys().map(|key| key.temp));
        let trips = Levels::new(hours.keys().map(|key| key.trip));
        let cell = |(key, &exposure): (&Key, &f64)| Cell {
            levels: [
                lures.index(&&*key.lure),
                rods.index(&&*key.rod),
                depths.index(&key.depth),
                temps.index(&key.temp),
                trips.index(&key.trip),
            ],
            seen: Counted { count: 0, exposure },
        };
        let cells = hours.iter().map(cell).collect();
        let blocks = [
            Block::apart(lures.len()),
            Block::apart(rods.len()),
            Block::in_order(&depths.0),
            Block::in_order(&temps.0),
            Block::apart(trips.len()),
        ];
        Self { keys: hours.keys().collect(), cells, blocks, lures, rods, names }
    }

    fn compare<'b>(
        &self,
        events: impl Iterator<Item = &'b Key>,
        settings: &CreditSettings,
    ) -> Option<Credits> {
        let mut cells = self.cells.clone();
        for event in events {
            if let Ok(cell) = self.keys.binary_search(&event) {
                cells[cell].seen.count += 1;
            }
        }
        let fit = fit(&cells, &self.blocks)?;
        let of = |block: usize, levels: &Levels<&str>| {
            let named = levels.0.iter().enumerate().filter(|(_, key)| !key.is_empty());
            let name = |key: &str| &self.names[block].0[key];
            named.map(|(level, key)| credit(&fit, &cells, block, level, name(key), settings)).collect()
        };
        Some(Credits { lures: of(LURE, &self.lures), rods: of(ROD, &self.rods) })
    }
}

fn credit(
    fit: &Fit<BLOCKS>,
    rows: &[Cell<BLOCKS>],
    block: usize,
    level: usize,
    name: &str,
    settings: &CreditSettings,
) -> Credit {
    let own = rows.iter().filter(|row| row.levels[block] == level);
    let seen = Counted::total(&own.clone().map(|row| row.seen).collect::<Vec<_>>());
    let (log_ratio, se) = fit.against_average(rows, block, level);
    let fitted: f64 = own.map(|row| fit.expected(row)).sum();
    Credit {
        name: name.to_owned(),
        rod_hours: seen.exposure,
        bites: seen.count,
        expected: fitted / log_ratio.exp(),
        ratio: log_ratio.exp(),
        ratio_low: (log_ratio - settings.quantile * se).exp(),
        ratio_high: (log_ratio + settings.quantile * se).exp(),
    }
}

/// Different values, in order.
struct Levels<T>(Vec<T>);

impl<T: Ord> Levels<T> {
    fn new(values: impl Iterator<Item = T>) -> Self {
        Self(values.collect::<BTreeSet<T>>().into_iter().collect())
    }

    fn len(&self) -> usize {
        self.0.len()
    }

    fn index(&self, value: &T) -> usize {
        self.0.partition_point(|level| level < value)
    }
}
