//! Is there a band in which bites came oftener than elsewhere, or is that chance?

use std::collections::BTreeMap;
use std::ops::Range;

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

use crate::rates::Counted;

/// Settings of the scan.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ScanSettings {
    /// Largest share of the expected events that a band may hold. Half is Kulldorff's: a band with more is better
    /// described by the poor water outside it.
    pub share_max: f64,
    /// Simulated trips without any band; 999 give a p-value in steps of 0.001.
    pub draws: u32,
    /// Seed of the simulated trips: the same input gives the same p-value.
    pub seed: u64,
}

impl Default for ScanSettings {
    fn default() -> Self {
        Self { share_max: 0.5, draws: 999, seed: 0x5EA_5EA }
    }
}

/// The band of neighbouring bins that stands out most.
#[derive(Clone, Debug, PartialEq)]
pub struct Cluster {
    /// Its bins.
    pub bins: Range<usize>,
    /// Logarithm of the likelihood ratio against one rate everywhere.
    pub log_likelihood_ratio: f64,
    /// Chance of a band of this factor that stands out as much, anywhere, where the rate is the same everywhere.
    pub p_value: f64,
    /// The same for any of the factors that were looked at together.
    pub p_value_of_all: f64,
}

/// Water that a line was in: its bin in each factor, `None` where the factor was not known.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Water<const N: usize, B = usize> {
    /// Events are compared with exposure of the same stratum only, for instance a trip.
    pub stratum: usize,
    /// The bin in each factor.
    pub bins: [Option<B>; N],
}

/// The likeliest band of higher rate in bins of one factor, in their order.
///
/// The same as the search over several factors with one alone. Events in bins without exposure take no part. `None` where there is nothing
/// to compare: fewer than two bins with exposure, or no event in them.
pub fn scan(bins: &[Counted], settings: &ScanSettings) -> Option<Cluster> {
    let water = |bin| Water { stratum: 0, bins: [Some(bin)] };
    let exposed = || bins.iter().enumerate().filter(|(_, counted)| counted.exposure > 0.0);
    let exposures: Vec<_> = exposed().map(|(bin, counted)| (water(bin), counted.exposure)).collect();
    let events: Vec<_> =
        exposed().flat_map(|(bin, counted)| (0..counted.count).map(move |_| water(bin))).collect();
    let [cluster] = scan_all(&exposures, &events, [bins.len()], settings);
    cluster
}

/// The likeliest band of higher rate in each of several factors.
///
/// # Method
/// M. Kulldorff, A spatial scan statistic, Communications in Statistics – Theory and Methods 26 (1997) 1481–1496 (cited
/// from memory): the Poisson model in one dimension, high rates only, conditional on the number of events of each stratum, with expected
/// numbers that follow the exposure within the stratum (his adjustment for covariates), so that a lucky day is not credited to its depth. The p-value
/// of a factor is by Monte Carlo, and holds for the search over all its bands. In every draw the factors see
/// the same events, so that the smallest p-value of a draw says what the best of all factors is worth: the adjusted p-values are those of
/// the step-down method of Westfall & Young (Resampling-Based Multiple Testing, 1993, section 2.6; from memory), which knows how
/// alike the factors are.
///
/// Events are drawn from all exposure of their stratum; what a draw knows of a factor is compared with the exposure in which it is known. Events
/// in a bin without exposure in their stratum take no part in that factor.
pub(crate) fn scan_all<const N: usize>(
    exposures: &[(Water<N>, f64)],
    events: &[Water<N>],
    n_bins: [usize; N],
    settings: &ScanSettings,
) -> [Option<Cluster>; N] {
    let strata = Strata::new(exposures, events, n_bins);
    let mut tally = Tally::new(&strata, n_bins);
    for event in events {
        tally.add(&strata, event);
    }
    let searches: [Option<Search>; N] =
        std::array::from_fn(|f| Search::new(&tally.expected(&strata, f), settings.share_max, events.len()));
    let strongest = |tally: &Tally<N>| -> [(f64, usize); N] {
        std::array::from_fn(|f| {
            searches[f]
                .as_ref()
                .map_or((0.0, 0), |search| search.strongest(&tally.counts[f], &tally.expected(&strata, f)))
        })
    };
    let best = strongest(&tally);
    // the first of the pool is what was observed
    let mut strengths: Vec<[f64; N]> = vec![best.map(|(strength, _)| strength)];
    let mut random = ChaCha8Rng::seed_from_u64(settings.seed);
    for _ in 0..settings.draws {
        tally.clear();
        strata.draw(&mut random, |water| tally.add(&strata, water));
        strengths.push(strongest(&tally).map(|(strength, _)| strength));
    }
    let looked_at: Vec<usize> = (0..N).filter(|&f| searches[f].is_some()).collect();
    let p_values = p_values(&strengths);
    let of_all = step_down(&p_values, &looked_at);
    std::array::from_fn(|f| {
        let search = searches[f].as_ref()?;
        Some(Cluster {
            bins: search.windows.get(best[f].1)?.clone(),
            log_likelihood_ratio: best[f].0,
            p_value: p_values[0][f],
            p_value_of_all: of_all[f],
        })
    })
}

