//! What do the lines of a stretch of a log say, each on its own?
//!
//! What needs no knowledge of the lines before is found here: sentences, their values, what they say about the time. So
//! the stretches of a long log can be looked at side by side, and what they say is then taken in the order of the file.
//! What is the same whatever came before is only counted.

use super::addresses::{Seen, word_of};
use super::decode::{Body, Maker, Put};
use super::fields::{LastPosition, SaidTime};
use super::reason::Reason;
use super::sentence::{Frame, candidates, usual};
use crate::lines::{Piece, Place, Split};
use crate::observation::{Observation, Talker, Value};
use crate::stamp::{Stamp, stamp_in};

/// The records of a stretch, in order.
#[derive(Default)]
pub(super) struct Records {
    /// Those that must be looked at one by one.
    pub all: Vec<Record>,
    /// Sentences that say values and nothing else: no time, no stamp, nothing against their values.
    pub plain: Vec<Plain>,
    /// Values of all sentences, one after the other, whose times are not known yet.
    pub observations: Vec<Observation>,
    /// What stood before the sentences of a line.
    pub stamps: Vec<Stamp>,
    /// Sentences by address.
    pub addresses: Seen,
    /// What is only counted.
    pub counts: Counts,
}

/// Records that are only counted, and what is counted of others.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Counts {
    /// Comments and sentences that this job does not need.
    pub not_needed: u64,
    /// Good sentences with neither a value nor a time.
    pub empty: u64,
    /// Sentences without a checksum that were taken.
    pub without_checksum: u64,
    /// TAG blocks whose own checksum was wrong.
    pub tags_wrong: u64,
}

/// Where a record stands in its stretch.
#[derive(Clone, Copy, Debug)]
pub(super) struct At {
    /// Line of the file, counted as the place at which the stretch starts counts.
    pub line: u32,
    /// The byte with which it starts.
    pub start: u32,
    /// Its length in bytes.
    pub length: u32,
}

/// A sentence that says values and nothing else.
#[derive(Clone, Copy, Debug)]
pub(super) struct Plain {
    /// Where it stands.
    pub at: At,
    /// Its values, among those of the stretch.
    pub values: (u32, u32),
}

/// A sentence, or a line without one.
#[derive(Clone, Copy, Debug)]
pub(super) struct Record {
    /// Where it stands.
    pub at: At,
    /// What became of it.
    pub what: What,
    /// How many plain sentences come before it.
    pub n_plain: u32,
    /// Its values, among those of the stretch.
    pub values: (u32, u32),
    n_data: u32,
    /// The address in a word, of a sentence that was decoded.
    pub address: u64,
    /// What stands before it.
    pub before: Before,
    /// Why its values do not count, where it says so itself.
    pub judged: Result<(), Reason>,
    /// The time that it says.
    pub said: SaidTime,
}

/// What a logger says about a sentence before it.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct Before {
    /// The stamp before the sentences of its line, among those of the stretch.
    pub stamp: Option<u32>,
    /// The time of the TAG block before it.
    pub tag_us: Option<i64>,
}

/// What a record turned out to be.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum What {
    /// A line, or a piece of one, without a sentence.
    NoSentence,
    /// A piece of an overlong line without a sentence.
    LineTooLong,
    /// Something that starts like a sentence and is none, or a sentence that can't be decoded.
    Refused(Reason),
    /// A waypoint.
    Mark,
    /// Any other sentence.
    Said,
}

impl Records {
    /// Looks at the bytes from a place on, and forgets what was there before; how many were used, and the place behind
    /// them. Where the file does not end with them, what comes behind the last line end is left.
    pub fn look(&mut self, bytes: &[u8], from: Place, at_end: bool) -> (usize, Place) {
        self.clear();
        let last = LastPosition::default();
        let mut split = Split::new(bytes, from, at_end);
        loop {
            if let Some((length, frame)) = usual(split.rest())
                && let Some(piece) = split.next_of(length)
            {
                let at = At::of(&piece, 0, length, from);
                self.take_sentence(&frame, at, Before::default(), bytes, &last);
            } else if let Some(piece) = split.next() {
                self.take_line(&piece, from, bytes, &last);
            } else {
                return split.stands();
            }
        }
    }

    /// Forgets all records.
    pub fn clear(&mut self) {
        self.all.clear();
        self.plain.clear();
        self.observations.clear();
        self.stamps.clear();
        self.addresses.clear();
        self.counts = Counts::default();
    }

    fn take_line(&mut self, piece: &Piece, from: Place, stretch: &[u8], last: &LastPosition) {
        let mut on_line = candidates(piece.bytes);
        let (mut stamp, mut n) = (None, 0_u64);
        for candidate in on_line.by_ref() {
            if n == 0 && candidate.start > 0 {
                stamp = stamp_in(&piece.bytes[..candidate.start]).map(|stamp| {
                    self.stamps.push(stamp);
                    self.stamps.len() as u32 - 1
                });
            }
            n += 1;
            let at = At::of(piece, candidate.start, candidate.bytes.len(), from);
            let before = Before { stamp, tag_us: candidate.tag.and_then(|tag| tag.time_us) };
            match &candidate.frame {
                Ok(frame) => self.take_sentence(frame, at, before, stretch, last),
                Err(reason) => self.push(Record { what: What::Refused(*reason), ..Record::new(at) }),
            }
        }
        self.counts.tags_wrong += on_line.tags_wrong();
        if n == 0 {
            self.take_without_sentence(piece, from);
        }
    }

