//! What did each trip of a pool do in each cell, minute by minute of its effort?
//!
//! Only the columns that the answer needs are read, row group by row group on every core, and sums are of whole
//! microseconds, millimetres and millionths of a degree: whatever the order, the same answer. Memory grows with the cells
//! of the trips, not with their minutes.

use std::collections::BTreeMap;
use std::fs::File;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use arrow::array::{Array, ArrayRef, ArrowPrimitiveType, AsArray, PrimitiveArray, RecordBatch};
use arrow::datatypes::{DataType, Field, Float64Type, Int32Type, Int64Type, Schema, UInt64Type};
use jiff::civil::Date;
use parquet::arrow::ProjectionMask;
use parquet::arrow::arrow_reader::{
    ArrowReaderMetadata, ArrowReaderOptions, ParquetRecordBatchReaderBuilder,
};
use rayon::prelude::*;
use waterseam_units::PlaceSums;

use crate::encoding::{Maybe, Text, Time};
use crate::error::Error;
use crate::file;
use crate::layout::{entries, name};
use crate::lock;
use crate::table::{BadColumn, Table, column_values};
use crate::tables::{bites, cell_visits, effort, trips};

/// Rows that are decoded at a time on each core.
const ROWS_A_BATCH: usize = 1 << 14;

/// Trips, visits and bites of a pool.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct PoolRows {
    /// By boat, then by id.
    pub trips: Vec<PoolTrip>,
    /// By trip, then by cell.
    pub visits: Vec<PoolVisit>,
    /// By trip.
    pub bites: Vec<PoolBite>,
}

/// A trip of a boat.
#[derive(Clone, Debug, PartialEq)]
pub struct PoolTrip {
    /// The boat, as it stands in the folder's name.
    pub boat: String,
    /// The trip.
    pub trip_id: String,
    /// Day of its start in the boat's time zone.
    pub day: Date,
}

/// What a trip did in a cell.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct PoolVisit {
    /// Index of the trip.
    pub trip: usize,
    /// H3 cell, resolution 9.
    pub cell: u64,
    /// What it did there.
    pub sums: PlaceSums,
}

/// A bite of a trip.
#[derive(Clone, Debug, PartialEq)]
pub struct PoolBite {
    /// Index of the trip.
    pub trip: usize,
    /// H3 cell, resolution 9.
    pub cell: u64,
    /// Species.
    pub species: Option<String>,
    /// Depth of the lure, m.
    pub depth_m: Option<f64>,
    /// Temperature there, °C.
    pub temp_at_depth_c: Option<f64>,
    /// Temperature at the surface, °C.
    pub surface_temp_c: Option<f64>,
}

/// Reads what every trip of a pool did in every cell: time and temperature from the minutes of `effort`, way and breaks
/// from `cell_visits`, which trips of older logbooks lack.
///
/// # Errors
/// Where the folder is no pool, another program is writing it, its writing was interrupted, or a file is damaged.
pub fn read_pool(root: &Path) -> Result<PoolRows, Error> {
    super::check_whole(root)?;
    let _shared = lock::shared(root)?;
    let mut trips = Vec::new();
    for (boat, path) in files::<trips::Row>(root)? {
        for batch in file::plain_batches(&path)? {
            let read = pool_trips(&boat, &batch);
            trips.extend(
                read.map_err(|fault| Error::Damaged { path: path.clone(), cause: fault.to_string() })?,
            );
        }
    }
    trips.sort_by(|a, b| (&a.boat, &a.trip_id).cmp(&(&b.boat, &b.trip_id)));
    let mut index: BTreeMap<&str, BTreeMap<&str, usize>> = BTreeMap::new();
    for (n, trip) in trips.iter().enumerate() {
        index.entry(&trip.boat).or_default().insert(&trip.trip_id, n);
    }
    let mut visits = scan::<effort::Row, _>(root, &index, ["rod_hours", "surface_temp_c"], |batch| {
        let hours = numbers::<Float64Type>(batch, "rod_hours")?;
        let temps = numbers::<Float64Type>(batch, "surface_temp_c")?;
        Ok(move |row: usize, sums: &mut PlaceSums| {
            sums.fish(hours.value(row), temps.is_valid(row).then(|| temps.value(row)));
        })
    })?;
    visits.extend(scan::<cell_visits::Row, _>(root, &index, ["run_m", "breaks"], |batch| {
        let run = numbers::<Float64Type>(batch, "run_m")?;
        let breaks = numbers::<Int64Type>(batch, "breaks")?;
        Ok(move |row: usize, sums: &mut PlaceSums| {
            sums.run(run.value(row));
            sums.cross(breaks.value(row));
        })
    })?);
    let visits = summed(visits);
    let mut bites = Vec::new();
    for (boat, path) in files::<bites::Row>(root)? {
        for bite in file::rows::<bites::Row>(&path)? {
            bites.push(PoolBite {
                trip: trip_of(&index, &boat, &bite.trip_id, &path)?,
                cell: bite.cell,
                species: bite.species,
                depth_m: bite.depth_m,
                temp_at_depth_c: bite.temp_at_depth_c,
                surface_temp_c: bite.surface_temp_c,
            });
        }
    }
    bites.sort_by_key(|bite| bite.trip);
    Ok(PoolRows { trips, visits, bites })
}

