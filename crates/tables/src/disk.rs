//! What is done to the disk, one operation at a time?
//!
//! Every change to a logbook goes through these few functions, so that a test can list the operations of a write
//! and ask what a power cut would leave of them: a name that was made, moved or removed is safe only when the
//! folder that holds it has been flushed, and the bytes of a file only when the file has (POSIX `fsync`).

use std::collections::BTreeSet;
use std::fs::{self, File};
use std::io::{self, ErrorKind, Write};
use std::path::{Path, PathBuf};

use crate::error::Error;
use crate::layout::{entries, name};

mod flush;
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

/// What was changed and is not known to be on the disk yet.
#[derive(Debug, Default)]
pub(crate) struct Unflushed {
    files: BTreeSet<PathBuf>,
    folders: BTreeSet<PathBuf>,
}

impl Unflushed {
    /// Writes a file that does not exist yet.
    pub fn write_new(&mut self, path: PathBuf, bytes: &[u8]) -> Result<(), Error> {
        record::note!(Write(path.clone(), bytes.to_vec()));
        let written = File::create_new(&path).and_then(|mut file| file.write_all(bytes));
        written.map_err(Error::io(&path, "write"))?;
        self.files.insert(path);
        Ok(())
    }

    /// Names in a folder were changed.
    pub fn names_in(&mut self, folder: impl Into<PathBuf>) {
        self.folders.insert(folder.into());
    }

    /// These folders were made.
    pub fn made(&mut self, folders: &[PathBuf]) {
        self.folders.extend(folders.iter().filter_map(|folder| folder.parent()).map(Path::to_owned));
    }

    /// Flushes it; folders that have gone meanwhile are passed over.
    pub fn flush(&mut self) -> Result<(), Error> {
        let Self { files, folders } = std::mem::take(self);
        let folders: Vec<PathBuf> = folders.into_iter().filter(|folder| folder.is_dir()).collect();
        let is_done = record::is_on() || flush::everything(files.iter().chain(&folders));
        for path in files {
            flush_unless(is_done, &path, flush::file)?;
            record::note!(SyncFile(path));
        }
        for path in folders {
            flush_unless(is_done, &path, flush::folder)?;
            record::note!(SyncFolder(path));
        }
        Ok(())
    }
}

fn flush_unless(is_done: bool, path: &Path, flush: fn(&Path) -> io::Result<()>) -> Result<(), Error> {
    if is_done { Ok(()) } else { flush(path).map_err(Error::io(path, "flush")) }
}

/// Writes a file that does not exist yet and flushes it to the disk.
pub(crate) fn write_new(path: &Path, bytes: &[u8]) -> Result<(), Error> {
    let mut unflushed = Unflushed::default();
    unflushed.write_new(path.to_owned(), bytes)?;
    unflushed.flush()
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
    flush_unless(record::is_on(), folder, flush::folder)?;
    record::note!(SyncFolder(folder.to_owned()));
    Ok(())
}
