//! Which lags are worth a closer look? All of them at once, by FFT.

use std::ops::Range;
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
    /// Memory that is used again.
    padded: Vec<f64>,
    product: Spectrum,
    scratch: Spectrum,
}

type Spectrum = Vec<Complex<f64>>;

impl Fft {
    /// For so many values at least: the next number that is a power of two or three times one.
    fn new(least: usize) -> Self {
        let size = least.next_power_of_two();
        let size = if 3 * size / 4 >= least && size >= 8 { 3 * size / 4 } else { size };
        let mut planner = RealFftPlanner::new();
        let (forward, inverse) = (planner.plan_fft_forward(size), planner.plan_fft_inverse(size));
        let scratch = forward.get_scratch_len().max(inverse.get_scratch_len());
        let scratch = vec![Complex::default(); scratch];
        Self { size, forward, inverse, padded: Vec::new(), product: Vec::new(), scratch }
    }

    fn spectrum(&mut self, values: impl Iterator<Item = f64>) -> Spectrum {
        self.padded.clear();
        self.padded.extend(values.take(self.size));
        self.padded.resize(self.size, 0.0);
        let mut spectrum = self.forward.make_output_vec();
        let scratch = &mut self.scratch[..self.forward.get_scratch_len()];
        self.forward
            .process_with_scratch(&mut self.padded, &mut spectrum, scratch)
            .expect("buffers have the size of the plan");
        spectrum
    }

    /// The same, ready to be correlated with: a transform there and back multiplies by its size.
    fn scaled_spectrum(&mut self, values: impl Iterator<Item = f64>) -> Spectrum {
        let scale = 1.0 / self.size as f64;
        self.spectrum(values.map(|value| value * scale))
    }

