//! Which files and notes belong together?
//!
//! Days are stretches of time with positions, joined over all files. Logs without positions (a probe) go
//! with the days that they overlap; notes go with the day that is nearest in time.

use std::collections::BTreeMap;
use std::path::Path;

use jiff::tz::TimeZone;
use waterseam_logs::{BiteNote, GearEntry, NoteTime};
use waterseam_units::time::US_PER_S;

use crate::read::ReadFile;
use crate::span::{Span, join};

/// A note further than this from every stretch with positions belongs to no trip.
const NOTE_MARGIN_US: i64 = 3 * 3600 * US_PER_S;

/// A day with what is known of it.
#[derive(Debug)]
pub struct Batch {
    /// The day.
    pub day: Span,
    /// Indices of the files with observations for it, in order of path.
    pub files: Vec<usize>,
    /// Bite notes, in order of file and line.
    pub bites: Vec<(usize, BiteNote)>,
    /// Gear rows, in order of file and line.
    pub gear: Vec<(usize, GearEntry)>,
}

/// The files sorted into batches, and what found no place.
#[derive(Debug, Default)]
pub struct Card {
    /// Batches in order of time.
    pub batches: Vec<Batch>,
    /// Notes, by file and line, with the reason why no day takes them.
    pub unplaced: Vec<Unplaced>,
    /// Indices of known files that no day takes.
    pub idle_files: Vec<usize>,
}

/// A note that no day takes.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Unplaced {
    /// File.
    pub file: usize,
    /// Line, from 1.
    pub line: u64,
    /// Reason, a word of the table `set_aside`.
    pub reason: &'static str,
}

/// Sorts files and notes.
pub fn sort(files: &[ReadFile], gap_us: i64) -> Card {
    let days = join(files.iter().flat_map(|file| file.fixes.iter().copied()).collect(), gap_us);
    let mut batches: Vec<Batch> = days.iter().map(|&day| batch(day, files)).collect();
    let mut unplaced = Vec::new();
    let mut used = vec![false; files.len()];
    for batch in &batches {
        batch.files.iter().for_each(|&file| used[file] = true);
    }
    let folders = Folders::new(files, &days);
    for (index, file) in files.iter().enumerate() {
        let own_days = folders.days(&file.path);
        let mut place = |time: Option<NoteTime>, line: u64| {
            let found = time.ok_or("time_missing").and_then(|time| day_of(time, &days, own_days));
            match found {
                Ok(day) => batches.iter().position(|batch| batch.day == day),
                Err(reason) => {
                    unplaced.push(Unplaced { file: index, line, reason });
                    None
                }
            }
        };
        let bites: Vec<_> = file.bites.iter().map(|note| place(Some(note.time), note.line)).collect();
        let gear: Vec<_> =
            file.gear.iter().map(|entry| place(entry.start.or(entry.end), entry.line)).collect();
        for (note, batch) in file.bites.iter().zip(bites) {
            if let Some(batch) = batch {
                batches[batch].bites.push((index, note.clone()));
                used[index] = true;
            }
        }
        for (entry, batch) in file.gear.iter().zip(gear) {
            if let Some(batch) = batch {
                batches[batch].gear.push((index, entry.clone()));
                used[index] = true;
            }
        }
    }
    let known = |file: &ReadFile| file.report.kind.is_some();
    let idle_files = (0..files.len()).filter(|&file| !used[file] && known(&files[file])).collect();
    Card { batches, unplaced, idle_files }
}

fn batch(day: Span, files: &[ReadFile]) -> Batch {
    let files = (0..files.len()).filter(|&file| speaks_of(&files[file], day)).collect();
    Batch { day, files, bites: Vec::new(), gear: Vec::new() }
}

/// Whether a file has observations for a day: positions then, or (without any positions) times then.
fn speaks_of(file: &ReadFile, day: Span) -> bool {
    if file.has_track() {
        return file.fixes.iter().any(|span| span.overlaps(&day));
    }
    let notes = !file.bites.is_empty() || !file.gear.is_empty();
    match (file.report.time_first_us, file.report.time_last_us) {
        (Some(first_us), Some(last_us)) if !notes => Span { first_us, last_us }.overlaps(&day),
        _ => false,
    }
}

