//! When was each sentence said?
//!
//! Some sentences say date and time, some the time of day, most neither. As long as time runs on, the day of
//! a clock time is the one that lies nearest (so midnight needs no care), and what has no time of its own gets
//! the stamp of its line, else the time of the last sentence that had one.
//!
//! Any other step of time, the first time of the file as well, is believed when two dated sentences in a row
//! say it. Until then the sentences wait. So a single wrong date throws nothing back, and what comes
//! before the first time of the file still gets it.
//!
//! Two receivers whose clocks differ may write into one log. When the time goes to and fro between two clocks, one of
//! them is followed and the times of the other are moved to it.

use super::fields::SaidTime;
use crate::stamp::US_PER_DAY;
use crate::story::{DateFrom, ROLLOVER_US, STRETCHES_MAX, Stretch};

/// Greatest step in which time still runs on, either way, µs. Sentences come every few seconds at the slowest
/// (0.2 Hz), and devices on one boat differ by seconds; a longer silence is a new start.
const STEP_US_MAX: i64 = 600_000_000;

/// Stamps that lie further than this from the time of the fixes are those of another clock, µs. Receivers
/// and serial lines are late by up to a second or two (common practice, no source).
const LEAD_US_MAX: i64 = 5_000_000;

/// Times of a clock tick on by no more than this, µs (0.2 Hz at the slowest); more is a silence.
const TICK_US_MAX: i64 = 10_000_000;

/// Dates that differ by whole days to this, µs, are those of one time of day: sentences of one instant come within a
/// second or two.
const WHOLE_DAY_US: i64 = 5_000_000;

/// So often the time goes back to a clock before two clocks are seen in it.
const RETURNS: u32 = 2;

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
    /// The stretches so far.
    pub stretches: Vec<Stretch>,
    /// Where the date of the next stretch comes from.
    date: DateFrom,
    /// The clock that was followed before this one.
    rival: Option<Rival>,
}

