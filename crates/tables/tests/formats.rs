//! Does a logbook of an older format open, and become one of the newest without losing anything?

#![expect(clippy::unwrap_used, reason = "a case that cannot be set up ends its test")]

mod files;

use std::fs;
use std::path::Path;

use files::tree;
use tempfile::TempDir;
use waterseam_tables::{
    FORMAT_VERSION, Finding, Logbook, LogbookWriter, Problem, Repair, SCHEMAS, WithoutTrip, bites, track,
    verify,
};

const TRIP: &str = "20260614T120000Z";

/// A copy of the logbook of format 1 that is kept for this test (see `files/format-1.md`).
fn format_1() -> TempDir {
    let folder = TempDir::new().unwrap();
    for (path, bytes) in tree(&Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/files/format-1")) {
        let path = folder.path().join(path);
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        fs::write(path, bytes).unwrap();
    }
    folder
}

fn damage(root: &Path) -> Vec<Finding> {
    verify(root).unwrap().into_iter().filter(Finding::is_damage).collect()
}

fn toml(root: &Path) -> String {
    fs::read_to_string(root.join("logbook.toml")).unwrap()
}

#[test]
fn format_1_is_read_as_it_is() {
    let folder = format_1();
    let before = tree(folder.path());
    let logbook = Logbook::open(folder.path()).unwrap();
    assert_eq!(logbook.trip_ids().unwrap(), [TRIP]);
    let tables = logbook.read_trip(TRIP).unwrap();
    assert_eq!((tables.track.len(), tables.bites.len(), tables.sources.len()), (120, 1, 2));
    assert_eq!(tables.bites[0].species.as_deref(), Some("coho"));
    assert_eq!(tables.sources[0].trip_id.as_deref(), Some(TRIP));
    assert_eq!((tables.surface_map.len(), tables.isotherms.len()), (0, 0), "there were no such tables");
    assert_eq!(logbook.without_trip().unwrap(), WithoutTrip::default());
    assert_eq!(logbook.repairs(), []);
    assert_eq!(damage(folder.path()), []);
    drop(logbook);
    assert_eq!(tree(folder.path()), before, "reading has changed it");
}

#[test]
fn format_1_becomes_the_newest_when_it_is_written() {
    let folder = format_1();
    let before = tree(folder.path());
    let logbook = LogbookWriter::open_or_create(folder.path()).unwrap();
    assert_eq!(logbook.logbook().repairs(), [Repair::Migrated { from: 1, to: FORMAT_VERSION }]);
    assert_eq!(toml(folder.path()), format!("format_version = {FORMAT_VERSION}\n"));
    assert_eq!(logbook.logbook().read_table::<bites::Row>(None).unwrap().len(), 1);
    drop(logbook);
    let others = |tree: std::collections::BTreeMap<String, Vec<u8>>| {
        tree.into_iter().filter(|(path, _)| path != ".lock" && path != "logbook.toml").collect::<Vec<_>>()
    };
    assert_eq!(others(tree(folder.path())), others(before));
    assert_eq!(damage(folder.path()), []);
    let again = LogbookWriter::open_or_create(folder.path()).unwrap();
    assert_eq!(again.logbook().repairs(), []);
}

