//! `process`: logs in, tables and summaries out.

use waterseam_process::{Done, Kept, Request};
use waterseam_report::Style;
use waterseam_tables::TripTables;

use crate::args::ProcessArgs;
use crate::output::{Output, Status};

/// Runs the main job and prints the summary of each trip.
///
/// # Errors
/// Where an input or the boat file cannot be read, nothing is of a known kind, or the logbook cannot be written.
pub fn run(args: &ProcessArgs, out: &mut Output) -> anyhow::Result<Status> {
    let (boat, boat_path) = super::boat(args.boat.as_deref(), &args.inputs)?;
    if let Some(path) = boat_path {
        out.say(&format!("boat file: {}", super::shown(&path)));
    }
    let request = Request { inputs: &args.inputs, boat: &boat, logbook: &args.logbook };
    let bar = out.progress(0);
    let summary = |tables: &TripTables| waterseam_report::trip(tables, &Style::of(tables, args.units));
    let done =
        waterseam_process::run(&request, &|files| bar.set_length(files as u64), &|_| bar.inc(1), &summary)?;
    bar.finish_and_clear();
    for (index, trip) in done.trips.iter().enumerate() {
        out.result(&format!("{}{}", if index > 0 { "\n" } else { "" }, trip.shown))?;
    }
    say_what_was_left(&done, out);
    if done.trips.is_empty() {
        out.warn("no trip: none of the files says where the boat was");
        return Ok(Status::Failed);
    }
    Ok(Status::Done)
}

fn say_what_was_left(done: &Done<String>, out: &mut Output) {
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
        out.warn(&format!("{}: {what}; left out", super::shown(path)));
    }
    for copy in &done.copies {
        let what = if copy.is_whole { "the same content as" } else { "the beginning of" };
        out.say(&format!("{}: {what} {}; read once", super::shown(&copy.path), super::shown(&copy.of)));
    }
    for (path, why) in &done.idle {
        out.warn(&format!("{}: no trip could use it; {why}", super::shown(path)));
    }
    for (path, line, reason) in &done.unplaced {
        out.warn(&format!("{}, line {line}: set aside ({})", super::shown(path), reason.replace('_', " ")));
    }
}
