//! Reads every file once: what is it, when was it, and what does it say?

use std::path::{Path, PathBuf};

use rayon::prelude::*;
use waterseam_logs::boat::BoatFile;
use waterseam_logs::{
    BiteNote, Collected, GearEntry, Member, Observation, SetAside, Sink, SourceReport, Value,
};
use waterseam_units::time::US_PER_S;

use crate::ProcessError;
use crate::files::BOAT_FILE_NAME;
use crate::span::{Span, Spans};

/// Observations of one file that are kept in memory after the first reading (48 bytes each). A longer file
/// is read again, stretch by stretch, so that memory does not grow with the card.
const KEPT_OBSERVATIONS: usize = 4_000_000;

/// A file and what the first reading found.
#[derive(Debug)]
pub struct ReadFile {
    /// Where it is; for a member of an archive, the archive with the member's name behind it.
    pub path: PathBuf,
    /// The file or the member, to be read again.
    pub member: Member,
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
    /// What is known about the clock of a probe log, segment by segment; empty for other files.
    pub clock: Vec<waterseam_clocks::Aligned>,
    observations: Option<Vec<Observation>>,
}

impl ReadFile {
    /// The observations in file order, where they are still in memory.
    pub fn kept(&self) -> Option<&[Observation]> {
        self.observations.as_deref()
    }

    /// Gives every kept observation the time that `time_us` says, by its place in the file and its time so far.
    pub(crate) fn retime(&mut self, gap_us: i64, time_us: impl Fn(usize, i64) -> i64) {
        let Some(observations) = &mut self.observations else { return };
        let mut fixes = Spans::new(gap_us);
        for (at, observation) in observations.iter_mut().enumerate() {
            observation.time_us = time_us(at, observation.time_us);
            if matches!(observation.value, Value::Fix { .. }) {
                fixes.add(observation.time_us);
            }
        }
        self.fixes = fixes.finish();
        let times = || observations.iter().map(|observation| observation.time_us);
        self.report.time_first_us = times().min();
        self.report.time_last_us = times().max();
    }

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
        self.member.read(boat, &mut sink)?;
        Ok(())
    }
}

/// Reads all files and all members of archives, in parallel; the result is in the order of `paths`, members in the
/// order of their archive. `done` is called once for each path.
///
/// # Errors
/// Where a file cannot be opened or read. A file of no known kind is no error.
pub fn all(
    paths: &[PathBuf],
    boat: &BoatFile,
    done: &(dyn Fn(&Path) + Sync),
) -> Result<Vec<ReadFile>, ProcessError> {
    let files: Result<Vec<Vec<ReadFile>>, ProcessError> = paths
        .par_iter()
        .map(|path| {
            let members = waterseam_logs::members(path)?;
            let logs = members.par_iter().filter(|member| member.name() != BOAT_FILE_NAME);
            let files = logs.map(|member| one(member, boat)).collect();
            done(path);
            files
        })
        .collect();
    Ok(files?.into_iter().flatten().collect())
}

fn one(member: &Member, boat: &BoatFile) -> Result<ReadFile, ProcessError> {
    let mut census = Census {
        fixes: Spans::new((boat.trip_gap_s * US_PER_S as f64) as i64),
        collected: Collected::default(),
        overflowed: false,
    };
    let report = member.read(boat, &mut census)?;
    let Collected { observations, bites, gear, set_aside } = census.collected;
    Ok(ReadFile {
        path: member.shown_path(),
        member: member.clone(),
        report,
        fixes: census.fixes.finish(),
        bites,
        gear,
        set_aside,
        clock: Vec::new(),
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

#[cfg(test)]
mod tests {
    use std::io::{Cursor, Write};

    use zip::ZipWriter;
    use zip::write::SimpleFileOptions;

    use super::*;

    #[test]
    fn members_of_an_archive_are_files_of_the_card() {
        let log = "$GPRMC,051203,A,4612.000,N,02924.000,W,2.0,90.0,140626,,*3A\r\n";
        let mut archive = ZipWriter::new(Cursor::new(Vec::new()));
        for (name, text) in [("logs/b.nmea", log), (BOAT_FILE_NAME, "x"), ("../a.txt", "Dear diary")] {
            archive.start_file(name, SimpleFileOptions::default()).unwrap();
            archive.write_all(text.as_bytes()).unwrap();
        }
        let dir = tempfile::tempdir().unwrap();
        let paths = ["card.zip", "z.nmea"].map(|name| dir.path().join(name));
        std::fs::write(&paths[0], archive.finish().unwrap().into_inner()).unwrap();
        std::fs::write(&paths[1], log).unwrap();

        let files = all(&paths, &BoatFile::default(), &|_| {}).unwrap();
        let found: Vec<_> = files.iter().map(|file| file.path.strip_prefix(dir.path()).unwrap()).collect();
        assert_eq!(found, ["card.zip/b.nmea", "card.zip/a.txt", "z.nmea"].map(Path::new));
        assert_eq!(files[0].report.content_hash, files[2].report.content_hash);

        // what was not kept is read again, out of the archive
        let mut again = Vec::new();
        let unkept = ReadFile { observations: None, ..files.into_iter().next().unwrap() };
        unkept.observations_within(unkept.fixes[0], &BoatFile::default(), &mut again).unwrap();
        assert_eq!(again.len(), 2);
    }
}
