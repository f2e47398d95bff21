//! Poisson regression on factors with many levels, shrunken as far as the data ask for it.
//!
//! The logarithm of a cell's rate is a constant plus one effect for each of its levels. The effects of a block are normal about
//! zero with a precision of the block's own; those of levels that stand in an order walk from one to the next. Effects
//! are the mode of the posterior (Newton), its covariance the inverse of the curvature there (Laplace), and the precisions are found with it by
//! expectation and maximisation, as variance components of generalised linear mixed models are (N. E. Breslow & D. G. Clayton,
//! Journal of the American Statistical Association 88 (1993) 9–25; cited from memory).

use crate::rates::Counted;
use crate::symmetric::{Cholesky, Symmetric};

/// A cell of the table of counts.
#[derive(Clone, Copy)]
pub(crate) struct Cell<const B: usize> {
    /// Level in each block.
    pub levels: [usize; B],
    pub seen: Counted,
}

/// The structure of the levels of one factor.
pub(crate) struct Block {
    n: usize,
    /// Pairs of neighbouring levels.
    neighbours: Vec<(usize, usize)>,
}

impl Block {
    /// Levels that have nothing to do with each other.
    pub fn apart(n: usize) -> Self {
        Self { n, neighbours: Vec::new() }
    }

    /// Levels in an order, `None` being one apart.
    pub fn in_order<T>(levels: &[Option<T>]) -> Self {
        let neighbours = (1..levels.len()).filter(|&i| levels[i - 1].is_some()).map(|i| (i - 1, i)).collect();
        Self { n: levels.len(), neighbours }
    }

    /// Calls back with each entry of the precision matrix of the effects on its diagonal and below, at a precision of one.
    fn each_entry(&self, mut each: impl FnMut(usize, usize, f64)) {
        let own = if self.neighbours.is_empty() { 1.0 } else { LEVEL_PER_STEP };
        (0..self.n).for_each(|i| each(i, i, own));
        for &(a, b) in &self.neighbours {
            each(a, a, 1.0);
            each(b, b, 1.0);
            each(b, a, -1.0);
        }
    }
}

/// Precision of the level of a random walk, in that of its steps: as a whole it may lie ten steps off.
const LEVEL_PER_STEP: f64 = 0.01;
/// Prior of a block's variance, an inverse gamma: worth two levels that differ by a third (0.12 of variance). It keeps
/// three lures from being declared equal, or worlds apart, by their scatter alone.
const PRIOR_LEVELS: f64 = 2.0;
const PRIOR_VARIANCE: f64 = 0.12;
/// Rounds of the precisions, and change at which they stand.
const ROUNDS: usize = 200;
const STANDS: f64 = 1e-3;
/// Steps of Newton's method, and the change of an effect at which it ends: what is then left to change is its square.
const STEPS: usize = 50;
const CLOSE: f64 = 1e-5;
/// Largest logarithm of a rate ratio that a step may change, so that no count overflows.
const LARGEST_STEP: f64 = 3.0;

/// A fitted table.
pub(crate) struct Fit<const B: usize> {
    effects: Vec<f64>,
    /// Of the curvature at the effects, whose inverse is their covariance.
    curvature: Cholesky,
    /// Where the effects of each block begin; the constant comes first.
    offsets: [usize; B],
}

