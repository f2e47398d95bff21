//! Files that no trip could use are accounted for in the logbook, until a later run uses them.

use std::fs;
use std::path::Path;

use super::helpers::{contents, expect_status, process, small_log, stdout, waterseam};

const BITES: &str = "time,species\n2026-06-14T12:05:00Z,coho\n2026-06-14T12:06:00Z,pike\n";
const PHOTO: &[u8] = b"\xFF\xD8\xFF\xE0\x00\x10JFIF\x00\x01";
const FOLDER: &str = "year=__HIVE_DEFAULT_PARTITION__/trip=__HIVE_DEFAULT_PARTITION__";

/// Names of the files without a trip, as `summary --all` says them.
fn named(logbook: &Path) -> String {
    let output = waterseam().args(["summary", "--all", "--logbook"]).arg(logbook).output().unwrap();
    let text = stdout(&output);
    text.lines().find(|line| line.contains("no trip could use")).unwrap_or_default().to_owned()
}

fn verify(logbook: &Path) {
    expect_status(&waterseam().args(["verify", "--logbook"]).arg(logbook).output().unwrap(), 0);
}

#[test]
fn a_file_waits_without_a_trip_until_a_run_uses_it() {
    let dir = tempfile::tempdir().unwrap();
    let (notes, logbook) = (dir.path().join("notes"), dir.path().join("logbook"));
    fs::create_dir(&notes).unwrap();
    fs::write(notes.join("bites.csv"), BITES).unwrap();
    fs::write(notes.join("IMG_0012.JPG"), PHOTO).unwrap();
    expect_status(&process(&notes, &logbook), 1);
    verify(&logbook);
    assert!(
        named(&logbook).starts_with("2 files that no trip could use: IMG_0012.JPG, bites.csv"),
        "{}",
        named(&logbook)
    );
    let parts = |book: &Path| {
        contents(book)
            .iter()
            .filter(|(path, _)| path.ends_with(FOLDER.to_owned() + "/part-0.parquet"))
            .count()
    };
    assert_eq!(parts(&logbook), 2, "sources and set_aside");

    // the same again changes nothing
    let before = contents(&logbook);
    expect_status(&process(&notes, &logbook), 1);
    assert!(contents(&logbook) == before);

    // with the plotter's log the notes belong to a trip; the photo still belongs to none
    let card = dir.path().join("card");
    fs::create_dir(&card).unwrap();
    fs::write(card.join("plotter.log"), small_log()).unwrap();
    fs::write(card.join("bites.csv"), BITES).unwrap();
    expect_status(&process(&card, &logbook), 0);
    verify(&logbook);
    assert!(
        named(&logbook).starts_with("1 file that no trip could use: IMG_0012.JPG"),
        "{}",
        named(&logbook)
    );

    // in one go the same logbook comes out
    let (both, at_once) = (dir.path().join("both"), dir.path().join("at_once"));
    fs::create_dir(&both).unwrap();
    for (folder, name) in [(&card, "plotter.log"), (&card, "bites.csv"), (&notes, "IMG_0012.JPG")] {
        fs::copy(folder.join(name), both.join(name)).unwrap();
    }
    expect_status(&process(&both, &at_once), 0);
    assert!(contents(&at_once) == contents(&logbook));

    // a trip that is forgotten takes its files with it, and no others
    let ids = waterseam().args(["summary", "--all", "--logbook"]).arg(&logbook).output().unwrap();
    let trip = stdout(&ids).split(' ').next().unwrap().to_owned();
    expect_status(
        &waterseam().args(["forget", "--trip", &trip, "--logbook"]).arg(&logbook).output().unwrap(),
        0,
    );
    verify(&logbook);
    assert!(named(&logbook).starts_with("1 file"), "{}", named(&logbook));
}

#[test]
fn records_of_a_file_without_a_trip_are_kept_with_their_reason() {
    let dir = tempfile::tempdir().unwrap();
    let (card, logbook) = (dir.path().join("card"), dir.path().join("logbook"));
    fs::create_dir(&card).unwrap();
    fs::write(card.join("plotter.log"), small_log()).unwrap();
    // two days later, and one line without a time
    fs::write(card.join("bites.csv"), "time,species\n2026-06-16T12:05:00Z,coho\n,pike\n").unwrap();
    expect_status(&process(&card, &logbook), 0);
    verify(&logbook);
    assert!(named(&logbook).starts_with("1 file that no trip could use: bites.csv"), "{}", named(&logbook));
}
