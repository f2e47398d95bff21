//! What does a row of a table say, value by value, where the file is no Parquet?

use serde::Serialize;
use serde_json::Value;
use waterseam_tables::{Column, Kind, Table};
use waterseam_units::time::timestamp;

/// The columns of a row with their values, in the order of the table; shapes are left out. Times are RFC 3339 in UTC, cells
/// are written as H3 writes them: most programs round whole numbers of 64 bits.
pub(crate) fn fields<R: Table + Serialize>(row: &R) -> Vec<(&'static Column, Value)> {
    let mut values = serde_json::to_value(row).unwrap_or_default();
    let columns = R::COLUMNS.iter().filter(|column| column.kind != Kind::Shape);
    columns.map(|column| (column, shown(column.kind, values[column.name].take()))).collect()
}

fn shown(kind: Kind, value: Value) -> Value {
    match (kind, value.as_i64(), value.as_u64()) {
        (Kind::Time, Some(time_us), _) => timestamp(time_us).to_string().into(),
        (Kind::Cell, _, Some(cell)) => format!("{cell:x}").into(),
        _ => value,
    }
}
