//! How does a table become the bytes of a Parquet file, and rows again?
//!
//! The same rows give the same bytes: no clock, no thread order and no hash order reaches the file, and the
//! writer's settings are all named here.

use std::fs::File;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::Path;

use arrow::array::{Array, ArrayRef, AsArray, RecordBatch, new_null_array};
use arrow::datatypes::{DataType, Float64Type, SchemaRef};
use parquet::arrow::ArrowWriter;
use parquet::arrow::arrow_reader::{ArrowReaderOptions, ParquetRecordBatchReaderBuilder};
use parquet::arrow::arrow_writer::ArrowWriterOptions;
use parquet::basic::{Compression, Encoding, ZstdLevel};
use parquet::file::metadata::KeyValue;
use parquet::file::properties::{EnabledStatistics, WriterProperties, WriterPropertiesBuilder};
use parquet::schema::types::ColumnPath;

use crate::error::Error;
use crate::format::FORMAT_VERSION;
use crate::geo;
use crate::table::{BadColumn, BadValue, ColumnFault, Table};

/// The rows as a Parquet file.
///
/// # Errors
/// Where a value cannot be stored ([`Table::to_batch`]).
pub(crate) fn bytes<R: Table>(rows: &[R]) -> Result<Vec<u8>, BadValue> {
    let batch = R::to_batch(rows)?;
    let properties = packed(builder::<R>(geo::metadata(rows), Vec::new()), &batch).build();
    // the names, types and what may be missing are Parquet's own; units and meanings stand in `schemas/` and in every
    // file that leaves the logbook: in each of a trip's files they would be a fifth of the logbook
    let options = ArrowWriterOptions::new().with_properties(properties).with_skip_arrow_metadata(true);
    Ok(written(&batch, options))
}

/// The rows as a Parquet file for others, with words in its metadata under the key `waterseam:mind`. Rows with a shape make
/// it GeoParquet 1.1.
///
/// # Errors
/// Where a value cannot be stored ([`Table::to_batch`]).
pub fn geoparquet<R: Table>(rows: &[R], mind: &str) -> Result<Vec<u8>, BadValue> {
    let mind = KeyValue::new("waterseam:mind".to_owned(), mind.to_owned());
    let properties = builder::<R>(geo::metadata(rows), vec![mind]).build();
    Ok(written(&R::to_batch(rows)?, ArrowWriterOptions::new().with_properties(properties)))
}

fn written(batch: &RecordBatch, options: ArrowWriterOptions) -> Vec<u8> {
    let written =
        ArrowWriter::try_new_with_options(Vec::new(), batch.schema(), options).and_then(|mut writer| {
            writer.write(batch)?;
            writer.into_inner()
        });
    written.unwrap_or_else(|e| unreachable!("a batch of the schema's types, written to memory: {e}"))
}

/// Rows of a table so small that a dictionary, or a compressor's own words, would be larger than its values.
const FEW_ROWS: usize = 24;
/// Rows of a table that takes longer to get a strong compressor ready than to be compressed.
const SOME_ROWS: usize = 400;
/// Rows that are looked at to see whether values come again.
const LOOKED_AT: usize = 1024;

/// Encodings by what the values are like. A trip's file is read whole, so that an index of its pages would never be used.
fn packed(builder: WriterPropertiesBuilder, batch: &RecordBatch) -> WriterPropertiesBuilder {
    let mut builder = builder
        .set_statistics_enabled(EnabledStatistics::Chunk)
        .set_offset_index_disabled(true)
        .set_dictionary_enabled(batch.num_rows() > FEW_ROWS);
    if batch.num_rows() <= SOME_ROWS {
        builder = builder.set_compression(Compression::SNAPPY);
    }
    if batch.num_rows() <= FEW_ROWS {
        return builder;
    }
    for (field, array) in batch.schema().fields().iter().zip(batch.columns()) {
        let path = ColumnPath::from(field.name().as_str());
        let encoding = match field.data_type() {
            // of flags in a row that are alike the differences are nothing
            DataType::Timestamp(..) | DataType::UInt8 => Encoding::DELTA_BINARY_PACKED,
            DataType::Float64 if comes_in_runs(array) => Encoding::PLAIN,
            DataType::Float64 if hardly_repeats(array) => Encoding::BYTE_STREAM_SPLIT,
            _ => continue,
        };
        builder =
            builder.set_column_dictionary_enabled(path.clone(), false).set_column_encoding(path, encoding);
    }
    builder
}

/// Whether a quarter of a column's values are those of the row before, by a look at some of them: what a compressor makes of
/// them is as small as it is of a dictionary's indices, and sooner made.
fn comes_in_runs(array: &dyn Array) -> bool {
    let Some(values) = array.as_primitive_opt::<Float64Type>() else { return false };
    let stride = values.len().div_ceil(LOOKED_AT).max(1);
    let (mut looked_at, mut alike) = (0, 0);
    for pair in values.values().windows(2).step_by(stride) {
        looked_at += 1;
        alike += usize::from(pair[0].to_bits() == pair[1].to_bits());
    }
    4 * alike > looked_at
}

