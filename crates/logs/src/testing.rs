//! What do tests need to read bytes as if they were a file?

use crate::boat::BoatFile;
use crate::source::{Collected, SourceReport};

/// Writes the bytes to a file of that name and reads it.
pub(crate) fn read_bytes(name: &str, bytes: &[u8], boat: &BoatFile) -> (SourceReport, Collected) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join(name);
    std::fs::write(&path, bytes).unwrap();
    let mut found = Collected::default();
    let report = crate::read_file(&path, boat, &mut found).unwrap();
    (report, found)
}
