//! Which offset is it, to the second, and do the parts of the log agree?

use crate::Settings;
use crate::blocks::{Block, Part, dot, explained, orthonormal, take_off};
use crate::curve::Curve;
use crate::reference::Reference;

/// How far to either side of a lag the close look goes, s.
const REACH_S: usize = 48;
/// Samples this close to a silence of the boat's record are left out, s: there it is a guess.
const MARGIN_S: usize = 15;
/// Most that a residual may share with the next: closer to one the series would be compared by their steps.
const MEMORY_MAX: f64 = 0.9;
/// A block that knows the offset worse than this says nothing, s.
const INFORMATIVE_S: f64 = 8.0;

/// What a close look at a lag found.
#[derive(Clone, Debug)]
pub(crate) struct Fine {
    /// Offset in the middle of the segment, s.
    pub offset_s: f64,
    /// Its standard error, without the lags of the sensors, s.
    pub se_s: f64,
    /// Growth of the offset for each second.
    pub drift: f64,
    /// Whether two halves, made of every other block, know the offset and agree on it.
    pub halves_agree: bool,
    /// Effective observations of each block.
    pub n: Vec<f64>,
    /// Whether the best offset lies inside of the look.
    pub inside: bool,
}

/// Looks closely about an offset. `at_s` is the middle of the segment on its own clock.
pub(crate) fn fine(
    blocks: &[Block],
    reference: &Reference,
    about_s: f64,
    at_s: f64,
    settings: &Settings,
) -> Fine {
    let mut looks: Vec<Look> = blocks.iter().map(|block| Look::new(block, reference, about_s)).collect();
    let first_s = about_s - REACH_S as f64;
    let curve = |values| Curve { first_s, step_s: 1.0, values };
    let total = |looks: &[Look], n: &[f64]| {
        let mut sum = vec![0.0; 2 * REACH_S + 1];
        for (look, n) in looks.iter().zip(n) {
            sum.iter_mut().zip(&look.rss).for_each(|(sum, rss)| *sum -= 0.5 * n * rss.ln());
        }
        sum
    };
    let highest = |values: &[f64]| {
        (0..values.len()).max_by(|a, b| values[*a].total_cmp(&values[*b])).unwrap_or_default()
    };
    let mut n: Vec<f64> = looks.iter().map(|look| 0.3 * look.y.len() as f64).collect();
    let best = highest(&total(&looks, &n));
    for look in &mut looks {
        look.whiten(reference, about_s, best);
    }
    for _ in 0..2 {
        let best = highest(&total(&looks, &n));
        n = looks.iter().map(|look| look.effective(reference, about_s, best)).collect();
    }
    let whole = total(&looks, &n);
    let best = highest(&whole);
    let (mean_s, sd_s) = curve(whole).moments();

    // what each block says on its own
    let said: Vec<(f64, f64, f64)> = looks
        .iter()
        .zip(&n)
        .map(|(look, n)| {
            let own = look.rss.iter().map(|rss| -0.5 * n * rss.ln()).collect();
            let (mean_s, sd_s) = curve(own).moments();
            (look.middle_s - at_s, mean_s, sd_s)
        })
        .filter(|(_, _, sd_s)| *sd_s < INFORMATIVE_S)
        .collect();
    let (drift, drift_sd, centre_s) = drift(&said, 1e-6 * settings.drift_sd_ppm);
    let chi2: f64 =
        said.iter().map(|(x, m, sd)| ((m - mean_s - drift * (x - centre_s)) / sd.hypot(0.3)).powi(2)).sum();
    let surplus = if said.len() > 1 { (chi2 / (said.len() - 1) as f64).max(1.0) } else { 1.0 };
    let half_s = 0.5 * blocks.iter().map(|block| (block.time_s[0] - at_s).abs()).fold(0.0, f64::max);
    Fine {
        offset_s: mean_s - drift * centre_s,
        se_s: (sd_s * sd_s * surplus + (drift_sd * half_s).powi(2)).sqrt(),
        drift,
        halves_agree: halves_agree(&said, settings.certain_s),
        n,
        inside: best > 2 && best + 2 < 2 * REACH_S,
    }
}

