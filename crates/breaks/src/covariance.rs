//! How alike are the temperatures of two places, by the distance between them?

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
        let d = distance_m.abs() / self.length_m;
        let correlation = match self.shape {
            CovarianceShape::Gaussian => (-0.5 * d * d).exp(),
            CovarianceShape::Exponential => (-d).exp(),
            CovarianceShape::Matern32 => {
                let d = 3_f64.sqrt() * d;
                (1.0 + d) * (-d).exp()
            }
            CovarianceShape::Matern52 => {
                let d = 5_f64.sqrt() * d;
                (1.0 + d + d * d / 3.0) * (-d).exp()
            }
            CovarianceShape::Spherical if d < 1.0 => 1.0 - 1.5 * d + 0.5 * d.powi(3),
            CovarianceShape::Spherical => 0.0,
        };
        self.variance_c2 * correlation
    }
}
