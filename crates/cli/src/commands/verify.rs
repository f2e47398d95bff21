//! `verify`: checks every table of a logbook.

use crate::args::VerifyArgs;
use crate::output::{Output, Status};

/// Prints what is damaged; done only where nothing is.
///
/// # Errors
/// Where there is no logbook, or it cannot be listed.
pub fn run(args: &VerifyArgs, out: &mut Output) -> anyhow::Result<Status> {
    let findings = waterseam_tables::verify(&args.logbook)?;
    for finding in &findings {
        out.result(&format!("{finding}\n"))?;
    }
    if findings.is_empty() {
        let trips = waterseam_tables::Logbook::open(&args.logbook)?.trip_ids()?.len();
        out.result(&format!("{trips} trips, every table as it should be\n"))?;
        return Ok(Status::Done);
    }
    Ok(Status::Failed)
}
