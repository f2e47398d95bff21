//! Writes a small invented logbook: `cargo run -p waterseam-tables --example sample_logbook -- DIR`.
//!
//! Three trips over two years; one of them has no bites, breaks or probe, so most of its tables are empty.

#[path = "../tests/sample/mod.rs"]
mod sample;

use std::path::PathBuf;

use waterseam_tables::{Error, LogbookWriter, TripTables};

const DAY_US: i64 = 86_400 * 1_000_000;

fn main() -> Result<(), Error> {
    let folder: PathBuf = std::env::args_os().nth(1).map_or_else(|| "sample-logbook".into(), Into::into);
    let logbook = LogbookWriter::open_or_create(&folder)?;
    logbook.write_trip(&sample::trip("2025-06-14-0512", sample::START_US - 365 * DAY_US, 3_600))?;
    logbook.write_trip(&sample::trip("2026-06-14-0512", sample::START_US, 7_200))?;
    let quiet = sample::trip("2026-06-15-0512", sample::START_US + DAY_US, 1_800);
    let mut quiet = TripTables {
        sources: quiet.sources,
        trips: quiet.trips,
        track: quiet.track,
        ..TripTables::default()
    };
    quiet.trips[0].bites = 0;
    logbook.write_trip(&quiet)?;
    Ok(())
}
