//! `compact`: few large files of many small ones, as a copy.

use waterseam_tables::Written;

use crate::args::CompactArgs;
use crate::output::{Output, Status};

/// Makes a pool hold what logbooks hold, and says which years it wrote.
///
/// # Errors
/// Where a logbook or the pool cannot be used, two logbooks hold different trips of one boat under one id, or a file of a
/// logbook is damaged.
pub fn run(args: &CompactArgs, out: &mut Output) -> anyhow::Result<Status> {
    let done = waterseam_tables::compact(&args.logbook, &args.out)?;
    for gone in &done.removed {
        out.result(&format!("{gone}: in none of these logbooks, removed from the pool\n"))?;
    }
    for written in &done.written {
        out.result(&said(written))?;
    }
    for same in &done.unchanged {
        out.result(&format!("{same}: as before\n"))?;
    }
    Ok(Status::Done)
}

fn said(written: &Written) -> String {
    let trips = if written.trips == 1 { "trip" } else { "trips" };
    format!(
        "{}: {} {trips}, {} files of {} are now {} of {}\n",
        written.of,
        written.trips,
        written.files_before,
        size(written.bytes_before),
        written.files_after,
        size(written.bytes_after)
    )
}

/// An amount of bytes in decimal units (IEC 80000-13).
fn size(bytes: u64) -> String {
    match bytes {
        0..1_000_000 => format!("{:.0} kB", bytes as f64 / 1e3),
        1_000_000..1_000_000_000 => format!("{:.1} MB", bytes as f64 / 1e6),
        _ => format!("{:.1} GB", bytes as f64 / 1e9),
    }
}
