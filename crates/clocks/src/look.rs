//! How likely is each second about a lag, by one stretch of the log?

use std::borrow::Cow;

use crate::blocks::{Block, MOST, Part, dot, explained, gains, orthonormal, take_off};
use crate::reference::{Reference, weighted};
use crate::shifted::{OFFSETS, Places, Shifted};

/// How far to either side of a lag the close look goes, s.
pub(crate) const REACH_S: usize = 48;
/// Samples this close to a silence of the boat's record are left out, s: there it is a guess.
const MARGIN_S: usize = 15;
/// Most weights of the filter that makes residuals white, and samples for each.
const ORDER_MAX: usize = 8;
const SAMPLES_A_WEIGHT: usize = 12;

/// Whether the boat's record has no silence close to each of some instants.
fn are_known(part: Part, reference: &Reference, times_s: impl Iterator<Item = f64> + Clone) -> Vec<bool> {
    let known = &part.regressors(reference)[0].known;
    let seconds = times_s.map(|time_s| (time_s - reference.start_s).max(0.0) as usize);
    // no early end, so that the machine looks at many of them at once
    let all = |from: usize, to: usize| known[from..to].iter().fold(true, |all, known| all & known);
    let about = |first: usize, last: usize| {
        let (from, to) = (first.saturating_sub(MARGIN_S), (last + MARGIN_S).min(known.len()));
        from < to && all(from, to)
    };
    // mostly there is none about all of them
    let (first, last) =
        seconds.clone().fold((usize::MAX, 0), |(f, l), second| (f.min(second), l.max(second)));
    if last < known.len() && about(first, last) {
        return seconds.map(|_| true).collect();
    }
    seconds.map(|second| about(second, second)).collect()
}

/// The filter that takes off a series what its past tells of it: one, and then the weights of the samples before (Yule &
/// Walker's equations by the recursion of Levinson and Durbin; Brockwell & Davis 1991, Time Series: Theory and Methods,
/// section 8.2).
fn whitening(residuals: &[f64]) -> Vec<f64> {
    let n = residuals.len();
    let order = ORDER_MAX.min(n / SAMPLES_A_WEIGHT);
    let covariance = |lag: usize| dot(&residuals[lag..], &residuals[..n - lag]);
    let mut filter = vec![1.0];
    let mut left = covariance(0);
    let mut covariances = vec![left];
    for lag in 1..=order {
        if left <= 0.0 {
            break;
        }
        covariances.push(covariance(lag));
        let told: f64 = filter.iter().zip(covariances.iter().rev()).map(|(weight, c)| weight * c).sum();
        let reflection = -told / left;
        filter.push(0.0);
        let before = filter.clone();
        filter
            .iter_mut()
            .zip(before.iter().rev())
            .for_each(|(weight, mirrored)| *weight += reflection * mirrored);
        left *= 1.0 - reflection * reflection;
    }
    filter
}

/// A series and the boat's at its samples, filtered.
#[derive(Clone, Default)]
struct Laid {
    /// Without the nuisance.
    y: Vec<f64>,
    /// Of the nuisance.
    basis: Vec<Vec<f64>>,
    /// The boat's series at every offset.
    x: Vec<Shifted>,
}

impl Laid {
    /// The boat's series at the samples, without the nuisance.
    fn x(&self, at: usize) -> Vec<Vec<f64>> {
        let of_series = |shifted: &Shifted| {
            let mut x = Vec::with_capacity(self.y.len());
            shifted.read(at, &mut x);
            self.basis.iter().for_each(|q| take_off(&mut x, q));
            x
        };
        self.x.iter().map(of_series).collect()
    }

    /// The products of the series with the boat's, and those of the boat's with each other, the nuisance taken off all of
    /// them. `x` may still hold the nuisance: what of it lies along the basis is taken off the products.
    fn products(&self, x: &[Vec<f64>]) -> (Vec<f64>, Vec<f64>) {
        let k = x.len();
        let a = x.iter().map(|x| dot(&self.y, x)).collect();
        let along: Vec<Vec<f64>> = x.iter().map(|x| self.basis.iter().map(|q| dot(q, x)).collect()).collect();
        let mut g = vec![0.0; k * k];
        for i in 0..k {
            for j in 0..=i {
                g[i * k + j] = dot(&x[i], &x[j]) - dot(&along[i], &along[j]);
                g[j * k + i] = g[i * k + j];
            }
        }
        (a, g)
    }

    /// Residuals at an offset.
    fn left(&self, block: &Block, at: usize) -> Vec<f64> {
        let x = self.x(at);
        let mut left = self.y.clone();
        if block.part.is_same() {
            left.iter_mut().zip(&x[0]).for_each(|(left, x)| *left -= x);
        } else {
            // the residual is what is left of y off all regressors
            for q in &orthonormal(&x) {
                take_off(&mut left, q);
            }
        }
        left
    }
}