/// Drift, its standard error and the weighted middle of what the blocks say, with a prior of mean 0 on the drift.
fn drift(said: &[(f64, f64, f64)], prior: f64) -> (f64, f64, f64) {
    let weight = |sd: f64| 1.0 / (sd * sd + 0.1);
    let whole: f64 = said.iter().map(|(_, _, sd)| weight(*sd)).sum();
    if whole <= 0.0 {
        return (0.0, prior, 0.0);
    }
    let mean =
        |of: &dyn Fn(&(f64, f64, f64)) -> f64| said.iter().map(|s| weight(s.2) * of(s)).sum::<f64>() / whole;
    let (x_mean, m_mean) = (mean(&|s| s.0), mean(&|s| s.1));
    let spread: f64 = said.iter().map(|(x, _, sd)| weight(*sd) * (x - x_mean).powi(2)).sum();
    let product: f64 = said.iter().map(|(x, m, sd)| weight(*sd) * (x - x_mean) * (m - m_mean)).sum();
    let precision = spread + 1.0 / (prior * prior);
    (product / precision, precision.sqrt().recip(), x_mean)
}

fn halves_agree(said: &[(f64, f64, f64)], within_s: f64) -> bool {
    let half = |odd: usize| {
        let part = said.iter().skip(odd).step_by(2);
        let (sum, whole) = part.fold((0.0, 0.0), |(sum, whole), (_, m, sd)| {
            let weight = 1.0 / (sd * sd + 0.1);
            (sum + weight * m, whole + weight)
        });
        (sum / whole, 1.0 / whole)
    };
    if said.len() < 2 {
        return false;
    }
    let ((a, va), (b, vb)) = (half(0), half(1));
    va.sqrt() <= within_s && vb.sqrt() <= within_s && (a - b).abs() <= 3.0 * (va + vb).sqrt()
}

/// Whether the boat's record has no silence close to an instant.
fn is_known(part: Part, reference: &Reference, time_s: f64) -> bool {
    let series = part.regressors(reference)[0];
    let second = (time_s - reference.start_s).max(0.0) as usize;
    let (from, to) = (second.saturating_sub(MARGIN_S), (second + MARGIN_S).min(series.known.len()));
    from < to && series.known[from..to].iter().all(|known| *known)
}

/// A block at every second about a lag.
struct Look<'a> {
    block: &'a Block,
    /// Samples that the boat's record covers.
    is_known: Vec<bool>,
    y: Vec<f64>,
    basis: Vec<Vec<f64>>,
    /// What of a residual the next one shares.
    memory: f64,
    /// Residual sum of squares for each offset, with the floor of the instrument.
    rss: Vec<f64>,
    middle_s: f64,
}

impl<'a> Look<'a> {
    fn new(block: &'a Block, reference: &Reference, about_s: f64) -> Self {
        let is_known = block.time_s.iter().map(|t| is_known(block.part, reference, t + about_s)).collect();
        let middle_s = 0.5 * (block.time_s[0] + block.time_s[block.time_s.len() - 1]);
        let mut look = Self {
            block,
            is_known,
            y: Vec::new(),
            basis: Vec::new(),
            memory: 0.0,
            rss: Vec::new(),
            middle_s,
        };
        look.see(reference, about_s);
        look
    }

    /// Takes what neighbouring residuals share off all series: with noise of first-order memory the squares then count
    /// what they know (Cochrane & Orcutt 1949, Journal of the American Statistical Association 44:32-61).
    fn whiten(&mut self, reference: &Reference, about_s: f64, at: usize) {
        if self.block.part != Part::Speed {
            return;
        }
        let left = self.left(reference, about_s, at);
        let whole = dot(&left, &left);
        let next: f64 = left.windows(2).map(|pair| pair[0] * pair[1]).sum();
        self.memory = if whole > 0.0 { (next / whole).clamp(0.0, MEMORY_MAX) } else { 0.0 };
        self.see(reference, about_s);
    }

