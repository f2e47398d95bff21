//! How does a value of a row become an element of an Arrow array, and back?
//!
//! A table declares each column with one of these encodings; [`Maybe`] makes any of them nullable.

use std::marker::PhantomData;
use std::sync::Arc;

use arrow::array::{
    Array, ArrayRef, BinaryArray, BooleanArray, Float64Array, Int64Array, StringArray,
    TimestampMicrosecondArray, UInt8Array, UInt64Array,
};

use crate::column::Kind;
use crate::domain::Measure;

/// An encoding without regard to missing values.
pub trait Base {
    /// Rust type of a value.
    type Value: Clone + 'static;
    /// How it is stored.
    const KIND: Kind;
    /// Builds an array.
    fn build<'a>(values: impl Iterator<Item = Option<&'a Self::Value>>) -> ArrayRef;
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
    /// Builds an array.
    fn build<'a>(values: impl Iterator<Item = &'a Self::Value>) -> ArrayRef;
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
    fn build<'a>(values: impl Iterator<Item = &'a Self::Value>) -> ArrayRef {
        <B as Base>::build(values.map(Some))
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
    fn build<'a>(values: impl Iterator<Item = &'a Self::Value>) -> ArrayRef {
        <B as Base>::build(values.map(Option::as_ref))
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

/// Declares the encodings: name, Rust type, Arrow array, what is still to be said of the array, and what the
/// checks see of a value.
macro_rules! encodings {
    ($( $(#[$doc:meta])* $name:ident, $value:ty, $array:ident, $finish:expr, $measure:expr; )+) => {$(
        $(#[$doc])*
        pub enum $name {}

        impl Base for $name {
            type Value = $value;
            const KIND: Kind = Kind::$name;
            fn build<'a>(values: impl Iterator<Item = Option<&'a $value>>) -> ArrayRef {
                let finish: fn($array) -> $array = $finish;
                Arc::new(finish(values.map(|value| value.cloned()).collect()))
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
}

encodings! {
    /// Text.
    Text, String, StringArray, |array| array, |text| Measure::Text(text);
    /// Finite number.
    Float, f64, Float64Array, |array| array, |x| Measure::Number(*x);
    /// Whole number.
    Int, i64, Int64Array, |array| array, |n| Measure::Number(*n as f64);
    /// Instant, µs since 1970 UTC.
    Time, i64, TimestampMicrosecondArray, |array| array.with_timezone("UTC"), |_| Measure::Free;
    /// Flag of a standard.
    Code, u8, UInt8Array, |array| array, |code| Measure::Number(f64::from(*code));
    /// H3 cell.
    Cell, u64, UInt64Array, |array| array, |_| Measure::Free;
    /// True or false.
    Truth, bool, BooleanArray, |array| array, |_| Measure::Free;
    /// Shape as well-known binary.
    Shape, Vec<u8>, BinaryArray, |array| array, |bytes| Measure::Shape(bytes);
}