/// Whether most values of a column are there once, by a look at some of them.
fn hardly_repeats(array: &dyn Array) -> bool {
    let Some(values) = array.as_primitive_opt::<Float64Type>() else { return false };
    let stride = values.len().div_ceil(LOOKED_AT).max(1);
    let mut seen: Vec<u64> = values.iter().step_by(stride).flatten().map(f64::to_bits).collect();
    let n = seen.len();
    seen.sort_unstable();
    seen.dedup();
    4 * seen.len() > 3 * n
}

/// What every file of a table has, with the value of its key `geo` where it has shapes, and what more is said in it.
pub(crate) fn builder<R: Table>(geo: Option<String>, more: Vec<KeyValue>) -> WriterPropertiesBuilder {
    let mut metadata = vec![
        KeyValue::new("waterseam:table".to_owned(), R::NAME.to_owned()),
        KeyValue::new("waterseam:format_version".to_owned(), FORMAT_VERSION.to_string()),
    ];
    metadata.extend(more);
    if let Some(geo) = geo {
        metadata.push(KeyValue::new(geo::KEY.to_owned(), geo));
    }
    WriterProperties::builder()
        .set_created_by(concat!("waterseam version ", env!("CARGO_PKG_VERSION")).to_owned())
        .set_compression(Compression::ZSTD(ZstdLevel::default()))
        .set_key_value_metadata(Some(metadata))
}

/// The rows of a Parquet file.
///
/// # Errors
/// Where the file cannot be opened, is no whole Parquet file, or a column is not what the table declares.
pub(crate) fn rows<R: Table>(path: &Path) -> Result<Vec<R>, Error> {
    decode(path, |reader| {
        let mut rows = Vec::new();
        for batch in reader.build().map_err(|e| e.to_string())? {
            let batch = batch.map_err(|e| e.to_string())?;
            rows.extend(R::from_batch(&batch).map_err(|e| e.to_string())?);
        }
        Ok(rows)
    })
}

/// The rows of a Parquet file as Arrow batches of the table's own schema: a nullable column that the file does not
/// have is missing in every row, and columns that the table does not know are left out.
///
/// # Errors
/// As [`rows`].
pub(crate) fn batches<R: Table>(path: &Path) -> Result<Vec<RecordBatch>, Error> {
    decode(path, |reader| {
        let reader = reader.with_batch_size(ROWS_A_BATCH).build().map_err(|e| e.to_string())?;
        reader.map(|batch| conform::<R>(&batch.map_err(|e| e.to_string())?)).collect()
    })
}

/// Large enough that a minute or second of work a batch does not count, small against a file of the pool.
const ROWS_A_BATCH: usize = 1 << 16;

fn conform<R: Table>(batch: &RecordBatch) -> Result<RecordBatch, String> {
    let arrays = R::COLUMNS.iter().map(|column| {
        let Some(array) = batch.column_by_name(column.name) else {
            let stand_in = || new_null_array(&column.kind.data_type(), batch.num_rows());
            return column
                .nullable
                .then(stand_in)
                .ok_or(BadColumn { column: column.name, fault: ColumnFault::NotThere });
        };
        let good =
            *array.data_type() == column.kind.data_type() && (column.nullable || array.null_count() == 0);
        good.then(|| array.clone()).ok_or(BadColumn { column: column.name, fault: ColumnFault::Type })
    });
    let arrays: Result<Vec<ArrayRef>, BadColumn> = arrays.collect();
    RecordBatch::try_new(R::schema(), arrays.map_err(|e| e.to_string())?).map_err(|e| e.to_string())
}

/// The rows of a Parquet file as they stand in it.
///
/// # Errors
/// Where the file cannot be opened or is no whole Parquet file.
pub(crate) fn plain_batches(path: &Path) -> Result<Vec<RecordBatch>, Error> {
    decode(path, |reader| {
        let reader = reader.with_batch_size(ROWS_A_BATCH).build().map_err(|e| e.to_string())?;
        reader.map(|batch| batch.map_err(|e| e.to_string())).collect()
    })
}

/// The Arrow schema of a Parquet file.
///
/// # Errors
/// Where the file cannot be opened or its footer is no footer.
pub(crate) fn schema(path: &Path) -> Result<SchemaRef, Error> {
    decode(path, |reader| Ok(reader.schema().clone()))
}

type Reader = ParquetRecordBatchReaderBuilder<File>;

/// Opens a file and decodes it. What is wrong with its content is an error that names the file.
///
/// The decoders of the library panic on some damaged files; that ends the reading of this file and no more. The
/// Arrow schema inside the file is passed over: the types follow from Parquet's own.
fn decode<T>(path: &Path, read: impl FnOnce(Reader) -> Result<T, String>) -> Result<T, Error> {
    let file = File::open(path).map_err(Error::io(path, "open"))?;
    let options = ArrowReaderOptions::new().with_skip_arrow_metadata(true);
    guarded(path, || read(Reader::try_new_with_options(file, options).map_err(|e| e.to_string())?))
}

/// Runs a decoder on the content of a file, as [`decode`] says.
pub(crate) fn guarded<T>(path: &Path, read: impl FnOnce() -> Result<T, String>) -> Result<T, Error> {
    let decoded = catch_unwind(AssertUnwindSafe(read));
    let decoded = decoded.unwrap_or_else(|_| Err("its content cannot be decoded".to_owned()));
    decoded.map_err(|cause| Error::Damaged { path: path.to_owned(), cause })
}
