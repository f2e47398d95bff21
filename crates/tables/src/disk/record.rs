//! Which operations did a write do, in their order? Kept in tests only, for the thread that asks.

use std::cell::RefCell;
use std::path::PathBuf;

/// A change to the disk, or a flush.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Operation {
    MakeFolder(PathBuf),
    Write(PathBuf, Vec<u8>),
    Rename(PathBuf, PathBuf),
    RemoveFile(PathBuf),
    RemoveFolder(PathBuf),
    SyncFile(PathBuf),
    SyncFolder(PathBuf),
}

thread_local! {
    static RECORD: RefCell<Option<Vec<Operation>>> = const { RefCell::new(None) };
}

/// The operations that `run` does, and what comes of it. Flushes are noted and not done: they are slow, and the
/// machine that runs a test loses no power.
pub(crate) fn of<T>(run: impl FnOnce() -> T) -> (T, Vec<Operation>) {
    RECORD.set(Some(Vec::new()));
    let done = run();
    (done, RECORD.take().unwrap_or_default())
}

pub(crate) fn is_on() -> bool {
    RECORD.with_borrow(Option::is_some)
}

pub(crate) fn add(operation: impl FnOnce() -> Operation) {
    RECORD.with_borrow_mut(|record| {
        if let Some(record) = record {
            record.push(operation());
        }
    });
}

macro_rules! note {
    ($($operation:tt)*) => {
        $crate::disk::record::add(|| $crate::disk::record::Operation::$($operation)*)
    };
}
pub(crate) use note;
