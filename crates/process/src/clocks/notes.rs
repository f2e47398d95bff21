//! Are the notes off by whole hours?

use std::collections::BTreeMap;
use std::path::PathBuf;

use waterseam_clocks::notes::{Note, Verdict, asks_where, judge};
use waterseam_logs::boat::BoatFile;
use waterseam_logs::{NoteTime, Value};
use waterseam_units::LatLon;
use waterseam_units::time::US_PER_S;

use super::{BOAT_FILE, stated_s};
use crate::ProcessError;
use crate::card;
use crate::read::ReadFile;
use crate::shelf::Shelf;
use crate::span::{Span, join};

/// Seconds between the positions that noted ones are compared with.
const EVERY_US: i64 = 5 * US_PER_S;
const DAY_US: i64 = 86_400 * US_PER_S;

/// Moves the notes that the boat file settles, and those that only one whole hour brings into the trip of their
/// folder. Notes of one folder are from one phone.
pub fn align(
    files: &mut [ReadFile],
    boat: &BoatFile,
    shelf: &Shelf,
    gap_us: i64,
) -> Result<(), ProcessError> {
    let mut folders: BTreeMap<PathBuf, Vec<usize>> = BTreeMap::new();
    let has_notes = |file: &ReadFile| !file.bites.is_empty() || !file.gear.is_empty();
    for (at, file) in files.iter_mut().enumerate().filter(|(_, file)| has_notes(file)) {
        if let Some(seconds) = stated_s(file, boat.clocks.notes_s, boat) {
            shift(file, seconds, BOAT_FILE);
        } else {
            let folder = file.path.parent().map(ToOwned::to_owned).unwrap_or_default();
            folders.entry(folder).or_default().push(at);
        }
    }
    let days = join(files.iter().flat_map(|file| file.fixes.iter().copied()).collect(), gap_us);
    let mut spans: BTreeMap<PathBuf, Vec<Span>> = BTreeMap::new();
    for file in files.iter() {
        let folder = file.path.parent().map(ToOwned::to_owned).unwrap_or_default();
        spans.entry(folder).or_default().extend(&file.fixes);
    }
    for (folder, members) in folders {
        let own = join(spans.remove(&folder).unwrap_or_default(), gap_us);
        // notes of several days cannot all be off by the same hours and lie in one trip
        let day = match (&own[..], &days[..]) {
            ([day], _) | ([], [day]) => *day,
            _ => continue,
        };
        let notes: Vec<Note> = members.iter().flat_map(|&at| notes_of(&files[at], boat, day)).collect();
        let track = if asks_where(&notes) { track(files, shelf, day)? } else { ends(day) };
        match judge(&notes, &track) {
            Verdict::Fits => {}
            Verdict::Moved { offset_s, by_positions } => {
                let method = if by_positions { "positions" } else { "whole_hours" };
                let why = if by_positions {
                    "by their positions"
                } else {
                    "the only whole hour that brings them into the trip"
                };
                for at in members {
                    shift(&mut files[at], offset_s, method);
                    let hours = super::words::span(offset_s.abs());
                    let way = if offset_s > 0.0 { "later" } else { "earlier" };
                    let remark = format!("These notes were moved {hours} {way}: {why}.");
                    files[at].report.remarks.push(remark);
                }
            }
            Verdict::Unclear { hours } => {
                let which: Vec<String> = hours.iter().map(|hour| format!("{hour:+}")).collect();
                let which =
                    if which.is_empty() { String::new() } else { format!(" ({} h would)", which.join(", ")) };
                for at in members {
                    let name = files[at].report.file_name.clone();
                    files[at].report.remarks.push(format!(
                        "None of these notes lies in the trip, and no single whole hour brings them there{which}. Say what to \
                         add to their clock in the boat file: [clocks.files] \"{name}\" = \"+1 h\"."
                    ));
                }
            }
        }
    }
    Ok(())
}

fn notes_of(file: &ReadFile, boat: &BoatFile, day: Span) -> Vec<Note> {
    let note = |time: NoteTime, at: Option<LatLon>| {
        let time_us = card::instant(time, &boat.time_zone, day)?;
        Some(Note { time_s: time_us as f64 / US_PER_S as f64, at })
    };
    let bites = file.bites.iter().filter_map(|bite| note(bite.time, bite.at));
    let gear = file.gear.iter().flat_map(|entry| [entry.start, entry.end]);
    bites.chain(gear.flatten().filter_map(|time| note(time, None))).collect()
}

/// The ends of a day, where nobody asks for its positions.
fn ends(day: Span) -> Vec<(f64, LatLon)> {
    let seconds = |time_us: i64| time_us as f64 / US_PER_S as f64;
    [day.first_us, day.last_us]
        .map(|time_us| (seconds(time_us), LatLon { lat_deg: 0.0, lon_deg: 0.0 }))
        .to_vec()
}

/// Positions of a day, every few seconds, in order.
fn track(files: &[ReadFile], shelf: &Shelf, day: Span) -> Result<Vec<(f64, LatLon)>, ProcessError> {
    let mut fixes: Vec<(i64, LatLon)> = Vec::new();
    for file in files.iter().filter(|file| file.fixes.iter().any(|span| span.overlaps(&day))) {
        let is_fix = |value: &Value| matches!(value, Value::Fix { .. });
        file.some_within(day, shelf, is_fix, |observation| {
            if let Value::Fix { at, .. } = observation.value {
                fixes.push((observation.time_us, at));
            }
        })?;
    }
    fixes.sort_by_key(|fix| fix.0);
    let mut kept: Vec<(i64, LatLon)> = Vec::new();
    for fix in fixes {
        if kept.last().is_none_or(|last| fix.0 - last.0 >= EVERY_US) {
            kept.push(fix);
        }
    }
    Ok(kept.into_iter().map(|(time_us, at)| (time_us as f64 / US_PER_S as f64, at)).collect())
}

/// Adds seconds to every time of a file of notes.
fn shift(file: &mut ReadFile, seconds: f64, method: &'static str) {
    let added_us = (seconds * US_PER_S as f64).round() as i64;
    let moved = |time: &mut NoteTime| {
        *time = match *time {
            NoteTime::Instant(time_us) => NoteTime::Instant(time_us + added_us),
            NoteTime::Clock(clock_us) => NoteTime::Clock((clock_us + added_us).rem_euclid(DAY_US)),
        };
    };
    file.bites.iter_mut().for_each(|bite| moved(&mut bite.time));
    for entry in &mut file.gear {
        entry.start.iter_mut().for_each(moved);
        entry.end.iter_mut().for_each(moved);
    }
    let report = &mut file.report;
    for time in [&mut report.time_first_us, &mut report.time_last_us] {
        *time = time.map(|time_us| time_us + added_us);
    }
    report.clock_offset_s = Some(report.clock_offset_s.unwrap_or(0.0) + seconds);
    report.clock_offset_method = Some(method);
}
