//! How do log and compass relate to the truth, and how surely is that known?

use crate::clear::clear;
use crate::model::{self, Reading, Spread, TERMS, Terms};
use crate::{Settings, Velocity};

/// A number with its standard error, in the same unit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Known {
    /// The number.
    pub value: f64,
    /// Its standard error.
    pub se: f64,
}

/// What a calibration rests on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Basis {
    /// The courses of this trip.
    ThisTrip,
    /// Earlier trips; this one adds little.
    EarlierTrips,
    /// Earlier trips and the courses of this one.
    Both,
}

impl Basis {
    /// As snake_case words.
    pub fn word(self) -> &'static str {
        match self {
            Self::ThisTrip => "this_trip",
            Self::EarlierTrips => "earlier_trips",
            Self::Both => "both",
        }
    }
}

/// How the instruments relate to the truth. A term is `None` where the courses leave it open; what it may be counts in the
/// standard errors of the others.
///
/// True speed through the water = `log_scale` × reading + `log_offset_mps`. True heading = reading + A + B sin h + C cos h +
/// D sin 2h + E cos 2h with the heading h as it is read, degrees true: the coefficients of the trade's deviation
/// table (American Practical Navigator, chapter on compass adjustment; from memory), in degrees.
#[derive(Clone, Debug, PartialEq)]
pub struct Calibration {
    /// True speed through the water over the log's reading, beside the offset; without an offset, at the trip's median
    /// reading.
    pub log_scale: Option<Known>,
    /// Added to the scaled reading, m/s.
    pub log_offset_mps: Option<Known>,
    /// A, B, C, D and E, degrees.
    pub deviation_deg: [Option<Known>; 5],
    /// Sideways drift through the water as a part of the wind felt across the boat.
    pub leeway_part: Option<Known>,
    /// How much later than the velocity over ground log and compass show a change, s.
    pub lag_s: Option<Known>,
    /// What it rests on.
    pub basis: Basis,
    /// Everything that is known together, for the next trip of the boat.
    pub carried: Carried,
}

impl Calibration {
    /// What a carried calibration says of its terms on a trip of that median reading, m/s.
    pub fn of(carried: &Carried, median_stw_mps: f64, basis: Basis, settings: &Settings) -> Self {
        let spread = carried.spread();
        let clear = clear(&spread, settings);
        let term = |i: usize, unit: f64| {
            let se = spread[(i, i)].max(0.0).sqrt();
            clear[i].then(|| Known { value: carried.terms[i] * unit, se: se * unit })
        };
        let degree = 1f64.to_degrees();
        let mut calibration = Self {
            log_scale: term(model::SCALE, 1.0),
            log_offset_mps: term(model::OFFSET, 1.0),
            deviation_deg: std::array::from_fn(|i| term(model::DEVIATION + i, degree)),
            leeway_part: term(model::LEEWAY, 1.0),
            lag_s: carried.lag_s,
            basis,
            carried: carried.clone(),
        };
        if calibration.log_offset_mps.is_none() && clear[model::SCALE] {
            calibration.log_scale = Some(calibration.factor(median_stw_mps));
        }
        calibration
    }

    /// True speed through the water over a reading of so many m/s, with its standard error.
    pub fn factor(&self, stw_mps: f64) -> Known {
        let Known { value, se } = self.speed_mps(stw_mps);
        Known { value: value / stw_mps, se: se / stw_mps }
    }

    /// Speed through the water, m/s, behind a reading, with its standard error.
    pub fn speed_mps(&self, stw_mps: f64) -> Known {
        let [scale, offset] = [model::SCALE, model::OFFSET];
        let covariance = &self.carried.covariance;
        let variance = stw_mps * stw_mps * covariance[scale][scale]
            + 2.0 * stw_mps * covariance[scale][offset]
            + covariance[offset][offset];
        let value = self.carried.terms[scale] * stw_mps + self.carried.terms[offset];
        Known { value, se: variance.max(0.0).sqrt() }
    }

    /// What is added to a heading as it is read to reach the true one, degrees, with its standard error.
    pub fn deviation_at_deg(&self, heading_deg: f64) -> Known {
        let parts = model::harmonics(Velocity::toward(1.0, heading_deg));
        let at = |i: usize| model::DEVIATION + i;
        let value: f64 = (0..5).map(|i| parts[i] * self.carried.terms[at(i)]).sum();
        let pairs = (0..5).flat_map(|i| (0..5).map(move |j| (i, j)));
        let variance: f64 =
            pairs.map(|(i, j)| parts[i] * parts[j] * self.carried.covariance[at(i)][at(j)]).sum();
        Known { value: value.to_degrees(), se: variance.max(0.0).sqrt().to_degrees() }
    }

