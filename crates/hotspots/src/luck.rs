//! What does a place produce, when every trip has its own luck?
//!
//! ```text
//! bites of trip t in place i  ~  Poisson(hours × mean of the part of the season × year × luck of the trip × exp(θ of the place))
//! luck of the trip            ~  Gamma, mean 1                ln year  ~  Normal
//! θ of the place              ~  Normal about s               s  ~  Gaussian Markov random field over space and season
//! ```
//!
//! Bites of one trip share that day's weather, water and crew. A place that two lucky trips came to is not a good place; here the luck of a
//! trip is told by what it did elsewhere, as far as that goes, and what is not told makes the place's rate less sure. A place of which little is known
//! is drawn toward its neighbours, the same cell in the parts of the season before and after, and the mean.
//!
//! # Method
//! The hierarchical Poisson model of disease mapping (J. Besag, J. York & A. Mollié, Annals of the Institute of Statistical Mathematics 43 (1991) 1–20; from
//! memory) with a proper field, and trips in the place of patients' wards. Over its luck a trip's bites are negative multinomial, which is
//! used as it is, so that luck and place need not be sampled against each other. How much places, neighbours, trips and years differ is sampled with the rest: Markov chain
//! Monte Carlo, Metropolis steps for what the bites speak of and Gibbs steps for the field (A. Gelman et al., Bayesian Data Analysis, 3rd ed., chapters 11 and
//! 12; from memory). The seed is fixed, the order of everything is that of day and cell: the same logbook gives the same numbers.

use std::collections::BTreeMap;

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, Gamma, StandardNormal};
use statrs::function::gamma::ln_gamma;

use crate::cells;
use crate::tally::{Place, Tally};

/// How long the chain is.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Chain {
    /// Sweeps before anything is kept.
    pub warm_up: usize,
    /// Draws that are kept.
    pub kept: usize,
    /// Sweeps for each of them.
    pub thinning: usize,
    /// Seed.
    pub seed: u64,
}

/// Weight of the mean among the neighbours, each of which has 1, in the field.
const MEAN_WEIGHT: f64 = 0.5;
/// Weight of the same cell in the part of the season before or after.
const SEASON_WEIGHT: f64 = 1.0;
/// Log-odds that a place is good water where none beside it is, and what every good place beside it adds. A good place with eight good ones
/// around it has odds of two to one, and one at the edge of good water of one to four.
const GOOD_ALONE: f64 = -3.3;
const GOOD_TOGETHER: f64 = 0.5;
/// Prior of the logarithm of how much better good water is: mean (three times) and standard deviation, and its least (one and a half times).
const BETTER_PRIOR: (f64, f64) = (1.1, 0.5);
const BETTER_MIN: f64 = 0.405;
/// By how much that differs between parts of the season: good water of spring is not that of summer.
const BETTER_PARTS_SD: f64 = 0.3;
/// Priors of precisions, as the shape and rate of a gamma distribution: of plain and of good places about the field, and of the field.
/// Standard deviations about a tenth (of good places a fifth), with a tail that lets places differ by any factor where the bites say so.
const PLACE_PRIORS: [(f64, f64); 2] = [(1.0, 0.02), (2.0, 0.1)];
const FIELD_PRIOR: (f64, f64) = (1.0, 0.02);
/// Years differ by a fifth or so (common practice, no source).
const YEAR_PRIOR: (f64, f64) = (2.0, 0.08);
/// Prior of the logarithm of the luck's shape: mean and standard deviation. A shape of 3 is a standard deviation of 0.6.
const LUCK_PRIOR: (f64, f64) = (1.1, 1.0);
/// Prior standard deviation of the logarithm of a part's mean about the mean of all.
const PART_SD: f64 = 1.5;

/// What is known of every place.
#[derive(Clone, Debug)]
pub(crate) struct Fit {
    /// Mean rate of each part of the season at average luck, where θ is 0, bites a rod-hour; posterior mean.
    mean: Vec<f64>,
    /// What is known of each place; `None` without effort.
    pub places: Vec<Option<Known>>,
    /// Shape of the luck of trips, posterior mean.
    pub luck_shape: f64,
    /// Field at each fished place, posterior mean.
    field: Vec<f64>,
}

