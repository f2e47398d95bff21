//! The surface map as rows of the tables.

use waterseam_breaks::SurfaceMap;
use waterseam_tables::{Shared, isotherms, surface_map};
use waterseam_units::geodesy::distance_m;
use waterseam_units::{LatLon, LocalFrame};

use crate::rows::id;
use crate::stored;

/// Cells that are not blank.
pub fn surface_map(trip_id: &str, map: &SurfaceMap, frame: &LocalFrame) -> Vec<surface_map::Row> {
    let trip_id = Shared::from(trip_id);
    let edges = map.edges();
    let gradients = map.gradients_c_per_km();
    (0..map.nx * map.ny)
        .filter_map(|cell| {
            let (east_m, north_m) = map.centre_m(cell);
            let at = stored::place(frame.to_position(east_m, north_m));
            Some(surface_map::Row {
                trip_id: trip_id.clone(),
                lat: at.lat_deg,
                lon: at.lon_deg,
                column: (cell % map.nx) as i64,
                row: (cell / map.nx) as i64,
                cell_m: map.cell_m,
                temp_c: stored::temp_c(map.temp_c[cell]?),
                error_c: stored::temp_c(map.error_c[cell]?),
                gradient_c_per_km: gradients[cell].map(stored::gradient_c_per_km),
                is_edge: edges.binary_search(&cell).is_ok(),
            })
        })
        .collect()
}

/// Lines of equal temperature, coldest first.
pub fn isotherms(trip_id: &str, map: &SurfaceMap, frame: &LocalFrame) -> Vec<isotherms::Row> {
    map.isotherms()
        .into_iter()
        .enumerate()
        .map(|(index, isotherm)| {
            let vertices: Vec<LatLon> = isotherm
                .places_m
                .iter()
                .map(|&(east_m, north_m)| stored::place(frame.to_position(east_m, north_m)))
                .collect();
            isotherms::Row {
                trip_id: trip_id.to_owned(),
                isotherm_id: id(trip_id, "isotherm", index),
                geometry: waterseam_tables::wkb::line(&vertices),
                temp_c: isotherm.temp_c,
                length_m: vertices.windows(2).map(|pair| distance_m(pair[0], pair[1])).sum(),
            }
        })
        .collect()
}
