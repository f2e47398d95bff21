//! How fine is a value that is stored in many rows?
//!
//! Digits that no instrument has are noise, and noise cannot be packed: with all of them a logbook would be three times
//! as large. Steps are powers of two where values differ from row to row, so that their last bits are zero, and plain
//! decimals where few values come again and again.

use waterseam_units::LatLon;

/// To a 2²⁴th of a degree, 7 mm of latitude: receivers write 20 cm, or 2 cm.
pub fn degree(angle_deg: f64) -> f64 {
    to_part(angle_deg, f64::from(1 << 24))
}

/// Both parts of a position to [`degree`].
pub fn place(at: LatLon) -> LatLon {
    LatLon { lat_deg: degree(at.lat_deg), lon_deg: degree(at.lon_deg) }
}

/// A distance along the track to a 64th of a metre.
pub fn way_m(distance_m: f64) -> f64 {
    to_part(distance_m, 64.0)
}

/// A depth or a height to a 64th of a metre.
pub fn depth_m(depth_m: f64) -> f64 {
    to_part(depth_m, 64.0)
}

/// A temperature that was worked out, or its error, to a 256th of a degree.
pub fn temp_c(temp_c: f64) -> f64 {
    to_part(temp_c, 256.0)
}

/// A gradient to a 64th of °C/km.
pub fn gradient_c_per_km(gradient_c_per_km: f64) -> f64 {
    to_part(gradient_c_per_km, 64.0)
}

/// Speed of the true wind to a twentieth of a metre a second: a tenth of a knot, as instruments show it.
pub fn wind_mps(speed_mps: f64) -> f64 {
    to_part(speed_mps, 20.0)
}

/// Direction of the true wind to half a degree. Rounding ends before the full circle.
pub fn wind_deg(from_deg: f64) -> f64 {
    to_part(from_deg, 2.0) % 360.0
}

/// Elevation of the sun to a twentieth of a degree, in which it rises for twelve seconds.
pub fn sun_deg(elevation_deg: f64) -> f64 {
    to_part(elevation_deg, 20.0)
}

fn to_part(value: f64, parts: f64) -> f64 {
    (value * parts).round() / parts
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_place_moves_by_millimetres() {
        for i in 0..1000 {
            let part = f64::from(i) / 1000.0;
            let at = LatLon { lat_deg: 180.0 * (part - 0.5), lon_deg: 360.0 * ((37.0 * part) % 1.0 - 0.5) };
            assert!(waterseam_units::geodesy::distance_m(at, place(at)) <= 0.005);
            assert_eq!(place(place(at)), place(at));
        }
    }

    #[test]
    fn a_direction_stays_in_the_circle() {
        assert_eq!([359.7, 359.8, 0.2, 12.3].map(wind_deg), [359.5, 0.0, 0.0, 12.5]);
    }
}
