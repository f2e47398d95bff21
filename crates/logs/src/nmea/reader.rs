//! What does a whole log say, and what became of every record in it?

use std::collections::{BTreeMap, BTreeSet, VecDeque};
use std::io::{BufRead, Result};
use std::ops::Range;

use jiff::Timestamp;
use jiff::tz::TimeZone;

use super::addresses::Addresses;
use super::clock::{Clock, Heard, Moment};
use super::fields::SaidTime;
use super::reason::Reason;
use super::records::{Counts, Plain, Record, Records, What};
use super::stretches::{self, Plan};
use crate::boat::BoatFile;
use crate::lines::Place;
use crate::observation::{Observation, Value};
use crate::source::{Kind, MARKS_TAKEN_MAX, SET_ASIDE_KEPT, SetAside, Sink, SourceReport};
use crate::stamp::{Stamp, StampZone, US_PER_DAY, date_in};
use crate::story::{ClockHints, DateFrom, Retime, Undated};

/// Records that wait for a time that can be believed; at ten sentences a second half a minute. Those that
/// come earlier before the first time are set aside.
const WAITING_MAX: usize = 256;

/// A clock that one kind of sentence has repeated so often stands still: receivers that write whole seconds at up to
/// 20 Hz repeat a time twenty times.
const STANDS_STILL: u32 = 25;

/// Characters of a record that are kept.
const RAW_CHARS_MAX: usize = 200;

/// Different marks that are remembered, so that a plotter may repeat them.
const MARKS_MAX: usize = 4096;

/// Reads a log: its values go to `sink`, in the order of the file, and its account to `report`.
///
/// Memory is bounded whatever the file holds. `boat` gives the zone of stamps that do not say theirs,
/// `file_name` a date for a file whose sentences give none. Bytes and hash are the caller's to count.
///
/// # Errors
/// What the input reports; everything before the failure is in `sink` and `report`.
pub fn read(
    input: &mut dyn BufRead,
    boat: &BoatFile,
    file_name: &str,
    report: &mut SourceReport,
    sink: &mut dyn Sink,
) -> Result<()> {
    read_with(input, boat, &ClockHints::default(), file_name, report, sink)
}

/// The same with what is known about the clock of the file.
///
/// # Errors
/// As [`read`].
pub fn read_with(
    input: &mut dyn BufRead,
    boat: &BoatFile,
    hints: &ClockHints,
    file_name: &str,
    report: &mut SourceReport,
    sink: &mut dyn Sink,
) -> Result<()> {
    read_in(Plan::of_machine(), input, boat, hints, file_name, report, sink)
}

/// The same in the blocks that a plan says.
fn read_in(
    plan: Plan,
    input: &mut dyn BufRead,
    boat: &BoatFile,
    hints: &ClockHints,
    file_name: &str,
    report: &mut SourceReport,
    sink: &mut dyn Sink,
) -> Result<()> {
    report.kind = Some(Kind::Nmea0183);
    let mut log = Log {
        zone: boat.time_zone_stated.then(|| boat.time_zone.clone()),
        fallback_date_us: date_in(file_name),
        hints,
        standing: Standing::default(),
        account: Account { report, sink, observations: Vec::new(), given: 0..0 },
        clock: Clock::new(),
        waiting: VecDeque::new(),
        marks: BTreeSet::new(),
        n_marks: 0,
        stamps: Stamps::default(),
        notes: Notes::default(),
        addresses: Addresses::default(),
        overlong_line: None,
    };
    let result = stretches::each(input, plan, |bytes, place, records| log.take_all(bytes, place, records));
    log.finish();
    result
}

/// A log that is being read.
struct Log<'a> {
    /// Zone of stamps that do not say theirs, where the boat file names it.
    zone: Option<TimeZone>,
    /// Day that the name of the file says, in the zone of the boat where the boat file names it.
    fallback_date_us: Option<i64>,
    hints: &'a ClockHints,
    standing: Standing,
    account: Account<'a>,
    clock: Clock,
    waiting: VecDeque<Waiting>,
    marks: BTreeSet<Box<[u8]>>,
    /// Marks that were taken.
    n_marks: u64,
    stamps: Stamps,
    notes: Notes,
    addresses: Addresses,
    /// The overlong line that was already counted.
    overlong_line: Option<u64>,
}

/// A time of day that one kind of sentence repeats.
#[derive(Default)]
struct Standing {
    /// The address in a word.
    address: u64,
    time_of_day_us: Option<i64>,
    times: u32,
}

