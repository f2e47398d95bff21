//! `inspect`: what each file is and what would be made of it.

use waterseam_process::shelf::Shelf;

use crate::args::{Format, InspectArgs};
use crate::output::{Output, Status};

/// Prints the account of every file.
///
/// # Errors
/// Where an input does not exist, cannot be read, or nothing in it is of a known kind.
pub fn run(args: &InspectArgs, out: &mut Output) -> anyhow::Result<Status> {
    let (boat, boat_path) = super::boat(args.boat.as_deref(), &args.inputs)?;
    let paths = waterseam_process::files::find(&args.inputs, None)?;
    let bar = out.progress(paths.len() as u64);
    let shelf = Shelf::beside(&std::env::temp_dir());
    let mut files = waterseam_process::read::all(&paths, &boat, &shelf, &|_| bar.inc(1))?;
    waterseam_process::clocks::align(&mut files, &boat, &shelf)?;
    bar.finish_and_clear();
    if let Some(path) = boat_path {
        out.say(&format!("boat file: {}", super::shown(&path)));
    }
    let accounts: Vec<_> = files.iter().map(|file| (&file.report, file.set_aside.as_slice())).collect();
    match args.format {
        Format::Text => {
            for (index, (report, set_aside)) in accounts.iter().enumerate() {
                let text = waterseam_report::source(report, set_aside, &boat.time_zone);
                out.result(&format!("{}{text}", if index > 0 { "\n" } else { "" }))?;
            }
        }
        Format::Json => {
            let values: Vec<_> =
                accounts.iter().map(|(report, aside)| waterseam_report::source_json(report, aside)).collect();
            out.result(&format!("{}\n", serde_json::to_string_pretty(&values)?))?;
        }
    }
    let known = accounts.iter().any(|(report, _)| report.kind.is_some());
    if !known {
        out.warn("none of these files is a log that can be read");
    }
    Ok(if known { Status::Done } else { Status::Failed })
}
