//! Does a logbook keep what it is given, and nothing but that?

#![expect(clippy::unwrap_used, reason = "a case that cannot be set up ends its test")]

mod files;
mod sample;

use std::fs;
use std::path::Path;

use sample::{START_US, trip};
use tempfile::TempDir;
use waterseam_tables::{Error, Logbook, LogbookWriter, Outcome, Table, TripTables, bites, track, verify};

const YEAR_US: i64 = 365 * 86_400 * 1_000_000;

fn writer(folder: &TempDir) -> LogbookWriter {
    LogbookWriter::open_or_create(folder.path()).unwrap()
}

#[test]
fn what_is_written_is_read() {
    let folder = TempDir::new().unwrap();
    let (early, late) = (trip("early", START_US - YEAR_US, 90), trip("a-late", START_US, 60));
    let logbook = writer(&folder);
    assert_eq!(logbook.write_trip(&late).unwrap(), Outcome::Added);
    assert_eq!(logbook.write_trip(&early).unwrap(), Outcome::Added);
    drop(logbook);

    let logbook = Logbook::open(folder.path()).unwrap();
    assert_eq!(logbook.trip_ids().unwrap(), ["early", "a-late"]);
    assert_eq!(logbook.read_trip("a-late").unwrap(), late);
    assert_eq!(logbook.read_trip("early").unwrap(), early);
    assert_eq!(
        logbook.read_table::<track::Row>(None).unwrap(),
        [early.track.clone(), late.track.clone()].concat()
    );
    assert_eq!(logbook.read_table::<track::Row>(Some(2026)).unwrap(), late.track);
    assert_eq!(logbook.read_table::<track::Row>(Some(1999)).unwrap(), []);
    assert!(matches!(logbook.read_trip("other"), Err(Error::NoSuchTrip { .. })));
    assert_eq!(verify(folder.path()).unwrap(), []);
}

#[test]
fn files_stand_where_the_contract_says() {
    let folder = TempDir::new().unwrap();
    writer(&folder).write_trip(&trip("t1", START_US, 5)).unwrap();
    let files = files::tree(folder.path());
    for table in [
        "sources",
        "set_aside",
        "trips",
        "track",
        "breaks",
        "break_lines",
        "surface_map",
        "isotherms",
        "isotherm_breaks",
        "currents",
        "current_edges",
        "profiles",
        "layers",
        "sections",
        "rod_spells",
        "bites",
        "effort",
        "bands",
        "tackle_rates",
        "break_sides",
    ] {
        assert!(files.contains_key(&format!("{table}/year=2026/trip=t1/part-0.parquet")), "{table}");
    }
    assert_eq!(files["logbook.toml"], b"format_version = 2\n");
    assert_eq!(
        files.len(),
        waterseam_tables::SCHEMAS.len() + 3,
        "the tables, logbook.toml, .lock and the sums: {:?}",
        files.keys()
    );
}

#[test]
fn the_same_rows_give_the_same_bytes() {
    let (one, two) = (TempDir::new().unwrap(), TempDir::new().unwrap());
    for folder in [&one, &two] {
        writer(folder).write_trip(&trip("t1", START_US, 3_000)).unwrap();
    }
    assert_eq!(files::tree(one.path()), files::tree(two.path()));
}

#[test]
fn the_same_trip_again_touches_nothing() {
    let folder = TempDir::new().unwrap();
    let logbook = writer(&folder);
    logbook.write_trip(&trip("t1", START_US, 60)).unwrap();
    let part = folder.path().join("track/year=2026/trip=t1/part-0.parquet");
    let before = fs::metadata(&part).unwrap().modified().unwrap();
    assert_eq!(logbook.write_trip(&trip("t1", START_US, 60)).unwrap(), Outcome::Unchanged);
    assert_eq!(fs::metadata(&part).unwrap().modified().unwrap(), before);
}

