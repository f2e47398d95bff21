//! What do tests need to read bytes as if they were a file?

use crate::boat::BoatFile;
use crate::source::{Collected, SourceReport};

/// Reads the bytes as a file of that name.
pub(crate) fn read_bytes(name: &str, bytes: &[u8], boat: &BoatFile) -> (SourceReport, Collected) {
    let mut found = Collected::default();
    let report = crate::read_bytes(name, bytes, boat, &mut found);
    (report, found)
}