/// A block at every second about a lag.
pub(crate) struct Look<'a> {
    pub block: &'a Block,
    /// What makes the residuals white, so that their squares count what they know (generalised least squares; Cochrane
    /// & Orcutt 1949, Journal of the American Statistical Association 44:32-61).
    filter: Vec<f64>,
    /// Samples that the boat's record covers.
    is_known: Vec<bool>,
    /// Where these lie on the boat's record at the first offset.
    places: Places,
    /// As it was measured.
    plain: Laid,
    /// Filtered.
    laid: Laid,
    /// Residual sum of squares for each offset, with the floor of the instrument.
    pub rss: Vec<f64>,
    pub middle_s: f64,
}

impl<'a> Look<'a> {
    pub fn new(block: &'a Block, reference: &Reference, about_s: f64) -> Self {
        let is_known = are_known(block.part, reference, block.time_s.iter().map(|t| t + about_s));
        let first_s = about_s - REACH_S as f64 - reference.start_s;
        let known = block.time_s.iter().zip(&is_known).filter(|(_, is_known)| **is_known);
        let places = Places::new(known.map(|(t, _)| t + first_s));
        let middle_s = 0.5 * (block.time_s[0] + block.time_s[block.time_s.len() - 1]);
        let mut look = Self {
            block,
            filter: vec![1.0],
            is_known,
            places,
            plain: Laid::default(),
            laid: Laid::default(),
            rss: Vec::new(),
            middle_s,
        };
        look.plain = look.lay(reference);
        look.laid = look.plain.clone();
        look.see();
        look
    }

    /// Finds the filter from the residuals at an offset.
    pub fn whiten(&mut self, reference: &Reference, at: usize) {
        self.filter = whitening(&self.plain.left(self.block, at));
        self.laid = self.lay(reference);
        self.see();
    }

    /// Samples that count.
    pub fn len(&self) -> usize {
        self.laid.y.len()
    }

    /// A series without samples that the boat's record does not cover, filtered.
    fn seen(&self, values: &[f64]) -> Vec<f64> {
        let known: Cow<[f64]> = if self.is_known.contains(&false) {
            let known = values.iter().zip(&self.is_known).filter(|(_, is_known)| **is_known);
            known.map(|(value, _)| *value).collect()
        } else {
            values.into()
        };
        let weights: Vec<f64> = self.filter.iter().rev().copied().collect();
        let mut filtered = Vec::with_capacity(known.len());
        weighted(&known, &weights, 1.0, &mut filtered);
        filtered
    }

    /// What noise with a variance of one, white before it was filtered, adds to the residual sum of squares.
    fn whites(&self) -> f64 {
        self.len() as f64 * dot(&self.filter, &self.filter)
    }

    /// Filters the series and the boat's, and takes the nuisance off the one.
    fn lay(&self, reference: &Reference) -> Laid {
        let block = self.block;
        let columns: Vec<Vec<f64>> = block.nuisance.iter().map(|column| self.seen(column)).collect();
        let basis = orthonormal(&columns);
        let mut y = self.seen(&block.y);
        for q in &basis {
            take_off(&mut y, q);
        }
        // with a level among the nuisance that of the boat's series does not matter, and small numbers keep more digits
        let about_its_level = !block.part.is_same();
        let regressors = block.part.regressors(reference);
        Laid { y, basis, x: Shifted::of_each(&regressors, &self.places, &self.filter, about_its_level) }
    }

