//! Distances and azimuths on WGS 84 against a reference library.
//!
//! Source: `geodesic_inverse.csv`, `geodesic_direct.csv`: geographiclib (Python) 2.1, checked with PROJ;
//! method of Karney 2013.

mod common;

use common::{close, table};
use waterseam_units::LatLon;
use waterseam_units::angle::turn_deg;
use waterseam_units::geodesy::{direct, inverse};

#[test]
fn inverse_agrees_to_a_millimetre() {
    for row in table("geodesic_inverse.csv") {
        let from = LatLon { lat_deg: row.must("lat1"), lon_deg: row.must("lon1") };
        let to = LatLon { lat_deg: row.must("lat2"), lon_deg: row.must("lon2") };
        let (distance_m, azimuth_deg) = inverse(from, to);
        let want = row.must("s12_m");
        let case = row.text("id");
        close(case, distance_m, want, if want < 1e6 { 1e-3 } else { 1e-2 });
        let antipodal = want > 1.9e7;
        if want > 0.0 && !antipodal {
            let within = 1e-6 + (1e-5 / want).to_degrees();
            close(case, turn_deg(row.must("azi1_deg"), azimuth_deg), 0.0, within);
        }
    }
}

#[test]
fn direct_agrees_to_a_millimetre() {
    for row in table("geodesic_direct.csv") {
        let from = LatLon { lat_deg: row.must("lat1"), lon_deg: row.must("lon1") };
        let got = direct(from, row.must("azi1_deg"), row.must("s12_m"));
        let case = row.text("id");
        close(case, got.lat_deg, row.must("lat2"), 1e-8);
        let within = 1e-8 / row.must("lat2").to_radians().cos().abs().max(1e-3);
        close(case, turn_deg(row.must("lon2"), got.lon_deg), 0.0, within);
    }
}
