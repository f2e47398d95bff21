//! What do many years of trips leave in a logbook, where the places that really produce are known?
//!
//! No raw logs: what each trip did in each cell, and its bites. The rate of a place is
//!
//! ```text
//! base × place (by the season) × temperature of the surface × luck of the day × the year
//! ```
//!
//! and [`Fishing`] tells it for any cell, day and temperature. Places that produce are the same every year and move with the
//! season: near the shore in spring, along a contour of the bottom in summer, off a river in autumn. The boat fishes
//! unevenly, as boats do: from her harbour, on grounds of habit, sometimes where word has it that the fish are, seldom
//! somewhere new.

mod course;
mod fishing;

use std::collections::BTreeMap;

use jiff::civil::Date;

pub use fishing::{Area, Fishing};

use crate::dice::{Dice, Stream};
use course::{Course, Grounds};

/// What may be asked of a series of years.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct YearsKnobs {
    /// Years, the last of them 2026.
    pub years: usize,
    /// Trips in each year, at most 214: no two on one day.
    pub trips_a_year: usize,
    /// No place is better than another.
    pub is_uniform: bool,
    /// Standard deviation of the logarithm of a day's luck.
    pub luck_sd: f64,
}

impl Default for YearsKnobs {
    fn default() -> Self {
        Self { years: 10, trips_a_year: 40, is_uniform: false, luck_sd: 0.5 }
    }
}

/// A series of years: what the logbook would hold, and the truth.
#[derive(Clone, Debug, PartialEq)]
pub struct Years {
    /// Trips in order of time.
    pub trips: Vec<YearsTrip>,
    /// What each trip did in each cell, in the order of the trips and the cells.
    pub visits: Vec<YearsVisit>,
    /// Every bite, in the order of the trips and the cells.
    pub bites: Vec<YearsBite>,
    /// The truth.
    pub fishing: Fishing,
}

/// A trip, and what was true of its day.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct YearsTrip {
    /// Day.
    pub day: Date,
    /// Factor of every rate that day.
    pub luck: f64,
    /// Factor of every rate in that year.
    pub year_factor: f64,
    /// Surface temperature of the day minus what is usual, °C.
    pub anomaly_c: f64,
}

/// What a trip did in a cell.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct YearsVisit {
    /// Index of the trip.
    pub trip: usize,
    /// H3 cell at resolution 9.
    pub cell: u64,
    /// Rod-hours; 0 where the boat came through without fishing.
    pub rod_hours: f64,
    /// Way run, m.
    pub run_m: f64,
    /// Crossings of breaks.
    pub breaks: u32,
    /// Mean surface temperature under the effort, °C.
    pub surface_temp_c: Option<f64>,
}

/// A bite.
#[derive(Clone, Debug, PartialEq)]
pub struct YearsBite {
    /// Index of the trip.
    pub trip: usize,
    /// H3 cell at resolution 9.
    pub cell: u64,
    /// Species.
    pub species: &'static str,
    /// Depth of the lure, m.
    pub depth_m: f64,
    /// Temperature there, °C.
    pub temp_at_depth_c: f64,
    /// Surface temperature, °C.
    pub surface_temp_c: f64,
}

/// First and last day of the fishing, as months and days.
const SEASON: ((i8, i8), (i8, i8)) = ((4, 1), (10, 31));
/// Last year of the series.
const LAST_YEAR: i16 = 2026;
/// Standard deviation of the logarithm of a year's factor.
const YEAR_SD: f64 = 0.2;
/// Standard deviations of a day's and of a year's surface temperature about what is usual, °C.
const DAY_SD_C: f64 = 1.5;
const YEAR_SD_C: f64 = 0.7;
/// Crossings of breaks in a km.
const BREAKS_PER_KM: f64 = 0.15;

