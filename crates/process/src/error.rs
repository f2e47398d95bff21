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
    /// A long file, of which only the account was kept, gives other bytes when it is read again.
    #[error(
        "{}: it has changed, or cannot be read to the same place, since it was first read; copy it from the card once more",
        path.display()
    )]
    Changed {
        /// The file.
        path: PathBuf,
    },
    /// A file cannot be read.
    #[error(transparent)]
    Read(#[from] waterseam_logs::ReadError),
    /// The logbook cannot be read or written.
    #[error(transparent)]
    Logbook(#[from] waterseam_tables::Error),
}