/// What is known of a place, by draws from its distribution.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Known {
    /// Bites a rod-hour at average luck, rising.
    rate: Vec<f64>,
    /// The same over the mean of its part of the season over all water fished, rising.
    times: Vec<f64>,
}

impl Known {
    pub fn rate(&self) -> f64 {
        mean(&self.rate)
    }

    pub fn times(&self) -> f64 {
        mean(&self.times)
    }

    pub fn rate_interval(&self, level: f64) -> (f64, f64) {
        interval(&self.rate, level)
    }

    pub fn times_interval(&self, level: f64) -> (f64, f64) {
        interval(&self.times, level)
    }

    /// Probability that it is so many times the mean or more.
    pub fn chance(&self, times: f64) -> f64 {
        let below = self.times.partition_point(|&draw| draw < times);
        (self.times.len() - below) as f64 / self.times.len() as f64
    }
}

fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len() as f64
}

fn interval(rising: &[f64], level: f64) -> (f64, f64) {
    let at = |p: f64| {
        let place = p * (rising.len() - 1) as f64;
        let (below, part) = (place.floor() as usize, place.fract());
        rising[below] + part * (rising[(below + 1).min(rising.len() - 1)] - rising[below])
    };
    let tail = 0.5 * (1.0 - level);
    (at(tail), at(1.0 - tail))
}

impl Fit {
    /// Rate of any cell, bites a rod-hour: by what was seen there, else by what its neighbours say; `None` in a part that was not fished.
    pub fn rate(&self, tally: &Tally, place: Place) -> Option<f64> {
        if let Some(known) = tally.find(place).and_then(|place| self.places[place].as_ref()) {
            return Some(known.rate());
        }
        let mean = *self.mean.get(place.part).filter(|mean| **mean > 0.0)?;
        let (mut sum, mut weights) = (0.0, MEAN_WEIGHT);
        for (other, weight) in relatives(tally, place) {
            if self.places[other].is_some() {
                sum += weight * self.field[other];
                weights += weight;
            }
        }
        Some(mean * (sum / weights).exp())
    }
}

/// The places that a place is drawn toward, and how strongly: those at one step, and the same cell in the parts before and after.
fn relatives(tally: &Tally, place: Place) -> Vec<(usize, f64)> {
    let Place { part, cell } = place;
    let beside = cells::rings(cell, 1).into_iter().skip(1).flatten().map(|cell| (Place { part, cell }, 1.0));
    let before = part.checked_sub(1).map(|part| (Place { part, cell }, SEASON_WEIGHT));
    let after = (Place { part: part + 1, cell }, SEASON_WEIGHT);
    let all = beside.chain(before).chain([after]);
    all.filter_map(|(place, weight)| Some((tally.find(place)?, weight))).collect()
}

/// Fits everything. `factors` are what each trip's hours in each of its pieces count for (temperature); 1 where nothing is known.
pub(crate) fn fit(tally: &Tally, factors: &[Vec<f64>], chain: Chain) -> Fit {
    let mut state = State::new(tally, factors, chain.seed);
    for sweep in 0..chain.warm_up {
        state.sweep();
        if sweep % 20 == 19 {
            state.tune();
        }
    }
    let n = state.sites.len();
    let (mut rates, mut times) =
        (vec![Vec::with_capacity(chain.kept); n], vec![Vec::with_capacity(chain.kept); n]);
    let (mut means, mut luck, mut fields) = (vec![0.0; state.level.len()], 0.0, vec![0.0; n]);
    let share = 1.0 / chain.kept as f64;
    for _ in 0..chain.kept {
        for _ in 0..chain.thinning {
            state.sweep();
        }
        let over = state.mean_over_fished();
        for (i, site) in state.sites.iter().enumerate() {
            rates[i].push((site.theta + state.level[site.part]).exp());
            times[i].push(site.theta.exp() / over[site.part]);
            fields[i] += share * (site.field + state.step(site.part, site.is_good));
        }
        for (mean, level) in means.iter_mut().zip(&state.level) {
            *mean += share * level.exp();
        }
        luck += share * state.luck;
    }
    let mut places = vec![None; tally.places.len()];
    let mut field = vec![0.0; tally.places.len()];
    for (site, ((mut rate, mut times), of_site)) in
        state.sites.iter().zip(rates.into_iter().zip(times).zip(fields))
    {
        rate.sort_by(f64::total_cmp);
        times.sort_by(f64::total_cmp);
        places[site.place] = Some(Known { rate, times });
        field[site.place] = of_site;
    }
    for (part, mean) in means.iter_mut().enumerate() {
        if !state.sites.iter().any(|site| site.part == part) {
            *mean = 0.0;
        }
    }
    Fit { mean: means, places, luck_shape: luck, field }
}