/// Draws a series of years. The same seed gives the same series.
pub fn years(seed: u64, knobs: &YearsKnobs) -> Years {
    let mut dice = Dice::new(seed, Stream::Years);
    let fishing = Fishing::draw(knobs.is_uniform, &mut dice);
    let grounds = Grounds::draw(&mut dice);
    let mut years = Years { trips: Vec::new(), visits: Vec::new(), bites: Vec::new(), fishing };
    for ago in (0..knobs.years).rev() {
        let year = LAST_YEAR - ago as i16;
        let (year_factor, year_c) = (lognormal(YEAR_SD, &mut dice), YEAR_SD_C * dice.normal());
        for day in days(year, knobs.trips_a_year, &mut dice) {
            let luck = lognormal(knobs.luck_sd, &mut dice);
            let anomaly_c = year_c + DAY_SD_C * dice.normal();
            let trip = YearsTrip { day, luck, year_factor, anomaly_c };
            let course = Course::draw(&grounds, &years.fishing, day, &mut dice);
            years.add(trip, &course, &mut dice);
        }
    }
    years
}

impl Years {
    fn add(&mut self, trip: YearsTrip, course: &Course, dice: &mut Dice) {
        let index = self.trips.len();
        self.trips.push(trip);
        for (&cell, stay) in &course.stays {
            let surface_temp_c = self.fishing.usual_temp_c(cell, trip.day) + trip.anomaly_c;
            let rod_hours = stay.fished_us as f64 / 3.6e9;
            let run_m = stay.run_mm as f64 / 1e3;
            self.visits.push(YearsVisit {
                trip: index,
                cell,
                rod_hours,
                run_m,
                breaks: poisson(BREAKS_PER_KM * run_m / 1e3, dice) as u32,
                surface_temp_c: (stay.fished_us > 0).then_some(surface_temp_c),
            });
            let rate =
                trip.luck * trip.year_factor * self.fishing.rate_per_rod_hour(cell, trip.day, surface_temp_c);
            for _ in 0..poisson(rate * rod_hours, dice) {
                self.bites.push(fishing::bite(index, cell, trip.day, surface_temp_c, dice));
            }
        }
    }
}

/// Different days of one season, in order.
fn days(year: i16, n: usize, dice: &mut Dice) -> Vec<Date> {
    let ((from_month, from_day), (to_month, to_day)) = SEASON;
    let first = Date::constant(year, from_month, from_day);
    let all: Vec<Date> = first
        .series(jiff::Span::new().days(1))
        .take_while(|day| *day <= Date::constant(year, to_month, to_day))
        .collect();
    // each trip has its own stretch of the season, and takes a day of it
    let n = n.min(all.len());
    (0..n)
        .map(|i| {
            let (from, until) = (i * all.len() / n, (i + 1) * all.len() / n);
            all[dice.whole(from as u64, until as u64 - 1) as usize]
        })
        .collect()
}

/// A factor with mean 1.
fn lognormal(sd: f64, dice: &mut Dice) -> f64 {
    (sd * dice.normal() - 0.5 * sd * sd).exp()
}

/// A count, by the gaps of a Poisson process; meant for small means.
fn poisson(mean: f64, dice: &mut Dice) -> usize {
    let mut n = 0;
    let mut reached = -(1.0 - dice.unit()).ln();
    while reached < mean {
        n += 1;
        reached -= (1.0 - dice.unit()).ln();
    }
    n
}

/// What a course did in a cell: whole millimetres and microseconds.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
struct Stay {
    run_mm: i64,
    fished_us: i64,
}

