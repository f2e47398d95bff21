//! Invented lakes, what the layer says of them, and what is true.

use std::collections::BTreeMap;
use std::ops::Range;

use jiff::civil::Date;
use waterseam_demo::years::{Years, YearsKnobs, years};
use waterseam_hotspots::{Bite, Hotspot, SeasonPart, Settings, Visit, layer};

use super::RESOLUTION;

/// Ten years on a lake.
pub struct Lake {
    pub years: Years,
    pub visits: Vec<Visit>,
    pub bites: Vec<Bite>,
    /// The layer by months.
    pub rows: Vec<Hotspot>,
    /// What is true of each cell and month.
    pub truth: BTreeMap<(u64, i8), Truth>,
}

/// What is true of a cell in a month.
#[derive(Clone, Copy, Debug, Default)]
pub struct Truth {
    pub rod_hours: f64,
    /// Bites a rod-hour.
    pub rate: f64,
    /// The same over the mean of the month.
    pub times: f64,
}

pub fn lakes(seeds: Range<u64>, is_uniform: bool) -> Vec<Lake> {
    super::scored_seeds::over_seeds(seeds, |seed| {
        Lake::of(years(seed, &YearsKnobs { is_uniform, ..YearsKnobs::default() }))
    })
}

impl Lake {
    fn of(years: Years) -> Self {
        let day = |trip: usize| years.trips[trip].day;
        let visits: Vec<Visit> = years
            .visits
            .iter()
            .map(|visit| Visit {
                trip: visit.trip,
                day: day(visit.trip),
                cell: visit.cell,
                rod_hours: visit.rod_hours,
                run_m: visit.run_m,
                breaks: visit.breaks,
                surface_temp_c: visit.surface_temp_c,
            })
            .collect();
        let bites: Vec<Bite> = years
            .bites
            .iter()
            .map(|bite| Bite {
                trip: bite.trip,
                day: day(bite.trip),
                cell: bite.cell,
                species: Some(bite.species.to_owned()),
                depth_m: Some(bite.depth_m),
                temp_at_depth_c: Some(bite.temp_at_depth_c),
                surface_temp_c: Some(bite.surface_temp_c),
            })
            .collect();
        let settings =
            Settings { resolution: RESOLUTION, division: SeasonPart::Month, ..Settings::default() };
        let rows = layer(&visits, &bites, &settings);
        let truth = truth(&years);
        Self { years, visits, bites, rows, truth }
    }
}

/// Sums of rod-hours and of the bites to be expected in them.
#[derive(Clone, Copy, Default)]
struct Sums {
    rod_hours: f64,
    bites: f64,
}

impl Sums {
    fn add(&mut self, rod_hours: f64, rate: f64) {
        self.rod_hours += rod_hours;
        self.bites += rod_hours * rate;
    }

    fn rate(self) -> f64 {
        self.bites / self.rod_hours
    }
}

fn truth(years: &Years) -> BTreeMap<(u64, i8), Truth> {
    let (mut cells, mut months) = (BTreeMap::<(u64, i8), Sums>::new(), BTreeMap::<i8, Sums>::new());
    for visit in years.visits.iter().filter(|visit| visit.rod_hours > 0.0) {
        let day: Date = years.trips[visit.trip].day;
        let rate = years.fishing.mean_rate_per_rod_hour(visit.cell, day);
        let cell = parent(visit.cell, RESOLUTION);
        cells.entry((cell, day.month())).or_default().add(visit.rod_hours, rate);
        months.entry(day.month()).or_default().add(visit.rod_hours, rate);
    }
    let of = |((cell, month), sums): ((u64, i8), Sums)| {
        let truth = Truth {
            rod_hours: sums.rod_hours,
            rate: sums.rate(),
            times: sums.rate() / months[&month].rate(),
        };
        ((cell, month), truth)
    };
    cells.into_iter().map(of).collect()
}

/// The cell at a coarser resolution.
pub fn parent(cell: u64, resolution: u8) -> u64 {
    let resolution = h3o::Resolution::try_from(resolution).unwrap();
    h3o::CellIndex::try_from(cell).unwrap().parent(resolution).unwrap().into()
}
