//! Bites of one trip or many as a layer of a map, and for a plotter.

use serde_json::{Map, Value, json};
use waterseam_tables::{TripTables, bites};
use waterseam_units::LatLon;

use crate::cautions::CAUTIONS;
use crate::fields::fields;
use crate::geojson::{collection, feature, position};
use crate::gpx::{Document, Plotter, Waypoint};
use crate::sections::bite_words;
use crate::summary::Style;
use crate::words::{clock, of_trips};

/// Bites as points, each with all that the table says of it.
pub fn bites_geojson(tables: &TripTables) -> String {
    let features = tables.bites.iter().map(|row| {
        let mut properties = Map::from_iter([("what".to_owned(), Value::from("bite"))]);
        properties.extend(fields(row).into_iter().map(|(column, value)| (column.name.to_owned(), value)));
        feature(&json!({ "type": "Point", "coordinates": position(place(row)) }), &properties.into())
    });
    collection(features)
}

/// Bites as waypoints.
pub fn bites_gpx(tables: &TripTables, style: &Style, plotter: Plotter) -> String {
    let mind = CAUTIONS.join(" ");
    let waypoints = tables.bites.iter().map(|row| Waypoint {
        at: place(row),
        time_us: Some(row.time),
        name: format!("{} {}", row.species.as_deref().unwrap_or("Bite"), clock(row.time, style)),
        desc: format!("{}. Trip {}. {mind}", bite_words(row, style), row.trip_id),
        kind: "bite",
        short: "BITE",
    });
    let document = Document {
        name: format!("Bites of {}", of_trips(tables)),
        desc: mind.clone(),
        waypoints: waypoints.collect(),
        ..Document::default()
    };
    document.for_plotter(plotter).text()
}

fn place(row: &bites::Row) -> LatLon {
    LatLon { lat_deg: row.lat, lon_deg: row.lon }
}
