//! One file a command: typed arguments and an output in, a status out.

pub mod compact;
pub mod demo;
pub mod export;
pub mod forget;
pub mod hotspots;
pub mod inspect;
mod pages;
pub mod plan;
pub mod process;
pub mod report;
pub mod rundepth;
pub mod summary;
pub mod verify;

use std::fs;
use std::path::{Path, PathBuf};

use anyhow::Context;
use waterseam_logs::boat::BoatFile;

/// A path on one line, whatever its names are.
fn shown(path: &Path) -> String {
    waterseam_units::show::printable(&path.display().to_string())
}

/// The boat file that was named, else the one at the top of an input folder, else the defaults.
fn boat(named: Option<&Path>, inputs: &[PathBuf]) -> anyhow::Result<(BoatFile, Option<PathBuf>)> {
    let Some(path) = named.map(Path::to_owned).or_else(|| waterseam_process::files::boat_file(inputs)) else {
        return Ok((BoatFile::default(), None));
    };
    let text = std::fs::read_to_string(&path)
        .with_context(|| format!("cannot read the boat file {}", path.display()))?;
    let boat = BoatFile::from_toml(&text, &path.display().to_string())?;
    Ok((boat, Some(path)))
}

/// A program that watches for the file never meets half of it.
fn write_whole(path: &Path, bytes: &[u8]) -> std::io::Result<()> {
    let mut name = path.file_name().ok_or(std::io::ErrorKind::InvalidFilename)?.to_owned();
    name.push(".tmp");
    let temporary = path.with_file_name(name);
    let written = fs::write(&temporary, bytes).and_then(|()| fs::rename(&temporary, path));
    if written.is_err() {
        // nothing is lost with it, and the first failure is the one to tell
        let _ = fs::remove_file(&temporary);
    }
    written
}
