//! Which files does a trip have, and what is the BLAKE3 of each?
//!
//! One line a file: the hash in hexadecimal, two blanks, the path from the root of the logbook. It is the form
//! that checksum tools of this kind take, so a logbook can also be checked without this program.

use std::collections::BTreeMap;
use std::fs::File;
use std::path::{Component, Path};

use crate::error::Error;
use crate::table::Table;
use crate::trip::NEWER_TABLES;

/// Hash by path.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(crate) struct Sums(pub BTreeMap<String, String>);

impl Sums {
    pub fn insert(&mut self, path: String, bytes: &[u8]) {
        self.0.insert(path, blake3::hash(bytes).to_hex().to_string());
    }

    pub fn text(&self) -> String {
        self.0.iter().flat_map(|(path, hash)| [hash, "  ", path, "\n"]).collect()
    }

    /// Reads a file of sums. A line that is none, or a path that leads out of the logbook, is damage.
    pub fn read(path: &Path) -> Result<Self, Error> {
        let text = std::fs::read(path).map_err(Error::io(path, "read"))?;
        let text = String::from_utf8_lossy(&text);
        let sums: Option<BTreeMap<String, String>> = text.lines().map(parse).collect();
        sums.map(Self).ok_or_else(|| Error::Damaged {
            path: path.to_owned(),
            cause: "a line is no sum of a file".to_owned(),
        })
    }
}

fn parse(line: &str) -> Option<(String, String)> {
    let (hash, path) = line.split_once("  ")?;
    let inside = Path::new(path).components().all(|part| matches!(part, Component::Normal(_)));
    let good = hash.len() == 64 && hash.bytes().all(|b| b.is_ascii_hexdigit()) && inside && !path.is_empty();
    good.then(|| (path.to_owned(), hash.to_owned()))
}

/// Whether a file is as it was when it was written; so it is, too, where that is not known.
pub(crate) fn is_unchanged(sums: Option<&Sums>, root: &Path, path: &str) -> Result<bool, Error> {
    let kept = sums.and_then(|sums| sums.0.get(path));
    kept.map_or(Ok(true), |kept| Ok(hash_of(&root.join(path))? == *kept))
}

/// Whether a trip was written before there was such a table: it has no file, and none is missed.
pub(crate) fn is_from_before<R: Table>(sums: Option<&Sums>, root: &Path, path: &str) -> bool {
    let is_missed = || sums.is_some_and(|sums| sums.0.contains_key(path));
    NEWER_TABLES.contains(&R::NAME) && !root.join(path).exists() && !is_missed()
}

/// BLAKE3 of a file, hexadecimal.
pub(crate) fn hash_of(path: &Path) -> Result<String, Error> {
    let file = File::open(path).map_err(Error::io(path, "open"))?;
    let mut hasher = blake3::Hasher::new();
    hasher.update_reader(file).map_err(Error::io(path, "read"))?;
    Ok(hasher.finalize().to_hex().to_string())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The BLAKE3 of no bytes at all, from the official test vectors (BLAKE3-team/BLAKE3, test_vectors.json,
    /// input_len 0, first 32 bytes).
    const EMPTY: &str = "af1349b9f5f9a1a6a0404dea36dcc9499bcb25c9adc112b7cc9a93cae41f3262";

    #[test]
    fn the_hash_is_blake3() {
        let mut sums = Sums::default();
        sums.insert("track/part".to_owned(), b"");
        assert_eq!(sums.text(), format!("{EMPTY}  track/part\n"));
    }

    #[test]
    fn paths_stay_inside() {
        assert!(parse(&format!("{EMPTY}  track/part")).is_some());
        for bad in ["../part", "/part", "a/../../part", ""] {
            assert_eq!(parse(&format!("{EMPTY}  {bad}")), None, "{bad}");
        }
        assert_eq!(parse("af13  track/part"), None);
    }
}
