//! How do the values of a column come together, some rows at a time?

use arrow::array::{
    Array, ArrowPrimitiveType, BinaryArray, BinaryBuilder, BooleanArray, BooleanBuilder, PrimitiveArray,
    StringArray, StringBuilder,
};
use arrow::buffer::{BooleanBuffer, Buffer, NullBuffer};

use crate::shared::Shared;

/// Rows that are taken apart at once: few enough to stay near the processor while each column takes its values of them.
pub(crate) const ROWS_AT_ONCE: usize = u64::BITS as usize;

/// The values of a column so far.
pub trait Gather<V> {
    /// The array that they become.
    type Array: Array + 'static;
    /// None yet, with room for those of so many rows.
    fn with_capacity(rows: usize) -> Self;
    /// Adds the values of at most [`ROWS_AT_ONCE`] rows, of which only the last may be fewer.
    fn add<'a>(&mut self, values: impl Iterator<Item = Option<&'a V>>)
    where
        V: 'a;
    /// All of them.
    fn array(self) -> Self::Array;
}

/// Numbers, and of each block of rows which of them are there.
pub struct Numbers<A: ArrowPrimitiveType> {
    values: Vec<A::Native>,
    are_there: Vec<u64>,
}

impl<A: ArrowPrimitiveType> Gather<A::Native> for Numbers<A> {
    type Array = PrimitiveArray<A>;

    fn with_capacity(rows: usize) -> Self {
        let blocks = rows.div_ceil(ROWS_AT_ONCE);
        Self { values: Vec::with_capacity(rows), are_there: Vec::with_capacity(blocks) }
    }

    fn add<'a>(&mut self, values: impl Iterator<Item = Option<&'a A::Native>>) {
        let mut are_there = 0;
        self.values.extend(values.enumerate().map(|(row, value)| {
            are_there |= u64::from(value.is_some()) << row;
            value.copied().unwrap_or_default()
        }));
        self.are_there.push(are_there);
    }

    fn array(self) -> PrimitiveArray<A> {
        let n = self.values.len();
        let are_there = BooleanBuffer::new(Buffer::from_vec(self.are_there), 0, n);
        let nulls = NullBuffer::new(are_there);
        PrimitiveArray::new(self.values.into(), Some(nulls).filter(|nulls| nulls.null_count() > 0))
    }
}

/// Length of the id of a trip, which most text is.
const ID_BYTES: usize = "20260614T071203Z".len();

/// Declares that one of the library's builders takes values one by one.
macro_rules! one_by_one {
    ($( $value:ty, $builder:ident($($length:expr)?), $array:ident, $by:expr; )+) => {$(
        impl Gather<$value> for $builder {
            type Array = $array;

            fn with_capacity(rows: usize) -> Self {
                Self::with_capacity(rows $(, $length * rows)?)
            }

            fn add<'a>(&mut self, values: impl Iterator<Item = Option<&'a $value>>) {
                values.for_each(|value| self.append_option(value.map($by)));
            }

            fn array(mut self) -> $array {
                self.finish()
            }
        }
    )+};
}

one_by_one! {
    String, StringBuilder(ID_BYTES), StringArray, String::as_str;
    Shared, StringBuilder(ID_BYTES), StringArray, |text: &Shared| &**text;
    Vec<u8>, BinaryBuilder(ID_BYTES), BinaryArray, Vec::as_slice;
    bool, BooleanBuilder(), BooleanArray, |is: &bool| *is;
}

#[cfg(test)]
mod tests {
    use arrow::array::Float64Array;
    use arrow::datatypes::Float64Type;
    use proptest::prelude::*;

    use super::*;

    proptest! {
        #[test]
        fn numbers_are_those_that_were_added(
            values in prop::collection::vec(prop::option::weighted(0.9, -9.0..9.0_f64), 0..300),
        ) {
            let mut numbers = Numbers::<Float64Type>::with_capacity(values.len());
            for values in values.chunks(ROWS_AT_ONCE) {
                numbers.add(values.iter().map(Option::as_ref));
            }
            prop_assert_eq!(numbers.array(), Float64Array::from(values));
        }
    }
}
