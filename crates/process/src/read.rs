//! Reads every file once: what is it, when was it, and what does it say?

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use rayon::prelude::*;
use waterseam_clocks::Aligned;
use waterseam_logs::boat::BoatFile;
use waterseam_logs::{
    BiteNote, ClockHints, GearEntry, Member, Observation, ReadError, SetAside, Sink, SourceReport, Value,
    date_in_name,
};
use waterseam_units::time::US_PER_S;

use crate::ProcessError;
use crate::dates::{self, Bounds, FileTimes, Finding};
use crate::files::BOAT_FILE_NAME;
use crate::shelf::{Packed, Packer, Shelf};
use crate::span::{Span, Spans};

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
    /// Whether it holds samples with depths.
    pub is_probe_log: bool,
    readings: Packed,
}

impl ReadFile {
    /// All observations in file order.
    ///
    /// # Errors
    /// As [`observations_within`](Self::observations_within).
    pub fn observations(&self, shelf: &Shelf) -> Result<Vec<Observation>, ProcessError> {
        let always = Span { first_us: i64::MIN, last_us: i64::MAX };
        let mut all = Vec::with_capacity(self.most_within(always));
        self.observations_within(always, shelf, |observation| all.push(observation))?;
        Ok(all)
    }

    /// Gives every observation another time.
    pub(crate) fn retime(&mut self, retimed: Retimed) {
        self.readings = retimed.readings;
        self.fixes = retimed.fixes;
        self.report.time_first_us = retimed.first_us;
        self.report.time_last_us = retimed.last_us;
    }

    /// Whether it says where the boat was.
    pub fn has_track(&self) -> bool {
        !self.fixes.is_empty()
    }

    /// How many observations it may have in a stretch of time, at most.
    pub fn most_within(&self, span: Span) -> usize {
        self.readings.most_within(span)
    }

    /// Gives the observations of a stretch of time away, in file order.
    ///
    /// # Errors
    /// Where what was put on the shelf cannot be read.
    pub fn observations_within(
        &self,
        span: Span,
        shelf: &Shelf,
        give: impl FnMut(Observation),
    ) -> Result<(), ProcessError> {
        self.readings.within(span, shelf, give)
    }

    /// The same of those kinds of values that are asked for; `asks` sees them without their numbers.
    ///
    /// # Errors
    /// As [`observations_within`](Self::observations_within).
    pub fn some_within(
        &self,
        span: Span,
        shelf: &Shelf,
        asks: impl Fn(&Value) -> bool,
        give: impl FnMut(Observation),
    ) -> Result<(), ProcessError> {
        self.readings.some_within(span, shelf, asks, give)
    }
}

/// Times that are moved, by the place of an observation in its file.
#[derive(Clone, Debug, Default)]
pub(crate) struct Moves(Vec<(usize, Move)>);

/// What is made of a time.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Move {
    /// It stays.
    Stay,
    /// So many µs are added.
    Add(i64),
    /// It becomes the GPS time of a segment, to tenths of a second: an error of a second is not made smaller by more
    /// digits.
    Aligned(Aligned),
}

impl Moves {
    /// Each move holds from its observation on, until that of the next; they are in rising order.
    pub(crate) fn new(from: Vec<(usize, Move)>) -> Self {
        Self(from)
    }

    fn apply(&self, observations: &mut [Observation]) {
        let (mut left, mut now) = (&self.0[..], &Move::Stay);
        for (at, observation) in observations.iter_mut().enumerate() {
            while let Some(((_, next), rest)) = left.split_first().filter(|((from, _), _)| *from <= at) {
                (now, left) = (next, rest);
            }
            observation.time_us = now.of(observation.time_us);
        }
    }
}

impl Move {
    fn of(&self, time_us: i64) -> i64 {
        match self {
            Self::Stay => time_us,
            Self::Add(us) => time_us + us,
            Self::Aligned(segment) => {
                let moved_s = segment.gps_s(time_us as f64 / US_PER_S as f64);
                (moved_s * 10.0).round() as i64 * (US_PER_S / 10)
            }
        }
    }
}

/// What is known of a file once its times are moved.
pub(crate) struct Retimed {
    readings: Packed,
    fixes: Vec<Span>,
    first_us: Option<i64>,
    last_us: Option<i64>,
}

impl Retimed {
    /// Of all the observations of a file, with the times that they have so far.
    ///
    /// # Errors
    /// Where the disk has no room for what memory has none for.
    pub(crate) fn new(
        mut observations: Vec<Observation>,
        gap_us: i64,
        moves: &Moves,
        shelf: &Shelf,
    ) -> Result<Self, ProcessError> {
        moves.apply(&mut observations);
        let (mut fixes, mut readings) = (Spans::new(gap_us), shelf.packer());
        let times = || observations.iter().map(|observation| observation.time_us);
        let (first_us, last_us) = (times().min(), times().max());
        for observation in &observations {
            if matches!(observation.value, Value::Fix { .. }) {
                fixes.add(observation.time_us);
            }
        }
        readings.extend(&observations);
        Ok(Self { readings: readings.finish()?, fixes: fixes.finish(), first_us, last_us })
    }
}