    /// A line, or a piece of one, without a sentence.
    fn take_without_sentence(&mut self, piece: &Piece, from: Place) {
        let text = piece.bytes.trim_ascii();
        let what = if piece.goes_on || piece.continued {
            What::LineTooLong
        } else if text.is_empty() {
            return;
        } else if text.starts_with(b"#") || text.starts_with(b";") || text.starts_with(b"//") {
            self.counts.not_needed += 1;
            return;
        } else {
            What::NoSentence
        };
        self.push(Record { what, ..Record::new(At::of(piece, 0, piece.bytes.len(), from)) });
    }

    /// Takes a sentence at its place.
    #[inline(always)]
    fn take_sentence<'a>(
        &mut self,
        frame: &Frame<'a>,
        at: At,
        before: Before,
        stretch: &[u8],
        last: &'a LastPosition,
    ) {
        let address = word_of(frame.address);
        self.addresses.count(address, at.start + 1, frame.address.len(), stretch);
        let n_data = frame.data.len() as u32;
        let keeper = Keeper { records: self, at, before, address, n_data, has_checksum: frame.has_checksum };
        if let Err(reason) = frame.decode_for(keeper, Some(last)) {
            self.push(Record { what: What::Refused(reason), before, ..Record::new(at) });
        }
    }

    #[cold]
    fn push(&mut self, record: Record) {
        self.all.push(Record { n_plain: self.plain.len() as u32, ..record });
    }
}

/// Keeps what a sentence says.
struct Keeper<'r> {
    records: &'r mut Records,
    at: At,
    before: Before,
    address: u64,
    n_data: u32,
    has_checksum: bool,
}

/// Keeps the values of a sentence.
struct Values<'r> {
    observations: &'r mut Vec<Observation>,
    talker: Talker,
}

impl Put for Values<'_> {
    #[inline(always)]
    fn put(&mut self, value: Value) {
        self.observations.push(Observation { time_us: 0, talker: self.talker, source: 0, value });
    }
}

impl<'a> Maker<'a> for Keeper<'_> {
    type Made = ();

    #[inline(always)]
    fn make(self, talker: Talker, body: Body<'a>) {
        let Self { records, at, before, address, n_data, has_checksum } = self;
        records.counts.without_checksum += u64::from(!has_checksum);
        if let Body::NotNeeded = body {
            records.counts.not_needed += 1;
            return;
        }
        let start = records.observations.len() as u32;
        let judged = body.put_values(&mut Values { observations: &mut records.observations, talker });
        let values = (start, records.observations.len() as u32);
        let is_mark = matches!(body, Body::Wpl(_));
        let own_time = body.said();
        let said = own_time.unwrap_or_default();
        if judged.is_ok() && !is_mark {
            if values.0 == values.1 && said.time_of_day_us.is_none() {
                records.counts.empty += 1;
                return;
            }
            if own_time.is_none() && before == Before::default() {
                records.plain.push(Plain { at, values });
                return;
            }
        }
        let what = if is_mark { What::Mark } else { What::Said };
        let n_plain = records.plain.len() as u32;
        records.all.push(Record { at, what, n_plain, values, n_data, address, before, judged, said });
    }
}

impl At {
    #[inline]
    fn of(piece: &Piece, start: usize, length: usize, from: Place) -> Self {
        Self {
            line: (piece.line - from.line) as u32,
            start: (piece.byte - from.byte) as u32 + start as u32,
            length: length as u32,
        }
    }

    /// What stands there, from its `$` or `!` on where it has one.
    #[inline]
    pub fn raw(self, stretch: &[u8]) -> &[u8] {
        &stretch[self.start as usize..(self.start + self.length) as usize]
    }
}

impl Plain {
    /// The same as any other record.
    pub fn record(self) -> Record {
        Record { what: What::Said, values: self.values, ..Record::new(self.at) }
    }
}

impl Record {
    /// A record of which nothing is known but its place.
    #[inline]
    fn new(at: At) -> Self {
        Self {
            at,
            what: What::NoSentence,
            n_plain: 0,
            values: (0, 0),
            n_data: 0,
            address: 0,
            before: Before::default(),
            judged: Ok(()),
            said: SaidTime::default(),
        }
    }

    /// The fields of a waypoint.
    pub fn data<'a>(&self, stretch: &'a [u8]) -> &'a [u8] {
        // behind `$`, five letters and a comma
        self.at.raw(stretch).get(7..7 + self.n_data as usize).unwrap_or_default()
    }
}
