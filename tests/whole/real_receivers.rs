//! Recordings of real receivers through the program: whatever they hold, every record is accounted for.

use std::fs;
use std::path::{Path, PathBuf};

use waterseam_tables::{Logbook, set_aside, sources};

use super::helpers::{process, stderr, waterseam};

fn recordings() -> Vec<PathBuf> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tests/real-receivers");
    let files = fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path());
    let mut logs: Vec<_> = files.filter(|path| path.extension().is_some_and(|end| end == "log")).collect();
    logs.sort();
    logs
}

/// Sources of a logbook, of which each account adds up and has its records in the table of what was set aside.
fn accounts(logbook: &Path) -> Vec<sources::Row> {
    let logbook = Logbook::open(logbook).unwrap();
    let sources: Vec<sources::Row> = logbook.read_table(None).unwrap();
    let aside: Vec<set_aside::Row> = logbook.read_table(None).unwrap();
    for source in &sources {
        let sum = source.records_used + source.records_not_needed + source.records_set_aside;
        assert_eq!(source.records_read, sum, "{source:?}");
        let of_file =
            |row: &&set_aside::Row| row.file_name == source.file_name && row.trip_id == source.trip_id;
        assert_eq!(aside.iter().filter(of_file).count() as i64, source.records_set_aside, "{source:?}");
    }
    sources
}

#[test]
fn each_recording_is_a_trip_or_says_why_not() {
    let (mut n, mut n_trips) = (0, 0);
    for recording in recordings() {
        let dir = tempfile::tempdir().unwrap();
        let logbook = dir.path().join("logbook");
        let output = process(&recording, &logbook);
        let (name, said) = (recording.display(), stderr(&output));
        assert!(!said.contains("panicked"), "{name}: {said}");
        match output.status.code() {
            Some(0) => {
                n_trips += 1;
                assert!(!accounts(&logbook).is_empty(), "{name}");
                let verified = waterseam().args(["verify", "--logbook"]).arg(&logbook).output().unwrap();
                assert_eq!(verified.status.code(), Some(0), "{name}: {}", stderr(&verified));
            }
            Some(1) => {
                assert!(said.lines().count() > 0, "{name}: says nothing");
                // what no trip could use is accounted for all the same
                if logbook.exists() {
                    assert!(accounts(&logbook).iter().all(|source| source.trip_id.is_none()), "{name}");
                }
            }
            other => panic!("{name}: {other:?}: {said}"),
        }
        n += 1;
    }
    // a folder that lost files would check less than it seems to; some recordings never had a fix
    assert!(n >= 90 && n_trips >= 60, "{n} recordings, {n_trips} trips");
}

#[test]
fn all_recordings_on_one_card() {
    let dir = tempfile::tempdir().unwrap();
    let (card, logbook) = (dir.path().join("card"), dir.path().join("logbook"));
    fs::create_dir(&card).unwrap();
    for recording in recordings() {
        fs::copy(&recording, card.join(recording.file_name().unwrap())).unwrap();
    }
    let output = process(&card, &logbook);
    assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
    assert!(accounts(&logbook).len() >= 60);
}
