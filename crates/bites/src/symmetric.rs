//! What is the solution of a system of some tens of symmetric equations, and how do its parts scatter?
//!
//! Matrices lie column by column, of which only what is on the diagonal and below counts: columns are taken off one another from
//! there down, without gaps in memory. Rows and columns are a whole number of fours, which are worked on together; what that is
//! more than was asked for has ones on its diagonal and zeros elsewhere.

use multiversion::multiversion;

/// Rows that are worked on side by side, and columns that are taken off at once.
const FOUR: usize = 4;
type Four = [f64; FOUR];

/// A symmetric matrix.
pub(crate) struct Symmetric {
    /// Fours in a row or column.
    fours: usize,
    entries: Vec<Four>,
}

impl Symmetric {
    pub fn zeros(size: usize) -> Self {
        let fours = size.div_ceil(FOUR);
        let mut zeros = Self { fours, entries: vec![[0.0; FOUR]; fours * fours * FOUR] };
        (size..fours * FOUR).for_each(|k| zeros.add(k, k, 1.0));
        zeros
    }

    /// Adds to an entry on the diagonal or below: `row` is not before `column`.
    pub fn add(&mut self, row: usize, column: usize, value: f64) {
        self.entries[column * self.fours + row / FOUR][row % FOUR] += value;
    }

    /// A column from a four of rows on.
    #[inline]
    fn column(&self, k: usize, from: usize) -> &[Four] {
        &self.entries[k * self.fours + from..(k + 1) * self.fours]
    }

    /// The factor `L` of `L Lᵀ`; `None` of a matrix that is not positive.
    pub fn cholesky(mut self) -> Option<Cholesky> {
        factorise(&mut self.entries, self.fours).then_some(Cholesky(self))
    }
}

/// Leaves the factor; whether there is one.
#[multiversion(targets("x86_64+avx+avx2"))]
fn factorise(entries: &mut [Four], fours: usize) -> bool {
    for k in 0..fours * FOUR {
        let (first, at) = (k / FOUR, k % FOUR);
        let (before, from_here) = entries.split_at_mut(k * fours);
        let column = &mut from_here[first..fours];
        // what of earlier columns stands beside it, four by four and the rest
        let (earlier, beside) = before.split_at((k - at) * fours);
        for four in earlier.chunks_exact(FOUR * fours) {
            let (a, four) = four.split_at(fours);
            let (b, four) = four.split_at(fours);
            let (c, d) = four.split_at(fours);
            let (a, b, c, d) = (&a[first..], &b[first..], &c[first..], &d[first..]);
            take_off_four(column, [a[0][at], b[0][at], c[0][at], d[0][at]], a, b, c, d);
        }
        for other in beside.chunks_exact(fours) {
            take_off(column, other[first][at], &other[first..]);
        }
        for (row, entry) in column[0].iter_mut().enumerate() {
            if row < at {
                *entry = 0.0;
            }
        }
        let pivot = column[0][at];
        if pivot.is_nan() || pivot <= 0.0 {
            return false;
        }
        let part = pivot.sqrt().recip();
        for entries in column {
            for entry in entries {
                *entry *= part;
            }
        }
    }
    true
}

/// Takes a multiple of another column off one.
#[inline]
fn take_off(column: &mut [Four], factor: f64, other: &[Four]) {
    for (entries, other) in column.iter_mut().zip(other) {
        for row in 0..FOUR {
            entries[row] -= factor * other[row];
        }
    }
}

/// Takes multiples of four other columns off one: it is read and written once for all of them.
#[inline]
fn take_off_four(column: &mut [Four], factors: Four, a: &[Four], b: &[Four], c: &[Four], d: &[Four]) {
    for ((entries, (a, b)), (c, d)) in column.iter_mut().zip(a.iter().zip(b)).zip(c.iter().zip(d)) {
        for row in 0..FOUR {
            entries[row] -=
                (factors[0] * a[row] + factors[1] * b[row]) + (factors[2] * c[row] + factors[3] * d[row]);
        }
    }
}

/// The lower triangular factor of a positive matrix.
pub(crate) struct Cholesky(Symmetric);

impl Cholesky {
    /// Of a matrix without rows.
    pub fn of_nothing() -> Self {
        Self(Symmetric::zeros(0))
    }

    /// A vector of as many fours.
    fn padded(&self, vector: &[f64]) -> Vec<Four> {
        let mut padded = vec![[0.0; FOUR]; self.0.fours];
        padded.as_flattened_mut()[..vector.len()].copy_from_slice(vector);
        padded
    }

