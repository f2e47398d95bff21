//! How alike are the temperatures of two places, by the distance between them?

use wide::f64x4;

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
        self.of_four(f64x4::splat(distance_m.abs())).to_array()[0]
    }

    /// Covariances of a place with others, °C².
    pub(crate) fn with_each(&self, (east_m, north_m): (f64, f64), others: &Places, into: &mut [f64]) {
        let (east_m, north_m) = (f64x4::splat(east_m), f64x4::splat(north_m));
        for ((into, e), n) in into.chunks_mut(4).zip(&others.east_m).zip(&others.north_m) {
            let (e, n) = (*e - east_m, *n - north_m);
            into.copy_from_slice(&self.of_four((e * e + n * n).sqrt()).to_array()[..into.len()]);
        }
    }

    fn of_four(&self, distance_m: f64x4) -> f64x4 {
        let d = distance_m / self.length_m;
        let one = f64x4::ONE;
        let correlation = match self.shape {
            CovarianceShape::Gaussian => (d * d * -0.5).exp(),
            CovarianceShape::Exponential => (-d).exp(),
            CovarianceShape::Matern32 => {
                let d = d * 3_f64.sqrt();
                (one + d) * (-d).exp()
            }
            CovarianceShape::Matern52 => {
                let d = d * 5_f64.sqrt();
                (one + d + d * d / 3.0) * (-d).exp()
            }
            CovarianceShape::Spherical => d.simd_lt(one).select(one - d * 1.5 + d * d * d * 0.5, f64x4::ZERO),
        };
        correlation * self.variance_c2
    }
}

/// Places, four at a time, for [`Covariance::with_each`].
#[derive(Clone, Debug)]
pub(crate) struct Places {
    east_m: Vec<f64x4>,
    north_m: Vec<f64x4>,
    n: usize,
}

impl Places {
    /// East and north of each, m.
    pub(crate) fn new(places_m: &[(f64, f64)]) -> Self {
        let fours = |of: fn(&(f64, f64)) -> f64| {
            let four = |chunk: &[(f64, f64)]| {
                let mut lanes = [0.0; 4];
                lanes.iter_mut().zip(chunk).for_each(|(lane, place)| *lane = of(place));
                f64x4::new(lanes)
            };
            places_m.chunks(4).map(four).collect()
        };
        Self { east_m: fours(|place| place.0), north_m: fours(|place| place.1), n: places_m.len() }
    }

    pub(crate) fn len(&self) -> usize {
        self.n
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
