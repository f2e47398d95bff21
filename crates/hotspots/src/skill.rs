//! Does the model know better what a trip will bring than three simple guesses?
//!
//! Every year is predicted by the others. The score of a trip is the logarithm of the probability of its bites, cell by cell, in the negative
//! multinomial distribution that the luck of trips makes of the predicted rates (T. Gneiting & A. E. Raftery, J. American Statistical
//! Association 102 (2007) 359–378, on why the logarithm; from memory). Every guess has a luck of its own, fitted to its own predictions, so
//! that what is compared is where and when it sends the boat.

use std::collections::{BTreeMap, BTreeSet};

use statrs::function::gamma::ln_gamma;
use waterseam_bites::rates::{Counted, Gamma, maximum_likelihood};

use crate::conditional::Model;
use crate::layer::Settings;
use crate::tally::{Bite, Tally, Trip, Visit};

/// Days before and after the day of the year that are the same weeks.
const SAME_WEEKS_DAYS: i16 = 10;
/// Least hours in a cell for it to be the best one of a trip, rod-hours.
const BEST_HOURS_MIN: f64 = 1.0;
/// A luck that varies less is none.
const LUCK_SHAPE_MAX: f64 = 1e6;

/// What simple guess the model is compared with.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Guess {
    /// The mean rate of all trips, everywhere.
    MeanRate,
    /// The best cell of the trip before is better, by as much as it was in the other years; elsewhere the mean.
    LastBest,
    /// Every cell as it was in the same weeks of the other years.
    SameWeeks,
}

impl Guess {
    /// All of them.
    pub const EVERY: [Self; 3] = [Self::MeanRate, Self::LastBest, Self::SameWeeks];
}

/// Scores of trips that were predicted without their year.
#[derive(Clone, Debug, PartialEq)]
pub struct Skill {
    /// Trips.
    pub trips: usize,
    /// Mean log score of the model, nats a trip.
    pub model: f64,
    /// By how much the model's is better than that of each guess: nats a trip, and its standard error.
    pub better_by: Vec<(Guess, f64, f64)>,
}

/// The skill of the model; `None` with fewer than two years, or no bite.
pub fn skill(visits: &[Visit], bites: &[Bite], settings: &Settings) -> Option<Skill> {
    let wanted = |bite: &&Bite| settings.species.is_none() || bite.species == settings.species;
    let bites: Vec<Bite> = bites.iter().filter(wanted).cloned().collect();
    let tally = |keep: &dyn Fn(i16) -> bool| {
        let visits: Vec<Visit> = visits.iter().filter(|visit| keep(visit.day.year())).copied().collect();
        let bites: Vec<Bite> = bites.iter().filter(|bite| keep(bite.day.year())).cloned().collect();
        Tally::new(&visits, &bites, settings.resolution, settings.division, |_| true)
    };
    let all = tally(&|_| true);
    let years: BTreeSet<i16> = all.trips.iter().map(|trip| trip.day.year()).collect();
    if years.len() < 2 || all.trips.iter().all(|trip| trip.bites() == 0) {
        return None;
    }
    let best = best_before(&all);
    let mut scores: Vec<[f64; 4]> = Vec::new();
    for &year in &years {
        let known = tally(&|other| other != year);
        let model = Model::of(known, settings);
        let guesses = Guesses::new(&all, year, &best);
        let of_guess = |guess, index: usize| guesses.expected(guess, &all, index);
        let shapes =
            Guess::EVERY.map(|guess| guesses.luck_shape(&all, |index| of_guess(guess, index).iter().sum()));
        for (index, trip) in all.trips.iter().enumerate() {
            if trip.day.year() != year || trip.pieces.is_empty() {
                continue;
            }
            let of_model: Vec<f64> = trip
                .pieces
                .iter()
                .map(|piece| piece.hours * model.rate(all.places[piece.place], piece.surface_temp_c))
                .collect();
            let mut score = [log_score(trip, &of_model, model.luck_shape()); 4];
            for ((score, guess), shape) in score[1..].iter_mut().zip(Guess::EVERY).zip(shapes) {
                *score = log_score(trip, &of_guess(guess, index), shape);
            }
            scores.push(score);
        }
    }
    let n = scores.len() as f64;
    let mean = |values: &[f64]| values.iter().sum::<f64>() / n;
    let model: Vec<f64> = scores.iter().map(|score| score[0]).collect();
    let better_by = Guess::EVERY.iter().enumerate().map(|(at, &guess)| {
        let better: Vec<f64> = scores.iter().map(|score| score[0] - score[at + 1]).collect();
        let by = mean(&better);
        let spread = better.iter().map(|b| (b - by).powi(2)).sum::<f64>() / (n - 1.0);
        (guess, by, (spread / n).sqrt())
    });
    Some(Skill { trips: scores.len(), model: mean(&model), better_by: better_by.collect() })
}

