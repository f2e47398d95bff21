//! What do the lines of a stretch of a log say, each on its own?
//!
//! What needs no knowledge of the lines before is found here: sentences, their values, what they say about the time. So
//! the stretches of a long log can be looked at side by side, and what they say is then taken in the order of the file.

use super::decode::Body;
use super::fields::SaidTime;
use super::reason::Reason;
use super::sentence::{Candidate, Frame, candidates, usual};
use crate::lines::{Piece, Place, Split};
use crate::observation::{NO_TALKER, Talker, Value};
use crate::stamp::{Stamp, stamp_in};
use crate::words::word_at;

/// The records of a stretch, in order.
#[derive(Default)]
pub(super) struct Records {
    /// The records.
    pub all: Vec<Record>,
    /// Values of all sentences, one after the other.
    values: Vec<Value>,
    /// What stood before the sentences of a line.
    stamps: Vec<Stamp>,
    /// TAG blocks whose own checksum was wrong.
    pub tags_wrong: u64,
}

/// A sentence, or a line without one.
#[derive(Clone, Copy, Debug)]
pub(super) struct Record {
    /// Line of the file, counted as the place at which the stretch starts counts.
    pub line: u64,
    /// What became of it.
    pub what: What,
    /// Where it starts in the stretch.
    start: u32,
    length: u32,
    /// The first eight bytes of the address, the first one lowest.
    pub address_word: u64,
    n_address: u32,
    n_data: u32,
    values: (u32, u32),
    /// The stamp before the sentences of its line.
    pub stamp: Option<u32>,
    /// A sentence that had its checksum.
    pub has_checksum: bool,
    /// Who sent it.
    pub talker: Talker,
    /// Why its values do not count, where it says so itself.
    pub judged: Result<(), Reason>,
    /// The time that it says.
    pub said: SaidTime,
    /// The time of the TAG block before it.
    pub tag_us: Option<i64>,
}

/// What a record turned out to be.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum What {
    /// A comment.
    Comment,
    /// A line, or a piece of one, without a sentence.
    NoSentence,
    /// A piece of an overlong line without a sentence.
    LineTooLong,
    /// Something that starts like a sentence and is none.
    Torn(Reason),
    /// A sentence that can't be decoded.
    Refused(Reason),
    /// A sentence that this job does not need.
    NotNeeded,
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
        let mut split = Split::new(bytes, from, at_end);
        loop {
            if let Some((length, frame)) = usual(split.rest())
                && let Some(piece) = split.next_of(length)
            {
                self.take_sentence(&frame, Record::new(&piece, 0, length, from));
            } else if let Some(piece) = split.next() {
                self.take_line(&piece, from);
            } else {
                return split.stands();
            }
        }
    }

    /// Forgets all records.
    pub fn clear(&mut self) {
        self.all.clear();
        self.values.clear();
        self.stamps.clear();
        self.tags_wrong = 0;
    }

    /// The values of a record.
    #[inline]
    pub fn values_of(&self, record: &Record) -> &[Value] {
        &self.values[record.values.0 as usize..record.values.1 as usize]
    }

    /// The stamp that a record names.
    pub fn stamp(&self, at: u32) -> Stamp {
        self.stamps[at as usize]
    }

    fn take_line(&mut self, piece: &Piece, from: Place) {
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
            self.take(&candidate, piece, from, stamp);
        }
        self.tags_wrong += on_line.tags_wrong();
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
            What::Comment
        } else {
            What::NoSentence
        };
        let record = Record::new(piece, 0, piece.bytes.len(), from);
        self.all.push(Record { what, ..record });
    }

    fn take(&mut self, candidate: &Candidate, piece: &Piece, from: Place, stamp: Option<u32>) {
        let mut record = Record::new(piece, candidate.start, candidate.bytes.len(), from);
        (record.stamp, record.tag_us) = (stamp, candidate.tag.and_then(|tag| tag.time_us));
        match &candidate.frame {
            Ok(frame) => self.take_sentence(frame, record),
            Err(reason) => self.all.push(Record { what: What::Torn(*reason), ..record }),
        }
    }

    #[inline]
    fn take_sentence(&mut self, frame: &Frame, mut record: Record) {
        self.decode(frame, &mut record);
        self.all.push(record);
    }

    #[inline]
    fn decode(&mut self, frame: &Frame, record: &mut Record) {
        (record.n_address, record.n_data) = (frame.address.len() as u32, frame.data.len() as u32);
        record.address_word =
            word_at(frame.text, 1) & u64::MAX.unbounded_shr(64_u32.saturating_sub(8 * record.n_address));
        record.has_checksum = frame.has_checksum;
        let decoded = frame.decode();
        let decoded = match &decoded {
            Ok(decoded) => decoded,
            Err(reason) => return record.what = What::Refused(*reason),
        };
        record.what = match decoded.body {
            Body::NotNeeded => return record.what = What::NotNeeded,
            Body::Wpl(_) => What::Mark,
            _ => What::Said,
        };
        record.talker = decoded.talker;
        record.said = decoded.body.said();
        let start = self.values.len() as u32;
        record.judged = decoded.body.values(&mut |value| self.values.push(value));
        record.values = (start, self.values.len() as u32);
    }
}

impl Record {
    /// A record on a line of which nothing is known but its place.
    #[inline]
    fn new(piece: &Piece, start: usize, length: usize, from: Place) -> Self {
        Self {
            line: piece.line,
            what: What::NoSentence,
            start: (piece.byte - from.byte) as u32 + start as u32,
            length: length as u32,
            address_word: 0,
            n_address: 0,
            n_data: 0,
            values: (0, 0),
            stamp: None,
            has_checksum: true,
            talker: NO_TALKER,
            judged: Ok(()),
            said: SaidTime::default(),
            tag_us: None,
        }
    }

    /// Where it starts in the stretch.
    #[inline]
    pub fn start(&self) -> usize {
        self.start as usize
    }

    /// What stands there, from its `$` or `!` on where it has one.
    #[inline]
    pub fn raw<'a>(&self, stretch: &'a [u8]) -> &'a [u8] {
        &stretch[self.start()..self.start() + self.length as usize]
    }

    /// The address of a sentence.
    #[inline]
    pub fn address<'a>(&self, stretch: &'a [u8]) -> &'a [u8] {
        &self.raw(stretch)[1..=self.n_address as usize]
    }

    /// The fields of a sentence that has any.
    pub fn data<'a>(&self, stretch: &'a [u8]) -> &'a [u8] {
        let start = self.n_address as usize + 2;
        self.raw(stretch).get(start..start + self.n_data as usize).unwrap_or_default()
    }
}
