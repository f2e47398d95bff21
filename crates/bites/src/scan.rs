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
    let [cluster] = Strata::new(&exposures, [bins.len()]).scan(&events, settings);
    cluster
}

/// The exposure of one stratum.
struct Stratum<const N: usize> {
    waters: Vec<Water<N>>,
    /// Exposure up to and with each.
    cumulative: Vec<f64>,
    /// Share of each bin in the exposure in which a factor is known.
    shares: [Vec<f64>; N],
    /// For each of as many parts of the exposure as there are waters: the first water that reaches beyond its beginning.
    guide: Vec<usize>,
}

impl<const N: usize> Stratum<N> {
    fn total(&self) -> f64 {
        self.cumulative.last().copied().unwrap_or_default()
    }

    /// The water at a place in the exposure: the first that reaches beyond it.
    fn at(&self, place: f64) -> usize {
        let last = self.waters.len() - 1;
        let mut index = self.guide[((place * self.parts_per_exposure()) as usize).min(last)];
        // the part of a place may be told wrongly by rounding
        while index > 0 && self.cumulative[index - 1] > place {
            index -= 1;
        }
        while index < last && self.cumulative[index] <= place {
            index += 1;
        }
        index
    }

    fn parts_per_exposure(&self) -> f64 {
        self.waters.len() as f64 / self.total()
    }

    fn make_guide(&mut self) {
        let part = self.parts_per_exposure().recip();
        let mut index = 0;
        for k in 0..self.waters.len() {
            while index + 1 < self.waters.len() && self.cumulative[index] <= k as f64 * part {
                index += 1;
            }
            self.guide.push(index);
        }
    }
}

/// All exposure, in which events are looked at.
pub(crate) struct Strata<const N: usize> {
    /// In order of their numbers.
    all: Vec<Stratum<N>>,
    place: BTreeMap<usize, usize>,
    n_bins: [usize; N],
}

