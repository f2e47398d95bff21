//! The main job: files in, trips in the logbook.

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

use rayon::prelude::*;
use waterseam_logs::boat::BoatFile;
use waterseam_logs::{GearEntry, NoteTime, SetAside, SourceReport};
use waterseam_tables::{LogbookWriter, Outcome, TripTables};
use waterseam_track::Trip;
use waterseam_units::time::US_PER_S;

use crate::card::{self, Batch, Card};
use crate::read::{self, ReadFile};
use crate::span::Span;
use crate::supersede::{self, Decision, Held};
use crate::{ProcessError, clocks, files, settings, trip};

/// Observations this close to a day's first and last position are read with it.
const MARGIN_US: i64 = 60 * US_PER_S;

/// What to process.
#[derive(Clone, Copy, Debug)]
pub struct Request<'a> {
    /// Files and folders.
    pub inputs: &'a [PathBuf],
    /// Settings of the boat.
    pub boat: &'a BoatFile,
    /// Folder of the logbook.
    pub logbook: &'a Path,
}

/// What came of it.
#[derive(Debug)]
pub struct Done<T> {
    /// Trips in order of time.
    pub trips: Vec<DoneTrip<T>>,
    /// Files that are no log that can be read, with what they look like.
    pub unknown: Vec<(PathBuf, String)>,
    /// Files with the same content as another, which were read once.
    pub copies: Vec<PathBuf>,
    /// Files of a known kind that no trip could use, with the reason in words.
    pub idle: Vec<(PathBuf, String)>,
    /// Notes that belong to no trip: file, line and reason.
    pub unplaced: Vec<(PathBuf, u64, &'static str)>,
}

/// What came of a trip.
#[derive(Debug)]
pub struct DoneTrip<T> {
    /// Its id.
    pub trip_id: String,
    /// What the logbook did with it.
    pub kept: Kept,
    /// What `show` made of the tables that the logbook now holds.
    pub shown: T,
}

/// What the logbook did with a trip.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Kept {
    /// It is new.
    Added,
    /// The logbook held exactly this already.
    Unchanged,
    /// It took the place of what the logbook held of that time.
    Replaced,
    /// The logbook holds a trip of that time that rests on files which are not there now; it stays.
    HeldIsRicher {
        /// Files that are missing now.
        missing: Vec<String>,
    },
}

/// Runs the main job. `found` is called with the number of files, `done` for each file that has been read, `show`
/// for each trip; the last two from several threads.
///
/// # Errors
/// Where an input cannot be read, no file is of a known kind, or the logbook cannot be written. Trips that are in the
/// logbook by then stay there whole.
pub fn run<T: Send>(
    request: &Request,
    found: &dyn Fn(usize),
    done: &(dyn Fn(&Path) + Sync),
    show: &(dyn Fn(&TripTables) -> T + Sync),
) -> Result<Done<T>, ProcessError> {
    let paths = files::find(request.inputs, Some(request.logbook))?;
    if paths.is_empty() {
        return Err(ProcessError::NoFile);
    }
    found(paths.len());
    let (mut files, copies) = without_copies(read::all(&paths, request.boat, done)?);
    let unknown: Vec<(PathBuf, String)> = files
        .iter()
        .filter(|file| file.report.kind.is_none())
        .map(|file| (file.path.clone(), file.report.described.clone()))
        .collect();
    if unknown.len() == files.len() {
        return Err(ProcessError::NothingKnown { unknown });
    }
    clocks::align(&mut files, request.boat)?;
    let card = card::sort(&files, (request.boat.trip_gap_s * US_PER_S as f64) as i64);
    account_for_unplaced(&card, &mut files);

    let writer = LogbookWriter::open_or_create(request.logbook)?;
    let held = supersede::held(writer.logbook().read_table(None)?, &writer.logbook().read_table(None)?);
    let ground = Ground { files: &files, boat: request.boat, writer: &writer, held: &held };
    let trips: Result<Vec<Vec<DoneTrip<T>>>, ProcessError> =
        card.batches.par_iter().map(|batch| ground.batch(batch, show)).collect();
    let path = |file: usize| files[file].path.clone();
    Ok(Done {
        trips: trips?.into_iter().flatten().collect(),
        unknown,
        copies,
        idle: card.idle_files.iter().map(|&file| (path(file), why_idle(&files[file].report))).collect(),
        unplaced: card.unplaced.iter().map(|note| (path(note.file), note.line, note.reason)).collect(),
    })
}

fn without_copies(files: Vec<ReadFile>) -> (Vec<ReadFile>, Vec<PathBuf>) {
    let mut seen = BTreeSet::new();
    let (first, copies): (Vec<_>, Vec<_>) = files
        .into_iter()
        .partition(|file| file.report.bytes == 0 || seen.insert(file.report.content_hash.clone()));
    (first, copies.into_iter().map(|file| file.path).collect())
}