    /// The residual sum of squares at every offset.
    fn see(&mut self) {
        let part = self.block.part;
        let Laid { y, basis, x } = &self.laid;
        // a block that the boat's record does not cover at all has no squares, and no logarithm of them
        let floor = (self.whites() * part.floor().powi(2)).max(f64::MIN_POSITIVE);
        if part.is_same() {
            let mut off = Vec::with_capacity(y.len());
            let rss = |at: usize| {
                x[0].read(at, &mut off);
                off.iter_mut().zip(y).for_each(|(x, y)| *x = y - *x);
                floor + dot(&off, &off)
            };
            self.rss = (0..OFFSETS).map(rss).collect();
            return;
        }
        let whole = dot(y, y);
        let k = x.len();
        let a: Vec<[f64; OFFSETS]> = x.iter().map(|x| x.along(y)).collect();
        // along a level the products are sums
        let along = |x: &Shifted, q: &[f64]| match q {
            [level, others @ ..] if others.iter().all(|other| other == level) => {
                x.sums().map(|sum| level * sum)
            }
            _ => x.along(q),
        };
        let along: Vec<Vec<[f64; OFFSETS]>> =
            x.iter().map(|x| basis.iter().map(|q| along(x, q)).collect()).collect();
        // what of the boat's series lies along the nuisance is taken off their products
        let pairs: Vec<(usize, usize)> = (0..k).flat_map(|i| (0..=i).map(move |j| (i, j))).collect();
        let g: Vec<[f64; OFFSETS]> = pairs
            .iter()
            .map(|&(i, j)| {
                let mut products = x[i].with(&x[j]);
                for (of_i, of_j) in along[i].iter().zip(&along[j]) {
                    products.iter_mut().zip(of_i.iter().zip(of_j)).for_each(|(g, (i, j))| *g -= i * j);
                }
                products
            })
            .collect();
        let rss = |at: usize| {
            let (mut a_here, mut g_here) = ([0.0; MOST], [0.0; MOST * MOST]);
            a_here.iter_mut().zip(&a).for_each(|(here, a)| *here = a[at]);
            for (&(i, j), g) in pairs.iter().zip(&g) {
                g_here[i * k + j] = g[at];
                g_here[j * k + i] = g[at];
            }
            floor + (whole - explained(&a_here[..k], &g_here[..k * k])).max(0.0)
        };
        self.rss = (0..OFFSETS).map(rss).collect();
    }

    /// Adds its log-likelihood at every second.
    pub fn add(&self, n: Effective, to: &mut [f64]) {
        to.iter_mut().zip(&self.rss).for_each(|(sum, rss)| *sum -= 0.5 * n.offset * rss.ln());
    }

    /// How much more likely it is at an offset than without the boat's record.
    pub fn gain(&self, n: f64, at: usize) -> f64 {
        if self.block.part.is_same() {
            return f64::INFINITY;
        }
        let alone = dot(&self.laid.y, &self.laid.y) + self.whites() * self.block.part.floor().powi(2);
        0.5 * n * (alone / self.rss[at]).ln()
    }

    /// Effective number of observations, of the series as a whole and of the offset, from the autocorrelation of the
    /// residuals at an offset.
    ///
    /// For the offset only that part of the noise counts that looks like a shift of the series: its variance is
    /// `d' R d / (d' d)^2` with `d` the change of the series for a second and `R` the covariance of the residuals (White
    /// 1980, Econometrica 48:817-838, the covariance from the residuals themselves).
    pub fn effective(&self, at: usize) -> Effective {
        let left = self.laid.left(self.block, at);
        let change = self.change(at);
        let n = left.len();
        let (whole, changes) = (dot(&left, &left), dot(&change, &change));
        let (mut time, mut time_of_change) = (1.0, 1.0);
        for lag in (1..n / 3).step_by(2) {
            let pair: [f64; 2] = [lag, lag + 1].map(|l| dot(&left[l..], &left[..n - l]));
            if whole <= 0.0 || pair[0] + pair[1] <= 0.0 {
                break;
            }
            for (l, covariance) in [lag, lag + 1].into_iter().zip(pair) {
                time += 2.0 * covariance / whole;
                if changes > 0.0 {
                    time_of_change +=
                        2.0 * covariance / whole * dot(&change[l..], &change[..n - l]) / changes;
                }
            }
        }
        let used = (self.laid.basis.len() + self.block.part.n_regressors()) as f64;
        let count = |time: f64| ((n as f64 - used) / time.max(1.0)).max(1.0);
        Effective { series: count(time), offset: count(time_of_change) }
    }

    /// What the fitted series changes by for a second of offset, less what another gain would do as well.
    fn change(&self, at: usize) -> Vec<f64> {
        let at = at.clamp(1, 2 * REACH_S - 1);
        let [before, here, after] = [at - 1, at, at + 1].map(|at| self.laid.x(at));
        let gains = if self.block.part.is_same() {
            [1.0; MOST]
        } else {
            let (a, g) = self.laid.products(&here);
            gains(&a, &g).unwrap_or_default()
        };
        let mut change = vec![0.0; self.len()];
        for (gain, (before, after)) in gains.iter().zip(before.iter().zip(&after)) {
            change
                .iter_mut()
                .zip(before.iter().zip(after))
                .for_each(|(c, (b, a))| *c += 0.5 * gain * (a - b));
        }
        if !self.block.part.is_same() {
            for q in &orthonormal(&here) {
                take_off(&mut change, q);
            }
        }
        change
    }
}

/// Effective observations of a block.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Effective {
    /// Of the series: what counts where two answers far apart are weighed.
    pub series: f64,
    /// Of the offset: what counts for its error.
    pub offset: f64,
}
