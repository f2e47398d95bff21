//! What is left when the disk takes no more?
//!
//! The system itself refuses: the test runs itself again under a limit on the size of files (`ulimit -f`, POSIX
//! shell), so every write beyond it fails in the middle of a file, as on a full disk.

#![cfg(unix)]
#![expect(clippy::unwrap_used, reason = "a case that cannot be set up ends its test")]

mod files;
mod sample;

use std::path::PathBuf;
use std::process::Command;

use files::tree;
use sample::{START_US, trip};
use tempfile::TempDir;
use waterseam_tables::{LogbookWriter, verify};

/// Blocks of 512 bytes that a file may have: enough for every table but the long track.
const LIMIT_BLOCKS: u32 = 40;
const FOLDER: &str = "WATERSEAM_TEST_FOLDER";
const LONG_S: usize = 40_000;

/// Run by the tests below, under the limit.
#[test]
#[ignore = "a part of the other tests"]
fn writes_a_long_trip() {
    let root = PathBuf::from(std::env::var_os(FOLDER).unwrap());
    let logbook = LogbookWriter::open_or_create(&root).unwrap();
    let message = logbook.write_trip(&trip("t1", START_US, LONG_S)).unwrap_err().to_string();
    assert!(message.starts_with("trip t1 was not changed, the logbook is as it was before: "), "{message}");
    assert!(message.contains("track.parquet: cannot write"), "{message}");
    assert!(message.ends_with("make room on the disk, then run again"), "{message}");
}

fn write_under_a_limit(root: &std::path::Path) {
    let script =
        format!("trap '' XFSZ; ulimit -f {LIMIT_BLOCKS}; exec \"$0\" --ignored --exact writes_a_long_trip");
    let run = Command::new("sh")
        .arg("-c")
        .arg(script)
        .arg(std::env::current_exe().unwrap())
        .env(FOLDER, root)
        .output()
        .unwrap();
    let said = String::from_utf8_lossy(&run.stdout);
    assert!(
        run.status.success() && said.contains("1 passed"),
        "{said}\n{}",
        String::from_utf8_lossy(&run.stderr)
    );
}

#[test]
fn the_earlier_trip_stays() {
    let folder = TempDir::new().unwrap();
    LogbookWriter::open_or_create(folder.path()).unwrap().write_trip(&trip("t1", START_US, 60)).unwrap();
    let before = tree(folder.path());
    write_under_a_limit(folder.path());
    assert_eq!(tree(folder.path()), before);
    assert!(!folder.path().join(".staging").exists());
    assert_eq!(verify(folder.path()).unwrap(), []);
}

#[test]
fn a_new_logbook_stays_empty() {
    let folder = TempDir::new().unwrap();
    write_under_a_limit(folder.path());
    assert_eq!(tree(folder.path()).into_keys().collect::<Vec<_>>(), [".lock", "logbook.toml"]);
    let folders: Vec<_> =
        std::fs::read_dir(folder.path()).unwrap().filter(|e| e.as_ref().unwrap().path().is_dir()).collect();
    assert!(folders.is_empty(), "{folders:?}");
}

/// Without the limit the same trip is written: the test above fails for the disk's sake and no other.
#[test]
fn the_same_trip_fits_without_the_limit() {
    let folder = TempDir::new().unwrap();
    LogbookWriter::open_or_create(folder.path()).unwrap().write_trip(&trip("t1", START_US, LONG_S)).unwrap();
    let size = tree(folder.path())["track/year=2026/trip=t1/part-0.parquet"].len();
    assert!(
        size > LIMIT_BLOCKS as usize * 1024,
        "the track must be longer than any shell's limit, it has {size} bytes"
    );
}
