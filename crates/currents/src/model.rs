//! What is the true velocity through the water behind a reading, given the errors of log and compass?

use nalgebra::{SMatrix, SVector};

use crate::{Settings, Velocity};

/// Terms of the instruments' errors.
pub(crate) const TERMS: usize = 8;
/// True speed over reading.
pub(crate) const SCALE: usize = 0;
/// Added to the scaled reading, m/s.
pub(crate) const OFFSET: usize = 1;
/// The first of A to E, radians.
pub(crate) const DEVIATION: usize = 2;
/// Sideways drift as a part of the wind across the boat.
pub(crate) const LEEWAY: usize = 7;

pub(crate) type Terms = SVector<f64, TERMS>;
pub(crate) type Spread = SMatrix<f64, TERMS, TERMS>;
/// How a velocity changes with each term.
pub(crate) type Slopes = [Velocity; TERMS];

/// What the instruments show at one time.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Reading {
    pub stw_mps: f64,
    /// The heading, as a unit vector.
    pub bow: Velocity,
    /// The wind felt, toward starboard, m/s; 0 where no wind was logged.
    pub cross_wind_mps: f64,
}

/// Instruments that are right.
pub(crate) fn raw_terms() -> Terms {
    let mut terms = Terms::zeros();
    terms[SCALE] = 1.0;
    terms
}

/// Covariance of the errors of instruments that nobody calibrated.
pub(crate) fn raw_spread(settings: &Settings) -> Spread {
    let cycle = settings.raw_cycle_se_deg.to_radians();
    let double = settings.raw_double_cycle_se_deg.to_radians();
    let se = Terms::from([
        settings.raw_scale_se,
        settings.raw_offset_se_mps,
        settings.raw_heading_se_deg.to_radians(),
        cycle,
        cycle,
        double,
        double,
        settings.raw_leeway_se,
    ]);
    Spread::from_diagonal(&se.component_mul(&se))
}

/// What may have changed in the instruments since an earlier trip.
pub(crate) fn since_earlier(settings: &Settings) -> Spread {
    raw_spread(settings) * settings.changed_part.powi(2)
}

/// By what A to E are multiplied on a heading, given as a unit vector.
pub(crate) fn harmonics(bow: Velocity) -> [f64; 5] {
    let (sin, cos) = (bow.east_mps, bow.north_mps);
    [1.0, sin, cos, 2.0 * sin * cos, cos * cos - sin * sin]
}

/// True velocity through the water.
pub(crate) fn water(terms: &Terms, reading: &Reading) -> Velocity {
    let Through { ahead, speed_mps, leeway_mps, .. } = Through::new(terms, reading);
    ahead * speed_mps + ahead.quarter_clockwise() * leeway_mps
}

/// How the boat goes through the water behind a reading.
struct Through {
    harmonics: [f64; 5],
    /// True heading, a unit vector.
    ahead: Velocity,
    speed_mps: f64,
    leeway_mps: f64,
}

impl Through {
    fn new(terms: &Terms, reading: &Reading) -> Self {
        let harmonics = harmonics(reading.bow);
        let deviation: f64 = harmonics.iter().enumerate().map(|(i, part)| part * terms[DEVIATION + i]).sum();
        Self {
            harmonics,
            ahead: reading.bow.turned(deviation),
            speed_mps: terms[SCALE] * reading.stw_mps + terms[OFFSET],
            leeway_mps: terms[LEEWAY] * reading.cross_wind_mps,
        }
    }
}

/// True velocity through the water and how it changes with each term.
#[inline]
pub(crate) fn water_and_slopes(terms: &Terms, reading: &Reading) -> (Velocity, Slopes) {
    let Through { harmonics, ahead, speed_mps, leeway_mps } = Through::new(terms, reading);
    let starboard = ahead.quarter_clockwise();
    let mut slopes = [Velocity::default(); TERMS];
    slopes[SCALE] = ahead * reading.stw_mps;
    slopes[OFFSET] = ahead;
    let turning = starboard * speed_mps - ahead * leeway_mps;
    for (i, part) in harmonics.into_iter().enumerate() {
        slopes[DEVIATION + i] = turning * part;
    }
    slopes[LEEWAY] = starboard * reading.cross_wind_mps;
    (ahead * speed_mps + starboard * leeway_mps, slopes)
}

/// Covariance (east-east, east-north, north-north) of a velocity that changes so with the terms.
pub(crate) fn spread_of(slopes: &Slopes, spread: &Spread) -> (f64, f64, f64) {
    let east = Terms::from_fn(|i, _| slopes[i].east_mps);
    let north = Terms::from_fn(|i, _| slopes[i].north_mps);
    let (of_east, of_north) = (spread * east, spread * north);
    (east.dot(&of_east), east.dot(&of_north), north.dot(&of_north))
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    proptest! {
        #[test]
        fn slopes_are_those_of_the_velocity(
            stw_mps in 0.5f64..5.0, heading_deg in 0f64..360.0, cross_wind_mps in -8f64..8.0, term in 0usize..TERMS,
        ) {
            let reading = Reading { stw_mps, bow: Velocity::toward(1.0, heading_deg), cross_wind_mps };
            let terms = raw_terms() + Terms::from_fn(|i, _| 0.01 * (i as f64 - 3.0));
            let slopes = water_and_slopes(&terms, &reading).1;
            let mut more = terms;
            more[term] += 1e-6;
            let change = (water(&more, &reading) - water(&terms, &reading)) * 1e6;
            prop_assert!((change - slopes[term]).speed_mps() < 1e-4);
        }
    }
}
