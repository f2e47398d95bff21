//! What did every trip do in every place, and which places are there?
//!
//! A place is a cell in a part of the season. Sums are of whole microseconds and millimetres: whatever the order of
//! the trips, the same sum.

use std::collections::{BTreeMap, BTreeSet};

use jiff::civil::Date;
use waterseam_units::PlaceSums;

use crate::cells;
use crate::season::SeasonPart;

/// What one trip did in one cell of the finest grid.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Visit {
    /// Index of the trip.
    pub trip: usize,
    /// Day of the trip, in the boat's zone.
    pub day: Date,
    /// H3 cell, resolution 9.
    pub cell: u64,
    /// Hours of one rod with its line in the water, all rods together.
    pub rod_hours: f64,
    /// Way run in it, m.
    pub run_m: f64,
    /// Crossings of breaks in it.
    pub breaks: u32,
    /// Temperature at the surface, mean under its effort, °C.
    pub surface_temp_c: Option<f64>,
}

impl Visit {
    fn sums(&self) -> PlaceSums {
        let mut sums = PlaceSums::default();
        sums.fish(self.rod_hours, self.surface_temp_c);
        sums.run(self.run_m);
        sums.cross(i64::from(self.breaks));
        sums
    }
}

/// A bite, as the layer sees it.
#[derive(Clone, Debug, PartialEq)]
pub struct Bite {
    /// Index of the trip.
    pub trip: usize,
    /// Day of the trip, in the boat's zone.
    pub day: Date,
    /// H3 cell, resolution 9.
    pub cell: u64,
    /// Species.
    pub species: Option<String>,
    /// Depth of the lure, m.
    pub depth_m: Option<f64>,
    /// Temperature there, °C.
    pub temp_at_depth_c: Option<f64>,
    /// Temperature at the surface, °C.
    pub surface_temp_c: Option<f64>,
}

/// A cell in a part of the season.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct Place {
    /// Number of the part, from 0.
    pub part: usize,
    pub cell: u64,
}

/// What a trip did in one place.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Piece {
    /// Index of the place.
    pub place: usize,
    pub hours: f64,
    pub bites: u64,
    pub surface_temp_c: Option<f64>,
}

/// One trip.
#[derive(Clone, Debug)]
pub(crate) struct Trip {
    pub day: Date,
    pub part: usize,
    /// Where it fished, by place; none without effort.
    pub pieces: Vec<Piece>,
}

impl Trip {
    pub fn hours(&self) -> f64 {
        self.pieces.iter().map(|piece| piece.hours).sum()
    }

    pub fn bites(&self) -> u64 {
        self.pieces.iter().map(|piece| piece.bites).sum()
    }
}

/// All trips by place.
#[derive(Clone, Debug)]
pub(crate) struct Tally {
    /// In order of the part, then of the cell.
    pub places: Vec<Place>,
    /// What was done in each.
    pub sums: Vec<PlaceSums>,
    /// By day, then by index.
    pub trips: Vec<Trip>,
    /// Bites (by index) in each place.
    pub bites: Vec<Vec<usize>>,
}

