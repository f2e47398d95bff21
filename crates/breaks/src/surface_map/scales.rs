//! Over which length does the water vary, and by how much?
//!
//! The covariance of greatest marginal likelihood on a coarse grid of shapes, lengths and ratios of noise to signal;
//! for each of these the best variance has a closed form. The likelihood is the product of those of compact groups
//! of blocks, as if groups were independent (composite likelihood; Caragea & Smith 2007, from memory): its cost
//! grows with the track and not with its third power. Groups are compact in space and not in time, so that two passes
//! over one place meet in a group.

use nalgebra::{Cholesky, DMatrix, DVector};

use crate::covariance::{Covariance, CovarianceShape};
use crate::objective_analysis::{Observation, between};

/// Shapes tried. Smoother ones overshoot beside a break.
const SHAPES: [CovarianceShape; 2] = [CovarianceShape::Exponential, CovarianceShape::Matern32];
/// Ratio of one length tried to the next.
const LENGTH_RATIO: f64 = 1.6;
/// Shortest length tried, in least sizes of a block: less is no different from noise.
const BLOCKS_PER_LENGTH: f64 = 2.0;
/// Variances of the noise tried, as parts of the variance of the water.
const NOISE_RATIOS: [f64; 6] = [0.000_3, 0.003, 0.01, 0.03, 0.1, 0.3];
/// Most blocks in a group.
const GROUP_BLOCKS: usize = 90;
/// Least variance of the water, °C²: a hundredth of a degree, which no sensor aboard shows.
const LEAST_VARIANCE_C2: f64 = 1e-4;

/// The covariance of the water and the variance of the noise, °C²; `None` where the water does not vary.
pub(super) fn estimate(blocks: &[Observation], block_m: f64) -> Option<(Covariance, f64)> {
    let mean_c = blocks.iter().map(|b| b.temp_c).sum::<f64>() / blocks.len() as f64;
    let groups = groups(blocks.to_vec());
    let longest_m = extent_m(blocks, |b| b.east_m).max(extent_m(blocks, |b| b.north_m));
    let lengths_m = || {
        std::iter::successors(Some(BLOCKS_PER_LENGTH * block_m), |length_m| Some(LENGTH_RATIO * length_m))
            .take_while(|&length_m| length_m <= longest_m)
    };
    SHAPES
        .iter()
        .flat_map(|&shape| lengths_m().map(move |length_m| Covariance { shape, variance_c2: 1.0, length_m }))
        .flat_map(|unit| {
            // the same for all of the noises
            let groups: Vec<Group> = groups.iter().map(|blocks| Group::new(blocks, unit, mean_c)).collect();
            NOISE_RATIOS.map(|noise_ratio| (unit, noise_ratio, profile_likelihood(&groups, noise_ratio)))
        })
        .filter_map(|(unit, noise_ratio, likelihood)| {
            let (likelihood, variance_c2) = likelihood?;
            Some((likelihood, Covariance { variance_c2, ..unit }, noise_ratio * variance_c2))
        })
        .filter(|(_, covariance, _)| covariance.variance_c2 >= LEAST_VARIANCE_C2)
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, covariance, noise_variance_c2)| (covariance, noise_variance_c2))
}

/// A group under a covariance of variance one, without noise.
struct Group {
    correlations: DMatrix<f64>,
    /// Temperatures less the mean, °C.
    off_mean_c: DVector<f64>,
}

impl Group {
    fn new(blocks: &[Observation], unit: Covariance, mean_c: f64) -> Self {
        let places_m: Vec<(f64, f64)> = blocks.iter().map(|b| (b.east_m, b.north_m)).collect();
        let off_mean_c = DVector::from_iterator(blocks.len(), blocks.iter().map(|b| b.temp_c - mean_c));
        Self { correlations: between(&unit, &places_m, &places_m), off_mean_c }
    }
}

/// Log likelihood at the best variance, up to a constant, and that variance.
fn profile_likelihood(groups: &[Group], noise_ratio: f64) -> Option<(f64, f64)> {
    let (mut misfit, mut log_determinant, mut n) = (0.0, 0.0, 0.0);
    for group in groups {
        let mut matrix = group.correlations.clone();
        for i in 0..matrix.nrows() {
            matrix[(i, i)] += noise_ratio;
        }
        let factor = Cholesky::new(matrix)?;
        let triangle = factor.l_dirty();
        let mut whitened = group.off_mean_c.clone();
        if !triangle.solve_lower_triangular_mut(&mut whitened) {
            return None;
        }
        misfit += whitened.norm_squared();
        log_determinant += 2.0 * triangle.diagonal().iter().map(|v| v.ln()).sum::<f64>();
        n += group.off_mean_c.len() as f64;
    }
    let variance_c2 = misfit / n;
    (variance_c2 > 0.0).then(|| (-0.5 * (n * variance_c2.ln() + log_determinant), variance_c2))
}

/// Halves across the longer side until groups are small.
fn groups(mut blocks: Vec<Observation>) -> Vec<Vec<Observation>> {
    if blocks.len() <= GROUP_BLOCKS {
        return vec![blocks];
    }
    if extent_m(&blocks, |b| b.east_m) >= extent_m(&blocks, |b| b.north_m) {
        blocks.sort_by(|a, b| a.east_m.total_cmp(&b.east_m));
    } else {
        blocks.sort_by(|a, b| a.north_m.total_cmp(&b.north_m));
    }
    let second = blocks.split_off(blocks.len() / 2);
    [groups(blocks), groups(second)].concat()
}

fn extent_m(blocks: &[Observation], value: fn(&Observation) -> f64) -> f64 {
    let values = || blocks.iter().map(value);
    values().fold(f64::NEG_INFINITY, f64::max) - values().fold(f64::INFINITY, f64::min)
}
