//! How sure is an estimate, asked of fewer?
//!
//! The error of an estimate from all observations costs the square of their number. Places that lie close together share
//! what they need of the far ones: the estimates at a few posts around them, which know of all, and the observations near
//! by themselves. Of all linear estimates from these the best is taken. Its error is a little more than that of the
//! estimate from all, never less, and only to the second order of how far its weights are from theirs: as little as in
//! kriging with slightly wrong weights (Chilès & Delfiner 1999, from memory).

use multiversion::multiversion;
use nalgebra::{DMatrix, DVector};

use super::{Estimate, ObjectiveAnalysis, between};
use crate::covariance::{LANES, Lanes};

/// A place where the estimate is known with all of its weights.
#[derive(Clone, Debug)]
pub(crate) struct Post {
    /// Covariances of the water's temperature there with the observations, °C².
    covariances_c2: DVector<f64>,
    /// Weights of the observations.
    weights: DVector<f64>,
}

/// What is known of places close together: posts around them, which know of all observations, and the observations near by.
#[derive(Clone, Debug)]
pub(crate) struct Among {
    near: Vec<usize>,
    /// The factor of the covariance of posts and near observations with each other, a row in each column.
    rows: DMatrix<f64>,
}

/// Error variance that is added to each post, as a part of the water's variance: posts that tell nearly the same stay apart
/// for numbers of sixteen digits, and nothing is estimated that well.
const POST_ERROR: f64 = 1e-9;

impl ObjectiveAnalysis {
    /// Posts at places, each given as east and north, m.
    pub(crate) fn posts(&self, places_m: &[(f64, f64)]) -> Vec<Post> {
        let covariances_c2 = between(&self.covariance, &self.places_m, places_m);
        let weights = self.precision() * &covariances_c2;
        let columns = covariances_c2.column_iter().zip(weights.column_iter());
        columns
            .map(|(covariances_c2, weights)| Post {
                covariances_c2: covariances_c2.into_owned(),
                weights: weights.into_owned(),
            })
            .collect()
    }

    /// Posts and the observations `near` together; `None` where they determine nothing.
    pub(crate) fn among(&self, posts: &[&Post], near: Vec<usize>) -> Option<Among> {
        let n = posts.len() + near.len();
        // only what is not above the diagonal is looked at
        let mut matrix = DMatrix::zeros(n, n);
        for (j, post) in posts.iter().enumerate() {
            for (i, other) in posts.iter().enumerate().skip(j) {
                matrix[(i, j)] = post.covariances_c2.dot(&other.weights);
            }
            matrix[(j, j)] += POST_ERROR * self.covariance.variance_c2;
            for (i, &block) in (posts.len()..).zip(&near) {
                matrix[(i, j)] = post.covariances_c2[block];
            }
        }
        for (i, &block) in near.iter().enumerate() {
            let of_block = self.matrix_c2.column(block);
            for (to_near, &other) in
                matrix.column_mut(posts.len() + i).iter_mut().skip(posts.len() + i).zip(&near[i..])
            {
                *to_near = of_block[other];
            }
        }
        factor(matrix.as_mut_slice(), n)?;
        Some(Among { near, rows: matrix.transpose() })
    }

    /// Covariances of places close together with each observation, °C².
    pub(crate) fn to_observations_c2(&self, targets_m: &[(f64, f64); LANES], into: &mut [Lanes]) {
        self.places.distances_of_m(targets_m, into);
        self.covariance.of_each(into.as_flattened_mut());
    }

    /// Estimates at places from their covariances with all observations; their errors are those from what is known
    /// `among` the posts and the observations near by.
    pub(crate) fn estimates_among(
        &self,
        to_observations_c2: &[Lanes],
        among: &Among,
        posts: &[&Post],
    ) -> Vec<Estimate> {
        let of_posts = posts.iter().map(|post| &post.weights);
        let weights = of_posts.chain([&self.weights, &self.ones_solved]).map(DVector::as_slice);
        let mut columns = sums(to_observations_c2, &weights.collect::<Vec<_>>());
        let of_all = columns.split_off(posts.len());
        columns.extend(among.near.iter().map(|&block| to_observations_c2[block]));
        let explained_c2 = whitened_squares(among.rows.as_slice(), &mut columns);
        self.estimates_of(&of_all[0], &of_all[1], &explained_c2)
    }
}

/// Sums of rows, each with every list of weights.
// wider lanes where the machine has them; each lane does the same on every machine
#[multiversion(targets("x86_64+avx+avx2"))]
fn sums(rows: &[Lanes], weights: &[&[f64]]) -> Vec<Lanes> {
    let mut sums = vec![[0.0; LANES]; weights.len()];
    for (sums, weights) in sums.chunks_mut(2).zip(weights.chunks(2)) {
        let (first, second) = (weights[0], weights[weights.len() - 1]);
        let (mut of_first, mut of_second) = ([0.0; LANES], [0.0; LANES]);
        for ((row, first), second) in rows.iter().zip(first).zip(second) {
            for k in 0..LANES {
                of_first[k] += first * row[k];
                of_second[k] += second * row[k];
            }
        }
        sums[0] = of_first;
        if let Some(sum) = sums.get_mut(1) {
            *sum = of_second;
        }
    }
    sums
}

/// Squared length of what a triangle, given row by row, makes of columns.
// wider lanes where the machine has them; each lane does the same on every machine
#[multiversion(targets("x86_64+avx+avx2"))]
fn whitened_squares(rows: &[f64], columns: &mut [Lanes]) -> Lanes {
    let mut squares = [0.0; LANES];
    for (i, row) in rows.chunks_exact(columns.len()).enumerate() {
        let (done, rest) = columns.split_at_mut(i);
        let mut white = rest[0];
        for (part, column) in row.iter().zip(done.iter()) {
            for k in 0..LANES {
                white[k] -= part * column[k];
            }
        }
        let part = row[i].recip();
        for k in 0..LANES {
            white[k] *= part;
            squares[k] += white[k] * white[k];
        }
        rest[0] = white;
    }
    squares
}

/// The Cholesky factor of a small matrix, column by column, four of them at a time, in its place. `None` where there is
/// none. What stands above the diagonal is not looked at.
// wider lanes where the machine has them; each lane does the same on every machine
#[multiversion(targets("x86_64+avx+avx2"))]
fn factor(matrix: &mut [f64], rows: usize) -> Option<()> {
    for j in 0..rows {
        let (done, rest) = matrix.split_at_mut(j * rows);
        let column = &mut rest[j..rows];
        let mut fours = done.chunks_exact(4 * rows);
        for four in fours.by_ref() {
            let (a, b) = (&four[j..rows], &four[rows + j..2 * rows]);
            let (c, d) = (&four[2 * rows + j..3 * rows], &four[3 * rows + j..4 * rows]);
            let [of_a, of_b, of_c, of_d] = [a[0], b[0], c[0], d[0]];
            for ((((x, a), b), c), d) in column.iter_mut().zip(a).zip(b).zip(c).zip(d) {
                *x -= (of_a * a + of_b * b) + (of_c * c + of_d * d);
            }
        }
        for one in fours.remainder().chunks_exact(rows) {
            let of_one = one[j];
            for (x, one) in column.iter_mut().zip(&one[j..]) {
                *x -= of_one * one;
            }
        }
        if column[0].is_nan() || column[0] <= 0.0 {
            return None;
        }
        let part = column[0].sqrt().recip();
        for x in column {
            *x *= part;
        }
    }
    Some(())
}
