//! How alike are the temperatures of two places, by the distance between them?

use multiversion::multiversion;

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

// wider lanes where the machine has them; each lane does the same on every machine
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

/// The exponential of a number that is not above zero: a power of two times that of what is left, by its series.
// only where it is inlined it is compiled for the wider lanes
#[allow(clippy::inline_always)]
#[inline(always)]
fn exp(x: f64) -> f64 {
    /// Smaller ones are next to nothing, and below any number soon after.
    const LEAST: f64 = -700.0;
    /// Added to a number, it leaves only whole ones (Hacker's Delight, from memory).
    const WHOLE: f64 = 6_755_399_441_055_744.0;
    /// ln 2 in two parts, the first with zeros at its end, so that a whole number of times it is exact (fdlibm, from
    /// memory).
    const LN_2: [f64; 2] = [6.931_471_803_691_238e-1, 1.908_214_929_270_587_7e-10];
    let x = if x < LEAST { LEAST } else { x };
    let shifted = x * std::f64::consts::LOG2_E + WHOLE;
    let twos = shifted - WHOLE;
    let r = x - twos * LN_2[0] - twos * LN_2[1];
    // no more than half of ln 2: the next term is below a 10⁻¹⁶th
    let (r2, r4) = (r * r, (r * r) * (r * r));
    let first = (1.0 + r) + r2 * (0.5 + r * (1.0 / 6.0));
    let second = (1.0 / 24.0 + r * (1.0 / 120.0)) + r2 * (1.0 / 720.0 + r * (1.0 / 5_040.0));
    let third = (1.0 / 40_320.0 + r * (1.0 / 362_880.0))
        + r2 * (1.0 / 3_628_800.0 + r * (1.0 / 39_916_800.0))
        + r4 * (1.0 / 479_001_600.0);
    let series = first + r4 * (second + r4 * third);
    series * f64::from_bits((shifted.to_bits() << 52).wrapping_add(1_f64.to_bits()))
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
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn ends_of_the_exponential() {
        assert_eq!((exp(0.0), exp(-0.0)), (1.0, 1.0));
        assert!(exp(-1e300) < 1e-300 && exp(f64::NEG_INFINITY) < 1e-300 && exp(f64::NAN).is_nan());
    }

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

        /// Source: the standard library.
        #[test]
        fn the_exponential_is_that_of_the_standard_library(x in -690f64..0.0) {
            prop_assert!((exp(x) / x.exp() - 1.0).abs() <= 1e-15, "{}", x);
        }
    }
}
