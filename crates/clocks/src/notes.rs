//! Is the clock of notes off by whole hours?
//!
//! A phone that keeps the time of another zone, or missed the end of daylight saving, is off by whole hours. Notes are few
//! and are written to the minute, so that nothing finer can be told from their times alone; positions in them can.

use waterseam_units::{LatLon, geodesy};

/// A note.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Note {
    /// Time on the notes' own clock, s.
    pub time_s: f64,
    /// Position, where the note has one.
    pub at: Option<LatLon>,
}

/// What the clock of notes looks like.
#[derive(Clone, Debug, PartialEq)]
pub enum Verdict {
    /// Nothing speaks against it.
    Fits,
    /// To be moved by so many seconds, by its positions or as the only whole hour at which all notes lie in the trip.
    Moved {
        /// Added to the notes' clock, s.
        offset_s: f64,
        /// From positions.
        by_positions: bool,
    },
    /// No note lies in the trip as they stand, and these whole hours would all do, or none.
    Unclear {
        /// Hours that would bring all notes into the trip.
        hours: Vec<i32>,
    },
}

/// Most hours between two zones.
const HOURS_MAX: i32 = 14;
/// A note may be written so long before or after the boat's record, s.
const MARGIN_S: f64 = 300.0;
/// Fewest notes that say anything about their clock, and the share of all that they must be: a note of yesterday's fish is no
/// fault of the clock.
const NOTES_MIN: usize = 2;
const OUTSIDE_SHARE: f64 = 0.2;
/// A noted position and the boat's at the same time lie this close, m: a minute at 3 m/s, and the receiver of a phone.
const NEAR_M: f64 = 250.0;
/// Fewest notes with positions, and the share of them that must agree.
const PLACES_MIN: usize = 3;
const PLACES_AGREE: f64 = 0.8;
/// Step of the search by positions, s: the notes' own minute.
const STEP_S: f64 = 60.0;
/// Offsets closer than this to the best are the same answer, s.
const SAME_S: f64 = 600.0;
/// A smaller offset than this is the delay of writing, s.
const WRITING_S: f64 = 300.0;

/// Whether [`judge`] looks at the boat's positions: else her first and last time are enough.
pub fn asks_where(notes: &[Note]) -> bool {
    notes.iter().filter(|note| note.at.is_some()).count() >= PLACES_MIN
}

/// Judges the clock of the notes of one phone against the boat's record: times in order with positions.
pub fn judge(notes: &[Note], boat: &[(f64, LatLon)]) -> Verdict {
    let (Some(first), Some(last)) = (boat.first(), boat.last()) else { return Verdict::Fits };
    if let Some(verdict) = by_positions(notes, boat) {
        return verdict;
    }
    let inside = |note: &Note, offset_s: f64| {
        (first.0 - MARGIN_S..=last.0 + MARGIN_S).contains(&(note.time_s + offset_s))
    };
    let outside = notes.iter().filter(|note| !inside(note, 0.0)).count();
    let many = outside >= NOTES_MIN && outside as f64 >= OUTSIDE_SHARE * notes.len() as f64;
    if !many {
        return Verdict::Fits;
    }
    let fits = |hours: &i32| notes.iter().all(|note| inside(note, 3600.0 * f64::from(*hours)));
    let hours: Vec<i32> = (-HOURS_MAX..=HOURS_MAX).filter(fits).collect();
    match hours[..] {
        [only] => Verdict::Moved { offset_s: 3600.0 * f64::from(only), by_positions: false },
        // those that lie in the trip speak for the clock as it is
        _ if outside < notes.len() => Verdict::Fits,
        _ => Verdict::Unclear { hours },
    }
}

