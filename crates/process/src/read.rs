//! Reads every file once: what is it, when was it, and what does it say?

use std::borrow::Cow;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicUsize, Ordering};

use rayon::prelude::*;
use waterseam_clocks::Aligned;
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

/// Observations of all files that are kept in memory after the first reading (56 bytes each). Where there are more, none
/// are, and every file is read again when its day is worked on, so that memory does not grow with the card.
const KEPT_OBSERVATIONS: usize = 3_000_000;

/// Observations of one file above which its days are worked on together, so that it is not read again for each.
const LONG_FILE: usize = 4_000_000;

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
    n_observations: usize,
    observations: Option<Vec<Observation>>,
    /// By how much its times are moved when it is read again.
    moves: Moves,
    /// What is known of its clock from the whole of it and from other files.
    hints: ClockHints,
}

impl ReadFile {
    /// All observations in file order.
    ///
    /// # Errors
    /// As [`observations_within`](Self::observations_within).
    pub fn observations(&self, boat: &BoatFile) -> Result<Cow<'_, [Observation]>, ProcessError> {
        if let Some(kept) = &self.observations {
            return Ok(Cow::Borrowed(kept));
        }
        let mut all = Vec::with_capacity(self.n_observations);
        self.observations_within(Span { first_us: i64::MIN, last_us: i64::MAX }, boat, &mut all)?;
        Ok(Cow::Owned(all))
    }

    /// Gives every observation another time.
    pub(crate) fn retime(&mut self, retimed: Retimed) {
        match &mut self.observations {
            Some(kept) => retimed.moves.apply(kept),
            None => self.moves = retimed.moves,
        }
        self.fixes = retimed.fixes;
        self.report.time_first_us = retimed.first_us;
        self.report.time_last_us = retimed.last_us;
    }

    /// Whether it says where the boat was.
    pub fn has_track(&self) -> bool {
        !self.fixes.is_empty()
    }

    /// Whether it is so long that it is not read again for each of its days.
    pub fn is_long(&self) -> bool {
        self.n_observations > LONG_FILE
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
        let mut sink = Within { span, moves: self.moves.one_by_one(), into };
        let again = self.member.read_with(boat, &self.hints, &mut sink)?;
        if again.content_hash != self.report.content_hash {
            return Err(ProcessError::Changed { path: self.path.clone() });
        }
        Ok(())
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

    /// The new time of each observation, in the order of the file, asked for one after the other.
    fn one_by_one(&self) -> impl FnMut(i64) -> i64 + '_ {
        let (mut at, mut left, mut now) = (0, &self.0[..], &Move::Stay);
        move |time_us| {
            while let Some(((_, next), rest)) = left.split_first().filter(|((from, _), _)| *from <= at) {
                (now, left) = (next, rest);
            }
            at += 1;
            now.of(time_us)
        }
    }

    fn apply(&self, observations: &mut [Observation]) {
        let mut moved = self.one_by_one();
        for observation in observations {
            observation.time_us = moved(observation.time_us);
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
    moves: Moves,
    fixes: Vec<Span>,
    first_us: Option<i64>,
    last_us: Option<i64>,
}

impl Retimed {
    /// Of all the observations of a file, with the times that they have so far.
    pub(crate) fn new(observations: &[Observation], gap_us: i64, moves: Moves) -> Self {
        let (mut fixes, mut first_us, mut last_us) = (Spans::new(gap_us), None, None);
        let mut moved = moves.one_by_one();
        for observation in observations {
            let time_us = moved(observation.time_us);
            if matches!(observation.value, Value::Fix { .. }) {
                fixes.add(time_us);
            }
            first_us = Some(first_us.map_or(time_us, |first_us: i64| first_us.min(time_us)));
            last_us = last_us.max(Some(time_us));
        }
        drop(moved);
        Self { fixes: fixes.finish(), first_us, last_us, moves }
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
    let kept = AtomicUsize::new(0);
    let files: Vec<Vec<ReadFile>> = paths
        .par_iter()
        .map(|path| {
            let members = waterseam_logs::members(path).unwrap_or_else(|_| vec![Member::on_disk(path)]);
            let logs = members.par_iter().filter(|member| member.name() != BOAT_FILE_NAME);
            let read = |member| one(member, boat, ClockHints::default(), &kept);
            let files =
                logs.map(|member| read(member).unwrap_or_else(|error| unreadable(member, &error))).collect();
            done(path);
            files
        })
        .collect();
    let mut files: Vec<ReadFile> = files.into_iter().flatten().collect();
    // which of them came too late depends on the threads; whether any did, does not
    if files.iter().map(|file| file.n_observations).sum::<usize>() > KEPT_OBSERVATIONS {
        for file in &mut files {
            file.observations = None;
        }
    }
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
            // what is in memory stays there, and nothing else comes to it
            let kept = AtomicUsize::new(if file.observations.is_some() { 0 } else { KEPT_OBSERVATIONS });
            *file = one(&file.member, boat, finding.hints.clone(), &kept)?;
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

/// Reads a file. `kept` is the number of observations in memory so far, of this file and others.
fn one(
    member: &Member,
    boat: &BoatFile,
    hints: ClockHints,
    kept: &AtomicUsize,
) -> Result<ReadFile, ProcessError> {
    let mut census = Census {
        fixes: Spans::new((boat.trip_gap_s * US_PER_S as f64) as i64),
        collected: Collected::default(),
        is_probe_log: false,
        n_observations: 0,
        kept,
        has_room: true,
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
        is_probe_log: census.is_probe_log,
        n_observations: census.n_observations,
        observations: (census.n_observations == observations.len()).then_some(observations),
        moves: Moves::default(),
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
        is_probe_log: false,
        n_observations: 0,
        observations: Some(Vec::new()),
        moves: Moves::default(),
    }
}

/// Keeps everything, but observations only as long as there is room.
struct Census<'a> {
    fixes: Spans,
    collected: Collected,
    is_probe_log: bool,
    n_observations: usize,
    kept: &'a AtomicUsize,
    has_room: bool,
}

/// Observations that are counted together, so that threads seldom meet.
const COUNTED_AT_ONCE: usize = 256;

impl Sink for Census<'_> {
    fn observation(&mut self, observation: Observation) {
        match observation.value {
            Value::Fix { .. } => self.fixes.add(observation.time_us),
            Value::Probe { .. } => self.is_probe_log = true,
            _ => {}
        }
        self.n_observations += 1;
        // counted when they are there: more than are kept are counted only where there are more
        if self.has_room && self.n_observations.is_multiple_of(COUNTED_AT_ONCE) {
            self.has_room = self.kept.fetch_add(COUNTED_AT_ONCE, Ordering::Relaxed) < KEPT_OBSERVATIONS;
            if !self.has_room {
                self.collected.observations = Vec::new();
            }
        }
        if self.has_room {
            self.collected.observations.push(observation);
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
struct Within<'a, M> {
    span: Span,
    moves: M,
    into: &'a mut Vec<Observation>,
}

impl<M: FnMut(i64) -> i64> Sink for Within<'_, M> {
    fn observation(&mut self, mut observation: Observation) {
        observation.time_us = (self.moves)(observation.time_us);
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

    #[test]
    fn times_that_were_moved_are_moved_again_when_a_file_is_read_again() {
        let rows: String = (0..60).map(|s| format!("2026-06-14T05:12:{s:02}Z,{s},8\n")).collect();
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("probe.csv");
        std::fs::write(&path, format!("time,depth_m,temp_c\n{rows}")).unwrap();
        let boat = BoatFile::default();
        let read = || all(std::slice::from_ref(&path), &boat, &|_| {}).unwrap().remove(0);
        let (mut kept, mut unkept) = (read(), ReadFile { observations: None, ..read() });
        let before = kept.observations(&boat).unwrap().to_vec();
        let moves = || {
            let segment = Aligned {
                samples: 20..60,
                grade: Grade::Certain,
                evidence: None,
                offset_s: -3600.0,
                drift: 1e-5,
                at_s: 1_781_413_923.0,
                se_s: 0.5,
            };
            Moves::new(vec![(0, Move::Stay), (10, Move::Add(7_000_000)), (20, Move::Aligned(segment))])
        };
        for file in [&mut kept, &mut unkept] {
            file.retime(Retimed::new(&before, 60_000_000, moves()));
        }
        let (one, other) = (kept.observations(&boat).unwrap(), unkept.observations(&boat).unwrap());
        assert_eq!(one, other);
        let moved: Vec<i64> = one.iter().zip(&before).map(|(now, was)| now.time_us - was.time_us).collect();
        assert!(moved[..10].iter().all(|us| *us == 0) && moved[10..20].iter().all(|us| *us == 7_000_000));
        assert!(moved[20..].iter().all(|us| (us + 3_600_000_000).abs() <= 100_000));
        assert_eq!(kept.report.time_last_us, unkept.report.time_last_us);
    }
}
