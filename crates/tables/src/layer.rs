//! Where does the layer of many trips stand, and how is it changed?
//!
//! `hotspots/cells=7/parts=month/part-0.parquet`: one file for each resolution and division of the season, written whole or not at all. The folders' names are none
//! of the columns: engines put the value of a folder in the place of a column of the same name.
//!
//! A layer is made of the trips, and goes when one of them changes: what stands in the logbook is always of all of its trips.

use std::fs;
use std::path::Path;

use crate::disk;
use crate::error::Error;
use crate::file;
use crate::layout::{self, PART, entries};
use crate::logbook::Outcome;
use crate::sums::{self, Sums};
use crate::table::Table;
use crate::tables::hotspots;

/// A layer of the logbook.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct LayerId {
    /// H3 resolution of its cells.
    pub resolution: u8,
    /// How the season is divided, in a word of letters and hyphens.
    pub division: String,
}

impl LayerId {
    /// Its file, from the root of the logbook, with `/` between the names on every system.
    pub(crate) fn file(&self) -> String {
        format!("{}/cells={}/parts={}/{PART}", hotspots::Row::NAME, self.resolution, self.division)
    }

    /// Its sum, likewise.
    fn sums(&self) -> String {
        format!(".sums/{}.{}.{}.blake3", hotspots::Row::NAME, self.resolution, self.division)
    }

    fn is_plain(&self) -> bool {
        !self.division.is_empty() && self.division.bytes().all(|b| b.is_ascii_lowercase() || b == b'-')
    }
}

/// The layers that a logbook holds.
pub(crate) fn list(root: &Path) -> Result<Vec<LayerId>, Error> {
    let mut found = Vec::new();
    for cells in entries(&root.join(hotspots::Row::NAME))? {
        let resolution = layout::name(&cells).strip_prefix("cells=").and_then(|text| text.parse().ok());
        let Some(resolution) = resolution else { continue };
        for parts in entries(&cells)? {
            let Some(division) = layout::name(&parts).strip_prefix("parts=") else { continue };
            let layer = LayerId { resolution, division: division.to_owned() };
            if layer.is_plain() && root.join(layer.file()).is_file() {
                found.push(layer);
            }
        }
    }
    found.sort();
    Ok(found)
}

/// Whether the file is as it was written; so it is, too, where its sum is not known.
pub(crate) fn is_unchanged(root: &Path, layer: &LayerId) -> Result<bool, Error> {
    let sums = Sums::read(&root.join(layer.sums())).ok();
    sums::is_unchanged(sums.as_ref(), root, &layer.file())
}

/// The rows of a layer; `None` where the logbook does not hold it.
pub(crate) fn read(root: &Path, layer: &LayerId) -> Result<Option<Vec<hotspots::Row>>, Error> {
    let path = root.join(layer.file());
    if !layer.is_plain() || !path.is_file() {
        return Ok(None);
    }
    if !is_unchanged(root, layer)? {
        return Err(Error::Damaged { path, cause: "it has changed since it was written".to_owned() });
    }
    file::rows(&path).map(Some)
}

/// Puts a layer in the place of the one that is there.
pub(crate) fn write(root: &Path, layer: &LayerId, rows: &[hotspots::Row]) -> Result<Outcome, Error> {
    let (path, sums_path) = (root.join(layer.file()), root.join(layer.sums()));
    if !layer.is_plain() {
        return Err(Error::TripId { id: layer.division.clone() });
    }
    let bytes = file::bytes(rows)?;
    let mut sums = Sums::default();
    sums.insert(layer.file(), &bytes);
    let known = path.is_file();
    if known
        && fs::read(&path).is_ok_and(|there| there == bytes)
        && Sums::read(&sums_path).is_ok_and(|there| there == sums)
    {
        return Ok(Outcome::Unchanged);
    }
    let mut made = Vec::new();
    for path in [&path, &sums_path] {
        path.parent().map_or(Ok(()), |folder| disk::make_folder(folder, &mut made))?;
    }
    for folder in &made {
        folder.parent().map_or(Ok(()), disk::sync_folder)?;
    }
    // a file without its sum is read; one with the sum of another would be taken for damaged
    remove_sum(&sums_path)?;
    disk::write_whole(&path, &bytes)?;
    disk::write_whole(&sums_path, sums.text().as_bytes())?;
    Ok(if known { Outcome::Replaced } else { Outcome::Added })
}

/// Removes every layer.
pub(crate) fn remove_all(root: &Path) -> Result<(), Error> {
    let folder = root.join(hotspots::Row::NAME);
    if !folder.exists() {
        return Ok(());
    }
    for layer in list(root)? {
        remove_sum(&root.join(layer.sums()))?;
    }
    disk::remove_folder(&folder)?;
    disk::sync_folder(root)
}

fn remove_sum(path: &Path) -> Result<(), Error> {
    if path.exists() {
        disk::remove_file(path)?;
        path.parent().map_or(Ok(()), disk::sync_folder)?;
    }
    Ok(())
}
