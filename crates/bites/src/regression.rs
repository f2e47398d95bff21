//! Poisson regression on factors with many levels, shrunken as far as the data ask for it.
//!
//! The logarithm of a cell's rate is a constant plus one effect for each of its levels. The effects of a block are normal about
//! zero with a precision of the block's own; those of levels that stand in an order walk from one to the next. Effects
//! are the mode of the posterior (Newton), its covariance the inverse of the curvature there (Laplace), and the precisions are found with it by
//! expectation and maximisation, as variance components of generalised linear mixed models are (N. E. Breslow & D. G. Clayton,
//! Journal of the American Statistical Association 88 (1993) 9–25; cited from memory).

use nalgebra::{DMatrix, DVector};

use crate::rates::Counted;

/// A cell of the table of counts.
pub(crate) struct Cell {
    /// Level in each block.
    pub levels: Vec<usize>,
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

    /// Precision matrix of the effects, at a precision of one.
    fn structure(&self) -> DMatrix<f64> {
        let own = if self.neighbours.is_empty() { 1.0 } else { LEVEL_PER_STEP };
        let mut structure = DMatrix::from_diagonal_element(self.n, self.n, own);
        for &(a, b) in &self.neighbours {
            structure[(a, a)] += 1.0;
            structure[(b, b)] += 1.0;
            structure[(a, b)] -= 1.0;
            structure[(b, a)] -= 1.0;
        }
        structure
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
/// Steps of Newton's method, and the change of an effect at which it ends.
const STEPS: usize = 50;
const CLOSE: f64 = 1e-8;
/// Largest logarithm of a rate ratio that a step may change, so that no count overflows.
const LARGEST_STEP: f64 = 3.0;

/// A fitted table.
pub(crate) struct Fit {
    effects: DVector<f64>,
    covariance: DMatrix<f64>,
    offsets: Vec<usize>,
}

/// Fits a table. `None` where there is no event, or the levels are too many for the cells to be told.
pub(crate) fn fit(cells: &[Cell], blocks: &[Block]) -> Option<Fit> {
    let total = Counted::total(&cells.iter().map(|cell| cell.seen).collect::<Vec<_>>());
    let mean = total.rate().filter(|&rate| rate > 0.0)?;
    // the constant comes first
    let mut offsets = vec![1];
    for block in blocks {
        offsets.push(offsets[offsets.len() - 1] + block.n);
    }
    let structures: Vec<DMatrix<f64>> = blocks.iter().map(Block::structure).collect();
    let mut precisions = vec![PRIOR_VARIANCE.recip(); blocks.len()];
    let mut effects = DVector::zeros(offsets[blocks.len()]);
    effects[0] = mean.ln();
    let mut fit = Fit { covariance: DMatrix::zeros(effects.len(), effects.len()), effects, offsets };
    for _ in 0..ROUNDS {
        let mut prior = DMatrix::zeros(fit.effects.len(), fit.effects.len());
        for (b, structure) in structures.iter().enumerate() {
            let (at, n) = (fit.offsets[b], blocks[b].n);
            prior.view_mut((at, at), (n, n)).copy_from(&(structure * precisions[b]));
        }
        fit.find_mode(cells, &prior)?;
        let mut change: f64 = 0.0;
        for (b, structure) in structures.iter().enumerate() {
            let (at, n) = (fit.offsets[b], blocks[b].n);
            let effects = fit.effects.rows(at, n);
            let spread = (effects.transpose() * structure * effects)[0]
                + fit.covariance.view((at, at), (n, n)).component_mul(structure).sum();
            let precision = (n as f64 + PRIOR_LEVELS) / (spread + PRIOR_LEVELS * PRIOR_VARIANCE);
            change = change.max((precision / precisions[b]).ln().abs());
            precisions[b] = precision;
        }
        if change < STANDS {
            break;
        }
    }
    Some(fit)
}

impl Fit {
    /// Effects at the mode of the posterior, and its covariance there.
    fn find_mode(&mut self, cells: &[Cell], prior: &DMatrix<f64>) -> Option<()> {
        let mut places = Vec::new();
        for _ in 0..STEPS {
            let mut curvature = prior.clone();
            let mut slope = -(prior * &self.effects);
            for cell in cells {
                self.places(cell, &mut places);
                let expected = self.expected(cell);
                for &i in &places {
                    slope[i] += cell.seen.count as f64 - expected;
                    for &j in &places {
                        curvature[(i, j)] += expected;
                    }
                }
            }
            let curvature = curvature.cholesky()?;
            let mut step = curvature.solve(&slope);
            let largest = step.amax();
            if largest > LARGEST_STEP {
                step *= LARGEST_STEP / largest;
            }
            self.effects += step;
            if largest < CLOSE {
                self.covariance = curvature.inverse();
                return Some(());
            }
        }
        None
    }

    /// Rows of the effects of a cell.
    fn places(&self, cell: &Cell, places: &mut Vec<usize>) {
        places.clear();
        places.push(0);
        places.extend(cell.levels.iter().zip(&self.offsets).map(|(level, offset)| offset + level));
    }

    /// Events to be expected in a cell.
    pub fn expected(&self, cell: &Cell) -> f64 {
        let effects =
            cell.levels.iter().zip(&self.offsets).map(|(level, offset)| self.effects[offset + level]);
        cell.seen.exposure * (self.effects[0] + effects.sum::<f64>()).exp()
    }

    /// Logarithm of the rate at a level over that of the average level of its block (by exposure), and its standard error.
    pub fn against_average(&self, cells: &[Cell], block: usize, level: usize) -> (f64, f64) {
        let mut contrast = DVector::zeros(self.effects.len());
        let total: f64 = cells.iter().map(|cell| cell.seen.exposure).sum();
        for cell in cells {
            contrast[self.offsets[block] + cell.levels[block]] -= cell.seen.exposure / total;
        }
        contrast[self.offsets[block] + level] += 1.0;
        let variance = (contrast.transpose() * &self.covariance * &contrast)[0];
        (contrast.dot(&self.effects), variance.max(0.0).sqrt())
    }
}