impl Standing {
    /// Whether the clock stands still, now that a kind of sentence says a time of day.
    fn hear(&mut self, record: &Record) -> bool {
        let time_of_day_us = record.said.time_of_day_us;
        if time_of_day_us.is_none() {
        } else if self.time_of_day_us != time_of_day_us {
            (self.address, self.time_of_day_us, self.times) = (record.address, time_of_day_us, 1);
        } else if self.address == record.address {
            self.times += 1;
        }
        self.stands_still()
    }

    fn stands_still(&self) -> bool {
        self.times > STANDS_STILL
    }
}

/// A record whose time is not known yet.
struct Waiting {
    moment: Moment,
    observations: Vec<Observation>,
    place: (u64, u64),
    raw: Box<[u8]>,
}

/// Stamps by what they said about their zone.
#[derive(Default)]
struct Stamps {
    utc: u64,
    offset: u64,
    unsaid: u64,
    tags: u64,
    /// Seconds to add to the last stamp's clock to reach UTC.
    to_utc_s: f64,
}

/// What the captain should know, counted.
#[derive(Default)]
struct Notes {
    without_checksum: u64,
    tags_wrong: u64,
    marks_repeated: u64,
    empty: u64,
}

impl Log<'_> {
    /// Takes the records of some bytes that start at a place.
    fn take_all(&mut self, bytes: &[u8], from: Place, records: &mut Records) {
        let Counts { not_needed, empty, without_checksum, tags_wrong } = records.counts;
        self.account.report.records_read += not_needed + empty;
        self.account.report.records_not_needed += not_needed + empty;
        self.notes.empty += empty;
        self.notes.without_checksum += without_checksum;
        self.notes.tags_wrong += tags_wrong;
        self.addresses.add(&records.addresses, bytes);
        let stamps_us: Vec<i64> = records.stamps.iter().map(|stamp| self.utc(*stamp)).collect();
        std::mem::swap(&mut self.account.observations, &mut records.observations);
        let mut n_taken = 0;
        for record in &records.all {
            let n_plain = record.n_plain as usize;
            self.take_plain(&records.plain[n_taken..n_plain], bytes, from);
            n_taken = n_plain;
            self.take(record, record.before.stamp.map(|at| stamps_us[at as usize]), bytes, from);
        }
        self.take_plain(&records.plain[n_taken..], bytes, from);
        self.account.hand_on();
        std::mem::swap(&mut self.account.observations, &mut records.observations);
    }

    /// Takes sentences that say values and nothing else: as long as nothing waits, all have the same time.
    fn take_plain(&mut self, plain: &[Plain], bytes: &[u8], from: Place) {
        let (Some(first), Some(last)) = (plain.first(), plain.last()) else { return };
        let heard = self.clock.hear(&Moment::default());
        if let (Heard::At(time_us), false, Retime::Add(by_us)) =
            (heard, self.standing.stands_still(), self.hints.of(self.clock.stretch()))
        {
            let values = first.values.0 as usize..last.values.1 as usize;
            self.account.report.records_read += plain.len() as u64;
            self.account.use_values(time_us.saturating_add(by_us), plain.len() as u64, values);
        } else {
            for plain in plain {
                self.take(&plain.record(), None, bytes, from);
            }
        }
    }

    fn take(&mut self, record: &Record, line_stamp_us: Option<i64>, bytes: &[u8], from: Place) {
        let place = (from.line + u64::from(record.at.line), from.byte + u64::from(record.at.start));
        let raw = record.at.raw(bytes);
        if record.what == What::LineTooLong && self.overlong_line.replace(place.0) == Some(place.0) {
            return;
        }
        self.account.report.records_read += 1;
        let is_mark = match record.what {
            What::NoSentence => return self.account.set_aside(Reason::NoSentence, place, raw),
            What::LineTooLong => return self.account.set_aside(Reason::LineTooLong, place, raw),
            What::Refused(reason) => return self.account.set_aside(reason, place, raw),
            What::Mark => true,
            What::Said => false,
        };
        if is_mark && self.is_repeated_mark(record.data(bytes)) {
            self.account.report.records_not_needed += 1;
            return;
        }
        if is_mark {
            if self.n_marks >= MARKS_TAKEN_MAX {
                return self.account.set_aside(Reason::TooManyMarks, place, raw);
            }
            self.n_marks += 1;
        }
        let (said, values) = (record.said, record.values.0 as usize..record.values.1 as usize);
        match record.judged {
            Err(Reason::Simulated) => {
                return self.account.set_aside(Reason::Simulated, place, raw);
            }
            Err(reason) if values.is_empty() && said.time_of_day_us.is_none() => {
                return self.account.set_aside(reason, place, raw);
            }
            Ok(()) if values.is_empty() && said.time_of_day_us.is_none() => {
                self.notes.empty += 1;
                self.account.report.records_not_needed += 1;
                return;
            }
            _ => {}
        }
        self.stamps.tags += u64::from(record.before.tag_us.is_some());
        let mut moment = Moment { said, stamp_us: record.before.tag_us.or(line_stamp_us) };
        if self.standing.hear(record) {
            if moment.stamp_us.is_none() {
                return self.account.set_aside(Reason::ClockStandsStill, place, raw);
            }
            // the clock of the logger went on
            moment.said = SaidTime::default();
        }
        let heard = self.clock.hear(&moment);
        if let Heard::At(time_us) = heard {
            if self.account.observations[values.clone()].iter().any(is_fix) {
                self.clock.count_fix();
            }
            return match self.hints.of(self.clock.stretch()) {
                Retime::Add(by_us) => self.account.use_values(time_us.saturating_add(by_us), 1, values),
                Retime::SetAside => self.account.set_aside(Reason::ClockNotSet, place, raw),
            };
        }
        self.account.hand_on();
        self.waiting.push_back(Waiting {
            moment,
            observations: self.account.observations[values].to_vec(),
            place,
            raw: raw[..raw.len().min(4 * RAW_CHARS_MAX)].into(),
        });
        match heard {
            Heard::Settles(time_us) => self.settle(time_us),
            _ if self.waiting.len() > WAITING_MAX => self.make_room(),
            _ => {}
        }
    }

    /// Whether this is a mark that the plotter sent before in the same words.
    fn is_repeated_mark(&mut self, data: &[u8]) -> bool {
        let repeated = self.marks.contains(data);
        self.notes.marks_repeated += u64::from(repeated);
        if !repeated && self.marks.len() < MARKS_MAX {
            self.marks.insert(data.into());
        }
        repeated
    }

    /// Microseconds since 1970 UTC of a stamp, by its own zone, that of the boat file, or UTC.
    fn utc(&mut self, stamp: Stamp) -> i64 {
        match stamp.zone {
            StampZone::Utc => self.stamps.utc += 1,
            StampZone::Offset(offset_s) => {
                self.stamps.offset += 1;
                self.stamps.to_utc_s = -(offset_s as f64);
            }
            StampZone::Unsaid => {
                self.stamps.unsaid += 1;
                if let Some(time_us) = self.zone.as_ref().and_then(|zone| in_zone(stamp.time_us, zone)) {
                    self.stamps.to_utc_s = (time_us - stamp.time_us) as f64 / 1e6;
                    return time_us;
                }
            }
        }
        stamp.time_us
    }

    /// Gives all that wait their times.
    fn settle(&mut self, believed_us: i64) {
        let moments: Vec<_> = self.waiting.iter().map(|record| record.moment).collect();
        let times = self.clock.place(&moments, believed_us);
        for (mut record, time_us) in self.waiting.drain(..).zip(times) {
            if record.observations.iter().any(is_fix) {
                self.clock.count_fix();
            }
            match self.hints.of(self.clock.stretch()) {
                Retime::Add(by_us) => {
                    self.account.use_waiting(time_us.saturating_add(by_us), &mut record.observations);
                }
                Retime::SetAside => self.account.set_aside(Reason::ClockNotSet, record.place, &record.raw),
            }
        }
    }

    /// Too many wait: the first goes where it came before any time at all, else it is time to decide.
    fn make_room(&mut self) {
        let first = self.waiting.front().map(|record| record.moment);
        let is_timed =
            first.is_some_and(|first| first.said.time_of_day_us.is_some() || first.stamp_us.is_some());
        if !is_timed || !self.decide() {
            self.drop_first();
        }
    }

    /// Decides what time it is without waiting any longer; whether that is possible.
    fn decide(&mut self) -> bool {
        let moments: Vec<_> = self.waiting.iter().map(|record| record.moment).collect();
        let clock_us = moments.iter().find_map(|moment| moment.said.time_of_day_us);
        let believed_us = self.clock.decide(&moments, self.date_from_outside(clock_us));
        if let Some(believed_us) = believed_us {
            self.settle(believed_us);
        }
        believed_us.is_some()
    }

    /// Day of a clock time by what others know, else by the name of the file.
    fn date_from_outside(&self, clock_us: Option<i64>) -> Option<i64> {
        if self.hints.first_date_us.is_some() {
            return self.hints.first_date_us;
        }
        let date_us = self.fallback_date_us?;
        let (Some(zone), Some(clock_us)) = (&self.zone, clock_us) else { return Some(date_us) };
        // people and plotters name files by the day aboard
        let aboard = |us: i64| Some(zone.to_datetime(Timestamp::from_microsecond(us).ok()?).date());
        let day = TimeZone::UTC.to_datetime(Timestamp::from_microsecond(date_us).ok()?).date();
        let days = [date_us, date_us - US_PER_DAY, date_us + US_PER_DAY];
        days.into_iter().find(|start_us| aboard(start_us + clock_us) == Some(day)).or(Some(date_us))
    }

    fn drop_first(&mut self) {
        if let Some(record) = self.waiting.pop_front() {
            let reason = match record.moment.said.time_of_day_us {
                Some(time_of_day_us) => {
                    self.note_undated(time_of_day_us);
                    Reason::NoDateYet
                }
                None => Reason::NoTimeYet,
            };
            self.account.set_aside(reason, record.place, &record.raw);
        }
    }

    fn note_undated(&mut self, time_of_day_us: i64) {
        let undated = self.account.report.clock.undated.get_or_insert(Undated {
            first_us: time_of_day_us,
            last_us: time_of_day_us,
            midnights: 0,
            records: 0,
        });
        undated.midnights += i64::from(undated.last_us - time_of_day_us > US_PER_DAY / 2);
        undated.last_us = time_of_day_us;
        undated.records += 1;
    }

    fn finish(mut self) {
        self.decide();
        while !self.waiting.is_empty() {
            self.drop_first();
        }
        let mut contents = BTreeMap::new();
        for (address, n) in self.addresses.iter() {
            contents.insert(String::from_utf8_lossy(address).into_owned(), n);
        }
        let remarks = self.remarks();
        let report = self.account.report;
        report.clock.stretches = self.clock.stretches;
        report.contents.append(&mut contents);
        report.remarks.extend(remarks);
        report.described = self.stamps.describe();
        (report.clock_offset_s, report.clock_offset_method) =
            if self.clock.notes.knows_date || self.clock.notes.by_fallback {
                (Some(0.0), Some("gps"))
            } else if report.time_first_us.is_none() {
                (None, None)
            } else if self.stamps.utc + self.stamps.tags > 0 {
                (Some(0.0), Some("utc_stated"))
            } else if self.stamps.offset > 0 {
                (Some(self.stamps.to_utc_s), Some("offset_stated"))
            } else if self.zone.is_some() {
                (Some(self.stamps.to_utc_s), Some("boat_file_zone"))
            } else {
                (Some(0.0), Some("assumed_utc"))
            };
    }

    fn remarks(&self) -> Vec<String> {
        let (notes, clock) = (&self.notes, &self.clock.notes);
        let mut remarks = Vec::new();
        let mut counted = |n: u64, one: &str, many: &str| match n {
            0 => {}
            1 => remarks.push(format!("1 {one}.")),
            n => remarks.push(format!("{n} {many}.")),
        };
        counted(
            notes.without_checksum,
            "sentence has no checksum and was taken as it is",
            "sentences have no checksum and were taken as they are",
        );
        counted(
            notes.tags_wrong,
            "TAG block has a wrong checksum and was passed over; its sentence was not",
            "TAG blocks have a wrong checksum and were passed over; their sentences were not",
        );
        counted(notes.empty, "sentence has only empty fields", "sentences have only empty fields");
        counted(
            notes.marks_repeated,
            "waypoint was sent again and counts as one mark",
            "waypoints were sent again and count as one mark each",
        );
        counted(
            clock.dates_taken_back,
            "sentence had a date that the next ones took back; it was read with theirs",
            "sentences had a date that the next ones took back; they were read with theirs",
        );
        counted(
            clock.steps,
            "time the clock was set or the log was silent for more than ten minutes",
            "times the clock was set or the log was silent for more than ten minutes",
        );
        if let Some((least, most)) = clock.leads_us.filter(|_| clock.stamps_are_off && !self.is_moved()) {
            remarks.push(format!(
                "The stamps of the lines run on another clock than the fixes ({:+.1} to {:+.1} s); times without \
                 one of their own were moved to that of the fixes.",
                least as f64 / 1e6,
                most as f64 / 1e6,
            ));
        }
        if self.stamps.unsaid > 0 && !clock.knows_date {
            remarks.push(match &self.zone {
                Some(_) => "The stamps do not say their zone; the boat file's was taken.".to_owned(),
                None => "The stamps do not say their zone and were taken for UTC.".to_owned(),
            });
        }
        if self.clock.stretches.iter().any(|stretch| stretch.date == DateFrom::NextDay) {
            remarks.push(
                "After a silence the clock times have no date; they were taken for those of the next day. How many \
                 days the log was silent nothing says."
                    .to_owned(),
            );
        }
        if clock.by_fallback && self.hints.first_date_us.is_none() {
            let which = if clock.knows_date {
                "The first sentences give no date"
            } else {
                "No sentence gives a date"
            };
            remarks.push(format!("{which}; it was taken from the name of the file."));
        }
        if !clock.knows_date && self.account.report.set_aside.contains_key(Reason::NoDateYet.word()) {
            let hint = "No sentence gives a date, so nothing says on which day its clock times were. Put the day into \
                        the name of the file, like `2026-06-14 LOG.TXT`, and read it again.";
            remarks.push(hint.to_owned());
        }
        let report = &self.account.report;
        if report.time_first_us.is_none() && report.set_aside.contains_key(Reason::NoTimeYet.word()) {
            let hint = "No sentence says a time, and nothing before one is a time that is read (2026-06-14T05:12:03Z or \
                        seconds since 1970): its values cannot be placed.";
            remarks.push(hint.to_owned());
        }
        remarks
    }

    /// Whether hints move the times of the file.
    fn is_moved(&self) -> bool {
        self.hints.stretches.iter().any(|retime| *retime != Retime::Add(0))
    }
}