/// The exposure of one stratum, and how many events belong to it.
struct Stratum<const N: usize> {
    waters: Vec<Water<N>>,
    /// Exposure up to and with each.
    cumulative: Vec<f64>,
    events: usize,
    /// Share of each bin in the exposure in which a factor is known.
    shares: [Vec<f64>; N],
}

struct Strata<const N: usize>(BTreeMap<usize, Stratum<N>>);

impl<const N: usize> Strata<N> {
    fn new(exposures: &[(Water<N>, f64)], events: &[Water<N>], n_bins: [usize; N]) -> Self {
        let mut strata: BTreeMap<usize, Stratum<N>> = BTreeMap::new();
        for (water, exposure) in exposures.iter().filter(|(_, exposure)| *exposure > 0.0) {
            let stratum = strata.entry(water.stratum).or_insert_with(|| Stratum {
                waters: Vec::new(),
                cumulative: Vec::new(),
                events: 0,
                shares: n_bins.map(|n| vec![0.0; n]),
            });
            stratum.cumulative.push(stratum.cumulative.last().unwrap_or(&0.0) + exposure);
            stratum.waters.push(*water);
            for (shares, bin) in stratum.shares.iter_mut().zip(water.bins) {
                if let Some(bin) = bin {
                    shares[bin] += exposure;
                }
            }
        }
        for shares in strata.values_mut().flat_map(|stratum| &mut stratum.shares) {
            let known: f64 = shares.iter().sum();
            if known > 0.0 {
                for share in shares.iter_mut() {
                    *share /= known;
                }
            }
        }
        for event in events {
            if let Some(stratum) = strata.get_mut(&event.stratum) {
                stratum.events += 1;
            }
        }
        Self(strata)
    }

    fn draw(&self, random: &mut ChaCha8Rng, mut each: impl FnMut(&Water<N>)) {
        for stratum in self.0.values() {
            let total = stratum.cumulative.last().copied().unwrap_or_default();
            for _ in 0..stratum.events {
                let place = total * random.random::<f64>();
                let index = stratum.cumulative.partition_point(|&cumulative| cumulative <= place);
                each(&stratum.waters[index.min(stratum.waters.len() - 1)]);
            }
        }
    }
}

/// Events counted by factor: in each bin, and in each stratum.
struct Tally<const N: usize> {
    counts: [Vec<u64>; N],
    known: [BTreeMap<usize, u64>; N],
}

impl<const N: usize> Tally<N> {
    fn new(strata: &Strata<N>, n_bins: [usize; N]) -> Self {
        let none: BTreeMap<usize, u64> = strata.0.keys().map(|&stratum| (stratum, 0)).collect();
        Self { counts: n_bins.map(|n| vec![0; n]), known: std::array::from_fn(|_| none.clone()) }
    }

    fn clear(&mut self) {
        for (counts, known) in self.counts.iter_mut().zip(&mut self.known) {
            counts.fill(0);
            for n in known.values_mut() {
                *n = 0;
            }
        }
    }

    fn add(&mut self, strata: &Strata<N>, water: &Water<N>) {
        let Some(stratum) = strata.0.get(&water.stratum) else { return };
        for factor in 0..N {
            let Some(bin) = water.bins[factor].filter(|&bin| stratum.shares[factor][bin] > 0.0) else {
                continue;
            };
            self.counts[factor][bin] += 1;
            *self.known[factor].entry(water.stratum).or_default() += 1;
        }
    }

    /// Events to be expected in each bin of a factor.
    fn expected(&self, strata: &Strata<N>, factor: usize) -> Vec<f64> {
        let mut expected = vec![0.0; self.counts[factor].len()];
        for (stratum, &n) in strata.0.values().zip(self.known[factor].values()).filter(|(_, n)| **n > 0) {
            for (expected, share) in expected.iter_mut().zip(&stratum.shares[factor]) {
                *expected += n as f64 * share;
            }
        }
        expected
    }
}

