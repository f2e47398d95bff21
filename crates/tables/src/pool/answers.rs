//! What did another engine answer about a pool?
//!
//! A folder with the answers to `crates/fleet/sql/`: `outings.parquet`, `visits.parquet` and `bites.parquet`, with the
//! columns that the questions name, in any order of rows. They hold what the reader of the pool holds, so a layer is made of
//! them as of the pool itself.

use std::collections::BTreeMap;
use std::path::Path;

use arrow::array::{Array, ArrowPrimitiveType, AsArray, PrimitiveArray, RecordBatch, StringArray};
use arrow::datatypes::{Date32Type, Float64Type, Int64Type};
use jiff::ToSpan;
use jiff::civil::Date;
use waterseam_units::PlaceSums;

use super::read::{Index, PoolBite, PoolRows, PoolTrip, PoolVisit, summed, trip_of};
use crate::error::Error;
use crate::file;

const EPOCH: Date = Date::constant(1970, 1, 1);
const MICRO_IN_MILLI: i128 = 1000;

/// Reads the answers of an engine.
///
/// # Errors
/// Where a file is not there or damaged, lacks a column, has a value missing that must be there, or names a trip that is not
/// among the outings.
pub fn read_answers(folder: &Path) -> Result<PoolRows, Error> {
    let mut trips = Vec::new();
    each(&folder.join("outings.parquet"), |batch| {
        let [boats, ids] = [text(batch, "boat")?, text(batch, "trip_id")?];
        let days = whole(numbers::<Date32Type>(batch, "day")?, "day")?;
        for row in 0..batch.num_rows() {
            let day = EPOCH.checked_add(days.value(row).days()).map_err(|e| format!("column day: {e}"))?;
            trips.push(PoolTrip {
                boat: present(&boats, row, "boat")?.to_owned(),
                trip_id: present(&ids, row, "trip_id")?.to_owned(),
                day,
            });
        }
        Ok(())
    })?;
    trips.sort_by(|a, b| (&a.boat, &a.trip_id).cmp(&(&b.boat, &b.trip_id)));
    let mut index: Index<'_> = BTreeMap::new();
    for (n, trip) in trips.iter().enumerate() {
        index.entry(&trip.boat).or_default().insert(&trip.trip_id, n);
    }
    let mut visits = Vec::new();
    let path = folder.join("visits.parquet");
    each(&path, |batch| {
        let trip = trip_of_row(batch, &index, &path)?;
        let column = |name| whole(numbers::<Int64Type>(batch, name)?, name);
        let [cells, fished, measured] = [column("cell")?, column("fished_us")?, column("measured_us")?];
        let [milli, micro] = [column("temp_us_milli_c")?, column("temp_us_micro_c")?];
        let [run, breaks] = [column("run_mm")?, column("breaks")?];
        for row in 0..batch.num_rows() {
            let temp = i128::from(milli.value(row)) * MICRO_IN_MILLI + i128::from(micro.value(row));
            visits.push(PoolVisit {
                trip: trip(row)?,
                cell: cells.value(row) as u64,
                sums: PlaceSums {
                    fished_us: fished.value(row),
                    measured_us: measured.value(row),
                    temp_us_micro_c: temp,
                    run_mm: run.value(row),
                    breaks: breaks.value(row),
                },
            });
        }
        Ok(())
    })?;
    let mut bites = Vec::new();
    let path = folder.join("bites.parquet");
    each(&path, |batch| {
        let trip = trip_of_row(batch, &index, &path)?;
        let cells = whole(numbers::<Int64Type>(batch, "cell")?, "cell")?;
        let species = text(batch, "species")?;
        let depths = numbers::<Float64Type>(batch, "depth_m")?;
        let temps = numbers::<Float64Type>(batch, "temp_at_depth_c")?;
        let surface = numbers::<Float64Type>(batch, "surface_temp_c")?;
        let known =
            |values: &PrimitiveArray<Float64Type>, row| values.is_valid(row).then(|| values.value(row));
        for row in 0..batch.num_rows() {
            bites.push(PoolBite {
                trip: trip(row)?,
                cell: cells.value(row) as u64,
                species: species.is_valid(row).then(|| species.value(row).to_owned()),
                depth_m: known(&depths, row),
                temp_at_depth_c: known(&temps, row),
                surface_temp_c: known(&surface, row),
            });
        }
        Ok(())
    })?;
    bites.sort_by_key(|bite| bite.trip);
    Ok(PoolRows { trips, visits: summed(visits), bites })
}

/// Gives every batch of a file away; what is wrong with one names the file.
fn each(path: &Path, mut read: impl FnMut(&RecordBatch) -> Result<(), String>) -> Result<(), Error> {
    for batch in file::plain_batches(path)? {
        read(&batch).map_err(|cause| Error::Damaged { path: path.to_owned(), cause })?;
    }
    Ok(())
}

/// Which trip a row of a batch is about.
fn trip_of_row<'a>(
    batch: &RecordBatch,
    index: &'a Index<'_>,
    path: &'a Path,
) -> Result<impl Fn(usize) -> Result<usize, String> + use<'a>, String> {
    let [boats, ids] = [text(batch, "boat")?, text(batch, "trip_id")?];
    Ok(move |row| {
        let (boat, id) = (present(&boats, row, "boat")?, present(&ids, row, "trip_id")?);
        trip_of(index, boat, id, path)
            .map_err(|_| format!("trip {id} of the boat {boat} is not in outings.parquet"))
    })
}

fn numbers<T: ArrowPrimitiveType>(batch: &RecordBatch, name: &str) -> Result<PrimitiveArray<T>, String> {
    let array = batch.column_by_name(name).ok_or_else(|| format!("column {name} is not in the file"))?;
    let typed = array.as_primitive_opt::<T>().cloned();
    typed.ok_or_else(|| format!("column {name} is {}, not {}", array.data_type(), T::DATA_TYPE))
}

