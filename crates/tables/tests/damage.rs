//! Does `verify` see each kind of damage, and name the file?

#![expect(clippy::unwrap_used, reason = "a case that cannot be set up ends its test")]

mod files;
mod sample;

use std::fs::{self, File};
use std::path::Path;
use std::sync::Arc;

use arrow::array::{ArrayRef, Float32Array, RecordBatch};
use arrow::datatypes::{DataType, Field, Schema};
use parquet::arrow::ArrowWriter;
use sample::{START_US, trip};
use tempfile::TempDir;
use waterseam_tables::{
    ColumnFault, Finding, Logbook, LogbookWriter, Problem, Table, TripTables, layers, track, verify,
};

fn part(table: &str) -> String {
    format!("{table}/year=2026/trip=t1/part-0.parquet")
}

/// What `verify` says after a damage to the rows, which are then written as any others are.
fn rows_after(damage: impl FnOnce(&mut TripTables)) -> Vec<Finding> {
    let folder = TempDir::new().unwrap();
    let mut tables = trip("t1", START_US, 60);
    damage(&mut tables);
    LogbookWriter::open_or_create(folder.path()).unwrap().write_trip(&tables).unwrap();
    verify(folder.path()).unwrap()
}

/// Writes the sums of the files as they are now, as if they had been written so.
fn sum_again(root: &Path) {
    let parts = files::tree(root).into_iter().filter(|(path, _)| path.ends_with(".parquet"));
    let lines = parts.map(|(path, bytes)| format!("{}  {path}", blake3::hash(&bytes).to_hex()));
    let sums = lines.collect::<Vec<_>>().join("\n");
    fs::write(root.join(".sums/t1.blake3"), sums).unwrap();
}

/// What `verify` says after a damage to the files.
fn files_after(damage: impl FnOnce(&Path)) -> Vec<Finding> {
    let folder = TempDir::new().unwrap();
    LogbookWriter::open_or_create(folder.path()).unwrap().write_trip(&trip("t1", START_US, 60)).unwrap();
    damage(folder.path());
    verify(folder.path()).unwrap()
}

fn only(findings: impl AsRef<[Finding]>, table: &str, problem: Problem) {
    assert_eq!(findings.as_ref(), [Finding { path: part(table), problem }]);
}

fn problems_of(findings: &[Finding], path: &str) -> Vec<Problem> {
    assert!(findings.iter().all(|f| f.path == path), "{findings:?}");
    findings.iter().map(|f| f.problem.clone()).collect()
}

#[test]
fn nothing_is_found_where_nothing_is_wrong() {
    assert_eq!(rows_after(|_| {}), []);
}

#[test]
fn a_flipped_bit() {
    let folder = TempDir::new().unwrap();
    LogbookWriter::open_or_create(folder.path()).unwrap().write_trip(&trip("t1", START_US, 60)).unwrap();
    for table in ["track", "break_lines"] {
        let path = folder.path().join(part(table));
        let whole = fs::read(&path).unwrap();
        for at in (0..whole.len()).step_by(23) {
            let mut bytes = whole.clone();
            bytes[at] ^= 1 << (at / 23 % 8);
            fs::write(&path, bytes).unwrap();
            let findings = verify(folder.path()).unwrap();
            let seen = findings.iter().any(|f| f.path == part(table) && f.problem == Problem::SumDiffers);
            assert!(seen, "{table}, byte {at}: {findings:?}");
        }
        fs::write(&path, whole).unwrap();
    }
}

#[test]
fn a_file_cut_short() {
    let cut = |root: &Path| {
        let path = root.join(part("track"));
        let bytes = fs::read(&path).unwrap();
        fs::write(&path, &bytes[..bytes.len() / 2]).unwrap();
    };
    only(files_after(cut), "track", Problem::SumDiffers);
    let findings = files_after(|root| {
        cut(root);
        sum_again(root);
    });
    assert!(
        matches!(problems_of(&findings, &part("track"))[..], [Problem::Unreadable { .. }]),
        "{findings:?}"
    );
}

#[test]
fn a_changed_file_is_not_read() {
    let folder = TempDir::new().unwrap();
    LogbookWriter::open_or_create(folder.path()).unwrap().write_trip(&trip("t1", START_US, 60)).unwrap();
    let path = folder.path().join(part("bites"));
    let mut bytes = fs::read(&path).unwrap();
    let middle = bytes.len() / 2;
    bytes[middle] ^= 1;
    fs::write(&path, bytes).unwrap();
    let logbook = Logbook::open(folder.path()).unwrap();
    for message in [
        logbook.read_trip("t1").unwrap_err().to_string(),
        logbook.read_table::<waterseam_tables::bites::Row>(None).unwrap_err().to_string(),
    ] {
        assert!(
            message.contains("part-0.parquet: the file is damaged: it has changed since it was written"),
            "{message}"
        );
    }
    assert_eq!(logbook.read_table::<track::Row>(None).unwrap().len(), 60, "the other tables are read");
}

