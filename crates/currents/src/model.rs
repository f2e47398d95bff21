//! What is the true velocity through the water behind a reading, given the errors of log and compass?

use multiversion::multiversion;
use nalgebra::{SMatrix, SVector};

use crate::vector::{SMALL, small_sin_cos};
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

/// Readings that are worked on side by side, and that are laid out for it at once.
const LANES: usize = 4;
const BATCH: usize = 16 * LANES;
type Lanes = [f64; LANES];

/// Sums of [`water_and_slopes`] over readings.
pub(crate) fn sums_of_water_and_slopes<'a>(
    terms: &Terms,
    readings: impl Iterator<Item = &'a Reading>,
) -> (Velocity, Slopes) {
    let mut sums = [[Lanes::default(); 2]; TERMS];
    let mut batch = Batch { stw: [0.0; BATCH], east: [0.0; BATCH], north: [0.0; BATCH], cross: [0.0; BATCH] };
    let mut n = 0;
    for &Reading { stw_mps, bow, cross_wind_mps } in readings {
        (batch.stw[n], batch.east[n], batch.north[n]) = (stw_mps, bow.east_mps, bow.north_mps);
        batch.cross[n] = cross_wind_mps;
        n += 1;
        if n == BATCH {
            add_batch(terms.as_ref(), &batch, BATCH / LANES, &mut sums);
            n = 0;
        }
    }
    // a bow without length adds nothing
    let whole = n.next_multiple_of(LANES);
    batch.east[n..whole].fill(0.0);
    batch.north[n..whole].fill(0.0);
    add_batch(terms.as_ref(), &batch, whole / LANES, &mut sums);
    let sum = |lanes: &[Lanes; 2]| Velocity {
        east_mps: lanes[0].iter().sum::<f64>(),
        north_mps: lanes[1].iter().sum::<f64>(),
    };
    let slopes = sums.each_ref().map(sum);
    // the velocity is a sum of these three, each times its term
    let water = [SCALE, OFFSET, LEEWAY].map(|term| slopes[term] * terms[term]);
    (water.into_iter().sum(), slopes)
}

/// Readings, quantity by quantity.
struct Batch {
    stw: [f64; BATCH],
    east: [f64; BATCH],
    north: [f64; BATCH],
    cross: [f64; BATCH],
}

/// Adds the slopes of [`water_and_slopes`] of so many lots of readings, toward east and north.
#[multiversion(targets("x86_64+avx+avx2"))]
fn add_batch(terms: &[f64; TERMS], batch: &Batch, lots: usize, sums: &mut [[Lanes; 2]; TERMS]) {
    let [stw, cross, east, north] =
        [&batch.stw, &batch.cross, &batch.east, &batch.north].map(|of| of.as_chunks::<LANES>().0.iter());
    let mut added = *sums;
    for (((stw, cross), east), north) in stw.zip(cross).zip(east).zip(north).take(lots) {
        let mut parts = [[1.0; LANES]; 5];
        (parts[1], parts[2]) = (*east, *north);
        let mut deviation = [0.0; LANES];
        for lane in 0..LANES {
            let (sin, cos) = (parts[1][lane], parts[2][lane]);
            parts[3][lane] = 2.0 * sin * cos;
            parts[4][lane] = cos * cos - sin * sin;
            for part in 0..5 {
                deviation[lane] += parts[part][lane] * terms[DEVIATION + part];
            }
        }
        let (mut sin, mut cos) = ([0.0; LANES], [0.0; LANES]);
        let mut is_small = true;
        for lane in 0..LANES {
            (sin[lane], cos[lane]) = small_sin_cos(deviation[lane]);
            is_small &= deviation[lane].abs() < SMALL;
        }
        if !is_small {
            for lane in 0..LANES {
                (sin[lane], cos[lane]) = deviation[lane].sin_cos();
            }
        }
        let (mut ahead, mut starboard) = ([[0.0; LANES]; 2], [[0.0; LANES]; 2]);
        for lane in 0..LANES {
            ahead[0][lane] = parts[1][lane] * cos[lane] + parts[2][lane] * sin[lane];
            ahead[1][lane] = parts[2][lane] * cos[lane] - parts[1][lane] * sin[lane];
            starboard[0][lane] = ahead[1][lane];
            starboard[1][lane] = -ahead[0][lane];
        }
        for side in 0..2 {
            let mut turning = [0.0; LANES];
            for lane in 0..LANES {
                let speed = terms[SCALE] * stw[lane] + terms[OFFSET];
                let leeway = terms[LEEWAY] * cross[lane];
                let (ahead, starboard) = (ahead[side][lane], starboard[side][lane]);
                turning[lane] = starboard * speed - ahead * leeway;
                added[SCALE][side][lane] += ahead * stw[lane];
                added[OFFSET][side][lane] += ahead;
                added[LEEWAY][side][lane] += starboard * cross[lane];
            }
            for part in 0..5 {
                for lane in 0..LANES {
                    added[DEVIATION + part][side][lane] += turning[lane] * parts[part][lane];
                }
            }
        }
    }
    *sums = added;
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
        fn readings_side_by_side_are_summed_as_one_by_one(
            seen in prop::collection::vec((0.5f64..5.0, 0f64..360.0, -8f64..8.0), 0..23), deviation in -0.2f64..0.3,
        ) {
            let reading = |&(stw_mps, heading_deg, cross_wind_mps): &(f64, f64, f64)| {
                Reading { stw_mps, bow: Velocity::toward(1.0, heading_deg), cross_wind_mps }
            };
            let readings: Vec<Reading> = seen.iter().map(reading).collect();
            let mut terms = raw_terms() + Terms::from_fn(|i, _| 0.02 * (i as f64 - 3.0));
            terms[DEVIATION] = deviation;
            let (water, slopes) = sums_of_water_and_slopes(&terms, readings.iter());
            let each: Vec<_> = readings.iter().map(|reading| water_and_slopes(&terms, reading)).collect();
            let off = water - each.iter().map(|of| of.0).sum();
            prop_assert!(off.speed_mps() < 1e-13);
            for (term, slope) in slopes.into_iter().enumerate() {
                let off = slope - each.iter().map(|of| of.1[term]).sum();
                prop_assert!(off.speed_mps() < 1e-12);
            }
        }

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