impl<const N: usize> Strata<N> {
    /// Exposures whose bins are below a number for each factor.
    pub fn new(exposures: &[(Water<N>, f64)], n_bins: [usize; N]) -> Self {
        let mut strata: BTreeMap<usize, Stratum<N>> = BTreeMap::new();
        for (water, exposure) in exposures.iter().filter(|(_, exposure)| *exposure > 0.0) {
            let stratum = strata.entry(water.stratum).or_insert_with(|| Stratum {
                waters: Vec::new(),
                cumulative: Vec::new(),
                shares: n_bins.map(|n| vec![0.0; n]),
                guide: Vec::new(),
            });
            stratum.cumulative.push(stratum.total() + exposure);
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
        strata.values_mut().for_each(Stratum::make_guide);
        let place = strata.keys().enumerate().map(|(place, &stratum)| (stratum, place)).collect();
        Self { all: strata.into_values().collect(), place, n_bins }
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
    pub fn scan(&self, events: &[Water<N>], settings: &ScanSettings) -> [Option<Cluster>; N] {
        let mut events_of = vec![0; self.all.len()];
        let mut seen = Seen::new(self);
        for event in events {
            if let Some(&stratum) = self.place.get(&event.stratum) {
                events_of[stratum] += 1;
                seen.add(self, stratum, event);
            }
        }
        let entropy: Vec<f64> =
            (0..=events.len()).map(|n| if n == 0 { 0.0 } else { n as f64 * (n as f64).ln() }).collect();
        let expected: [Vec<f64>; N] = std::array::from_fn(|f| self.expected(f, &seen.known[f]));
        let searches: [Option<Search>; N] = std::array::from_fn(|f| {
            let steady = self.steady_shares(f, &events_of);
            Search::new(&expected[f], steady.as_deref(), settings.share_max)
        });
        let best: [(f64, usize); N] = std::array::from_fn(|f| {
            let search = searches[f].as_ref();
            search.map_or((0.0, 0), |search| search.strongest(&seen.counts[f], &expected[f], &entropy))
        });
        let drawn = self.draws(&events_of, settings);
        // of every factor the first is what was observed
        let strengths: [Vec<f64>; N] = std::array::from_fn(|f| {
            let mut strengths = vec![best[f].0];
            if let Some(search) = &searches[f] {
                self.strengths(f, search, &drawn, &events_of, &entropy, &mut strengths);
            }
            strengths
        });
        let looked_at: Vec<usize> = (0..N).filter(|&f| searches[f].is_some()).collect();
        let (p_values, of_all) = p_values(&strengths, &looked_at);
        std::array::from_fn(|f| {
            let search = searches[f].as_ref()?;
            Some(Cluster {
                bins: search.windows.get(best[f].1)?.clone(),
                log_likelihood_ratio: best[f].0,
                p_value: p_values[f],
                p_value_of_all: of_all[f],
            })
        })
    }

    /// The waters of the events of all draws, by their places in all exposure.
    fn draws(&self, events_of: &[usize], settings: &ScanSettings) -> Vec<usize> {
        let mut random = ChaCha8Rng::seed_from_u64(settings.seed);
        let mut drawn = Vec::with_capacity(settings.draws as usize * events_of.iter().sum::<usize>());
        for _ in 0..settings.draws {
            let mut first = 0;
            for (stratum, &events) in self.all.iter().zip(events_of) {
                let total = stratum.total();
                drawn.extend((0..events).map(|_| first + stratum.at(total * random.random::<f64>())));
                first += stratum.waters.len();
            }
        }
        drawn
    }

    /// Adds the strength of the strongest band of each draw.
    fn strengths(
        &self,
        factor: usize,
        search: &Search,
        drawn: &[usize],
        events_of: &[usize],
        entropy: &[f64],
        strengths: &mut Vec<f64>,
    ) {
        let n = self.n_bins[factor];
        // one bin more for events of which the factor is not known
        let bin_of: Vec<usize> = self
            .all
            .iter()
            .flat_map(|stratum| stratum.waters.iter().map(|water| water.bins[factor].unwrap_or(n)))
            .collect();
        let mut counts = vec![0; n + 1];
        let mut occupied = Vec::new();
        for draw in drawn.chunks(events_of.iter().sum::<usize>().max(1)) {
            counts.fill(0);
            for &water in draw {
                counts[bin_of[water]] += 1;
            }
            if let Some(steady) = &search.steady {
                strengths.push(steady.strongest(&counts[..n], entropy, &mut occupied));
                continue;
            }
            let mut rest = draw;
            let is_known = |water: &&usize| bin_of[**water] < n;
            let known: Vec<usize> = events_of
                .iter()
                .map(|&events| {
                    let (own, behind) = rest.split_at(events);
                    rest = behind;
                    own.iter().filter(is_known).count()
                })
                .collect();
            strengths.push(search.strongest(&counts[..n], &self.expected(factor, &known), entropy).0);
        }
    }

    /// Events of a factor to be expected in each of its bins, of those of each stratum.
    fn expected(&self, factor: usize, events_of: &[usize]) -> Vec<f64> {
        let mut expected = vec![0.0; self.n_bins[factor]];
        for (stratum, &events) in self.all.iter().zip(events_of).filter(|(_, events)| **events > 0) {
            for (expected, share) in expected.iter_mut().zip(&stratum.shares[factor]) {
                *expected += events as f64 * share;
            }
        }
        expected
    }

    /// Share of each bin in what any draw expects, where that is the same for all draws: where a factor is known in one stratum
    /// alone, or in each in all of its exposure or in none.
    fn steady_shares(&self, factor: usize, events_of: &[usize]) -> Option<Vec<f64>> {
        let is_known = |water: &Water<N>| water.bins[factor].is_some();
        let with_events = self.all.iter().zip(events_of).filter(|(_, events)| **events > 0);
        let known: Vec<_> = with_events.filter(|(stratum, _)| stratum.waters.iter().any(is_known)).collect();
        if known.len() > 1 && !known.iter().all(|(stratum, _)| stratum.waters.iter().all(is_known)) {
            return None;
        }
        let all: usize = known.iter().map(|(_, events)| *events).sum();
        let mut shares = vec![0.0; self.n_bins[factor]];
        for (stratum, &events) in known {
            for (share, own) in shares.iter_mut().zip(&stratum.shares[factor]) {
                *share += events as f64 / all as f64 * own;
            }
        }
        Some(shares)
    }
}

/// What was observed of each factor: events in each bin, and in each stratum.
struct Seen<const N: usize> {
    counts: [Vec<u32>; N],
    known: [Vec<usize>; N],
}

impl<const N: usize> Seen<N> {
    fn new(strata: &Strata<N>) -> Self {
        Self {
            counts: strata.n_bins.map(|n| vec![0; n]),
            known: std::array::from_fn(|_| vec![0; strata.all.len()]),
        }
    }

    /// Counts an event wherever its stratum has exposure.
    fn add(&mut self, strata: &Strata<N>, stratum: usize, event: &Water<N>) {
        let shares = &strata.all[stratum].shares;
        for (f, bin) in event.bins.iter().enumerate() {
            if let Some(bin) = bin.filter(|&bin| shares[f][bin] > 0.0) {
                self.counts[f][bin] += 1;
                self.known[f][stratum] += 1;
            }
        }
    }
}

/// All bands of one factor.
struct Search {
    windows: Vec<Range<usize>>,
    steady: Option<Steady>,
}

impl Search {
    /// `None` where there is nothing to compare.
    fn new(expected: &[f64], steady_shares: Option<&[f64]>, share_max: f64) -> Option<Self> {
        let total: f64 = expected.iter().sum();
        if total == 0.0 || expected.iter().filter(|&&e| e > 0.0).count() < 2 {
            return None;
        }
        let windows = windows(expected, total, share_max);
        // bands begin and end in bins in which what was observed expects events; a draw must expect them nowhere else
        let same_bins =
            |shares: &&[f64]| shares.iter().zip(expected).all(|(share, e)| (*share > 0.0) == (*e > 0.0));
        let steady = steady_shares.filter(same_bins).map(|shares| Steady::new(shares, &windows));
        Some(Self { windows, steady })
    }

    /// The strongest band: its log-likelihood ratio and its index; 0 where no band has more than is expected.
    /// `entropy` is `n ln n` for every count that can occur.
    fn strongest(&self, counts: &[u32], expected: &[f64], entropy: &[f64]) -> (f64, usize) {
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
            let ratio = entropy[inside] + entropy[outside]
                - inside as f64 * expected.ln()
                - outside as f64 * rest.ln();
            if ratio > best.0 {
                best = (ratio, index);
            }
        }
        best
    }
}

/// The bands of a factor of which every draw expects the same share of its events.
struct Steady {
    n_bins: usize,
    /// Of the band from each bin to each, row by row.
    bands: Vec<SteadyBand>,
}

#[derive(Clone, Copy)]
struct SteadyBand {
    /// Share of the events to be expected in it; more than all where it is no band.
    share: f64,
    ln_share: f64,
    ln_rest: f64,
}

/// A bin in which a draw has events: its number, and the events up to it, without and with it.
#[derive(Clone, Copy)]
struct Occupied {
    bin: usize,
    before: u32,
    with: u32,
}

impl Steady {
    fn new(shares: &[f64], windows: &[Range<usize>]) -> Self {
        let n_bins = shares.len();
        let mut up_to = vec![0.0];
        up_to.extend(shares.iter().scan(0.0, |sum, share| {
            *sum += share;
            Some(*sum)
        }));
        let all = up_to[n_bins];
        let mut bands =
            vec![SteadyBand { share: f64::INFINITY, ln_share: 0.0, ln_rest: 0.0 }; n_bins * n_bins];
        for window in windows {
            let share = (up_to[window.end] - up_to[window.start]) / all;
            if 1.0 - share > 1e-9 {
                bands[window.start * n_bins + window.end - 1] =
                    SteadyBand { share, ln_share: share.ln(), ln_rest: (1.0 - share).ln() };
            }
        }
        Self { n_bins, bands }
    }