/// The trips of a batch; the column `boat` is in the names of the folders.
fn pool_trips(boat: &str, batch: &RecordBatch) -> Result<Vec<PoolTrip>, BadColumn> {
    let ids = column_values::<Text>(batch, "trip_id")?;
    let starts = column_values::<Time>(batch, "time_start")?;
    let zones = column_values::<Text>(batch, "time_zone")?;
    let days = column_values::<Maybe<Text>>(batch, "local_date")?;
    let columns = ids.into_iter().zip(starts).zip(zones).zip(days);
    let trip = |(((trip_id, start_us), zone), said): (((String, i64), String), Option<String>)| PoolTrip {
        boat: boat.to_owned(),
        trip_id,
        day: trips::local_day(said.as_deref(), &zone, start_us),
    };
    Ok(columns.map(trip).collect())
}

pub(super) type Index<'a> = BTreeMap<&'a str, BTreeMap<&'a str, usize>>;

pub(super) fn trip_of(index: &Index<'_>, boat: &str, trip_id: &str, path: &Path) -> Result<usize, Error> {
    let found = index.get(boat).and_then(|trips| trips.get(trip_id)).copied();
    found.ok_or_else(|| Error::Damaged {
        path: path.to_owned(),
        cause: format!("trip {trip_id} of this boat is not in the table trips"),
    })
}

/// One visit for each trip and cell, in that order.
pub(super) fn summed(mut visits: Vec<PoolVisit>) -> Vec<PoolVisit> {
    visits.par_sort_unstable_by_key(|visit| (visit.trip, visit.cell));
    visits.dedup_by(|next, sum| {
        let is_same = (next.trip, next.cell) == (sum.trip, sum.cell);
        if is_same {
            sum.sums += next.sums;
        }
        is_same
    });
    visits
}

/// The files of a table, each with its boat, in a fixed order.
fn files<R: Table>(root: &Path) -> Result<Vec<(String, PathBuf)>, Error> {
    let mut found = Vec::new();
    for folder in entries(&root.join(R::NAME))? {
        let Some(boat) = name(&folder).strip_prefix("boat=").map(str::to_owned) else { continue };
        for year in entries(&folder)? {
            found.extend(entries(&year)?.into_iter().map(|path| (boat.clone(), path)));
        }
    }
    Ok(found)
}

/// A row group of a file.
struct Group {
    file: usize,
    number: usize,
}

