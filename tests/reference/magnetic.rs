//! Declination against the World Magnetic Model.
//!
//! Source: `magnetic_points.csv`: wmm-calculator 1.4.4 (NOAA/NCEI) with the coefficients of WMM2025.

mod common;

use common::{close, table};
use waterseam_track::declination_deg;
use waterseam_units::LatLon;

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
