//! Declination against the World Magnetic Model.
//!
//! Sources: `magnetic_wmm2025_official.csv`: the test values issued with WMM2025 (NOAA/NCEI and BGS);
//! `magnetic_points.csv`: wmm-calculator 1.4.4 (NOAA/NCEI) with the coefficients of WMM2025.

mod common;

use common::{close, table};
use waterseam_track::declination_deg;
use waterseam_units::LatLon;
use waterseam_units::angle::turn_deg;
use world_magnetic_model::GeomagneticField;
use world_magnetic_model::time::Date;
use world_magnetic_model::uom::si::angle::degree;
use world_magnetic_model::uom::si::f32::{Angle, Length};
use world_magnetic_model::uom::si::length::kilometer;

/// Printed to the hundredth.
const PRINTED_DEG: f64 = 0.005;
/// Allowed beside it: the model counts whole days and computes in single precision.
const WHOLE_DAYS_DEG: f64 = 0.001;

#[test]
fn declination_agrees_with_the_model() {
    for row in table("magnetic_points.csv") {
        let midnight: jiff::Timestamp = format!("{}T00:00:00Z", row.text("date")).parse().unwrap();
        let at = LatLon { lat_deg: row.must("lat"), lon_deg: row.must("lon") };
        let got = declination_deg(midnight.as_microsecond(), at);
        let case = format!("{} {}", row.text("place"), row.text("date"));
        close(&case, got, row.must("decl_deg"), 0.01);
    }
}

#[test]
fn the_official_values_come_out_to_the_printed_digits() {
    let rows = table("magnetic_wmm2025_official.csv");
    assert!(rows.len() >= 62, "{} rows", rows.len());
    let mut at_sea_level = 0;
    for row in rows {
        let (year, place) = (row.must("decimal_year"), (row.must("lat"), turn_deg(0.0, row.must("lon"))));
        let day = (1.0 + year.fract() * 365.0).floor() as u16;
        let date = Date::from_ordinal_date(year as i32, day).unwrap();
        let height_km = row.must("height_km");
        let field = GeomagneticField::new(
            Length::new::<kilometer>(height_km as f32),
            Angle::new::<degree>(place.0 as f32),
            Angle::new::<degree>(place.1 as f32),
            date,
        );
        let got = f64::from(field.unwrap().declination().get::<degree>());
        let case = format!("{} {year} {height_km} km {place:?}", row.text("table"));
        let want = row.must("decl_deg");
        close(&case, got, want, PRINTED_DEG + WHOLE_DAYS_DEG);
        if height_km == 0.0 {
            at_sea_level += 1;
            let midnight: jiff::Timestamp = format!("{date}T00:00:00Z").parse().unwrap();
            let at = LatLon { lat_deg: place.0, lon_deg: place.1 };
            close(&case, declination_deg(midnight.as_microsecond(), at), want, PRINTED_DEG + WHOLE_DAYS_DEG);
        }
    }
    assert!(at_sea_level >= 6, "{at_sea_level} at sea level");
}
