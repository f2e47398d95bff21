//! How do all tables of a trip change together, whatever happens in between?
//!
//! 1. Every file is written whole to `.staging/<trip_id>/` and flushed to the disk, and the folders that will
//!    take them are made. Anything that fails here is undone, and the logbook is as it was.
//! 2. The list of files with their sums is renamed to `sums` in that folder. From here on the trip is written.
//! 3. Each file is renamed to its place, older files of the trip are removed, and the list goes to `.sums/`.
//!
//! A trip that is found in `.staging` with its list was interrupted in step 3, which is done again; without
//! the list it was interrupted in step 1, and is removed. A trip is forgotten by an empty list.

use std::collections::BTreeSet;
use std::fs::{self, File};
use std::io::{ErrorKind, Write};
use std::path::{Path, PathBuf};

use crate::error::Error;
use crate::layout::{PART, Partition, entries, name, partitions, staging_root, sums_file, sums_folder};
use crate::sums::Sums;

/// The list whose presence says that every file is staged.
const LIST: &str = "sums";

/// The files of a trip: path from the root of the logbook, and bytes.
pub(crate) type Files = Vec<(String, Vec<u8>)>;

/// Puts these files in the place of all files that the trip has.
pub(crate) fn replace(root: &Path, trip_id: &str, files: &Files) -> Result<(), Error> {
    if is_staged(root, trip_id) {
        finish(root, trip_id)?;
    }
    stage(root, trip_id, files)
        .map_err(|cause| Error::NotWritten { trip_id: trip_id.to_owned(), cause: Box::new(cause) })?;
    finish(root, trip_id)
        .map_err(|cause| Error::Interrupted { trip_id: trip_id.to_owned(), cause: Box::new(cause) })
}

/// Finishes or undoes what was interrupted.
pub(crate) fn recover(root: &Path) -> Result<(), Error> {
    for staging in entries(&staging_root(root))? {
        let trip_id = name(&staging);
        if is_staged(root, trip_id) {
            finish(root, trip_id)?;
        } else {
            remove_empty_folders(root, trip_id)?;
            remove_folder(&staging)?;
        }
    }
    remove_if_empty(&staging_root(root));
    Ok(())
}

/// Removes the folders that were made for files of the trip which never came.
fn remove_empty_folders(root: &Path, trip_id: &str) -> Result<(), Error> {
    for table in tables(root)? {
        for partition in partitions(root, &table)?.iter().filter(|partition| partition.trip_id == trip_id) {
            root.join(partition.folder(&table)).ancestors().take(3).for_each(remove_if_empty);
        }
    }
    Ok(())
}

/// Names of the folders that may hold a table.
fn tables(root: &Path) -> Result<Vec<String>, Error> {
    let names = entries(root)?.iter().map(|path| name(path).to_owned()).collect::<Vec<_>>();
    Ok(names.into_iter().filter(|name| !name.starts_with('.')).collect())
}

fn is_staged(root: &Path, trip_id: &str) -> bool {
    staging_root(root).join(trip_id).join(LIST).exists()
}

/// Steps 1 and 2. After an error nothing of it is left.
pub(crate) fn stage(root: &Path, trip_id: &str, files: &Files) -> Result<(), Error> {
    let mut made = Vec::new();
    let staged = try_stage(root, trip_id, files, &mut made);
    if staged.is_err() {
        // what cannot be removed now is removed when the logbook is next opened
        let _ = fs::remove_dir_all(staging_root(root).join(trip_id));
        made.iter().rev().for_each(|folder| remove_if_empty(folder));
    }
    staged
}

fn try_stage(root: &Path, trip_id: &str, files: &Files, made: &mut Vec<PathBuf>) -> Result<(), Error> {
    let staging = staging_root(root).join(trip_id);
    remove_folder(&staging)?;
    make_folder(&staging, made)?;
    make_folder(&sums_folder(root), made)?;
    let mut sums = Sums::default();
    for (path, bytes) in files {
        make_folder(root.join(path).parent().unwrap_or(root), made)?;
        write_new(&staging.join(staged_name(path)), bytes)?;
        sums.insert(path.clone(), bytes);
    }
    let unnamed = staging.join(format!("{LIST}.tmp"));
    write_new(&unnamed, sums.text().as_bytes())?;
    rename(&unnamed, &staging.join(LIST))?;
    sync_folder(&staging)
}

