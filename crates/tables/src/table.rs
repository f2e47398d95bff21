//! What can be done with any table, once its columns are declared?

use std::sync::Arc;

use arrow::array::{Array, ArrayRef, AsArray, RecordBatch};
use arrow::datatypes::{Float64Type, Schema, SchemaRef};

use crate::column::{Column, Kind};
use crate::domain::Measure;
use crate::encoding::Encoding;

/// The row of a table. Implemented by the macro `table!` from the declaration of the columns.
pub trait Table: Clone + Sized + 'static {
    /// Name of the table, which is the name of its folder.
    const NAME: &'static str;
    /// What one row stands for.
    const ROW: &'static str;
    /// The columns, in order. The first is `trip_id`, but in the layer of many trips.
    const COLUMNS: &'static [Column];

    /// What gives a row's value as the checks see it, in the order of the columns.
    const MEASURES: &'static [fn(&Self) -> Measure<'_>];

    /// The row's values as the checks see them, in the order of the columns.
    fn measures(&self) -> Vec<Measure<'_>> {
        Self::MEASURES.iter().map(|measure| measure(self)).collect()
    }

    /// The rows as Arrow arrays, in the order of the columns.
    fn arrays(rows: &[Self]) -> Vec<ArrayRef>;

    /// The rows of a batch, columns found by name. Columns that the table does not know are passed over, and a
    /// nullable column that the batch does not have is missing in every row: so older and newer files open.
    ///
    /// # Errors
    /// Where a column has the wrong type, a column that must be there is not, or a value that must not be
    /// missing is.
    fn from_batch(batch: &RecordBatch) -> Result<Vec<Self>, BadColumn>;

    /// The Arrow schema, with unit and description of each column as field metadata.
    fn schema() -> SchemaRef {
        Arc::new(Schema::new(Self::COLUMNS.iter().map(Column::field).collect::<Vec<_>>()))
    }

    /// The rows as an Arrow batch.
    ///
    /// # Errors
    /// Where a number is not finite, or a shape is no well-known binary: such values are not written.
    fn to_batch(rows: &[Self]) -> Result<RecordBatch, BadValue> {
        let arrays = Self::arrays(rows);
        for (column, array) in Self::COLUMNS.iter().zip(&arrays) {
            if let Some(row) = first_bad(array) {
                return Err(BadValue { table: Self::NAME, column: column.name, row });
            }
        }
        let batch = RecordBatch::try_new(Self::schema(), arrays);
        Ok(batch.unwrap_or_else(|e| unreachable!("the macro builds arrays of the schema's types: {e}")))
    }

    /// Trip of the row, `None` where it belongs to none.
    fn trip_id(&self) -> Option<&str> {
        match Self::MEASURES.first().map(|measure| measure(self)) {
            Some(Measure::Text(id)) => Some(id),
            _ => None,
        }
    }

    /// Index of the column that holds a shape.
    fn shape_column() -> Option<usize> {
        Self::COLUMNS.iter().position(|column| column.kind == Kind::Shape)
    }
}

/// The first element of a column that may not stand in a table, as [`can_be_stored`] says of single values. What is missing
/// may be missing.
fn first_bad(array: &dyn Array) -> Option<usize> {
    if let Some(numbers) = array.as_primitive_opt::<Float64Type>() {
        // what stands in the place of a missing number is zero
        numbers.values().iter().position(|x| !x.is_finite())
    } else if let Some(shapes) = array.as_binary_opt::<i32>() {
        shapes.iter().position(|shape| shape.is_some_and(|bytes| crate::wkb::shape(bytes).is_none()))
    } else {
        None
    }
}

/// Whether a value may stand in a table at all, whatever its column.
pub(crate) fn can_be_stored(measure: Measure<'_>) -> bool {
    match measure {
        Measure::Number(x) => x.is_finite(),
        Measure::Shape(bytes) => crate::wkb::shape(bytes).is_some(),
        Measure::Null | Measure::Text(_) | Measure::Free => true,
    }
}