/// Reads a table, two columns beside trip and cell, and adds each row to the sums of its trip and cell by what `of` makes
/// of a batch; a trip and cell may come several times.
fn scan<R: Table, F: Fn(usize, &mut PlaceSums)>(
    root: &Path,
    index: &Index<'_>,
    columns: [&'static str; 2],
    of: impl Fn(&RecordBatch) -> Result<F, String> + Sync,
) -> Result<Vec<PoolVisit>, Error> {
    let files = files::<R>(root)?;
    let mut opened = Vec::new();
    let mut groups = Vec::new();
    for (n, (_, path)) in files.iter().enumerate() {
        let metadata = metadata(path)?;
        groups.extend((0..metadata.metadata().num_row_groups()).map(|number| Group { file: n, number }));
        opened.push(metadata);
    }
    let read = |group: &Group| {
        let (boat, path) = &files[group.file];
        let file = File::open(path).map_err(Error::io(path, "open"))?;
        let mut by_cell = ByCell::new(index, boat, path);
        file::guarded(path, || {
            let builder =
                ParquetRecordBatchReaderBuilder::new_with_metadata(file, opened[group.file].clone());
            let wanted = ["trip_id", "cell", columns[0], columns[1]];
            let mask = ProjectionMask::columns(builder.parquet_schema(), wanted);
            let reader = builder
                .with_projection(mask)
                .with_row_groups(vec![group.number])
                .with_batch_size(ROWS_A_BATCH)
                .build()
                .map_err(|e| e.to_string())?;
            for batch in reader {
                let batch = batch.map_err(|e| e.to_string())?;
                by_cell.add(&batch, &of(&batch)?)?;
            }
            Ok(())
        })?;
        by_cell.finish()
    };
    let found: Vec<Result<Vec<PoolVisit>, Error>> = groups.par_iter().map(read).collect();
    let mut visits = Vec::new();
    for group in found {
        visits.extend(group?);
    }
    Ok(visits)
}

/// What a file says of itself, with ids of trips as numbers into a list of words.
fn metadata(path: &Path) -> Result<ArrowReaderMetadata, Error> {
    let file = File::open(path).map_err(Error::io(path, "open"))?;
    file::guarded(path, || {
        let load = |options| ArrowReaderMetadata::load(&file, options).map_err(|e| e.to_string());
        let plain = load(ArrowReaderOptions::new().with_skip_arrow_metadata(true))?;
        let words = DataType::Dictionary(Box::new(DataType::Int32), Box::new(DataType::Utf8));
        let field = |field: &Arc<Field>| {
            if field.name() == "trip_id" {
                Arc::new(field.as_ref().clone().with_data_type(words.clone()))
            } else {
                field.clone()
            }
        };
        let fields: Vec<Arc<Field>> = plain.schema().fields().iter().map(field).collect();
        load(ArrowReaderOptions::new().with_schema(Arc::new(Schema::new(fields))))
    })
}

fn numbers<T: ArrowPrimitiveType>(batch: &RecordBatch, name: &str) -> Result<PrimitiveArray<T>, String> {
    let array = batch.column_by_name(name).and_then(|array| array.as_primitive_opt::<T>());
    array.cloned().ok_or_else(|| format!("column {name} is not there or not of its type"))
}

/// Sums rows in the order of their cells: while a cell lasts, one sum for each trip.
struct ByCell<'a> {
    index: &'a Index<'a>,
    boat: &'a str,
    path: &'a Path,
    /// The list of words that `trips` stands for.
    words: Option<ArrayRef>,
    trips: Vec<usize>,
    cell: u64,
    /// Sum of each word's trip in this cell, and which of them have one.
    sums: Vec<Option<PlaceSums>>,
    touched: Vec<usize>,
    done: Vec<PoolVisit>,
    unknown: Option<Error>,
}

impl<'a> ByCell<'a> {
    fn new(index: &'a Index<'a>, boat: &'a str, path: &'a Path) -> Self {
        Self {
            index,
            boat,
            path,
            words: None,
            trips: Vec::new(),
            cell: 0,
            sums: Vec::new(),
            touched: Vec::new(),
            done: Vec::new(),
            unknown: None,
        }
    }

    fn add(&mut self, batch: &RecordBatch, add: &impl Fn(usize, &mut PlaceSums)) -> Result<(), String> {
        let cells = numbers::<UInt64Type>(batch, "cell")?;
        let ids = batch.column_by_name("trip_id").and_then(|array| array.as_dictionary_opt::<Int32Type>());
        let ids = ids.ok_or("column trip_id is not there or not of its type")?;
        self.look_up(ids.values())?;
        let keys = ids.keys();
        for row in 0..batch.num_rows() {
            let cell = cells.value(row);
            if cell != self.cell {
                self.end_cell();
                self.cell = cell;
            }
            let word = keys.value(row) as usize;
            let sum = self.sums.get_mut(word).ok_or("a trip_id is missing")?;
            if sum.is_none() {
                self.touched.push(word);
            }
            add(row, sum.get_or_insert_default());
        }
        Ok(())
    }

    /// Which trip each word of a list is; nothing where the list is the one of before.
    fn look_up(&mut self, words: &ArrayRef) -> Result<(), String> {
        if self.words.as_ref().is_some_and(|known| Arc::ptr_eq(known, words)) {
            return Ok(());
        }
        self.end_cell();
        let texts = words.as_string_opt::<i32>().ok_or("column trip_id is no text")?;
        self.trips.clear();
        for id in texts.iter().flatten() {
            match trip_of(self.index, self.boat, id, self.path) {
                Ok(trip) => self.trips.push(trip),
                Err(unknown) => {
                    self.unknown.get_or_insert(unknown);
                    self.trips.push(usize::MAX);
                }
            }
        }
        self.sums = vec![None; self.trips.len()];
        self.words = Some(words.clone());
        Ok(())
    }

    fn end_cell(&mut self) {
        for word in self.touched.drain(..) {
            let (trip, cell) = (self.trips[word], self.cell);
            self.done.extend(self.sums[word].take().map(|sums| PoolVisit { trip, cell, sums }));
        }
    }

    fn finish(mut self) -> Result<Vec<PoolVisit>, Error> {
        self.end_cell();
        self.unknown.map_or(Ok(self.done), Err)
    }
}
