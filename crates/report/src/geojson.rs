//! Breaks of a trip for a GIS: GeoJSON (RFC 7946), from the tables alone.
//!
//! Longitude before latitude, WGS 84, numbers in the units of the tables. The cautions go with it as a member of
//! their own, which RFC 7946 (clause 6.1) allows.

use serde_json::{Value, json};
use waterseam_tables::{TripTables, wkb};
use waterseam_units::LatLon;
use waterseam_units::time::timestamp;

use crate::cautions::CAUTIONS;

/// Crossings (points), break lines and isotherms (lines) of a trip as one feature collection.
pub fn breaks_geojson(tables: &TripTables) -> String {
    let crossings = tables.breaks.iter().map(|row| {
        let at = LatLon { lat_deg: row.lat, lon_deg: row.lon };
        let properties = json!({
            "what": row.kind,
            "break_id": row.break_id,
            "time": timestamp(row.time).to_string(),
            "step_c": row.step_c,
            "width_m": row.width_m,
            "centre_se_m": row.centre_se_m,
            "warm_side_deg": row.warm_side_deg,
        });
        feature(&json!({ "type": "Point", "coordinates": position(at) }), &properties)
    });
    let lines = tables.break_lines.iter().filter_map(|row| {
        let properties = json!({
            "what": "break_line",
            "break_line_id": row.break_line_id,
            "time_last": timestamp(row.time_last).to_string(),
            "crossings": row.crossings,
            "step_c": row.step_c,
            "warm_side_deg": row.warm_side_deg,
            "drift_mps": row.drift_mps,
            "drift_toward_deg": row.drift_toward_deg,
        });
        Some(feature(&line(&row.geometry)?, &properties))
    });
    let isotherms = tables.isotherms.iter().filter_map(|row| {
        let properties = json!({ "what": "isotherm", "isotherm_id": row.isotherm_id, "temp_c": row.temp_c });
        Some(feature(&line(&row.geometry)?, &properties))
    });
    let features: Vec<Value> = crossings.chain(lines).chain(isotherms).collect();
    json!({ "type": "FeatureCollection", "cautions": CAUTIONS, "features": features }).to_string()
}

fn feature(geometry: &Value, properties: &Value) -> Value {
    json!({ "type": "Feature", "geometry": geometry, "properties": properties })
}

fn line(geometry: &[u8]) -> Option<Value> {
    let positions: Vec<Value> = wkb::line_vertices(geometry)?.into_iter().map(position).collect();
    Some(json!({ "type": "LineString", "coordinates": positions }))
}

/// Seven decimals are a centimetre.
fn position(at: LatLon) -> Value {
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
            ..TripTables::default()
        };
        let parsed: Value = serde_json::from_str(&breaks_geojson(&tables)).unwrap();
        assert_eq!(parsed["type"], "FeatureCollection");
        let features = parsed["features"].as_array().unwrap();
        assert_eq!(features.len(), 2);
        assert_eq!(features[0]["geometry"]["coordinates"], json!([[-29.4, 46.2], [-29.375, 46.25]]));
        assert_eq!(features[0]["properties"]["time_last"], "2027-01-15T08:00:00Z");
        assert_eq!(features[1]["properties"]["temp_c"], 12.5);
        assert!(!parsed["cautions"].as_array().unwrap().is_empty());
    }
}
