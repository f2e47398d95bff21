//! Elevation of the sun against the Solar Position Algorithm.
//!
//! Source: `sun_position.csv`: NREL SPA (Reda & Andreas 2003/2004, NREL/TP-560-34302) as in pvlib 0.16.1, with
//! the worked example of the report in the first row.

mod common;

use common::{close, table};
use waterseam_track::sun_elevation_deg;
use waterseam_units::LatLon;

/// The table's tolerance for an SPA implementation is 1e-4°. Ours stands at sea level, so parallax differs by
/// less than 1e-6° at the height of the worked example.
const WITHIN_DEG: f64 = 1e-4;

#[test]
fn elevation_agrees_with_the_algorithm() {
    for row in table("sun_position.csv") {
        let time: jiff::Timestamp = row.text("time_utc").parse().unwrap();
        let at = LatLon { lat_deg: row.must("lat"), lon_deg: row.must("lon") };
        let got = sun_elevation_deg(time.as_microsecond(), at);
        let case = format!("{} {}", row.text("place"), row.text("time_utc"));
        close(&case, got, row.must("elevation_deg"), WITHIN_DEG);
    }
}
