//! How alike are the temperatures of two places, by the distance between them?

use multiversion::multiversion;

use crate::exponential::exp;

/// Shape of a covariance function of distance `d` with length `L`, for a variance of one.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum CovarianceShape {
    /// `exp(-d²/(2 L²))`: water as smooth as can be.
    Gaussian,
    /// `exp(-d/L)`: water as rough as a random walk.
    Exponential,
    /// Matérn's of order 3/2, `(1 + √3 d/L) exp(-√3 d/L)`: water with a slope everywhere.
    Matern32,
    /// Matérn's of order 5/2, `(1 + √5 d/L + 5 d²/(3 L²)) exp(-√5 d/L)`: water with a slope that changes gently.
    Matern52,
    /// `1 - 1.5 d/L + 0.5 (d/L)³` within `L` and zero beyond.
    Spherical,
}

/// Covariance of the temperatures of two places: the same in all directions and everywhere.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Covariance {
    /// Its shape.
    pub shape: CovarianceShape,
    /// Variance of the water's temperature, °C².
    pub variance_c2: f64,
    /// Length, m, above zero. What it means depends on the shape.
    pub length_m: f64,
}

impl Covariance {
    /// Covariance at a distance, °C².
    ///
    /// The shapes are those of the geostatistical and Gaussian-process literature (Rasmussen & Williams 2006,
    /// chapter 4; the spherical one after Matheron 1963, from memory).
    pub fn at(&self, distance_m: f64) -> f64 {
        let mut covariance = [distance_m.abs()];
        covariances(self, &mut covariance);
        covariance[0]
    }

    /// Turns distances, m, into covariances, °C².
    pub(crate) fn of_each(&self, distances_m: &mut [f64]) {
        covariances(self, distances_m);
    }
}

/// Places whose distances are worked out at once.
pub(crate) const LANES: usize = 16;
pub(crate) type Lanes = [f64; LANES];

// wider lanes where the machine has them; each lane does the same on every machine
#[multiversion(targets("x86_64+avx+avx2"))]
fn distances_of_m(from_m: &[(f64, f64); LANES], places: &Places, into: &mut [Lanes]) {
    let (east_m, north_m) = (from_m.map(|place| place.0), from_m.map(|place| place.1));
    for ((into, e), n) in into.iter_mut().zip(&places.east_m).zip(&places.north_m) {
        for k in 0..LANES {
            let (e, n) = (e - east_m[k], n - north_m[k]);
            into[k] = (e * e + n * n).sqrt();
        }
    }
}

#[multiversion(targets("x86_64+avx+avx2"))]
fn distances_m((east_m, north_m): (f64, f64), others: &Places, into: &mut [f64]) {
    for ((into, e), n) in into.iter_mut().zip(&others.east_m).zip(&others.north_m) {
        let (e, n) = (e - east_m, n - north_m);
        *into = (e * e + n * n).sqrt();
    }
}

#[multiversion(targets("x86_64+avx+avx2"))]
fn covariances(covariance: &Covariance, distances_m: &mut [f64]) {
    let Covariance { shape, variance_c2, length_m } = *covariance;
    match shape {
        CovarianceShape::Gaussian => {
            let per_m = length_m.recip();
            for of in distances_m {
                let d = *of * per_m;
                *of = variance_c2 * exp(d * d * -0.5);
            }
        }
        CovarianceShape::Exponential => {
            let per_m = -length_m.recip();
            for of in distances_m {
                *of = variance_c2 * exp(*of * per_m);
            }
        }
        CovarianceShape::Matern32 => {
            let per_m = 3_f64.sqrt() / length_m;
            for of in distances_m {
                let d = *of * per_m;
                *of = variance_c2 * (1.0 + d) * exp(-d);
            }
        }
        CovarianceShape::Matern52 => {
            let per_m = 5_f64.sqrt() / length_m;
            for of in distances_m {
                let d = *of * per_m;
                *of = variance_c2 * (1.0 + d + d * d * (1.0 / 3.0)) * exp(-d);
            }
        }
        CovarianceShape::Spherical => {
            let per_m = length_m.recip();
            for of in distances_m {
                let d = *of * per_m;
                *of = if d < 1.0 { variance_c2 * (1.0 - d * 1.5 + d * d * d * 0.5) } else { 0.0 };
            }
        }
    }
}

/// Places.
#[derive(Clone, Debug)]
pub(crate) struct Places {
    east_m: Vec<f64>,
    north_m: Vec<f64>,
}

impl Places {
    /// East and north of each, m.
    pub(crate) fn new(places_m: &[(f64, f64)]) -> Self {
        let (east_m, north_m) = places_m.iter().copied().unzip();
        Self { east_m, north_m }
    }

    /// Distances of a place from each, m.
    pub(crate) fn distances_m(&self, from_m: (f64, f64), into: &mut [f64]) {
        distances_m(from_m, self, into);
    }

    /// Distances of each from a few places, m.
    pub(crate) fn distances_of_m(&self, from_m: &[(f64, f64); LANES], into: &mut [Lanes]) {
        distances_of_m(from_m, self, into);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        /// Source: the closed forms, by the standard library's exponential.
        #[test]
        fn shapes_are_their_closed_forms(d in 0f64..60.0) {
            let (r3, r5) = (3_f64.sqrt() * d, 5_f64.sqrt() * d);
            for (shape, want) in [
                (CovarianceShape::Gaussian, (-0.5 * d * d).exp()),
                (CovarianceShape::Exponential, (-d).exp()),
                (CovarianceShape::Matern32, (1.0 + r3) * (-r3).exp()),
                (CovarianceShape::Matern52, (1.0 + r5 + r5 * r5 / 3.0) * (-r5).exp()),
                (CovarianceShape::Spherical, if d < 1.0 { 1.0 - 1.5 * d + 0.5 * d.powi(3) } else { 0.0 }),
            ] {
                let got = Covariance { shape, variance_c2: 2.0, length_m: 500.0 }.at(500.0 * d);
                prop_assert!((got - 2.0 * want).abs() <= 1e-14, "{:?} {} {} {}", shape, d, got, 2.0 * want);
            }
        }
    }
}
