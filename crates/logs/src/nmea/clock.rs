//! When was each sentence said?
//!
//! Some sentences say date and time, some the time of day, most neither. As long as time runs on, the day of
//! a clock time is the one that lies nearest (so midnight needs no care), and what has no time of its own gets
//! the stamp of its line, else the time of the last sentence that had one.
//!
//! Any other step of time, the first time of the file as well, is believed when two dated sentences in a row
//! say it. Until then the sentences wait. So a single wrong date throws nothing back, and what comes
//! before the first time of the file still gets it.

use super::fields::SaidTime;
use crate::stamp::US_PER_DAY;

/// Greatest step in which time still runs on, either way, µs. Sentences come every few seconds at the slowest
/// (0.2 Hz), and devices on one boat differ by seconds; a longer silence is a new start.
const STEP_US_MAX: i64 = 600_000_000;

/// Stamps that lie further than this from the time of the fixes are those of another clock, µs. Receivers
/// and serial lines are late by up to a second or two (common practice, no source).
const LEAD_US_MAX: i64 = 5_000_000;

/// What is known of the time of one sentence.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct Moment {
    /// What the sentence says.
    pub said: SaidTime,
    /// What stands before it, microseconds since 1970 UTC as far as its zone is known.
    pub stamp_us: Option<i64>,
}

/// What came of a [`Moment`].
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Heard {
    /// Its time, microseconds since 1970 UTC.
    At(i64),
    /// It has to wait.
    Waits,
    /// A time that is believed: all that waited, with this one as the last, can go to [`Clock::place`].
    Settles(i64),
}

/// The time of a file as it is read.
#[derive(Clone, Debug)]
pub(super) struct Clock {
    /// What the captain should know.
    pub notes: ClockNotes,
    /// Time of the last sentence that had one.
    last_us: Option<i64>,
    /// Sentences wait for a time that can be believed.
    waiting: bool,
    /// A dated time that is not believed yet, and whether a fix stands behind it.
    doubted: Option<(i64, bool)>,
    /// No sentence gave a date: the days come from the stamps.
    by_stamps: bool,
    /// Stamp minus the sentence's own time, where one last had both, µs.
    lead_us: Option<i64>,
}

/// What was met on the way.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct ClockNotes {
    /// A sentence gave the date.
    pub knows_date: bool,
    /// The date is that of the fallback.
    pub by_fallback: bool,
    /// Dates that the next sentences took back.
    pub dates_taken_back: u64,
    /// Steps of time further than it runs on: the clock was set, or the log was silent.
    pub steps: u64,
    /// Smallest and greatest difference of the stamps to the sentences' own times, µs, ahead positive.
    pub leads_us: Option<(i64, i64)>,
    /// The stamps are those of another clock, and were moved to that of the fixes.
    pub stamps_are_off: bool,
}

impl Clock {
    pub fn new() -> Self {
        Self {
            notes: ClockNotes::default(),
            last_us: None,
            waiting: true,
            doubted: None,
            by_stamps: false,
            lead_us: None,
        }
    }

    /// Takes in the next sentence.
    pub fn hear(&mut self, moment: &Moment) -> Heard {
        let Some(time_of_day_us) = moment.said.time_of_day_us else {
            return match self.without_own_time(moment) {
                Some(time_us) if !self.waiting => Heard::At(time_us),
                _ => Heard::Waits,
            };
        };
        if let Some(time_us) = moment.said.time_us() {
            return self.hear_dated(time_us, moment);
        }
        if !self.waiting
            && let Some(time_us) = self.own_time(time_of_day_us, moment)
            && (self.by_stamps || self.runs_on(time_us))
        {
            return self.believe(time_us, moment);
        }
        self.waiting = true;
        Heard::Waits
    }

    fn hear_dated(&mut self, time_us: i64, moment: &Moment) -> Heard {
        let sure = moment.said.sure;
        let on = self.runs_on(time_us);
        let said_before = self.doubted.filter(|(_, sure_before)| *sure_before && sure);
        if on || said_before.is_some_and(|(before_us, _)| is_near(before_us, time_us)) {
            self.notes.steps += u64::from(!on && self.last_us.is_some());
            self.notes.knows_date = true;
            self.by_stamps = false;
            return self.believe(time_us, moment);
        }
        if sure || self.doubted.is_none_or(|(_, sure_before)| !sure_before) {
            self.doubted = Some((time_us, sure));
        }
        self.waiting = true;
        Heard::Waits
    }

    fn believe(&mut self, time_us: i64, moment: &Moment) -> Heard {
        if self.waiting {
            self.waiting = false;
            self.doubted = None;
            return Heard::Settles(time_us);
        }
        self.note(time_us, moment);
        Heard::At(time_us)
    }

