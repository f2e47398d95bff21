//! What the nine years before say of the trips of the tenth: the model, three simple guesses, and the truth.
//!
//! The score of a trip is the logarithm of the probability of its bites, cell by cell, given the hours in each cell and the
//! temperature of the day. All compete with the same luck of the day, which is that of the lake, so that what is compared is
//! the rates. Nothing of the score is the program's own.

use std::collections::BTreeMap;

use waterseam_demo::years::YearsKnobs;
use waterseam_hotspots::{Bite, Model, SeasonPart, Settings, Visit};

use super::RESOLUTION;
use super::lakes::{Lake, parent};

/// The year that is predicted.
const LAST_YEAR: i16 = 2026;
/// Days before and after the day of the year that are the same weeks.
const SAME_WEEKS_DAYS: i16 = 10;
/// The best cell of the last trip had at least so many rod-hours, and is taken to be so many times better.
const BEST_ROD_HOURS: f64 = 1.0;
const BEST_TIMES: f64 = 2.0;
/// Steps of the sum over the luck of the day, in standard deviations from -4 to 4.
const LUCK_STEPS: i32 = 80;

/// Mean log scores a trip, nats.
#[derive(Clone, Copy, Debug, Default)]
pub struct Scores {
    pub model: f64,
    pub mean_rate: f64,
    pub last_best: f64,
    pub same_weeks: f64,
    pub truth: f64,
}

/// A trip by cells: rod-hours and bites.
type Trip = BTreeMap<u64, (f64, u32)>;

pub fn scores(lake: &Lake) -> Scores {
    let year = |day: jiff::civil::Date| day.year();
    let known: Vec<Visit> = lake.visits.iter().filter(|v| year(v.day) < LAST_YEAR).copied().collect();
    let known_bites: Vec<Bite> = lake.bites.iter().filter(|b| year(b.day) < LAST_YEAR).cloned().collect();
    let settings = Settings { resolution: RESOLUTION, division: SeasonPart::Month, ..Settings::default() };
    let model = Model::new(&known, &known_bites, &settings);
    let mean = known_bites.len() as f64 / known.iter().map(|visit| visit.rod_hours).sum::<f64>();
    let trips: Vec<Trip> = (0..lake.years.trips.len()).map(|trip| by_cell(lake, trip)).collect();

    let (mut sums, mut n) = (Scores::default(), 0.0);
    for (index, truth) in lake.years.trips.iter().enumerate().filter(|(_, trip)| year(trip.day) == LAST_YEAR)
    {
        let (day, trip) = (truth.day, &trips[index]);
        let (mut temp, mut hours) = (0.0, 0.0);
        let mut true_rates: BTreeMap<u64, f64> = BTreeMap::new();
        for visit in lake.visits.iter().filter(|visit| visit.trip == index) {
            let Some(temp_c) = visit.surface_temp_c else { continue };
            temp += visit.rod_hours * temp_c;
            hours += visit.rod_hours;
            let rate = lake.years.fishing.rate_per_rod_hour(visit.cell, day, temp_c);
            *true_rates.entry(parent(visit.cell, RESOLUTION)).or_default() += visit.rod_hours * rate;
        }
        let part = SeasonPart::Month.number(day);
        let temp_c = temp / hours;
        let expected = model.expected(part, Some(temp_c));
        let elsewhere =
            expected.first().map_or(mean, |e| e.rate / e.times_average * model.factor(part, temp_c));
        let by_model: BTreeMap<u64, f64> = expected.iter().map(|e| (e.cell, e.rate)).collect();
        let last_best = index.checked_sub(1).and_then(|before| best(&trips[before]));
        let weeks = same_weeks(lake, &trips, day);
        sums.model += score(trip, |cell| by_model.get(&cell).copied().unwrap_or(elsewhere));
        sums.mean_rate += score(trip, |_| mean);
        sums.last_best += score(trip, |cell| if Some(cell) == last_best { BEST_TIMES * mean } else { mean });
        sums.same_weeks += score(trip, |cell| {
            let (hours, bites) = weeks.get(&cell).copied().unwrap_or_default();
            (f64::from(bites) + 1.0) / (hours + 1.0 / mean)
        });
        sums.truth += score(trip, |cell| true_rates[&cell] / trip[&cell].0);
        n += 1.0;
    }
    let mean = |sum: f64| sum / n;
    Scores {
        model: mean(sums.model),
        mean_rate: mean(sums.mean_rate),
        last_best: mean(sums.last_best),
        same_weeks: mean(sums.same_weeks),
        truth: mean(sums.truth),
    }
}

fn by_cell(lake: &Lake, index: usize) -> Trip {
    let mut trip = Trip::new();
    for visit in lake.visits.iter().filter(|visit| visit.trip == index && visit.rod_hours > 0.0) {
        trip.entry(parent(visit.cell, RESOLUTION)).or_default().0 += visit.rod_hours;
    }
    for bite in lake.bites.iter().filter(|bite| bite.trip == index) {
        trip.entry(parent(bite.cell, RESOLUTION)).or_default().1 += 1;
    }
    trip
}

fn best(trip: &Trip) -> Option<u64> {
    let fished = trip.iter().filter(|(_, (hours, _))| *hours >= BEST_ROD_HOURS);
    let rate = |&(hours, bites): &(f64, u32)| f64::from(bites) / hours;
    fished.max_by(|(_, a), (_, b)| rate(a).total_cmp(&rate(b))).map(|(cell, _)| *cell)
}

fn same_weeks(lake: &Lake, trips: &[Trip], day: jiff::civil::Date) -> Trip {
    let near = |other: jiff::civil::Date| (other.day_of_year() - day.day_of_year()).abs() <= SAME_WEEKS_DAYS;
    let mut sums = Trip::new();
    for (trip, truth) in trips.iter().zip(&lake.years.trips) {
        if truth.day.year() < LAST_YEAR && near(truth.day) {
            for (&cell, &(hours, bites)) in trip {
                let sum = sums.entry(cell).or_default();
                sum.0 += hours;
                sum.1 += bites;
            }
        }
    }
    sums
}

/// Log probability of the bites, but for what is the same whatever the rates.
fn score(trip: &Trip, rate: impl Fn(u64) -> f64) -> f64 {
    let (mut of_cells, mut expected, mut seen) = (0.0, 0.0, 0.0);
    for (&cell, &(hours, bites)) in trip {
        let mean = hours * rate(cell);
        of_cells += f64::from(bites) * mean.ln();
        expected += mean;
        seen += f64::from(bites);
    }
    let sd = YearsKnobs::default().luck_sd;
    let steps = (-LUCK_STEPS / 2..=LUCK_STEPS / 2).map(|step| 8.0 * f64::from(step) / f64::from(LUCK_STEPS));
    let (mut likely, mut weights) = (0.0, 0.0);
    for z in steps {
        let (weight, luck) = ((-0.5 * z * z).exp(), (sd * z - 0.5 * sd * sd).exp());
        likely += weight * (seen * luck.ln() - luck * expected).exp();
        weights += weight;
    }
    of_cells + (likely / weights).ln()
}
