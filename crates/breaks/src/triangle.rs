//! What is the triangle of a large symmetric matrix, and its inverse?
//!
//! Block by block, so that nearly all of the work is in products of matrices (Golub & Van Loan 2013, section 4.2, from
//! memory).

use nalgebra::{Cholesky, DMatrix, Dyn};

/// Rows that are worked on at once.
pub(crate) const ROWS_AT_ONCE: usize = 32;

/// The Cholesky factor of a symmetric matrix; `None` where it is not positive definite.
pub(crate) fn factor(mut matrix: DMatrix<f64>) -> Option<Cholesky<f64, Dyn>> {
    let n = matrix.nrows();
    for from in (0..n).step_by(ROWS_AT_ONCE) {
        let to = (from + ROWS_AT_ONCE).min(n);
        let (done, mut panel) = matrix.columns_range_pair_mut(0..from, from..to);
        let done = done.rows(from, n - from);
        let mut panel = panel.rows_mut(from, n - from);
        panel.gemm(-1.0, &done, &done.rows(0, to - from).transpose(), 1.0);
        let own = Cholesky::new(panel.rows(0, to - from).into_owned())?.unpack();
        let below = panel.rows(to - from, n - to) * lower_inverse(&own).transpose();
        panel.rows_mut(0, to - from).copy_from(&own);
        panel.rows_mut(to - from, n - to).copy_from(&below);
    }
    Some(Cholesky::pack_dirty(matrix))
}

/// The inverse of the lower triangle of a matrix. What stands above it is not looked at.
pub(crate) fn inverse(lower: &DMatrix<f64>) -> DMatrix<f64> {
    let n = lower.nrows();
    let mut inverse = DMatrix::zeros(n, n);
    for from in (0..n).step_by(ROWS_AT_ONCE) {
        let to = (from + ROWS_AT_ONCE).min(n);
        let own = lower_inverse(&lower.view((from, from), (to - from, to - from)).lower_triangle());
        for start in (0..from).step_by(ROWS_AT_ONCE) {
            // above its diagonal the inverse is nothing
            let before = lower.view((from, start), (to - from, from - start))
                * inverse.view((start, start), (from - start, ROWS_AT_ONCE));
            inverse.view_mut((from, start), (to - from, ROWS_AT_ONCE)).gemm(-1.0, &own, &before, 0.0);
        }
        inverse.view_mut((from, from), (to - from, to - from)).copy_from(&own);
    }
    inverse
}

/// The inverse of a symmetric matrix, from that of its lower factor.
pub(crate) fn whole_inverse(inverse_lower: &DMatrix<f64>) -> DMatrix<f64> {
    let n = inverse_lower.nrows();
    let mut whole = DMatrix::zeros(n, n);
    for from in (0..n).step_by(ROWS_AT_ONCE) {
        let to = (from + ROWS_AT_ONCE).min(n);
        // above its diagonal the triangle is nothing
        let own = inverse_lower.view((from, from), (n - from, to - from)).transpose();
        let rows = own * inverse_lower.view((from, 0), (n - from, to));
        whole.view_mut((0, from), (to, to - from)).copy_from(&rows.transpose());
        whole.view_mut((from, 0), (to - from, to)).copy_from(&rows);
    }
    whole
}

/// The inverse of a small lower triangle, without zeros on its diagonal as those of Cholesky are.
fn lower_inverse(lower: &DMatrix<f64>) -> DMatrix<f64> {
    let mut inverse = DMatrix::identity(lower.nrows(), lower.nrows());
    let _ = lower.solve_lower_triangular_mut(&mut inverse);
    inverse
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(16))]
        #[test]
        fn factor_and_inverse_give_the_matrix_back(n in 1_usize..200, seed in any::<u64>()) {
            // any matrix times its transpose, and some more on the diagonal
            let mut state = seed;
            let any = DMatrix::from_fn(n, n, |_, _| {
                state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
                (state >> 11) as f64 / (1_u64 << 53) as f64 - 0.5
            });
            let matrix = &any * any.transpose() + DMatrix::identity(n, n);
            let factor = factor(matrix.clone()).unwrap();
            let lower = factor.l();
            let whole = whole_inverse(&inverse(factor.l_dirty()));
            prop_assert!((whole * &matrix - DMatrix::identity(n, n)).amax() <= 1e-11);
            prop_assert!((&lower * lower.transpose() - &matrix).amax() <= 1e-11);
            prop_assert!((inverse(factor.l_dirty()) * &lower - DMatrix::identity(n, n)).amax() <= 1e-11);
            let plain = Cholesky::new(matrix).unwrap().l();
            prop_assert!((plain - lower).amax() <= 1e-11);
        }
    }

    #[test]
    fn what_is_not_positive_definite_has_no_factor() {
        let mut matrix = DMatrix::<f64>::identity(150, 150);
        matrix[(140, 140)] = -1.0;
        assert!(factor(matrix).is_none());
    }
}