#[test]
fn a_longer_copy_replaces() {
    let folder = TempDir::new().unwrap();
    let logbook = writer(&folder);
    logbook.write_trip(&trip("t1", START_US, 60)).unwrap();
    let longer = trip("t1", START_US, 90);
    assert_eq!(logbook.write_trip(&longer).unwrap(), Outcome::Replaced);
    assert_eq!(logbook.logbook().read_trip("t1").unwrap(), longer);
}

#[test]
fn a_damaged_file_is_written_anew() {
    let folder = TempDir::new().unwrap();
    let logbook = writer(&folder);
    logbook.write_trip(&trip("t1", START_US, 60)).unwrap();
    let whole = files::tree(folder.path());
    fs::write(folder.path().join("bites/year=2026/trip=t1/part-0.parquet"), b"no table").unwrap();
    assert_eq!(logbook.write_trip(&trip("t1", START_US, 60)).unwrap(), Outcome::Replaced);
    assert_eq!(files::tree(folder.path()), whole);
}

#[test]
fn a_trip_that_moves_to_another_year_leaves_nothing_behind() {
    let folder = TempDir::new().unwrap();
    let logbook = writer(&folder);
    logbook.write_trip(&trip("t1", START_US, 60)).unwrap();
    let moved = trip("t1", START_US - YEAR_US, 60);
    assert_eq!(logbook.write_trip(&moved).unwrap(), Outcome::Replaced);
    assert_eq!(logbook.logbook().trip_ids().unwrap(), ["t1"]);
    assert_eq!(logbook.logbook().read_trip("t1").unwrap(), moved);
    assert!(!folder.path().join("track/year=2026").exists());
}

#[test]
fn a_forgotten_trip_is_gone_and_the_others_stay() {
    let folder = TempDir::new().unwrap();
    let logbook = writer(&folder);
    logbook.write_trip(&trip("t1", START_US, 60)).unwrap();
    let alone = files::tree(folder.path());
    logbook.write_trip(&trip("t2", START_US, 60)).unwrap();
    logbook.forget("t2").unwrap();
    assert_eq!(files::tree(folder.path()), alone);
    assert!(matches!(logbook.forget("t2"), Err(Error::NoSuchTrip { .. })));
    logbook.forget("t1").unwrap();
    assert_eq!(files::tree(folder.path()).into_keys().collect::<Vec<_>>(), [".lock", "logbook.toml"]);
    assert!(logbook.logbook().trip_ids().unwrap().is_empty());
}

#[test]
fn an_empty_table_is_a_table() {
    let folder = TempDir::new().unwrap();
    let logbook = writer(&folder);
    let mut quiet = trip("t1", START_US, 60);
    quiet = TripTables { trips: quiet.trips, track: quiet.track, ..TripTables::default() };
    quiet.trips[0].bites = 0;
    logbook.write_trip(&quiet).unwrap();
    assert_eq!(logbook.logbook().read_trip("t1").unwrap(), quiet);
    assert_eq!(logbook.logbook().read_table::<bites::Row>(None).unwrap(), []);
    drop(logbook);
    assert_eq!(verify(folder.path()).unwrap(), []);
}

#[test]
fn threads_may_write_side_by_side() {
    let folder = TempDir::new().unwrap();
    let logbook = writer(&folder);
    std::thread::scope(|scope| {
        for n in 0..4 {
            let logbook = &logbook;
            scope.spawn(move || logbook.write_trip(&trip(&format!("t{n}"), START_US, 30)).unwrap());
        }
    });
    drop(logbook);
    assert_eq!(verify(folder.path()).unwrap(), []);
    assert_eq!(Logbook::open(folder.path()).unwrap().trip_ids().unwrap(), ["t0", "t1", "t2", "t3"]);
}