/// Why no trip could use a file: nothing in it could be used, or nothing says where the boat was then.
fn why_idle(report: &SourceReport) -> String {
    if report.records_used > 0 {
        return "nothing says where the boat was at the time of this file".to_owned();
    }
    let reasons: Vec<String> =
        report.set_aside.iter().map(|(reason, n)| format!("{n} {}", reason.replace('_', " "))).collect();
    let what = if reasons.is_empty() { "it holds no record".to_owned() } else { reasons.join(", ") };
    let remarks: String = report.remarks.iter().map(|remark| format!("\n  {remark}")).collect();
    format!("nothing in it could be used: {what}{remarks}")
}

/// Notes that no day takes move from the used records of their file to those set aside.
fn account_for_unplaced(card: &Card, files: &mut [ReadFile]) {
    for note in &card.unplaced {
        let file = &mut files[note.file];
        file.report.records_used = file.report.records_used.saturating_sub(1);
        *file.report.set_aside.entry(note.reason).or_default() += 1;
        let raw = trip::line_of(&file.member, note.line);
        file.set_aside.push(SetAside { line: note.line, byte: raw.byte, reason: note.reason, raw: raw.text });
    }
}

struct Ground<'a> {
    files: &'a [ReadFile],
    boat: &'a BoatFile,
    writer: &'a LogbookWriter,
    held: &'a [Held],
}

impl Ground<'_> {
    fn batch<T>(
        &self,
        batch: &Batch,
        show: &(dyn Fn(&TripTables) -> T + Sync),
    ) -> Result<Vec<DoneTrip<T>>, ProcessError> {
        let Some(span) = batch.span() else { return Ok(Vec::new()) };
        let wide = Span { first_us: span.first_us - MARGIN_US, last_us: span.last_us + MARGIN_US };
        let mut observations = Vec::new();
        for &file in &batch.files {
            self.files[file].observations_within(wide, self.boat, &mut observations)?;
        }
        let given = observations.len();
        let waterseam_track::Batch { mut trips, outside } =
            waterseam_track::trips(observations, &settings::track(self.boat));
        // a few readings before the first fix are ordinary and not worth a line
        if let Some(first) = trips.first_mut().filter(|_| outside * 100 > given) {
            first.remarks.push(format!(
                "{outside} of {given} readings came at times without a position; they are in no trip."
            ));
        }
        let spans: Vec<Span> = trips.iter().filter_map(span_of).collect();
        let mut bites = by_trip(&batch.bites, |note| Some(note.time), &spans, span, self.boat);
        let mut gear =
            by_trip(&batch.gear, |entry: &GearEntry| entry.start.or(entry.end), &spans, span, self.boat);
        trips
            .into_iter()
            .enumerate()
            .map(|(index, one)| {
                let bites = bites.remove(&index).unwrap_or_default();
                let gear = gear.remove(&index).unwrap_or_default();
                let material =
                    trip::Material { trip: one, span: spans[index], files: self.files, batch, bites, gear };
                let tables = trip::tables(&material, self.boat);
                self.keep(&tables, spans[index], show)
            })
            .collect()
    }

    fn keep<T>(
        &self,
        tables: &TripTables,
        span: Span,
        show: &(dyn Fn(&TripTables) -> T + Sync),
    ) -> Result<DoneTrip<T>, ProcessError> {
        let trip_id = tables.trips[0].trip_id.clone();
        match supersede::decide(&trip_id, span, &tables.sources, self.held) {
            Decision::Keep { trip_id, missing } => {
                let shown = show(&self.writer.logbook().read_trip(&trip_id)?);
                Ok(DoneTrip { trip_id, kept: Kept::HeldIsRicher { missing }, shown })
            }
            Decision::Write { instead_of } => {
                let outcome = self.writer.write_trip(tables)?;
                // the new trip is in place before the old one goes: a run that ends between holds too much, never too little
                for old in &instead_of {
                    self.writer.forget(old)?;
                }
                let kept = match outcome {
                    Outcome::Unchanged => Kept::Unchanged,
                    Outcome::Added if instead_of.is_empty() => Kept::Added,
                    Outcome::Added | Outcome::Replaced => Kept::Replaced,
                };
                Ok(DoneTrip { trip_id, kept, shown: show(tables) })
            }
        }
    }
}

fn span_of(trip: &Trip) -> Option<Span> {
    let times = &trip.track.time_us;
    Some(Span { first_us: *times.first()?, last_us: *times.last()? })
}

/// Notes by the index of the trip that is nearest in time.
fn by_trip<N: Clone>(
    notes: &[(usize, N)],
    time: impl Fn(&N) -> Option<NoteTime>,
    trips: &[Span],
    batch: Span,
    boat: &BoatFile,
) -> BTreeMap<usize, Vec<(usize, N)>> {
    let mut sorted: BTreeMap<usize, Vec<(usize, N)>> = BTreeMap::new();
    for (file, note) in notes {
        let instant =
            time(note).and_then(|time| card::instant(time, &boat.time_zone, batch)).unwrap_or(batch.first_us);
        let outside = |span: &Span| (span.first_us - instant).max(instant - span.last_us).max(0);
        if let Some(trip) = (0..trips.len()).min_by_key(|&trip| outside(&trips[trip])) {
            sorted.entry(trip).or_default().push((*file, note.clone()));
        }
    }
    sorted
}
