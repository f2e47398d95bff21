//! What may be told of many trips without giving a spot away?
//!
//! Cells are made coarser, and a cell that few trips fished is left out. What is told of a cell comes from that cell alone: no
//! rate is shrunk toward its neighbours', no total is given, nothing is compared with the rest of the water, so that a cell
//! which is left out cannot be worked out from those that are not. Numbers are rounded.

use std::collections::{BTreeMap, BTreeSet};
use std::str::FromStr;

use jiff::civil::Date;

use crate::cells;
use crate::habitat::Quartiles;
use crate::season::SeasonPart;
use crate::tally::{Bite, Visit};

/// How coarse the cells are that are told of.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Blur {
    resolution: u8,
}

impl Blur {
    /// By the H3 resolution; `None` where it is finer than [`FINEST_SHARED`].
    pub fn of_resolution(resolution: u8) -> Option<Self> {
        (resolution <= FINEST_SHARED).then_some(Self { resolution })
    }

    /// The finest cells that are this wide on average, m; `None` where none is.
    pub fn at_least_m(width_m: f64) -> Option<Self> {
        (0..=FINEST_SHARED).rev().find(|&r| width_m <= cells::width_m(r)).and_then(Self::of_resolution)
    }

    /// Their H3 resolution.
    pub fn resolution(self) -> u8 {
        self.resolution
    }
}

impl FromStr for Blur {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let text = text.trim();
        let widths = [("nmi", 1_852.0), ("km", 1_000.0), ("mi", 1_609.344)];
        let width = widths.iter().find_map(|(unit, metres)| {
            let width: f64 = text.strip_suffix(unit)?.trim().parse().ok()?;
            Some(width * metres)
        });
        let found = match (text.parse(), width) {
            (Ok(resolution), _) => Self::of_resolution(resolution),
            (_, Some(width_m)) if width_m > 0.0 => Self::at_least_m(width_m),
            _ => None,
        };
        found.ok_or_else(|| {
            format!(
                "'{text}' is no blur: write how wide a cell is to be at least, like 5km or 3mi, or an H3 resolution \
                 from 0 to {FINEST_SHARED} (finer cells would give a spot away)"
            )
        })
    }
}

/// How much is told.
#[derive(Clone, Debug, PartialEq)]
pub struct SharingSettings {
    /// The cells.
    pub blur: Blur,
    /// How the season is divided.
    pub division: SeasonPart,
    /// Bites of one species; `None`: all.
    pub species: Option<String>,
    /// A cell is told of where at least so many trips fished in it in that part of the season, and its water where so many had
    /// a bite there.
    pub trips_min: usize,
}

/// A finer cell gives a spot away: this one is 5 km², 2.4 km across.
pub const FINEST_SHARED: u8 = 7;
/// What numbers are rounded to: rod-hours, bites a rod-hour, depth in m and temperature in °C.
const ROUND: Rounding = Rounding { rod_hours: 1.0, rate: 0.01, depth_m: 5.0, temp_c: 1.0 };

struct Rounding {
    rod_hours: f64,
    rate: f64,
    depth_m: f64,
    temp_c: f64,
}

/// What is told of a cell in a part of the season.
#[derive(Clone, Debug, PartialEq)]
pub struct Shared {
    /// H3 cell.
    pub cell: u64,
    /// Part of the season.
    pub season_part: String,
    /// Trips that fished it.
    pub trips: usize,
    /// Years in which it was fished.
    pub years: usize,
    /// Effort, rounded.
    pub rod_hours: f64,
    /// Bites.
    pub bites: usize,
    /// Bites a rod-hour, rounded.
    pub rate: f64,
    /// Depth of the lures at the bites, median, rounded, m.
    pub depth_m: Option<f64>,
    /// Temperature there, °C.
    pub temp_c: Option<f64>,
    /// Surface temperature over the bites, °C.
    pub surface_temp_c: Option<f64>,
}