/// The one offset at which the noted positions lie where the boat was then; `None` without enough of them.
fn by_positions(notes: &[Note], boat: &[(f64, LatLon)]) -> Option<Verdict> {
    let placed: Vec<(f64, LatLon)> =
        notes.iter().filter_map(|note| note.at.map(|at| (note.time_s, at))).collect();
    if !asks_where(notes) {
        return None;
    }
    let agreeing = |offset_s: f64| {
        let agrees = |&&(time_s, at): &&(f64, LatLon)| {
            let t = time_s + offset_s;
            let after = boat.partition_point(|fix| fix.0 < t).min(boat.len() - 1);
            let close = |fix: &(f64, LatLon)| (fix.0 - t).abs() < 2.0 * STEP_S;
            [after.saturating_sub(1), after]
                .iter()
                .any(|&i| close(&boat[i]) && geodesy::distance_m(boat[i].1, at) < NEAR_M)
        };
        placed.iter().filter(agrees).count()
    };
    let steps = (f64::from(HOURS_MAX) * 3600.0 / STEP_S) as i32;
    let counts: Vec<(f64, usize)> =
        (-steps..=steps).map(|step| STEP_S * f64::from(step)).map(|s| (s, agreeing(s))).collect();
    let most = counts.iter().map(|c| c.1).max()?;
    let enough = (PLACES_AGREE * placed.len() as f64).ceil() as usize;
    // notes of fish that were all caught in one place say nothing
    let best: Vec<f64> = counts.iter().filter(|c| c.1 == most).map(|c| c.0).collect();
    let middle_s = best[best.len() / 2];
    let rival = counts.iter().filter(|c| (c.0 - middle_s).abs() > SAME_S).map(|c| c.1).max().unwrap_or(0);
    if most < enough || 2 * rival > most {
        return None;
    }
    if middle_s.abs() < WRITING_S {
        return Some(Verdict::Fits);
    }
    let hour_s = (middle_s / 3600.0).round() * 3600.0;
    let offset_s = if (middle_s - hour_s).abs() < WRITING_S { hour_s } else { middle_s };
    Some(Verdict::Moved { offset_s, by_positions: true })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Five hours due east at 1.2 m/s.
    fn boat() -> Vec<(f64, LatLon)> {
        let at = |s: i32| LatLon { lat_deg: 46.2, lon_deg: -29.4 + f64::from(s) * 1.2 / 77_000.0 };
        (0..18_000).step_by(10).map(|s| (f64::from(s), at(s))).collect()
    }

    fn notes(times_s: &[f64]) -> Vec<Note> {
        times_s.iter().map(|&time_s| Note { time_s, at: None }).collect()
    }

    #[test]
    fn the_only_whole_hour_is_taken() {
        // a span of 4.5 h in a trip of 5 h
        let seen = notes(&[-7200.0 + 600.0, -7200.0 + 9000.0, -7200.0 - 5.0 * 3600.0 + 34_000.0]);
        assert_eq!(judge(&seen, &boat()), Verdict::Fits, "one of them lies inside, and no hour does for all");
        // an hour of another zone in a trip of five: two of four lie before it
        let seen = notes(&[-3000.0, -2400.0, 6000.0, 13_500.0]);
        assert_eq!(judge(&seen, &boat()), Verdict::Moved { offset_s: 3600.0, by_positions: false });
        let seen = notes(&[-21_600.0 + 600.0, -21_600.0 + 9000.0, -21_600.0 + 17_000.0]);
        let moved = Verdict::Moved { offset_s: 21_600.0, by_positions: false };
        assert_eq!(judge(&seen, &boat()), moved);
    }

    #[test]
    fn several_whole_hours_are_not_guessed() {
        let seen = notes(&[-30_000.0, -29_000.0]);
        assert_eq!(judge(&seen, &boat()), Verdict::Unclear { hours: vec![9, 10, 11, 12, 13] });
        assert_eq!(judge(&notes(&[1e6, 1e6 + 60.0]), &boat()), Verdict::Unclear { hours: vec![] });
        assert_eq!(judge(&notes(&[-3600.0]), &boat()), Verdict::Fits, "one note is no pattern");
    }

    #[test]
    fn positions_tell_the_hour() {
        let boat = boat();
        let seen: Vec<Note> = [600, 700, 820, 1100]
            .map(|i: usize| Note { time_s: boat[i].0 - 3600.0 + 20.0, at: Some(boat[i].1) })
            .to_vec();
        assert_eq!(judge(&seen, &boat), Verdict::Moved { offset_s: 3600.0, by_positions: true });
        let right: Vec<Note> = seen.iter().map(|n| Note { time_s: n.time_s + 3600.0, ..*n }).collect();
        assert_eq!(judge(&right, &boat), Verdict::Fits);
    }
}