    /// Sum of `a[j] b[j + lag]` for all lags, the negative ones at the end; `b` is scaled.
    fn correlation(&mut self, a: &Spectrum, b: &Spectrum) -> Vec<f64> {
        self.product.clear();
        self.product.extend(a.iter().zip(b).map(|(a, b)| a.conj() * b));
        let mut values = self.inverse.make_output_vec();
        let scratch = &mut self.scratch[..self.inverse.get_scratch_len()];
        self.inverse
            .process_with_scratch(&mut self.product, &mut values, scratch)
            .expect("buffers have the size of the plan");
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

/// The boat's series of one kind of evidence, made ready once for all blocks.
struct Record {
    /// Transformed.
    x: Vec<Spectrum>,
    /// Sums of the series.
    sums: Vec<Sums>,
    /// Sums of their products with each other, each of [`pairs`].
    products: Vec<Sums>,
    /// Sums of the cells that are known.
    known: Sums,
}

impl Record {
    fn new(part: Part, reference: &Reference, fft: &mut Fft) -> Self {
        let x: Vec<Cells> =
            part.regressors(reference).into_iter().map(|s| Cells::of(s, part.is_same())).collect();
        let product = |(i, j): (usize, usize)| {
            let (a, b): (&Cells, &Cells) = (&x[i], &x[j]);
            Sums::of(a.values.iter().zip(&b.values).map(|(a, b)| a * b))
        };
        Self {
            sums: x.iter().map(|x| Sums::of(x.values.iter().copied())).collect(),
            products: pairs(x.len()).map(product).collect(),
            known: Sums::of(x[0].known.iter().copied()),
            x: x.iter().map(|x| fft.scaled_spectrum(x.values.iter().copied())).collect(),
        }
    }
}

/// Sums of cells up to each, without it, and of all.
struct Sums(Vec<f64>);

impl Sums {
    fn of(values: impl Iterator<Item = f64>) -> Self {
        let mut sum = 0.0;
        let mut sums = vec![0.0];
        sums.extend(values.map(|value| {
            sum += value;
            sum
        }));
        Self(sums)
    }

    /// The sum of runs of cells, the first of which lie so many cells further on; beyond the ends there is nothing.
    fn within(&self, runs: &[Range<usize>], on: i64) -> f64 {
        let before = |cell: usize| self.0[(cell as i64 + on).clamp(0, self.0.len() as i64 - 1) as usize];
        runs.iter().map(|run| before(run.end) - before(run.start)).sum()
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
    scan.allowed = allowed(segment, cell, n_own, n_lags, reference, settings);
    // a block is short beside the boat's record
    let n_block = |block: &Block| {
        let (first, last) = block.ends(cell);
        last + 1 - first
    };
    let mut fft = Fft::new(n_boat + blocks.iter().map(n_block).max().unwrap_or(0));
    // the boat's series of a kind of evidence are transformed once for all blocks
    let mut records: Vec<(Part, Record)> = Vec::new();
    for block in blocks {
        let at = records.iter().position(|(part, _)| *part == block.part).unwrap_or_else(|| {
            records.push((block.part, Record::new(block.part, reference, &mut fft)));
            records.len() - 1
        });
        let lags = Lags { n_own, allowed: &scan.allowed };
        let (values, null, n) = of_block(block, cell, &lags, &records[at].1, &mut fft);
        scan.null.push(null);
        scan.blocks.push(curve(values));
        scan.n.push(n);
    }
    scan
}

/// The lags of a scan, from the first cell of the log on the last of the boat's to the last on the first.
struct Lags<'a> {
    n_own: usize,
    allowed: &'a [bool],
}

/// For every lag whether the samples fall on positions of the boat and not on runs.
fn allowed(
    segment: &[Sample],
    cell: impl Fn(f64) -> usize,
    n_own: usize,
    n_lags: usize,
    reference: &Reference,
    settings: &Settings,
) -> Vec<bool> {
    let mut counts = vec![0.0; n_own];
    for sample in segment {
        counts[cell(sample.time_s)] += 1.0;
    }
    let wet = runs(&counts);
    let whole: f64 = wet.iter().map(|run| run.len() as f64).sum();
    let width = STEP_S as usize;
    let sums = |is: &dyn Fn(usize) -> bool| {
        let n = reference.len();
        let cells = (0..n.div_ceil(width)).map(|c| is((c * width + width / 2).min(n - 1)));
        Sums::of(cells.map(|is| f64::from(u8::from(is))))
    };
    let has_place = reference.place[0].known.iter().any(|known| *known);
    let covered = sums(&|second| {
        if has_place { reference.place[0].known[second] } else { reference.speed[0].known[second] }
    });
    let fast = sums(&|second| reference.sog_mps(second).is_some_and(|sog| sog > settings.run_mps));
    let fits = |lag: usize| {
        let on = lag as i64 - (n_own as i64 - 1);
        covered.within(&wet, on) >= settings.covered_share * whole
            && fast.within(&wet, on) <= settings.run_share * whole
    };
    (0..n_lags).map(fits).collect()
}

/// Cells with samples, next to one another.
fn runs(counts: &[f64]) -> Vec<Range<usize>> {
    let mut from = 0;
    let alike = counts.chunk_by(|a, b| (*a > 0.0) == (*b > 0.0));
    let ranges = alike.map(|run| {
        from += run.len();
        from - run.len()..from
    });
    ranges.filter(|run| counts[run.start] > 0.0).collect()
}

/// Log-likelihood of a block at every lag, and its effective observations.
fn of_block(
    block: &Block,
    cell: impl Fn(f64) -> usize,
    lags: &Lags,
    record: &Record,
    fft: &mut Fft,
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
    let runs = runs(&counts);
    let n_cells: f64 = runs.iter().map(|run| run.len() as f64).sum();

    let same = block.part.is_same();
    let k = record.x.len();
    let y_spectrum = fft.spectrum(y.iter().copied());
    let a: Vec<Vec<f64>> = record.x.iter().map(|x| fft.correlation(&y_spectrum, x)).collect();
    // along a level nothing is to be transformed
    let level_of = |q: &[f64]| {
        let level = q[runs[0].start];
        runs.iter().cloned().flatten().all(|cell| q[cell] == level).then_some(level)
    };
    let along: Vec<Along> = basis
        .iter()
        .map(|q| {
            level_of(q).map_or_else(
                || {
                    let q = fft.spectrum(q.iter().copied());
                    Along::Else(record.x.iter().map(|x| fft.correlation(&q, x)).collect())
                },
                Along::Level,
            )
        })
        .collect();

    let n = ((n_cells - basis.len() as f64 - k as f64) / CELLS_AN_OBSERVATION).max(1.0);
    let whole = dot(&y, &y);
    let floor = n_cells * block.part.floor().powi(2);
    let log_likelihood = |rss: f64| -0.5 * n * (rss + floor).ln();
    let uncovered = log_likelihood(if same { f64::MAX } else { whole });
    let pairs: Vec<(usize, usize)> = pairs(k).collect();
    let at_lag = |lag: usize| {
        // on which cell of the boat's the first of the block lies
        let on = first as i64 + lag as i64 - (lags.n_own as i64 - 1);
        if !lags.allowed[lag] || record.known.within(&runs, on) < COVERED * n_cells {
            return uncovered;
        }
        let lag = on.rem_euclid(fft.size as i64) as usize;
        if same {
            let square = record.products[0].within(&runs, on);
            return log_likelihood((whole - 2.0 * a[0][lag] + square).max(0.0));
        }
        let (mut a_here, mut g_here) = ([0.0; MOST], [0.0; MOST * MOST]);
        a_here.iter_mut().zip(&a).for_each(|(here, a)| *here = a[lag]);
        for (&(i, j), product) in pairs.iter().zip(&record.products) {
            g_here[i * k + j] = product.within(&runs, on);
        }
        for along in &along {
            let mut along_here = [0.0; MOST];
            for (i, here) in along_here[..k].iter_mut().enumerate() {
                *here = match along {
                    Along::Level(level) => level * record.sums[i].within(&runs, on),
                    Along::Else(products) => products[i][lag],
                };
            }
            for &(i, j) in &pairs {
                g_here[i * k + j] -= along_here[i] * along_here[j];
            }
        }
        for &(i, j) in &pairs {
            g_here[j * k + i] = g_here[i * k + j];
        }
        log_likelihood((whole - explained(&a_here[..k], &g_here[..k * k])).max(0.0))
    };
    ((0..lags.allowed.len()).map(at_lag).collect(), log_likelihood(whole), n)
}

/// How the boat's series lie along a part of the nuisance.
enum Along {
    /// Where that has one value in all cells: this.
    Level(f64),
    /// Products of that with each series at all lags, in the order of the FFT.
    Else(Vec<Vec<f64>>),
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