    /// Decides without a second dated sentence, because too many wait or the file ends: by the date that is
    /// in doubt, else by the stamps, else by the clock times themselves, else by the day `fallback_date_us`.
    ///
    /// The time for [`Clock::place`], or `None` where nothing is known.
    pub fn decide(&mut self, waiting: &[Moment], fallback_date_us: Option<i64>) -> Option<i64> {
        let clock_us = waiting.iter().find_map(|moment| moment.said.time_of_day_us);
        let time_us = if let Some((doubted_us, _)) = self.doubted {
            self.notes.knows_date = true;
            self.notes.steps += u64::from(self.last_us.is_some());
            doubted_us
        } else if let Some(stamp_us) = waiting.iter().find_map(|moment| moment.stamp_us) {
            self.by_stamps = true;
            stamp_us
        } else if let Some(last_us) = self.last_us {
            // a log goes forward: the next time that the clock shows this
            let nearest_us = nearest_day(clock_us?, last_us);
            self.notes.steps += 1;
            if nearest_us < last_us { nearest_us + US_PER_DAY } else { nearest_us }
        } else {
            let time_us = fallback_date_us? + clock_us?;
            self.notes.by_fallback = true;
            time_us
        };
        self.waiting = false;
        self.doubted = None;
        Some(time_us)
    }

    /// The times of those that waited, in order, seen from a time that is believed.
    pub fn place(&mut self, waiting: &[Moment], believed_us: i64) -> Vec<i64> {
        self.last_us = Some(believed_us);
        self.lead_us = None;
        let first = waiting
            .iter()
            .find_map(|moment| Some((self.own_time(moment.said.time_of_day_us?, moment)?, moment)));
        if let Some((time_us, moment)) = first {
            self.note(time_us, moment);
        }
        waiting
            .iter()
            .map(|moment| {
                let own_us = moment.said.time_of_day_us.and_then(|clock_us| self.own_time(clock_us, moment));
                if let Some(time_us) = own_us {
                    let taken_back = moment.said.time_us().is_some_and(|said_us| said_us != time_us);
                    self.notes.dates_taken_back += u64::from(taken_back);
                    self.note(time_us, moment);
                }
                own_us.or_else(|| self.without_own_time(moment)).unwrap_or(believed_us)
            })
            .collect()
    }

    /// Time of a sentence with a time of day, on the day that lies nearest.
    fn own_time(&self, time_of_day_us: i64, moment: &Moment) -> Option<i64> {
        let near_us = if self.by_stamps { moment.stamp_us.or(self.last_us) } else { self.last_us };
        Some(nearest_day(time_of_day_us, near_us?))
    }

    /// Time of a sentence without one of its own.
    fn without_own_time(&mut self, moment: &Moment) -> Option<i64> {
        let Some(stamp_us) = moment.stamp_us else { return self.last_us };
        match self.lead_us {
            Some(lead_us) if self.notes.stamps_are_off => Some(stamp_us - lead_us),
            Some(_) => Some(stamp_us),
            None => {
                // only stamps tell the time so far
                if !self.waiting {
                    self.last_us = Some(stamp_us);
                }
                Some(stamp_us)
            }
        }
    }

    fn runs_on(&self, time_us: i64) -> bool {
        self.last_us.is_some_and(|last_us| is_near(last_us, time_us))
    }

    /// Notes the time of a sentence that had one.
    fn note(&mut self, time_us: i64, moment: &Moment) {
        self.last_us = Some(time_us);
        if let Some(stamp_us) = moment.stamp_us {
            let lead_us = stamp_us - time_us;
            self.lead_us = Some(lead_us);
            let (least, most) = self.notes.leads_us.unwrap_or((lead_us, lead_us));
            self.notes.leads_us = Some((least.min(lead_us), most.max(lead_us)));
            // a lead about the limit must not switch back and forth
            let limit = if self.notes.stamps_are_off { LEAD_US_MAX / 2 } else { LEAD_US_MAX };
            self.notes.stamps_are_off = lead_us.abs() > limit;
        }
    }
}

fn is_near(a_us: i64, b_us: i64) -> bool {
    (a_us - b_us).abs() <= STEP_US_MAX
}

/// The time that lies nearest to another one among those with a given time of day.
fn nearest_day(time_of_day_us: i64, near_us: i64) -> i64 {
    let half = US_PER_DAY / 2;
    near_us + (time_of_day_us - near_us + half).rem_euclid(US_PER_DAY) - half
}

#[cfg(test)]
mod tests;
