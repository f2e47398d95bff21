//! What can go wrong with a logbook, said so that a captain knows what to do?

use std::io;
use std::path::{Path, PathBuf};

use crate::table::BadValue;

/// Why a logbook could not be opened, read or written. The message holds its cause; there is none to print beside it.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum Error {
    /// A file or folder could not be used.
    #[error("{}: cannot {action}: {cause}{}", .path.display(), advice(.cause))]
    Io {
        /// The file or folder.
        path: PathBuf,
        /// What was tried: `open`, `write` …
        action: &'static str,
        /// What the system said.
        cause: io::Error,
    },
    /// The folder holds other things and no logbook.
    #[error(
        "{}: the folder is not empty and has no logbook.toml, so it is no logbook; name an empty or new folder (if this is a \
         logbook that lost its logbook.toml, put the line `format_version = {version}` in a new one)",
        .path.display(), version = crate::format::FORMAT_VERSION
    )]
    NotALogbook {
        /// The folder.
        path: PathBuf,
    },
    /// There is no logbook.
    #[error("{}: there is no logbook here (no logbook.toml)", .path.display())]
    NoLogbook {
        /// The folder.
        path: PathBuf,
    },
    /// `logbook.toml` cannot be understood.
    #[error("{}: {cause}; the file should hold the line `format_version = {version}`", .path.display(), version = crate::format::FORMAT_VERSION)]
    Toml {
        /// The file.
        path: PathBuf,
        /// What is wrong with it.
        cause: String,
    },
    /// The logbook was written by a newer program.
    #[error(
        "{}: format_version is {found}, and this program knows formats up to {known}: use a newer version of the program",
        .path.display()
    )]
    NewerFormat {
        /// The file.
        path: PathBuf,
        /// The version it states.
        found: u32,
        /// The newest version that this program knows.
        known: u32,
    },
    /// Another process holds the logbook.
    #[error("{}: another program is using this logbook; wait until it has finished, then try again", .path.display())]
    InUse {
        /// The folder.
        path: PathBuf,
    },
    /// A trip id that cannot name a folder on every system.
    #[error(
        "trip id {id:?} cannot be the name of a folder: it takes 1 to 100 letters, digits, `-`, `_` and `.`, and must not start with `.`"
    )]
    TripId {
        /// The id.
        id: String,
    },
    /// The tables of a trip do not belong together.
    #[error("the table trips holds {found} rows for one trip; it must hold exactly one")]
    NotOneTrip {
        /// Rows found.
        found: usize,
    },
    /// A row belongs to another trip.
    #[error("table {table}: a row belongs to trip {found}, not to trip {expected}")]
    OtherTrip {
        /// The table.
        table: &'static str,
        /// The row's trip.
        found: String,
        /// The trip that is written.
        expected: String,
    },
    /// A value that is not written.
    #[error(transparent)]
    Value(#[from] BadValue),
    /// Trips could not be written; of them the logbook is as it was.
    #[error("{} not changed, the logbook is as it was before: {cause}", trips(trip_ids, ["was", "were"]))]
    NotWritten {
        /// The trips.
        trip_ids: Vec<String>,
        /// Why.
        cause: Box<Error>,
    },
    /// Trips were written, and moving their tables into place was interrupted.
    #[error(
        "{} written but not all tables are in place; they are put in place when the logbook is next opened: {cause}",
        trips(trip_ids, ["is", "are"])
    )]
    Interrupted {
        /// The trips.
        trip_ids: Vec<String>,
        /// Why.
        cause: Box<Error>,
    },
    /// A file of the logbook is damaged.
    #[error("{}: the file is damaged: {cause}; process the trip's logs again to write it anew", .path.display())]
    Damaged {
        /// The file.
        path: PathBuf,
        /// What is wrong with it.
        cause: String,
    },
    /// The folder holds other things and no pool.
    #[error(
        "{}: the folder is not empty and has no pool.toml of this program, so it is no pool; name an empty or new folder",
        .path.display()
    )]
    NotAPool {
        /// The folder.
        path: PathBuf,
    },
    /// The folder is a pool of an older layout.
    #[error(
        "{} was made by an older version of the program: run waterseam compact again with the same logbooks to make it anew",
        .path.display()
    )]
    OlderPool {
        /// The folder.
        path: PathBuf,
    },
    /// Two logbooks hold different trips of one boat under one id.
    #[error(
        "{} and {} both hold a trip {trip_id} of the boat {boat}, and the two differ: forget one of them, process its logs \
         again, or give one of the boats another name in its boat file",
        .first.display(), .second.display()
    )]
    TwoTrips {
        /// The id.
        trip_id: String,
        /// Name of the boat.
        boat: String,
        /// A logbook.
        first: PathBuf,
        /// Another.
        second: PathBuf,
    },
    /// Rows could not be put together in one file.
    #[error("table {table}: its rows cannot be put together in one file: {cause}")]
    NotCompacted {
        /// The table.
        table: &'static str,
        /// Why.
        cause: String,
    },
    /// The logbook has no such trip.
    #[error("there is no trip {trip_id} in the logbook")]
    NoSuchTrip {
        /// The id asked for.
        trip_id: String,
    },
}

impl Error {
    /// The cause alone, where the path is known beside it.
    pub(crate) fn cause(&self) -> String {
        match self {
            Self::Io { action, cause, .. } => format!("cannot {action}: {cause}"),
            Self::Damaged { cause, .. } => cause.clone(),
            other => other.to_string(),
        }
    }

    /// Turns what the system said into an error about a path.
    pub(crate) fn io(path: &Path, action: &'static str) -> impl FnOnce(io::Error) -> Self {
        move |cause| Self::Io { path: path.to_owned(), action, cause }
    }
}

/// Some trips, and the verb for one or for many.
fn trips(ids: &[String], [one, many]: [&str; 2]) -> String {
    match ids {
        [id] => format!("trip {id} {one}"),
        ids => format!("trips {} {many}", ids.join(", ")),
    }
}

/// What to do about it, where that can be said.
fn advice(cause: &io::Error) -> &'static str {
    use io::ErrorKind::{
        AlreadyExists, FileTooLarge, NotADirectory, PermissionDenied, QuotaExceeded, ReadOnlyFilesystem,
        StorageFull,
    };
    match cause.kind() {
        StorageFull | QuotaExceeded | FileTooLarge => "; make room on the disk, then run again",
        ReadOnlyFilesystem | PermissionDenied => {
            "; choose a folder that may be written, or change its permissions"
        }
        NotADirectory | AlreadyExists => "; a file stands where a folder is needed: choose another folder",
        _ => "",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn message(kind: io::ErrorKind) -> String {
        Error::io(Path::new("logbook/track"), "write")(kind.into()).to_string()
    }

    #[test]
    fn a_message_says_where_and_what_to_do() {
        let full = message(io::ErrorKind::StorageFull);
        assert!(
            full.starts_with("logbook/track: cannot write: ")
                && full.ends_with("make room on the disk, then run again")
        );
        assert!(message(io::ErrorKind::ReadOnlyFilesystem).contains("choose a folder that may be written"));
    }
}
