//! What can be wrong with a logbook?

use std::path::Path;

use crate::table::ColumnFault;

/// Something that is wrong, and where.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[error("{path}: {problem}")]
pub struct Finding {
    /// File or folder, from the root of the logbook, with `/` between the names.
    pub path: String,
    /// What is wrong.
    pub problem: Problem,
}

impl Finding {
    pub(super) fn new(root: &Path, path: &Path, problem: Problem) -> Self {
        let inside = path.strip_prefix(root).unwrap_or(path);
        let names: Vec<_> = inside.iter().map(|name| name.to_string_lossy()).collect();
        Self { path: names.join("/"), problem }
    }

    /// Whether something is wrong; else it is only worth knowing.
    pub fn is_damage(&self) -> bool {
        self.problem.is_damage()
    }
}

impl Problem {
    /// Whether something is wrong; else it is only worth knowing.
    pub fn is_damage(&self) -> bool {
        !matches!(self, Self::Older { .. } | Self::OlderTrip)
    }
}

/// What is wrong. Rows are counted from 0.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum Problem {
    /// An interrupted write has left its files.
    #[error("a write was interrupted; opening the logbook finishes or undoes it")]
    InterruptedWrite,
    /// A file that an engine would read as part of the table, or a temporary file that nothing will finish.
    #[error("does not belong here; move it out of the logbook")]
    Stray,
    /// The list of sums is missing or cannot be read.
    #[error("the sums of this trip's files cannot be read ({cause}), so a changed byte cannot be seen")]
    NoSums {
        /// Why.
        cause: String,
    },
    /// The file has changed since it was written. What is in it is not looked at.
    #[error("the file has changed since it was written (its BLAKE3 sum differs)")]
    SumDiffers,
    /// The file is in none of the lists.
    #[error("the file is not in the list of this trip's sums")]
    NotInSums,
    /// The file cannot be read.
    #[error("cannot be read: {cause}")]
    Unreadable {
        /// Why.
        cause: String,
    },
    /// A column of the file is not what the schema declares.
    #[error("column {column}: {fault}")]
    Column {
        /// The column.
        column: &'static str,
        /// What is wrong with it.
        fault: ColumnFault,
    },
    /// The file says that values may be missing in a column in which none may.
    #[error("column {column}: the file says that values may be missing, the schema says the opposite")]
    Nullability {
        /// The column.
        column: &'static str,
    },
    /// The file is from before these columns were added. It is no damage.
    #[error("written before there were the columns {}; their values are missing here", .columns.join(", "))]
    Older {
        /// The columns.
        columns: Vec<&'static str>,
    },
    /// The trip is from before this table was added. It is no damage.
    #[error("the trip was written before there was this table; processing its files again fills it")]
    OlderTrip,
    /// The file has columns of other names or in another order.
    #[error("the columns do not come in the order of the schema")]
    ColumnOrder,
    /// A number is not finite, or a shape is no well-known binary.
    #[error(
        "column {column}: {rows} values that are not finite numbers or not valid shapes, the first in row {row}"
    )]
    Invalid {
        /// The column.
        column: &'static str,
        /// The first such row.
        row: usize,
        /// How many there are.
        rows: usize,
    },
    /// A value is outside the range of its column.
    #[error(
        "column {column}: {rows} values outside the range of the schema, the first is {value} in row {row}"
    )]
    OutOfRange {
        /// The column.
        column: &'static str,
        /// The first such row.
        row: usize,
        /// The value in it.
        value: String,
        /// How many there are.
        rows: usize,
    },
    /// A row of a layer does not agree with itself or with the others.
    #[error("row {row}: {what}; `waterseam hotspots` builds the layer anew")]
    Disagrees {
        /// The first such row.
        row: usize,
        /// What is wrong.
        what: &'static str,
    },
    /// A row stands in the folder of another trip.
    #[error("row {row} belongs to trip {found}, not to the trip of its folder")]
    OtherTrip {
        /// The first such row.
        row: usize,
        /// Its trip.
        found: String,
    },
    /// The trip stands in the folder of another year.
    #[error("the trip starts in {found} (UTC), not in the year of its folder")]
    OtherYear {
        /// Year of the trip's start.
        found: i16,
    },
    /// The table `trips` does not have exactly one row for the trip.
    #[error("{found} rows for one trip")]
    NotOneTrip {
        /// Rows found.
        found: usize,
    },
    /// The track does not go forward in time.
    #[error("row {row} is not later than the row before")]
    TimeNotIncreasing {
        /// The first such row.
        row: usize,
    },
    /// The account of a file does not add up.
    #[error(
        "{file_name}: {read} records read, but {used} used, {not_needed} not needed and {set_aside} set aside do not add up to that"
    )]
    Account {
        /// The file.
        file_name: String,
        /// Records read.
        read: i64,
        /// Records used.
        used: i64,
        /// Records not needed.
        not_needed: i64,
        /// Records set aside.
        set_aside: i64,
    },
    /// The reasons of a file do not add up to its records set aside.
    #[error("{file_name}: {set_aside} records set aside, but the reasons {reasons:?} do not add up to that")]
    Reasons {
        /// The file.
        file_name: String,
        /// Records set aside.
        set_aside: i64,
        /// The reasons, as they stand in the table.
        reasons: String,
    },
    /// `trips.bites` is not the number of rows of `bites`.
    #[error("the trip counts {counted} bites, the table bites has {rows}")]
    BiteCount {
        /// The trip's count.
        counted: i64,
        /// Rows of `bites`.
        rows: usize,
    },
    /// A row names a row of another table that does not exist.
    #[error("row {row}: {column} {id:?} is not in the table {table}")]
    Dangling {
        /// The first such row.
        row: usize,
        /// The column that names it.
        column: &'static str,
        /// What it names.
        id: String,
        /// The table that should have it.
        table: &'static str,
    },
}
