//! Given the season and the water of the day: how many bites a rod-hour are to be expected where?

use waterseam_units::LatLon;

use crate::cells;
use crate::layer::Settings;
use crate::luck::{self, Chain, Fit};
use crate::season::SeasonPart;
use crate::surface::Preference;
use crate::tally::{Bite, Place, Tally, Visit};

/// Rounds of places given temperature, and temperature given places.
const ROUNDS: usize = 2;

/// The chain of the model, shorter than that of the layer: it is fitted anew for every year that is predicted.
const CHAIN: Chain = Chain { warm_up: 300, kept: 300, thinning: 2, seed: 0x5EA_5EA };

/// A model of the rate by place, part of the season and surface temperature.
#[derive(Clone, Debug)]
pub struct Model {
    tally: Tally,
    fit: Fit,
    preference: Preference,
    settings: Settings,
}

/// What is to be expected of a place.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Expected {
    /// H3 cell.
    pub cell: u64,
    /// Its middle.
    pub at: LatLon,
    /// Bites a rod-hour at average luck.
    pub rate: f64,
    /// 90 % interval.
    pub low: f64,
    /// Its upper end.
    pub high: f64,
    /// Over the mean of the part of the season in its usual water.
    pub times_average: f64,
}

impl Model {
    /// Fits the model to a logbook.
    pub fn new(visits: &[Visit], bites: &[Bite], settings: &Settings) -> Self {
        let wanted = |bite: &Bite| settings.species.is_none() || bite.species == settings.species;
        let tally = Tally::new(visits, bites, settings.resolution, settings.division, wanted);
        Self::of(tally, settings)
    }

    pub(crate) fn of(tally: Tally, settings: &Settings) -> Self {
        let mut preference = Preference::none(&tally);
        let mut fit = luck::fit(&tally, &preference.factors(&tally), CHAIN);
        for _ in 0..ROUNDS {
            let expected: Vec<f64> = tally
                .trips
                .iter()
                .map(|trip| {
                    let rate = |place| fit.rate(&tally, tally.places[place]).unwrap_or_default();
                    trip.pieces.iter().map(|piece| piece.hours * rate(piece.place)).sum()
                })
                .collect();
            preference = Preference::fit(&tally, &expected, fit.luck_shape, settings.division.parts());
            fit = luck::fit(&tally, &preference.factors(&tally), CHAIN);
        }
        Self { tally, fit, preference, settings: settings.clone() }
    }

    /// What is to be expected of every cell that was fished in a part of the season, by cell; in its usual water where no temperature is given.
    pub fn expected(&self, part: usize, surface_temp_c: Option<f64>) -> Vec<Expected> {
        let factor = self.preference.factor(part, surface_temp_c);
        let places = self.tally.places.iter().zip(&self.fit.places).filter(|(place, _)| place.part == part);
        places
            .filter_map(|(place, known)| {
                let known = known.as_ref()?;
                let (low, high) = known.rate_interval(0.9);
                Some(Expected {
                    cell: place.cell,
                    at: cells::centre(place.cell)?,
                    rate: factor * known.rate(),
                    low: factor * low,
                    high: factor * high,
                    times_average: factor * known.times(),
                })
            })
            .collect()
    }

    /// Surface temperature that is usual in a part of the season, °C.
    pub fn usual_temp_c(&self, part: usize) -> Option<f64> {
        self.preference.usual_c.get(part).copied().flatten()
    }

    /// By what the rates of a part change in water of a temperature.
    pub fn factor(&self, part: usize, surface_temp_c: f64) -> f64 {
        self.preference.factor(part, Some(surface_temp_c))
    }

    /// The division of the season that it was fitted with.
    pub fn division(&self) -> SeasonPart {
        self.settings.division
    }

    /// Shape of the luck of trips: the rate of a day is spread about what is expected by one over its root.
    pub(crate) fn luck_shape(&self) -> f64 {
        self.fit.luck_shape
    }

    /// Rate of any cell, fished or not, bites a rod-hour.
    pub(crate) fn rate(&self, place: Place, surface_temp_c: Option<f64>) -> f64 {
        let of_all = || {
            let (bites, hours) = self
                .tally
                .trips
                .iter()
                .fold((0.0, 0.0), |sum, trip| (sum.0 + trip.bites() as f64, sum.1 + trip.hours()));
            bites / f64::max(hours, f64::MIN_POSITIVE)
        };
        self.fit.rate(&self.tally, place).unwrap_or_else(of_all)
            * self.preference.factor(place.part, surface_temp_c)
    }
}