#[test]
fn a_file_that_is_gone() {
    let findings = files_after(|root| fs::remove_file(root.join(part("bites"))).unwrap());
    assert!(
        matches!(problems_of(&findings, &part("bites"))[..], [Problem::Unreadable { .. }]),
        "{findings:?}"
    );
}

#[test]
fn a_trip_that_is_gone_but_for_its_sums() {
    let findings = files_after(|root| {
        for entry in fs::read_dir(root)
            .unwrap()
            .map(Result::unwrap)
            .filter(|e| !e.file_name().to_str().unwrap().starts_with('.'))
        {
            if entry.path().is_dir() {
                fs::remove_dir_all(entry.path()).unwrap();
            }
        }
    });
    assert_eq!(findings.len(), waterseam_tables::SCHEMAS.len(), "{findings:?}");
}

#[test]
fn sums_that_are_gone() {
    let findings = files_after(|root| fs::remove_file(root.join(".sums/t1.blake3")).unwrap());
    assert!(
        matches!(problems_of(&findings, ".sums/t1.blake3")[..], [Problem::NoSums { .. }]),
        "{findings:?}"
    );
}

#[test]
fn files_that_do_not_belong() {
    for stray in [
        "track/year=2026/trip=t1/part-0 (copy).parquet",
        "track/year=2026/.part-0.parquet.tmp",
        "bites/notes.txt",
    ] {
        let findings = files_after(|root| fs::write(root.join(stray), b"").unwrap());
        assert_eq!(findings, [Finding { path: stray.to_owned(), problem: Problem::Stray }]);
    }
}

/// Writes a batch in the place of a table, as another program might.
fn overwrite(root: &Path, table: &str, batch: &RecordBatch) {
    let mut writer =
        ArrowWriter::try_new(File::create(root.join(part(table))).unwrap(), batch.schema(), None).unwrap();
    writer.write(batch).unwrap();
    writer.close().unwrap();
    sum_again(root);
}

/// What `verify` says of the table `layers` when one of its columns is exchanged, or left out.
fn layers_with(column: &str, other: Option<(Field, ArrayRef)>) -> Vec<Problem> {
    let batch = layers::Row::to_batch(&trip("t1", START_US, 60).layers).unwrap();
    let (index, _) = batch.schema().column_with_name(column).unwrap();
    let mut fields: Vec<_> = batch.schema().fields().iter().map(|field| field.as_ref().clone()).collect();
    let mut columns = batch.columns().to_vec();
    fields.remove(index);
    columns.remove(index);
    if let Some((field, array)) = other {
        fields.insert(index, field);
        columns.insert(index, array);
    }
    let batch = RecordBatch::try_new(Arc::new(Schema::new(fields)), columns).unwrap();
    let findings = files_after(|root| overwrite(root, "layers", &batch));
    problems_of(&findings, &part("layers"))
}

#[test]
fn a_column_that_is_not_of_its_schema() {
    let fault = |column, fault| vec![Problem::Column { column, fault }];
    assert_eq!(layers_with("lat", None), fault("lat", ColumnFault::NotThere));
    assert_eq!(layers_with("preferred_top_m", None), [Problem::Older { columns: vec!["preferred_top_m"] }]);
    assert!(!Problem::Older { columns: Vec::new() }.is_damage() && Problem::ColumnOrder.is_damage());
    let narrow: ArrayRef = Arc::new(Float32Array::from(vec![46.2_f32]));
    let narrow = (Field::new("lat", DataType::Float32, false), narrow);
    assert_eq!(layers_with("lat", Some(narrow)), fault("lat", ColumnFault::Type));
    let missing: ArrayRef = Arc::new(arrow::array::Float64Array::from(vec![46.2]));
    let loose = (Field::new("lat", DataType::Float64, true), missing);
    assert_eq!(layers_with("lat", Some(loose)), [Problem::Nullability { column: "lat" }]);
}

#[test]
fn columns_in_another_order() {
    let batch = layers::Row::to_batch(&trip("t1", START_US, 60).layers).unwrap();
    let backward: Vec<usize> = (0..batch.num_columns()).rev().collect();
    let findings = files_after(|root| overwrite(root, "layers", &batch.project(&backward).unwrap()));
    assert_eq!(problems_of(&findings, &part("layers")), [Problem::ColumnOrder]);
}

#[test]
fn a_number_that_is_not_finite() {
    let batch = layers::Row::to_batch(&trip("t1", START_US, 60).layers).unwrap();
    let (index, _) = batch.schema().column_with_name("deepest_sampled_m").unwrap();
    let mut columns = batch.columns().to_vec();
    columns[index] = Arc::new(arrow::array::Float64Array::from(vec![f64::NAN]));
    let batch = RecordBatch::try_new(batch.schema(), columns).unwrap();
    let findings = files_after(|root| overwrite(root, "layers", &batch));
    let invalid = Problem::Invalid { column: "deepest_sampled_m", row: 0, rows: 1 };
    assert_eq!(problems_of(&findings, &part("layers")), [invalid]);
}

