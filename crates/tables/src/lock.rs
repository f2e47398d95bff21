//! How do two programs keep from changing one logbook at the same time?
//!
//! By the system's lock on the file `.lock`: a writer holds it alone, readers share it. The system lets it go
//! when the program ends, however it ends, so there is never a stale lock to remove by hand.

use std::fs::{File, OpenOptions, TryLockError};
use std::io::ErrorKind;
use std::path::Path;

use crate::error::Error;

const LOCK: &str = ".lock";

/// The lock is held as long as this lives.
#[derive(Debug)]
pub(crate) struct Lock {
    _file: Option<File>,
}

/// Takes the logbook for writing.
pub(crate) fn exclusive(root: &Path) -> Result<Lock, Error> {
    let path = root.join(LOCK);
    let file = OpenOptions::new().read(true).write(true).create(true).truncate(false).open(&path);
    let file = file.map_err(Error::io(&path, "open for writing"))?;
    held(root, file.try_lock())?;
    Ok(Lock { _file: Some(file) })
}

/// Takes the logbook for reading. A copy without a lock file, or on a disk that cannot be written, is read
/// without a lock.
pub(crate) fn shared(root: &Path) -> Result<Lock, Error> {
    let Ok(file) = File::open(root.join(LOCK)) else { return Ok(Lock { _file: None }) };
    held(root, file.try_lock_shared())?;
    Ok(Lock { _file: Some(file) })
}

/// Some network disks have no locks; there a logbook is used without one.
fn held(root: &Path, locked: Result<(), TryLockError>) -> Result<(), Error> {
    match locked {
        Ok(()) => Ok(()),
        Err(TryLockError::WouldBlock) => Err(Error::InUse { path: root.to_owned() }),
        Err(TryLockError::Error(e)) if e.kind() == ErrorKind::Unsupported => Ok(()),
        Err(TryLockError::Error(e)) => Err(Error::io(&root.join(LOCK), "lock")(e)),
    }
}