/// One fished place in the chain.
struct Site {
    /// Index of the place.
    place: usize,
    part: usize,
    bites: f64,
    hours: f64,
    /// Trips that fished it, and their hours.
    pieces: Vec<(usize, f64)>,
    /// Those around it, and how strongly it is drawn to each.
    relatives: Vec<(usize, f64)>,
    is_good: bool,
    theta: f64,
    field: f64,
    /// Length of a step.
    step: f64,
}

/// One trip in the chain.
struct Outing {
    part: usize,
    year: usize,
    bites: f64,
    /// Bites to be expected at average luck.
    expected: f64,
    /// Mean of its part of the season, and its year; as [`State::expect`] left it.
    factor: f64,
}

struct State {
    sites: Vec<Site>,
    trips: Vec<Outing>,
    /// Logarithm of the mean of each part, and of each year's factor.
    level: Vec<f64>,
    years: Vec<f64>,
    level_of_all: f64,
    /// Shape of the luck of trips.
    luck: f64,
    /// Precisions of θ about the field, of the field, and of the years.
    of_place: [f64; 2],
    /// How much better good water is in each part of the season: the step of θ; and the middle of them.
    better: Vec<f64>,
    better_of_all: f64,
    of_field: f64,
    of_years: f64,
    /// Lengths of steps of parts, years and the luck's shape.
    steps: [Step; 3],
    accepted: Vec<u32>,
    random: ChaCha8Rng,
}

/// Length of a step, and how often it was taken.
#[derive(Clone, Copy)]
struct Step {
    length: f64,
    taken: u32,
    tried: u32,
}

impl Step {
    fn new(length: f64) -> Self {
        Self { length, taken: 0, tried: 0 }
    }

    fn note(&mut self, taken: bool) {
        self.taken += u32::from(taken);
        self.tried += 1;
    }

    fn tune(&mut self) {
        self.length *= longer(self.taken, self.tried);
        (self.taken, self.tried) = (0, 0);
    }
}

/// Steps of one number are best taken in 44 cases of 100 (Gelman et al., chapter 12).
fn longer(taken: u32, tried: u32) -> f64 {
    (f64::from(taken) / f64::from(tried.max(1)) - 0.44).exp()
}