#[test]
fn values_out_of_range() {
    let findings = rows_after(|t| t.track[5..9].iter_mut().for_each(|row| row.lat = 146.2));
    only(
        findings,
        "track",
        Problem::OutOfRange { column: "lat", row: 5, value: "146.2".to_owned(), rows: 4 },
    );
    let findings = rows_after(|t| t.track[3].activity = "sail".into());
    only(
        findings,
        "track",
        Problem::OutOfRange { column: "activity", row: 3, value: "\"sail\"".to_owned(), rows: 1 },
    );
    let findings = rows_after(|t| t.profiles[1].temp_qc = 7);
    only(
        findings,
        "profiles",
        Problem::OutOfRange { column: "temp_qc", row: 1, value: "7".to_owned(), rows: 1 },
    );
}

#[test]
fn a_failed_value_is_kept_as_it_was_read() {
    let hot = |flag: u8| {
        rows_after(|t| {
            t.track[5].surface_temp_raw_c = Some(3_276.7);
            t.track[5].surface_temp_qc = flag;
        })
    };
    assert_eq!(hot(4), []);
    only(
        hot(1),
        "track",
        Problem::OutOfRange { column: "surface_temp_raw_c", row: 5, value: "3276.7".to_owned(), rows: 1 },
    );
}

#[test]
fn a_track_that_goes_back_or_stands_still() {
    let set =
        |row: usize, from: usize| rows_after(|t: &mut TripTables| t.track[row].time = t.track[from].time);
    only(set(20, 19), "track", Problem::TimeNotIncreasing { row: 20 });
    only(set(20, 3), "track", Problem::TimeNotIncreasing { row: 20 });
}

#[test]
fn accounts_that_do_not_add_up() {
    let findings = rows_after(|t| t.sources[0].records_used -= 1);
    assert!(
        matches!(findings[..], [Finding { problem: Problem::Account { used: 99, .. }, .. }]),
        "{findings:?}"
    );
    for reasons in [r#"{"checksum_wrong":1}"#, "{}", "not JSON", r#"["torn"]"#] {
        let findings = rows_after(|t| t.sources[0].set_aside_reasons = reasons.to_owned());
        assert!(
            matches!(findings[..], [Finding { problem: Problem::Reasons { set_aside: 2, .. }, .. }]),
            "{findings:?}"
        );
    }
    only(rows_after(|t| t.trips[0].bites = 2), "trips", Problem::BiteCount { counted: 2, rows: 1 });
}

#[test]
fn names_of_rows_that_do_not_exist() {
    let dangling = |column, table| Problem::Dangling { row: 0, column, id: "none".to_owned(), table };
    let none = || "none".to_owned();
    only(
        rows_after(|t| t.breaks[0].break_line_id = Some(none())),
        "breaks",
        dangling("break_line_id", "break_lines"),
    );
    only(
        rows_after(|t| t.current_edges[0].break_id = Some(none())),
        "current_edges",
        dangling("break_id", "breaks"),
    );
    only(rows_after(|t| t.bites[0].spell_id = Some(none())), "bites", dangling("spell_id", "rod_spells"));
    only(rows_after(|t| t.effort[0].spell_id = none()), "effort", dangling("spell_id", "rod_spells"));
    only(rows_after(|t| t.layers[0].profile_id = none()), "layers", dangling("profile_id", "profiles"));
}

#[test]
fn a_trip_in_the_folder_of_another() {
    let findings = files_after(|root| {
        for table in fs::read_dir(root)
            .unwrap()
            .map(|e| e.unwrap().path())
            .filter(|path| path.join("year=2026").exists())
        {
            fs::rename(table.join("year=2026/trip=t1"), table.join("year=2026/trip=t2")).unwrap();
        }
    });
    let found = |problem: &Problem| findings.iter().filter(|f| f.problem == *problem).count();
    assert_eq!(
        found(&Problem::OtherTrip { row: 0, found: "t1".to_owned() }),
        waterseam_tables::SCHEMAS.len(),
        "{findings:?}"
    );
    let findings = files_after(|root| {
        fs::rename(root.join("track/year=2026"), root.join("track/year=2025")).unwrap();
        fs::rename(root.join("trips/year=2026"), root.join("trips/year=2025")).unwrap();
    });
    assert!(findings.iter().any(|f| f.problem == Problem::OtherYear { found: 2026 }), "{findings:?}");
}

#[test]
fn what_rests_on_an_unreadable_table_is_not_judged() {
    let findings = files_after(|root| fs::write(root.join(part("rod_spells")), b"no table").unwrap());
    only(findings, "rod_spells", Problem::SumDiffers);
}

#[test]
fn the_schema_of_a_table_is_that_of_its_batch() {
    assert_eq!(track::Row::to_batch(&[]).unwrap().schema(), track::Row::schema());
}
