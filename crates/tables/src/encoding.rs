//! How does a value of a row become an element of an Arrow array, and back?
//!
//! A table declares each column with one of these encodings; [`Maybe`] makes any of them nullable.

use std::marker::PhantomData;
use std::sync::Arc;

use arrow::array::{
    Array, ArrayRef, BinaryArray, BinaryBuilder, BooleanArray, BooleanBuilder, Float64Array, Int64Array,
    StringArray, StringBuilder, TimestampMicrosecondArray, UInt8Array, UInt64Array,
};
use arrow::datatypes::{Float64Type, Int64Type, TimestampMicrosecondType, UInt8Type, UInt64Type};

use crate::column::Kind;
use crate::domain::Measure;
use crate::gather::{Gather, Numbers};
use crate::shared::Shared;

/// An encoding without regard to missing values.
pub trait Base {
    /// Rust type of a value.
    type Value: Clone + 'static;
    /// How it is stored.
    const KIND: Kind;
    /// Takes the values of a column.
    type Gathered: Gather<Self::Value>;
    /// The array of them.
    fn array(gathered: Self::Gathered) -> ArrayRef;
    /// Takes an array apart; `None` where it is of another type.
    fn values(array: &dyn Array) -> Option<Vec<Option<Self::Value>>>;
    /// The value as the checks see it.
    fn measure(value: &Self::Value) -> Measure<'_>;
}

/// A column's encoding.
pub trait Encoding {
    /// Rust type of the row's field.
    type Value: Clone + 'static;
    /// How it is stored.
    const KIND: Kind;
    /// Whether a value may be missing.
    const NULLABLE: bool;
    /// Takes the values of a column.
    type Gathered;
    /// Where the values of so many rows will find room.
    fn gathered(rows: usize) -> Self::Gathered;
    /// Adds the values of [`ROWS_AT_ONCE`](crate::gather::ROWS_AT_ONCE) rows, or of the last ones.
    fn add<'a>(gathered: &mut Self::Gathered, values: impl Iterator<Item = &'a Self::Value>);
    /// The array of them.
    fn array(gathered: Self::Gathered) -> ArrayRef;
    /// Takes an array apart; `None` where it is of another type, or has a missing value that may not be.
    fn values(array: &dyn Array) -> Option<Vec<Self::Value>>;
    /// The value that stands for a column which an older file does not have; `None` where nothing can.
    fn absent() -> Option<Self::Value>;
    /// The value as the checks see it.
    fn measure(value: &Self::Value) -> Measure<'_>;
}

/// Encoding of values that may be missing.
pub struct Maybe<B: Base>(PhantomData<B>);

impl<B: Base> Encoding for B {
    type Value = B::Value;
    const KIND: Kind = B::KIND;
    const NULLABLE: bool = false;
    type Gathered = B::Gathered;
    fn gathered(rows: usize) -> Self::Gathered {
        B::Gathered::with_capacity(rows)
    }
    fn add<'a>(gathered: &mut Self::Gathered, values: impl Iterator<Item = &'a Self::Value>) {
        gathered.add(values.map(Some));
    }
    fn array(gathered: Self::Gathered) -> ArrayRef {
        <B as Base>::array(gathered)
    }
    fn values(array: &dyn Array) -> Option<Vec<Self::Value>> {
        <B as Base>::values(array)?.into_iter().collect()
    }
    fn absent() -> Option<Self::Value> {
        None
    }
    fn measure(value: &Self::Value) -> Measure<'_> {
        <B as Base>::measure(value)
    }
}

impl<B: Base> Encoding for Maybe<B> {
    type Value = Option<B::Value>;
    const KIND: Kind = B::KIND;
    const NULLABLE: bool = true;
    type Gathered = B::Gathered;
    fn gathered(rows: usize) -> Self::Gathered {
        B::Gathered::with_capacity(rows)
    }
    fn add<'a>(gathered: &mut Self::Gathered, values: impl Iterator<Item = &'a Self::Value>) {
        gathered.add(values.map(Option::as_ref));
    }
    fn array(gathered: Self::Gathered) -> ArrayRef {
        <B as Base>::array(gathered)
    }
    fn values(array: &dyn Array) -> Option<Vec<Self::Value>> {
        <B as Base>::values(array)
    }
    fn absent() -> Option<Self::Value> {
        Some(None)
    }
    fn measure(value: &Self::Value) -> Measure<'_> {
        value.as_ref().map_or(Measure::Null, |value| <B as Base>::measure(value))
    }
}

/// Declares the encodings: name, Rust type, Arrow array, what takes the values, what is still to be said of the array, and
/// what the checks see of a value.
macro_rules! encodings {
    ($( $(#[$doc:meta])* $name:ident $(of $kind:ident)?, $value:ty, $array:ident, $gathered:ty, $finish:expr, $measure:expr; )+) => {$(
        $(#[$doc])*
        pub enum $name {}

        impl Base for $name {
            type Value = $value;
            const KIND: Kind = encodings!(@kind $name $($kind)?);
            type Gathered = $gathered;
            fn array(gathered: $gathered) -> ArrayRef {
                let finish: fn($array) -> $array = $finish;
                Arc::new(finish(Gather::<$value>::array(gathered)))
            }
            fn values(array: &dyn Array) -> Option<Vec<Option<$value>>> {
                let array = array.as_any().downcast_ref::<$array>()?;
                Some(array.iter().map(|value| value.map(Into::into)).collect())
            }
            fn measure(value: &$value) -> Measure<'_> {
                let measure: fn(&$value) -> Measure<'_> = $measure;
                measure(value)
            }
        }
    )+};
    (@kind $name:ident) => { Kind::$name };
    (@kind $name:ident $kind:ident) => { Kind::$kind };
}

encodings! {
    /// Text.
    Text, String, StringArray, StringBuilder, |array| array, |text| Measure::Text(text);
    /// Text that many rows share.
    Word of Text, Shared, StringArray, StringBuilder, |array| array, |text| Measure::Text(text);
    /// Finite number.
    Float, f64, Float64Array, Numbers<Float64Type>, |array| array, |x| Measure::Number(*x);
    /// Whole number.
    Int, i64, Int64Array, Numbers<Int64Type>, |array| array, |n| Measure::Number(*n as f64);
    /// Instant, µs since 1970 UTC.
    Time, i64, TimestampMicrosecondArray, Numbers<TimestampMicrosecondType>,
    |array| array.with_timezone("UTC"), |_| Measure::Free;
    /// Flag of a standard.
    Code, u8, UInt8Array, Numbers<UInt8Type>, |array| array, |code| Measure::Number(f64::from(*code));
    /// H3 cell.
    Cell, u64, UInt64Array, Numbers<UInt64Type>, |array| array, |_| Measure::Free;
    /// True or false.
    Truth, bool, BooleanArray, BooleanBuilder, |array| array, |_| Measure::Free;
    /// Shape as well-known binary.
    Shape, Vec<u8>, BinaryArray, BinaryBuilder, |array| array, |bytes| Measure::Shape(bytes);
}
