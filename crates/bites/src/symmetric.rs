//! What is the solution of a system of some tens of symmetric equations, and how do its parts scatter?
//!
//! Matrices lie column by column, of which only what is on the diagonal and below counts: columns are taken off one another from
//! there down, without gaps in memory.

/// A symmetric matrix.
pub(crate) struct Symmetric {
    size: usize,
    entries: Vec<f64>,
}

impl Symmetric {
    pub fn zeros(size: usize) -> Self {
        Self { size, entries: vec![0.0; size * size] }
    }

    /// Adds to an entry on the diagonal or below: `row` is not before `column`.
    pub fn add(&mut self, row: usize, column: usize, value: f64) {
        self.entries[column * self.size + row] += value;
    }

    /// The factor `L` of `L Lᵀ`; `None` of a matrix that is not positive.
    pub fn cholesky(mut self) -> Option<Cholesky> {
        let n = self.size;
        for k in 0..n {
            let (before, from_here) = self.entries.split_at_mut(k * n);
            let column = &mut from_here[k..n];
            // what of earlier columns stands beside it
            let earlier = |m: usize| &before[m * n + k..(m + 1) * n];
            let fours = k - k % 4;
            for m in (0..fours).step_by(4) {
                let four = [m, m + 1, m + 2, m + 3].map(earlier);
                take_off_four(column, four.map(|other| other[0]), four);
            }
            (fours..k).map(earlier).for_each(|other| take_off(column, other[0], other));
            let pivot = column[0];
            if pivot.is_nan() || pivot <= 0.0 {
                return None;
            }
            let part = pivot.sqrt().recip();
            for entry in column {
                *entry *= part;
            }
        }
        Some(Cholesky(self))
    }
}

/// Takes a multiple of another column off one.
fn take_off(column: &mut [f64], factor: f64, other: &[f64]) {
    for (entry, other) in column.iter_mut().zip(other) {
        *entry -= factor * other;
    }
}

/// Takes multiples of four other columns off one: it is read and written once for all of them.
fn take_off_four(column: &mut [f64], factors: [f64; 4], others: [&[f64]; 4]) {
    let n = column.len();
    let [a, b, c, d] = others.map(|other| &other[..n]);
    for (row, entry) in column.iter_mut().enumerate() {
        *entry -= (factors[0] * a[row] + factors[1] * b[row]) + (factors[2] * c[row] + factors[3] * d[row]);
    }
}

/// The lower triangular factor of a positive matrix.
pub(crate) struct Cholesky(Symmetric);

impl Cholesky {
    /// Of a matrix without rows.
    pub fn of_nothing() -> Self {
        Self(Symmetric::zeros(0))
    }

    /// A column from a row on.
    fn column(&self, k: usize, from: usize) -> &[f64] {
        let Symmetric { size, entries } = &self.0;
        &entries[k * size + from..(k + 1) * size]
    }

    /// From the right side of `L x = right` to `x`, from a row on before which all is zero.
    fn forward(&self, from: usize, right: &mut [f64]) {
        let n = self.0.size;
        let fours = n - (n - from) % 4;
        let solve = |right: &mut [f64], k: usize, up_to: usize| {
            let column = self.column(k, k);
            right[k] /= column[0];
            let known = right[k];
            take_off(&mut right[k + 1..up_to], known, &column[1..up_to - k]);
        };
        for k in (from..fours).step_by(4) {
            (k..k + 4).for_each(|own| solve(right, own, k + 4));
            let (known, rest) = right.split_at_mut(k + 4);
            let known = [k, k + 1, k + 2, k + 3].map(|k| known[k]);
            take_off_four(rest, known, [k, k + 1, k + 2, k + 3].map(|other| self.column(other, k + 4)));
        }
        (fours..n).for_each(|k| solve(right, k, n));
    }

    /// From the right side of the equations to their solution.
    pub fn solve(&self, right: &mut [f64]) {
        self.forward(0, right);
        for k in (0..self.0.size).rev() {
            let column = self.column(k, k);
            let known: f64 = column[1..].iter().zip(&right[k + 1..]).map(|(a, b)| a * b).sum();
            right[k] = (right[k] - known) / column[0];
        }
    }

    /// `vᵀ A⁻¹ v`: the variance of a combination, where the matrix is the inverse of a covariance.
    pub fn square_by_inverse(&self, mut v: Vec<f64>) -> f64 {
        self.forward(0, &mut v);
        v.iter().map(|part| part * part).sum()
    }

    /// The inverse of the factor.
    pub fn inverse_of_factor(&self) -> InverseFactor {
        let size = self.0.size;
        let mut inverse = Symmetric::zeros(size);
        for (k, column) in inverse.entries.chunks_mut(size.max(1)).enumerate() {
            column[k] = 1.0;
            self.forward(k, column);
        }
        InverseFactor(inverse)
    }
}

/// The inverse of a lower triangular factor.
pub(crate) struct InverseFactor(Symmetric);

impl InverseFactor {
    /// An entry of the inverse of the whole matrix; `row` is not before `column`.
    pub fn of_squares(&self, row: usize, column: usize) -> f64 {
        let Symmetric { size, entries } = &self.0;
        let below = |column: usize| &entries[column * size + row..(column + 1) * size];
        below(row).iter().zip(below(column)).map(|(a, b)| a * b).sum()
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
            assert!((cholesky.square_by_inverse(column.clone()) - inverse.of_squares(i, i)).abs() < 1e-12);
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