fn whole<T: ArrowPrimitiveType>(array: PrimitiveArray<T>, name: &str) -> Result<PrimitiveArray<T>, String> {
    if array.null_count() == 0 { Ok(array) } else { Err(format!("column {name}: a value is missing")) }
}

fn text(batch: &RecordBatch, name: &str) -> Result<StringArray, String> {
    let array = batch.column_by_name(name).ok_or_else(|| format!("column {name} is not in the file"))?;
    let typed = array.as_string_opt::<i32>().cloned();
    typed.ok_or_else(|| format!("column {name} is {}, not text", array.data_type()))
}

fn present<'a>(texts: &'a StringArray, row: usize, name: &str) -> Result<&'a str, String> {
    if texts.is_valid(row) { Ok(texts.value(row)) } else { Err(format!("column {name}: a value is missing")) }
}

#[cfg(test)]
mod tests {
    use std::sync::Arc;

    use arrow::array::{ArrayRef, Date32Array, Float64Array, Int64Array};
    use parquet::arrow::ArrowWriter;
    use tempfile::TempDir;

    use super::*;

    fn put(folder: &Path, name: &str, columns: Vec<(&str, ArrayRef)>) {
        let batch = RecordBatch::try_from_iter_with_nullable(
            columns.into_iter().map(|(name, column)| (name, column, true)),
        )
        .unwrap();
        let mut bytes = Vec::new();
        let mut writer = ArrowWriter::try_new(&mut bytes, batch.schema(), None).unwrap();
        writer.write(&batch).unwrap();
        writer.close().unwrap();
        std::fs::write(folder.join(format!("{name}.parquet")), bytes).unwrap();
    }

    fn texts(values: &[&str]) -> ArrayRef {
        Arc::new(StringArray::from(values.to_vec()))
    }

    fn ints(values: &[i64]) -> ArrayRef {
        Arc::new(Int64Array::from(values.to_vec()))
    }

    fn keys(trips: [&str; 2]) -> Vec<(&'static str, ArrayRef)> {
        vec![("trip_id", texts(&trips)), ("boat", texts(&["tern", "kittiwake"])), ("cell", ints(&[5, 7]))]
    }

    fn good(folder: &Path) {
        // 20,000 days are 2024-10-04 (Python: date(1970, 1, 1) + timedelta(20000))
        let days = Arc::new(Date32Array::from(vec![20_000, -1]));
        let outings = vec![
            ("boat", texts(&["tern", "kittiwake"])),
            ("trip_id", texts(&["t1", "t1"])),
            ("day", days as _),
        ];
        put(folder, "outings", outings);
        let mut visits = keys(["t1", "t1"]);
        for (name, values) in [
            ("fished_us", [60, 0]),
            ("measured_us", [30, 0]),
            ("temp_us_milli_c", [12_345 * 30, 0]),
            ("temp_us_micro_c", [678 * 30, 0]),
            ("run_mm", [1, 2]),
            ("breaks", [0, 3]),
        ] {
            visits.push((name, ints(&values)));
        }
        put(folder, "visits", visits);
        let mut bites = keys(["t1", "t1"]);
        bites.push(("species", Arc::new(StringArray::from(vec![Some("coho"), None]))));
        for name in ["depth_m", "temp_at_depth_c", "surface_temp_c"] {
            bites.push((name, Arc::new(Float64Array::from(vec![None, Some(9.5)]))));
        }
        put(folder, "bites", bites);
    }

    #[test]
    fn answers_in_any_order_are_read_by_name() {
        let folder = TempDir::new().unwrap();
        good(folder.path());
        let rows = read_answers(folder.path()).unwrap();
        let trips: Vec<_> = rows.trips.iter().map(|trip| (&trip.boat[..], trip.day.to_string())).collect();
        assert_eq!(trips, [("kittiwake", "1969-12-31".to_owned()), ("tern", "2024-10-04".to_owned())]);
        assert_eq!(
            rows.visits.iter().map(|visit| (visit.trip, visit.cell)).collect::<Vec<_>>(),
            [(0, 7), (1, 5)]
        );
        assert_eq!(rows.visits[1].sums.surface_temp_c(), Some(12.345_678));
        assert_eq!((rows.visits[0].sums.run_mm, rows.visits[0].sums.breaks), (2, 3));
        assert_eq!(
            (rows.bites[0].trip, &rows.bites[0].species, rows.bites[0].depth_m),
            (0, &None, Some(9.5))
        );
        assert_eq!(rows.bites[1].species.as_deref(), Some("coho"));
    }

    #[test]
    fn what_is_wrong_is_said_with_its_file() {
        let folder = TempDir::new().unwrap();
        let said = |folder: &TempDir| read_answers(folder.path()).unwrap_err().to_string();
        assert!(said(&folder).contains("outings.parquet"));
        for (name, columns, expected) in [
            ("visits", keys(["t1", "t2"]), "column fished_us is not in the file"),
            ("bites", vec![("boat", ints(&[1]))], "column boat is Int64, not text"),
            ("bites", keys(["t1", "t2"]), "column species is not in the file"),
        ] {
            good(folder.path());
            put(folder.path(), name, columns);
            let said = said(&folder);
            assert!(said.contains(expected) && said.contains(name), "{said}");
        }
        good(folder.path());
        put(
            folder.path(),
            "outings",
            vec![
                ("boat", texts(&["tern"])),
                ("trip_id", texts(&["t1"])),
                ("day", Arc::new(Date32Array::from(vec![1]))),
            ],
        );
        assert!(said(&folder).contains("trip t1 of the boat kittiwake is not in outings.parquet"));
    }
}
