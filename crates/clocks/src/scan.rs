//! Which lags are worth a closer look? All of them at once, by FFT.

use std::sync::Arc;

use realfft::num_complex::Complex;
use realfft::{ComplexToReal, RealFftPlanner, RealToComplex};

use crate::blocks::{Block, MOST, Part, dot, explained, orthonormal, take_off};
use crate::curve::Curve;
use crate::reference::{Reference, Series};
use crate::{Sample, Settings};

/// Step of the scan, s: a front of 30 m is crossed in as many seconds at trolling speed, a turn takes longer.
pub(crate) const STEP_S: f64 = 8.0;
/// Share of a block's cells that the boat's record must cover at a lag.
const COVERED: f64 = 0.85;
/// Cells of noise that count as one: residuals of neighbours are alike. The fine look measures it.
const CELLS_AN_OBSERVATION: f64 = 2.0;
/// Most that one block counts against a lag, as a difference of log-likelihoods. What the regression does not know of (a
/// thermocline that comes up, a wake) then cannot outvote the others.
const LOUDEST: f64 = 15.0;

/// Log-likelihoods over all lags.
pub(crate) struct Scan {
    /// First offset, s.
    pub first_s: f64,
    /// Of each block.
    pub blocks: Vec<Curve>,
    /// Of each block without the boat's record.
    null: Vec<f64>,
    /// Effective observations that each block was counted with.
    pub n: Vec<f64>,
    /// Lags at which the segment can lie at all.
    pub allowed: Vec<bool>,
}

struct Fft {
    size: usize,
    forward: Arc<dyn RealToComplex<f64>>,
    inverse: Arc<dyn ComplexToReal<f64>>,
}

type Spectrum = Vec<Complex<f64>>;

impl Fft {
    /// For so many values at least: the next number that is a power of two or three times one.
    fn new(least: usize) -> Self {
        let size = least.next_power_of_two();
        let size = if 3 * size / 4 >= least && size >= 8 { 3 * size / 4 } else { size };
        let mut planner = RealFftPlanner::new();
        Self { size, forward: planner.plan_fft_forward(size), inverse: planner.plan_fft_inverse(size) }
    }

    fn spectrum(&self, values: impl Iterator<Item = f64>) -> Spectrum {
        let mut padded: Vec<f64> = values.take(self.size).collect();
        padded.resize(self.size, 0.0);
        let mut spectrum = self.forward.make_output_vec();
        self.forward.process(&mut padded, &mut spectrum).expect("buffers have the size of the plan");
        spectrum
    }

    /// Sum of `a[j] b[j + lag]` for all lags, the negative ones at the end.
    fn correlation(&self, a: &Spectrum, b: &Spectrum) -> Vec<f64> {
        let mut product: Spectrum = a.iter().zip(b).map(|(a, b)| a.conj() * b).collect();
        let mut values = self.inverse.make_output_vec();
        self.inverse.process(&mut product, &mut values).expect("buffers have the size of the plan");
        let scale = 1.0 / self.size as f64;
        for value in &mut values {
            *value *= scale;
        }
        values
    }
}

/// The boat's series on cells of the scan, about its mean.
struct Cells {
    values: Vec<f64>,
    known: Vec<f64>,
}

impl Cells {
    fn of(series: &Series, keep_level: bool) -> Self {
        let width = STEP_S as usize;
        let chunks = || series.smooth.chunks(width).zip(series.known.chunks(width));
        let mean = |values: &[f64]| values.iter().sum::<f64>() / values.len() as f64;
        let mut values: Vec<f64> = chunks().map(|(values, _)| mean(values)).collect();
        let known: Vec<f64> = chunks()
            .map(|(_, known)| f64::from(u8::from(2 * known.iter().filter(|k| **k).count() >= known.len())))
            .collect();
        if !keep_level {
            let level = dot(&values, &known) / known.iter().sum::<f64>().max(1.0);
            for value in &mut values {
                *value -= level;
            }
        }
        Self { values, known }
    }
}

/// The boat's series of one kind of evidence, transformed once for all blocks.
struct Record {
    known: Spectrum,
    x: Vec<Spectrum>,
    /// Products of the series with each other, each of [`pairs`].
    products: Vec<Spectrum>,
}

impl Record {
    fn new(part: Part, reference: &Reference, fft: &Fft) -> Self {
        let x: Vec<Cells> =
            part.regressors(reference).into_iter().map(|s| Cells::of(s, part.is_same())).collect();
        let product =
            |(i, j): (usize, usize)| fft.spectrum(x[i].values.iter().zip(&x[j].values).map(|(a, b)| a * b));
        Self {
            known: fft.spectrum(x[0].known.iter().copied()),
            products: pairs(x.len()).map(product).collect(),
            x: x.iter().map(|x| fft.spectrum(x.values.iter().copied())).collect(),
        }
    }
}