/// Logarithm of the probability of a trip's bites, cell by cell.
fn log_score(trip: &Trip, expected: &[f64], shape: f64) -> f64 {
    let (bites, total) = (trip.bites() as f64, expected.iter().sum::<f64>());
    let mut log = ln_gamma(shape + bites) - ln_gamma(shape) - shape * (total / shape).ln_1p();
    for (piece, &expected) in trip.pieces.iter().zip(expected) {
        let n = piece.bites as f64;
        log -= ln_gamma(n + 1.0);
        if n > 0.0 {
            log += n * (expected.max(1e-12) / (shape + total)).ln();
        }
    }
    log
}

/// Of each trip the best cell of the trip before.
fn best_before(all: &Tally) -> Vec<Option<u64>> {
    let best = |trip: &Trip| {
        let long = trip.pieces.iter().filter(|piece| piece.hours >= BEST_HOURS_MIN && piece.bites > 0);
        let rate = |piece: &crate::tally::Piece| piece.bites as f64 / piece.hours;
        let best = long.max_by(|a, b| rate(a).total_cmp(&rate(b)).then(b.place.cmp(&a.place)));
        best.map(|piece| all.places[piece.place].cell)
    };
    let mut before = None;
    all.trips.iter().map(|trip| std::mem::replace(&mut before, best(trip))).collect()
}

/// What the simple guesses know of the other years.
struct Guesses<'a> {
    year: i16,
    mean: f64,
    best: &'a [Option<u64>],
    /// Rates in the best cell of the trip before, and elsewhere.
    in_best: f64,
    elsewhere: f64,
    /// Bites and hours of the other years by cell and day of the year.
    days: BTreeMap<u64, Vec<(i16, f64, f64)>>,
    every_day: Vec<(i16, f64, f64)>,
}

impl<'a> Guesses<'a> {
    fn new(all: &Tally, year: i16, best: &'a [Option<u64>]) -> Self {
        let mut sums = [Counted::default(); 2];
        let mut days: BTreeMap<u64, Vec<(i16, f64, f64)>> = BTreeMap::new();
        let mut every_day = Vec::new();
        for (trip, best) in all.trips.iter().zip(best).filter(|(trip, _)| trip.day.year() != year) {
            for piece in &trip.pieces {
                let cell = all.places[piece.place].cell;
                let sum = &mut sums[usize::from(*best == Some(cell))];
                sum.count += piece.bites;
                sum.exposure += piece.hours;
                days.entry(cell).or_default().push((trip.day.day_of_year(), piece.bites as f64, piece.hours));
            }
            every_day.push((trip.day.day_of_year(), trip.bites() as f64, trip.hours()));
        }
        let total = Counted::total(&sums);
        let mean = total.rate().unwrap_or(0.0).max(1e-9);
        let [elsewhere, in_best] = sums.map(|sum| Gamma::weak(total).posterior(sum).mean().unwrap_or(mean));
        Self { year, mean, best, in_best, elsewhere, days, every_day }
    }

    /// Bites to be expected in each piece of a trip.
    fn expected(&self, guess: Guess, all: &Tally, index: usize) -> Vec<f64> {
        let trip = &all.trips[index];
        let day = trip.day.day_of_year();
        let near = |days: &[(i16, f64, f64)]| {
            days.iter()
                .filter(|(other, ..)| {
                    let apart = (other - day).abs();
                    apart.min(365 - apart) <= SAME_WEEKS_DAYS
                })
                .fold((0.0, 0.0), |sum, (_, bites, hours)| (sum.0 + bites, sum.1 + hours))
        };
        let weeks = || {
            let (bites, hours) = near(&self.every_day);
            // half a bite at the mean of all, so that weeks without a bite are not impossible
            (0.5 + bites) / (0.5 / self.mean + hours)
        };
        let weeks = if guess == Guess::SameWeeks { weeks() } else { self.mean };
        let rate = |cell: u64| match guess {
            Guess::MeanRate => self.mean,
            Guess::LastBest if self.best[index] == Some(cell) => self.in_best,
            Guess::LastBest => self.elsewhere,
            Guess::SameWeeks => {
                let (bites, hours) = self.days.get(&cell).map_or((0.0, 0.0), |days| near(days));
                (0.5 + bites) / (0.5 / weeks + hours)
            }
        };
        trip.pieces.iter().map(|piece| piece.hours * rate(all.places[piece.place].cell)).collect()
    }

    /// Shape of the luck that the other years have about a guess.
    fn luck_shape(&self, all: &Tally, expected: impl Fn(usize) -> f64) -> f64 {
        let known = all.trips.iter().enumerate().filter(|(_, trip)| trip.day.year() != self.year);
        let counted: Vec<Counted> =
            known.map(|(index, trip)| Counted { count: trip.bites(), exposure: expected(index) }).collect();
        maximum_likelihood(&counted).map_or(LUCK_SHAPE_MAX, |likeliest| likeliest.prior.shape)
    }
}
