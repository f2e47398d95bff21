//! Reads every file once: what is it, when was it, and what does it say?

use std::path::{Path, PathBuf};

use rayon::prelude::*;
use waterseam_logs::boat::BoatFile;
use waterseam_logs::{BiteNote, Collected, GearEntry, Observation, SetAside, Sink, SourceReport, Value};
use waterseam_units::time::US_PER_S;

use crate::ProcessError;
use crate::span::{Span, Spans};

/// Observations of one file that are kept in memory after the first reading (48 bytes each). A longer file
/// is read again, stretch by stretch, so that memory does not grow with the card.
const KEPT_OBSERVATIONS: usize = 4_000_000;

/// A file and what the first reading found.
#[derive(Debug)]
pub struct ReadFile {
    /// Where it is.
    pub path: PathBuf,
    /// Its account.
    pub report: SourceReport,
    /// Stretches in which it has positions.
    pub fixes: Vec<Span>,
    /// Bite notes.
    pub bites: Vec<BiteNote>,
    /// Gear rows.
    pub gear: Vec<GearEntry>,
    /// Records set aside.
    pub set_aside: Vec<SetAside>,
    observations: Option<Vec<Observation>>,
}

impl ReadFile {
    /// Whether it says where the boat was.
    pub fn has_track(&self) -> bool {
        !self.fixes.is_empty()
    }

    /// Whether the observations are still in memory.
    pub fn is_kept(&self) -> bool {
        self.observations.is_some()
    }

    /// Appends the observations of a stretch of time to `into`, in file order.
    ///
    /// # Errors
    /// Where the file, read again, can no longer be read.
    pub fn observations_within(
        &self,
        span: Span,
        boat: &BoatFile,
        into: &mut Vec<Observation>,
    ) -> Result<(), ProcessError> {
        if let Some(kept) = &self.observations {
            into.extend(kept.iter().filter(|o| span.reaches(o.time_us, 0)));
            return Ok(());
        }
        let mut sink = Within { span, into };
        waterseam_logs::read_file(&self.path, boat, &mut sink)?;
        Ok(())
    }
}

/// Reads all files, in parallel; the result is in the order of `paths`.
///
/// # Errors
/// Where a file cannot be opened or read. A file of no known kind is no error.
pub fn all(
    paths: &[PathBuf],
    boat: &BoatFile,
    done: &(dyn Fn(&Path) + Sync),
) -> Result<Vec<ReadFile>, ProcessError> {
    paths
        .par_iter()
        .map(|path| {
            let file = one(path, boat);
            done(path);
            file
        })
        .collect()
}

fn one(path: &Path, boat: &BoatFile) -> Result<ReadFile, ProcessError> {
    let mut census = Census {
        fixes: Spans::new((boat.trip_gap_s * US_PER_S as f64) as i64),
        collected: Collected::default(),
        overflowed: false,
    };
    let report = waterseam_logs::read_file(path, boat, &mut census)?;
    let Collected { observations, bites, gear, set_aside } = census.collected;
    Ok(ReadFile {
        path: path.to_owned(),
        report,
        fixes: census.fixes.finish(),
        bites,
        gear,
        set_aside,
        observations: (!census.overflowed).then_some(observations),
    })
}

/// Keeps everything, but of the observations of a very long file only when they were.
struct Census {
    fixes: Spans,
    collected: Collected,
    overflowed: bool,
}

impl Sink for Census {
    fn observation(&mut self, observation: Observation) {
        if matches!(observation.value, Value::Fix { .. }) {
            self.fixes.add(observation.time_us);
        }
        if self.overflowed {
            return;
        }
        if self.collected.observations.len() < KEPT_OBSERVATIONS {
            self.collected.observations.push(observation);
        } else {
            self.overflowed = true;
            self.collected.observations = Vec::new();
        }
    }

    fn bite(&mut self, note: BiteNote) {
        self.collected.bites.push(note);
    }

    fn gear(&mut self, entry: GearEntry) {
        self.collected.gear.push(entry);
    }

    fn set_aside(&mut self, record: SetAside) {
        self.collected.set_aside.push(record);
    }
}

/// Keeps the observations of a stretch of time and nothing else.
struct Within<'a> {
    span: Span,
    into: &'a mut Vec<Observation>,
}

impl Sink for Within<'_> {
    fn observation(&mut self, observation: Observation) {
        if self.span.reaches(observation.time_us, 0) {
            self.into.push(observation);
        }
    }

    fn bite(&mut self, _: BiteNote) {}
    fn gear(&mut self, _: GearEntry) {}
    fn set_aside(&mut self, _: SetAside) {}
}
