//! Does a pool hold what its logbooks hold, in order, and is no more written than has changed?

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use jiff::civil::Date;
use tempfile::TempDir;
use waterseam_units::PlaceSums;

use super::{
    Compaction, Limits, PlaceCounts, PoolBite, PoolRows, PoolTrip, PoolVisit, compact, compact_within,
    parent, places, read_pool,
};
use crate::encoding::{Maybe, Text};
use crate::layout::entries;
use crate::power_cut::files::tree;
use crate::power_cut::sample::{START_US, trip};
use crate::tables::{break_lines, cell_visits, effort, track};
use crate::{Error, LogbookWriter, Table, TripTables};

const DAY_US: i64 = 86_400 * 1_000_000;
const YEAR_US: i64 = 365 * DAY_US;

/// Small files, so that a few rows are many.
const SMALL: Limits = Limits { rows: 100, bytes: 1 << 20, row_group_rows: 16, page_rows: 4 };

/// A trip of a boat whose cells come and go: cell and time do not rise together.
fn trip_of(boat: &str, id: &str, start_us: i64, seconds: usize) -> TripTables {
    let mut tables = trip(id, start_us, seconds);
    boat.clone_into(&mut tables.trips[0].boat);
    for (n, row) in tables.track.iter_mut().enumerate() {
        row.cell += (n as u64 * 7919) % 5;
    }
    tables
}

fn logbook(folder: &TempDir, name: &str, trips: &[TripTables]) -> PathBuf {
    let root = folder.path().join(name);
    let writer = LogbookWriter::open_or_create(&root).unwrap();
    for trip in trips {
        writer.write_trip(trip).unwrap();
    }
    root
}

/// Rows of a table in every file of a boat's folder, file by file.
fn rows<R: Table>(pool: &Path, boat: &str) -> Vec<Vec<R>> {
    let years = entries(&pool.join(R::NAME).join(format!("boat={boat}"))).unwrap();
    let files = years.iter().flat_map(|year| entries(year).unwrap());
    files.map(|file| crate::file::rows(&file).unwrap()).collect()
}

/// Files of a pool and their bytes, without the lock.
fn content(pool: &Path) -> BTreeMap<String, Vec<u8>> {
    tree(pool).into_iter().filter(|(path, _)| path != ".lock").collect()
}

fn names(done: &Compaction) -> [Vec<String>; 3] {
    [
        done.written.iter().map(|written| written.of.to_string()).collect(),
        done.unchanged.iter().map(ToString::to_string).collect(),
        done.removed.iter().map(ToString::to_string).collect(),
    ]
}

#[test]
fn every_row_is_there_once_by_cell_and_time() {
    let folder = TempDir::new().unwrap();
    let trips: Vec<TripTables> = (0..6)
        .map(|n| trip_of("Kittiwake", &format!("t{}", 9 - n), START_US + n * DAY_US, 40 + n as usize))
        .collect();
    let root = logbook(&folder, "logbook", &trips);
    let pool = folder.path().join("pool");
    let done = compact_within(&[root], &pool, &SMALL).unwrap();
    assert_eq!(names(&done), [vec!["boat=Kittiwake, year=2026".to_owned()], vec![], vec![]]);
    assert_eq!((done.written[0].trips, done.written[0].files_before), (6, 6 * crate::SCHEMAS.len()));

    let parts = rows::<track::Row>(&pool, "Kittiwake");
    // 40 to 45 rows a trip, at most 100 a file: two trips each
    assert_eq!(parts.iter().map(Vec::len).collect::<Vec<_>>(), [81, 85, 89]);
    for part in &parts {
        assert!(part.is_sorted_by_key(|row| (row.cell, row.time)));
    }
    assert!(
        parts.windows(2).all(|pair| {
            pair[0].iter().map(|row| row.time).max() < pair[1].iter().map(|row| row.time).min()
        })
    );
    let mut found: Vec<track::Row> = parts.concat();
    found.sort_by_key(|row| row.time);
    let given: Vec<track::Row> = trips.iter().flat_map(|trip| trip.track.clone()).collect();
    assert_eq!(found, given);

    // a table without a cell is in the order of the trips' ids, and what a folder says is not in its files
    let lines: Vec<break_lines::Row> = rows(&pool, "Kittiwake").concat();
    assert!(lines.len() == 6 && lines.is_sorted_by(|a, b| a.trip_id < b.trip_id));
    let trips =
        crate::file::plain_batches(&pool.join("trips/boat=Kittiwake/year=2026/part-0.parquet")).unwrap();
    assert!(trips[0].num_rows() == 6 && trips[0].column_by_name("boat").is_none());
}

