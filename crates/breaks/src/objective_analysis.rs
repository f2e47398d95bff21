//! What was the temperature between the places where it was measured, and how sure is that?
//!
//! Objective analysis (Bretherton, Davis & Fandry 1976): the linear estimate of least expected squared error under
//! a given covariance. With a known mean it is the same as simple kriging and as the mean of a Gaussian process,
//! with an unknown constant mean the same as ordinary kriging.

mod posts;

use std::ops::Range;
use std::sync::OnceLock;

use nalgebra::{Cholesky, DMatrix, DVector, Dyn};

use crate::covariance::{Covariance, Places};
use crate::triangle;

pub(crate) use self::posts::{Among, Post};

/// A temperature measured somewhere.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Observation {
    /// East of any origin, m.
    pub east_m: f64,
    /// North of it, m.
    pub north_m: f64,
    /// Temperature, °C.
    pub temp_c: f64,
}

/// The mean that the water tends to far from all observations.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Mean {
    /// Known, °C.
    Known(f64),
    /// A constant, estimated from the observations by generalised least squares.
    Estimated,
}

/// Temperature of the water at a place.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Estimate {
    /// Estimate, °C.
    pub temp_c: f64,
    /// Expected squared error of the estimate as the temperature of the water, °C². A new reading there would
    /// differ by the noise of an observation on top.
    pub error_variance_c2: f64,
}

/// Observations under a covariance, ready to be asked.
#[derive(Clone, Debug)]
pub struct ObjectiveAnalysis {
    places_m: Vec<(f64, f64)>,
    places: Places,
    covariance: Covariance,
    /// Covariances of the observations with each other, °C².
    matrix_c2: DMatrix<f64>,
    factor: Cholesky<f64, Dyn>,
    mean_c: f64,
    /// `1ᵀ K⁻¹ 1` where the mean is estimated: the inverse of the mean's error variance.
    mean_precision: Option<f64>,
    /// `y - mean`.
    off_mean_c: DVector<f64>,
    /// `K⁻¹ (y - mean)`.
    weights: DVector<f64>,
    /// `K⁻¹ 1`.
    ones_solved: DVector<f64>,
    inverse_factor: OnceLock<DMatrix<f64>>,
    /// `K⁻¹`.
    precision: OnceLock<DMatrix<f64>>,
}

/// Places that are estimated at once: enough for a matrix product to pay, few enough to stay in the cache.
const TARGETS_AT_ONCE: usize = 256;

impl ObjectiveAnalysis {
    /// Factors the covariance of the observations, each of which has an independent error of variance
    /// `noise_variance_c2`, °C².
    ///
    /// `None` where there are no observations, or where they determine nothing: a number is not finite, or two
    /// observations lie at one place and have no error.
    pub fn new(
        observations: &[Observation],
        covariance: Covariance,
        noise_variance_c2: f64,
        mean: Mean,
    ) -> Option<Self> {
        let places_m: Vec<(f64, f64)> = observations.iter().map(|o| (o.east_m, o.north_m)).collect();
        let temps_c = DVector::from_iterator(observations.len(), observations.iter().map(|o| o.temp_c));
        if observations.is_empty() || !temps_c.iter().all(|t| t.is_finite()) {
            return None;
        }
        let mut matrix = between(&covariance, &places_m, &places_m);
        for i in 0..places_m.len() {
            matrix[(i, i)] += noise_variance_c2;
        }
        let factor = triangle::factor(matrix.clone())?;
        let ones_solved = factor.solve(&DVector::from_element(places_m.len(), 1.0));
        let precision = ones_solved.sum();
        let (mean_c, mean_precision) = match mean {
            Mean::Known(mean_c) => (mean_c, None),
            Mean::Estimated => (ones_solved.dot(&temps_c) / precision, Some(precision)),
        };
        let off_mean_c = temps_c.add_scalar(-mean_c);
        let weights = factor.solve(&off_mean_c);
        weights.iter().all(|w| w.is_finite()).then_some(Self {
            places: Places::new(&places_m),
            places_m,
            covariance,
            matrix_c2: matrix,
            factor,
            mean_c,
            mean_precision,
            off_mean_c,
            weights,
            ones_solved,
            inverse_factor: OnceLock::new(),
            precision: OnceLock::new(),
        })
    }

    /// The mean, known or estimated, °C.
    pub fn mean_c(&self) -> f64 {
        self.mean_c
    }

    /// Estimates at places, each given as east and north on the axes of the observations, m.
    pub fn estimates(&self, targets_m: &[(f64, f64)]) -> Vec<Estimate> {
        let at_once = targets_m.chunks(TARGETS_AT_ONCE);
        at_once
            .flat_map(|targets_m| {
                self.estimates_from_all(&between(&self.covariance, &self.places_m, targets_m))
            })
            .collect()
    }

