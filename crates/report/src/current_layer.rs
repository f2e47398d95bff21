//! The currents of a trip as a layer of a map: GeoJSON for a GIS, GPX for a plotter; from the tables alone.

use serde_json::json;
use waterseam_tables::{TripTables, current_edges, currents};
use waterseam_units::angle::east_north;
use waterseam_units::time::timestamp;
use waterseam_units::{LatLon, LocalFrame};

use crate::cautions::CAUTIONS;
use crate::geojson::{collection, feature, position};
use crate::gpx::{Document, Lines, Plotter, TrackPoint, Waypoint};
use crate::moving_water::edge_words;
use crate::summary::Style;
use crate::words::clock;

/// A vector is drawn as far as the water moves in this time, min: a current of half a knot is then 230 m long.
const DRAWN_MIN: f64 = 15.0;
/// A plotter shows no error: a current within so many of its standard errors of zero is not drawn there.
const DRAWN_SE: f64 = 2.0;

/// Current vectors (lines) and current edges (points) of a trip as one feature collection.
pub fn currents_geojson(tables: &TripTables) -> String {
    let vectors = tables.currents.iter().map(|row| {
        let properties = json!({
            "what": "current",
            "time": timestamp(row.time).to_string(),
            "set_deg": row.set_deg,
            "drift_mps": row.drift_mps,
            "east_mps": row.east_mps,
            "north_mps": row.north_mps,
            "east_se_mps": row.east_se_mps,
            "north_se_mps": row.north_se_mps,
            "method": row.method,
            "drawn_min": DRAWN_MIN,
        });
        let [from, to] = ends(row);
        let shape = if row.drift_mps > 0.0 {
            json!({ "type": "LineString", "coordinates": [position(from), position(to)] })
        } else {
            json!({ "type": "Point", "coordinates": position(from) })
        };
        feature(&shape, &properties)
    });
    let edges = tables.current_edges.iter().map(|row| {
        let properties = json!({
            "what": "current_edge",
            "edge_id": row.edge_id,
            "time": timestamp(row.time).to_string(),
            "east_change_mps": row.east_change_mps,
            "north_change_mps": row.north_change_mps,
            "change_mps": row.change_mps,
            "width_m": row.width_m,
            "convergence_per_s": row.convergence_per_s,
            "shear_per_s": row.shear_per_s,
            "break_id": row.break_id,
            "p_value": row.p_value,
        });
        feature(&json!({ "type": "Point", "coordinates": position(place(row)) }), &properties)
    });
    collection(vectors.chain(edges))
}

/// Current edges as waypoints, and the currents that are surely there as lines, for a plotter.
pub fn currents_gpx(tables: &TripTables, style: &Style, plotter: Plotter) -> String {
    let trip_id = tables.trips.first().map_or("", |trip| trip.trip_id.as_str());
    let mind = CAUTIONS.join(" ");
    let waypoints = tables.current_edges.iter().map(|row| Waypoint {
        at: place(row),
        time_us: Some(row.time),
        name: format!("Edge {}", clock(row.time, style)),
        desc: format!("Current changes by {}. Trip {trip_id}. {mind}", edge_words(row, style)),
        kind: "current edge",
        short: "EDGE",
    });
    let (drawn, unsure): (Vec<_>, Vec<_>) = tables.currents.iter().partition(|row| is_sure(row));
    let lines = (!drawn.is_empty()).then(|| Lines {
        name: "Current".to_owned(),
        desc: format!(
            "Each line is the way of the water in {DRAWN_MIN:.0} min, from where it was measured; {} too weak to tell \
             are not drawn. Trip {trip_id}. {mind}",
            unsure.len()
        ),
        segments: drawn.into_iter().map(|row| ends(row).map(TrackPoint::from).to_vec()).collect(),
    });
    let document = Document {
        name: format!("Currents of trip {trip_id}"),
        desc: mind.clone(),
        waypoints: waypoints.collect(),
        lines: lines.into_iter().collect(),
        ..Document::default()
    };
    document.for_plotter(plotter).text()
}

fn is_sure(row: &currents::Row) -> bool {
    // error along the drift
    let share = |component: f64| component / row.drift_mps.max(f64::MIN_POSITIVE);
    let se_mps = (share(row.east_mps) * row.east_se_mps).hypot(share(row.north_mps) * row.north_se_mps);
    row.drift_mps > DRAWN_SE * se_mps
}

fn place(row: &current_edges::Row) -> LatLon {
    LatLon { lat_deg: row.lat, lon_deg: row.lon }
}

/// From where the current was measured to where it carries in [`DRAWN_MIN`].
fn ends(row: &currents::Row) -> [LatLon; 2] {
    let from = LatLon { lat_deg: row.lat, lon_deg: row.lon };
    let (east_m, north_m) = east_north(row.drift_mps * DRAWN_MIN * 60.0, row.set_deg.unwrap_or_default());
    [from, LocalFrame::new(from).to_position(east_m, north_m)]
}