/// Reads all files and all members of archives, in parallel; the result is in the order of `paths`, members in the
/// order of their archive. `done` is called once for each path.
///
/// # Errors
/// Where a file that was read cannot be read again with a better clock, or the disk has no room for what memory has none
/// for. A file that cannot be read at all is of no known kind, and its report says why, so that the others are not lost
/// with it.
pub fn all(
    paths: &[PathBuf],
    boat: &BoatFile,
    shelf: &Shelf,
    done: &(dyn Fn(&Path) + Sync),
) -> Result<Vec<ReadFile>, ProcessError> {
    let files: Result<Vec<Vec<ReadFile>>, ProcessError> = paths
        .par_iter()
        .map(|path| {
            let members = waterseam_logs::members(path).unwrap_or_else(|_| vec![Member::on_disk(path)]);
            let logs = members.par_iter().filter(|member| member.name() != BOAT_FILE_NAME);
            let read = |member| match one(member, boat, &ClockHints::default(), shelf) {
                Err(ProcessError::Read(error)) => Ok(unreadable(member, &error)),
                read => read,
            };
            let files = logs.map(read).collect();
            done(path);
            files
        })
        .collect();
    let mut files: Vec<ReadFile> = files?.into_iter().flatten().collect();
    correct_dates(&mut files, boat, shelf)?;
    Ok(files)
}

/// Reads files again whose clocks are better known now that all were read.
fn correct_dates(files: &mut [ReadFile], boat: &BoatFile, shelf: &Shelf) -> Result<(), ProcessError> {
    let known: Vec<usize> = (0..files.len()).filter(|&file| files[file].report.kind.is_some()).collect();
    let times: Vec<FileTimes> = known.iter().filter_map(|&file| times(&files[file])).collect();
    let findings = dates::judge(&times, Bounds::of(boat));
    let found: BTreeMap<usize, Finding> =
        known.into_iter().zip(findings).filter(|(_, finding)| *finding != Finding::default()).collect();
    files.par_iter_mut().enumerate().try_for_each(|(index, file)| {
        let Some(finding) = found.get(&index) else { return Ok(()) };
        if finding.changes_times() {
            *file = one(&file.member, boat, &finding.hints, shelf)?;
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

/// Reads a file.
fn one(
    member: &Member,
    boat: &BoatFile,
    hints: &ClockHints,
    shelf: &Shelf,
) -> Result<ReadFile, ProcessError> {
    let mut census = Census {
        fixes: Spans::new((boat.trip_gap_s * US_PER_S as f64) as i64),
        readings: shelf.packer(),
        bites: Vec::new(),
        gear: Vec::new(),
        set_aside: Vec::new(),
        is_probe_log: false,
    };
    let report = member.read_with(boat, hints, &mut census)?;
    let Census { fixes, readings, bites, gear, set_aside, is_probe_log } = census;
    Ok(ReadFile {
        path: member.shown_path(),
        member: member.clone(),
        report,
        fixes: fixes.finish(),
        bites,
        gear,
        set_aside,
        is_probe_log,
        readings: readings.finish()?,
    })
}

/// The account of a file that cannot be read.
fn unreadable(member: &Member, error: &ReadError) -> ReadFile {
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
        is_probe_log: false,
        readings: Packed::default(),
    }
}

/// Keeps everything.
struct Census<'a> {
    fixes: Spans,
    readings: Packer<'a>,
    bites: Vec<BiteNote>,
    gear: Vec<GearEntry>,
    set_aside: Vec<SetAside>,
    is_probe_log: bool,
}

impl Sink for Census<'_> {
    fn observation(&mut self, observation: Observation) {
        self.observations(&[observation]);
    }

    fn observations(&mut self, observations: &[Observation]) {
        for observation in observations {
            match observation.value {
                Value::Fix { .. } => self.fixes.add(observation.time_us),
                Value::Probe { .. } => self.is_probe_log = true,
                _ => {}
            }
        }
        self.readings.extend(observations);
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

#[cfg(test)]
mod tests {
    use std::io::{Cursor, Write};

    use waterseam_clocks::Grade;
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

        let shelf = Shelf::beside(dir.path());
        let files = all(&paths, &BoatFile::default(), &shelf, &|_| {}).unwrap();
        let found: Vec<_> = files.iter().map(|file| file.path.strip_prefix(dir.path()).unwrap()).collect();
        assert_eq!(found, ["card.zip/b.nmea", "card.zip/a.txt", "z.nmea"].map(Path::new));
        assert_eq!(files[0].report.content_hash, files[2].report.content_hash);
        assert_eq!(files[0].observations(&shelf).unwrap().len(), 2);
    }

    #[test]
    fn a_file_has_the_times_that_it_was_given() {
        let rows: String = (0..60).map(|s| format!("2026-06-14T05:12:{s:02}Z,{s},8\n")).collect();
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("probe.csv");
        std::fs::write(&path, format!("time,depth_m,temp_c\n{rows}")).unwrap();
        let shelf = Shelf::beside(dir.path());
        let mut file =
            all(std::slice::from_ref(&path), &BoatFile::default(), &shelf, &|_| {}).unwrap().remove(0);
        let before = file.observations(&shelf).unwrap();
        let segment = Aligned {
            samples: 20..60,
            grade: Grade::Certain,
            evidence: None,
            offset_s: -3600.0,
            drift: 1e-5,
            at_s: 1_781_413_923.0,
            se_s: 0.5,
        };
        let moves =
            Moves::new(vec![(0, Move::Stay), (10, Move::Add(7_000_000)), (20, Move::Aligned(segment))]);
        file.retime(Retimed::new(before.clone(), 60_000_000, &moves, &shelf).unwrap());
        let after = file.observations(&shelf).unwrap();
        let moved: Vec<i64> = after.iter().zip(&before).map(|(now, was)| now.time_us - was.time_us).collect();
        assert!(moved[..10].iter().all(|us| *us == 0) && moved[10..20].iter().all(|us| *us == 7_000_000));
        assert!(moved[20..].iter().all(|us| (us + 3_600_000_000).abs() <= 100_000));
        assert_eq!(file.report.time_first_us, after.iter().map(|o| o.time_us).min());
        assert_eq!(file.report.time_last_us, after.iter().map(|o| o.time_us).max());
    }
}
