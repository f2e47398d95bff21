//! `report`: the pages of trips and seasons and their index, from the tables alone.

use waterseam_process::other_trips::Logged;
use waterseam_tables::{Logbook, trips};
use waterseam_units::time::utc_year;

use super::summary::with_others;
use super::{pages, shown};
use crate::args::ReportArgs;
use crate::output::{Output, Status};

/// Writes the page of one trip, of the trips of a year, or of all, with those of the seasons, and the index.
///
/// # Errors
/// Where the logbook or the trip does not exist or is damaged, or a page cannot be written.
pub fn run(args: &ReportArgs, out: &mut Output) -> anyhow::Result<Status> {
    let logbook = Logbook::open(&args.logbook)?;
    let ids = match (&args.trip, args.season) {
        (Some(id), _) => vec![id.clone()],
        (None, Some(year)) => {
            logbook.read_table::<trips::Row>(Some(year))?.into_iter().map(|trip| trip.trip_id).collect()
        }
        (None, None) => logbook.trip_ids()?,
    };
    if ids.is_empty() {
        out.warn("the logbook holds no such trip");
        return Ok(Status::Failed);
    }
    let logged = Logged::of(&logbook)?;
    for id in &ids {
        let tables = logbook.read_trip(id)?;
        let path = pages::write_trip(&tables, &with_others(&logged, &tables), &args.out, args.units)?;
        out.result(&format!("{}\n", shown(&path)))?;
    }
    if args.trip.is_none() {
        let trips: Vec<trips::Row> = logbook.read_table(args.season)?;
        let mut years: Vec<i16> = trips.iter().map(|trip| utc_year(trip.time_start)).collect();
        years.dedup();
        for year in years {
            let path = pages::write_season(&logbook, year, &args.out, args.units)?;
            out.result(&format!("{}\n", shown(&path)))?;
        }
    }
    if args.trip.is_none() && args.season.is_none() {
        for path in pages::write_places(&logbook, &args.out, args.units)? {
            out.result(&format!("{}\n", shown(&path)))?;
        }
    }
    pages::write_index(&logbook, &args.out, args.units)?;
    out.result(&format!("{}\n", shown(&args.out.join(pages::INDEX))))?;
    Ok(Status::Done)
}