#[test]
fn boats_with_equal_trip_ids_stay_apart() {
    let folder = TempDir::new().unwrap();
    let first = logbook(&folder, "a", &[trip_of("Kittiwake", "t1", START_US, 30)]);
    let second = logbook(&folder, "b", &[trip_of("Little Tern", "t1", START_US, 50)]);
    let pool = folder.path().join("pool");
    compact(&[first, second], &pool).unwrap();
    assert_eq!(rows::<track::Row>(&pool, "Kittiwake").concat().len(), 30);
    assert_eq!(rows::<track::Row>(&pool, "Little%20Tern").concat().len(), 50);
}

#[test]
fn one_boat_in_two_logbooks() {
    let folder = TempDir::new().unwrap();
    let [one, two] = ["t1", "t2"].map(|id| trip_of("Kittiwake", id, START_US, 30));
    let a = logbook(&folder, "a", std::slice::from_ref(&one));
    let b = logbook(&folder, "b", &[one, two]);
    let pool = folder.path().join("pool");
    compact(&[a.clone(), b], &pool).unwrap();
    assert_eq!(rows::<track::Row>(&pool, "Kittiwake").concat().len(), 60, "a copy of a trip counts once");

    let c = logbook(&folder, "c", &[trip_of("Kittiwake", "t1", START_US, 31)]);
    let before = content(&pool);
    let refused = compact(&[a, c], &pool).unwrap_err();
    assert!(matches!(&refused, Error::TwoTrips { trip_id, .. } if trip_id == "t1"), "{refused}");
    assert_eq!(content(&pool), before);
}

/// Trip by trip, in any order of the logbooks, with changes in between: as if made at once.
#[test]
fn a_pool_follows_from_the_logbooks_alone() {
    let folder = TempDir::new().unwrap();
    let (old, new) =
        (trip_of("Kittiwake", "t1", START_US - YEAR_US, 30), trip_of("Kittiwake", "t2", START_US, 30));
    let a = logbook(&folder, "a", &[old]);
    let b = logbook(&folder, "b", &[trip_of("Tern", "t1", START_US, 20)]);
    let pool = folder.path().join("pool");
    let both = [a.clone(), b.clone()];
    compact_within(&both, &pool, &SMALL).unwrap();

    LogbookWriter::open_or_create(&a).unwrap().write_trip(&new).unwrap();
    LogbookWriter::open_or_create(&a)
        .unwrap()
        .write_trip(&trip_of("Kittiwake", "t3", START_US + DAY_US, 200))
        .unwrap();
    let done = compact_within(&both, &pool, &SMALL).unwrap();
    let words = |words: &[&str]| words.iter().map(ToString::to_string).collect::<Vec<_>>();
    let unchanged = words(&["boat=Kittiwake, year=2025", "boat=Tern, year=2026"]);
    assert_eq!(names(&done), [words(&["boat=Kittiwake, year=2026"]), unchanged, vec![]]);

    // a long trip becomes a short one: fewer files than before
    LogbookWriter::open_or_create(&a)
        .unwrap()
        .write_trip(&trip_of("Kittiwake", "t3", START_US + DAY_US, 20))
        .unwrap();
    compact_within(&both, &pool, &SMALL).unwrap();
    let other = folder.path().join("other");
    compact_within(&[b.clone(), a.clone()], &other, &SMALL).unwrap();
    assert_eq!(content(&pool), content(&other));

    let done = compact_within(&both, &pool, &SMALL).unwrap();
    assert_eq!((done.written.len(), done.unchanged.len()), (0, 3));

    LogbookWriter::open_or_create(&a).unwrap().forget("t1").unwrap();
    let done = compact_within(&[a], &pool, &SMALL).unwrap();
    let removed = words(&["boat=Kittiwake, year=2025", "boat=Tern, year=2026"]);
    assert_eq!(names(&done), [vec![], words(&["boat=Kittiwake, year=2026"]), removed]);
    assert!(!pool.join("track/boat=Tern").exists());
    assert_eq!(super::wrong_sums(&pool), "");

    // a file that somebody removed is made anew
    std::fs::remove_file(pool.join("effort/boat=Kittiwake/year=2026/part-0.parquet")).unwrap();
    assert_eq!(compact_within(&[folder.path().join("a")], &pool, &SMALL).unwrap().written.len(), 1);
    assert_eq!(rows::<effort::Row>(&pool, "Kittiwake").concat().len(), 2);
}

