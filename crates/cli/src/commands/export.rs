//! `export`: what the logbook holds, as a file for a GIS, a plotter or a spreadsheet.

use anyhow::{Context, bail};
use waterseam_hotspots::{Blur, SharingSettings};
use waterseam_process::hotspots::ALL_SPECIES;
use waterseam_process::outings::outings;
use waterseam_process::sharing::shared_places;
use waterseam_report::{self as report, CAUTIONS, Plotter, Style};
use waterseam_tables::{LayerId, Logbook, TripTables, geoparquet, trips};

use super::{shown, write_whole};
use crate::args::{ExportArgs, ExportFormat, Exported, GpxForm};
use crate::output::{Output, Status};

/// Writes one result of one trip, bites and breaks of all, or the places of all.
///
/// # Errors
/// Where the logbook or the trip does not exist or is damaged, nothing can be drawn in the form that is asked for, or the file
/// cannot be written.
pub fn run(args: &ExportArgs, out: &mut Output) -> anyhow::Result<Status> {
    let logbook = Logbook::open(&args.logbook)?;
    let Some(newest) = logbook.trip_ids()?.pop() else {
        out.warn("the logbook holds no trip");
        return Ok(Status::Failed);
    };
    if args.blur.is_some() && args.what != Exported::Hotspots {
        bail!("--blur is for --what hotspots: everything else says where exactly the boat was");
    }
    let (bytes, of) = match (args.what, args.blur, &args.trip) {
        (Exported::Hotspots, _, Some(_)) => bail!("hotspots are those of all trips: leave out --trip"),
        (Exported::Hotspots, Some(blur), None) => blurred(&logbook, blur, args)?,
        (Exported::Hotspots, None, None) => places(&logbook, args)?,
        (_, _, Some(id)) => of_trips(&logbook.read_trip(id)?, args)?,
        (Exported::Bites | Exported::Breaks, ..) => of_trips(&all_trips(&logbook)?, args)?,
        _ => of_trips(&logbook.read_trip(&newest)?, args)?,
    };
    write_whole(&args.out, &bytes).with_context(|| format!("cannot write {}", shown(&args.out)))?;
    out.say(&format!("{of}: in {}", shown(&args.out)));
    Ok(Status::Done)
}

/// What is to be written, and what it is of.
type Written = (Vec<u8>, String);

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

fn of_trips(tables: &TripTables, args: &ExportArgs) -> anyhow::Result<Written> {
    let style = style(&tables.trips);
    let plotter = plotter(args);
    let text = match (args.what, args.format) {
        (Exported::Track, ExportFormat::Geojson) => report::track_geojson(tables),
        (Exported::Track, ExportFormat::Gpx) => report::track_gpx(tables, plotter),
        (Exported::Track, ExportFormat::Csv) => report::csv(&tables.track),
        (Exported::Breaks, ExportFormat::Geojson) => report::breaks_geojson(tables),
        (Exported::Breaks, ExportFormat::Gpx) => report::breaks_gpx(tables, &style, plotter),
        (Exported::Breaks, ExportFormat::Csv) => report::csv(&tables.breaks),
        (Exported::SurfaceMap, ExportFormat::Geojson) => report::surface_map_geojson(tables),
        (Exported::SurfaceMap, ExportFormat::Csv) => report::csv(&tables.surface_map),
        (Exported::Currents, ExportFormat::Geojson) => report::currents_geojson(tables),
        (Exported::Currents, ExportFormat::Gpx) => report::currents_gpx(tables, &style, plotter),
        (Exported::Currents, ExportFormat::Csv) => report::csv(&tables.currents),
        (Exported::Bites, ExportFormat::Geojson) => report::bites_geojson(tables),
        (Exported::Bites, ExportFormat::Gpx) => report::bites_gpx(tables, &style, plotter),
        (Exported::Bites, ExportFormat::Csv) => report::csv(&tables.bites),
        (Exported::SurfaceMap, ExportFormat::Gpx) => {
            bail!("a surface map is written as geojson or csv: a plotter could not draw it")
        }
        (_, ExportFormat::Geoparquet) | (Exported::Hotspots, _) => {
            bail!("only hotspots are written as geoparquet: the tables of the trips are Parquet as they are")
        }
    };
    let of = match &tables.trips[..] {
        [trip] => format!("trip {}", trip.trip_id),
        trips => format!("{} trips", trips.len()),
    };
    Ok((text.into_bytes(), of))
}

/// The layer as it was built.
fn places(logbook: &Logbook, args: &ExportArgs) -> anyhow::Result<Written> {
    let layer = LayerId { resolution: args.resolution, division: args.season_part.word().to_owned() };
    let Some(mut rows) = logbook.hotspots(&layer)? else {
        bail!(
            "the logbook holds no such layer since its trips last changed: build it with\n  waterseam hotspots --logbook {} \
             --resolution {} --season-part {}",
            shown(&args.logbook),
            args.resolution,
            args.season_part
        );
    };
    // on a plotter one waypoint for all species together is enough
    let all_together = (args.format == ExportFormat::Gpx).then_some(ALL_SPECIES);
    if let Some(species) = args.species.as_deref().or(all_together) {
        rows.retain(|row| row.species == species);
    }
    let bytes = match args.format {
        ExportFormat::Geojson => report::areas_geojson(&rows).into_bytes(),
        ExportFormat::Csv => report::csv(&rows).into_bytes(),
        ExportFormat::Geoparquet => geoparquet(&rows, &CAUTIONS.join(" "))?,
        ExportFormat::Gpx => {
            report::hotspots_gpx(&rows, &style(&logbook.read_table(None)?), plotter(args)).into_bytes()
        }
    };
    let hot = rows.iter().filter(|row| row.hot).count();
    Ok((bytes, format!("{} places and parts of the season, {hot} of them hot", rows.len())))
}

/// What may be shown to others.
fn blurred(logbook: &Logbook, blur: Blur, args: &ExportArgs) -> anyhow::Result<Written> {
    let settings = SharingSettings {
        blur,
        division: args.season_part,
        species: args.species.clone(),
        trips_min: usize::from(args.least_trips),
    };
    let rows = shared_places(&outings(logbook)?, &settings);
    let bytes = match args.format {
        ExportFormat::Geojson => report::areas_geojson(&rows).into_bytes(),
        ExportFormat::Csv => report::csv(&rows).into_bytes(),
        ExportFormat::Geoparquet => geoparquet(&rows, &CAUTIONS.join(" "))?,
        ExportFormat::Gpx => {
            bail!(
                "blurred places are areas, and a waypoint would look like a spot: take geojson, csv or geoparquet"
            )
        }
    };
    let what = format!(
        "{} places and parts of the season that {} trips or more fished",
        rows.len(),
        settings.trips_min.max(1)
    );
    Ok((bytes, what))
}

/// The style of the newest trip; with several trips a clock time needs its day.
fn style(trips: &[trips::Row]) -> Style {
    let style = trips
        .last()
        .map_or_else(|| Style::of(&TripTables::default(), None), |trip| Style::of_trip(trip, None));
    Style { several_days: style.several_days || trips.len() > 1, ..style }
}

fn plotter(args: &ExportArgs) -> Plotter {
    Plotter { has_short_names: args.short_names, takes_a_route: args.form == GpxForm::Route }
}