    /// Estimates at places, from a column of their covariances with all observations for each, °C².
    pub(crate) fn estimates_from_all(&self, to_observations_c2: &DMatrix<f64>) -> Vec<Estimate> {
        // with the inverse of the factor once, each error is a matrix product and not a substitution
        let explained_c2 = column_squares(self.inverse_factor(), to_observations_c2);
        let off_mean_c = to_observations_c2.tr_mul(&self.weights);
        let of_ones = to_observations_c2.tr_mul(&self.ones_solved);
        self.estimates_of(off_mean_c.as_slice(), of_ones.as_slice(), &explained_c2)
    }

    /// Estimates at places, from the sums of their covariances with the observations by [`Self::weights`] and by
    /// [`Self::ones_solved`] and the part of their variance that is explained.
    fn estimates_of(&self, off_mean_c: &[f64], of_ones: &[f64], explained_c2: &[f64]) -> Vec<Estimate> {
        let rows = off_mean_c.iter().zip(of_ones).zip(explained_c2);
        rows.map(|((off_mean_c, of_ones), explained_c2)| {
            // how much of an unknown mean the weights leave in, times that mean's own error
            let from_mean = self.mean_precision.map_or(0.0, |precision| (1.0 - of_ones).powi(2) / precision);
            let error_variance_c2 = self.covariance.variance_c2 - explained_c2 + from_mean;
            Estimate { temp_c: self.mean_c + off_mean_c, error_variance_c2: error_variance_c2.max(0.0) }
        })
        .collect()
    }

    /// The inverse of the lower factor, made when it is first asked for.
    fn inverse_factor(&self) -> &DMatrix<f64> {
        self.inverse_factor.get_or_init(|| triangle::inverse(self.factor.l_dirty()))
    }

    /// The inverse of the covariance of the observations, made when it is first asked for.
    fn precision(&self) -> &DMatrix<f64> {
        self.precision.get_or_init(|| triangle::whole_inverse(self.inverse_factor()))
    }

    /// Logarithm of the probability density of the observations under the covariance.
    ///
    /// Where the mean is estimated it is the restricted likelihood, in which every mean is as likely as any other.
    pub fn log_marginal_likelihood(&self) -> f64 {
        let n = self.places_m.len() as f64;
        let (freedom, mean_part) = self.mean_precision.map_or((n, 0.0), |p| (n - 1.0, p.ln()));
        -0.5 * (self.misfit() + self.log_determinant() + mean_part + freedom * std::f64::consts::TAU.ln())
    }

    /// Squared error of each observation, in units of the expected one, where it is estimated without the piece that
    /// it is in (cross-validation of Dubrule 1983, from memory; the mean stays as it is).
    ///
    /// A partition is made of pieces, which are ranges of indices; the answer is the mean over all partitions.
    pub(crate) fn left_out_misfits(&self, partitions: &[Vec<Range<usize>>]) -> Vec<f64> {
        let precision = self.precision();
        let mut misfits = vec![0.0; self.places_m.len()];
        for piece in partitions.iter().flatten() {
            let own = precision.view((piece.start, piece.start), (piece.len(), piece.len())).into_owned();
            let Some(own) = triangle::factor(own) else { continue };
            let error_c = own.solve(&self.weights.rows(piece.start, piece.len()).into_owned());
            let inverse_factor = triangle::inverse(own.l_dirty());
            for (i, misfit) in misfits[piece.clone()].iter_mut().enumerate() {
                *misfit +=
                    error_c[i].powi(2) / inverse_factor.column(i).norm_squared() / partitions.len() as f64;
            }
        }
        misfits
    }

    /// `(y - mean)ᵀ K⁻¹ (y - mean)`.
    pub(crate) fn misfit(&self) -> f64 {
        self.off_mean_c.dot(&self.weights)
    }

    /// Logarithm of the determinant of the covariance of the observations.
    pub(crate) fn log_determinant(&self) -> f64 {
        2.0 * self.factor.l_dirty().diagonal().iter().map(|v| v.ln()).sum::<f64>()
    }
}

/// Squared length of each column of a lower triangle times a matrix.
fn column_squares(triangle: &DMatrix<f64>, columns: &DMatrix<f64>) -> Vec<f64> {
    let n = triangle.nrows();
    let mut squares = vec![0.0; columns.ncols()];
    for from in (0..n).step_by(triangle::ROWS_AT_ONCE) {
        // of a whole matrix half would be zeros
        let to = (from + triangle::ROWS_AT_ONCE).min(n);
        let part = triangle.view((from, 0), (to - from, to)) * columns.rows(0, to);
        for (square, column) in squares.iter_mut().zip(part.column_iter()) {
            *square += column.norm_squared();
        }
    }
    squares
}

/// Covariances between places, one row for each of `rows`.
pub(crate) fn between(covariance: &Covariance, rows: &[(f64, f64)], columns: &[(f64, f64)]) -> DMatrix<f64> {
    let mut matrix = DMatrix::zeros(rows.len(), columns.len());
    let rows = Places::new(rows);
    for (mut column, place) in matrix.column_iter_mut().zip(columns) {
        rows.distances_m(*place, column.as_mut_slice());
    }
    covariance.of_each(matrix.as_mut_slice());
    matrix
}
