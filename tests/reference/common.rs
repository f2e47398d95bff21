//! Reading the reference tables beside this file, and comparing with them.
//!
//! Every table is a CSV file that starts with `#` lines: what it is, its source and version, how it was
//! computed, units, tolerance and traps. An empty field is a missing value.

#![allow(dead_code, reason = "each reference check uses its own part of this module")]

use std::collections::HashMap;
use std::path::Path;

/// One row of a reference table, by column name.
pub struct Row(HashMap<String, String>);

impl Row {
    /// The text of a column; panics where the table has no such column.
    pub fn text(&self, column: &str) -> &str {
        self.0.get(column).unwrap_or_else(|| panic!("the table has no column {column}"))
    }

    /// The number in a column, `None` where it is empty.
    pub fn number(&self, column: &str) -> Option<f64> {
        let text = self.text(column);
        (!text.is_empty()).then(|| text.parse().unwrap_or_else(|_| panic!("{column}: {text} is no number")))
    }

    /// The number in a column that must not be empty.
    pub fn must(&self, column: &str) -> f64 {
        self.number(column).unwrap_or_else(|| panic!("{column} is empty"))
    }
}

/// Every row of `tests/reference/NAME`. Fails where there is none: an empty table would check nothing.
pub fn table(name: &str) -> Vec<Row> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tests/reference").join(name);
    let text = std::fs::read_to_string(&path).unwrap_or_else(|e| panic!("{}: {e}", path.display()));
    let body: String = text.lines().filter(|l| !l.starts_with('#')).flat_map(|l| [l, "\n"]).collect();
    let mut reader = csv::ReaderBuilder::new().from_reader(body.as_bytes());
    let headers = reader.headers().expect("a header row").clone();
    let rows: Vec<Row> = reader
        .records()
        .map(|record| {
            let record = record.expect("a readable row");
            Row(headers.iter().map(str::to_owned).zip(record.iter().map(str::to_owned)).collect())
        })
        .collect();
    assert!(!rows.is_empty(), "{name} has no rows");
    rows
}

/// Fails with the name of the case when two values differ by more than `within`.
pub fn close(case: &str, got: f64, want: f64, within: f64) {
    assert!((got - want).abs() <= within, "{case}: got {got}, the reference says {want}, allowed {within}");
}
