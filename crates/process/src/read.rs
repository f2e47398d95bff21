//! Reads every file once: what is it, when was it, and what does it say?

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use rayon::prelude::*;
use waterseam_logs::boat::BoatFile;
use waterseam_logs::{
    BiteNote, ClockHints, Collected, GearEntry, Member, Observation, SetAside, Sink, SourceReport, Value,
    date_in_name,
};
use waterseam_units::time::US_PER_S;

use crate::ProcessError;
use crate::dates::{self, Bounds, FileTimes, Finding};
use crate::files::BOAT_FILE_NAME;
use crate::span::{Span, Spans};

/// Observations of one file that are kept in memory after the first reading (56 bytes each). A longer file
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
    observations: Option<Vec<Observation>>,
    /// What is known of its clock from the whole of it and from other files.
    hints: ClockHints,
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
    /// Where the file, read again, can no longer be read or gives other bytes.
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
        let again = self.member.read_with(boat, &self.hints, &mut sink)?;
        if again.content_hash != self.report.content_hash {
            return Err(ProcessError::Changed { path: self.path.clone() });
        }
        Ok(())
    }
}

/// Reads all files and all members of archives, in parallel; the result is in the order of `paths`, members in the
/// order of their archive. `done` is called once for each path.
///
/// # Errors
/// Where a file that was read cannot be read again with a better clock. A file that cannot be read at all is of no known
/// kind, and its report says why, so that the others are not lost with it.
pub fn all(
    paths: &[PathBuf],
    boat: &BoatFile,
    done: &(dyn Fn(&Path) + Sync),
) -> Result<Vec<ReadFile>, ProcessError> {
    let files: Vec<Vec<ReadFile>> = paths
        .par_iter()
        .map(|path| {
            let members = waterseam_logs::members(path).unwrap_or_else(|_| vec![Member::on_disk(path)]);
            let logs = members.par_iter().filter(|member| member.name() != BOAT_FILE_NAME);
            let read = |member| one(member, boat, ClockHints::default());
            let files =
                logs.map(|member| read(member).unwrap_or_else(|error| unreadable(member, &error))).collect();
            done(path);
            files
        })
        .collect();
    let mut files: Vec<ReadFile> = files.into_iter().flatten().collect();
    correct_dates(&mut files, boat)?;
    Ok(files)
}

/// Reads files again whose clocks are better known now that all were read.
fn correct_dates(files: &mut [ReadFile], boat: &BoatFile) -> Result<(), ProcessError> {
    let known: Vec<usize> = (0..files.len()).filter(|&file| files[file].report.kind.is_some()).collect();
    let times: Vec<FileTimes> = known.iter().filter_map(|&file| times(&files[file])).collect();
    let findings = dates::judge(&times, Bounds::of(boat));
    let found: BTreeMap<usize, Finding> =
        known.into_iter().zip(findings).filter(|(_, finding)| *finding != Finding::default()).collect();
    files.par_iter_mut().enumerate().try_for_each(|(index, file)| {
        let Some(finding) = found.get(&index) else { return Ok(()) };
        if finding.changes_times() {
            *file = one(&file.member, boat, finding.hints.clone())?;
        }
        let report = &mut file.report;
        report.remarks.extend(finding.remarks.iter().cloned());
        if finding.method.is_some() {
            (report.clock_offset_s, report.clock_offset_method) =
                (finding.offset_s(&report.clock), finding.method);
        }
        Ok(())
    })
}

fn times(file: &ReadFile) -> Option<FileTimes> {
    let report = &file.report;
    let folder = file.path.parent().and_then(Path::file_name).unwrap_or_default().to_string_lossy();
    Some(FileTimes {
        path: file.path.clone(),
        kind: report.kind?,
        span: report
            .time_first_us
            .zip(report.time_last_us)
            .map(|(first_us, last_us)| Span { first_us, last_us }),
        clock: report.clock.clone(),
        named_us: date_in_name(&report.file_name).or_else(|| date_in_name(&folder)),
    })
}

fn one(member: &Member, boat: &BoatFile, hints: ClockHints) -> Result<ReadFile, ProcessError> {
    let mut census = Census {
        fixes: Spans::new((boat.trip_gap_s * US_PER_S as f64) as i64),
        collected: Collected::default(),
        overflowed: false,
    };
    let report = member.read_with(boat, &hints, &mut census)?;
    let Collected { observations, bites, gear, set_aside } = census.collected;
    Ok(ReadFile {
        path: member.shown_path(),
        member: member.clone(),
        report,
        fixes: census.fixes.finish(),
        bites,
        gear,
        set_aside,
        observations: (!census.overflowed).then_some(observations),
        hints,
    })
}

/// The account of a file that cannot be read.
fn unreadable(member: &Member, error: &ProcessError) -> ReadFile {
    let said = error.to_string();
    let path = format!("{}: ", member.shown_path().display());
    let described = said.strip_prefix(&path).unwrap_or(&said).to_owned();
    ReadFile {
        path: member.shown_path(),
        member: member.clone(),
        report: SourceReport { file_name: member.name().to_owned(), described, ..SourceReport::default() },
        fixes: Vec::new(),
        bites: Vec::new(),
        gear: Vec::new(),
        set_aside: Vec::new(),
        hints: ClockHints::default(),
        observations: Some(Vec::new()),
    }
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

        // … and other bytes are not taken for the same file
        let read = all(&paths[1..], &BoatFile::default(), &|_| {}).unwrap();
        let unkept = ReadFile { observations: None, ..read.into_iter().next().unwrap() };
        std::fs::write(&paths[1], &log[..20]).unwrap();
        let changed = unkept.observations_within(unkept.fixes[0], &BoatFile::default(), &mut again);
        assert!(matches!(changed, Err(ProcessError::Changed { .. })));
    }
}