#[test]
fn other_folders_are_refused() {
    let folder = TempDir::new().unwrap();
    let root = logbook(&folder, "logbook", &[trip_of("Kittiwake", "t1", START_US, 3)]);
    let refused = compact(std::slice::from_ref(&root), &root).unwrap_err();
    assert!(matches!(refused, Error::NotAPool { .. } | Error::InUse { .. }), "{refused}");
    let other = folder.path().join("other");
    std::fs::create_dir(&other).unwrap();
    std::fs::write(other.join("holiday.jpg"), "x").unwrap();
    let refused = compact(&[root], &other).unwrap_err().to_string();
    assert!(refused.contains("so it is no pool"), "{refused}");
    assert_eq!(tree(&other).len(), 1);
    let refused = compact(&[folder.path().join("none")], &folder.path().join("pool")).unwrap_err();
    assert!(matches!(refused, Error::NoLogbook { .. }), "{refused}");
    assert!(!folder.path().join("pool").exists());
}

/// A file that has changed since it was written stops its year, and the year stays as it was.
#[test]
fn damage_stops_a_year() {
    let folder = TempDir::new().unwrap();
    let root = logbook(&folder, "logbook", &[trip_of("Kittiwake", "t1", START_US, 3)]);
    let pool = folder.path().join("pool");
    compact(std::slice::from_ref(&root), &pool).unwrap();
    let before = content(&pool);
    LogbookWriter::open_or_create(&root)
        .unwrap()
        .write_trip(&trip_of("Kittiwake", "t2", START_US + DAY_US, 3))
        .unwrap();
    std::fs::write(root.join("effort/year=2026/trip=t1/part-0.parquet"), "PAR1").unwrap();
    let refused = compact(&[root], &pool).unwrap_err().to_string();
    assert!(refused.contains("trip=t1") && refused.contains("damaged"), "{refused}");
    assert_eq!(content(&pool), before);
}