/// All bands of one factor.
struct Search {
    windows: Vec<Range<usize>>,
    /// `n ln n` for every count that can occur.
    entropy: Vec<f64>,
}

impl Search {
    /// `None` where there is nothing to compare.
    fn new(expected: &[f64], share_max: f64, events: usize) -> Option<Self> {
        let total: f64 = expected.iter().sum();
        if total == 0.0 || expected.iter().filter(|&&e| e > 0.0).count() < 2 {
            return None;
        }
        let entropy = (0..=events).map(|n| if n == 0 { 0.0 } else { n as f64 * (n as f64).ln() }).collect();
        Some(Self { windows: windows(expected, total, share_max), entropy })
    }

    /// The strongest band: its log-likelihood ratio and its index; 0 where no band has more than is expected.
    fn strongest(&self, counts: &[u64], expected: &[f64]) -> (f64, usize) {
        let (mut before, mut expected_before) = (vec![0; counts.len() + 1], vec![0.0; counts.len() + 1]);
        for (i, (count, expected)) in counts.iter().zip(expected).enumerate() {
            before[i + 1] = before[i] + count;
            expected_before[i + 1] = expected_before[i] + expected;
        }
        let (total, all) = (before[counts.len()] as usize, expected_before[counts.len()]);
        let mut best = (0.0, 0);
        for (index, window) in self.windows.iter().enumerate() {
            let inside = (before[window.end] - before[window.start]) as usize;
            let expected = expected_before[window.end] - expected_before[window.start];
            let (outside, rest) = (total - inside, all - expected);
            // a draw may leave nothing to compare with
            if inside as f64 <= expected || expected <= 0.0 || rest <= 1e-9 * all {
                continue;
            }
            let ratio = self.entropy[inside] + self.entropy[outside]
                - inside as f64 * expected.ln()
                - outside as f64 * rest.ln();
            if ratio > best.0 {
                best = (ratio, index);
            }
        }
        best
    }
}

/// All bands from a bin with exposure to a bin with exposure that hold no more than the share.
fn windows(expected: &[f64], total: f64, share_max: f64) -> Vec<Range<usize>> {
    let mut windows = Vec::new();
    for start in (0..expected.len()).filter(|&i| expected[i] > 0.0) {
        let mut inside = 0.0;
        for (end, &more) in expected.iter().enumerate().skip(start) {
            inside += more;
            let share = inside / total;
            // a lone bin is looked at even where it holds more, as long as something is outside
            if share > share_max && end > start || share >= 1.0 - 1e-12 {
                break;
            }
            if more > 0.0 {
                windows.push(start..end + 1);
            }
        }
    }
    windows
}

/// Of every draw and factor the share of draws that are as strong.
fn p_values<const N: usize>(strengths: &[[f64; N]]) -> Vec<[f64; N]> {
    let mut p_values = vec![[1.0; N]; strengths.len()];
    for factor in 0..N {
        let mut falling: Vec<f64> = strengths.iter().map(|strengths| strengths[factor]).collect();
        falling.sort_by(|a, b| b.total_cmp(a));
        for (p_values, strengths) in p_values.iter_mut().zip(strengths) {
            // equal strengths must not differ by rounding
            let limit = strengths[factor] - 1e-9;
            let as_strong = falling.partition_point(|&strength| strength >= limit);
            p_values[factor] = as_strong as f64 / falling.len() as f64;
        }
    }
    p_values
}

/// P-values of what was observed (the first), adjusted for the factors that were looked at.
fn step_down<const N: usize>(p_values: &[[f64; N]], looked_at: &[usize]) -> [f64; N] {
    let mut adjusted = [1.0; N];
    let observed = p_values[0];
    let mut order = looked_at.to_vec();
    order.sort_by(|&a, &b| observed[a].total_cmp(&observed[b]).then(a.cmp(&b)));
    let mut least: f64 = 0.0;
    for (rank, &factor) in order.iter().enumerate() {
        let as_small = p_values.iter().filter(|draw| {
            order[rank..].iter().map(|&other| draw[other]).fold(1.0, f64::min) <= observed[factor] + 1e-12
        });
        least = least.max(as_small.count() as f64 / p_values.len() as f64);
        adjusted[factor] = least;
    }
    adjusted
}