impl State {
    fn new(tally: &Tally, factors: &[Vec<f64>], seed: u64) -> Self {
        let mut pieces: Vec<Vec<(usize, f64)>> = vec![Vec::new(); tally.places.len()];
        let (mut bites, mut years) = (vec![0.0; tally.places.len()], BTreeMap::new());
        let mut trips = Vec::new();
        for (trip, factors) in tally.trips.iter().zip(factors).filter(|(trip, _)| !trip.pieces.is_empty()) {
            for (piece, factor) in trip.pieces.iter().zip(factors) {
                pieces[piece.place].push((trips.len(), piece.hours * factor));
                bites[piece.place] += piece.bites as f64;
            }
            let n = years.len();
            let year = *years.entry(trip.day.year()).or_insert(n);
            trips.push(Outing {
                part: trip.part,
                year,
                bites: trip.bites() as f64,
                expected: 0.0,
                factor: 1.0,
            });
        }
        let mut index = vec![usize::MAX; tally.places.len()];
        let mut sites = Vec::new();
        for (place, pieces) in pieces.into_iter().enumerate().filter(|(_, pieces)| !pieces.is_empty()) {
            index[place] = sites.len();
            let (part, bites) = (tally.places[place].part, bites[place]);
            let hours = pieces.iter().map(|(_, hours)| hours).sum();
            let step = 2.4 / (4.0 + bites).sqrt();
            sites.push(Site {
                place,
                part,
                bites,
                hours,
                pieces,
                relatives: Vec::new(),
                is_good: false,
                theta: 0.0,
                field: 0.0,
                step,
            });
        }
        for site in &mut sites {
            let relatives = relatives(tally, tally.places[site.place]);
            let fished = relatives.into_iter().filter(|(place, _)| index[*place] != usize::MAX);
            site.relatives = fished.map(|(place, weight)| (index[place], weight)).collect();
        }
        let (bites, hours) =
            sites.iter().fold((0.5, 1e-6), |sum, site| (sum.0 + site.bites, sum.1 + site.hours));
        let level_of_all = f64::ln(bites / hours);
        let parts = tally.places.last().map_or(0, |place| place.part + 1);
        Self {
            accepted: vec![0; sites.len()],
            sites,
            trips,
            level: vec![level_of_all; parts],
            years: vec![0.0; years.len()],
            level_of_all,
            luck: 3.0,
            of_place: [10.0, 10.0],
            better: vec![BETTER_PRIOR.0; parts],
            better_of_all: BETTER_PRIOR.0,
            of_field: 4.0,
            of_years: 25.0,
            steps: [Step::new(0.2), Step::new(0.2), Step::new(0.3)],
            random: ChaCha8Rng::seed_from_u64(seed),
        }
    }

    fn normal(&mut self) -> f64 {
        StandardNormal.sample(&mut self.random)
    }

    fn takes(&mut self, log_ratio: f64) -> bool {
        log_ratio >= 0.0 || self.random.random::<f64>() < log_ratio.exp()
    }

    fn sweep(&mut self) {
        self.expect();
        for site in 0..self.sites.len() {
            self.move_site(site);
            self.turn_site(site);
        }
        self.move_parts();
        self.move_years();
        self.move_luck();
        self.draw_field();
        self.draw_better();
        self.draw_precisions();
    }

    fn tune(&mut self) {
        for (site, accepted) in self.sites.iter_mut().zip(&mut self.accepted) {
            site.step *= longer(*accepted, 20);
            *accepted = 0;
        }
        self.steps.iter_mut().for_each(Step::tune);
    }

    /// Bites to be expected of every trip, anew, so that rounding does not add up. What does not change while places move is
    /// worked out once: with thousands of trips most of the time goes by there.
    fn expect(&mut self) {
        for trip in &mut self.trips {
            trip.expected = 0.0;
        }
        for site in &self.sites {
            let theta = site.theta.exp();
            for &(trip, hours) in &site.pieces {
                self.trips[trip].expected += hours * theta;
            }
        }
        for trip in &mut self.trips {
            trip.factor = (self.level[trip.part] + self.years[trip.year]).exp();
            trip.expected *= trip.factor;
        }
    }

    fn move_site(&mut self, index: usize) {
        let by = self.sites[index].step * self.normal();
        let site = &self.sites[index];
        let moved = site.theta + by;
        let middle = site.field + self.step(site.part, site.is_good);
        let log_ratio = self.likelier(site, moved)
            - 0.5 * self.precision(site.is_good) * ((moved - middle).powi(2) - (site.theta - middle).powi(2));
        if self.takes(log_ratio) {
            self.put(index, moved);
            self.accepted[index] += 1;
        }
    }