/// Minutes of effort summed by the reader of the pool, and by hand.
#[test]
fn visits_of_a_pool_are_sums_of_its_minutes() {
    let folder = TempDir::new().unwrap();
    let mut given: BTreeMap<(String, String, u64), (i64, i128, i64)> = BTreeMap::new();
    let mut roots = Vec::new();
    for boat in ["Kittiwake", "Tern"] {
        let mut trips = Vec::new();
        for n in 0..5_i64 {
            let mut tables = trip_of(boat, &format!("t{n}"), START_US + n * DAY_US, 20);
            let minute = tables.effort[0].clone();
            tables.effort = (0..30 + n)
                .map(|m| effort::Row {
                    time: minute.time + m,
                    cell: minute.cell + (m as u64 * 31) % 4,
                    rod_hours: 1.0 / (60.0 + m as f64),
                    surface_temp_c: (m % 3 > 0).then_some(11.1 + 0.07 * m as f64),
                    ..minute.clone()
                })
                .collect();
            for row in &tables.effort {
                let sum = given.entry((boat.to_owned(), row.trip_id.to_string(), row.cell)).or_default();
                let us = (row.rod_hours * 3.6e9).round() as i64;
                sum.0 += us;
                if let Some(temp_c) = row.surface_temp_c {
                    sum.1 += i128::from(us) * (temp_c * 1e6).round() as i128;
                    sum.2 += us;
                }
            }
            trips.push(tables);
        }
        roots.push(logbook(&folder, boat, &trips));
    }
    let pool = folder.path().join("pool");
    compact_within(&roots, &pool, &SMALL).unwrap();
    let found = read_pool(&pool).unwrap();
    let effort = found.visits.iter().filter(|visit| visit.sums.fished_us > 0);
    let effort: BTreeMap<_, _> = effort
        .map(|visit| {
            let trip = &found.trips[visit.trip];
            let key = (trip.boat.clone(), trip.trip_id.clone(), visit.cell);
            (key, (visit.sums.fished_us, visit.sums.temp_us_micro_c, visit.sums.measured_us))
        })
        .collect();
    assert_eq!(effort, given);
    assert_eq!((found.trips.len(), found.bites.len()), (10, 10));
    let run_mm: i64 = found.visits.iter().map(|visit| visit.sums.run_mm).sum();
    let rows = ["Kittiwake", "Tern"].map(|boat| rows::<cell_visits::Row>(&pool, boat).concat()).concat();
    assert_eq!(run_mm, rows.iter().map(|row| (row.run_m * 1e3).round() as i64).sum::<i64>());
    assert!(run_mm > 0);

    std::fs::create_dir_all(pool.join(".staging/2026.Tern")).unwrap();
    assert!(read_pool(&pool).is_ok(), "what was not staged whole changes nothing");
    std::fs::write(pool.join(".staging/2026.Tern/sums"), "").unwrap();
    assert!(read_pool(&pool).unwrap_err().to_string().contains("run waterseam compact again"));
    assert!(read_pool(folder.path()).is_err());
}

/// h3 4.5.0 (the library's own binding for Python): `cell_to_parent('891a6bad5b3ffff', r)` for r from 0.
#[test]
fn parents_of_a_cell() {
    let by_resolution = [
        0x0801_bfff_ffff_ffff,
        0x0811_a7ff_ffff_ffff,
        0x0821_a6ff_ffff_ffff,
        0x0831_a6bf_ffff_ffff,
        0x0841_a6bb_ffff_ffff,
        0x0851_a6ba_ffff_ffff,
        0x0861_a6ba_d7ff_ffff,
        0x0871_a6ba_d5ff_ffff,
        0x0881_a6ba_d5bf_ffff,
        0x0891_a6ba_d5b3_ffff,
    ];
    for (resolution, expected) in (0..).zip(by_resolution) {
        assert_eq!(parent(0x0891_a6ba_d5b3_ffff, resolution), Some(expected), "{resolution}");
    }
    assert_eq!((parent(0, 7), parent(0x0891_a6ba_d5b3_ffff, 10)), (None, None));
}

fn month(day: Date) -> String {
    format!("{:02}", day.month())
}

/// A trip from before trips stated their day: in its pool it has the day of the boat's zone, whoever asks.
#[test]
fn every_trip_of_a_pool_has_its_day() {
    let folder = TempDir::new().unwrap();
    let mut old = trip_of("Kittiwake", "t1", START_US, 3);
    (old.trips[0].local_date, old.trips[0].time_zone) = (None, "Etc/GMT+6".to_owned());
    let mut told = trip_of("Kittiwake", "t2", START_US + DAY_US, 3);
    told.trips[0].local_date = Some("2026-06-01".to_owned());
    let utc = old.trips[0].time_start;
    assert_eq!(waterseam_units::time::timestamp(utc).to_string(), "2026-06-14T05:12:00Z");
    let root = logbook(&folder, "logbook", &[old, told]);
    let pool = folder.path().join("pool");
    // what an older program made is not read, and made anew
    compact(std::slice::from_ref(&root), &pool).unwrap();
    std::fs::write(pool.join("pool.toml"), "format_version = 1\n").unwrap();
    let refused = read_pool(&pool).unwrap_err().to_string();
    assert!(refused.contains("run waterseam compact again"), "{refused}");
    compact(&[root], &pool).unwrap();
    let file =
        crate::file::plain_batches(&pool.join("trips/boat=Kittiwake/year=2026/part-0.parquet")).unwrap();
    let days: Vec<Option<String>> =
        crate::table::column_values::<Maybe<Text>>(&file[0], "local_date").unwrap();
    let days: Vec<String> = days.into_iter().flatten().collect();
    assert_eq!(days, ["2026-06-13", "2026-06-01"]);
    let read = read_pool(&pool).unwrap().trips;
    assert_eq!(read.iter().map(|trip| trip.day.to_string()).collect::<Vec<_>>(), days);
}

