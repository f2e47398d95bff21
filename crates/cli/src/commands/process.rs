//! `process`: logs in, tables and summaries out.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

use waterseam_process::other_trips::Logged;
use waterseam_process::{Done, Kept, Request};
use waterseam_report::{OtherTrips, Style};
use waterseam_tables::{Logbook, TripTables};
use waterseam_units::UnitSystem;
use waterseam_units::time::utc_year;

use super::summary::with_others;
use super::{pages, shown};
use crate::args::ProcessArgs;
use crate::output::{Output, Status};

/// What is made of a trip once it is in the logbook.
struct Shown {
    summary: String,
    /// Year of its season (UTC).
    year: i16,
    /// Where its page is; `None` where none is wanted.
    page: Option<anyhow::Result<PathBuf>>,
}

/// Runs the main job, prints the summary of each trip and writes its page.
///
/// # Errors
/// Where an input or the boat file cannot be read, nothing is of a known kind, or the logbook cannot be written.
pub fn run(args: &ProcessArgs, out: &mut Output) -> anyhow::Result<Status> {
    let (boat, boat_path) = super::boat(args.boat.as_deref(), &args.inputs)?;
    if let Some(path) = boat_path {
        out.say(&format!("boat file: {}", shown(&path)));
    }
    let request = Request { inputs: &args.inputs, boat: &boat, logbook: &args.logbook };
    let bar = out.progress(0);
    let folder = args.report.clone().unwrap_or_else(|| pages::default_folder(&args.logbook));
    let show = |tables: &TripTables| Shown {
        summary: waterseam_report::trip(tables, &Style::of(tables, args.units)),
        year: tables.trips.first().map_or(0, |trip| utc_year(trip.time_start)),
        page: (!args.no_report)
            .then(|| pages::write_trip(tables, &OtherTrips::default(), &folder, args.units)),
    };
    let done =
        waterseam_process::run(&request, &|files| bar.set_length(files as u64), &|_| bar.inc(1), &show)?;
    bar.finish_and_clear();
    for (index, trip) in done.trips.iter().enumerate() {
        out.result(&format!("{}{}", if index > 0 { "\n" } else { "" }, trip.shown.summary))?;
    }
    say_what_was_left(&done, out);
    if done.trips.is_empty() {
        out.warn("no trip: none of the files says where the boat was");
        return Ok(Status::Failed);
    }
    Ok(if args.no_report { Status::Done } else { say_where_pages_are(&folder, done, args, out) })
}

/// The trips are safe in the logbook by now, whatever becomes of the pages.
fn say_where_pages_are(folder: &Path, done: Done<Shown>, args: &ProcessArgs, out: &mut Output) -> Status {
    let years: BTreeSet<i16> = done.trips.iter().map(|trip| trip.shown.year).collect();
    let ids: Vec<String> = done.trips.iter().map(|trip| trip.trip_id.clone()).collect();
    let pages: anyhow::Result<Vec<PathBuf>> =
        done.trips.into_iter().filter_map(|trip| trip.shown.page).collect();
    let written = pages.and_then(|mut pages| {
        let logbook = Logbook::open(&args.logbook)?;
        tell_with_others(&logbook, &ids, folder, args.units)?;
        for year in years {
            pages.push(pages::write_season(&logbook, year, folder, args.units)?);
        }
        pages::write_index(&logbook, folder, args.units)?;
        Ok(pages)
    });
    match written {
        Ok(pages) => {
            for page in &pages {
                out.say(&format!("page: {}", shown(page)));
            }
            Status::Done
        }
        Err(why) => {
            out.failure(&why.context(format!(
                "the trips are in the logbook, but not every page could be written; `waterseam report --logbook {} --out DIR` writes them again",
                shown(&args.logbook)
            )));
            Status::Failed
        }
    }
}

/// Writes the pages anew to which the boat's other trips have something to say, now that all of them are in the logbook.
fn tell_with_others(
    logbook: &Logbook,
    ids: &[String],
    folder: &Path,
    units: Option<UnitSystem>,
) -> anyhow::Result<()> {
    let logged = Logged::of(logbook)?;
    for id in ids.iter().filter(|id| logged.tell_of(id)) {
        let tables = logbook.read_trip(id)?;
        pages::write_trip(&tables, &with_others(&logged, &tables), folder, units)?;
    }
    Ok(())
}

fn say_what_was_left(done: &Done<Shown>, out: &mut Output) {
    for repair in &done.repairs {
        out.say(&format!("{repair}"));
    }
    for trip in &done.trips {
        match &trip.kept {
            Kept::Added => {}
            Kept::Unchanged => out.say(&format!("trip {} is already in the logbook; nothing changed", trip.trip_id)),
            Kept::Replaced => out.say(&format!("trip {} replaced what the logbook held of that time", trip.trip_id)),
            Kept::HeldIsRicher { missing } => out.warn(&format!(
                "trip {} stays as the logbook holds it: it was made with {} too; process all files of the trip together to replace it",
                trip.trip_id,
                missing.join(", ")
            )),
        }
    }
    for trip in &done.trips {
        for other in &trip.beside {
            out.say(&format!(
                "trip {} lies close to trip {other} of the logbook: process the files of both together to make one trip of them",
                trip.trip_id
            ));
        }
    }
    for id in &done.moved {
        out.say(&format!(
            "trip {id} is gone from the logbook: the same files are read with other times now, as the trips above"
        ));
    }
    for (path, what) in &done.unknown {
        out.warn(&format!("{}: {what}; left out", shown(path)));
    }
    for copy in &done.copies {
        let what = if copy.is_whole { "the same content as" } else { "the beginning of" };
        out.say(&format!("{}: {what} {}; read once", shown(&copy.path), shown(&copy.of)));
    }
    for (path, why) in &done.idle {
        out.warn(&format!("{}: no trip could use it; {why}", shown(path)));
    }
    for (path, line, reason) in &done.unplaced {
        out.warn(&format!("{}, line {line}: set aside ({})", shown(path), reason.replace('_', " ")));
    }
}
