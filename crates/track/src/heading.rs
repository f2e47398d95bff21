//! Where does the bow point, from true north?
//!
//! Declination from the World Magnetic Model (NOAA/NCEI and BGS, 2020 and 2025), through the
//! `world_magnetic_model` crate.

use waterseam_units::LatLon;
use waterseam_units::angle::wrap_deg;
use waterseam_units::time::US_PER_S;
use world_magnetic_model::Error::DateOutsideOfValidityRange;
use world_magnetic_model::GeomagneticField;
use world_magnetic_model::time::{Date, OffsetDateTime};
use world_magnetic_model::uom::si::angle::degree;
use world_magnetic_model::uom::si::f32::{Angle, Length};
use world_magnetic_model::uom::si::length::meter;

/// The declination is taken again when the boat is further than this from where it was last taken, degrees of
/// latitude or longitude. It changes by less than 0.01° over this (away from the magnetic poles).
const STEP_DEG: f64 = 0.01;

/// Declination at sea level, degrees, positive east; a true heading is the magnetic one plus this.
///
/// The model counts whole days and is valid from 2020 to 2029. A date outside is taken as the nearest valid day,
/// see [`is_within_model`]; declination changes by up to about 0.2° a year. At the poles themselves: 0.
pub fn declination_deg(time_us: i64, at: LatLon) -> f64 {
    let Some(date) = date(time_us) else { return 0.0 };
    let angle = |value: f64| Angle::new::<degree>(value as f32);
    let field =
        |date| GeomagneticField::new(Length::new::<meter>(0.0), angle(at.lat_deg), angle(at.lon_deg), date);
    let field = match field(date) {
        Err(DateOutsideOfValidityRange { min_date, max_date }) => field(date.clamp(min_date, max_date)),
        field => field,
    };
    field.map_or(0.0, |field| f64::from(field.declination().get::<degree>()))
}

/// Whether the magnetic model is valid on a day.
pub(crate) fn is_within_model(time_us: i64) -> bool {
    date(time_us).is_some_and(|date| (2020..2030).contains(&date.year()))
}

/// The mean headings of the rows, with the time of their first sample, after adding the declination to magnetic ones.
pub(crate) fn true_headings_deg(
    means: impl Iterator<Item = Option<(i64, f64)>>,
    is_magnetic: bool,
    at: impl Fn(usize) -> LatLon,
) -> Vec<Option<f64>> {
    // the declination of one day
    let mut day_us: Option<i64> = None;
    let mut last: Option<(LatLon, f64)> = None;
    let mut declination_at = |row: usize, time_us: i64| {
        let here = at(row);
        let near = |there: LatLon| {
            (here.lat_deg - there.lat_deg).abs() < STEP_DEG && (here.lon_deg - there.lon_deg).abs() < STEP_DEG
        };
        match last {
            Some((there, declination)) if near(there) => declination,
            _ => {
                let declination = declination_deg(*day_us.get_or_insert(time_us), here);
                last = Some((here, declination));
                declination
            }
        }
    };
    let heading = |(row, mean): (usize, Option<(i64, f64)>)| {
        let (time_us, mean_deg) = mean?;
        Some(if is_magnetic { wrap_deg(mean_deg + declination_at(row, time_us)) } else { mean_deg })
    };
    means.enumerate().map(heading).collect()
}

fn date(time_us: i64) -> Option<Date> {
    let instant = OffsetDateTime::from_unix_timestamp(time_us.div_euclid(US_PER_S)).ok()?;
    Some(instant.date())
}

#[cfg(test)]
mod tests {
    use super::*;

    const AT: LatLon = LatLon { lat_deg: 46.2, lon_deg: -29.4 };

    fn instant(text: &str) -> i64 {
        text.parse::<jiff::Timestamp>().unwrap().as_microsecond()
    }

    #[test]
    fn a_date_outside_the_model_is_taken_as_its_nearest_day() {
        let old = instant("2008-05-28T12:00:00Z");
        assert!(!is_within_model(old));
        assert_eq!(declination_deg(old, AT), declination_deg(instant("2020-01-01T00:00:00Z"), AT));
        let late = instant("2031-01-01T00:00:00Z");
        assert_eq!(declination_deg(late, AT), declination_deg(instant("2029-12-31T23:00:00Z"), AT));
        assert!(is_within_model(instant("2029-12-31T23:00:00Z")));
    }

    #[test]
    fn magnetic_headings_turn_by_the_declination() {
        let day = instant("2026-06-14T10:00:00Z");
        let means = [Some((day, 1.0)), None];
        let declination = declination_deg(day, AT);
        assert!(declination.abs() > 1.0, "{declination}");
        let got = true_headings_deg(means.into_iter(), true, |_| AT);
        assert!((got[0].unwrap() - wrap_deg(1.0 + declination)).abs() < 1e-6);
        assert_eq!(got[1], None);
        let as_given = true_headings_deg(means.into_iter(), false, |_| AT)[0];
        assert_eq!(as_given, Some(1.0));
    }
}