#[test]
fn places_count_trips_years_and_bites() {
    const CELL: u64 = 0x0891_a6ba_d5b3_ffff;
    /// A neighbour in the same cell of resolution 8: its last digit is another.
    const BESIDE: u64 = 0x0891_a6ba_d5b7_ffff;
    let trip = |trip_id: &str, date: &str| PoolTrip {
        boat: "Kittiwake".to_owned(),
        trip_id: trip_id.to_owned(),
        day: date.parse().unwrap(),
    };
    let visit = |trip, cell, fished_us, run_mm| {
        let sums = PlaceSums { fished_us, run_mm, ..PlaceSums::default() };
        PoolVisit { trip, cell, sums }
    };
    let bite = |species: Option<&str>, depth_m| PoolBite {
        trip: 0,
        cell: BESIDE,
        species: species.map(str::to_owned),
        depth_m,
        temp_at_depth_c: None,
        surface_temp_c: None,
    };
    let rows = PoolRows {
        trips: vec![trip("a", "2025-07-01"), trip("b", "2026-07-01"), trip("c", "2026-08-01")],
        visits: vec![
            visit(0, CELL, 3_600_000_000, 500),
            visit(0, BESIDE, 1_800_000_000, 0),
            visit(1, CELL, 0, 700),
            visit(2, 0, 1, 1),
        ],
        bites: vec![bite(Some("coho"), Some(10.0)), bite(None, Some(13.0)), bite(None, None)],
    };
    let found = places(&rows, 8, month);
    let said: Vec<_> = found
        .iter()
        .map(|place| {
            let counts = [place.trips, place.years, place.bites, place.years_with_bites];
            (place.part.as_str(), place.species.as_str(), counts, place.rate_raw, place.bite_depth_m)
        })
        .collect();
    // what was only run through is there and counts for no trip, and what lies in no cell is in no place
    let expected = [
        ("07", "*", [1, 1, 3, 1], Some(2.0), Some(11.5)),
        ("07", "coho", [1, 1, 1, 1], Some(2.0 / 3.0), Some(10.0)),
    ];
    assert_eq!(said, expected);
    assert_eq!(
        (found[0].cell, found[0].sums.run_mm, found[0].sums.fished_us),
        (0x0881_a6ba_d5bf_ffff, 1200, 5_400_000_000)
    );
}

/// The layer of an invented pool, which other engines are asked for too (`tests/fleet_outside.py`, `crates/fleet/tests`).
#[test]
fn a_layer_is_what_other_engines_make_of_it() {
    let fleet = Path::new(env!("CARGO_MANIFEST_DIR")).join("../fleet/tests");
    let rows = read_pool(&fleet.join("pool")).unwrap();
    let found = places(&rows, 7, month);
    let text = |value: Option<f64>| value.map(|value| value.to_string()).unwrap_or_default();
    let found: Vec<String> = found
        .iter()
        .map(|place| {
            let PlaceCounts { sums, trips, years, bites, years_with_bites, .. } = place;
            let whole = [sums.run_mm, sums.breaks, *trips, *years, *bites, *years_with_bites];
            format!(
                "{},{},{},{},{},{},{},{},{},{}",
                place.cell,
                place.part,
                place.species,
                sums.fished_us,
                sums.rod_hours(),
                whole.map(|count| count.to_string()).join(","),
                text(place.rate_raw),
                text(place.bite_depth_m),
                text(place.bite_temp_c),
                text(place.bite_surface_temp_c)
            )
        })
        .collect();
    let expected = std::fs::read_to_string(fleet.join("expected.csv")).unwrap();
    assert_eq!(found, expected.lines().skip(1).collect::<Vec<_>>());
}