    fn without_memory(&self, values: &[f64]) -> Vec<f64> {
        let known = values.iter().zip(&self.is_known).filter(|(_, is_known)| **is_known);
        let mut values: Vec<f64> = known.map(|(value, _)| *value).collect();
        for at in (1..values.len()).rev() {
            values[at] -= self.memory * values[at - 1];
        }
        if let Some(first) = values.first_mut() {
            *first *= (1.0 - self.memory * self.memory).sqrt();
        }
        values
    }

    /// The residual sum of squares at every offset.
    fn see(&mut self, reference: &Reference, about_s: f64) {
        let block = self.block;
        let columns: Vec<Vec<f64>> =
            block.nuisance.iter().map(|column| self.without_memory(column)).collect();
        self.basis = orthonormal(&columns);
        let mut y = self.without_memory(&block.y);
        self.basis.iter().for_each(|q| take_off(&mut y, q));
        self.y = y;
        let look = &*self;
        let floor = look.y.len() as f64 * block.part.floor().powi(2);
        let whole = dot(&look.y, &look.y);
        let rss = (0..=2 * REACH_S)
            .map(|at| {
                let x = look.x(reference, about_s, at);
                if block.part.is_same() {
                    return floor + look.y.iter().zip(&x[0]).map(|(y, x)| (y - x).powi(2)).sum::<f64>();
                }
                let (a, g) = look.products(&x);
                floor + (whole - explained(&a, &g)).max(0.0)
            })
            .collect();
        self.rss = rss;
    }

    /// The boat's series at the samples, without the nuisance.
    fn x(&self, reference: &Reference, about_s: f64, at: usize) -> Vec<Vec<f64>> {
        let offset_s = about_s + at as f64 - REACH_S as f64 - reference.start_s;
        let last = reference.len() - 1;
        let of_series = |series: &crate::reference::Series| {
            let value = |t: &f64| {
                let second = (t + offset_s).clamp(0.0, last as f64);
                let before = (second as usize).min(last.saturating_sub(1));
                let part = second - before as f64;
                let (from, to) = (series.values[before], series.values[(before + 1).min(last)]);
                from + part * (to - from)
            };
            let x: Vec<f64> = self.block.time_s.iter().map(value).collect();
            let mut x = self.without_memory(&x);
            self.basis.iter().for_each(|q| take_off(&mut x, q));
            x
        };
        self.block.part.regressors(reference).into_iter().map(of_series).collect()
    }

    fn products(&self, x: &[Vec<f64>]) -> (Vec<f64>, Vec<f64>) {
        let a = x.iter().map(|x| dot(&self.y, x)).collect();
        let g = x.iter().flat_map(|x1| x.iter().map(move |x2| dot(x1, x2))).collect();
        (a, g)
    }

    /// Residuals at an offset.
    fn left(&self, reference: &Reference, about_s: f64, at: usize) -> Vec<f64> {
        let x = self.x(reference, about_s, at);
        let mut left = self.y.clone();
        if self.block.part.is_same() {
            left.iter_mut().zip(&x[0]).for_each(|(left, x)| *left -= x);
        } else {
            // the residual is what is left of y off all regressors
            orthonormal(&x).iter().for_each(|q| take_off(&mut left, q));
        }
        left
    }

    /// Effective number of observations, from the autocorrelation of the residuals at an offset.
    fn effective(&self, reference: &Reference, about_s: f64, at: usize) -> f64 {
        let left = self.left(reference, about_s, at);
        let n = left.len();
        let whole = dot(&left, &left);
        let mut time = 1.0;
        for lag in (1..n / 3).step_by(2) {
            let pair: f64 = (lag..(lag + 2).min(n)).map(|l| dot(&left[l..], &left[..n - l])).sum();
            if whole <= 0.0 || pair <= 0.0 {
                break;
            }
            time += 2.0 * pair / whole;
        }
        let used = (self.basis.len() + self.block.part.n_regressors()) as f64;
        ((n as f64 - used) / time).max(1.0)
    }
}
