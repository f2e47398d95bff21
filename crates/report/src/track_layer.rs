//! The track of a trip as a layer of a map, and for a plotter.

use serde_json::{Value, json};
use waterseam_tables::{TripTables, track};
use waterseam_units::time::{US_PER_S, timestamp};
use waterseam_units::{Flag, LatLon};

use crate::cautions::CAUTIONS;
use crate::geojson::{collection, feature, position};
use crate::gpx::{Document, Lines, Plotter, TrackPoint};

/// Where the position was silent for longer than this, s, the line is broken: nobody knows what lies between.
const SILENT_S: i64 = 60;

/// The track as one line for each stretch of running, trolling, drifting or lying still.
pub fn track_geojson(tables: &TripTables) -> String {
    let features = stretches(&tables.track).into_iter().filter_map(|stretch| {
        let (first, last) = (stretch.first()?, stretch.last()?);
        let positions: Vec<Value> = stretch.iter().map(|row| position(place(row))).collect();
        let properties = json!({
            "what": "track",
            "trip_id": first.trip_id,
            "activity": first.activity,
            "time_first": timestamp(first.time).to_string(),
            "time_last": timestamp(last.time).to_string(),
            "run_m": last.distance_m - first.distance_m,
        });
        Some(feature(&json!({ "type": "LineString", "coordinates": positions }), &properties))
    });
    collection(features)
}

/// The track with its times.
pub fn track_gpx(tables: &TripTables, plotter: Plotter) -> String {
    let trip_id = tables.trips.first().map_or("", |trip| trip.trip_id.as_str());
    let point = |row: &&track::Row| TrackPoint { at: place(row), time_us: Some(row.time) };
    let segments: Vec<Vec<TrackPoint>> =
        unbroken(&tables.track).iter().map(|rows| rows.iter().map(point).collect()).collect();
    let desc = CAUTIONS.join(" ");
    let name = format!("Track of trip {trip_id}");
    let lines = Lines { name: name.clone(), desc: desc.clone(), segments };
    Document { name, desc, lines: vec![lines], ..Document::default() }.for_plotter(plotter).text()
}

/// Good positions without a long silence between.
fn unbroken(rows: &[track::Row]) -> Vec<Vec<&track::Row>> {
    let usable: Vec<&track::Row> =
        rows.iter().filter(|row| Flag::from_code(row.position_qc).is_some_and(Flag::is_usable)).collect();
    let goes_on = |a: &&track::Row, b: &&track::Row| b.time - a.time <= SILENT_S * US_PER_S;
    usable.chunk_by(goes_on).map(<[&track::Row]>::to_vec).collect()
}

/// The same, broken where the boat does something else; each stretch ends where the next begins.
fn stretches(rows: &[track::Row]) -> Vec<Vec<&track::Row>> {
    let mut stretches = Vec::new();
    for rows in unbroken(rows) {
        let mut from = 0;
        for to in 1..rows.len() {
            let is_last = to + 1 == rows.len();
            if is_last || rows[to].activity != rows[from].activity {
                stretches.push(rows[from..=to].to_vec());
                from = to;
            }
        }
    }
    stretches
}

fn place(row: &track::Row) -> LatLon {
    LatLon { lat_deg: row.lat, lon_deg: row.lon }
}
