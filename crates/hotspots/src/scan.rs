//! Is there a group of places and a stretch of the season in which bites came oftener than the trips' own luck says?
//!
//! M. Kulldorff, A spatial scan statistic, Communications in Statistics – Theory and Methods 26 (1997) 1481–1496, and its form
//! for space and time, J. Royal Statistical Society A 164 (2001) 61–72 (from memory): the Poisson model, high rates only, discs of cells ×
//! stretches of neighbouring parts of the season; the p-value by draws of the null, for the whole search.

use std::collections::BTreeMap;

use crate::cells;
use crate::tally::{Place, Tally};

/// Largest disc, steps from its middle.
const STEPS_MAX: u32 = 3;
/// Longest stretch, parts: half of the parts, but at most a quarter of a year of weeks.
const PARTS_MAX: usize = 13;
/// Largest share of the expected bites in a group (Kulldorff's half: one with more is better described by the poor water outside it).
const SHARE_MAX: f64 = 0.5;

/// A group of places in which bites came oftener.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Cluster {
    /// Its places, those without effort left out.
    pub places: Vec<usize>,
    pub log_likelihood_ratio: f64,
    /// Chance of a group as strong anywhere in the search, where bites fall on the hours of their trips.
    pub p_value: f64,
}

/// Everything that is looked at.
pub(crate) struct Search<'a> {
    expected: &'a [f64],
    total: f64,
    parts: usize,
    longest: usize,
    /// Of each middle and each distance from it the places of each part: `(place, part)`.
    discs: Vec<Vec<Vec<(usize, usize)>>>,
}

#[derive(Clone, Copy)]
struct Window {
    middle: usize,
    steps: usize,
    first: usize,
    last: usize,
    ratio: f64,
}

impl<'a> Search<'a> {
    pub fn new(tally: &'a Tally, expected: &'a [f64], fished: &[bool]) -> Self {
        let mut by_cell: BTreeMap<u64, Vec<(usize, usize)>> = BTreeMap::new();
        let mut parts: Vec<usize> = tally.places.iter().map(|place| place.part).collect();
        parts.dedup();
        for (index, Place { part, cell }) in
            tally.places.iter().enumerate().filter(|(index, _)| fished[*index])
        {
            let part = parts.partition_point(|other| other < part);
            by_cell.entry(*cell).or_default().push((index, part));
        }
        let disc = |&cell: &u64| {
            let of_ring = |ring: Vec<u64>| {
                ring.iter().filter_map(|cell| by_cell.get(cell)).flatten().copied().collect::<Vec<_>>()
            };
            cells::rings(cell, STEPS_MAX).into_iter().map(of_ring).collect()
        };
        Self {
            expected,
            total: expected.iter().sum(),
            parts: parts.len(),
            longest: parts.len().div_ceil(2).min(PARTS_MAX),
            discs: by_cell.keys().map(disc).collect(),
        }
    }

    /// Gives every window with more bites than expected.
    fn windows(&self, counts: &[u32], mut each: impl FnMut(Window)) {
        let (mut bites, mut expected) = (vec![0.0; self.parts], vec![0.0; self.parts]);
        let bites_of_all: f64 = counts.iter().map(|&count| f64::from(count)).sum();
        for (middle, rings) in self.discs.iter().enumerate() {
            bites.fill(0.0);
            expected.fill(0.0);
            for (steps, ring) in rings.iter().enumerate() {
                // a wider disc with nothing new in it is the same disc
                if ring.is_empty() {
                    continue;
                }
                for &(place, part) in ring {
                    bites[part] += f64::from(counts[place]);
                    expected[part] += self.expected[place];
                }
                for first in 0..self.parts {
                    let (mut inside, mut expected_inside) = (0.0, 0.0);
                    for last in first..self.parts.min(first + self.longest) {
                        inside += bites[last];
                        expected_inside += expected[last];
                        if expected_inside > SHARE_MAX * self.total {
                            break;
                        }
                        if inside > expected_inside && inside >= 2.0 && expected_inside > 0.0 {
                            let ratio = log_ratio(inside, expected_inside, bites_of_all);
                            each(Window { middle, steps, first, last, ratio });
                        }
                    }
                }
            }
        }
    }

    /// Log-likelihood ratio of the strongest window.
    pub fn strongest(&self, counts: &[u32]) -> f64 {
        let mut best: f64 = 0.0;
        self.windows(counts, |window| best = best.max(window.ratio));
        best
    }

    /// The strongest windows that share no place, the strongest first; p-values are still to be found.
    pub fn clusters(&self, counts: &[u32]) -> Vec<Cluster> {
        let mut windows = Vec::new();
        // a log-likelihood ratio of 2 is passed by chance in one window of twenty, in a search of thousands it means nothing
        self.windows(counts, |window| {
            if window.ratio > 2.0 {
                windows.push(window);
            }
        });
        windows.sort_by(|a, b| {
            let key = |w: &Window| (w.middle, w.steps, w.first, w.last);
            b.ratio.total_cmp(&a.ratio).then(key(a).cmp(&key(b)))
        });
        let mut taken = vec![false; self.expected.len()];
        let mut clusters = Vec::new();
        for window in windows {
            let rings = &self.discs[window.middle][..=window.steps];
            let within = |part: usize| (window.first..=window.last).contains(&part);
            let mut places: Vec<usize> =
                rings.iter().flatten().filter(|(_, part)| within(*part)).map(|(place, _)| *place).collect();
            if places.iter().any(|&place| taken[place]) {
                continue;
            }
            places.sort_unstable();
            for &place in &places {
                taken[place] = true;
            }
            clusters.push(Cluster { places, log_likelihood_ratio: window.ratio, p_value: 1.0 });
        }
        clusters
    }
}

/// Kulldorff's log-likelihood ratio of `inside` bites where `expected` were to come, of `all`.
fn log_ratio(inside: f64, expected: f64, all: f64) -> f64 {
    let outside = all - inside;
    let rest = if outside > 0.0 { outside * (outside / (all - expected)).ln() } else { 0.0 };
    inside * (inside / expected).ln() + rest
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_ratio_by_hand() {
        // 10 of 20 where 5 were to be expected: 10 ln 2 + 10 ln (10 / 15)
        let want = 10.0 * 2f64.ln() + 10.0 * (10.0f64 / 15.0).ln();
        assert!((log_ratio(10.0, 5.0, 20.0) - want).abs() < 1e-12);
        assert!(log_ratio(20.0, 5.0, 20.0) > 27.0);
    }
}
