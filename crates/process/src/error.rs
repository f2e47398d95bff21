//! What can stop a run?

use std::path::PathBuf;

/// A failure of the whole run; what is wrong with one record or one file is in its account instead.
#[derive(Debug, thiserror::Error)]
pub enum ProcessError {
    /// An input is not there or cannot be listed.
    #[error("cannot read {}: {error}. Check the path, and that the card is in the reader", path.display())]
    Input {
        /// The input.
        path: PathBuf,
        /// Why.
        error: std::io::Error,
    },
    /// An input is a pipe, a device or another thing that is read only once or has no end.
    #[error("{} is neither a file nor a folder. Write what it gives to a file first, and name that", path.display())]
    NotAFile {
        /// The input.
        path: PathBuf,
    },
    /// The inputs hold no file at all.
    #[error("there is no file in the input; name the files or the folder of the card")]
    NoFile,
    /// No file is of a known kind.
    #[error(
        "none of these files is a log that can be read:{}\n  what can be read: NMEA 0183 logs, GPX, probe logs, bite notes and gear logs, as they are or in .gz and .zip",
        unknown.iter().map(|(path, what)| format!("\n  {}: {what}", path.display())).collect::<String>()
    )]
    NothingKnown {
        /// The files and what they look like.
        unknown: Vec<(PathBuf, String)>,
    },
    /// There is no room for the readings of a long card, or they cannot be read from there.
    #[error(
        "{}: {error}. The readings of a card as long as this one wait on the disk of the logbook until their day is worked on, and take a third of the room of the logs; make room there, or give fewer days at once",
        folder.display()
    )]
    NoRoom {
        /// The folder on that disk.
        folder: PathBuf,
        /// Why.
        error: std::io::Error,
    },
    /// A file cannot be read.
    #[error(transparent)]
    Read(#[from] waterseam_logs::ReadError),
    /// The logbook cannot be read or written.
    #[error(transparent)]
    Logbook(#[from] waterseam_tables::Error),
}