/// Looks at all lags of a segment.
pub(crate) fn scan(segment: &[Sample], blocks: &[Block], reference: &Reference, settings: &Settings) -> Scan {
    let start_s = segment.iter().map(|sample| sample.time_s).fold(f64::INFINITY, f64::min);
    let cell = |time_s: f64| ((time_s - start_s) / STEP_S) as usize;
    let n_own = 1 + segment.iter().map(|sample| cell(sample.time_s)).max().unwrap_or(0);
    let n_boat = reference.len().div_ceil(STEP_S as usize);
    // lags from -(n_own - 1) to n_boat - 1
    let n_lags = n_own + n_boat - 1;
    // cells of the boat count from their middle, and so do cells of the log
    let first_s = reference.start_s - start_s - (n_own - 1) as f64 * STEP_S;
    let curve = |values| Curve { first_s, step_s: STEP_S, values };

    let mut scan = Scan { first_s, blocks: Vec::new(), null: Vec::new(), n: Vec::new(), allowed: Vec::new() };
    let fits = allowed(segment, cell, n_own, reference, &Fft::new(n_own + n_boat), settings);
    scan.allowed = (0..n_lags).map(|lag| fits[(lag + fits.len() + 1 - n_own) % fits.len()]).collect();
    // a block is short beside the boat's record
    let n_block = |block: &Block| {
        let (first, last) = block.ends(cell);
        last + 1 - first
    };
    let fft = Fft::new(n_boat + blocks.iter().map(n_block).max().unwrap_or(0));
    // the boat's series of a kind of evidence are transformed once for all blocks
    let mut records: Vec<(Part, Record)> = Vec::new();
    for block in blocks {
        let at = records.iter().position(|(part, _)| *part == block.part).unwrap_or_else(|| {
            records.push((block.part, Record::new(block.part, reference, &fft)));
            records.len() - 1
        });
        let lags = Lags { n_own, n_boat, allowed: &scan.allowed };
        let (values, null, n) = of_block(block, cell, &lags, &records[at].1, &fft);
        scan.null.push(null);
        scan.blocks.push(curve(values));
        scan.n.push(n);
    }
    scan
}

/// The lags of a scan, from the first cell of the log on the last of the boat's to the last on the first.
struct Lags<'a> {
    n_own: usize,
    n_boat: usize,
    allowed: &'a [bool],
}

/// For every lag whether the samples fall on positions of the boat and not on runs, in the order of the FFT.
fn allowed(
    segment: &[Sample],
    cell: impl Fn(f64) -> usize,
    n_own: usize,
    reference: &Reference,
    fft: &Fft,
    settings: &Settings,
) -> Vec<bool> {
    let mut wet = vec![0.0; n_own];
    for sample in segment {
        wet[cell(sample.time_s)] = 1.0;
    }
    let whole: f64 = wet.iter().sum();
    let width = STEP_S as usize;
    let cells = |is: &dyn Fn(usize) -> bool| -> Vec<f64> {
        let n = reference.len();
        (0..n.div_ceil(width)).map(|c| f64::from(u8::from(is((c * width + width / 2).min(n - 1))))).collect()
    };
    let has_place = reference.place[0].known.iter().any(|known| *known);
    let covered = cells(&|second| {
        if has_place { reference.place[0].known[second] } else { reference.speed[0].known[second] }
    });
    let runs = cells(&|second| reference.sog_mps(second).is_some_and(|sog| sog > settings.run_mps));
    let wet = fft.spectrum(wet.into_iter());
    let on_track = fft.correlation(&wet, &fft.spectrum(covered.into_iter()));
    let on_run = fft.correlation(&wet, &fft.spectrum(runs.into_iter()));
    let fits = |(track, run): (&f64, &f64)| {
        *track >= settings.covered_share * whole && *run <= settings.run_share * whole
    };
    on_track.iter().zip(&on_run).map(fits).collect()
}

