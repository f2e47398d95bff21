//! `export`: what the logbook holds, as a file for a GIS, a plotter or a spreadsheet.

use std::fs;
use std::path::Path;

use anyhow::Context;
use waterseam_report::{self as report, Plotter, Style};
use waterseam_tables::{Logbook, TripTables};

use super::shown;
use crate::args::{ExportArgs, ExportFormat, Exported, GpxForm};
use crate::output::{Output, Status};

/// Writes one result of one trip, or bites and breaks of all.
///
/// # Errors
/// Where the logbook or the trip does not exist or is damaged, or the file cannot be written.
pub fn run(args: &ExportArgs, out: &mut Output) -> anyhow::Result<Status> {
    let logbook = Logbook::open(&args.logbook)?;
    let Some(newest) = logbook.trip_ids()?.pop() else {
        out.warn("the logbook holds no trip");
        return Ok(Status::Failed);
    };
    let tables = match (&args.trip, args.what) {
        (Some(id), _) => logbook.read_trip(id)?,
        (None, Exported::Bites | Exported::Breaks) => all_trips(&logbook)?,
        (None, _) => logbook.read_trip(&newest)?,
    };
    let Some(text) = text(&tables, args) else {
        out.warn("a surface map is written as geojson or csv: a plotter could not draw it");
        return Ok(Status::Failed);
    };
    write_whole(&args.out, text.as_bytes()).with_context(|| format!("cannot write {}", shown(&args.out)))?;
    let of = match &tables.trips[..] {
        [trip] => format!("trip {}", trip.trip_id),
        trips => format!("{} trips", trips.len()),
    };
    out.say(&format!("{of}: in {}", shown(&args.out)));
    Ok(Status::Done)
}

/// Bites and breaks of all trips.
fn all_trips(logbook: &Logbook) -> anyhow::Result<TripTables> {
    Ok(TripTables {
        trips: logbook.read_table(None)?,
        bites: logbook.read_table(None)?,
        breaks: logbook.read_table(None)?,
        break_lines: logbook.read_table(None)?,
        ..TripTables::default()
    })
}

/// The text of the file; `None` where nothing can be drawn in this form.
fn text(tables: &TripTables, args: &ExportArgs) -> Option<String> {
    let newest = tables.trips.last();
    let style = newest.map_or_else(
        || Style::of(tables, None),
        |trip| {
            let style = Style::of_trip(trip, None);
            Style { several_days: style.several_days || tables.trips.len() > 1, ..style }
        },
    );
    let plotter = Plotter { has_short_names: args.short_names, takes_a_route: args.form == GpxForm::Route };
    Some(match (args.what, args.format) {
        (Exported::Track, ExportFormat::Geojson) => report::track_geojson(tables),
        (Exported::Track, ExportFormat::Gpx) => report::track_gpx(tables, plotter),
        (Exported::Track, ExportFormat::Csv) => report::csv(&tables.track),
        (Exported::Breaks, ExportFormat::Geojson) => report::breaks_geojson(tables),
        (Exported::Breaks, ExportFormat::Gpx) => report::breaks_gpx(tables, &style, plotter),
        (Exported::Breaks, ExportFormat::Csv) => report::csv(&tables.breaks),
        (Exported::SurfaceMap, ExportFormat::Geojson) => report::surface_map_geojson(tables),
        (Exported::SurfaceMap, ExportFormat::Gpx) => return None,
        (Exported::SurfaceMap, ExportFormat::Csv) => report::csv(&tables.surface_map),
        (Exported::Currents, ExportFormat::Geojson) => report::currents_geojson(tables),
        (Exported::Currents, ExportFormat::Gpx) => report::currents_gpx(tables, &style, plotter),
        (Exported::Currents, ExportFormat::Csv) => report::csv(&tables.currents),
        (Exported::Bites, ExportFormat::Geojson) => report::bites_geojson(tables),
        (Exported::Bites, ExportFormat::Gpx) => report::bites_gpx(tables, &style, plotter),
        (Exported::Bites, ExportFormat::Csv) => report::csv(&tables.bites),
    })
}

/// A program that watches for the file never meets half of it.
fn write_whole(path: &Path, bytes: &[u8]) -> std::io::Result<()> {
    let mut name = path.file_name().ok_or(std::io::ErrorKind::InvalidFilename)?.to_owned();
    name.push(".tmp");
    let temporary = path.with_file_name(name);
    let written = fs::write(&temporary, bytes).and_then(|()| fs::rename(&temporary, path));
    if written.is_err() {
        // nothing is lost with it, and the first failure is the one to tell
        let _ = fs::remove_file(&temporary);
    }
    written
}
