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
/// An event is drawn from exposure of its stratum in which the same factors are known. Events without such exposure take no part.
pub(crate) fn scan_all<const N: usize>(
    exposures: &[(Water<N>, f64)],
    events: &[Water<N>],
    n_bins: [usize; N],
    settings: &ScanSettings,
) -> [Option<Cluster>; N] {
    let pools = Pools::new(exposures, events);
    let expected = pools.expected(n_bins);
    let searches: [Option<Search>; N] =
        std::array::from_fn(|factor| Search::new(&expected[factor], settings.share_max));
    let mut observed = n_bins.map(|n| vec![0; n]);
    for event in pools.events_in_pools(events) {
        count(&mut observed, event);
    }
    let strongest = |counts: &[Vec<u64>; N]| -> [(f64, usize); N] {
        std::array::from_fn(|f| searches[f].as_ref().map_or((0.0, 0), |search| search.strongest(&counts[f])))
    };
    let best = strongest(&observed);
    // the first of the pool is what was observed
    let mut strengths: Vec<[f64; N]> = vec![best.map(|(strength, _)| strength)];
    let mut random = ChaCha8Rng::seed_from_u64(settings.seed);
    let mut drawn = n_bins.map(|n| vec![0; n]);
    for _ in 0..settings.draws {
        for counts in &mut drawn {
            counts.fill(0);
        }
        pools.draw(&mut random, |water| count(&mut drawn, water));
        strengths.push(strongest(&drawn).map(|(strength, _)| strength));
    }
    let looked_at: Vec<usize> = (0..N).filter(|&f| searches[f].is_some()).collect();
    let p_values = p_values(&strengths);
    let of_all = step_down(&p_values, &looked_at);
    std::array::from_fn(|f| {
        let search = searches[f].as_ref()?;
        Some(Cluster {
            bins: search.windows.get(best[f].1)?.bins.clone(),
            log_likelihood_ratio: best[f].0,
            p_value: p_values[0][f],
            p_value_of_all: of_all[f],
        })
    })
}

fn count<const N: usize>(counts: &mut [Vec<u64>; N], water: &Water<N>) {
    for (counts, bin) in counts.iter_mut().zip(water.bins) {
        if let Some(bin) = bin {
            counts[bin] += 1;
        }
    }
}

/// Exposure of one stratum in which the same factors are known, and the events that belong to it.
#[derive(Default)]
struct Pool<const N: usize> {
    waters: Vec<Water<N>>,
    /// Exposure up to and with each.
    cumulative: Vec<f64>,
    events: usize,
}

struct Pools<const N: usize>(BTreeMap<(usize, [bool; N]), Pool<N>>);

fn kind<const N: usize>(water: &Water<N>) -> (usize, [bool; N]) {
    (water.stratum, water.bins.map(|bin| bin.is_some()))
}

impl<const N: usize> Pools<N> {
    fn new(exposures: &[(Water<N>, f64)], events: &[Water<N>]) -> Self {
        let mut pools: BTreeMap<_, Pool<N>> = BTreeMap::new();
        for (water, exposure) in exposures.iter().filter(|(_, exposure)| *exposure > 0.0) {
            let pool = pools.entry(kind(water)).or_insert_with(|| Pool {
                waters: Vec::new(),
                cumulative: Vec::new(),
                events: 0,
            });
            pool.cumulative.push(pool.cumulative.last().unwrap_or(&0.0) + exposure);
            pool.waters.push(*water);
        }
        for event in events {
            if let Some(pool) = pools.get_mut(&kind(event)) {
                pool.events += 1;
            }
        }
        Self(pools)
    }

    fn events_in_pools<'a>(&self, events: &'a [Water<N>]) -> impl Iterator<Item = &'a Water<N>> {
        events.iter().filter(|event| self.0.contains_key(&kind(event)))
    }

    /// Events to be expected in each bin of each factor, and whether it has any exposure.
    fn expected(&self, n_bins: [usize; N]) -> [Vec<f64>; N] {
        let mut expected = n_bins.map(|n| vec![0.0; n]);
        for pool in self.0.values() {
            let total = pool.total();
            let mut before = 0.0;
            for (water, &cumulative) in pool.waters.iter().zip(&pool.cumulative) {
                let share = (cumulative - before) / total;
                before = cumulative;
                for (expected, bin) in expected.iter_mut().zip(water.bins) {
                    if let Some(bin) = bin {
                        expected[bin] += share * pool.events as f64;
                    }
                }
            }
        }
        expected
    }

    fn draw(&self, random: &mut ChaCha8Rng, mut each: impl FnMut(&Water<N>)) {
        for pool in self.0.values() {
            let total = pool.total();
            for _ in 0..pool.events {
                let place = total * random.random::<f64>();
                let index = pool.cumulative.partition_point(|&cumulative| cumulative <= place);
                each(&pool.waters[index.min(pool.waters.len() - 1)]);
            }
        }
    }
}

impl<const N: usize> Pool<N> {
    fn total(&self) -> f64 {
        self.cumulative.last().copied().unwrap_or_default()
    }
}

/// Neighbouring bins and what is expected in them.
struct Window {
    bins: Range<usize>,
    expected: f64,
    ln_expected: f64,
    ln_rest: f64,
}

/// All bands of one factor.
struct Search {
    windows: Vec<Window>,
    total: usize,
    /// `n ln n` for every count that can occur.
    entropy: Vec<f64>,
}

impl Search {
    /// `None` where there is nothing to compare.
    fn new(expected: &[f64], share_max: f64) -> Option<Self> {
        let sum: f64 = expected.iter().sum();
        let total = sum.round() as usize;
        if total == 0 || expected.iter().filter(|&&e| e > 0.0).count() < 2 {
            return None;
        }
        let entropy = (0..=total).map(|n| if n == 0 { 0.0 } else { n as f64 * (n as f64).ln() }).collect();
        Some(Self { windows: windows(expected, sum, share_max), total, entropy })
    }

    /// The strongest band: its log-likelihood ratio and its index; 0 where no band has more than is expected.
    fn strongest(&self, counts: &[u64]) -> (f64, usize) {
        let mut before = vec![0; counts.len() + 1];
        for (i, count) in counts.iter().enumerate() {
            before[i + 1] = before[i] + count;
        }
        let mut best = (0.0, 0);
        for (index, window) in self.windows.iter().enumerate() {
            let inside = (before[window.bins.end] - before[window.bins.start]) as usize;
            let outside = self.total - inside;
            if inside as f64 > window.expected {
                let ratio = self.entropy[inside] + self.entropy[outside]
                    - inside as f64 * window.ln_expected
                    - outside as f64 * window.ln_rest;
                if ratio > best.0 {
                    best = (ratio, index);
                }
            }
        }
        best
    }
}

/// All bands from a bin with exposure to a bin with exposure that hold no more than the share.
fn windows(expected: &[f64], total: f64, share_max: f64) -> Vec<Window> {
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
                windows.push(Window {
                    bins: start..end + 1,
                    expected: inside,
                    ln_expected: inside.ln(),
                    ln_rest: (total - inside).ln(),
                });
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