/// A value that is not written: not a finite number, or no well-known binary.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("table {table}, column {column}, row {row}: the value is not a finite number or not a valid shape")]
pub struct BadValue {
    /// Table.
    pub table: &'static str,
    /// Column.
    pub column: &'static str,
    /// Row, from 0.
    pub row: usize,
}

/// A column of a file that is not what the table declares.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("column {column}: {fault}")]
pub struct BadColumn {
    /// Column.
    pub column: &'static str,
    /// What is wrong with it.
    pub fault: ColumnFault,
}

/// What is wrong with a column of a file.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum ColumnFault {
    /// It is not there and has no stand-in.
    #[error("is not in the file")]
    NotThere,
    /// Its type is not the declared one, or it has missing values and must not.
    #[error("is not of the declared type, or has missing values that it must not have")]
    Type,
}

/// The values of a batch's column, or what stands for it where an older file does not have it.
pub(crate) fn column_values<E: Encoding>(
    batch: &RecordBatch,
    name: &'static str,
) -> Result<Vec<E::Value>, BadColumn> {
    let bad = |fault| BadColumn { column: name, fault };
    let Some(array) = batch.column_by_name(name) else {
        let absent = E::absent().ok_or(bad(ColumnFault::NotThere))?;
        return Ok(vec![absent; batch.num_rows()]);
    };
    if *array.data_type() != E::KIND.data_type() {
        return Err(bad(ColumnFault::Type));
    }
    E::values(array.as_ref()).ok_or(bad(ColumnFault::Type))
}

/// Declares a table: its name, what a row is, and of each column the name, encoding, unit, meaning, domain
/// and, where there is one, the flag that judges it.
///
/// Makes `Row`, with one public field for each column, and its [`Table`].
macro_rules! table {
    (
        $table:literal, $row:literal;
        $( $name:ident: $encoding:ty, $unit:literal, $meaning:literal, $domain:expr $(, flag $flag:ident)?; )+
    ) => {
        use arrow::array::{ArrayRef, RecordBatch};

        use crate::column::Column;
        use crate::domain::*;
        use crate::encoding::*;
        use crate::table::{BadColumn, Table};

        #[doc = concat!("A row of the table `", $table, "`: one for each ", $row, ".")]
        #[derive(Clone, Debug, PartialEq, serde::Serialize)]
        pub struct Row {
            $( #[doc = $meaning] pub $name: <$encoding as Encoding>::Value, )+
        }

        impl Table for Row {
            const NAME: &'static str = $table;
            const ROW: &'static str = $row;
            const COLUMNS: &'static [Column] = &[ $( Column {
                name: stringify!($name),
                kind: <$encoding as Encoding>::KIND,
                unit: $unit,
                meaning: $meaning,
                domain: $domain,
                flag: $crate::table::table!(@flag $($flag)?),
                nullable: <$encoding as Encoding>::NULLABLE,
            }, )+ ];

            const MEASURES: &'static [fn(&Self) -> Measure<'_>] =
                &[ $( |row: &Self| <$encoding as Encoding>::measure(&row.$name), )+ ];

            fn arrays(rows: &[Self]) -> Vec<ArrayRef> {
                $( let mut $name = <$encoding as Encoding>::gathered(rows.len()); )+
                for rows in rows.chunks(crate::gather::ROWS_AT_ONCE) {
                    $( <$encoding as Encoding>::add(&mut $name, rows.iter().map(|row| &row.$name)); )+
                }
                vec![ $( <$encoding as Encoding>::array($name), )+ ]
            }

            fn from_batch(batch: &RecordBatch) -> Result<Vec<Self>, BadColumn> {
                let rows = batch.num_rows();
                $( let mut $name = crate::table::column_values::<$encoding>(batch, stringify!($name))?.into_iter(); )+
                Ok((0..rows).map_while(|_| Some(Self { $( $name: $name.next()?, )+ })).collect())
            }
        }
    };
    (@flag) => { None };
    (@flag $flag:ident) => { Some(stringify!($flag)) };
}
pub(crate) use table;
