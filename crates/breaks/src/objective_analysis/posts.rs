//! How sure is an estimate, asked of fewer?
//!
//! The error of an estimate from all observations costs the square of their number. Places that lie close together share
//! what they need of the far ones: the estimates at a few posts around them, which know of all, and the observations near
//! by themselves. Of all linear estimates from these the best is taken. Its error is a little more than that of the
//! estimate from all, never less, and only to the second order of how far its weights are from theirs: as little as in
//! kriging with slightly wrong weights (Chilès & Delfiner 1999, from memory).

use multiversion::multiversion;
use nalgebra::{Cholesky, DMatrix, DVector, DVectorView, Dyn};

use super::{Estimate, ObjectiveAnalysis, between};

/// A place where the estimate is known with all of its weights.
#[derive(Clone, Debug)]
pub(crate) struct Post {
    /// Covariances of the water's temperature there with the observations, °C².
    covariances_c2: DVector<f64>,
    /// Weights of the observations.
    weights: DVector<f64>,
}

/// Error variance that is added to each post, as a part of the water's variance: posts that tell nearly the same stay apart
/// for numbers of sixteen digits, and nothing is estimated that well.
const POST_ERROR: f64 = 1e-9;

/// Targets that are worked on at once.
const LANES: usize = 16;
type Lanes = [f64; LANES];

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

    /// Estimates at places close together, from all observations; their errors are those from the posts and the
    /// observations `near`. With them goes a row of covariances with the observations for each place, °C². `None` where
    /// posts and near observations determine nothing.
    pub(crate) fn estimates_among(
        &self,
        targets_m: &[(f64, f64)],
        posts: &[&Post],
        near: &[usize],
    ) -> Option<(Vec<Estimate>, DMatrix<f64>)> {
        let covariances_c2 = between(&self.covariance, targets_m, &self.places_m);
        let factor = self.among(posts, near)?;
        let columns = posts.iter().map(|post| &post.weights).chain([&self.weights, &self.ones_solved]);
        let columns = columns.flat_map(|column| column.iter().copied());
        let sums = &covariances_c2 * DMatrix::from_iterator(self.places_m.len(), posts.len() + 2, columns);
        let known = (0..posts.len()).map(|post| sums.column(post));
        let known: Vec<_> = known.chain(near.iter().map(|&block| covariances_c2.column(block))).collect();
        let explained_c2 = explained_c2(&factor, &known);
        let estimates =
            self.estimates_of(sums.column(posts.len()), sums.column(posts.len() + 1), &explained_c2);
        Some((estimates, covariances_c2))
    }

    /// The factor of the covariance of the estimates at posts and of near observations with each other.
    fn among(&self, posts: &[&Post], near: &[usize]) -> Option<Cholesky<f64, Dyn>> {
        let near_m: Vec<(f64, f64)> = near.iter().map(|&block| self.places_m[block]).collect();
        let of_near = between(&self.covariance, &near_m, &near_m);
        let q = posts.len();
        // only what is not above the diagonal is looked at
        let mut matrix = DMatrix::zeros(q + near.len(), q + near.len());
        for (j, post) in posts.iter().enumerate() {
            for (i, other) in posts.iter().enumerate().skip(j) {
                matrix[(i, j)] = post.covariances_c2.dot(&other.weights);
            }
            matrix[(j, j)] += POST_ERROR * self.covariance.variance_c2;
            for (i, &block) in near.iter().enumerate() {
                matrix[(q + i, j)] = post.covariances_c2[block];
            }
        }
        matrix.view_mut((q, q), (near.len(), near.len())).copy_from(&of_near);
        for i in q..matrix.nrows() {
            matrix[(i, i)] += self.noise_variance_c2;
        }
        Cholesky::new(matrix)
    }
}

/// The part of the variance of targets that is explained by what has this covariance with each other, and these with the
/// targets, °C².
fn explained_c2(factor: &Cholesky<f64, Dyn>, with_targets_c2: &[DVectorView<f64>]) -> Vec<f64> {
    let targets = with_targets_c2.first().map_or(0, DVectorView::len);
    // row by row
    let upper = factor.l_dirty().transpose();
    let mut explained_c2 = Vec::with_capacity(targets);
    let mut lanes = vec![[0.0; LANES]; with_targets_c2.len()];
    for from in (0..targets).step_by(LANES) {
        let n = LANES.min(targets - from);
        for (lanes, column) in lanes.iter_mut().zip(with_targets_c2) {
            lanes[..n].copy_from_slice(&column.as_slice()[from..from + n]);
        }
        explained_c2.extend_from_slice(&whitened_squares(upper.as_slice(), &mut lanes)[..n]);
    }
    explained_c2
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
