//! How do all tables of a trip change together, whatever happens in between?
//!
//! 1. Every file is written whole to `.staging/<trip_id>/` and flushed to the disk, and the folders that will
//!    take them are made and flushed: a file must not move to a folder that the disk could lose. Anything that fails
//!    here is undone, and the logbook is as it was.
//! 2. The list of files with their sums is renamed to `sums` in that folder, and the folder is flushed. From here
//!    on the trip is written.
//! 3. Each file is renamed to its place, older files of the trip and the trips that it stands for are removed, and
//!    the list goes to `.sums/`. Between these steps the folders are flushed, so that after a power cut a later step
//!    is never on the disk without the earlier ones.
//!
//! A trip that is found in `.staging` with its list was interrupted in step 3, which is done again; without
//! the list it was interrupted in step 1, and is removed. A trip is forgotten by an empty list.

use std::collections::BTreeSet;
use std::ffi::OsStr;
use std::fs;
use std::io::ErrorKind;
use std::path::{Path, PathBuf};

use crate::disk::{make_folder, remove_file, remove_folder, remove_if_empty, rename, sync_folder, write_new};
use crate::error::Error;
use crate::layout::{self, PART, entries, name, partitions_of, staging_root, sums_file, sums_folder};
use crate::repair::Repair;
use crate::sums::{self, Sums};

/// The list whose presence says that every file is staged.
const LIST: &str = "sums";

/// Ids of the trips that go when this one comes, one a line.
const INSTEAD_OF: &str = "instead_of";

/// The files of a trip: path from the root of the logbook, and bytes.
pub(crate) type Files = Vec<(String, Vec<u8>)>;

/// Puts these files in the place of all files that the trip has, and removes the trips `instead_of` with the same
/// stroke.
pub(crate) fn replace(root: &Path, trip_id: &str, files: &Files, instead_of: &[String]) -> Result<(), Error> {
    if is_staged(root, trip_id) {
        recover_one(root, trip_id)?;
    }
    stage(root, trip_id, files, instead_of)
        .map_err(|cause| Error::NotWritten { trip_id: trip_id.to_owned(), cause: Box::new(cause) })?;
    finish(root, trip_id)
        .map_err(|cause| Error::Interrupted { trip_id: trip_id.to_owned(), cause: Box::new(cause) })
}

/// Whether an interrupted write has left something.
pub(crate) fn is_interrupted(root: &Path) -> Result<bool, Error> {
    Ok(!entries(&staging_root(root))?.is_empty() || !leftovers(root)?.is_empty())
}

/// Finishes or undoes what was interrupted, and says what it did.
pub(crate) fn recover(root: &Path) -> Result<Vec<Repair>, Error> {
    let mut repairs = Vec::new();
    for staging in entries(&staging_root(root))? {
        repairs.push(recover_one(root, name(&staging))?);
    }
    remove_if_empty(&staging_root(root));
    for path in leftovers(root)? {
        remove_file(&path)?;
        repairs.push(Repair::Removed { name: name(&path).to_owned() });
    }
    Ok(repairs)
}

fn recover_one(root: &Path, trip_id: &str) -> Result<Repair, Error> {
    let staging = staging_root(root).join(trip_id);
    let trip = trip_id.to_owned();
    if !is_staged(root, trip_id) {
        remove_empty_folders(root, trip_id)?;
        remove_staging(root, &staging)?;
        return Ok(Repair::Undone { trip_id: trip });
    }
    if is_complete(root, &staging)? {
        finish(root, trip_id)?;
        return Ok(Repair::Finished { trip_id: trip });
    }
    // a disk that lost flushed bytes: what is in its place stays, for `verify` to judge
    remove_empty_folders(root, trip_id)?;
    remove_file(&staging.join(LIST))?;
    remove_staging(root, &staging)?;
    Ok(Repair::Lost { trip_id: trip })
}

/// Whether every file of the list is there, staged or in its place, as it was written.
fn is_complete(root: &Path, staging: &Path) -> Result<bool, Error> {
    let sums = match Sums::read(&staging.join(LIST)) {
        Ok(sums) => sums,
        Err(Error::Damaged { .. }) => return Ok(false),
        Err(other) => return Err(other),
    };
    let is = |path: &Path, hash: &String| sums::hash_of(path).is_ok_and(|found| found == *hash);
    Ok(sums
        .0
        .iter()
        .all(|(path, hash)| is(&staging.join(staged_name(path)), hash) || is(&root.join(path), hash)))
}

/// Temporary files of a small file that was being written.
pub(crate) fn leftovers(root: &Path) -> Result<Vec<PathBuf>, Error> {
    let is_temporary =
        |path: &PathBuf| name(path).starts_with('.') && path.extension() == Some(OsStr::new("tmp"));
    Ok(entries(root)?.into_iter().filter(|path| is_temporary(path) && path.is_file()).collect())
}

/// Removes the folders that were made for files of the trip which never came.
fn remove_empty_folders(root: &Path, trip_id: &str) -> Result<(), Error> {
    let mut changed = BTreeSet::new();
    for table in layout::tables(root)? {
        for partition in partitions_of(root, &table, trip_id)? {
            let folder = root.join(partition.folder(&table));
            folder.ancestors().take(3).for_each(remove_if_empty);
            changed.extend(folder.ancestors().skip(1).take(3).map(Path::to_owned));
        }
    }
    sync_all(&changed)
}

fn is_staged(root: &Path, trip_id: &str) -> bool {
    staging_root(root).join(trip_id).join(LIST).exists()
}

