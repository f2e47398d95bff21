//! `verify`: checks every table of a logbook.

use waterseam_tables::{Finding, Logbook};

use crate::args::VerifyArgs;
use crate::output::{Output, Status};

/// Prints what is damaged; done only where nothing is.
///
/// A write that was interrupted is no damage: opening the logbook finishes it or undoes it, which is said.
///
/// # Errors
/// Where there is no logbook, or it cannot be listed.
pub fn run(args: &VerifyArgs, out: &mut Output) -> anyhow::Result<Status> {
    let logbook = Logbook::open(&args.logbook)?;
    for repair in logbook.repairs() {
        out.result(&format!("repaired: {repair}\n"))?;
    }
    let (damage, notes): (Vec<_>, Vec<_>) =
        waterseam_tables::verify(&args.logbook)?.into_iter().partition(Finding::is_damage);
    for (note, n) in once_each(&notes) {
        out.result(&format!(
            "{note}{}\n",
            if n > 1 { format!(" (and {} other files)", n - 1) } else { String::new() }
        ))?;
    }
    for finding in &damage {
        out.result(&format!("{finding}\n"))?;
    }
    if damage.is_empty() {
        let trips = logbook.trip_ids()?.len();
        let word = if trips == 1 { "trip" } else { "trips" };
        out.result(&format!("{trips} {word}, every table as it should be\n"))?;
        return Ok(Status::Done);
    }
    Ok(Status::Failed)
}

/// What is worth knowing, once for all files of a table of which the same is true.
fn once_each(notes: &[Finding]) -> Vec<(&Finding, usize)> {
    let table = |note: &Finding| note.path.split('/').next().unwrap_or_default().to_owned();
    let mut once: Vec<(&Finding, usize)> = Vec::new();
    for note in notes {
        match once.iter_mut().find(|(seen, _)| table(seen) == table(note) && seen.problem == note.problem) {
            Some((_, n)) => *n += 1,
            None => once.push((note, 1)),
        }
    }
    once
}
