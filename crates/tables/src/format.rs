//! Which format does a logbook have, and how does an older one become a newer one?
//!
//! Adding a column needs no new format: a table without it opens, and its values are missing. Anything else that an
//! older program would misread does. A logbook of an older format is read as it is, and taken to the newest when it
//! is next written.

use std::fs;
use std::io::ErrorKind;
use std::path::Path;

use serde::Deserialize;

use crate::disk::write_whole;
use crate::error::Error;
use crate::repair::Repair;

/// Version of the layout and of the tables that this program writes.
///
/// 1. Trips in `<table>/year=…/trip=…`; every row of `sources` belongs to a trip.
/// 2. Files that no trip could use have their rows in a partition of their own; `sources.trip_id` may be missing.
pub const FORMAT_VERSION: u32 = 2;

/// The file that makes a folder a logbook.
const TOML: &str = "logbook.toml";

type Step = fn(&Path) -> Result<(), Error>;

/// How a logbook of version `n` becomes one of version `n + 1`, for `n` from 1. A step that is interrupted is done
/// again from its start; the version is written when it is done.
const STEPS: [Step; FORMAT_VERSION as usize - 1] = [
    // 1 to 2: what is new is only added, so nothing is moved
    |_| Ok(()),
];

#[derive(Deserialize)]
struct Format {
    format_version: u32,
}

/// The format of a logbook. Refuses a folder that is no logbook, and a logbook that a newer program wrote.
pub(crate) fn version(root: &Path) -> Result<u32, Error> {
    let path = root.join(TOML);
    let text = match fs::read_to_string(&path) {
        Ok(text) => text,
        Err(e) if e.kind() == ErrorKind::NotFound => return Err(Error::NoLogbook { path: root.to_owned() }),
        Err(e) => return Err(Error::io(&path, "read")(e)),
    };
    let format: Format = toml::from_str(&text)
        .map_err(|e| Error::Toml { path: path.clone(), cause: e.message().to_owned() })?;
    match format.format_version {
        0 => Err(Error::Toml { path, cause: "there is no format_version 0".to_owned() }),
        found if found > FORMAT_VERSION => Err(Error::NewerFormat { path, found, known: FORMAT_VERSION }),
        found => Ok(found),
    }
}

/// Writes the version of a new logbook.
pub(crate) fn create(root: &Path) -> Result<(), Error> {
    write(root, FORMAT_VERSION)
}

/// Takes a logbook of version `from` to the newest.
pub(crate) fn migrate(root: &Path, from: u32) -> Result<Option<Repair>, Error> {
    for (step, version) in STEPS.iter().zip(1..).filter(|(_, version)| from <= *version) {
        step(root)?;
        write(root, version + 1)?;
    }
    Ok((from < FORMAT_VERSION).then_some(Repair::Migrated { from, to: FORMAT_VERSION }))
}

fn write(root: &Path, version: u32) -> Result<(), Error> {
    write_whole(&root.join(TOML), format!("format_version = {version}\n").as_bytes())
}
