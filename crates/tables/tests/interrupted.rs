//! Does a logbook come through a power cut at any moment of a write?
//!
//! The moments are made by hand: the files of a finished write are put back to where they were before.

#![expect(clippy::unwrap_used, reason = "a case that cannot be set up ends its test")]

mod files;
mod sample;

use std::collections::BTreeMap;
use std::path::Path;

use files::tree;
use sample::{START_US, trip};
use tempfile::TempDir;
use waterseam_tables::{Logbook, LogbookWriter, Problem, verify};

type Files = BTreeMap<String, Vec<u8>>;

const SUMS: &str = ".sums/t1.blake3";

/// The files of a logbook that holds one trip of so many seconds, from so many years before the sample.
fn logbook_of(seconds: usize, years: i64) -> Files {
    let folder = TempDir::new().unwrap();
    let start_us = START_US - years * 365 * 86_400 * 1_000_000;
    LogbookWriter::open_or_create(folder.path()).unwrap().write_trip(&trip("t1", start_us, seconds)).unwrap();
    tree(folder.path())
}

fn parts(files: &Files) -> Vec<String> {
    files.keys().filter(|path| path.ends_with(".parquet")).cloned().collect()
}

fn staged(path: &str) -> String {
    format!(".staging/t1/{}.parquet", path.split('/').next().unwrap())
}

/// `old` on the way to `new`: `n_placed` files are in place, the others and the list are staged.
fn half_way(old: &Files, new: &Files, n_placed: usize) -> Files {
    let mut files = old.clone();
    for (n, path) in parts(new).into_iter().enumerate() {
        files.insert(if n < n_placed { path.clone() } else { staged(&path) }, new[&path].clone());
    }
    files.insert(".staging/t1/sums".to_owned(), new[SUMS].clone());
    files
}

fn check_opens_as(files: &Files, expected: &Files, moment: &str) {
    let opens: [fn(&Path); 2] = [
        |root| drop(LogbookWriter::open_or_create(root).unwrap()),
        |root| drop(Logbook::open(root).unwrap()),
    ];
    for open in opens {
        let folder = TempDir::new().unwrap();
        plant(folder.path(), files);
        open(folder.path());
        assert_eq!(&tree(folder.path()), expected, "{moment}");
        assert!(!folder.path().join(".staging").exists(), "{moment}");
        assert_eq!(verify(folder.path()).unwrap(), [], "{moment}");
    }
}

#[test]
fn a_write_that_was_staged_is_finished() {
    let new = logbook_of(90, 0);
    for (old, name) in [(logbook_of(60, 0), "same year"), (logbook_of(60, 1), "other year")] {
        for n_placed in 0..=parts(&new).len() {
            check_opens_as(
                &half_way(&old, &new, n_placed),
                &new,
                &format!("{name}, {n_placed} files in place"),
            );
        }
    }
}

#[test]
fn a_write_that_was_not_staged_whole_is_undone() {
    let (old, new) = (logbook_of(60, 0), logbook_of(90, 0));
    let all = half_way(&old, &new, 0);
    let staging: Vec<_> =
        all.keys().filter(|path| path.starts_with(".staging") && !path.ends_with("sums")).collect();
    for n_written in 0..=staging.len() {
        let mut files = old.clone();
        for (n, path) in staging.iter().take(n_written).enumerate() {
            let bytes = &all[*path];
            // the last file is cut short
            let end = if n + 1 == n_written { bytes.len() / 2 } else { bytes.len() };
            files.insert((*path).clone(), bytes[..end].to_vec());
        }
        files.insert(".staging/t1/sums.tmp".to_owned(), b"0123".to_vec());
        check_opens_as(&files, &old, &format!("{n_written} files staged"));
    }
}

#[test]
fn a_forgotten_trip_stays_forgotten() {
    let old = logbook_of(60, 0);
    let empty: Files =
        old.iter().filter(|(path, _)| !parts(&old).contains(path) && *path != SUMS).map(own).collect();
    for n_removed in 0..=parts(&old).len() {
        let gone: Vec<_> = parts(&old).into_iter().take(n_removed).collect();
        let mut files: Files = old.iter().filter(|(path, _)| !gone.contains(path)).map(own).collect();
        files.insert(".staging/t1/sums".to_owned(), Vec::new());
        check_opens_as(&files, &empty, &format!("{n_removed} files removed"));
    }
}

fn own((path, bytes): (&String, &Vec<u8>)) -> (String, Vec<u8>) {
    (path.clone(), bytes.clone())
}

#[test]
fn verify_sees_it_and_changes_nothing() {
    let folder = TempDir::new().unwrap();
    let files = half_way(&logbook_of(60, 0), &logbook_of(90, 0), 16);
    plant(folder.path(), &files);
    let findings = verify(folder.path()).unwrap();
    assert!(
        findings.iter().any(|f| f.path == ".staging/t1" && f.problem == Problem::InterruptedWrite),
        "{findings:?}"
    );
    assert_eq!(tree(folder.path()), files);
}

/// Writes the files of a [`tree`].
fn plant(root: &Path, files: &Files) {
    for (path, bytes) in files {
        let path = root.join(path);
        std::fs::create_dir_all(path.parent().unwrap()).unwrap();
        std::fs::write(path, bytes).unwrap();
    }
}
