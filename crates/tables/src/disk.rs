//! What is done to the disk, one operation at a time?
//!
//! Every change to a logbook goes through these few functions, so that a test can list the operations of a write
//! and ask what a power cut would leave of them: a name that was made, moved or removed is safe only when the
//! folder that holds it has been flushed, and the bytes of a file only when the file has (POSIX `fsync`).

use std::fs::{self, File};
use std::io::{ErrorKind, Write};
use std::path::{Path, PathBuf};

use crate::error::Error;
use crate::layout::{entries, name};

#[cfg(test)]
pub(crate) mod record;

/// Does nothing: only tests keep a record.
#[cfg(not(test))]
mod record {
    macro_rules! note {
        ($($operation:tt)*) => {{}};
    }
    pub(crate) use note;
    pub(crate) const fn is_on() -> bool {
        false
    }
}

/// Writes a file that does not exist yet and flushes it to the disk.
pub(crate) fn write_new(path: &Path, bytes: &[u8]) -> Result<(), Error> {
    record::note!(Write(path.to_owned(), bytes.to_vec()));
    let written = File::create_new(path).and_then(|mut file| {
        file.write_all(bytes)?;
        if record::is_on() { Ok(()) } else { file.sync_all() }
    });
    written.map_err(Error::io(path, "write"))?;
    record::note!(SyncFile(path.to_owned()));
    Ok(())
}

/// Writes a small file so that it is there whole or not at all.
pub(crate) fn write_whole(path: &Path, bytes: &[u8]) -> Result<(), Error> {
    let unnamed = path.with_file_name(format!(".{}.tmp", name(path)));
    remove_file(&unnamed)?;
    let written = write_new(&unnamed, bytes).and_then(|()| rename(&unnamed, path));
    if written.is_err() {
        let _ = fs::remove_file(&unnamed);
    }
    written?;
    path.parent().map_or(Ok(()), sync_folder)
}

/// Gives a file another name, in the place of the file that has it.
pub(crate) fn rename(from: &Path, to: &Path) -> Result<(), Error> {
    fs::rename(from, to).map_err(Error::io(to, "put the new file in place"))?;
    record::note!(Rename(from.to_owned(), to.to_owned()));
    Ok(())
}

/// Makes a folder and those above it, and notes which ones it made.
pub(crate) fn make_folder(folder: &Path, made: &mut Vec<PathBuf>) -> Result<(), Error> {
    if let Some(parent) = folder.parent().filter(|parent| !parent.as_os_str().is_empty() && !parent.is_dir())
    {
        make_folder(parent, made)?;
    }
    match fs::create_dir(folder) {
        Ok(()) => {
            record::note!(MakeFolder(folder.to_owned()));
            made.push(folder.to_owned());
        }
        Err(e) if e.kind() == ErrorKind::AlreadyExists && folder.is_dir() => {}
        Err(e) => return Err(Error::io(folder, "make the folder")(e)),
    }
    Ok(())
}

/// Removes a folder with what is in it, if it is there.
pub(crate) fn remove_folder(folder: &Path) -> Result<(), Error> {
    for path in entries(folder)? {
        if path.symlink_metadata().is_ok_and(|data| data.is_dir()) {
            remove_folder(&path)?;
        } else {
            remove_file(&path)?;
        }
    }
    match fs::remove_dir(folder) {
        Ok(()) => {
            record::note!(RemoveFolder(folder.to_owned()));
        }
        Err(e) if e.kind() != ErrorKind::NotFound => return Err(Error::io(folder, "remove")(e)),
        Err(_) => {}
    }
    Ok(())
}

/// Removes a file, if it is there.
pub(crate) fn remove_file(path: &Path) -> Result<(), Error> {
    match fs::remove_file(path) {
        Ok(()) => {
            record::note!(RemoveFile(path.to_owned()));
        }
        Err(e) if e.kind() != ErrorKind::NotFound => return Err(Error::io(path, "remove")(e)),
        Err(_) => {}
    }
    Ok(())
}

/// Removes a folder that holds nothing, and leaves any other.
pub(crate) fn remove_if_empty(folder: &Path) {
    if fs::remove_dir(folder).is_ok() {
        record::note!(RemoveFolder(folder.to_owned()));
    }
}

/// Flushes a folder's list of names to the disk, where the system can.
pub(crate) fn sync_folder(folder: &Path) -> Result<(), Error> {
    if cfg!(unix) && !record::is_on() {
        File::open(folder).and_then(|folder| folder.sync_all()).map_err(Error::io(folder, "flush"))?;
    }
    record::note!(SyncFolder(folder.to_owned()));
    Ok(())
}
