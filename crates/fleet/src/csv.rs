//! How is an answer written for other programs? As CSV (RFC 4180): a heading, then a line for each row; what is missing
//! is empty, and numbers have as many digits as tell them apart.

use datafusion::arrow::array::RecordBatch;
use datafusion::arrow::error::ArrowError;
use datafusion::arrow::util::display::{ArrayFormatter, FormatOptions};

/// The rows as text.
///
/// # Errors
/// Where a column is of a kind that cannot be written.
pub fn text(batches: &[RecordBatch]) -> Result<String, ArrowError> {
    let mut text = String::new();
    if let Some(first) = batches.first() {
        let names: Vec<String> = first.schema().fields().iter().map(|field| field.name().clone()).collect();
        line(&mut text, names.into_iter());
    }
    let options = FormatOptions::default();
    for batch in batches {
        let columns: Result<Vec<_>, _> =
            batch.columns().iter().map(|column| ArrayFormatter::try_new(column.as_ref(), &options)).collect();
        let columns = columns?;
        for row in 0..batch.num_rows() {
            line(&mut text, columns.iter().map(|column| column.value(row).to_string()));
        }
    }
    Ok(text)
}

fn line(text: &mut String, values: impl Iterator<Item = String>) {
    for (n, value) in values.enumerate() {
        if n > 0 {
            text.push(',');
        }
        if value.contains([',', '"', '\n', '\r']) {
            text.push('"');
            text.push_str(&value.replace('"', "\"\""));
            text.push('"');
        } else {
            text.push_str(&value);
        }
    }
    text.push('\n');
}
