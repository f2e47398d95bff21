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

use std::ffi::OsStr;
use std::fs;
use std::io::ErrorKind;
use std::path::{Path, PathBuf};

use crate::disk::{Unflushed, make_folder, remove_file, remove_folder, remove_if_empty, rename, sync_folder};
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

/// What is to become of a trip.
pub(crate) struct Change<'a> {
    pub trip_id: &'a str,
    /// They come in the place of all files that the trip has.
    pub files: &'a Files,
    /// Trips that go with the same stroke.
    pub instead_of: &'a [String],
}

/// Makes changes, no two of the same trip. Each is whole or not at all; what the disk is asked to keep is asked for all
/// of them at once.
pub(crate) fn replace(root: &Path, changes: &[Change]) -> Result<(), Error> {
    let trip_ids: Vec<&str> = changes.iter().map(|change| change.trip_id).collect();
    for id in trip_ids.iter().filter(|id| is_staged(root, id)) {
        recover_one(root, id)?;
    }
    let owned = || trip_ids.iter().map(|id| (*id).to_owned()).collect();
    stage(root, changes).map_err(|cause| Error::NotWritten { trip_ids: owned(), cause: Box::new(cause) })?;
    finish(root, &trip_ids).map_err(|cause| Error::Interrupted { trip_ids: owned(), cause: Box::new(cause) })
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
        remove_staging(root, [&staging])?;
        return Ok(Repair::Undone { trip_id: trip });
    }
    if is_complete(root, &staging)? {
        finish(root, &[trip_id])?;
        return Ok(Repair::Finished { trip_id: trip });
    }
    // a disk that lost flushed bytes: what is in its place stays, for `verify` to judge
    remove_empty_folders(root, trip_id)?;
    remove_file(&staging.join(LIST))?;
    remove_staging(root, [&staging])?;
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
    let mut unflushed = Unflushed::default();
    for table in layout::tables(root)? {
        for partition in partitions_of(root, &table, trip_id)? {
            let folder = root.join(partition.folder(&table));
            folder.ancestors().take(3).for_each(remove_if_empty);
            folder.ancestors().skip(1).take(3).for_each(|above| unflushed.names_in(above));
        }
    }
    unflushed.flush()
}

fn is_staged(root: &Path, trip_id: &str) -> bool {
    staging_root(root).join(trip_id).join(LIST).exists()
}

/// Steps 1 and 2. After an error nothing of it is left.
fn stage(root: &Path, changes: &[Change]) -> Result<(), Error> {
    let mut made = Vec::new();
    let staged = try_stage(root, changes, &mut made);
    if staged.is_err() {
        // what cannot be removed now is removed when the logbook is next opened; the list goes first
        for change in changes {
            let staging = staging_root(root).join(change.trip_id);
            let _ = fs::remove_file(staging.join(LIST));
            let _ = fs::remove_dir_all(staging);
        }
        made.iter().rev().for_each(|folder| remove_if_empty(folder));
    }
    staged
}

fn try_stage(root: &Path, changes: &[Change], made: &mut Vec<PathBuf>) -> Result<(), Error> {
    let staging_of = |change: &Change| staging_root(root).join(change.trip_id);
    let unnamed = format!("{LIST}.tmp");
    let mut unflushed = Unflushed::default();
    for change in changes {
        let staging = staging_of(change);
        remove_folder(&staging)?;
        make_folder(&staging, made)?;
    }
    make_folder(&sums_folder(root), made)?;
    // without its staging folder an empty folder of a table would have nobody to remove it
    unflushed.names_in(staging_root(root));
    unflushed.names_in(root);
    unflushed.flush()?;
    for change in changes {
        let staging = staging_of(change);
        let mut sums = Sums::default();
        for (path, bytes) in change.files {
            make_folder(root.join(path).parent().unwrap_or(root), made)?;
            unflushed.write_new(staging.join(staged_name(path)), bytes)?;
            sums.insert(path.clone(), bytes);
        }
        if !change.instead_of.is_empty() {
            unflushed.write_new(staging.join(INSTEAD_OF), change.instead_of.join("\n").as_bytes())?;
        }
        unflushed.write_new(staging.join(&unnamed), sums.text().as_bytes())?;
        // every name that the list speaks of is on the disk before the list is
        unflushed.names_in(staging);
    }
    unflushed.made(made);
    unflushed.flush()?;
    for staging in changes.iter().map(staging_of) {
        rename(&staging.join(&unnamed), &staging.join(LIST))?;
        unflushed.names_in(staging);
    }
    unflushed.flush()
}

