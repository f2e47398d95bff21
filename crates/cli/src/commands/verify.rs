//! `verify`: checks every table of a logbook.

use waterseam_tables::Logbook;

use crate::args::VerifyArgs;
use crate::output::{Output, Status};

/// Prints what is damaged; done only where nothing is.
///
/// A write that was interrupted is no damage: opening the logbook finishes it or undoes it.
///
/// # Errors
/// Where there is no logbook, or it cannot be listed.
pub fn run(args: &VerifyArgs, out: &mut Output) -> anyhow::Result<Status> {
    let logbook = Logbook::open(&args.logbook)?;
    let findings = waterseam_tables::verify(&args.logbook)?;
    for finding in &findings {
        out.result(&format!("{finding}\n"))?;
    }
    if findings.is_empty() {
        let trips = logbook.trip_ids()?.len();
        let word = if trips == 1 { "trip" } else { "trips" };
        out.result(&format!("{trips} {word}, every table as it should be\n"))?;
        return Ok(Status::Done);
    }
    Ok(Status::Failed)
}
