//! Which boat's which year, and what is its folder called?

use std::fmt;

use crate::layout::NO_TRIP;

/// Longest name of a boat's folder: file systems take 255 bytes, and the name stands in longer ones.
const NAME_BYTES_MAX: usize = 150;

/// A year of a boat: what is written to a pool at one stroke. The year is that of the trips' starts, UTC.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct BoatYear {
    /// Name of the boat as it stands in the folder's name.
    boat: String,
    year: i16,
}

impl BoatYear {
    /// Of a boat with any name. What cannot stand in the name of a folder on every system is written as engines write
    /// it in such folders, as `%` and its bytes in hexadecimal (RFC 3986, clause 2.1).
    pub(super) fn new(boat: &str, year: i16) -> Self {
        let mut name = String::new();
        for (at, byte) in boat.bytes().enumerate() {
            if byte.is_ascii_alphanumeric() || b"-_".contains(&byte) || (byte == b'.' && at > 0) {
                name.push(char::from(byte));
            } else {
                name.extend(['%', hexadecimal(byte >> 4), hexadecimal(byte & 15)]);
            }
        }
        if name.is_empty() {
            NO_TRIP.clone_into(&mut name);
        }
        if name.len() > NAME_BYTES_MAX {
            let hash = blake3::hash(boat.as_bytes()).to_hex();
            let cut = name[..NAME_BYTES_MAX - 17].trim_end_matches('%').len();
            name = format!("{}-{}", &name[..cut], &hash[..16]);
        }
        Self { boat: name, year }
    }

    /// Folder of a table, from the root of the pool.
    pub(super) fn folder(&self, table: &str) -> String {
        format!("{table}/boat={}/year={:04}", self.boat, self.year)
    }

    /// Where a file of a table stands.
    pub(super) fn file(&self, table: &str, part: usize) -> String {
        format!("{}/part-{part}.parquet", self.folder(table))
    }

    /// A name for its list and its staging folder.
    pub(super) fn name(&self) -> String {
        format!("{:04}.{}", self.year, self.boat)
    }

    /// From the names of its folders.
    pub(super) fn of_folders(boat: &str, year: &str) -> Option<Self> {
        Self::parse(&format!("{}.{}", year.strip_prefix("year=")?, boat.strip_prefix("boat=")?))
    }

    /// From that name.
    pub(super) fn parse(name: &str) -> Option<Self> {
        let (year, boat) = name.split_once('.')?;
        let key = Self { boat: boat.to_owned(), year: year.parse().ok()? };
        (!boat.is_empty() && key.name() == name).then_some(key)
    }
}

fn hexadecimal(half: u8) -> char {
    char::from(b"0123456789ABCDEF"[usize::from(half)])
}

/// As in the names of the folders: `boat=Kittiwake, year=2026`.
impl fmt::Display for BoatYear {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "boat={}, year={:04}", self.boat, self.year)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_boat_may_have_any_name() {
        let folder = |boat: &str| BoatYear::new(boat, 2026).folder("bites");
        assert_eq!(folder("Kittiwake"), "bites/boat=Kittiwake/year=2026");
        assert_eq!(folder("Kittiwake II"), "bites/boat=Kittiwake%20II/year=2026");
        assert_eq!(folder("../x=1"), "bites/boat=%2E.%2Fx%3D1/year=2026");
        assert_eq!(folder(""), format!("bites/boat={NO_TRIP}/year=2026"));
        let (long, longer) = (folder(&"é".repeat(200)), folder(&"é".repeat(201)));
        assert!(long.len() < 200 && long != longer, "{long}");
    }

    #[test]
    fn names_are_read_again() {
        for boat in ["Kittiwake", "a.b", "", "Möwe", &"x".repeat(300)] {
            let key = BoatYear::new(boat, 1998);
            assert_eq!(BoatYear::parse(&key.name()), Some(key), "{boat}");
        }
        for bad in ["", "2026", "2026.", "26.a", "a.2026"] {
            assert_eq!(BoatYear::parse(bad), None, "{bad}");
        }
    }
}
