//! Do high values lie together, more than the same values would by chance?
//!
//! J. K. Ord & A. Getis, Local spatial autocorrelation statistics, Geographical Analysis 27 (1995) 286–306 (formula
//! from memory; checked against a reference library, see `tests/reference`).

use statrs::function::erf::erfc;

/// Getis-Ord Gi* of one place, as a standard normal deviate.
///
/// `weights` are the places of its neighbourhood by index with their weights, the place itself among them; mean and variance are
/// those of all `values`. `None` where all values are alike or the neighbourhood is everything: nothing can stand out.
pub fn gi_star(values: &[f64], weights: &[(usize, f64)]) -> Option<f64> {
    Moments::of(values).gi_star(values, weights)
}

/// What all places have in common.
#[derive(Clone, Copy, Debug)]
struct Moments {
    n: f64,
    mean: f64,
    variance: f64,
}

impl Moments {
    fn of(values: &[f64]) -> Self {
        let n = values.len() as f64;
        let mean = values.iter().sum::<f64>() / n;
        let variance = values.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / n;
        Self { n, mean, variance }
    }

    fn gi_star(self, values: &[f64], weights: &[(usize, f64)]) -> Option<f64> {
        let (mut sum, mut squares, mut weighted) = (0.0, 0.0, 0.0);
        for &(place, weight) in weights {
            sum += weight;
            squares += weight * weight;
            weighted += weight * values[place];
        }
        let spread = (self.n * squares - sum * sum) / (self.n - 1.0);
        let scale = (self.variance * spread).sqrt();
        // rounding leaves some 1e-16 of the squares where they are equal
        let tiny = 1e-12 * self.n * squares;
        (self.variance > 1e-24 * self.mean * self.mean && spread > tiny && scale > 0.0)
            .then(|| (weighted - self.mean * sum) / scale)
    }
}

/// Gi* of every place, each with its neighbourhood.
pub fn gi_stars(values: &[f64], weights: &[Vec<(usize, f64)>]) -> Vec<Option<f64>> {
    let moments = Moments::of(values);
    weights.iter().map(|weights| moments.gi_star(values, weights)).collect()
}

/// Probability that a standard normal deviate is higher.
pub fn upper_tail(z: f64) -> f64 {
    0.5 * erfc(z / std::f64::consts::SQRT_2)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_stands_out_where_all_are_alike_or_all_are_near() {
        assert_eq!(gi_star(&[1.0; 5], &[(0, 1.0), (1, 1.0)]), None);
        let all: Vec<_> = (0..4).map(|i| (i, 1.0)).collect();
        assert_eq!(gi_star(&[1.0, 2.0, 3.0, 4.0], &all), None);
        assert_eq!(gi_star(&[], &[]), None);
        assert_eq!(gi_star(&[3.0], &[(0, 1.0)]), None);
    }

    #[test]
    fn the_high_corner_is_high() {
        let values = [5.0, 4.0, 1.0, 1.0, 2.0, 1.0];
        assert!(gi_star(&values, &[(0, 1.0), (1, 1.0)]).unwrap() > 1.5);
        assert!(gi_star(&values, &[(3, 1.0), (5, 1.0)]).unwrap() < 0.0);
    }
}
