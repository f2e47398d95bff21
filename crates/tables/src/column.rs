//! What is declared of a column, once, for every use?
//!
//! The Arrow field with its metadata, the range check and the page in `schemas/` all follow from [`Column`].

use std::collections::HashMap;
use std::sync::Arc;

use arrow::datatypes::{DataType, Field, TimeUnit};

use crate::domain::Domain;

/// One column of a table.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Column {
    /// Name; the unit is its last word where it has one.
    pub name: &'static str,
    /// How its values are stored.
    pub kind: Kind,
    /// Unit, empty where the values have none.
    pub unit: &'static str,
    /// What a value says.
    pub meaning: &'static str,
    /// Values that it may have.
    pub domain: Domain,
    /// The `_qc` column that judges it; a value flagged 4 (fail) is kept as it was read, whatever its range.
    pub flag: Option<&'static str>,
    /// Whether a value may be missing.
    pub nullable: bool,
}

/// How values are stored.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// UTF-8 text.
    Text,
    /// 64-bit floating point, always finite.
    Float,
    /// Signed 64-bit integer.
    Int,
    /// Microseconds since 1970-01-01T00:00:00 UTC.
    Time,
    /// Unsigned byte: a flag of a standard.
    Code,
    /// Unsigned 64-bit integer: an H3 cell.
    Cell,
    /// True or false.
    Truth,
    /// Shape as well-known binary (OGC 06-103r4), longitude before latitude, OGC:CRS84.
    Shape,
}

impl Kind {
    /// The Arrow type.
    pub fn data_type(self) -> DataType {
        match self {
            Self::Text => DataType::Utf8,
            Self::Float => DataType::Float64,
            Self::Int => DataType::Int64,
            Self::Time => DataType::Timestamp(TimeUnit::Microsecond, Some(Arc::from("UTC"))),
            Self::Code => DataType::UInt8,
            Self::Cell => DataType::UInt64,
            Self::Truth => DataType::Boolean,
            Self::Shape => DataType::Binary,
        }
    }

    /// Name of the Arrow type, as the Arrow libraries print it.
    pub fn type_name(self) -> &'static str {
        match self {
            Self::Text => "string",
            Self::Float => "double",
            Self::Int => "int64",
            Self::Time => "timestamp[us, tz=UTC]",
            Self::Code => "uint8",
            Self::Cell => "uint64",
            Self::Truth => "bool",
            Self::Shape => "binary",
        }
    }
}

impl Column {
    /// The Arrow field, with `description` and, where it has one, `unit` as metadata.
    pub fn field(&self) -> Field {
        let mut metadata = HashMap::from([("description".to_owned(), self.meaning.to_owned())]);
        if !self.unit.is_empty() {
            metadata.insert("unit".to_owned(), self.unit.to_owned());
        }
        Field::new(self.name, self.kind.data_type(), self.nullable).with_metadata(metadata)
    }
}
