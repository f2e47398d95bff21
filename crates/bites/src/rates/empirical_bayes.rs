//! What prior do many cells give each other?

use statrs::function::gamma::ln_gamma;

use super::{Counted, Gamma};

/// Prior by moments, with what it was made of.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Moments {
    /// Mean rate: all events over all exposure.
    pub mean: f64,
    /// Variance of the rates about the mean, weighted by exposure.
    pub variance: f64,
    /// What of it is not the Poisson noise of the cells.
    pub between: f64,
    /// The prior; `None` where the cells vary no more than counts do: then all share the mean.
    pub prior: Option<Gamma>,
}

/// Prior by maximum likelihood.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Likelihood {
    /// The prior.
    pub prior: Gamma,
    /// Log-likelihood of the counts at the maximum.
    pub log_likelihood: f64,
}

/// The gamma prior of many cells by moments.
///
/// R. J. Marshall, Mapping disease and mortality rates using empirical Bayes estimators, Applied Statistics
/// 40 (1991) 283–294 (formula from memory). Cells without exposure take no part. `None` without exposure or
/// events.
pub fn moments(cells: &[Counted]) -> Option<Moments> {
    let cells: Vec<_> = exposed(cells).collect();
    let total = Counted::total(&cells);
    let mean = total.rate().filter(|&m| m > 0.0)?;
    let squares: f64 = cells.iter().map(|c| c.exposure * (c.count as f64 / c.exposure - mean).powi(2)).sum();
    let variance = squares / total.exposure;
    let between = variance - mean / (total.exposure / cells.len() as f64);
    let prior = (between > 0.0).then(|| Gamma { shape: mean * mean / between, rate: mean / between });
    Some(Moments { mean, variance, between, prior })
}

/// Smallest and largest shape that is looked for. Above the largest, cells with a few events each cannot be
/// told from equal ones.
const SHAPES: (f64, f64) = (1e-3, 1e6);
/// Places on a logarithmic scale between them at which the slope of the likelihood is taken first.
const PLACES: usize = 90;

/// The gamma prior of many cells by maximum likelihood: counts are negative binomial.
///
/// The likelihood is maximised over the rate for each shape (one root, the score falls with the rate), then
/// over the shape. `None` where it has no maximum: no events, or cells that vary no more than counts do,
/// for which it keeps rising toward equal rates.
pub fn maximum_likelihood(cells: &[Counted]) -> Option<Likelihood> {
    let cells: Vec<_> = exposed(cells).collect();
    if Counted::total(&cells).count == 0 {
        return None;
    }
    let (low, high) = (SHAPES.0.ln(), SHAPES.1.ln());
    let place = |i: usize| low + (high - low) * i as f64 / PLACES as f64;
    let slopes: Vec<f64> = (0..=PLACES).map(|i| slope_of_profile(&cells, place(i).exp())).collect();
    let tops = (0..PLACES).filter(|&i| slopes[i] > 0.0 && slopes[i + 1] <= 0.0);
    tops.map(|i| {
        let shape = falling_root(place(i), place(i + 1), |x| slope_of_profile(&cells, x.exp())).exp();
        let prior = Gamma { shape, rate: best_rate(&cells, shape) };
        Likelihood { prior, log_likelihood: log_likelihood(&cells, prior) }
    })
    .max_by(|a, b| a.log_likelihood.total_cmp(&b.log_likelihood))
}

/// Log-likelihood of the counts when all cells share one rate, their mean; `None` without exposure or
/// events.
pub fn poisson_log_likelihood(cells: &[Counted]) -> Option<f64> {
    let mean = Counted::total(cells).rate().filter(|&m| m > 0.0)?;
    Some(
        exposed(cells)
            .map(|c| {
                let (x, expected) = (c.count as f64, mean * c.exposure);
                x * expected.ln() - expected - ln_gamma(x + 1.0)
            })
            .sum(),
    )
}

pub(super) fn exposed(cells: &[Counted]) -> impl Iterator<Item = Counted> {
    cells.iter().copied().filter(|c| c.exposure > 0.0 && c.exposure.is_finite())
}

pub(super) fn log_likelihood(cells: &[Counted], prior: Gamma) -> f64 {
    let Gamma { shape: a, rate: b } = prior;
    let cell = |c: &Counted| {
        let x = c.count as f64;
        let chance = ln_gamma(a + x) - ln_gamma(a) - ln_gamma(x + 1.0);
        chance - a * (c.exposure / b).ln_1p() + x * (c.exposure / (b + c.exposure)).ln()
    };
    cells.iter().map(cell).sum()
}

/// The rate that is most likely for a shape: root of the sum of `(a E - b x) / (b + E)`, which falls with
/// `b`.
pub(super) fn best_rate(cells: &[Counted], shape: f64) -> f64 {
    let score = |ln_b: f64| {
        let b = ln_b.exp();
        cells.iter().map(|c| (shape * c.exposure - b * c.count as f64) / (b + c.exposure)).sum()
    };
    let total = Counted::total(cells);
    let guess = (shape * total.exposure / total.count as f64).ln();
    let (mut low, mut high) = (guess - 1.0, guess + 1.0);
    while score(low) < 0.0 && low > -700.0 {
        low -= 2.0;
    }
    while score(high) > 0.0 && high < 700.0 {
        high += 2.0;
    }
    falling_root(low, high, score).exp()
}

/// Slope of the likelihood with the shape, at the best rate: digammas of integer distance are a sum.
fn slope_of_profile(cells: &[Counted], shape: f64) -> f64 {
    let rate = best_rate(cells, shape);
    let cell = |c: &Counted| {
        let harmonic: f64 = (0..c.count).map(|j| 1.0 / (shape + j as f64)).sum();
        harmonic - (c.exposure / rate).ln_1p()
    };
    cells.iter().map(cell).sum()
}

/// Where a function that is positive at `low` and not at `high` changes sign, by halving to the last digit.
fn falling_root(mut low: f64, mut high: f64, f: impl Fn(f64) -> f64) -> f64 {
    loop {
        let middle = 0.5 * (low + high);
        if middle <= low || middle >= high {
            return middle;
        }
        if f(middle) > 0.0 { low = middle } else { high = middle }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cells_that_are_alike_give_no_prior() {
        let alike = vec![Counted { count: 4, exposure: 5.0 }; 12];
        assert_eq!(moments(&alike).unwrap().prior, None);
        assert_eq!(maximum_likelihood(&alike), None);
    }

    #[test]
    fn nothing_gives_nothing() {
        assert_eq!(moments(&[]), None);
        assert_eq!(maximum_likelihood(&[Counted { count: 0, exposure: 5.0 }]), None);
        assert_eq!(poisson_log_likelihood(&[Counted::default()]), None);
    }

    #[test]
    fn a_cell_without_exposure_takes_no_part() {
        let cells = [Counted { count: 9, exposure: 3.0 }, Counted { count: 0, exposure: 4.0 }];
        let with = [cells[0], Counted { count: 0, exposure: 0.0 }, cells[1]];
        assert_eq!(moments(&cells), moments(&with));
        assert_eq!(maximum_likelihood(&cells), maximum_likelihood(&with));
    }
}
