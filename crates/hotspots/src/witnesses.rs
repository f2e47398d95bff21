//! Do places stand out that the rates know nothing of: by their neighbourhood, and by a search over space and season?
//!
//! Two tests that do not use the fitted rates. Both compare with the same null: every trip keeps its bites, and they fall on its
//! own hours wherever it fished. So a lucky trip, a good year, a good month speak for no place.

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use waterseam_breaks::benjamini_hochberg;

use crate::gi_star::{gi_stars, upper_tail};
use crate::scan::{Cluster, Search};
use crate::tally::Tally;

/// What the witnesses say of each place.
#[derive(Clone, Debug, Default)]
pub(crate) struct Witnesses {
    /// Getis-Ord Gi* among the places of the part; `None` where nothing can stand out, or without effort.
    pub gi_star: Vec<Option<GiStar>>,
    /// Groups of places that the search found, the strongest first.
    pub clusters: Vec<Cluster>,
}

/// Gi* of a place.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct GiStar {
    /// Normal deviate by the formula.
    pub z: f64,
    /// Probability of one as high where trips fall on their hours, by the mean and spread of the draws.
    pub p: f64,
    /// The same, adjusted for the number of places (Benjamini-Hochberg over all parts).
    pub q: f64,
}

/// Draws from the null.
pub(crate) struct Null<'a> {
    tally: &'a Tally,
    /// Of each trip with bites: its places, the hours up to and with each, its bites.
    trips: Vec<(Vec<usize>, Vec<f64>, u64)>,
}

impl<'a> Null<'a> {
    pub fn new(tally: &'a Tally) -> Self {
        let trips = tally.trips.iter().filter(|trip| trip.bites() > 0);
        let cumulative = |trip: &crate::tally::Trip| {
            let mut hours = 0.0;
            let up_to = trip.pieces.iter().map(|piece| {
                hours += piece.hours;
                hours
            });
            let up_to = up_to.collect();
            (trip.pieces.iter().map(|piece| piece.place).collect(), up_to, trip.bites())
        };
        Self { tally, trips: trips.map(cumulative).collect() }
    }

    /// Bites to be expected in each place.
    pub fn expected(&self) -> Vec<f64> {
        let mut expected = vec![0.0; self.tally.places.len()];
        for trip in &self.tally.trips {
            let (bites, hours) = (trip.bites() as f64, trip.hours());
            for piece in &trip.pieces {
                expected[piece.place] += bites * piece.hours / hours;
            }
        }
        expected
    }

    fn draw(&self, random: &mut ChaCha8Rng, counts: &mut [u32]) {
        counts.fill(0);
        for (places, up_to, bites) in &self.trips {
            let total = up_to.last().copied().unwrap_or_default();
            for _ in 0..*bites {
                let at = total * random.random::<f64>();
                let index = up_to.partition_point(|&hours| hours <= at).min(places.len() - 1);
                counts[places[index]] += 1;
            }
        }
    }
}

/// Asks both witnesses.
pub(crate) fn ask(tally: &Tally, draws: u32, seed: u64) -> Witnesses {
    let null = Null::new(tally);
    let expected = null.expected();
    let mut counts = vec![0_u32; tally.places.len()];
    for piece in tally.trips.iter().flat_map(|trip| &trip.pieces) {
        counts[piece.place] += piece.bites as u32;
    }
    let fished = fished(tally);
    let neighbourhoods = Neighbourhoods::new(tally, &fished);
    let search = Search::new(tally, &expected, &fished);
    let observed = neighbourhoods.gi_stars(&counts, &expected);
    let mut clusters = search.clusters(&counts);
    let mut moments = vec![(0.0, 0.0); tally.places.len()];
    let mut strongest = Vec::new();
    let mut random = ChaCha8Rng::seed_from_u64(seed);
    let mut drawn = counts.clone();
    for _ in 0..draws {
        null.draw(&mut random, &mut drawn);
        for ((sum, squares), z) in moments.iter_mut().zip(neighbourhoods.gi_stars(&drawn, &expected)) {
            let z = z.unwrap_or_default();
            *sum += z;
            *squares += z * z;
        }
        strongest.push(search.strongest(&drawn));
    }
    for cluster in &mut clusters {
        let as_strong = strongest.iter().filter(|&&other| other >= cluster.log_likelihood_ratio - 1e-9);
        cluster.p_value = (1 + as_strong.count()) as f64 / (1 + strongest.len()) as f64;
    }
    let n = f64::from(draws.max(1));
    let places: Vec<usize> = (0..observed.len()).filter(|&place| observed[place].is_some()).collect();
    let p_values: Vec<f64> = places
        .iter()
        .map(|&place| {
            let (mean, square) = (moments[place].0 / n, moments[place].1 / n);
            let spread = (square - mean * mean).max(0.0).sqrt();
            if spread > 0.0 { upper_tail((observed[place].unwrap_or_default() - mean) / spread) } else { 1.0 }
        })
        .collect();
    let adjusted = benjamini_hochberg(&p_values, p_values.len() as f64);
    let mut gi_star = vec![None; observed.len()];
    for (&place, (&p, &q)) in places.iter().zip(p_values.iter().zip(&adjusted)) {
        gi_star[place] = observed[place].map(|z| GiStar { z, p, q });
    }
    Witnesses { gi_star, clusters }
}

fn fished(tally: &Tally) -> Vec<bool> {
    let mut fished = vec![false; tally.places.len()];
    for piece in tally.trips.iter().flat_map(|trip| &trip.pieces) {
        fished[piece.place] = true;
    }
    fished
}

/// The fished places of a part, and the neighbourhood of each by position among them.
struct Part {
    places: Vec<usize>,
    weights: Vec<Vec<(usize, f64)>>,
}

/// The fished places of each part, and who is beside whom.
struct Neighbourhoods {
    parts: Vec<Part>,
    places: usize,
}

impl Neighbourhoods {
    fn new(tally: &Tally, fished: &[bool]) -> Self {
        let around = tally.around(1);
        let mut parts = Vec::new();
        let mut position = vec![usize::MAX; tally.places.len()];
        let mut start = 0;
        while start < tally.places.len() {
            let part = tally.places[start].part;
            let end = start + tally.places[start..].partition_point(|place| place.part == part);
            let places: Vec<usize> = (start..end).filter(|&place| fished[place]).collect();
            for (at, &place) in places.iter().enumerate() {
                position[place] = at;
            }
            let beside = |place: &usize| -> Vec<(usize, f64)> {
                around[*place]
                    .iter()
                    .flatten()
                    .filter(|&&other| fished[other])
                    .map(|&other| (position[other], 1.0))
                    .collect()
            };
            let weights = places.iter().map(beside).collect();
            parts.push(Part { places, weights });
            start = end;
        }
        Self { parts, places: tally.places.len() }
    }

    /// Gi* of bites over those expected, each with one bite at the mean added so that few hours say little.
    fn gi_stars(&self, counts: &[u32], expected: &[f64]) -> Vec<Option<f64>> {
        let mut all = vec![None; self.places];
        for Part { places, weights } in &self.parts {
            let value = |&place: &usize| (1.0 + f64::from(counts[place])) / (1.0 + expected[place]);
            let values: Vec<f64> = places.iter().map(value).collect();
            for (&place, z) in places.iter().zip(gi_stars(&values, weights)) {
                all[place] = z;
            }
        }
        all
    }
}
