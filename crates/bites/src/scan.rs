//! Is there a band in which bites came oftener than elsewhere, or is that chance?

use std::ops::Range;

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

use crate::rates::Counted;

/// Settings of the scan.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ScanSettings {
    /// Largest share of the exposure that a band may hold. Half is Kulldorff's: a band with more is better
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
    /// Chance of a band that stands out as much, anywhere, where the rate is the same everywhere.
    pub p_value: f64,
}

/// The likeliest band of higher rate in bins of one factor, in their order.
///
/// M. Kulldorff, A spatial scan statistic, Communications in Statistics – Theory and Methods 26 (1997)
/// 1481–1496 (cited from memory): the Poisson model in one dimension, high rates only, conditional on the
/// number of events; the p-value by Monte Carlo, so that it holds for the search over all bands. Events in
/// bins without exposure take no part.
///
/// `None` where there is nothing to compare: fewer than two bins with exposure, or no event in them.
pub fn scan(bins: &[Counted], settings: &ScanSettings) -> Option<Cluster> {
    let exposures: Vec<f64> = bins.iter().map(|bin| bin.exposure.max(0.0)).collect();
    let counts: Vec<u64> = bins.iter().map(|bin| if bin.exposure > 0.0 { bin.count } else { 0 }).collect();
    let total: u64 = counts.iter().sum();
    if total == 0 || exposures.iter().filter(|&&e| e > 0.0).count() < 2 {
        return None;
    }
    let windows = windows(&exposures, settings.share_max);
    let terms = Terms::new(total);
    let (log_likelihood_ratio, best) = strongest(&counts, &windows, &terms);
    let cumulative = cumulative(&exposures);
    let mut random = ChaCha8Rng::seed_from_u64(settings.seed);
    let mut as_strong = 1;
    for _ in 0..settings.draws {
        let mut drawn = vec![0; bins.len()];
        for _ in 0..total {
            let place = random.random::<f64>();
            drawn[cumulative.partition_point(|&c| c <= place).min(bins.len() - 1)] += 1;
        }
        // equal strengths must not differ by rounding
        if strongest(&drawn, &windows, &terms).0 >= log_likelihood_ratio - 1e-9 {
            as_strong += 1;
        }
    }
    let p_value = f64::from(as_strong) / f64::from(settings.draws + 1);
    Some(Cluster { bins: windows.get(best)?.bins.clone(), log_likelihood_ratio, p_value })
}

/// Neighbouring bins and their share of the exposure.
struct Window {
    bins: Range<usize>,
    share: f64,
    ln_share: f64,
    ln_rest: f64,
}

/// All bands from a bin with exposure to a bin with exposure that hold no more than the share.
fn windows(exposures: &[f64], share_max: f64) -> Vec<Window> {
    let total: f64 = exposures.iter().sum();
    let mut windows = Vec::new();
    for start in (0..exposures.len()).filter(|&i| exposures[i] > 0.0) {
        let mut inside = 0.0;
        for (end, &exposure) in exposures.iter().enumerate().skip(start) {
            inside += exposure;
            let share = inside / total;
            // a lone bin is looked at even where it holds more, as long as something is outside
            if share > share_max && end > start || share >= 1.0 - 1e-12 {
                break;
            }
            if exposure > 0.0 {
                windows.push(Window {
                    bins: start..end + 1,
                    share,
                    ln_share: share.ln(),
                    ln_rest: (1.0 - share).ln(),
                });
            }
        }
    }
    windows
}

/// `n ln(n / total)` for every count that can occur.
struct Terms {
    total: f64,
    entropy: Vec<f64>,
}

impl Terms {
    fn new(total: u64) -> Self {
        let whole = total as f64;
        let term = |n: u64| if n == 0 { 0.0 } else { n as f64 * (n as f64 / whole).ln() };
        Self { total: whole, entropy: (0..=total).map(term).collect() }
    }
}

/// The strongest band: its log-likelihood ratio and its index; 0 where no band has more than its share.
fn strongest(counts: &[u64], windows: &[Window], terms: &Terms) -> (f64, usize) {
    let mut before = vec![0; counts.len() + 1];
    for (i, count) in counts.iter().enumerate() {
        before[i + 1] = before[i] + count;
    }
    let total = terms.entropy.len() - 1;
    let mut best = (0.0, 0);
    for (index, window) in windows.iter().enumerate() {
        let inside = (before[window.bins.end] - before[window.bins.start]) as usize;
        let count = inside as f64;
        if count > window.share * terms.total {
            let ratio = terms.entropy[inside] + terms.entropy[total - inside]
                - count * window.ln_share
                - (terms.total - count) * window.ln_rest;
            if ratio > best.0 {
                best = (ratio, index);
            }
        }
    }
    best
}

fn cumulative(exposures: &[f64]) -> Vec<f64> {
    let total: f64 = exposures.iter().sum();
    let mut sum = 0.0;
    exposures
        .iter()
        .map(|exposure| {
            sum += exposure;
            sum / total
        })
        .collect()
}
