//! What is the contract of a table, in a form that other programs can read?

use serde::Serialize;

use crate::column::Column;
use crate::domain::Domain;
use crate::table::Table;

/// Name, meaning and columns of a table.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TableSchema {
    /// Name of the table.
    pub name: &'static str,
    /// What one row stands for.
    pub row: &'static str,
    /// The columns, in order.
    pub columns: &'static [Column],
}

impl TableSchema {
    /// The schema of a table.
    pub const fn of<R: Table>() -> Self {
        Self { name: R::NAME, row: R::ROW, columns: R::COLUMNS }
    }

    /// The page in `schemas/`: JSON with the table's name, what a row is, and of each column its name, Arrow
    /// type, unit, whether it may be missing, meaning, range or list of values, and the flag that judges it.
    pub fn page(&self) -> String {
        let columns = self.columns.iter().map(ColumnPage::of).collect();
        let page = Page { table: self.name, one_row_for_each: self.row, columns };
        let text = serde_json::to_string_pretty(&page);
        text.unwrap_or_else(|e| unreachable!("words and finite numbers can be written as JSON: {e}")) + "\n"
    }
}

#[derive(Serialize)]
struct Page {
    table: &'static str,
    one_row_for_each: &'static str,
    columns: Vec<ColumnPage>,
}

#[derive(Serialize)]
struct ColumnPage {
    name: &'static str,
    r#type: &'static str,
    unit: Option<&'static str>,
    nullable: bool,
    meaning: &'static str,
    min: Option<f64>,
    max: Option<f64>,
    one_of: Option<OneOf>,
    judged_by: Option<&'static str>,
}

#[derive(Serialize)]
#[serde(untagged)]
enum OneOf {
    Words(&'static [&'static str]),
    Codes(&'static [u8]),
}

impl ColumnPage {
    fn of(column: &Column) -> Self {
        let (min, max, one_of) = match column.domain {
            Domain::Any => (None, None, None),
            Domain::Range { min, max } => (min, max, None),
            Domain::Words(words) => (None, None, Some(OneOf::Words(words))),
            Domain::Codes(codes) => (None, None, Some(OneOf::Codes(codes))),
        };
        Self {
            name: column.name,
            r#type: column.kind.type_name(),
            unit: (!column.unit.is_empty()).then_some(column.unit),
            nullable: column.nullable,
            meaning: column.meaning,
            min,
            max,
            one_of,
            judged_by: column.flag,
        }
    }
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;
    use std::path::{Path, PathBuf};

    use crate::column::Kind;
    use crate::{HOTSPOTS, SCHEMAS, TableSchema};

    fn every() -> impl Iterator<Item = &'static TableSchema> {
        SCHEMAS.iter().chain([&HOTSPOTS])
    }

    fn folder() -> PathBuf {
        Path::new(env!("CARGO_MANIFEST_DIR")).join("../../schemas")
    }

    /// The pages in `schemas/` are what the code declares. After a change of a column, write them anew with
    /// `WATERSEAM_WRITE_SCHEMAS=1 cargo test -p waterseam-tables schemas`.
    #[test]
    fn schemas_are_those_of_the_code() {
        if std::env::var_os("WATERSEAM_WRITE_SCHEMAS").is_some() {
            for schema in every() {
                std::fs::write(folder().join(format!("{}.json", schema.name)), schema.page()).unwrap();
            }
        }
        for schema in every() {
            let page =
                std::fs::read_to_string(folder().join(format!("{}.json", schema.name))).unwrap_or_default();
            assert_eq!(page, schema.page(), "schemas/{}.json is not what the code declares", schema.name);
        }
        let declared: BTreeSet<String> = every().map(|schema| format!("{}.json", schema.name)).collect();
        let written = std::fs::read_dir(folder())
            .unwrap()
            .map(|e| e.unwrap().file_name().into_string().unwrap())
            .collect();
        assert_eq!(declared, written, "a page without a table, or a table without a page");
    }

    #[test]
    fn every_column_follows_the_conventions() {
        assert!(SCHEMAS.iter().all(|schema| schema.columns[0].name == "trip_id"));
        for schema in every() {
            let names: BTreeSet<_> = schema.columns.iter().map(|c| c.name).collect();
            assert_eq!(names.len(), schema.columns.len(), "{}: a name comes twice", schema.name);
            for column in schema.columns {
                let name = format!("{}.{}", schema.name, column.name);
                assert!(column.meaning.ends_with('.'), "{name}: no sentence");
                assert_eq!(
                    column.name.ends_with("_qc"),
                    column.kind == Kind::Code && column.name != "resolution",
                    "{name}: flags end in _qc"
                );
                assert!(column.flag.is_none_or(|flag| names.contains(flag)), "{name}: judged by no column");
                let suffix = [
                    ("_mps", "m/s"),
                    ("_per_s", "1/s"),
                    ("_per_km", "°C/km"),
                    ("_per_m", "°C/m"),
                    ("_s", "s"),
                    ("_c", "°C"),
                    ("_m", "m"),
                    ("_deg", "degree"),
                    ("_kg", "kg"),
                ]
                .into_iter()
                .find(|(suffix, _)| column.kind == Kind::Float && column.name.ends_with(suffix));
                if let Some((_, unit)) = suffix {
                    assert_eq!(column.unit, unit, "{name}: the name says another unit");
                }
            }
        }
    }
}