    /// From the right side of the equations to their solution.
    pub fn solve(&self, right: &mut [f64]) {
        let mut solution = self.padded(right);
        forward(&self.0, 0, &mut solution);
        for k in (0..self.0.fours * FOUR).rev() {
            let (first, at) = (k / FOUR, k % FOUR);
            let column = self.0.column(k, first);
            // above its diagonal the column is zero, and what is on it is not known yet
            let own = std::mem::take(&mut solution[first][at]);
            solution[first][at] = (own - dot(column, &solution[first..])) / column[0][at];
        }
        right.copy_from_slice(&solution.as_flattened()[..right.len()]);
    }

    /// `vᵀ A⁻¹ v`: the variance of a combination, where the matrix is the inverse of a covariance.
    pub fn square_by_inverse(&self, v: &[f64]) -> f64 {
        let mut v = self.padded(v);
        forward(&self.0, 0, &mut v);
        dot(&v, &v)
    }

    /// The inverse of the factor.
    pub fn inverse_of_factor(&self) -> InverseFactor {
        let fours = self.0.fours;
        let mut inverse = Symmetric { fours, entries: vec![[0.0; FOUR]; fours * fours * FOUR] };
        invert(&self.0, &mut inverse.entries);
        InverseFactor(inverse)
    }
}

/// Solves for each unit vector.
#[multiversion(targets("x86_64+avx+avx2"))]
fn invert(factor: &Symmetric, inverse: &mut [Four]) {
    for (k, column) in inverse.chunks_mut(factor.fours.max(1)).enumerate() {
        column[k / FOUR][k % FOUR] = 1.0;
        forward(factor, k / FOUR, column);
    }
}

/// From the right side of `L x = right` to `x`, from a four of rows on before which all is zero.
#[inline]
fn forward(factor: &Symmetric, from: usize, right: &mut [Four]) {
    for at in from..factor.fours {
        let (first, second) = (factor.column(FOUR * at, at), factor.column(FOUR * at + 1, at));
        let (third, fourth) = (factor.column(FOUR * at + 2, at), factor.column(FOUR * at + 3, at));
        let corner = [first[0], second[0], third[0], fourth[0]];
        let (own, rest) = right[at..].split_at_mut(1);
        let known = &mut own[0];
        for k in 0..FOUR {
            known[k] /= corner[k][k];
            for row in k + 1..FOUR {
                known[row] -= known[k] * corner[k][row];
            }
        }
        take_off_four(rest, *known, &first[1..], &second[1..], &third[1..], &fourth[1..]);
    }
}

/// Scalar product.
fn dot(a: &[Four], b: &[Four]) -> f64 {
    let mut sums = [0.0; FOUR];
    for (a, b) in a.iter().zip(b) {
        for row in 0..FOUR {
            sums[row] += a[row] * b[row];
        }
    }
    sums.iter().sum()
}

/// The inverse of a lower triangular factor.
pub(crate) struct InverseFactor(Symmetric);

impl InverseFactor {
    /// An entry of the inverse of the whole matrix; `row` is not before `column`.
    pub fn of_squares(&self, row: usize, column: usize) -> f64 {
        let Symmetric { fours, entries } = &self.0;
        // above its diagonal a column is zero
        let below = |column: usize| &entries[column * fours + row / FOUR..(column + 1) * fours];
        dot(below(row), below(column))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn equations_are_solved_and_their_inverse_is_told() {
        let n = 11;
        let entry = |i: usize, j: usize| ((i * j + i + j) as f64).sin() + if i == j { n as f64 } else { 0.0 };
        let mut matrix = Symmetric::zeros(n);
        (0..n).for_each(|i| (0..=i).for_each(|j| matrix.add(i, j, entry(i, j))));
        let want: Vec<f64> = (0..n).map(|i| 1.0 + i as f64 * 0.3).collect();
        let symmetric = |i: usize, j: usize| entry(i.max(j), i.min(j));
        let mut got: Vec<f64> = (0..n).map(|i| (0..n).map(|j| symmetric(i, j) * want[j]).sum()).collect();
        let cholesky = matrix.cholesky().unwrap();
        cholesky.solve(&mut got);
        assert!(got.iter().zip(&want).all(|(got, want)| (got - want).abs() < 1e-12), "{got:?}");
        let inverse = cholesky.inverse_of_factor();
        for i in 0..n {
            let mut column = vec![0.0; n];
            column[i] = 1.0;
            assert!((cholesky.square_by_inverse(&column) - inverse.of_squares(i, i)).abs() < 1e-12);
            cholesky.solve(&mut column);
            (0..=i).for_each(|j| assert!((inverse.of_squares(i, j) - column[j]).abs() < 1e-12));
        }
    }

    #[test]
    fn a_matrix_that_is_not_positive_has_no_factor() {
        let mut matrix = Symmetric::zeros(2);
        matrix.add(0, 0, 1.0);
        matrix.add(1, 0, 2.0);
        matrix.add(1, 1, 3.0);
        assert!(matrix.cholesky().is_none() && Symmetric::zeros(1).cholesky().is_none());
    }
}