/// Step 3. May be done again after it was interrupted anywhere.
pub(crate) fn finish(root: &Path, trip_id: &str) -> Result<(), Error> {
    let staging = staging_root(root).join(trip_id);
    let sums = Sums::read(&staging.join(LIST))?;
    let mut changed = BTreeSet::from([root.to_owned()]);
    for path in sums.0.keys() {
        let staged = staging.join(staged_name(path));
        let place = root.join(path);
        if staged.exists() {
            // the folders were made before, but a power cut can lose a folder that holds nothing
            make_folder(place.parent().unwrap_or(root), &mut Vec::new())?;
            rename(&staged, &place)?;
        }
        changed.extend(place.ancestors().skip(1).take_while(|folder| *folder != root).map(Path::to_owned));
    }
    changed.iter().try_for_each(|folder| sync_folder(folder))?;
    remove_others(root, trip_id, &sums)?;
    if sums.0.is_empty() {
        remove_file(&sums_file(root, trip_id))?;
        remove_file(&staging.join(LIST))?;
    } else {
        rename(&staging.join(LIST), &sums_file(root, trip_id))?;
    }
    sync_folder(&sums_folder(root))?;
    remove_folder(&staging)?;
    remove_if_empty(&staging_root(root));
    Ok(())
}

/// Removes the trip's partitions that the list does not name: of another year, or of a forgotten trip.
fn remove_others(root: &Path, trip_id: &str, keep: &Sums) -> Result<(), Error> {
    for table in &tables(root)? {
        for Partition { year, .. } in
            partitions(root, table)?.iter().filter(|partition| partition.trip_id == trip_id)
        {
            let partition = Partition { year: *year, trip_id: trip_id.to_owned() };
            if !keep.0.contains_key(&partition.file(table)) {
                let folder = root.join(partition.folder(table));
                remove_folder(&folder)?;
                folder.ancestors().skip(1).take(2).for_each(remove_if_empty);
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

/// Writes a file that does not exist yet and flushes it to the disk.
fn write_new(path: &Path, bytes: &[u8]) -> Result<(), Error> {
    let written = File::create_new(path).and_then(|mut file| {
        file.write_all(bytes)?;
        file.sync_all()
    });
    written.map_err(Error::io(path, "write"))
}

/// Writes a small file so that it is there whole or not at all.
pub(crate) fn write_whole(path: &Path, text: &str) -> Result<(), Error> {
    let unnamed = path.with_file_name(format!(".{}.tmp", name(path)));
    remove_file(&unnamed)?;
    let written = write_new(&unnamed, text.as_bytes()).and_then(|()| rename(&unnamed, path));
    if written.is_err() {
        let _ = fs::remove_file(&unnamed);
    }
    written
}

fn rename(from: &Path, to: &Path) -> Result<(), Error> {
    fs::rename(from, to).map_err(Error::io(to, "put the new file in place"))
}

/// Makes a folder and those above it, and notes which ones it made.
fn make_folder(folder: &Path, made: &mut Vec<PathBuf>) -> Result<(), Error> {
    if let Some(parent) = folder.parent().filter(|parent| !parent.as_os_str().is_empty() && !parent.is_dir())
    {
        make_folder(parent, made)?;
    }
    match fs::create_dir(folder) {
        Ok(()) => made.push(folder.to_owned()),
        Err(e) if e.kind() == ErrorKind::AlreadyExists && folder.is_dir() => {}
        Err(e) => return Err(Error::io(folder, "make the folder")(e)),
    }
    Ok(())
}

fn remove_folder(folder: &Path) -> Result<(), Error> {
    match fs::remove_dir_all(folder) {
        Err(e) if e.kind() != ErrorKind::NotFound => Err(Error::io(folder, "remove")(e)),
        _ => Ok(()),
    }
}

fn remove_file(path: &Path) -> Result<(), Error> {
    match fs::remove_file(path) {
        Err(e) if e.kind() != ErrorKind::NotFound => Err(Error::io(path, "remove")(e)),
        _ => Ok(()),
    }
}

/// Removes a folder that holds nothing, and leaves any other.
fn remove_if_empty(folder: &Path) {
    let _ = fs::remove_dir(folder);
}

/// Flushes a folder's list of names to the disk, where the system can.
fn sync_folder(folder: &Path) -> Result<(), Error> {
    if cfg!(unix) {
        File::open(folder).and_then(|folder| folder.sync_all()).map_err(Error::io(folder, "flush"))?;
    }
    Ok(())
}