/// A clock that was left for another one.
#[derive(Clone, Copy, Debug)]
struct Rival {
    /// Its last time.
    last_us: i64,
    /// How often it, or the other, was come back to.
    returns: u32,
    /// What makes its times those of the clock that is followed, where both run side by side, µs.
    behind_us: Option<i64>,
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
            stretches: Vec::new(),
            date: DateFrom::Sentences,
            rival: None,
        }
    }

    /// Number of the stretch at hand.
    pub fn stretch(&self) -> usize {
        self.stretches.len().saturating_sub(1)
    }

    /// Counts a position in the stretch at hand.
    pub fn count_fix(&mut self) {
        if let Some(stretch) = self.stretches.last_mut() {
            stretch.fixes += 1;
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

    fn hear_dated(&mut self, said_us: i64, moment: &Moment) -> Heard {
        let sure = moment.said.sure;
        let time_us = self.on_our_clock(said_us);
        let on = self.runs_on(time_us);
        let said_before = self.doubted.filter(|(_, sure_before)| *sure_before && sure);
        if on || said_before.is_some_and(|(before_us, _)| is_near(before_us, time_us)) {
            self.notes.steps += u64::from(!on && self.last_us.is_some());
            self.notes.knows_date = true;
            self.by_stamps = false;
            self.date = DateFrom::Sentences;
            if let Some(stretch) = self.stretches.last_mut().filter(|_| on) {
                stretch.date = DateFrom::Sentences;
            }
            return self.believe(time_us, moment);
        }
        if sure || self.doubted.is_none_or(|(_, sure_before)| !sure_before) {
            self.doubted = Some((time_us, sure));
        }
        self.waiting = true;
        Heard::Waits
    }

    /// The time on the clock that is followed, where the sentence follows another that runs beside it.
    fn on_our_clock(&mut self, said_us: i64) -> i64 {
        let on = self.runs_on(said_us);
        let rival = self.rival.as_mut().filter(|rival| !on && is_near(rival.last_us, said_us));
        if let Some(Rival { last_us, behind_us: Some(behind_us), .. }) = rival {
            *last_us = said_us;
            return said_us + *behind_us;
        }
        said_us
    }

    /// Leaves the clock that was followed for another one.
    fn step(&mut self, left_us: i64, believed_us: i64) {
        let back = self.rival.filter(|rival| is_near(rival.last_us, believed_us));
        let returns = back.map_or(0, |rival| rival.returns + 1);
        let behind_us = whole_days(believed_us - left_us);
        // a receiver that is 1024 weeks off is behind: the later date is followed
        let is_preferred = behind_us > 0 || behind_us.abs() % ROLLOVER_US != 0;
        let side_by_side = returns >= RETURNS && is_preferred;
        self.rival = Some(Rival { last_us: left_us, returns, behind_us: side_by_side.then_some(behind_us) });
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
            self.date = DateFrom::Sentences;
            doubted_us
        } else if let Some(stamp_us) = waiting.iter().find_map(|moment| moment.stamp_us) {
            self.by_stamps = true;
            self.date = DateFrom::Stamps;
            stamp_us
        } else if let Some(last_us) = self.last_us {
            // a log goes forward: the next time that the clock shows this
            let nearest_us = nearest_day(clock_us?, last_us);
            self.notes.steps += 1;
            self.date = DateFrom::NextDay;
            if nearest_us < last_us { nearest_us + US_PER_DAY } else { nearest_us }
        } else {
            let time_us = fallback_date_us? + clock_us?;
            self.notes.by_fallback = true;
            self.date = DateFrom::Outside;
            time_us
        };
        self.waiting = false;
        self.doubted = None;
        Some(time_us)
    }

    /// The times of those that waited, in order, seen from a time that is believed.
    pub fn place(&mut self, waiting: &[Moment], believed_us: i64) -> Vec<i64> {
        if !self.runs_on(believed_us) {
            if let Some(left_us) = self.last_us {
                self.step(left_us, believed_us);
            }
            self.start_stretch(waiting, believed_us);
        }
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
                    let ahead_us = moment.said.time_us().map_or(0, |said_us| said_us - time_us);
                    self.notes.dates_taken_back += u64::from(ahead_us != 0);
                    self.note_later(ahead_us);
                    self.note(time_us, moment);
                }
                own_us.or_else(|| self.without_own_time(moment)).unwrap_or(believed_us)
            })
            .collect()
    }

    fn start_stretch(&mut self, waiting: &[Moment], believed_us: i64) {
        let said = waiting.iter().find_map(|moment| moment.said.time_of_day_us);
        let first_us = said.map_or(believed_us, |clock_us| nearest_day(clock_us, believed_us));
        if self.stretches.len() < STRETCHES_MAX {
            self.stretches.push(Stretch {
                first_us,
                last_us: believed_us,
                tick_us: 0,
                date: self.date,
                fixes: 0,
                later: None,
                leads_us: None,
            });
        }
    }

    /// Notes a date that was taken back though it may be the true one.
    fn note_later(&mut self, ahead_us: i64) {
        if ahead_us > 0
            && ahead_us % ROLLOVER_US == 0
            && let Some(stretch) = self.stretches.last_mut()
        {
            let n = stretch.later.filter(|(later_us, _)| *later_us == ahead_us).map_or(0, |(_, n)| n);
            stretch.later = Some((ahead_us, n + 1));
        }
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
        // of sentences of one time the first comes with least delay; a clock that stands still leads by more and more
        let is_first = self.last_us != Some(time_us) || self.lead_us.is_none();
        self.last_us = Some(time_us);
        if let Some(stretch) = self.stretches.last_mut() {
            let tick_us = time_us - stretch.last_us;
            if (1..=TICK_US_MAX).contains(&tick_us) {
                stretch.tick_us = tick_us;
            }
            stretch.last_us = time_us;
            if let Some(stamp_us) = moment.stamp_us.filter(|_| is_first) {
                let lead_us = stamp_us - time_us;
                stretch.leads_us = Some((stretch.leads_us.map_or(lead_us, |(first, _)| first), lead_us));
            }
        }
        if let Some(stamp_us) = moment.stamp_us.filter(|_| is_first) {
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

/// A difference of two dates, whole days where it is nearly that.
fn whole_days(difference_us: i64) -> i64 {
    let days_us = nearest_day(0, difference_us);
    if (difference_us - days_us).abs() <= WHOLE_DAY_US { days_us } else { difference_us }
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
