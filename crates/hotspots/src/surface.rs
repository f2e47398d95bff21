//! What does a day's surface temperature do to the bites of a trip?
//!
//! A preference is a hill: at its foot warmer water is better, behind its top worse. In one part of the season the boat meets a few degrees of
//! it, so the logarithm of the rate is taken for a slope, which changes smoothly through the season, and a bend that is the same all year:
//!
//! ```text
//! ln rate  =  ln (rate of the place)  +  slope of the part × (T - usual T of the part)  +  bend × (T - usual T)²
//! ```
//!
//! It is told between trips (the water of a day is much the same everywhere), against their luck: negative binomial regression by
//! Fisher scoring with Gaussian priors on slopes, their changes and the bend.

use nalgebra::{DMatrix, DVector};

use crate::tally::Tally;

/// Prior standard deviation of a slope: a factor of two over two degrees is a lot, 1/°C.
const SLOPE_SD: f64 = 0.35;
/// The same of its change over a twelfth of the year.
const SLOPE_CHANGE_SD: f64 = 0.15;
/// The same of the bend; a preference with a standard deviation of 3 °C bends by 0.06, 1/°C².
const BEND_SD: f64 = 0.05;
/// Temperatures further from the usual than this are taken for that far: nothing is known of them, °C.
const AWAY_MAX_C: f64 = 5.0;
/// Steps of the scoring; it converges in a few.
const STEPS: usize = 12;

/// What temperature does in each part of the season.
#[derive(Clone, Debug)]
pub(crate) struct Preference {
    /// Usual surface temperature of each part, mean under its effort, °C; `None` where it was not measured.
    pub usual_c: Vec<Option<f64>>,
    slope: Vec<f64>,
    bend: f64,
}

impl Preference {
    /// Nothing known: every factor is 1.
    pub fn none(tally: &Tally) -> Self {
        let parts = tally.places.last().map_or(0, |place| place.part + 1);
        let mut sums = vec![(0.0, 0.0); parts];
        for trip in &tally.trips {
            for piece in &trip.pieces {
                if let Some(temp_c) = piece.surface_temp_c {
                    sums[trip.part].0 += piece.hours * temp_c;
                    sums[trip.part].1 += piece.hours;
                }
            }
        }
        let usual_c = sums.into_iter().map(|(sum, hours)| (hours > 0.0).then(|| sum / hours)).collect();
        Self { usual_c, slope: vec![0.0; parts], bend: 0.0 }
    }

    /// Factor of every rate in water of a temperature; 1 where it is not known.
    pub fn factor(&self, part: usize, surface_temp_c: Option<f64>) -> f64 {
        let away = surface_temp_c
            .zip(self.usual_c.get(part).copied().flatten())
            .map(|(temp_c, usual_c)| (temp_c - usual_c).clamp(-AWAY_MAX_C, AWAY_MAX_C));
        away.map_or(1.0, |away| (self.slope[part] * away + self.bend * away * away).exp())
    }

    /// The factors of every piece of every trip.
    pub fn factors(&self, tally: &Tally) -> Vec<Vec<f64>> {
        let of = |trip: &crate::tally::Trip| {
            trip.pieces.iter().map(|piece| self.factor(trip.part, piece.surface_temp_c)).collect()
        };
        tally.trips.iter().map(of).collect()
    }

    /// The likeliest preference. `expected` are bites of each trip by the places that it fished, without any temperature; `luck_shape` is that of the trips' luck, `parts_a_year` sets how
    /// far apart two parts are.
    pub fn fit(tally: &Tally, expected: &[f64], luck_shape: f64, parts_a_year: usize) -> Self {
        let mut fitted = Self::none(tally);
        let parts = fitted.slope.len();
        let n = parts + 1;
        // what each trip says: its part, how far its water was from the usual, bites, bites expected
        let said: Vec<(usize, f64, f64, f64)> = tally
            .trips
            .iter()
            .zip(expected)
            .filter_map(|(trip, &expected)| {
                let measured =
                    trip.pieces.iter().filter_map(|piece| Some((piece.hours, piece.surface_temp_c?)));
                let (sum, hours) = measured.fold((0.0, 0.0), |sum, (h, t)| (sum.0 + h * t, sum.1 + h));
                let away = sum / hours - fitted.usual_c[trip.part]?;
                (hours > 0.0 && expected > 0.0)
                    .then(|| (trip.part, away.clamp(-AWAY_MAX_C, AWAY_MAX_C), trip.bites() as f64, expected))
            })
            .collect();
        let mut prior = DMatrix::zeros(n, n);
        let change = SLOPE_CHANGE_SD.powi(-2) * parts_a_year as f64 / 12.0;
        for part in 0..parts {
            prior[(part, part)] += SLOPE_SD.powi(-2);
            if part + 1 < parts {
                prior[(part, part)] += change;
                prior[(part + 1, part + 1)] += change;
                prior[(part, part + 1)] -= change;
                prior[(part + 1, part)] -= change;
            }
        }
        prior[(parts, parts)] = BEND_SD.powi(-2);
        let mut beta = DVector::zeros(n);
        for _ in 0..STEPS {
            let mut information = prior.clone();
            let mut score = -(&prior * &beta);
            for &(part, away, bites, expected) in &said {
                let square = away * away;
                let mean = expected * (beta[part] * away + beta[parts] * square).clamp(-5.0, 5.0).exp();
                let share = luck_shape / (luck_shape + mean);
                let (residual, weight) = ((bites - mean) * share, mean * share);
                score[part] += residual * away;
                score[parts] += residual * square;
                information[(part, part)] += weight * square;
                information[(part, parts)] += weight * away * square;
                information[(parts, part)] += weight * away * square;
                information[(parts, parts)] += weight * square * square;
            }
            let Some(step) = information.cholesky().map(|cholesky| cholesky.solve(&score)) else { break };
            let longest = step.amax();
            // a step that is too long is a step out of the parabola
            beta += if longest > 0.5 { step * (0.5 / longest) } else { step };
            if longest < 1e-9 {
                break;
            }
        }
        fitted.slope = beta.iter().take(parts).copied().collect();
        fitted.bend = beta[parts];
        fitted
    }
}
