//! Over which length does the water vary, and by how much?
//!
//! The covariance of greatest marginal likelihood on a coarse grid of shapes, lengths and ratios of noise to signal;
//! for each of these the best variance has a closed form. The likelihood is the product of those of compact groups
//! of blocks, as if groups were independent (composite likelihood; Caragea & Smith 2007, from memory): its cost
//! grows with the track and not with its third power. Groups are compact in space and not in time, so that two passes
//! over one place meet in a group.

use multiversion::multiversion;

use crate::covariance::{Covariance, CovarianceShape};
use crate::objective_analysis::Observation;

/// Shapes tried. Smoother ones overshoot beside a break.
const SHAPES: [CovarianceShape; 2] = [CovarianceShape::Exponential, CovarianceShape::Matern32];
/// Ratio of one length tried to the next.
const LENGTH_RATIO: f64 = 1.6;
/// Shortest length tried, in least sizes of a block: less is no different from noise.
const BLOCKS_PER_LENGTH: f64 = 2.0;
/// Length that is tried first, as an index: some 650 m, at which most water is more likely than at the shortest ones.
const LIKELY_LENGTH: usize = 4;
/// From there to both sides lengths are tried until the logarithm of the likelihood is so far below its top; there are tops
/// beside the highest one, but in ten invented trips no dip between two of them was deeper than 5.
const DEEPEST_DIP: f64 = 20.0;
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
    let mut sides: Vec<SideBySide> =
        groups.chunks(LANES).map(|groups| SideBySide::new(groups, mean_c)).collect();
    let longest_m = extent_m(blocks, |b| b.east_m).max(extent_m(blocks, |b| b.north_m));
    let lengths_m: Vec<f64> =
        std::iter::successors(Some(BLOCKS_PER_LENGTH * block_m), |length_m| Some(LENGTH_RATIO * length_m))
            .take_while(|&length_m| length_m <= longest_m)
            .collect();
    let (shorter_m, longer_m) = lengths_m.split_at(LIKELY_LENGTH.min(lengths_m.len()));
    let mut best: Option<(f64, Covariance, f64)> = None;
    for shape in SHAPES {
        let (mut top, mut likely_noise) = (f64::NEG_INFINITY, None);
        let ways: [&mut dyn Iterator<Item = &f64>; 2] = [&mut longer_m.iter(), &mut shorter_m.iter().rev()];
        for lengths_m in ways {
            let mut noise = likely_noise.unwrap_or(0);
            for &length_m in lengths_m {
                let unit = Covariance { shape, variance_c2: 1.0, length_m };
                for side in &mut sides {
                    side.correlate(&unit);
                }
                let found = best_noise(noise, |ratio| {
                    profile_likelihood(&mut sides, ratio)
                        .filter(|(_, variance_c2)| *variance_c2 >= LEAST_VARIANCE_C2)
                });
                let Some((index, likelihood, variance_c2)) = found else { continue };
                noise = index;
                likely_noise.get_or_insert(index);
                if best.is_none_or(|best| likelihood >= best.0) {
                    let noise_variance_c2 = NOISE_RATIOS[index] * variance_c2;
                    best = Some((likelihood, Covariance { variance_c2, ..unit }, noise_variance_c2));
                }
                top = top.max(likelihood);
                if likelihood < top - DEEPEST_DIP {
                    break;
                }
            }
        }
    }
    best.map(|(_, covariance, noise_variance_c2)| (covariance, noise_variance_c2))
}

