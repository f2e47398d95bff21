//! Breaks of one trip or many for a plotter.

use waterseam_tables::{TripTables, wkb};
use waterseam_units::LatLon;

use crate::cautions::CAUTIONS;
use crate::gpx::{Document, Lines, Plotter, TrackPoint, Waypoint};
use crate::sections::break_words;
use crate::summary::Style;
use crate::words::{clock, of_trips};

/// Crossings at the surface as waypoints, and the break lines.
pub fn breaks_gpx(tables: &TripTables, style: &Style, plotter: Plotter) -> String {
    let mind = CAUTIONS.join(" ");
    let at_surface = tables.breaks.iter().filter(|row| row.depth_m.is_none());
    let waypoints = at_surface.map(|row| Waypoint {
        at: LatLon { lat_deg: row.lat, lon_deg: row.lon },
        time_us: Some(row.time),
        name: format!("Break {}", clock(row.time, style)),
        desc: format!(
            "{}{}. Trip {}. {mind}",
            break_words(row, style),
            if row.kind == "maybe_shadow" { "; it may be the shadow of a cloud" } else { "" },
            row.trip_id
        ),
        kind: "thermal break",
        short: "BRK",
    });
    let lines = tables.break_lines.iter().filter_map(|row| {
        let vertices = wkb::line_vertices(&row.geometry)?;
        Some(Lines {
            name: format!("Break line {}", clock(row.time_last, style)),
            desc: format!(
                "Where the break lay when it was last crossed: a step of {}. Trip {}. {mind}",
                style.units.temp_difference(row.step_c),
                row.trip_id
            ),
            segments: vec![vertices.into_iter().map(TrackPoint::from).collect()],
        })
    });
    let document = Document {
        name: format!("Breaks of {}", of_trips(tables)),
        desc: mind.clone(),
        waypoints: waypoints.collect(),
        lines: lines.collect(),
        ..Document::default()
    };
    document.for_plotter(plotter).text()
}
