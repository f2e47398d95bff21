//! How do bytes and names come to the disk itself?

use std::fs::OpenOptions;
use std::io;
use std::path::{Path, PathBuf};

/// Flushes the bytes of a file.
pub(super) fn file(path: &Path) -> io::Result<()> {
    // some systems flush only what may be written
    OpenOptions::new().write(true).open(path)?.sync_all()
}

/// Flushes a folder's list of names, where the system can.
pub(super) fn folder(path: &Path) -> io::Result<()> {
    if cfg!(unix) { std::fs::File::open(path)?.sync_all() } else { Ok(()) }
}

/// Flushes the whole file system of many files and folders with one call (`syncfs`), which is many times as fast as to
/// flush each. Whether it did: not for a few, and not where the system may keep to itself what went wrong.
#[cfg(target_os = "linux")]
pub(super) fn everything<'a>(mut paths: impl Iterator<Item = &'a PathBuf> + Clone) -> bool {
    use rustix::fs::{fstatfs, syncfs};

    if paths.clone().nth(FEW).is_none() {
        return false;
    }
    let Some(Ok(any)) = paths.next().map(std::fs::File::open) else { return false };
    let is_local = fstatfs(&any).is_ok_and(|found| LOCAL.contains(&(found.f_type as u32)));
    is_local && syncfs(&any).is_ok()
}

#[cfg(not(target_os = "linux"))]
pub(super) fn everything<'a>(_paths: impl Iterator<Item = &'a PathBuf> + Clone) -> bool {
    false
}

/// So many are flushed one by one.
#[cfg(target_os = "linux")]
const FEW: usize = 4;

/// File systems that have their disk to themselves and tell of a full one when a file is written, not when it is flushed:
/// ext2 to ext4, XFS, Btrfs, F2FS, tmpfs (magic numbers of Linux, `statfs(2)`). Others, a stick's or a server's, flush
/// file by file.
#[cfg(target_os = "linux")]
const LOCAL: [u32; 5] = [0xef53, 0x5846_5342, 0x9123_683e, 0xf2f5_2010, 0x0102_1994];