/// The noise under which the likelihood is greatest, as an index of [`NOISE_RATIOS`], with what `of` says of it.
///
/// From a first guess upward or downward as long as it rises: it has one top, but for readings that are noise and nothing
/// else (there it had two, as high within 0.03, in 2 of 950 cases; in 212 of ten invented trips it had one). More noise
/// leaves less variance for the water, so that where one is too much the larger ones are.
fn best_noise(guess: usize, mut of: impl FnMut(f64) -> Option<(f64, f64)>) -> Option<(usize, f64, f64)> {
    let mut found = of(NOISE_RATIOS[guess]);
    let mut best = guess;
    while found.is_none() && best > 0 {
        best -= 1;
        found = of(NOISE_RATIOS[best]);
    }
    let mut found = found?;
    let start = best;
    let is_more_likely = |(likelihood, _): (f64, f64)| move |next: &(f64, f64)| next.0 > likelihood;
    while let Some(next) =
        NOISE_RATIOS.get(best + 1).and_then(|&ratio| of(ratio)).filter(is_more_likely(found))
    {
        (best, found) = (best + 1, next);
    }
    while best <= start
        && best > 0
        && let Some(next) = of(NOISE_RATIOS[best - 1]).filter(is_more_likely(found))
    {
        (best, found) = (best - 1, next);
    }
    Some((best, found.0, found.1))
}

/// Groups that are worked on at once, each number of theirs in a lane of its own.
const LANES: usize = 4;
type Lanes = [f64; LANES];

/// Groups under a covariance of variance one.
struct SideBySide {
    /// Rows of the triangles: an odd number, as one more row makes pairs of them. Where a group has no block for its
    /// last ones, a block without a temperature stands that is like no other.
    rows: usize,
    /// Such rows, of all groups.
    without_block: usize,
    /// Distances between the blocks of each group, m: row by row up to the diagonal.
    distances_m: Vec<Lanes>,
    /// Temperatures less the mean, °C.
    off_mean_c: Vec<Lanes>,
    /// Correlations of the blocks, as the distances.
    correlations: Vec<Lanes>,
    /// What [`whiten`] works on.
    triangles: Vec<Lanes>,
}

/// Farther than any water reaches, m.
const NOWHERE_M: f64 = 1e12;

impl SideBySide {
    fn new(groups: &[Vec<Observation>], mean_c: f64) -> Self {
        let rows = groups.iter().map(Vec::len).max().unwrap_or_default() | 1;
        let block = |row: usize| move |lane: usize| groups.get(lane).and_then(|blocks| blocks.get(row));
        let distance_m = |(row, column): (usize, usize)| {
            std::array::from_fn(|lane| match (block(row)(lane), block(column)(lane)) {
                (Some(a), Some(b)) => (a.east_m - b.east_m).hypot(a.north_m - b.north_m),
                _ if row == column => 0.0,
                _ => NOWHERE_M,
            })
        };
        let distances_m: Vec<Lanes> =
            (0..rows).flat_map(|row| (0..=row).map(move |column| (row, column))).map(distance_m).collect();
        let off_mean_c = |row: usize| {
            std::array::from_fn(|lane| {
                block(row)(lane).map_or(0.0, |block: &Observation| block.temp_c - mean_c)
            })
        };
        Self {
            rows,
            without_block: LANES * rows - groups.iter().map(Vec::len).sum::<usize>(),
            correlations: distances_m.clone(),
            triangles: Vec::with_capacity(distances_m.len() + rows + 1),
            off_mean_c: (0..rows).map(off_mean_c).collect(),
            distances_m,
        }
    }

    fn correlate(&mut self, unit: &Covariance) {
        self.correlations.copy_from_slice(&self.distances_m);
        unit.of_each(self.correlations.as_flattened_mut());
    }

    /// Squared length of the whitened temperatures of all groups, and the logarithm of the determinant of their covariance;
    /// `None` where that is not positive definite.
    fn misfit(&mut self, noise_ratio: f64) -> Option<(f64, f64)> {
        self.triangles.clear();
        self.triangles.extend_from_slice(&self.correlations);
        // the temperatures are one row more: what becomes of it is their whitened selves
        self.triangles.extend_from_slice(&self.off_mean_c);
        self.triangles.push([0.0; LANES]);
        let (squares, log_determinants) = whiten(&mut self.triangles, self.rows, noise_ratio)?;
        let of_no_block = self.without_block as f64 * (1.0 + noise_ratio).ln();
        Some((squares.iter().sum(), log_determinants.iter().sum::<f64>() - of_no_block))
    }
}