/// Days with positions, by the folder of the files that have them.
pub struct Folders<'a>(BTreeMap<Option<&'a Path>, Vec<Span>>);

impl<'a> Folders<'a> {
    /// Of all files of a card and all its days.
    pub fn new(files: &'a [ReadFile], days: &[Span]) -> Self {
        let mut spans: BTreeMap<Option<&Path>, Vec<Span>> = BTreeMap::new();
        for file in files {
            spans.entry(file.path.parent()).or_default().extend(&file.fixes);
        }
        let days_of = |spans: &[Span]| {
            days.iter().copied().filter(|day| spans.iter().any(|span| span.overlaps(day))).collect()
        };
        Self(spans.into_iter().map(|(folder, spans)| (folder, days_of(&spans))).collect())
    }

    /// Days with positions from files in the same folder as `path`, in order.
    pub fn days(&self, path: &'a Path) -> &[Span] {
        self.0.get(&path.parent()).map_or(&[], Vec::as_slice)
    }
}

/// The day that a note belongs to. `own_days` are those of its folder.
///
/// # Errors
/// The word of the table `set_aside` for why there is none.
pub fn day_of(time: NoteTime, days: &[Span], own_days: &[Span]) -> Result<Span, &'static str> {
    match time {
        NoteTime::Instant(time_us) => days
            .iter()
            .copied()
            .filter(|day| day.reaches(time_us, NOTE_MARGIN_US))
            .min_by_key(|day| (day.first_us - time_us).max(time_us - day.last_us).max(0))
            .ok_or("no_track_at_that_time"),
        NoteTime::Clock(_) => match (own_days, days) {
            ([day], _) | ([], [day]) => Ok(*day),
            _ => Err("date_unknown"),
        },
    }
}

/// The instant of a note: as it stands, or its clock time on the day of a trip.
///
/// A clock time alone is taken on that local date on which it lies nearest to the trip.
pub fn instant(time: NoteTime, zone: &TimeZone, trip: Span) -> Option<i64> {
    match time {
        NoteTime::Instant(time_us) => Some(time_us),
        NoteTime::Clock(clock_us) => {
            let start = waterseam_units::time::timestamp(trip.first_us).to_zoned_datetime(zone.clone());
            let outside = |time_us: i64| (trip.first_us - time_us).max(time_us - trip.last_us).max(0);
            (-1..=1)
                .filter_map(|days| {
                    let date = start.date().checked_add(jiff::Span::new().days(days)).ok()?;
                    let clock =
                        date.at(0, 0, 0, 0).checked_add(jiff::Span::new().microseconds(clock_us)).ok()?;
                    Some(clock.to_zoned_datetime(zone.clone()).ok()?.timestamp().as_microsecond())
                })
                .min_by_key(|&time_us| outside(time_us))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_clock_time_takes_the_date_of_the_trip() {
        let zone = TimeZone::get("Etc/GMT+2").unwrap();
        let at = |text: &str| text.parse::<jiff::Timestamp>().unwrap().as_microsecond();
        // 22:30 to 03:00 local, over midnight
        let trip = Span { first_us: at("2026-06-15T00:30:00Z"), last_us: at("2026-06-15T05:00:00Z") };
        let clock =
            |h: i64, m: i64| instant(NoteTime::Clock((h * 60 + m) * 60 * US_PER_S), &zone, trip).unwrap();
        assert_eq!(clock(23, 0), at("2026-06-15T01:00:00Z"));
        assert_eq!(clock(1, 15), at("2026-06-15T03:15:00Z"));
    }

    #[test]
    fn clock_times_without_a_single_day_are_not_guessed() {
        let day = |n: i64| Span { first_us: n * 100, last_us: n * 100 + 10 };
        let clock = NoteTime::Clock(5);
        assert_eq!(day_of(clock, &[day(1), day(2)], &[]), Err("date_unknown"));
        assert_eq!(day_of(clock, &[day(1), day(2)], &[day(2)]), Ok(day(2)));
        assert_eq!(day_of(clock, &[day(1)], &[]), Ok(day(1)));
        assert_eq!(day_of(NoteTime::Instant(-NOTE_MARGIN_US), &[day(1)], &[]), Err("no_track_at_that_time"));
    }
}