type Stays = BTreeMap<u64, Stay>;

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_same_seed_gives_the_same_years() {
        let knobs = YearsKnobs { years: 2, trips_a_year: 10, ..YearsKnobs::default() };
        assert_eq!(years(4, &knobs), years(4, &knobs));
        assert_ne!(years(4, &knobs).bites, years(5, &knobs).bites);
    }

    #[test]
    fn poisson_has_its_mean_and_variance() {
        let mut dice = Dice::new(1, Stream::Years);
        let n = 20_000;
        let draws: Vec<f64> = (0..n).map(|_| poisson(1.7, &mut dice) as f64).collect();
        let mean = draws.iter().sum::<f64>() / f64::from(n);
        let variance = draws.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / f64::from(n);
        // five standard errors
        assert!((mean - 1.7).abs() < 5.0 * (1.7 / f64::from(n)).sqrt(), "{mean}");
        assert!((variance - 1.7).abs() < 5.0 * (1.7 * (1.0 + 2.0 * 1.7) / f64::from(n)).sqrt(), "{variance}");
    }

    #[test]
    fn bites_come_as_the_truth_has_them() {
        let knobs = YearsKnobs { years: 4, luck_sd: 0.0, ..YearsKnobs::default() };
        let years = years(11, &knobs);
        assert_eq!(years.trips.len(), 160);
        assert!(years.trips.windows(2).all(|pair| pair[0].day < pair[1].day));
        let expected: f64 = years
            .visits
            .iter()
            .filter_map(|visit| {
                let trip = &years.trips[visit.trip];
                let rate = years.fishing.rate_per_rod_hour(visit.cell, trip.day, visit.surface_temp_c?);
                Some(trip.luck * trip.year_factor * rate * visit.rod_hours)
            })
            .sum();
        let seen = years.bites.len() as f64;
        assert!((seen - expected).abs() < 5.0 * expected.sqrt(), "{seen} bites, {expected} expected");
        // as a charter boat knows it: some tenths of a bite a rod-hour, twenty to forty rod-hours a trip
        let rod_hours: f64 = years.visits.iter().map(|visit| visit.rod_hours).sum();
        assert!((0.2..1.5).contains(&(seen / rod_hours)), "{} a rod-hour", seen / rod_hours);
        assert!((15.0..45.0).contains(&(rod_hours / 160.0)), "{} rod-hours a trip", rod_hours / 160.0);
        assert!(years.visits.iter().any(|visit| visit.rod_hours == 0.0 && visit.run_m > 0.0));
    }

    #[test]
    fn places_move_with_the_season_and_come_again() {
        let years = years(12, &YearsKnobs { years: 1, ..YearsKnobs::default() });
        let fishing = &years.fishing;
        let best = |day: Date| {
            let cells: std::collections::BTreeSet<u64> =
                years.visits.iter().map(|visit| visit.cell).collect();
            cells
                .into_iter()
                .max_by(|&a, &b| fishing.place_factor(a, day).total_cmp(&fishing.place_factor(b, day)))
        };
        let day = |year, month| Date::constant(year, month, 15);
        for month in [4, 7, 10] {
            assert_eq!(best(day(2026, month)), best(day(2019, month)));
            assert!(fishing.place_factor(best(day(2026, month)).unwrap(), day(2026, month)) > 3.0);
        }
        assert_ne!(best(day(2026, 4)), best(day(2026, 7)));
        assert_ne!(best(day(2026, 7)), best(day(2026, 10)));
    }

    #[test]
    fn the_mean_rate_is_the_mean_over_the_days() {
        let years = years(14, &YearsKnobs { years: 1, ..YearsKnobs::default() });
        let (fishing, cell, day) = (&years.fishing, years.visits[0].cell, Date::constant(2026, 7, 15));
        let mut dice = Dice::new(2, Stream::Years);
        let n = 20_000;
        let drawn: f64 = (0..n)
            .map(|_| {
                let off_c = YEAR_SD_C * dice.normal() + DAY_SD_C * dice.normal();
                fishing.rate_per_rod_hour(cell, day, fishing.usual_temp_c(cell, day) + off_c)
            })
            .sum();
        let ratio = drawn / f64::from(n) / fishing.mean_rate_per_rod_hour(cell, day);
        assert!((ratio - 1.0).abs() < 0.01, "{ratio}");
    }

    #[test]
    fn on_a_uniform_lake_no_place_is_better() {
        let years = years(13, &YearsKnobs { years: 1, is_uniform: true, ..YearsKnobs::default() });
        let day = Date::constant(2026, 7, 15);
        let mut rates =
            years.visits.iter().map(|visit| years.fishing.mean_rate_per_rod_hour(visit.cell, day));
        let first = rates.next().unwrap();
        assert!(rates.all(|rate| rate == first));
    }
}