/// Log likelihood at the best variance, up to a constant, and that variance.
fn profile_likelihood(sides: &mut [SideBySide], noise_ratio: f64) -> Option<(f64, f64)> {
    let (mut misfit, mut log_determinant, mut n) = (0.0, 0.0, 0.0);
    for side in sides {
        let (squares, log) = side.misfit(noise_ratio)?;
        misfit += squares;
        log_determinant += log;
        n += (LANES * side.rows - side.without_block) as f64;
    }
    let variance_c2 = misfit / n;
    (variance_c2 > 0.0).then(|| (-0.5 * (n * variance_c2.ln() + log_determinant), variance_c2))
}

/// The Cholesky factors of matrices, lane by lane, two rows and two columns at a time, in their place; the last row is
/// another one's: it is what the factor makes of that row. Gives its squared length and the logarithm of the determinant.
///
/// What is added to the diagonal is `more`. On the diagonal of the factor stands one over each number.
// wider lanes where the machine has them; each lane does the same on every machine
#[multiversion(targets("x86_64+avx+avx2"))]
fn whiten(triangles: &mut [Lanes], rows: usize, more: f64) -> Option<(Lanes, Lanes)> {
    let (mut log_determinants, mut pivots) = ([0.0; LANES], [1.0; LANES]);
    let mut first = 0;
    for row in (0..rows).step_by(2) {
        let (done, rest) = triangles.split_at_mut(first);
        let (above, rest) = rest.split_at_mut(row + 1);
        let below = &mut rest[..row + 2];
        first += 2 * row + 3;
        let mut before = done;
        for column in (0..row).step_by(2) {
            let (left, rest) = before.split_at_mut(column + 1);
            let (right, rest) = rest.split_at_mut(column + 2);
            before = rest;
            let [mut above_left, mut above_right] = [above[column], above[column + 1]];
            let [mut below_left, mut below_right] = [below[column], below[column + 1]];
            let columns = left[..column].iter().zip(&right[..column]);
            for ((a, b), (l, r)) in above[..column].iter().zip(&below[..column]).zip(columns) {
                for k in 0..LANES {
                    above_left[k] -= a[k] * l[k];
                    above_right[k] -= a[k] * r[k];
                    below_left[k] -= b[k] * l[k];
                    below_right[k] -= b[k] * r[k];
                }
            }
            for k in 0..LANES {
                above[column][k] = above_left[k] * left[column][k];
                below[column][k] = below_left[k] * left[column][k];
                above[column + 1][k] =
                    (above_right[k] - above[column][k] * right[column][k]) * right[column + 1][k];
                below[column + 1][k] =
                    (below_right[k] - below[column][k] * right[column][k]) * right[column + 1][k];
            }
        }
        let [mut upper, mut both, mut lower] = [above[row], below[row], below[row + 1]];
        for (a, b) in above[..row].iter().zip(&below[..row]) {
            for k in 0..LANES {
                upper[k] -= a[k] * a[k];
                both[k] -= a[k] * b[k];
                lower[k] -= b[k] * b[k];
            }
        }
        for k in 0..LANES {
            upper[k] += more;
            above[row][k] = upper[k].sqrt().recip();
            below[row][k] = both[k] * above[row][k];
            lower[k] -= below[row][k] * below[row][k];
        }
        let is_last = row + 1 == rows;
        for k in 0..LANES {
            pivots[k] *= upper[k];
            if !is_last {
                lower[k] += more;
                below[row + 1][k] = lower[k].sqrt().recip();
                pivots[k] *= lower[k];
            }
            if pivots[k].is_nan() || pivots[k] <= 0.0 {
                return None;
            }
            // of many pivots one logarithm
            if is_last || pivots[k] < FEW {
                log_determinants[k] += pivots[k].ln();
                pivots[k] = 1.0;
            }
        }
        if is_last {
            return Some((lower.map(|below_nothing| -below_nothing), log_determinants));
        }
    }
    None
}

/// A product of pivots is no smaller before the next ones come, which is far from what a number can hold.
const FEW: f64 = 1e-100;

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