impl Stamps {
    fn describe(&self) -> String {
        let stamps = match (self.utc, self.offset, self.unsaid) {
            (0, 0, 0) => "",
            (_, 0, 0) => " with UTC stamps",
            (0, 0, _) => " with stamps that do not say their zone",
            _ => " with stamps",
        };
        let tags = if self.tags > 0 { " with TAG block times" } else { "" };
        format!("NMEA 0183{stamps}{tags}")
    }
}

fn is_fix(observation: &Observation) -> bool {
    matches!(observation.value, Value::Fix { .. })
}

/// Where values and records go, and how they are counted.
struct Account<'a> {
    report: &'a mut SourceReport,
    sink: &'a mut dyn Sink,
    /// Those of the stretch at hand.
    observations: Vec<Observation>,
    /// Those of them that have their times and were not handed on yet.
    given: Range<usize>,
}

impl Account<'_> {
    /// Gives records of the stretch at hand their time.
    fn use_values(&mut self, time_us: i64, n_records: u64, values: Range<usize>) {
        self.count_used(time_us, n_records);
        if values.start != self.given.end {
            self.hand_on();
            self.given.start = values.start;
        }
        self.given.end = values.end;
        for observation in &mut self.observations[values] {
            observation.time_us = time_us;
        }
    }

    /// Gives a record that waited its time.
    fn use_waiting(&mut self, time_us: i64, observations: &mut [Observation]) {
        self.count_used(time_us, 1);
        for observation in &mut *observations {
            observation.time_us = time_us;
        }
        self.sink.observations(observations);
    }

    fn count_used(&mut self, time_us: i64, n_records: u64) {
        let report = &mut *self.report;
        report.records_used += n_records;
        report.time_first_us = Some(report.time_first_us.map_or(time_us, |first| first.min(time_us)));
        report.time_last_us = Some(report.time_last_us.map_or(time_us, |last| last.max(time_us)));
    }

    /// Hands on what has its time.
    fn hand_on(&mut self) {
        let given = std::mem::take(&mut self.given);
        if !given.is_empty() {
            self.sink.observations(&self.observations[given]);
        }
    }

    fn set_aside(&mut self, reason: Reason, (line, byte): (u64, u64), raw: &[u8]) {
        self.hand_on();
        let n = self.report.set_aside.entry(reason.word()).or_insert(0);
        *n += 1;
        if *n <= SET_ASIDE_KEPT {
            let raw = String::from_utf8_lossy(&raw[..raw.len().min(4 * RAW_CHARS_MAX)]);
            let raw = raw.chars().take(RAW_CHARS_MAX).collect();
            self.sink.set_aside(SetAside { line, byte, reason: reason.word(), raw });
        }
    }
}

/// The instant at which clocks of a zone show a time; in the hour that a change of clocks repeats, the first.
fn in_zone(clock_us: i64, zone: &TimeZone) -> Option<i64> {
    let shown = TimeZone::UTC.to_datetime(Timestamp::from_microsecond(clock_us).ok()?);
    Some(zone.to_timestamp(shown).ok()?.as_microsecond())
}

#[cfg(test)]
mod tests;