/// Log-likelihood of a block at every lag, and its effective observations.
fn of_block(
    block: &Block,
    cell: impl Fn(f64) -> usize,
    lags: &Lags,
    record: &Record,
    fft: &Fft,
) -> (Vec<f64>, f64, f64) {
    let (first, last) = block.ends(&cell);
    let mut sums = vec![0.0; last + 1 - first];
    let mut counts = vec![0.0_f64; last + 1 - first];
    let cells: Vec<usize> = block.time_s.iter().map(|&t| cell(t) - first).collect();
    let mean = |values: &[f64], sums: &mut Vec<f64>, counts: &[f64]| {
        sums.fill(0.0);
        cells.iter().zip(values).for_each(|(&c, value)| sums[c] += value);
        let means: Vec<f64> =
            sums.iter().zip(counts).map(|(sum, n)| if *n > 0.0 { sum / n } else { 0.0 }).collect();
        means
    };
    for &c in &cells {
        counts[c] += 1.0;
    }
    let mut y = mean(&block.y, &mut sums, &counts);
    let columns: Vec<Vec<f64>> = block.nuisance.iter().map(|c| mean(c, &mut sums, &counts)).collect();
    let basis = orthonormal(&columns);
    for q in &basis {
        take_off(&mut y, q);
    }
    let here: Vec<f64> = counts.iter().map(|n| f64::from(u8::from(*n > 0.0))).collect();
    let n_cells: f64 = here.iter().sum();

    let same = block.part.is_same();
    let k = record.x.len();
    let y_spectrum = fft.spectrum(y.iter().copied());
    let here_spectrum = fft.spectrum(here.iter().copied());
    let covered = fft.correlation(&here_spectrum, &record.known);
    let a: Vec<Vec<f64>> = record.x.iter().map(|x| fft.correlation(&y_spectrum, x)).collect();
    let g: Vec<Vec<f64>> = record.products.iter().map(|x| fft.correlation(&here_spectrum, x)).collect();
    let along: Vec<Vec<f64>> = basis
        .iter()
        .map(|q| fft.spectrum(q.iter().copied()))
        .flat_map(|q| record.x.iter().map(move |x| fft.correlation(&q, x)))
        .collect();

    let n = ((n_cells - basis.len() as f64 - k as f64) / CELLS_AN_OBSERVATION).max(1.0);
    let whole = dot(&y, &y);
    let floor = n_cells * block.part.floor().powi(2);
    let log_likelihood = |rss: f64| -0.5 * n * (rss + floor).ln();
    let uncovered = log_likelihood(if same { f64::MAX } else { whole });
    let at_lag = |lag: usize| {
        // on which cell of the boat's the first of the block lies; from the last of its own on it lies beside the record
        let on = first as i64 + lag as i64 - (lags.n_own as i64 - 1);
        if !lags.allowed[lag] || on < first as i64 - last as i64 || on >= lags.n_boat as i64 {
            return uncovered;
        }
        let lag = on.rem_euclid(fft.size as i64) as usize;
        if covered[lag] < COVERED * n_cells {
            return uncovered;
        }
        if same {
            return log_likelihood((whole - 2.0 * a[0][lag] + g[0][lag]).max(0.0));
        }
        let (mut a_here, mut g_here) = ([0.0; MOST], [0.0; MOST * MOST]);
        a_here.iter_mut().zip(&a).for_each(|(here, a)| *here = a[lag]);
        for (ij, (i, j)) in pairs(k).enumerate() {
            let along = along.chunks(k).map(|q| q[i][lag] * q[j][lag]);
            g_here[i * k + j] = along.fold(g[ij][lag], |g, along| g - along);
            g_here[j * k + i] = g_here[i * k + j];
        }
        log_likelihood((whole - explained(&a_here[..k], &g_here[..k * k])).max(0.0))
    };
    ((0..lags.allowed.len()).map(at_lag).collect(), log_likelihood(whole), n)
}

/// Each pair of `k` regressors once.
fn pairs(k: usize) -> impl Iterator<Item = (usize, usize)> {
    (0..k).flat_map(move |i| (i..k).map(move |j| (i, j)))
}

impl Scan {
    /// The log-likelihood of some blocks, each counted as its share of `n` observations. No block speaks against a lag more
    /// than [`LOUDEST`].
    pub fn total(&self, n: &[f64], is_one: impl Fn(usize) -> bool) -> Curve {
        let mut values = vec![0.0; self.allowed.len()];
        for (at, block) in self.blocks.iter().enumerate().filter(|(at, _)| is_one(*at)) {
            let weight = n[at] / self.n[at];
            let highest = block.values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
            values
                .iter_mut()
                .zip(&block.values)
                .for_each(|(sum, value)| *sum += (weight * (value - highest)).max(-LOUDEST));
        }
        Curve { first_s: self.first_s, step_s: STEP_S, values }
    }

    /// The cell of an offset.
    pub fn cell(&self, offset_s: f64) -> usize {
        ((offset_s - self.first_s) / STEP_S).round().max(0.0) as usize
    }

    /// How much more likely the log is at the scan's lag nearest to an offset than without the boat's record.
    pub fn gain(&self, n: &[f64], offset_s: f64) -> f64 {
        let at = self.cell(offset_s);
        let of = |(block, null, weight): (&Curve, &f64, f64)| {
            weight * (block.values.get(at).copied().unwrap_or(*null) - null)
        };
        let weights = n.iter().zip(&self.n).map(|(n, counted)| n / counted);
        self.blocks.iter().zip(&self.null).zip(weights).map(|((b, null), w)| of((b, null, w))).sum()
    }
}

/// The gain that noise alone gives at one lag, mean and four standard deviations: half a chi-square with one degree
/// of freedom for each regressor of each block.
pub(crate) fn gain_by_chance(blocks: &[Block]) -> f64 {
    let freedom: f64 = blocks.iter().map(|block| block.part.n_regressors() as f64).sum();
    0.5 * freedom + 4.0 * (0.5 * freedom).sqrt()
}