/// What may be told, in order of the part of the season and the cell.
pub fn shared(visits: &[Visit], bites: &[Bite], settings: &SharingSettings) -> Vec<Shared> {
    let place = |cell: u64, day: Date| {
        let coarse = cells::parent(cell, settings.blur.resolution)?;
        Some((settings.division.number(day), coarse))
    };
    let mut places: BTreeMap<(usize, u64), Place> = BTreeMap::new();
    for visit in visits.iter().filter(|visit| visit.rod_hours > 0.0) {
        let Some(place) = place(visit.cell, visit.day) else { continue };
        let place = places.entry(place).or_default();
        place.trips.insert(visit.trip);
        place.years.insert(visit.day.year());
        place.fished_us += (visit.rod_hours * 3.6e9).round() as i64;
    }
    let wanted = |bite: &&Bite| settings.species.is_none() || bite.species == settings.species;
    for bite in bites.iter().filter(wanted) {
        let place = place(bite.cell, bite.day).and_then(|place| places.get_mut(&place));
        // a bite where no line was in the water belongs to no effort, and to no rate
        let Some(place) = place else { continue };
        place.bites.push(bite);
    }
    let told = places.into_iter().filter(|(_, place)| place.trips.len() >= settings.trips_min.max(1));
    told.map(|((part, cell), place)| place.told(settings, part, cell)).collect()
}

#[derive(Default)]
struct Place<'a> {
    trips: BTreeSet<usize>,
    years: BTreeSet<i16>,
    fished_us: i64,
    bites: Vec<&'a Bite>,
}

impl Place<'_> {
    fn told(&self, settings: &SharingSettings, part: usize, cell: u64) -> Shared {
        let rod_hours = self.fished_us as f64 / 3.6e9;
        let median = |value: fn(&Bite) -> Option<f64>, step: f64| {
            let of_trips: BTreeSet<usize> =
                self.bites.iter().filter(|bite| value(bite).is_some()).map(|bite| bite.trip).collect();
            let is_told = of_trips.len() >= settings.trips_min.max(1);
            let values = self.bites.iter().filter_map(|bite| value(bite));
            Quartiles::of(values).filter(|_| is_told).map(|quartiles| rounded(quartiles.median, step))
        };
        Shared {
            cell,
            season_part: settings.division.name(part),
            trips: self.trips.len(),
            years: self.years.len(),
            rod_hours: rounded(rod_hours, ROUND.rod_hours),
            bites: self.bites.len(),
            rate: rounded(self.bites.len() as f64 / rod_hours, ROUND.rate),
            depth_m: median(|bite| bite.depth_m, ROUND.depth_m),
            temp_c: median(|bite| bite.temp_at_depth_c, ROUND.temp_c),
            surface_temp_c: median(|bite| bite.surface_temp_c, ROUND.temp_c),
        }
    }
}

