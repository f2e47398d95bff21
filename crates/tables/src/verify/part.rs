//! Is one file of one table whole, of its schema and in range?

use std::collections::BTreeSet;
use std::convert::Infallible;
use std::path::Path;

use arrow::datatypes::Schema;

use super::{Finding, Problem};
use crate::domain::Measure;
use crate::file;
use crate::layout::{self, Partition};
use crate::sums::{self, Sums};
use crate::table::{ColumnFault, Table, can_be_stored};
use crate::tables::{set_aside, sources};
use crate::trip::Rows;

/// QARTOD flag of a value that is kept as it was read and not used.
const FAIL: f64 = 4.0;

/// Tables that have rows of no trip.
const OF_NO_TRIP: [&str; 2] = [sources::Row::NAME, set_aside::Row::NAME];

/// Reads the tables of a trip and notes what is wrong with each.
pub(super) struct Checked<'a> {
    root: &'a Path,
    partition: &'a Partition,
    /// Files that are not those that were written.
    changed: BTreeSet<String>,
    sums: Option<Sums>,
    pub findings: Vec<Finding>,
    /// Tables that could not be read.
    pub unread: Vec<&'static str>,
}

impl<'a> Checked<'a> {
    pub fn new(root: &'a Path, partition: &'a Partition, changed: BTreeSet<String>) -> Self {
        let sums = Sums::read(&layout::sums_file(root, &partition.trip_id)).ok();
        Self { root, partition, changed, sums, findings: Vec::new(), unread: Vec::new() }
    }
}

impl Rows for Checked<'_> {
    type Error = Infallible;

    fn rows<R: Table>(&mut self) -> Result<Vec<R>, Infallible> {
        if self.partition.year.is_none() && !OF_NO_TRIP.contains(&R::NAME) {
            self.unread.push(R::NAME);
            return Ok(Vec::new());
        }
        let path = self.partition.file(R::NAME);
        if self.changed.contains(&path) {
            self.unread.push(R::NAME);
            return Ok(Vec::new());
        }
        let is_from_before = sums::is_from_before::<R>(self.sums.as_ref(), self.root, &path);
        let path = self.root.join(path);
        let mut note = |problem| self.findings.push(Finding::new(self.root, &path, problem));
        if is_from_before {
            note(Problem::OlderTrip);
            return Ok(Vec::new());
        }
        let schema_problems = match file::schema(&path) {
            Ok(schema) => check_schema::<R>(&schema),
            Err(e) => {
                note(Problem::Unreadable { cause: e.cause() });
                self.unread.push(R::NAME);
                return Ok(Vec::new());
            }
        };
        let schema_is_good = schema_problems.iter().all(|problem| !problem.is_damage());
        schema_problems.into_iter().for_each(&mut note);
        match file::rows::<R>(&path) {
            Ok(rows) => {
                check_values(&rows).into_iter().for_each(&mut note);
                check_trip(&rows, self.partition).into_iter().for_each(&mut note);
                Ok(rows)
            }
            Err(e) => {
                // a column that is not of its schema has been noted already
                if schema_is_good {
                    note(Problem::Unreadable { cause: e.cause() });
                }
                self.unread.push(R::NAME);
                Ok(Vec::new())
            }
        }
    }
}

/// Names, types and nullability; columns that the schema does not know may follow.
pub(super) fn check_schema<R: Table>(schema: &Schema) -> Vec<Problem> {
    let mut problems = Vec::new();
    let mut not_there = Vec::new();
    for column in R::COLUMNS {
        let Ok(field) = schema.field_with_name(column.name) else {
            not_there.push(column);
            continue;
        };
        if *field.data_type() != column.kind.data_type() {
            problems.push(Problem::Column { column: column.name, fault: ColumnFault::Type });
        }
        // an older schema may have been stricter
        if field.is_nullable() && !column.nullable {
            problems.push(Problem::Nullability { column: column.name });
        }
    }
    let needed = not_there.iter().filter(|column| !column.nullable);
    problems
        .extend(needed.map(|column| Problem::Column { column: column.name, fault: ColumnFault::NotThere }));
    let there = || R::COLUMNS.iter().filter(|column| !not_there.contains(column)).map(|column| column.name);
    let n_there = there().count();
    if problems.is_empty()
        && !schema.fields().iter().map(|field| field.name().as_str()).take(n_there).eq(there())
    {
        problems.push(Problem::ColumnOrder);
    }
    if problems.is_empty() && !not_there.is_empty() {
        problems.push(Problem::Older { columns: not_there.iter().map(|column| column.name).collect() });
    }
    problems
}

/// Finite numbers, valid shapes, ranges: for each column the first value that is wrong, and how many are.
pub(super) fn check_values<R: Table>(rows: &[R]) -> Vec<Problem> {
    let flags: Vec<Option<usize>> = R::COLUMNS
        .iter()
        .map(|column| column.flag.and_then(|flag| R::COLUMNS.iter().position(|other| other.name == flag)))
        .collect();
    let mut invalid: Vec<Option<Problem>> = vec![None; R::COLUMNS.len()];
    let mut outside: Vec<Option<Problem>> = vec![None; R::COLUMNS.len()];
    for (row, values) in rows.iter().enumerate() {
        let measures = values.measures();
        for (index, column) in R::COLUMNS.iter().enumerate() {
            let measure = measures[index];
            let failed = flags[index].is_some_and(|flag| measures[flag] == Measure::Number(FAIL));
            if !can_be_stored(measure) {
                let first = Problem::Invalid { column: column.name, row, rows: 0 };
                count(invalid[index].get_or_insert(first));
            } else if !failed && !column.domain.admits(measure) {
                let first = Problem::OutOfRange { column: column.name, row, value: shown(measure), rows: 0 };
                count(outside[index].get_or_insert(first));
            }
        }
    }
    invalid.into_iter().chain(outside).flatten().collect()
}

fn count(problem: &mut Problem) {
    if let Problem::Invalid { rows, .. } | Problem::OutOfRange { rows, .. } = problem {
        *rows += 1;
    }
}

fn shown(measure: Measure<'_>) -> String {
    match measure {
        Measure::Number(x) => x.to_string(),
        Measure::Text(text) => format!("{text:?}"),
        Measure::Null | Measure::Shape(_) | Measure::Free => String::new(),
    }
}

fn check_trip<R: Table>(rows: &[R], partition: &Partition) -> Option<Problem> {
    let expected = partition.year.map(|_| partition.trip_id.as_str());
    let row = rows.iter().position(|row| row.trip_id() != expected)?;
    Some(Problem::OtherTrip { row, found: rows[row].trip_id().unwrap_or("none").to_owned() })
}
