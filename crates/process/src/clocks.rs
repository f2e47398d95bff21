//! Whose clock is off, and by how much? Probe logs and notes are moved to GPS time before anything is made of them.

mod notes;
mod words;

use std::collections::BTreeMap;

use rayon::prelude::*;
use waterseam_clocks::{Aligned, Boat, Boundary, Evidence, Grade, LineEvent, Sample, samples};
use waterseam_logs::boat::BoatFile;
use waterseam_units::time::US_PER_S;

use crate::ProcessError;
use crate::card;
use crate::read::{Move, Moves, ReadFile, Retimed};
use crate::settings;
use crate::shelf::Shelf;
use crate::span::{Span, join};

/// How a clock is known that the captain vouches for.
const BOAT_FILE: &str = "boat_file";

/// Lines up the clocks of all probe logs and notes with the positions of the other files, and writes into
/// their reports what was found. A clock that the boat file settles is moved as it says.
///
/// # Errors
/// Where readings cannot be kept, or not be read from where they are kept.
pub fn align(files: &mut [ReadFile], boat: &BoatFile, shelf: &Shelf) -> Result<(), ProcessError> {
    let gap_us = (boat.trip_gap_s * US_PER_S as f64) as i64;
    notes::align(files, boat, shelf, gap_us)?;
    let seen: &[ReadFile] = files;
    let days =
        join(seen.iter().filter(|f| !f.is_probe_log).flat_map(|f| f.fixes.iter().copied()).collect(), gap_us);
    let gear = gear_events(seen, boat, gap_us);
    let found: Result<Vec<Option<Found>>, ProcessError> =
        (0..seen.len()).into_par_iter().map(|file| find(file, seen, (&days, &gear), boat, shelf)).collect();
    for (file, found) in files.iter_mut().zip(found?) {
        if let Some(found) = found {
            apply(file, found);
        }
    }
    Ok(())
}

/// What was found about the clock of a probe log.
enum Found {
    /// The boat file says it, s.
    Stated(f64, Retimed),
    /// Segment by segment, and what is to be moved if anything is.
    Aligned(Vec<Aligned>, Option<Retimed>),
}

/// Seconds that the boat file gives for a file of a kind.
fn stated_s(file: &ReadFile, of_kind: Option<f64>, boat: &BoatFile) -> Option<f64> {
    boat.clocks.files_s.get(&file.report.file_name).copied().or(of_kind)
}

fn find(
    file: usize,
    files: &[ReadFile],
    (days, gear): (&[Span], &[GearEvent]),
    boat: &BoatFile,
    shelf: &Shelf,
) -> Result<Option<Found>, ProcessError> {
    let (own, gap_us) = (&files[file], (boat.trip_gap_s * US_PER_S as f64) as i64);
    if !own.is_probe_log {
        return Ok(None);
    }
    let observations = own.observations(shelf)?;
    if let Some(seconds) = stated_s(own, boat.clocks.probe_s, boat) {
        let added_us = (seconds * US_PER_S as f64).round() as i64;
        let moves = Moves::new(vec![(0, Move::Add(added_us))]);
        return Ok(Some(Found::Stated(seconds, Retimed::new(observations, gap_us, &moves, shelf)?)));
    }
    if days.is_empty() {
        return Ok(None);
    }
    let (samples, sample_of) = samples(&observations);
    let settings = settings::clocks(boat);
    let mut segments = Vec::new();
    for chapter in chapters(&samples, days, &settings) {
        let log = &samples[chapter.samples.clone()];
        let mut record = Record { boat: Boat::default(), lines: Vec::new() };
        for day in &chapter.days {
            record.add(*day, files, gear, shelf)?;
        }
        let aligned = waterseam_clocks::align(log, &record.boat, &record.lines, &settings);
        segments.extend(aligned.into_iter().map(|aligned| Aligned {
            samples: aligned.samples.start + chapter.samples.start
                ..aligned.samples.end + chapter.samples.start,
            ..aligned
        }));
    }
    let retimed = segments
        .iter()
        .any(Aligned::is_off)
        .then(|| Retimed::new(observations, gap_us, &moves(&segments, &sample_of), shelf))
        .transpose()?;
    Ok(Some(Found::Aligned(segments, retimed)))
}

/// How the observations move with the segments of their samples.
fn moves(segments: &[Aligned], sample_of: &[usize]) -> Moves {
    let mut found: Vec<(usize, Move)> = Vec::new();
    for (at, sample) in sample_of.iter().enumerate() {
        let segment = segments.iter().find(|segment| segment.samples.contains(sample));
        let own = segment
            .filter(|segment| segment.is_off())
            .map_or(Move::Stay, |segment| Move::Aligned(segment.clone()));
        if found.last().is_none_or(|(_, last)| *last != own) {
            found.push((at, own));
        }
    }
    Moves::new(found)
}

/// Samples that are compared with the same days.
struct Chapter {
    samples: std::ops::Range<usize>,
    days: Vec<Span>,
}

