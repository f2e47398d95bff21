//! `forget`: removes a trip, and its page.

use anyhow::Context;
use waterseam_tables::{Error, Logbook, LogbookWriter};

use super::{pages, shown};
use crate::args::ForgetArgs;
use crate::output::{Output, Status};

/// Removes a trip from every table, its page, and what season and index say of it.
///
/// # Errors
/// Where the logbook or the trip does not exist, or a file cannot be removed or written.
pub fn run(args: &ForgetArgs, out: &mut Output) -> anyhow::Result<Status> {
    // opening for reading first: forgetting must not make a logbook where there is none
    let known = Logbook::open(&args.logbook)?.trip_ids()?;
    if !known.contains(&args.trip) {
        return Err(Error::NoSuchTrip { trip_id: args.trip.clone() }.into());
    }
    LogbookWriter::open_or_create(&args.logbook)?.forget(&args.trip)?;
    let folder = args.report.clone().unwrap_or_else(|| pages::default_folder(&args.logbook));
    let has_pages =
        Logbook::open(&args.logbook).map_err(Into::into).and_then(|logbook| pages::follow(&logbook, &folder));
    let has_pages = has_pages.with_context(|| {
        format!(
            "trip {} is forgotten, but not every page in {} could follow; `waterseam report --logbook {} --out DIR` writes them again",
            args.trip,
            shown(&folder),
            shown(&args.logbook)
        )
    })?;
    if has_pages {
        out.say(&format!("trip {} is forgotten, and its page in {} is gone", args.trip, shown(&folder)));
    } else {
        out.say(&format!(
            "trip {} is forgotten; {} holds no pages: if its page lies elsewhere, remove it there, or write the pages again with `waterseam report`",
            args.trip,
            shown(&folder)
        ));
    }
    Ok(Status::Done)
}
