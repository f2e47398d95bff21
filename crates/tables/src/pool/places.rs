//! What was done and caught in each cell, part of the season and species, over all boats of a pool?
//!
//! Counts, sums and medians, as `crates/fleet/sql/layer.sql` asks other engines for them; what they mean is for the science
//! to say.

use std::collections::{BTreeMap, BTreeSet};

use jiff::civil::Date;
use waterseam_units::PlaceSums;

use super::{PoolBite, PoolRows};

/// Resolution of the cells in the tables.
const FINEST: u8 = 9;
/// Resolution of the finest cells that there are (H3 index format, <https://h3geo.org/docs/core-library/h3Indexing>).
const FINEST_OF_H3: u8 = 15;
/// Where the resolution stands in the index of a cell (same source).
const RESOLUTION_BIT: u32 = 52;

/// Word for all species together.
const ALL: &str = "*";

/// What was done and caught in a place.
#[derive(Clone, Debug, PartialEq)]
pub struct PlaceCounts {
    /// H3 cell.
    pub cell: u64,
    /// Part of the season.
    pub part: String,
    /// Species, `*` for all.
    pub species: String,
    /// What was done there.
    pub sums: PlaceSums,
    /// Trips that fished there.
    pub trips: i64,
    /// Years with such a trip.
    pub years: i64,
    /// Bites.
    pub bites: i64,
    /// Years with a bite.
    pub years_with_bites: i64,
    /// Bites a rod-hour; missing where nothing was fished.
    pub rate_raw: Option<f64>,
    /// Median depth of the bites, m.
    pub bite_depth_m: Option<f64>,
    /// Median temperature at that depth, °C.
    pub bite_temp_c: Option<f64>,
    /// Median temperature at the surface, °C.
    pub bite_surface_temp_c: Option<f64>,
}

/// The cell of a coarser resolution that holds a cell of resolution 9 by its index; `None` where there is none.
///
/// # Method
/// The digits finer than the resolution become 7, which stands for none (H3 index format).
pub fn parent(cell: u64, resolution: u8) -> Option<u64> {
    let coarser = FINEST.checked_sub(resolution).filter(|_| cell != 0)?;
    let finer = (1_u64 << (3 * (FINEST_OF_H3 - resolution))) - 1;
    cell.checked_sub(u64::from(coarser) << RESOLUTION_BIT).map(|cell| cell | finer)
}

/// Counts of every place that a boat came through: for all species together, and for each that bit anywhere.
///
/// `part_of` says the part of the season that a day is in. Places come by part, cell and species.
pub fn places(rows: &PoolRows, resolution: u8, part_of: impl Fn(Date) -> String) -> Vec<PlaceCounts> {
    let days: Vec<(i16, String)> =
        rows.trips.iter().map(|trip| (trip.day.year(), part_of(trip.day))).collect();
    let parts: BTreeSet<&str> = days.iter().map(|(_, part)| part.as_str()).collect();
    let part_index: BTreeMap<&str, u16> = parts.iter().copied().zip(0..).collect();
    let parts: Vec<&str> = parts.into_iter().collect();
    let trips: Vec<(u16, i16)> = days.iter().map(|(year, part)| (part_index[part.as_str()], *year)).collect();

    let mut caught: BTreeMap<(u16, u64), BTreeMap<&str, Caught<'_>>> = BTreeMap::new();
    let mut species = BTreeSet::from([ALL]);
    for bite in &rows.bites {
        let Some(cell) = parent(bite.cell, resolution) else { continue };
        let (part, year) = trips[bite.trip];
        let here = caught.entry((part, cell)).or_default();
        for name in [Some(ALL), bite.species.as_deref()].into_iter().flatten() {
            species.insert(name);
            here.entry(name).or_default().add(year, bite);
        }
    }

    let mut visits: Vec<(u16, u64, usize, usize)> = Vec::with_capacity(rows.visits.len());
    for (index, visit) in rows.visits.iter().enumerate() {
        visits.extend(
            parent(visit.cell, resolution).map(|cell| (trips[visit.trip].0, cell, visit.trip, index)),
        );
    }
    visits.sort_unstable();
    let mut found = Vec::new();
    for place in visits.chunk_by(|a, b| (a.0, a.1) == (b.0, b.1)) {
        let (part, cell) = (place[0].0, place[0].1);
        let mut done = PlaceCounts::of(cell, parts[usize::from(part)]);
        let mut years = BTreeSet::new();
        for trip in place.chunk_by(|a, b| a.2 == b.2) {
            let before_us = done.sums.fished_us;
            for &(_, _, _, visit) in trip {
                done.sums += rows.visits[visit].sums;
            }
            if done.sums.fished_us > before_us {
                done.trips += 1;
                years.insert(trips[trip[0].2].1);
            }
        }
        done.years = years.len() as i64;
        let here = caught.get(&(part, cell));
        found.extend(species.iter().map(|name| done.with(name, here.and_then(|here| here.get(name)))));
    }
    found
}

impl PlaceCounts {
    fn of(cell: u64, part: &str) -> Self {
        Self {
            cell,
            part: part.to_owned(),
            species: String::new(),
            sums: PlaceSums::default(),
            trips: 0,
            years: 0,
            bites: 0,
            years_with_bites: 0,
            rate_raw: None,
            bite_depth_m: None,
            bite_temp_c: None,
            bite_surface_temp_c: None,
        }
    }

    fn with(&self, species: &str, caught: Option<&Caught<'_>>) -> Self {
        let nothing = Caught::default();
        let caught = caught.unwrap_or(&nothing);
        let bites = caught.bites.len() as i64;
        Self {
            species: species.to_owned(),
            bites,
            years_with_bites: caught.years.len() as i64,
            rate_raw: (self.sums.fished_us > 0).then(|| bites as f64 / self.sums.rod_hours()),
            bite_depth_m: caught.median(|bite| bite.depth_m),
            bite_temp_c: caught.median(|bite| bite.temp_at_depth_c),
            bite_surface_temp_c: caught.median(|bite| bite.surface_temp_c),
            ..self.clone()
        }
    }
}

#[derive(Default)]
struct Caught<'a> {
    years: BTreeSet<i16>,
    bites: Vec<&'a PoolBite>,
}

impl<'a> Caught<'a> {
    fn add(&mut self, year: i16, bite: &'a PoolBite) {
        self.years.insert(year);
        self.bites.push(bite);
    }

    fn median(&self, value: fn(&PoolBite) -> Option<f64>) -> Option<f64> {
        let mut values: Vec<f64> = self.bites.iter().filter_map(|bite| value(bite)).collect();
        values.sort_by(f64::total_cmp);
        let n = values.len();
        (n > 0).then(|| f64::midpoint(values[(n - 1) / 2], values[n / 2]))
    }
}
