//! The account of a file: what it is and what became of every record.

use std::collections::BTreeMap;

use crate::observation::{BiteNote, GearEntry, Observation};
use crate::story::ClockStory;

/// What a file holds, recognised by its content.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Kind {
    /// NMEA 0183 sentences.
    Nmea0183,
    /// GPX.
    Gpx,
    /// A probe log, or another table of time and temperature (with or without depth and position).
    Probe,
    /// Bite notes.
    Bites,
    /// Gear log.
    Gear,
}

impl Kind {
    /// The word of the tables.
    pub fn word(self) -> &'static str {
        match self {
            Self::Nmea0183 => "nmea0183",
            Self::Gpx => "gpx",
            Self::Probe => "probe",
            Self::Bites => "bites",
            Self::Gear => "gear",
        }
    }
}

/// A record that could not be used, with its reason.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SetAside {
    /// Line of the file, from 1.
    pub line: u64,
    /// Byte of the file at which the record starts, from 0.
    pub byte: u64,
    /// Reason: a short snake_case word that is the same in every file (`checksum_wrong`, `no_date_yet` …).
    pub reason: &'static str,
    /// First 200 characters of the record, lossy.
    pub raw: String,
}

/// Account of one file. `records_read` = `records_used` + `records_not_needed` + the sum of `set_aside`.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct SourceReport {
    /// Name of the file without its folder.
    pub file_name: String,
    /// BLAKE3 of the bytes, lower-case hex.
    pub content_hash: String,
    /// What it holds; `None` where nothing was recognised.
    pub kind: Option<Kind>,
    /// What recognition saw, in words (`JPEG image`, `empty file`, `NMEA 0183 with UTC stamps` …).
    pub described: String,
    /// Bytes read.
    pub bytes: u64,
    /// Records seen.
    pub records_read: u64,
    /// Records that gave at least one value.
    pub records_used: u64,
    /// Good records that this job does not need.
    pub records_not_needed: u64,
    /// Records set aside, counted by reason.
    pub set_aside: BTreeMap<&'static str, u64>,
    /// Earliest time in the file, µs since 1970 UTC.
    pub time_first_us: Option<i64>,
    /// Latest time in the file, µs since 1970 UTC.
    pub time_last_us: Option<i64>,
    /// Seconds added to the file's clock to reach UTC, where they are one number for the file.
    pub clock_offset_s: Option<f64>,
    /// How that was known: `gps`, `utc_stated`, `offset_stated`, `boat_file_zone`, `assumed_utc`.
    pub clock_offset_method: Option<&'static str>,
    /// Records by sentence type or column, for `inspect`.
    pub contents: BTreeMap<String, u64>,
    /// Columns of a table, in order, for `inspect`.
    pub columns: Vec<ColumnReport>,
    /// First lines of a file that is not read, fit to be printed, for `inspect`.
    pub first_lines: Vec<String>,
    /// What the captain should know about this file, in sentences.
    pub remarks: Vec<String>,
    /// How its clock ran, as the file itself says it; empty where the file is no NMEA log.
    pub clock: ClockStory,
}

/// A column of a table, and what it was taken for.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct ColumnReport {
    /// Its heading, as it stands in the file.
    pub heading: String,
    /// What it holds, in words; `None` where that is not known or not needed.
    pub meaning: Option<&'static str>,
    /// Unit in which its numbers were read.
    pub unit: Option<&'static str>,
}

impl SourceReport {
    /// Number of records set aside.
    pub fn records_set_aside(&self) -> u64 {
        self.set_aside.values().sum()
    }
}

/// Where a reader puts what it finds, in file order.
pub trait Sink {
    /// A value with its time.
    fn observation(&mut self, observation: Observation);
    /// Values with their times, which follow each other.
    fn observations(&mut self, observations: &[Observation]) {
        for observation in observations {
            self.observation(*observation);
        }
    }
    /// A bite note.
    fn bite(&mut self, note: BiteNote);
    /// A row of the gear log.
    fn gear(&mut self, entry: GearEntry);
    /// A record that could not be used. Called at most [`SET_ASIDE_KEPT`] times a file and reason.
    fn set_aside(&mut self, record: SetAside);
}

/// Records kept whole for each file and reason; the counts of [`SourceReport`] are complete.
pub const SET_ASIDE_KEPT: u64 = 10_000;

/// Marks that are taken from one file; the others are set aside (`too_many_marks`). Plotters keep some thousands (common
/// practice, no source); a file with millions of them would fill the memory of a trip.
pub(crate) const MARKS_TAKEN_MAX: u64 = 100_000;

/// A [`Sink`] that keeps everything.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Collected {
    /// Values in file order.
    pub observations: Vec<Observation>,
    /// Bite notes in file order.
    pub bites: Vec<BiteNote>,
    /// Gear rows in file order.
    pub gear: Vec<GearEntry>,
    /// Records set aside, in file order.
    pub set_aside: Vec<SetAside>,
}

impl Sink for Collected {
    fn observation(&mut self, observation: Observation) {
        self.observations.push(observation);
    }
    fn observations(&mut self, observations: &[Observation]) {
        self.observations.extend_from_slice(observations);
    }
    fn bite(&mut self, note: BiteNote) {
        self.bites.push(note);
    }
    fn gear(&mut self, entry: GearEntry) {
        self.gear.push(entry);
    }
    fn set_aside(&mut self, record: SetAside) {
        self.set_aside.push(record);
    }
}