impl Tally {
    /// Lays visits and bites over places. `wanted` says which bites count. What lies in no cell takes no part.
    pub fn new(
        visits: &[Visit],
        bites: &[Bite],
        resolution: u8,
        division: SeasonPart,
        wanted: impl Fn(&Bite) -> bool,
    ) -> Self {
        let place = |day: Date, cell: u64| {
            let cell = cells::parent(cell, resolution)?;
            Some(Place { part: division.number(day), cell })
        };
        let mut done: BTreeMap<(Date, usize), BTreeMap<Place, (PlaceSums, u64)>> = BTreeMap::new();
        for visit in visits {
            if let Some(place) = place(visit.day, visit.cell) {
                done.entry((visit.day, visit.trip)).or_default().entry(place).or_default().0 += visit.sums();
            }
        }
        let mut bitten: BTreeMap<Place, Vec<usize>> = BTreeMap::new();
        for (index, bite) in bites.iter().enumerate().filter(|(_, bite)| wanted(bite)) {
            if let Some(place) = place(bite.day, bite.cell) {
                bitten.entry(place).or_default().push(index);
                let trip = done.entry((bite.day, bite.trip)).or_default();
                trip.entry(place).or_default().1 += 1;
            }
        }
        let places: BTreeSet<Place> = done.values().flat_map(|trip| trip.keys().copied()).collect();
        let places: Vec<Place> = places.into_iter().collect();
        let mut sums = vec![PlaceSums::default(); places.len()];
        let mut trips = Vec::new();
        for ((day, _), did) in done {
            let mut pieces = Vec::new();
            for (place, (did, bites)) in did {
                let Ok(place) = places.binary_search(&place) else { continue };
                sums[place] += did;
                if did.fished_us > 0 {
                    let surface_temp_c = did.surface_temp_c();
                    pieces.push(Piece { place, hours: did.rod_hours(), bites, surface_temp_c });
                }
            }
            trips.push(Trip { day, part: division.number(day), pieces });
        }
        let bites = places.iter().map(|place| bitten.remove(place).unwrap_or_default()).collect();
        Self { places, sums, trips, bites }
    }

    /// Index of a place.
    pub fn find(&self, place: Place) -> Option<usize> {
        self.places.binary_search(&place).ok()
    }

    /// The places of each distance in steps around every place, in the same part of the season; the place itself is at distance 0.
    pub fn around(&self, steps: u32) -> Vec<Vec<Vec<usize>>> {
        let mut rings: BTreeMap<u64, Vec<Vec<u64>>> = BTreeMap::new();
        let mut around = Vec::with_capacity(self.places.len());
        for &Place { part, cell } in &self.places {
            let rings = rings.entry(cell).or_insert_with(|| cells::rings(cell, steps));
            let find = |&cell: &u64| self.find(Place { part, cell });
            around.push(rings.iter().map(|ring| ring.iter().filter_map(find).collect()).collect());
        }
        around
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;

    const CELL: u64 = 0x0892_74e7_9c8b_ffff;

    fn visit(trip: usize, cell: u64, rod_hours: f64) -> Visit {
        let day = date(2026, 7, 1 + trip as i8);
        Visit { trip, day, cell, rod_hours, run_m: 100.1, breaks: 1, surface_temp_c: Some(12.3) }
    }

    #[test]
    fn the_order_of_trips_changes_nothing() {
        let cells = cells::rings(CELL, 3).concat();
        let mut visits: Vec<Visit> =
            (0..9).flat_map(|t| cells.iter().map(move |&c| visit(t, c, 0.1 + 0.013 * t as f64))).collect();
        let forward = Tally::new(&visits, &[], 7, SeasonPart::Month, |_| true);
        visits.reverse();
        let backward = Tally::new(&visits, &[], 7, SeasonPart::Month, |_| true);
        assert_eq!(forward.places, backward.places);
        for (a, b) in forward.sums.iter().zip(&backward.sums) {
            assert_eq!(a.rod_hours().to_bits(), b.rod_hours().to_bits());
            assert_eq!(a.run_m().to_bits(), b.run_m().to_bits());
            assert_eq!(a.surface_temp_c().map(f64::to_bits), b.surface_temp_c().map(f64::to_bits));
        }
        assert_eq!(format!("{:?}", forward.trips), format!("{:?}", backward.trips));
    }

    #[test]
    fn run_through_is_not_fished() {
        let tally = Tally::new(&[visit(0, CELL, 0.0)], &[], 7, SeasonPart::All, |_| true);
        assert_eq!((tally.places.len(), tally.trips[0].pieces.len()), (1, 0));
        assert!(Tally::new(&[visit(0, 0, 1.0)], &[], 7, SeasonPart::All, |_| true).places.is_empty());
    }
}