    /// Turns a place into good water, or back: its θ goes with it, as far from the middle of its kind as it was.
    fn turn_site(&mut self, index: usize) {
        let site = &self.sites[index];
        let apart = site.theta - site.field - self.step(site.part, site.is_good);
        let scale = (self.precision(site.is_good) / self.precision(!site.is_good)).sqrt();
        let moved = site.field + self.step(site.part, !site.is_good) + apart * scale;
        let good: f64 =
            site.relatives.iter().filter(|(other, _)| self.sites[*other].is_good).map(|(_, w)| w).sum();
        let odds = GOOD_ALONE + GOOD_TOGETHER * good;
        let log_ratio = self.likelier(site, moved) + if site.is_good { -odds } else { odds };
        if self.takes(log_ratio) {
            self.put(index, moved);
            let site = &mut self.sites[index];
            site.is_good = !site.is_good;
        }
    }

    fn precision(&self, is_good: bool) -> f64 {
        self.of_place[usize::from(is_good)]
    }

    fn step(&self, part: usize, is_good: bool) -> f64 {
        if is_good { self.better[part] } else { 0.0 }
    }

    /// Log-likelihood with another θ of a site, over what it is.
    fn likelier(&self, site: &Site, theta: f64) -> f64 {
        let change = theta.exp() - site.theta.exp();
        let of_trips = site.pieces.iter().map(|&(trip, hours)| {
            let trip = &self.trips[trip];
            let more = hours * change * trip.factor;
            (self.luck + trip.bites) * (more / (self.luck + trip.expected)).ln_1p()
        });
        site.bites * (theta - site.theta) - of_trips.sum::<f64>()
    }

    fn put(&mut self, index: usize, theta: f64) {
        let change = theta.exp() - self.sites[index].theta.exp();
        for &(trip, hours) in &self.sites[index].pieces {
            let trip = &mut self.trips[trip];
            trip.expected += hours * change * trip.factor;
        }
        self.sites[index].theta = theta;
    }

    /// How much better good water is, given where it is.
    fn draw_better(&mut self) {
        let precision_of_parts = BETTER_PARTS_SD.powi(-2);
        let mut sums = vec![(precision_of_parts, precision_of_parts * self.better_of_all); self.better.len()];
        for site in self.sites.iter().filter(|site| site.is_good) {
            sums[site.part].0 += self.of_place[1];
            sums[site.part].1 += self.of_place[1] * (site.theta - site.field);
        }
        for (part, (precision, sum)) in sums.into_iter().enumerate() {
            self.better[part] =
                self.at_least(BETTER_MIN, sum / precision, precision).unwrap_or(self.better[part]);
        }
        let (middle, sd) = BETTER_PRIOR;
        let precision = sd.powi(-2) + precision_of_parts * self.better.len() as f64;
        let sum = sd.powi(-2) * middle + precision_of_parts * self.better.iter().sum::<f64>();
        self.better_of_all = sum / precision + self.normal() / precision.sqrt();
    }

    /// A normal deviate that is not below a least value; `None` where a few draws gave none.
    fn at_least(&mut self, least: f64, mean: f64, precision: f64) -> Option<f64> {
        (0..8).map(|_| mean + self.normal() / precision.sqrt()).find(|&drawn| drawn >= least)
    }

    /// Log-likelihood of trips whose expected bites are all multiplied, over what it was.
    fn scaled(&self, by: f64, which: impl Fn(&Outing) -> bool) -> f64 {
        let factor = by.exp_m1();
        let trips = self.trips.iter().filter(|trip| which(trip));
        trips
            .map(|trip| {
                let more = trip.expected * factor / (self.luck + trip.expected);
                trip.bites * by - (self.luck + trip.bites) * more.ln_1p()
            })
            .sum()
    }

    fn move_parts(&mut self) {
        for part in 0..self.level.len() {
            let by = self.steps[0].length * self.normal();
            let (old, new) =
                (self.level[part] - self.level_of_all, self.level[part] + by - self.level_of_all);
            let prior = -0.5 * (new * new - old * old) / (PART_SD * PART_SD);
            let taken = self.takes(prior + self.scaled(by, |trip| trip.part == part));
            self.steps[0].note(taken);
            if taken {
                self.level[part] += by;
                self.scale(by, |trip| trip.part == part);
            }
        }
    }