/// A whole number of steps; in steps of less than 1, without the noise of binary fractions.
fn rounded(value: f64, step: f64) -> f64 {
    let steps = (value / step).round();
    if step < 1.0 { steps / (1.0 / step).round() } else { steps * step }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;
    use waterseam_units::LatLon;

    /// Cells at resolution 9 of a few square kilometres.
    fn fine(at: u32) -> u64 {
        let (row, column) = (f64::from(at / 8), f64::from(at % 8));
        let at = LatLon { lat_deg: 46.2 + 0.006 * row, lon_deg: -29.4 + 0.009 * column };
        cells::of(at, cells::FINEST).unwrap()
    }

    fn day(trip: usize) -> Date {
        Date::constant(2020 + (trip % 4) as i16, 7, 1 + (trip % 28) as i8)
    }

    fn settings(resolution: u8, trips_min: usize) -> SharingSettings {
        let blur = Blur::of_resolution(resolution).unwrap();
        SharingSettings { blur, division: SeasonPart::HalfMonth, species: None, trips_min }
    }

    prop_compose! {
        fn logbook()(
            visits in prop::collection::vec((0..12_usize, 0..64_u32, 0..400_u32), 1..80),
            bites in prop::collection::vec((0..12_usize, 0..64_u32, 10..400_u32), 0..40),
        ) -> (Vec<Visit>, Vec<Bite>) {
            let visit = |(trip, at, centihours): (usize, u32, u32)| Visit {
                trip,
                day: day(trip),
                cell: fine(at),
                rod_hours: f64::from(centihours) / 100.0,
                run_m: 100.0,
                breaks: 0,
                surface_temp_c: None,
            };
            let bite = |(trip, at, decimetres): (usize, u32, u32)| Bite {
                trip,
                day: day(trip),
                cell: fine(at),
                species: None,
                depth_m: Some(f64::from(decimetres) / 10.0),
                temp_at_depth_c: Some(10.3),
                surface_temp_c: None,
            };
            (visits.into_iter().map(visit).collect(), bites.into_iter().map(bite).collect())
        }
    }

    proptest! {
        /// Wherever in its coarse cell something happened, the same is told.
        #[test]
        fn nothing_finer_than_the_blur_is_told((visits, bites) in logbook(), resolution in 4..=7_u8, trips_min in 1..5_usize) {
            let settings = settings(resolution, trips_min);
            let told = shared(&visits, &bites, &settings);
            let blurred = |cell: u64| {
                let coarse = cells::parent(cell, resolution).unwrap();
                cells::of(cells::centre(coarse).unwrap(), cells::FINEST).unwrap()
            };
            let other_visits: Vec<Visit> =
                visits.iter().map(|visit| Visit { cell: blurred(visit.cell), ..*visit }).collect();
            let other_bites: Vec<Bite> =
                bites.iter().map(|bite| Bite { cell: blurred(bite.cell), ..bite.clone() }).collect();
            prop_assert_eq!(&shared(&other_visits, &other_bites, &settings), &told);
            for place in &told {
                prop_assert_eq!(cells::parent(place.cell, resolution), Some(place.cell));
                prop_assert!(place.trips >= trips_min);
                prop_assert_eq!(place.rod_hours.fract(), 0.0);
                prop_assert!(place.depth_m.is_none_or(|depth_m| depth_m % ROUND.depth_m == 0.0));
            }
        }

        /// Whatever happened in the cells that are left out, the same is told.
        #[test]
        fn what_is_left_out_cannot_be_worked_out((visits, bites) in logbook(), trips_min in 2..5_usize) {
            let settings = settings(7, trips_min);
            let told = shared(&visits, &bites, &settings);
            let is_told = |cell: u64, day: Date| {
                let (coarse, part) = (cells::parent(cell, 7), settings.division.of(day));
                told.iter().any(|place| Some(place.cell) == coarse && place.season_part == part)
            };
            let left: Vec<Visit> = visits.iter().filter(|visit| is_told(visit.cell, visit.day)).copied().collect();
            let left_bites: Vec<Bite> = bites.iter().filter(|bite| is_told(bite.cell, bite.day)).cloned().collect();
            prop_assert_eq!(shared(&left, &left_bites, &settings), told);
        }
    }

    #[test]
    fn three_trips_are_told_of_and_two_are_not() {
        let visit = |trip: usize, at: u32| Visit {
            trip,
            day: Date::constant(2020 + trip as i16, 7, 3),
            cell: fine(at),
            rod_hours: 2.6,
            run_m: 0.0,
            breaks: 0,
            surface_temp_c: None,
        };
        let bite = |trip: usize, depth_m: f64| Bite {
            trip,
            day: Date::constant(2020 + trip as i16, 7, 3),
            cell: fine(0),
            species: Some("coho".to_owned()),
            depth_m: Some(depth_m),
            temp_at_depth_c: None,
            surface_temp_c: None,
        };
        let visits = [visit(0, 0), visit(1, 0), visit(2, 0), visit(0, 63), visit(1, 63)];
        let told = shared(&visits, &[bite(0, 11.0), bite(1, 13.0), bite(2, 16.0)], &settings(7, 3));
        let [place] = &told[..] else { panic!("{told:?}") };
        assert_eq!((place.trips, place.years, place.bites, place.rod_hours), (3, 3, 3, 8.0));
        assert_eq!((place.rate, place.depth_m, place.season_part.as_str()), (0.38, Some(15.0), "07a"));
        // the water of two trips' bites is not told of
        let told = shared(&visits, &[bite(0, 11.0), bite(1, 13.0)], &settings(7, 3));
        assert_eq!((told[0].bites, told[0].depth_m), (2, None));
    }

    #[test]
    fn a_blur_is_a_resolution_or_a_width() {
        let resolution = |text: &str| Some(text.parse::<Blur>().ok()?.resolution());
        let blurs = [("6", 6), ("2km", 7), ("2.4 km", 7), ("2.5km", 6), ("5 mi", 5), ("3nmi", 6)];
        for (text, expected) in blurs {
            assert_eq!(resolution(text), Some(expected), "{text}");
        }
        for text in ["8", "9", "", "km", "-3km", "0km", "nankm", "1e9km", "5 leagues"] {
            assert_eq!(resolution(text), None, "{text}");
        }
    }
}