    /// The log-likelihood ratio of the strongest band of a draw. It begins and ends in bins with events: a narrower band with as many is
    /// stronger.
    fn strongest(&self, counts: &[u32], entropy: &[f64], occupied: &mut Vec<Occupied>) -> f64 {
        occupied.clear();
        let mut total = 0;
        for (bin, &count) in counts.iter().enumerate() {
            if count > 0 {
                occupied.push(Occupied { bin, before: total, with: total + count });
                total += count;
            }
        }
        let total = total as usize;
        let mut best: f64 = 0.0;
        for (at, first) in occupied.iter().enumerate() {
            let from_here = &self.bands[first.bin * self.n_bins..][..self.n_bins];
            for last in &occupied[at..] {
                let inside = (last.with - first.before) as usize;
                let SteadyBand { share, ln_share, ln_rest } = from_here[last.bin];
                let (n, outside) = (inside as f64, total - inside);
                let ratio = entropy[inside] + entropy[outside] - n * ln_share - outside as f64 * ln_rest;
                if n > total as f64 * share && ratio > best {
                    best = ratio;
                }
            }
        }
        // so far of shares: as if one event were to be expected
        if best > 0.0 { best - entropy[total] } else { 0.0 }
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

/// P-values of what was observed (the first of each factor), alone and adjusted for the factors that were looked at.
///
/// The p-value of a draw is the share of draws that are as strong.
fn p_values<const N: usize>(strengths: &[Vec<f64>; N], looked_at: &[usize]) -> ([f64; N], [f64; N]) {
    let falling: [Vec<f64>; N] = std::array::from_fn(|f| {
        let mut falling = strengths[f].clone();
        falling.sort_unstable_by(|a, b| b.total_cmp(a));
        falling
    });
    let p_value = |factor: usize, strength: f64| {
        // equal strengths must not differ by rounding
        let as_strong = falling[factor].partition_point(|&other| other >= strength - 1e-9);
        as_strong as f64 / falling[factor].len() as f64
    };
    let mut observed = [1.0; N];
    for &factor in looked_at {
        observed[factor] = p_value(factor, strengths[factor][0]);
    }
    let mut order = looked_at.to_vec();
    order.sort_by(|&a, &b| observed[a].total_cmp(&observed[b]).then(a.cmp(&b)));
    let mut adjusted = [1.0; N];
    let mut least: f64 = 0.0;
    for (rank, &factor) in order.iter().enumerate() {
        // the least strength of each factor at which its p-value is as small
        let limits = order[rank..].iter().map(|&other| {
            let of_other = &falling[other];
            let as_small =
                of_other.partition_point(|&strength| p_value(other, strength) <= observed[factor] + 1e-12);
            (other, as_small.checked_sub(1).map_or(f64::INFINITY, |last| of_other[last]))
        });
        let limits: Vec<(usize, f64)> = limits.collect();
        let draws = strengths[factor].len();
        let is_as_small =
            |draw: &usize| limits.iter().any(|&(other, limit)| strengths[other][*draw] >= limit);
        least = least.max((0..draws).filter(is_as_small).count() as f64 / draws as f64);
        adjusted[factor] = least;
    }
    (observed, adjusted)
}