    fn move_years(&mut self) {
        for year in 0..self.years.len() {
            let by = self.steps[1].length * self.normal();
            // a mean of 1, so that the rate of a part is that of an average year
            let middle = -0.5 / self.of_years;
            let (old, new) = (self.years[year] - middle, self.years[year] + by - middle);
            let prior = -0.5 * self.of_years * (new * new - old * old);
            let taken = self.takes(prior + self.scaled(by, |trip| trip.year == year));
            self.steps[1].note(taken);
            if taken {
                self.years[year] += by;
                self.scale(by, |trip| trip.year == year);
            }
        }
    }

    fn scale(&mut self, by: f64, which: impl Fn(&Outing) -> bool) {
        for trip in self.trips.iter_mut().filter(|trip| which(trip)) {
            trip.expected *= by.exp();
        }
    }

    fn move_luck(&mut self) {
        let by = self.steps[2].length * self.normal();
        let log = |luck: f64| -> f64 {
            let of_trip = |trip: &Outing| {
                ln_gamma(luck + trip.bites)
                    - ln_gamma(luck)
                    - luck * (trip.expected / luck).ln_1p()
                    - trip.bites * (luck + trip.expected).ln()
            };
            let (middle, sd) = LUCK_PRIOR;
            self.trips.iter().map(of_trip).sum::<f64>() - 0.5 * ((luck.ln() - middle) / sd).powi(2)
        };
        let moved = self.luck * by.exp();
        let log_ratio = log(moved) - log(self.luck);
        let taken = self.takes(log_ratio);
        self.steps[2].note(taken);
        if taken {
            self.luck = moved;
        }
    }

    /// The field at every site given θ and the field around it.
    fn draw_field(&mut self) {
        for index in 0..self.sites.len() {
            let site = &self.sites[index];
            let (mut weights, mut sum) = (MEAN_WEIGHT, 0.0);
            for &(other, weight) in &site.relatives {
                weights += weight;
                sum += weight * self.sites[other].field;
            }
            let of_place = self.precision(site.is_good);
            let precision = of_place + self.of_field * weights;
            let mean = (of_place * (site.theta - self.step(site.part, site.is_good)) + self.of_field * sum)
                / precision;
            self.sites[index].field = mean + self.normal() / precision.sqrt();
        }
    }

    fn draw_precisions(&mut self) {
        let (mut apart, mut rough) = ([(0.0, 0.0); 2], 0.0);
        for site in &self.sites {
            let kind = usize::from(site.is_good);
            apart[kind].0 += 1.0;
            apart[kind].1 += (site.theta - site.field - self.step(site.part, site.is_good)).powi(2);
            rough += MEAN_WEIGHT * site.field * site.field;
            for &(other, weight) in &site.relatives {
                // every pair comes twice
                rough += 0.5 * weight * (site.field - self.sites[other].field).powi(2);
            }
        }
        let n = self.sites.len() as f64;
        for (kind, (n, squares)) in apart.into_iter().enumerate() {
            self.of_place[kind] = self.draw_precision(PLACE_PRIORS[kind], n, squares);
        }
        self.of_field = self.draw_precision(FIELD_PRIOR, n, rough);
        let middle = -0.5 / self.of_years;
        let years = self.years.iter().map(|year| (year - middle).powi(2)).sum();
        self.of_years = self.draw_precision(YEAR_PRIOR, self.years.len() as f64, years);
    }

    fn draw_precision(&mut self, prior: (f64, f64), n: f64, squares: f64) -> f64 {
        let (shape, rate) = (prior.0 + 0.5 * n, prior.1 + 0.5 * squares);
        // shape and scale are positive
        Gamma::new(shape, 1.0 / rate).map_or(prior.0 / prior.1, |gamma| gamma.sample(&mut self.random))
    }

    /// Mean of exp(θ) over what was fished, in each part.
    fn mean_over_fished(&self) -> Vec<f64> {
        let mut sums = vec![(0.0, 0.0); self.level.len()];
        for site in &self.sites {
            sums[site.part].0 += site.hours * site.theta.exp();
            sums[site.part].1 += site.hours;
        }
        sums.into_iter().map(|(sum, hours)| if hours > 0.0 { sum / hours } else { 1.0 }).collect()
    }
}
