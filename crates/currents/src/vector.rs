//! What is the current, given how the boat moves over ground and through the water?

use std::iter::Sum;
use std::ops::{Add, Mul, Sub};

use waterseam_units::angle::{east_north, length_direction};

/// A velocity, m/s toward east and north.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Velocity {
    /// Toward east, m/s.
    pub east_mps: f64,
    /// Toward north, m/s.
    pub north_mps: f64,
}

impl Velocity {
    /// A speed, m/s, toward a direction, degrees true.
    pub fn toward(speed_mps: f64, direction_deg: f64) -> Self {
        let (east_mps, north_mps) = east_north(speed_mps, direction_deg);
        Self { east_mps, north_mps }
    }

    /// Speed, m/s, and direction toward which it goes, degrees true; no direction without speed.
    pub fn speed_direction(self) -> (f64, Option<f64>) {
        length_direction(self.east_mps, self.north_mps)
    }

    /// Speed, m/s.
    pub fn speed_mps(self) -> f64 {
        self.dot(self).sqrt()
    }

    /// Scalar product, m²/s².
    pub fn dot(self, other: Self) -> f64 {
        self.east_mps * other.east_mps + self.north_mps * other.north_mps
    }

    /// The velocity turned clockwise by an angle, radians. Headings that change little, and deviations, are small angles, for
    /// which a series does without the sine and the cosine of a library.
    #[must_use]
    pub(crate) fn turned(self, angle: f64) -> Self {
        let (sin, cos) = match angle.abs() {
            size if size < TINY => tiny_sin_cos(angle),
            size if size < SMALL => small_sin_cos(angle),
            _ => angle.sin_cos(),
        };
        Self {
            east_mps: self.east_mps * cos + self.north_mps * sin,
            north_mps: self.north_mps * cos - self.east_mps * sin,
        }
    }

    /// The velocity a quarter turn clockwise from this one.
    #[must_use]
    pub fn quarter_clockwise(self) -> Self {
        Self { east_mps: self.north_mps, north_mps: -self.east_mps }
    }
}

impl Add for Velocity {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self { east_mps: self.east_mps + other.east_mps, north_mps: self.north_mps + other.north_mps }
    }
}

impl Sub for Velocity {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        Self { east_mps: self.east_mps - other.east_mps, north_mps: self.north_mps - other.north_mps }
    }
}

impl Mul<f64> for Velocity {
    type Output = Self;
    fn mul(self, factor: f64) -> Self {
        Self { east_mps: self.east_mps * factor, north_mps: self.north_mps * factor }
    }
}

impl Sum for Velocity {
    fn sum<I: Iterator<Item = Self>>(velocities: I) -> Self {
        velocities.fold(Self::default(), Add::add)
    }
}

/// Angles for which [`small_sin_cos`] holds, radians: 14°.
pub(crate) const SMALL: f64 = 0.25;

/// Sine and cosine of a small angle: Taylor's series, whose first term left out is below 1e-17.
#[inline]
pub(crate) fn small_sin_cos(angle: f64) -> (f64, f64) {
    const ODD: [f64; 6] = [-1.0 / 39_916_800.0, 1.0 / 362_880.0, -1.0 / 5040.0, 1.0 / 120.0, -1.0 / 6.0, 1.0];
    const EVEN: [f64; 7] =
        [1.0 / 479_001_600.0, -1.0 / 3_628_800.0, 1.0 / 40_320.0, -1.0 / 720.0, 1.0 / 24.0, -0.5, 1.0];
    let s = angle * angle;
    let nested = |terms: &[f64]| terms[1..].iter().fold(terms[0], |inner, term| inner * s + term);
    (angle * nested(&ODD), nested(&EVEN))
}

/// Angles for which [`tiny_sin_cos`] holds, radians: 3°, by which a boat on her course turns in a second.
const TINY: f64 = 0.05;

/// The same with fewer terms.
#[inline]
fn tiny_sin_cos(angle: f64) -> (f64, f64) {
    let s = angle * angle;
    let sin = 1.0 + s * (-1.0 / 6.0 + s * (1.0 / 120.0 + s * (-1.0 / 5040.0)));
    let cos = 1.0 + s * (-0.5 + s * (1.0 / 24.0 + s * (-1.0 / 720.0 + s * (1.0 / 40_320.0))));
    (angle * sin, cos)
}

/// The current: velocity over ground minus velocity through the water.
///
/// Speeds in m/s, course and heading in degrees true. The set is the direction *toward* which the current flows, its
/// speed is the drift (American Practical Navigator, chapter on dead reckoning; from memory).
pub fn ground_minus_water(sog_mps: f64, cog_deg: f64, stw_mps: f64, heading_deg: f64) -> Velocity {
    Velocity::toward(sog_mps, cog_deg) - Velocity::toward(stw_mps, heading_deg)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn a_quarter_turn() {
        let north = Velocity::toward(2.0, 0.0);
        let east = north.quarter_clockwise();
        assert!((east - Velocity::toward(2.0, 90.0)).speed_mps() < 1e-12);
        assert_eq!(Velocity::default().speed_direction(), (0.0, None));
    }

    proptest! {
        #[test]
        fn a_small_turn_is_as_exact_as_any(wide in -0.3f64..0.3, tiny in -0.06f64..0.06, direction in 0f64..360.0) {
          for angle in [wide, tiny] {
            let turned = Velocity::toward(1.0, direction).turned(angle);
            let want = (direction.to_radians() + angle).sin_cos();
            prop_assert!((turned.east_mps - want.0).abs() < 4e-15 && (turned.north_mps - want.1).abs() < 4e-15);
          }
        }

        #[test]
        fn current_and_water_make_ground(
            stw in 0f64..5.0, heading in 0f64..360.0, drift in 0f64..2.0, set in 0f64..360.0,
        ) {
            let ground = Velocity::toward(stw, heading) + Velocity::toward(drift, set);
            let (sog, cog) = ground.speed_direction();
            let current = ground_minus_water(sog, cog.unwrap_or(0.0), stw, heading);
            prop_assert!((current - Velocity::toward(drift, set)).speed_mps() < 1e-9);
        }
    }
}
