//! Breaks and surface map of a trip for a GIS: GeoJSON (RFC 7946), from the tables alone.
//!
//! Longitude before latitude, WGS 84, numbers in the units of the tables. The cautions go with it as a member of
//! their own, which RFC 7946 (clause 6.1) allows.

use serde_json::{Value, json};
use waterseam_tables::{TripTables, surface_map, wkb};
use waterseam_units::time::timestamp;
use waterseam_units::{LatLon, LocalFrame};

use crate::cautions::CAUTIONS;

/// Crossings (points) and break lines of a trip as one feature collection.
pub fn breaks_geojson(tables: &TripTables) -> String {
    let crossings = tables.breaks.iter().map(|row| {
        let at = LatLon { lat_deg: row.lat, lon_deg: row.lon };
        let properties = json!({
            "what": row.kind,
            "trip_id": row.trip_id,
            "break_id": row.break_id,
            "time": timestamp(row.time).to_string(),
            "depth_m": row.depth_m,
            "step_c": row.step_c,
            "step_se_c": row.step_se_c,
            "width_m": row.width_m,
            "gap_m": row.gap_m,
            "centre_se_m": row.centre_se_m,
            "p_value": row.p_value,
            "warm_side_deg": row.warm_side_deg,
        });
        feature(&json!({ "type": "Point", "coordinates": position(at) }), &properties)
    });
    let lines = tables.break_lines.iter().filter_map(|row| {
        let properties = json!({
            "what": "break_line",
            "trip_id": row.trip_id,
            "break_line_id": row.break_line_id,
            "time_last": timestamp(row.time_last).to_string(),
            "crossings": row.crossings,
            "step_c": row.step_c,
            "warm_side_deg": row.warm_side_deg,
            "drift_mps": row.drift_mps,
            "drift_toward_deg": row.drift_toward_deg,
            "drift_se_mps": row.drift_se_mps,
            "direction_se_deg": row.direction_se_deg,
            "across_se_m": row.across_se_m,
        });
        Some(feature(&line(&row.geometry)?, &properties))
    });
    collection(crossings.chain(lines))
}

/// Cells (squares) and isotherms (lines) of a trip's surface map as one feature collection.
pub fn surface_map_geojson(tables: &TripTables) -> String {
    let cells = tables.surface_map.iter().map(|row| {
        let properties = json!({
            "what": "surface_map",
            "temp_c": row.temp_c,
            "error_c": row.error_c,
            "gradient_c_per_km": row.gradient_c_per_km,
            "is_edge": row.is_edge,
        });
        feature(&square(row), &properties)
    });
    let isotherms = tables.isotherms.iter().filter_map(|row| {
        let properties = json!({ "what": "isotherm", "isotherm_id": row.isotherm_id, "temp_c": row.temp_c });
        Some(feature(&line(&row.geometry)?, &properties))
    });
    collection(cells.chain(isotherms))
}

pub(crate) fn collection(features: impl Iterator<Item = Value>) -> String {
    let features: Vec<Value> = features.collect();
    json!({ "type": "FeatureCollection", "cautions": CAUTIONS, "features": features }).to_string()
}

/// A cell with its corners against the clock, as RFC 7946 (clause 3.1.6) asks.
fn square(cell: &surface_map::Row) -> Value {
    let frame = LocalFrame::new(LatLon { lat_deg: cell.lat, lon_deg: cell.lon });
    let half_m = 0.5 * cell.cell_m;
    let corners = [(-1.0, -1.0), (1.0, -1.0), (1.0, 1.0), (-1.0, 1.0), (-1.0, -1.0)]
        .map(|(east, north)| position(frame.to_position(east * half_m, north * half_m)));
    json!({ "type": "Polygon", "coordinates": [corners] })
}

pub(crate) fn feature(geometry: &Value, properties: &Value) -> Value {
    json!({ "type": "Feature", "geometry": geometry, "properties": properties })
}

fn line(geometry: &[u8]) -> Option<Value> {
    let positions: Vec<Value> = wkb::line_vertices(geometry)?.into_iter().map(position).collect();
    Some(json!({ "type": "LineString", "coordinates": positions }))
}

/// A place in GeoJSON; seven decimals are a centimetre.
pub(crate) fn position(at: LatLon) -> Value {
    let seven = |deg: f64| (deg * 1e7).round() / 1e7;
    json!([seven(at.lon_deg), seven(at.lat_deg)])
}

#[cfg(test)]
mod tests {
    use super::*;
    use waterseam_tables::{break_lines, isotherms};

    #[test]
    fn lines_are_features() {
        let vertices =
            [LatLon { lat_deg: 46.2, lon_deg: -29.4 }, LatLon { lat_deg: 46.25, lon_deg: -29.375 }];
        let tables = TripTables {
            break_lines: vec![break_lines::Row {
                trip_id: "t".to_owned(),
                break_line_id: "t-line-1".to_owned(),
                geometry: wkb::line(&vertices),
                crossings: 4,
                step_c: 1.5,
                length_m: 5_900.0,
                warm_side_deg: 120.0,
                drift_mps: None,
                drift_toward_deg: None,
                drift_se_mps: None,
                direction_se_deg: Some(2.0),
                across_se_m: Some(30.0),
                time_first: 0,
                time_last: 1_800_000_000_000_000,
            }],
            isotherms: vec![isotherms::Row {
                trip_id: "t".to_owned(),
                isotherm_id: "t-isotherm-1".to_owned(),
                geometry: wkb::line(&vertices),
                temp_c: 12.5,
                length_m: 5_900.0,
            }],
            surface_map: vec![surface_map::Row {
                trip_id: "t".into(),
                lat: 46.2,
                lon: -29.4,
                column: 0,
                row: 0,
                cell_m: 100.0,
                temp_c: 12.4,
                error_c: 0.1,
                gradient_c_per_km: None,
                is_edge: false,
            }],
            ..TripTables::default()
        };
        let parsed = |text: &str| -> Value { serde_json::from_str(text).unwrap() };
        let breaks = parsed(&breaks_geojson(&tables));
        let [line] = &breaks["features"].as_array().unwrap()[..] else { panic!("{breaks}") };
        assert_eq!(line["geometry"]["coordinates"], json!([[-29.4, 46.2], [-29.375, 46.25]]));
        assert_eq!(line["properties"]["time_last"], "2027-01-15T08:00:00Z");

        let map = parsed(&surface_map_geojson(&tables));
        let [cell, isotherm] = &map["features"].as_array().unwrap()[..] else { panic!("{map}") };
        assert_eq!(isotherm["properties"]["temp_c"], 12.5);
        let ring = cell["geometry"]["coordinates"][0].as_array().unwrap();
        assert_eq!((ring.len(), &ring[0]), (5, &ring[4]));
        let at = |corner: usize| (ring[corner][0].as_f64().unwrap(), ring[corner][1].as_f64().unwrap());
        let area: f64 = (0..4).map(|i| at(i).0 * at(i + 1).1 - at(i + 1).0 * at(i).1).sum();
        assert!(area > 0.0, "with the clock");
        // a degree of latitude is 111.15 km there
        assert!(((at(2).1 - at(1).1) * 111_150.0 - 100.0).abs() < 0.5);
        for collection in [breaks, map] {
            assert_eq!(collection["type"], "FeatureCollection");
            assert!(!collection["cautions"].as_array().unwrap().is_empty());
        }
    }
}