/// Steps 1 and 2. After an error nothing of it is left.
pub(crate) fn stage(root: &Path, trip_id: &str, files: &Files, instead_of: &[String]) -> Result<(), Error> {
    let mut made = Vec::new();
    let staged = try_stage(root, trip_id, files, instead_of, &mut made);
    if staged.is_err() {
        // what cannot be removed now is removed when the logbook is next opened; the list goes first
        let staging = staging_root(root).join(trip_id);
        let _ = fs::remove_file(staging.join(LIST));
        let _ = fs::remove_dir_all(staging);
        made.iter().rev().for_each(|folder| remove_if_empty(folder));
    }
    staged
}

fn try_stage(
    root: &Path,
    trip_id: &str,
    files: &Files,
    instead_of: &[String],
    made: &mut Vec<PathBuf>,
) -> Result<(), Error> {
    let staging = staging_root(root).join(trip_id);
    remove_folder(&staging)?;
    make_folder(&staging, made)?;
    make_folder(&sums_folder(root), made)?;
    // without its staging folder an empty folder of a table would have nobody to remove it
    sync_folder(&staging_root(root))?;
    sync_folder(root)?;
    let mut sums = Sums::default();
    for (path, bytes) in files {
        make_folder(root.join(path).parent().unwrap_or(root), made)?;
        write_new(&staging.join(staged_name(path)), bytes)?;
        sums.insert(path.clone(), bytes);
    }
    sync_parents(made)?;
    if !instead_of.is_empty() {
        write_new(&staging.join(INSTEAD_OF), instead_of.join("\n").as_bytes())?;
    }
    let unnamed = staging.join(format!("{LIST}.tmp"));
    write_new(&unnamed, sums.text().as_bytes())?;
    // every name that the list speaks of is on the disk before the list is
    sync_folder(&staging)?;
    rename(&unnamed, &staging.join(LIST))?;
    sync_folder(&staging)
}

/// Step 3. May be done again after it was interrupted anywhere.
pub(crate) fn finish(root: &Path, trip_id: &str) -> Result<(), Error> {
    let staging = staging_root(root).join(trip_id);
    let sums = Sums::read(&staging.join(LIST))?;
    let instead_of = instead_of(&staging)?;
    let mut made = Vec::new();
    let mut changed = BTreeSet::new();
    for path in sums.0.keys() {
        let place = root.join(path);
        let folder = place.parent().unwrap_or(root);
        make_folder(folder, &mut made)?;
        changed.insert(folder.to_owned());
    }
    sync_parents(&made)?;
    for path in sums.0.keys() {
        let staged = staging.join(staged_name(path));
        if staged.exists() {
            rename(&staged, &root.join(path))?;
        }
    }
    sync_all(&changed)?;
    remove_partitions(root, trip_id, &sums)?;
    for old in &instead_of {
        remove_partitions(root, old, &Sums::default())?;
        remove_file(&sums_file(root, old))?;
    }
    if sums.0.is_empty() {
        remove_file(&sums_file(root, trip_id))?;
        sync_folder(&sums_folder(root))?;
        remove_file(&staging.join(LIST))?;
    } else {
        sync_folder(&sums_folder(root))?;
        rename(&staging.join(LIST), &sums_file(root, trip_id))?;
        sync_folder(&sums_folder(root))?;
    }
    remove_staging(root, &staging)
}

/// Ids of the trips that go when the staged one comes.
fn instead_of(staging: &Path) -> Result<Vec<String>, Error> {
    let path = staging.join(INSTEAD_OF);
    match fs::read_to_string(&path) {
        Ok(text) => {
            Ok(text.lines().filter(|id| layout::check_trip_id(id).is_ok()).map(str::to_owned).collect())
        }
        Err(e) if e.kind() == ErrorKind::NotFound => Ok(Vec::new()),
        Err(e) => Err(Error::io(&path, "read")(e)),
    }
}

/// Removes a staging folder for good.
fn remove_staging(root: &Path, staging: &Path) -> Result<(), Error> {
    remove_folder(staging)?;
    sync_folder(&staging_root(root))?;
    remove_if_empty(&staging_root(root));
    Ok(())
}

/// Removes the trip's partitions that the list does not name: of another year, or of a trip that goes.
fn remove_partitions(root: &Path, trip_id: &str, keep: &Sums) -> Result<(), Error> {
    let mut changed = BTreeSet::new();
    for table in &layout::tables(root)? {
        for partition in partitions_of(root, table, trip_id)? {
            if !keep.0.contains_key(&partition.file(table)) {
                let folder = root.join(partition.folder(table));
                remove_folder(&folder)?;
                folder.ancestors().skip(1).take(2).for_each(remove_if_empty);
                changed.extend(folder.ancestors().skip(1).take(3).map(Path::to_owned));
            }
        }
    }
    sync_all(&changed)
}

/// Flushes the folders in which these were made.
pub(crate) fn sync_parents(made: &[PathBuf]) -> Result<(), Error> {
    sync_all(&made.iter().filter_map(|folder| folder.parent()).map(Path::to_owned).collect())
}

/// Flushes the folders that are still there.
pub(crate) fn sync_all(folders: &BTreeSet<PathBuf>) -> Result<(), Error> {
    folders.iter().filter(|folder| folder.is_dir()).try_for_each(|folder| sync_folder(folder))
}

/// Name under which a file waits: `track/year=…/trip=…/part-0.parquet` as `track.parquet`.
fn staged_name(path: &str) -> String {
    let table = path.split('/').next().unwrap_or(PART);
    format!("{table}.parquet")
}
