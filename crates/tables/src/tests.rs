//! Do rows survive the way to a file and back, whatever they hold?

use std::convert::Infallible;
use std::sync::Arc;

use arrow::array::{
    ArrayRef, BinaryArray, BooleanArray, Float64Array, Int64Array, RecordBatch, StringArray,
    TimestampMicrosecondArray, UInt8Array, UInt64Array,
};
use arrow::datatypes::Schema;
use proptest::prelude::*;
use tempfile::TempDir;
use waterseam_units::LatLon;

use crate::column::{Column, Kind};
use crate::file;
use crate::table::Table;
use crate::trip::{Rows, TripTables};
use crate::wkb;

/// Numbers that a generator draws: splitmix64 (Steele, Lea & Flood 2014, from memory) from proptest's seed.
struct Draws(u64);

impl Draws {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    fn float(&mut self) -> f64 {
        let bits = self.next();
        let any = f64::from_bits(bits);
        if any.is_finite() { any } else { bits as f64 }
    }

    fn text(&mut self) -> String {
        let n = self.next() % 12;
        (0..n).filter_map(|_| char::from_u32((self.next() % 0x3000) as u32)).collect()
    }

    fn line(&mut self) -> Vec<u8> {
        let n = 2 + self.next() % 5;
        let mut degrees = |half: f64| (self.next() as f64 / u64::MAX as f64).mul_add(2.0, -1.0) * half;
        let vertices: Vec<_> =
            (0..n).map(|_| LatLon { lat_deg: degrees(90.0), lon_deg: degrees(180.0) }).collect();
        wkb::line(&vertices)
    }

    fn column(&mut self, column: &Column, rows: usize) -> ArrayRef {
        fn values<T>(
            draws: &mut Draws,
            column: &Column,
            rows: usize,
            value: fn(&mut Draws) -> T,
        ) -> Vec<Option<T>> {
            (0..rows)
                .map(|_| (!column.nullable || !draws.next().is_multiple_of(4)).then(|| value(draws)))
                .collect()
        }
        match column.kind {
            Kind::Text => Arc::new(StringArray::from_iter(values(self, column, rows, Self::text))),
            Kind::Float => Arc::new(Float64Array::from_iter(values(self, column, rows, Self::float))),
            Kind::Int => Arc::new(Int64Array::from_iter(values(self, column, rows, |d| d.next() as i64))),
            Kind::Time => {
                let times = values(self, column, rows, |d| d.next() as i64);
                Arc::new(TimestampMicrosecondArray::from_iter(times).with_timezone("UTC"))
            }
            Kind::Code => Arc::new(UInt8Array::from_iter(values(self, column, rows, |d| d.next() as u8))),
            Kind::Cell => Arc::new(UInt64Array::from_iter(values(self, column, rows, Self::next))),
            Kind::Truth => {
                Arc::new(BooleanArray::from_iter(values(self, column, rows, |d| d.next().is_multiple_of(2))))
            }
            Kind::Shape => Arc::new(BinaryArray::from_iter(values(self, column, rows, Self::line))),
        }
    }
}

/// Draws rows for every table and sends them through batch, bytes and file.
struct RoundTrip {
    draws: Draws,
    rows: usize,
    folder: TempDir,
}

impl Rows for RoundTrip {
    type Error = Infallible;

    fn rows<R: Table>(&mut self) -> Result<Vec<R>, Infallible> {
        let columns = R::COLUMNS.iter().map(|column| self.draws.column(column, self.rows)).collect();
        // an independent batch: each column is built from its declaration alone, so a swapped column would show
        let batch = RecordBatch::try_new(R::schema(), columns).unwrap();
        let rows = R::from_batch(&batch).unwrap();
        assert_eq!(R::to_batch(&rows).unwrap(), batch, "{}: rows and batch", R::NAME);

        let bytes = file::bytes(&rows).unwrap();
        assert_eq!(file::bytes(&rows).unwrap(), bytes, "{}: the same rows, other bytes", R::NAME);
        let path = self.folder.path().join(R::NAME);
        std::fs::write(&path, bytes).unwrap();
        let read = file::rows::<R>(&path).unwrap();
        assert_eq!(R::to_batch(&read).unwrap(), batch, "{}: rows and file", R::NAME);
        check_schema(&file::schema(&path).unwrap(), R::COLUMNS);
        Ok(rows)
    }
}

/// The types of a file without regard to the Arrow schema inside: what any other engine sees.
fn check_schema(schema: &Schema, columns: &[Column]) {
    assert_eq!(schema.fields().len(), columns.len());
    for (field, column) in schema.fields().iter().zip(columns) {
        assert_eq!(field.name(), column.name);
        assert_eq!(*field.data_type(), column.kind.data_type(), "{}", column.name);
        assert_eq!(field.is_nullable(), column.nullable, "{}", column.name);
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(40))]
    #[test]
    fn every_table_goes_there_and_back(seed: u64, rows in 0_usize..30) {
        let mut round_trip = RoundTrip { draws: Draws(seed), rows, folder: TempDir::new().unwrap() };
        let tables = TripTables::collect(&mut round_trip).unwrap();
        prop_assert_eq!(tables.track.len(), rows);
    }
}

/// More rows than one page of a file holds.
#[test]
fn a_long_table_goes_there_and_back() {
    let mut long = RoundTrip { draws: Draws(1), rows: 70_000, folder: TempDir::new().unwrap() };
    assert_eq!(long.rows::<crate::track::Row>().unwrap().len(), 70_000);
}

/// The decoder of the Parquet library panics on about one flipped bit in 1,500; none of them may end the program.
#[test]
fn no_flipped_bit_ends_the_program() {
    let mut draws = RoundTrip { draws: Draws(3), rows: 12, folder: TempDir::new().unwrap() };
    let rows = draws.rows::<crate::rod_spells::Row>().unwrap();
    let bytes = file::bytes(&rows).unwrap();
    let path = draws.folder.path().join("damaged");
    let mut refused = 0;
    for bit in (0..bytes.len() * 8).step_by(17) {
        let mut damaged = bytes.clone();
        damaged[bit / 8] ^= 1 << (bit % 8);
        std::fs::write(&path, damaged).unwrap();
        refused += usize::from(file::rows::<crate::rod_spells::Row>(&path).is_err());
    }
    assert!(refused > 0);
}
