//! How do the rows of many trips become one file in which an engine finds a cell without reading the rest?
//!
//! Rows stand in the order of (cell, time) where the table has a cell, else of (trip, time); the statistics of row groups
//! and pages then say which of them can hold a cell or a time, and ids of trips and words are stored once a row group.

use std::collections::BTreeMap;
use std::marker::PhantomData;
use std::sync::Arc;

use arrow::array::{Array, AsArray, RecordBatch};
use arrow::compute::interleave_record_batch;
use arrow::datatypes::{Schema, TimestampMicrosecondType, UInt64Type};
use parquet::arrow::ArrowWriter;
use parquet::errors::ParquetError;
use parquet::file::metadata::SortingColumn;

use super::Limits;
use crate::error::Error;
use crate::table::Table;
use crate::{file, geo};

/// What the names of the folders hold.
const KEYS: [&str; 2] = ["boat", "year"];
const CELL: &str = "cell";
const TIME: &str = "time";

/// The rows of one file: whole trips, in order of time.
pub(super) struct Part<'a, R> {
    limits: &'a Limits,
    /// Each trip's id, and its rows in one or more batches.
    trips: Vec<(String, Vec<RecordBatch>)>,
    rows: usize,
    bytes: usize,
    table: PhantomData<R>,
}

impl<'a, R: Table> Part<'a, R> {
    pub fn new(limits: &'a Limits) -> Self {
        Self { limits, trips: Vec::new(), rows: 0, bytes: 0, table: PhantomData }
    }

    /// Adds a trip. Where the file would become too large, what was there before is given back, to be written.
    pub fn add(&mut self, trip_id: &str, batches: Vec<RecordBatch>) -> Option<Self> {
        let rows: usize = batches.iter().map(RecordBatch::num_rows).sum();
        let bytes: usize = batches.iter().map(RecordBatch::get_array_memory_size).sum();
        let is_full = self.rows + rows > self.limits.rows || self.bytes + bytes > self.limits.bytes;
        let full = (is_full && self.rows > 0).then(|| std::mem::replace(self, Self::new(self.limits)));
        self.trips.push((trip_id.to_owned(), batches));
        self.rows += rows;
        self.bytes += bytes;
        full
    }

    /// What has not been given back; `None` where there are no trips.
    pub fn rest(self) -> Option<Self> {
        (!self.trips.is_empty()).then_some(self)
    }

    /// The file.
    ///
    /// # Errors
    /// Where the rows cannot be put together: a row group with more than 2 GB of text.
    pub fn bytes(&self) -> Result<Vec<u8>, Error> {
        let batches: Vec<&RecordBatch> = self.trips.iter().flat_map(|(_, batches)| batches).collect();
        self.written(&batches).map_err(|e| Error::NotCompacted { table: R::NAME, cause: e.to_string() })
    }

    fn written(&self, batches: &[&RecordBatch]) -> Result<Vec<u8>, ParquetError> {
        let kept: Vec<usize> =
            (0..R::COLUMNS.len()).filter(|index| !KEYS.contains(&R::COLUMNS[*index].name)).collect();
        let schema = Arc::new(R::schema().project(&kept)?);
        let properties = file::builder::<R>(geo::metadata_of_batches::<R>(batches), Vec::new())
            .set_max_row_group_row_count(Some(self.limits.row_group_rows))
            .set_data_page_row_count_limit(self.limits.page_rows)
            .set_write_batch_size(self.limits.page_rows.min(1024))
            .set_sorting_columns(Some(sorting_columns(&schema)))
            .build();
        let mut writer = ArrowWriter::try_new(Vec::new(), schema, Some(properties))?;
        for group in self.order().chunks(self.limits.row_group_rows) {
            writer.write(&interleave_record_batch(batches, group)?.project(&kept)?)?;
            writer.flush()?;
        }
        writer.into_inner()
    }

    /// Batch and row of each row of the file.
    fn order(&self) -> Vec<(usize, usize)> {
        let mut ids: Vec<&str> = self.trips.iter().map(|(id, _)| id.as_str()).collect();
        ids.sort_unstable();
        let rank: BTreeMap<&str, u64> = ids.into_iter().zip(0..).collect();
        let mut keys: Vec<(u64, i64, u32, u32)> = Vec::with_capacity(self.rows);
        let mut index = 0_u32;
        for (id, batches) in &self.trips {
            for batch in batches {
                let cells =
                    batch.column_by_name(CELL).and_then(|array| array.as_primitive_opt::<UInt64Type>());
                let times = batch
                    .column_by_name(TIME)
                    .and_then(|array| array.as_primitive_opt::<TimestampMicrosecondType>());
                for row in 0..batch.num_rows() {
                    let group = cells.map_or(rank[id.as_str()], |cells| cells.value(row));
                    let time =
                        times.filter(|times| times.is_valid(row)).map_or(i64::MIN, |times| times.value(row));
                    keys.push((group, time, index, row as u32));
                }
                index += 1;
            }
        }
        keys.sort_unstable();
        keys.into_iter().map(|(_, _, batch, row)| (batch as usize, row as usize)).collect()
    }
}

/// The order of the rows, said in the file.
fn sorting_columns(schema: &Schema) -> Vec<SortingColumn> {
    let columns = [schema.index_of(CELL).or_else(|_| schema.index_of("trip_id")), schema.index_of(TIME)];
    let ascending =
        |index: usize| SortingColumn { column_idx: index as i32, descending: false, nulls_first: true };
    columns.into_iter().flatten().map(ascending).collect()
}