/// Cuts a log of many days into stretches that the same days of the boat may explain. A segment with an unbelievable
/// date goes with the one before it, else with the one behind it.
fn chapters(samples: &[Sample], days: &[Span], settings: &waterseam_clocks::Settings) -> Vec<Chapter> {
    let reach_us = (settings.offset_max_s * US_PER_S as f64) as i64;
    let mut chapters: Vec<Chapter> = Vec::new();
    for (range, boundary) in waterseam_clocks::segments(samples, settings) {
        let times = || samples[range.clone()].iter().map(|s| (s.time_s * US_PER_S as f64) as i64);
        let own = Span { first_us: times().min().unwrap_or(0), last_us: times().max().unwrap_or(0) };
        let within: Vec<Span> = days
            .iter()
            .copied()
            .filter(|day| {
                day.reaches(own.first_us, reach_us)
                    || day.reaches(own.last_us, reach_us)
                    || day.overlaps(&own)
            })
            .collect();
        match chapters.last_mut() {
            Some(last) if within.is_empty() || last.days == within => last.samples.end = range.end,
            Some(last) if last.days.is_empty() && boundary != Boundary::Start => {
                last.samples.end = range.end;
                last.days = within;
            }
            _ => chapters.push(Chapter { samples: range, days: within }),
        }
    }
    for chapter in &mut chapters {
        // a log with no believable date at all belongs to the only day there is
        if let (true, [only]) = (chapter.days.is_empty(), days) {
            chapter.days.push(*only);
        }
    }
    chapters
}

/// A line that went in or came out, by a gear log.
struct GearEvent {
    time_us: i64,
    /// Rods are numbered by their names.
    rod: usize,
    goes_in: bool,
}

/// What all gear logs say, in order of time. A clock time alone is of the day that its folder is of.
fn gear_events(files: &[ReadFile], boat: &BoatFile, gap_us: i64) -> Vec<GearEvent> {
    let days = join(files.iter().flat_map(|file| file.fixes.iter().copied()).collect(), gap_us);
    let folders = card::Folders::new(files, &days);
    let (mut rods, mut events) = (BTreeMap::<&str, usize>::new(), Vec::new());
    for file in files.iter().filter(|file| !file.gear.is_empty()) {
        let own_days = folders.days(&file.path);
        for entry in &file.gear {
            let n = rods.len();
            let rod = *rods.entry(&entry.rod).or_insert(n);
            for (time, goes_in) in [(entry.start, true), (entry.end, false)] {
                let time_us = time.and_then(|time| {
                    let day = card::day_of(time, &days, own_days).ok()?;
                    card::instant(time, &boat.time_zone, day)
                });
                events.extend(time_us.map(|time_us| GearEvent { time_us, rod, goes_in }));
            }
        }
    }
    events.sort_by_key(|event| event.time_us);
    events
}

/// The boat's own record of some days.
struct Record {
    boat: Boat,
    lines: Vec<LineEvent>,
}

impl Record {
    fn add(
        &mut self,
        day: Span,
        files: &[ReadFile],
        gear: &[GearEvent],
        shelf: &Shelf,
    ) -> Result<(), ProcessError> {
        let mut observations = Vec::new();
        let is_of_day = |file: &&ReadFile| file.fixes.iter().any(|span| span.overlaps(&day));
        for other in files.iter().filter(|file| !file.is_probe_log).filter(is_of_day) {
            other.some_within(day, shelf, Boat::asks_for, |observation| observations.push(observation))?;
        }
        self.boat.add(&mut observations);
        let from = gear.partition_point(|event| event.time_us < day.first_us);
        let of_day = gear[from..].iter().take_while(|event| event.time_us <= day.last_us);
        self.lines.extend(of_day.map(|event| LineEvent {
            time_s: event.time_us as f64 / US_PER_S as f64,
            rod: event.rod,
            goes_in: event.goes_in,
        }));
        Ok(())
    }
}

/// Moves the observations of a file and writes into its report why.
fn apply(file: &mut ReadFile, found: Found) {
    match found {
        Found::Stated(seconds, retimed) => {
            file.retime(retimed);
            let report = &mut file.report;
            report.clock_offset_s = Some(report.clock_offset_s.unwrap_or(0.0) + seconds);
            report.clock_offset_method = Some(BOAT_FILE);
        }
        Found::Aligned(segments, retimed) => {
            if let Some(retimed) = retimed {
                file.retime(retimed);
            }
            let report = &mut file.report;
            match &segments[..] {
                [only] if only.is_off() => {
                    let offset_s = (only.offset_s * 10.0).round() / 10.0;
                    report.clock_offset_s = Some(report.clock_offset_s.unwrap_or(0.0) + offset_s);
                }
                many if many.iter().any(Aligned::is_off) => report.clock_offset_s = None,
                _ => {}
            }
            let strongest = segments.iter().filter(|s| s.is_off()).max_by_key(|s| s.samples.len());
            if let Some(evidence) = strongest.and_then(|segment| segment.evidence) {
                report.clock_offset_method = Some(evidence.word());
            }
            report.remarks.extend(words::remarks(&segments, &report.file_name));
        }
    }
}

/// Whether anything spoke about a segment without being clear.
fn is_unclear(segment: &Aligned) -> bool {
    segment.grade == Grade::Ambiguous && segment.evidence.is_some_and(|e| e != Evidence::Continuity)
}
