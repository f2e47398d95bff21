//! `forget`: removes a trip.

use waterseam_tables::{Error, Logbook, LogbookWriter};

use crate::args::ForgetArgs;
use crate::output::{Output, Status};

/// Removes a trip from every table.
///
/// # Errors
/// Where the logbook or the trip does not exist, or a file cannot be removed.
pub fn run(args: &ForgetArgs, out: &mut Output) -> anyhow::Result<Status> {
    // opening for reading first: forgetting must not make a logbook where there is none
    let known = Logbook::open(&args.logbook)?.trip_ids()?;
    if !known.contains(&args.trip) {
        return Err(Error::NoSuchTrip { trip_id: args.trip.clone() }.into());
    }
    LogbookWriter::open_or_create(&args.logbook)?.forget(&args.trip)?;
    out.say(&format!("trip {} is forgotten", args.trip));
    Ok(Status::Done)
}