#[test]
fn a_number_that_is_not_finite_is_refused_by_name() {
    let folder = TempDir::new().unwrap();
    let logbook = writer(&folder);
    logbook.write_trip(&trip("t1", START_US, 60)).unwrap();
    let before = files::tree(folder.path());
    for bad in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY] {
        let mut tables = trip("t1", START_US, 60);
        tables.track[7].sog_mps = Some(bad);
        let message = logbook.write_trip(&tables).unwrap_err().to_string();
        assert!(message.starts_with("table track, column sog_mps, row 7:"), "{message}");
    }
    let mut tables = trip("t1", START_US, 60);
    tables.break_lines[0].geometry.pop();
    let message = logbook.write_trip(&tables).unwrap_err().to_string();
    assert!(message.starts_with("table break_lines, column geometry, row 0:"), "{message}");
    assert_eq!(files::tree(folder.path()), before);
}

#[test]
fn tables_that_are_not_of_one_trip_are_refused() {
    let folder = TempDir::new().unwrap();
    let logbook = writer(&folder);
    let good = trip("t1", START_US, 5);
    let none = TripTables { trips: Vec::new(), ..good.clone() };
    assert!(matches!(logbook.write_trip(&none), Err(Error::NotOneTrip { found: 0 })));
    let mixed = TripTables { bites: trip("t2", START_US, 5).bites, ..good };
    assert!(matches!(logbook.write_trip(&mixed), Err(Error::OtherTrip { table: "bites", .. })));
    assert!(matches!(logbook.write_trip(&trip("../t1", START_US, 5)), Err(Error::TripId { .. })));
    assert!(logbook.logbook().trip_ids().unwrap().is_empty());
}

#[test]
fn one_program_writes_at_a_time() {
    let folder = TempDir::new().unwrap();
    let first = writer(&folder);
    assert!(matches!(LogbookWriter::open_or_create(folder.path()), Err(Error::InUse { .. })));
    let message = Logbook::open(folder.path()).unwrap_err().to_string();
    assert!(
        message
            .ends_with("another program is using this logbook; wait until it has finished, then try again")
    );
    assert!(matches!(verify(folder.path()), Err(Error::InUse { .. })));
    drop(first);
    let reader = Logbook::open(folder.path()).unwrap();
    let another = Logbook::open(folder.path()).unwrap();
    assert!(matches!(LogbookWriter::open_or_create(folder.path()), Err(Error::InUse { .. })));
    drop((reader, another));
    writer(&folder);
}

#[test]
fn only_a_logbook_is_opened() {
    let message = |root: &Path| LogbookWriter::open_or_create(root).unwrap_err().to_string();
    let folder = TempDir::new().unwrap();
    let root = folder.path();
    assert!(matches!(Logbook::open(root), Err(Error::NoLogbook { .. })));

    fs::write(root.join("photo.jpg"), b"").unwrap();
    assert!(message(root).contains("the folder is not empty and has no logbook.toml"));
    assert_eq!(files::tree(root).len(), 1, "nothing was put into a folder that is no logbook");

    fs::write(root.join("logbook.toml"), "format_version = 3\n").unwrap();
    assert!(message(root).ends_with(
        "format_version is 3, and this program knows formats up to 2: use a newer version of the program"
    ));

    fs::write(root.join("logbook.toml"), "format_version = \"one\"\n").unwrap();
    assert!(message(root).contains("logbook.toml: "), "{}", message(root));

    let message = message(&root.join("photo.jpg/logbook"));
    assert!(
        message.contains("photo.jpg") && message.contains("a file stands where a folder is needed"),
        "{message}"
    );
}

#[test]
fn files_of_other_versions_open() {
    let tables = trip("t1", START_US, 3);
    let batch = track::Row::to_batch(&tables.track).unwrap();
    let (speed, _) = batch.schema().column_with_name("sog_mps").unwrap();
    let mut older = batch.clone();
    older.remove_column(speed);
    let rows = track::Row::from_batch(&older).unwrap();
    assert!(rows.iter().all(|row| row.sog_mps.is_none()));
    assert_eq!(rows[2].lat, tables.track[2].lat);

    let mut broken = batch;
    broken.remove_column(1);
    assert_eq!(track::Row::from_batch(&broken).unwrap_err().to_string(), "column time: is not in the file");
}
