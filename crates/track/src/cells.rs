//! Which hexagon is a position in?

use h3o::{LatLng, Resolution};
use waterseam_units::LatLon;

/// The H3 cell of a position at resolution 9 (hexagons of about 0.1 km²).
///
/// A latitude or longitude that is not a finite number gives 0, which is no cell.
pub fn cell(at: LatLon) -> u64 {
    LatLng::new(at.lat_deg, at.lon_deg).map_or(0, |at| at.to_cell(Resolution::Nine).into())
}
