//! What did the rods produce, over one trip or several: bands, sides of the breaks, lures and rods?

use std::collections::BTreeSet;

use waterseam_bites::{Band, BandSettings, Credit, CreditSettings, Evidence, Fished};
use waterseam_tables::{bands, break_sides, tackle_rates};

/// Tables of what the rods produced.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Rates {
    /// Bins of every factor.
    pub bands: Vec<bands::Row>,
    /// Lures and rods.
    pub tackle_rates: Vec<tackle_rates::Row>,
    /// Sides of the breaks.
    pub break_sides: Vec<break_sides::Row>,
}

/// For all bites together and for each species, the rates of some trips under one name.
pub fn rates(name: &str, trips: &[Fished]) -> Rates {
    let mut rates = Rates::default();
    let species: BTreeSet<&str> =
        trips.iter().flat_map(|trip| trip.bites).filter_map(|bite| bite.species.as_deref()).collect();
    let settings = BandSettings::default();
    let species: Vec<Option<&str>> = [None].into_iter().chain(species.into_iter().map(Some)).collect();
    let bands = waterseam_bites::bands_of_each(trips, &species, &settings);
    let credits = waterseam_bites::credits_of_each(trips, &species, &CreditSettings::default());
    for ((species, all), credits) in species.into_iter().zip(bands).zip(credits) {
        for of_factor in all.chunk_by(|a, b| a.factor == b.factor) {
            let more_rod_hours = match waterseam_bites::evidence(of_factor) {
                Evidence::TooThin { more_rod_hours, .. } => Some(more_rod_hours),
                Evidence::Found | Evidence::EnoughForNone | Evidence::NoEffort => None,
            };
            rates.bands.extend(of_factor.iter().map(|band| band_row(name, band, more_rod_hours)));
        }
        let sides = waterseam_bites::sides(trips, species, &settings);
        rates.break_sides.extend(sides.ratio.map(|ratio| break_sides::Row {
            trip_id: name.to_owned(),
            species: word(species),
            within_m: settings.sides_within_m,
            warm_bites: sides.warm.count as i64,
            warm_rod_hours: sides.warm.exposure,
            cold_bites: sides.cold.count as i64,
            cold_rod_hours: sides.cold.exposure,
            ratio: ratio.ratio,
            ratio_low: ratio.ratio_low,
            ratio_high: ratio.ratio_high,
            p_value: ratio.p_double,
        }));
        for (what, credits) in [("lure", credits.lures), ("rod", credits.rods)] {
            rates
                .tackle_rates
                .extend(credits.into_iter().map(|credit| credit_row(name, what, species, credit)));
        }
    }
    rates
}

fn word(species: Option<&str>) -> String {
    species.unwrap_or("*").to_owned()
}

fn band_row(name: &str, band: &Band, more_rod_hours: Option<f64>) -> bands::Row {
    bands::Row {
        trip_id: name.to_owned(),
        factor: band.factor.word().to_owned(),
        species: band.species.clone(),
        low: band.low,
        high: band.high,
        rod_hours: band.rod_hours,
        bites: band.bites as i64,
        rate_per_rod_hour: band.rate.map(|rate| rate.per_rod_hour),
        rate_low: band.rate.map(|rate| rate.low),
        rate_high: band.rate.map(|rate| rate.high),
        in_productive_band: band.in_productive_band,
        band_p_value: band.band_p_value,
        band_p_adjusted: band.band_p_adjusted,
        more_rod_hours,
    }
}

fn credit_row(name: &str, what: &str, species: Option<&str>, credit: Credit) -> tackle_rates::Row {
    tackle_rates::Row {
        trip_id: name.to_owned(),
        what: what.to_owned(),
        name: credit.name,
        species: word(species),
        rod_hours: credit.rod_hours,
        bites: credit.bites as i64,
        expected_bites: credit.expected,
        ratio: credit.ratio,
        ratio_low: credit.ratio_low,
        ratio_high: credit.ratio_high,
    }
}