/// Fits a table. `None` where there is no event, or the levels are too many for the cells to be told.
pub(crate) fn fit<const B: usize>(cells: &[Cell<B>], blocks: &[Block; B]) -> Option<Fit<B>> {
    let total = Counted::total(&cells.iter().map(|cell| cell.seen).collect::<Vec<_>>());
    let mean = total.rate().filter(|&rate| rate > 0.0)?;
    let mut size = 1;
    let offsets = std::array::from_fn(|b| {
        size += blocks[b].n;
        size - blocks[b].n
    });
    let mut precisions = [PRIOR_VARIANCE.recip(); B];
    let mut effects = vec![0.0; size];
    effects[0] = mean.ln();
    let mut fit = Fit { effects, curvature: Cholesky::of_nothing(), offsets };
    for _ in 0..ROUNDS {
        fit.find_mode(cells, blocks, precisions)?;
        let spread_of_estimate = fit.curvature.inverse_of_factor();
        let mut change: f64 = 0.0;
        for ((block, at), precision) in blocks.iter().zip(offsets).zip(&mut precisions) {
            let mut spread = 0.0;
            block.each_entry(|i, j, entry| {
                let (i, j) = (at + i, at + j);
                let twice = if i == j { 1.0 } else { 2.0 };
                let square = fit.effects[i] * fit.effects[j] + spread_of_estimate.of_squares(i, j);
                spread += twice * entry * square;
            });
            let before = std::mem::replace(
                precision,
                (block.n as f64 + PRIOR_LEVELS) / (spread + PRIOR_LEVELS * PRIOR_VARIANCE),
            );
            change = change.max((*precision / before).ln().abs());
        }
        if change < STANDS {
            break;
        }
    }
    Some(fit)
}

impl<const B: usize> Fit<B> {
    /// Effects at the mode of the posterior, and the curvature there.
    fn find_mode(&mut self, cells: &[Cell<B>], blocks: &[Block; B], precisions: [f64; B]) -> Option<()> {
        for _ in 0..STEPS {
            let mut curvature = Symmetric::zeros(self.effects.len());
            let mut step = vec![0.0; self.effects.len()];
            for ((block, at), precision) in blocks.iter().zip(self.offsets).zip(precisions) {
                block.each_entry(|i, j, entry| {
                    let (i, j, entry) = (at + i, at + j, entry * precision);
                    curvature.add(i, j, entry);
                    step[i] -= entry * self.effects[j];
                    if i != j {
                        step[j] -= entry * self.effects[i];
                    }
                });
            }
            for cell in cells {
                let places = self.places(cell);
                let expected = self.expected(cell);
                let pull = cell.seen.count as f64 - expected;
                step[0] += pull;
                curvature.add(0, 0, expected);
                for (k, &i) in places.iter().enumerate() {
                    step[i] += pull;
                    curvature.add(i, 0, expected);
                    // blocks stand one behind the other
                    places[..=k].iter().for_each(|&j| curvature.add(i, j, expected));
                }
            }
            self.curvature = curvature.cholesky()?;
            self.curvature.solve(&mut step);
            let largest = step.iter().fold(0.0, |largest: f64, step| largest.max(step.abs()));
            let part = if largest > LARGEST_STEP { LARGEST_STEP / largest } else { 1.0 };
            self.effects.iter_mut().zip(&step).for_each(|(effect, step)| *effect += step * part);
            if largest < CLOSE {
                return Some(());
            }
        }
        None
    }

    /// Rows of the effects of a cell, but for the constant.
    fn places(&self, cell: &Cell<B>) -> [usize; B] {
        std::array::from_fn(|b| self.offsets[b] + cell.levels[b])
    }

    /// Events to be expected in a cell.
    pub fn expected(&self, cell: &Cell<B>) -> f64 {
        let effects: f64 = self.places(cell).into_iter().map(|place| self.effects[place]).sum();
        cell.seen.exposure * (self.effects[0] + effects).exp()
    }

    /// Logarithm of the rate at a level over that of the average level of its block (by exposure), and its standard error.
    pub fn against_average(&self, cells: &[Cell<B>], block: usize, level: usize) -> (f64, f64) {
        let mut contrast = vec![0.0; self.effects.len()];
        let total: f64 = cells.iter().map(|cell| cell.seen.exposure).sum();
        for cell in cells {
            contrast[self.offsets[block] + cell.levels[block]] -= cell.seen.exposure / total;
        }
        contrast[self.offsets[block] + level] += 1.0;
        let log_ratio = contrast.iter().zip(&self.effects).map(|(part, effect)| part * effect).sum();
        (log_ratio, self.curvature.square_by_inverse(&contrast).sqrt())
    }
}
