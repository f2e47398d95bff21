//! `export`: what a trip found, as a file for a GIS or a plotter.

use std::fs;
use std::path::Path;

use anyhow::Context;
use waterseam_report::Style;
use waterseam_tables::Logbook;

use super::shown;
use crate::args::{ExportArgs, ExportFormat, Exported};
use crate::output::{Output, Status};

/// Writes one result of one trip; without a choice, of the newest.
///
/// # Errors
/// Where the logbook or the trip does not exist or is damaged, or the file cannot be written.
pub fn run(args: &ExportArgs, out: &mut Output) -> anyhow::Result<Status> {
    let logbook = Logbook::open(&args.logbook)?;
    let newest = || Ok::<_, anyhow::Error>(logbook.trip_ids()?.pop());
    let Some(trip_id) = args.trip.clone().map_or_else(newest, |id| Ok(Some(id)))? else {
        out.warn("the logbook holds no trip");
        return Ok(Status::Failed);
    };
    let tables = logbook.read_trip(&trip_id)?;
    let text = match (args.what, args.format) {
        (Exported::Breaks, ExportFormat::Geojson) => waterseam_report::breaks_geojson(&tables),
        (Exported::SurfaceMap, ExportFormat::Geojson) => waterseam_report::surface_map_geojson(&tables),
        (Exported::Currents, ExportFormat::Geojson) => waterseam_report::currents_geojson(&tables),
        (Exported::Currents, ExportFormat::Gpx) => {
            waterseam_report::currents_gpx(&tables, &Style::of(&tables, None))
        }
        (_, ExportFormat::Gpx) => {
            out.warn("only currents are written as GPX; --format geojson writes the others");
            return Ok(Status::Failed);
        }
    };
    write_whole(&args.out, &text).with_context(|| format!("cannot write {}", shown(&args.out)))?;
    out.say(&format!("trip {trip_id} is in {}", shown(&args.out)));
    Ok(Status::Done)
}

/// A program that watches for the file never meets half of it.
fn write_whole(path: &Path, text: &str) -> std::io::Result<()> {
    let mut name = path.file_name().ok_or(std::io::ErrorKind::InvalidFilename)?.to_owned();
    name.push(".tmp");
    let temporary = path.with_file_name(name);
    let written = fs::write(&temporary, text).and_then(|()| fs::rename(&temporary, path));
    if written.is_err() {
        // nothing is lost with it, and the first failure is the one to tell
        let _ = fs::remove_file(&temporary);
    }
    written
}