    /// Velocity through the water behind a reading of log and compass.
    pub fn water(&self, stw_mps: f64, heading_deg: f64) -> Velocity {
        let bow = Velocity::toward(1.0, heading_deg);
        model::water(&self.carried.mean(), &Reading { stw_mps, bow, cross_wind_mps: 0.0 })
    }
}

/// A calibration as numbers: terms with their covariance, to be kept between trips.
#[derive(Clone, Debug, PartialEq)]
pub struct Carried {
    /// Log scale, log offset (m/s), deviation A to E (radians), leeway part.
    pub terms: [f64; TERMS],
    /// Their covariance.
    pub covariance: [[f64; TERMS]; TERMS],
    /// Lag of log and compass, s, where turns told it.
    pub lag_s: Option<Known>,
}

impl Carried {
    /// Numbers that [`Carried::packed`] gives.
    pub const PACKED: usize = TERMS + TERMS * (TERMS + 1) / 2 + 2;

    pub(crate) fn new(terms: &Terms, spread: &Spread, lag_s: Option<Known>) -> Self {
        Self {
            terms: std::array::from_fn(|i| terms[i]),
            covariance: std::array::from_fn(|i| std::array::from_fn(|j| spread[(i, j)])),
            lag_s,
        }
    }

    pub(crate) fn mean(&self) -> Terms {
        Terms::from(self.terms)
    }

    pub(crate) fn spread(&self) -> Spread {
        Spread::from_fn(|i, j| self.covariance[i][j])
    }

    /// All of it as [`Carried::PACKED`] numbers: terms, the covariance's rows up to the diagonal, lag and its standard
    /// error (a standard error of 0: no lag is known).
    pub fn packed(&self) -> Vec<f64> {
        let mut numbers = self.terms.to_vec();
        numbers.extend((0..TERMS).flat_map(|i| self.covariance[i][..=i].to_vec()));
        numbers.extend(self.lag_s.map_or([0.0, 0.0], |lag| [lag.value, lag.se]));
        numbers
    }

    /// The reverse of [`Carried::packed`]; `None` for numbers that are no calibration.
    pub fn unpacked(numbers: &[f64]) -> Option<Self> {
        if numbers.len() != Self::PACKED || numbers.iter().any(|v| !v.is_finite()) {
            return None;
        }
        let below = |i: usize, j: usize| numbers[TERMS + i * (i + 1) / 2 + j];
        let spread = Spread::from_fn(|i, j| below(i.max(j), i.min(j)));
        spread.cholesky()?;
        let [value, se] = [numbers[Self::PACKED - 2], numbers[Self::PACKED - 1]];
        let terms = Terms::from_fn(|i, _| numbers[i]);
        Some(Self::new(&terms, &spread, (se > 0.0).then_some(Known { value, se })))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn packed_and_unpacked() {
        let settings = Settings::default();
        let mut spread = model::raw_spread(&settings);
        spread[(0, 1)] = 0.3 * (spread[(0, 0)] * spread[(1, 1)]).sqrt();
        spread[(1, 0)] = spread[(0, 1)];
        let lag_s = Some(Known { value: 1.5, se: 0.2 });
        let carried = Carried::new(&model::raw_terms(), &spread, lag_s);
        let numbers = carried.packed();
        assert_eq!(numbers.len(), Carried::PACKED);
        assert_eq!(Carried::unpacked(&numbers), Some(carried));
        assert_eq!(Carried::unpacked(&numbers[1..]), None);
        assert_eq!(Carried::unpacked(&[0.0; Carried::PACKED]), None, "no spread at all");
    }

    #[test]
    fn a_deviation_table_is_read_off() {
        let settings = Settings::default();
        let mut terms = model::raw_terms();
        terms[model::DEVIATION] = 1f64.to_radians();
        terms[model::DEVIATION + 1] = 2f64.to_radians();
        terms[model::DEVIATION + 4] = -0.5f64.to_radians();
        let carried = Carried::new(&terms, &(model::raw_spread(&settings) * 1e-6), None);
        let calibration = Calibration::of(&carried, 1.2, Basis::ThisTrip, &settings);
        // A + B on a heading of east, and E cos 180° = 0.5
        assert!((calibration.deviation_at_deg(90.0).value - 3.5).abs() < 1e-9);
        assert!((calibration.deviation_deg[1].unwrap().value - 2.0).abs() < 1e-9);
        assert!((calibration.water(1.0, 90.0) - Velocity::toward(1.0, 93.5)).speed_mps() < 1e-9);
    }
}