/// Step 3. May be done again after it was interrupted anywhere.
fn finish(root: &Path, trip_ids: &[&str]) -> Result<(), Error> {
    let staged: Result<Vec<Staged>, Error> = trip_ids.iter().map(|id| Staged::read(root, id)).collect();
    let staged = staged?;
    let mut unflushed = Unflushed::default();
    let mut made = Vec::new();
    let places = |trip: &Staged| trip.sums.0.keys().map(|path| root.join(path)).collect::<Vec<_>>();
    for place in staged.iter().flat_map(places) {
        make_folder(place.parent().unwrap_or(root), &mut made)?;
    }
    unflushed.made(&made);
    unflushed.flush()?;
    for trip in &staged {
        for path in trip.sums.0.keys() {
            let (from, to) = (trip.folder.join(staged_name(path)), root.join(path));
            if from.exists() {
                rename(&from, &to)?;
            }
            unflushed.names_in(to.parent().unwrap_or(root));
        }
    }
    unflushed.flush()?;
    for trip in &staged {
        remove_partitions(root, trip.id, &trip.sums, &mut unflushed)?;
        for old in &trip.instead_of {
            remove_partitions(root, old, &Sums::default(), &mut unflushed)?;
            remove_file(&sums_file(root, old))?;
        }
        if trip.sums.0.is_empty() {
            remove_file(&sums_file(root, trip.id))?;
        }
    }
    unflushed.names_in(sums_folder(root));
    unflushed.flush()?;
    for trip in &staged {
        let list = trip.folder.join(LIST);
        if trip.sums.0.is_empty() { remove_file(&list)? } else { rename(&list, &sums_file(root, trip.id))? }
    }
    sync_folder(&sums_folder(root))?;
    remove_staging(root, staged.iter().map(|trip| &trip.folder))
}

/// A trip that waits whole in its staging folder.
struct Staged<'a> {
    id: &'a str,
    folder: PathBuf,
    sums: Sums,
    /// Ids of the trips that go when it comes.
    instead_of: Vec<String>,
}

impl<'a> Staged<'a> {
    fn read(root: &Path, id: &'a str) -> Result<Self, Error> {
        let folder = staging_root(root).join(id);
        let sums = Sums::read(&folder.join(LIST))?;
        let instead_of = instead_of(&folder)?;
        Ok(Self { id, folder, sums, instead_of })
    }
}

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

/// Removes staging folders for good.
fn remove_staging<'a>(root: &Path, folders: impl IntoIterator<Item = &'a PathBuf>) -> Result<(), Error> {
    folders.into_iter().try_for_each(|folder| remove_folder(folder))?;
    sync_folder(&staging_root(root))?;
    remove_if_empty(&staging_root(root));
    Ok(())
}

/// Removes the trip's partitions that the list does not name: of another year, or of a trip that goes.
fn remove_partitions(
    root: &Path,
    trip_id: &str,
    keep: &Sums,
    unflushed: &mut Unflushed,
) -> Result<(), Error> {
    for table in &layout::tables(root)? {
        for partition in partitions_of(root, table, trip_id)? {
            if !keep.0.contains_key(&partition.file(table)) {
                let folder = root.join(partition.folder(table));
                remove_folder(&folder)?;
                folder.ancestors().skip(1).take(2).for_each(remove_if_empty);
                folder.ancestors().skip(1).take(3).for_each(|above| unflushed.names_in(above));
            }
        }
    }
    Ok(())
}

/// Name under which a file waits: `track/year=…/trip=…/part-0.parquet` as `track.parquet`.
fn staged_name(path: &str) -> String {
    let table = path.split('/').next().unwrap_or(PART);
    format!("{table}.parquet")
}