/// A table from before some columns were added: every nullable column in turn, of every table, as if it were new.
#[test]
fn a_table_without_a_newer_column_opens_and_verify_says_so() {
    let folder = format_1();
    let path = format!("track/year=2026/trip={TRIP}/part-0.parquet");
    let rows = Logbook::open(folder.path()).unwrap().read_table::<track::Row>(None).unwrap();
    let batch = <track::Row as waterseam_tables::Table>::to_batch(&rows).unwrap();
    for column in SCHEMAS.iter().find(|schema| schema.name == "track").unwrap().columns {
        if !column.nullable {
            continue;
        }
        let mut older = batch.clone();
        let index = older.schema().index_of(column.name).unwrap();
        older.remove_column(index);
        let file = fs::File::create(folder.path().join(&path)).unwrap();
        let mut writer = parquet::arrow::ArrowWriter::try_new(file, older.schema(), None).unwrap();
        writer.write(&older).unwrap();
        writer.close().unwrap();
        let lines = tree(folder.path()).into_iter().filter(|(path, _)| path.ends_with(".parquet"));
        let lines = lines.map(|(path, bytes)| format!("{}  {path}\n", blake3::hash(&bytes).to_hex()));
        fs::write(folder.path().join(format!(".sums/{TRIP}.blake3")), lines.collect::<String>()).unwrap();

        let findings = verify(folder.path()).unwrap();
        assert!(findings.iter().all(|finding| !finding.is_damage()), "{}: {findings:?}", column.name);
        let said = Problem::Older { columns: vec![column.name] };
        assert!(
            findings.iter().any(|f| f.path == path && f.problem == said),
            "{}: {findings:?}",
            column.name
        );
        let read = Logbook::open(folder.path()).unwrap().read_table::<track::Row>(None).unwrap();
        assert_eq!(read.len(), rows.len());
    }
}

#[test]
fn formats_that_are_none() {
    let folder = format_1();
    for (text, said) in [
        ("format_version = 99\n", "use a newer version of the program"),
        ("format_version = 0\n", "there is no format_version 0; the file should hold the line"),
        ("", "missing field `format_version`; the file should hold the line"),
        ("format_version = -1\n", "the file should hold the line `format_version = 2`"),
    ] {
        fs::write(folder.path().join("logbook.toml"), text).unwrap();
        for message in [
            Logbook::open(folder.path()).unwrap_err().to_string(),
            LogbookWriter::open_or_create(folder.path()).unwrap_err().to_string(),
            verify(folder.path()).unwrap_err().to_string(),
        ] {
            assert!(message.contains(said) && message.contains("logbook.toml"), "{text:?}: {message}");
        }
        assert_eq!(toml(folder.path()), text);
    }
}

/// Rows of no trip stand in the partition of a missing key, and are checked as any others.
#[test]
fn files_without_a_trip() {
    let folder = format_1();
    let logbook = LogbookWriter::open_or_create(folder.path()).unwrap();
    let mut rows =
        WithoutTrip { sources: logbook.logbook().read_table(None).unwrap(), set_aside: Vec::new() };
    let refused = logbook.write_without_trip(&rows).unwrap_err().to_string();
    assert!(refused.contains("a row belongs to trip 20260614T120000Z, not to trip none"), "{refused}");
    rows.sources.iter_mut().for_each(|row| row.trip_id = None);
    logbook.write_without_trip(&rows).unwrap();
    assert_eq!(logbook.logbook().without_trip().unwrap(), rows);
    assert_eq!(logbook.logbook().trip_ids().unwrap(), [TRIP]);
    let sources = logbook.logbook().read_table::<waterseam_tables::sources::Row>(None).unwrap();
    assert!(sources.iter().all(|row| row.trip_id.is_some()));
    drop(logbook);
    assert_eq!(damage(folder.path()), []);
    let part = "sources/year=__HIVE_DEFAULT_PARTITION__/trip=__HIVE_DEFAULT_PARTITION__/part-0.parquet";
    let mut bytes = fs::read(folder.path().join(part)).unwrap();
    bytes[40] ^= 1;
    fs::write(folder.path().join(part), bytes).unwrap();
    assert_eq!(damage(folder.path()), [Finding { path: part.to_owned(), problem: Problem::SumDiffers }]);

    // written anew, and taken away when there are none any more
    let logbook = LogbookWriter::open_or_create(folder.path()).unwrap();
    logbook.write_without_trip(&rows).unwrap();
    logbook.write_without_trip(&WithoutTrip::default()).unwrap();
    drop(logbook);
    assert!(!folder.path().join(part).exists());
    assert_eq!(damage(folder.path()), []);
}
