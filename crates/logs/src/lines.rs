//! Where do the lines of a file start and end, when nothing is sure, not even that there are any?
//!
//! A line ends with LF, CR or CRLF. Memory is bounded: a line that is longer than [`LINE_BYTES_MAX`] is
//! handed out in pieces, cut where a sentence seems to start, so that a log without any line end can
//! still be read.

use std::io::{BufRead, ErrorKind, Result};

use memchr::{memchr2, memrchr2};

/// Longest line that is handed out whole. A sentence has at most 82 characters (NMEA 0183, read second-hand);
/// even with stamps and TAG blocks a thousand of them fit.
pub(crate) const LINE_BYTES_MAX: usize = 64 * 1024;

/// How far from the end of an overlong piece a cut before a sentence is looked for.
const CUT_BYTES: usize = 4096;

/// Bytes held at once: room for an overlong piece and for what is read behind it.
const BUFFER_BYTES: usize = 4 * LINE_BYTES_MAX;

/// A line without its end, or a piece of an overlong one.
#[derive(Debug, PartialEq)]
pub(crate) struct Piece<'a> {
    /// What stands there.
    pub bytes: &'a [u8],
    /// Line of the file, from 1.
    pub line: u64,
    /// Byte of the file at which the piece starts, from 0.
    pub byte: u64,
    /// The line did not end here.
    pub goes_on: bool,
    /// The line did not start here.
    pub continued: bool,
}

/// Where a line or a piece of one starts in a file.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Place {
    /// Line, from 1.
    pub line: u64,
    /// Byte, from 0.
    pub byte: u64,
    /// What ended the line before was CR: an LF here belongs to it.
    after_cr: bool,
    /// The line did not start here.
    continued: bool,
}

impl Place {
    /// The start of a file.
    pub const START: Self = Self { line: 1, byte: 0, after_cr: false, continued: false };

    /// This place, with lines and bytes counted from 0 here.
    pub fn counted_anew(self) -> Self {
        Self { line: 0, byte: 0, ..self }
    }

    /// Goes on to a place that was counted from this one.
    pub fn go_on(&mut self, to: Self) {
        *self = Self { line: self.line + to.line, byte: self.byte + to.byte, ..to };
    }
}

/// The lines of a stretch of a file.
pub(crate) struct Split<'a> {
    bytes: &'a [u8],
    start: usize,
    place: Place,
    at_end: bool,
}

impl<'a> Split<'a> {
    /// The lines of bytes that start at a place; `at_end`: the file ends with them.
    pub fn new(bytes: &'a [u8], place: Place, at_end: bool) -> Self {
        Self { bytes, start: 0, place, at_end }
    }

    /// How many bytes were passed over, and the place behind them.
    pub fn stands(&self) -> (usize, Place) {
        (self.start, self.place)
    }

    /// What was not handed out yet, from the start of a line on.
    #[inline]
    pub fn rest(&mut self) -> &'a [u8] {
        if self.place.after_cr && self.start < self.bytes.len() {
            self.place.after_cr = false;
            if self.bytes[self.start] == b'\n' {
                self.start += 1;
                self.place.byte += 1;
            }
        }
        &self.bytes[self.start..]
    }

    /// The next line or piece; `None` where more bytes, or the end, must come first.
    pub fn next(&mut self) -> Option<Piece<'a>> {
        let rest = self.rest();
        let window = &rest[..rest.len().min(LINE_BYTES_MAX)];
        if let Some(at) = memchr2(b'\n', b'\r', window) {
            return Some(self.hand_out(at, true));
        }
        if window.len() == LINE_BYTES_MAX {
            let tail = LINE_BYTES_MAX - CUT_BYTES;
            let cut = memrchr2(b'$', b'!', &window[tail..]);
            return Some(self.hand_out(cut.map_or(LINE_BYTES_MAX, |at| tail + at), false));
        }
        (self.at_end && !window.is_empty())
            .then(|| Piece { goes_on: false, ..self.hand_out(window.len(), false) })
    }

    /// The next line, where it is known to end no earlier than behind so many bytes and does end there.
    #[inline]
    pub fn next_of(&mut self, length: usize) -> Option<Piece<'a>> {
        let end = self.start + length;
        if self.bytes.get(end..end + 2) == Some(b"\r\n") {
            let Place { line, byte, continued, .. } = self.place;
            let bytes = &self.bytes[self.start..end];
            let behind = byte + length as u64 + 2;
            self.place = Place { line: line + 1, byte: behind, after_cr: false, continued: false };
            self.start = end + 2;
            return Some(Piece { bytes, line, byte, goes_on: false, continued });
        }
        matches!(self.bytes.get(end), Some(b'\n' | b'\r')).then(|| self.hand_out(length, true))
    }

    /// Hands out `length` bytes, and passes over the line end behind them if there is one.
    #[inline]
    fn hand_out(&mut self, length: usize, ended: bool) -> Piece<'a> {
        let Place { line, byte, continued, .. } = self.place;
        let bytes = &self.bytes[self.start..self.start + length];
        self.place = Place {
            line: line + u64::from(ended),
            byte: byte + length as u64 + u64::from(ended),
            after_cr: ended && self.bytes[self.start + length] == b'\r',
            continued: !ended,
        };
        self.start += length + usize::from(ended);
        Piece { bytes, line, byte, goes_on: !ended, continued }
    }
}

/// Reads a file line by line.
pub(crate) struct Lines<'i> {
    input: &'i mut dyn BufRead,
    buffer: Vec<u8>,
    start: usize,
    end: usize,
    place: Place,
    at_end: bool,
}

impl<'i> Lines<'i> {
    /// The lines of `input`, from its current place.
    pub fn new(input: &'i mut dyn BufRead) -> Self {
        Self { input, buffer: vec![0; BUFFER_BYTES], start: 0, end: 0, place: Place::START, at_end: false }
    }

    /// The next line or piece, `None` at the end of the file.
    ///
    /// # Errors
    /// What the input reports. The lines before the failure have been handed out.
    pub fn next(&mut self) -> Result<Option<Piece<'_>>> {
        let (first, length, Place { line, byte, continued, .. }, goes_on) = loop {
            let mut split = Split::new(&self.buffer[self.start..self.end], self.place, self.at_end);
            let from = (self.start, self.place.byte);
            let piece = split.next().map(|piece| {
                let first = from.0 + (piece.byte - from.1) as usize;
                let place =
                    Place { line: piece.line, byte: piece.byte, continued: piece.continued, after_cr: false };
                (first, piece.bytes.len(), place, piece.goes_on)
            });
            let (n, place) = split.stands();
            (self.start, self.place) = (self.start + n, place);
            match piece {
                Some(piece) => break piece,
                None if self.at_end => return Ok(None),
                None => self.fill()?,
            }
        };
        Ok(Some(Piece { bytes: &self.buffer[first..first + length], line, byte, goes_on, continued }))
    }

    /// Moves what is unread to the front and reads more behind it.
    fn fill(&mut self) -> Result<()> {
        self.buffer.copy_within(self.start..self.end, 0);
        self.end -= self.start;
        self.start = 0;
        let more = loop {
            match self.input.fill_buf() {
                Ok(more) => break more,
                Err(error) if error.kind() == ErrorKind::Interrupted => {}
                Err(error) => return Err(error),
            }
        };
        let n = more.len().min(self.buffer.len() - self.end);
        self.buffer[self.end..self.end + n].copy_from_slice(&more[..n]);
        self.input.consume(n);
        self.end += n;
        self.at_end = n == 0;
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use std::io::{BufReader, Read, repeat};

    use super::*;
    use proptest::prelude::*;

    /// Line, byte and text of every piece, read through an input that hands out `chunk` bytes at a time.
    fn pieces(bytes: &[u8], chunk: usize) -> Vec<(u64, u64, Vec<u8>)> {
        let mut input = BufReader::with_capacity(chunk, bytes);
        let mut lines = Lines::new(&mut input);
        let mut all = Vec::new();
        while let Some(piece) = lines.next().unwrap() {
            all.push((piece.line, piece.byte, piece.bytes.to_vec()));
        }
        all
    }

    #[test]
    fn every_kind_of_line_end() {
        for chunk in [1, 2, 3, 64] {
            let got = pieces(b"a\r\nb\rc\n\nd", chunk);
            let want = [(1, 0, "a"), (2, 3, "b"), (3, 5, "c"), (4, 7, ""), (5, 8, "d")];
            assert_eq!(got, want.map(|(line, byte, text)| (line, byte, text.as_bytes().to_vec())));
        }
    }

    #[test]
    fn a_gigabyte_without_a_line_end_needs_little_memory() {
        // 64 MB here: the buffer never grows, whatever the length
        let mut input = BufReader::new(repeat(b'x').take(64 << 20));
        let mut lines = Lines::new(&mut input);
        let (mut bytes, mut n) = (0, 0);
        while let Some(piece) = lines.next().unwrap() {
            assert!(piece.bytes.len() <= LINE_BYTES_MAX && piece.line == 1);
            assert_eq!((piece.byte, piece.continued), (bytes, n > 0));
            bytes += piece.bytes.len() as u64;
            n += 1;
        }
        assert_eq!(bytes, 64 << 20);
        assert_eq!(lines.buffer.len(), BUFFER_BYTES);
    }

    #[test]
    fn an_overlong_line_is_cut_before_a_sentence() {
        let text = "$IIMTW,12.0,C*10".repeat(10_000);
        let all = pieces(text.as_bytes(), 8192);
        assert!(all.len() > 1 && all.iter().all(|(_, _, bytes)| bytes.starts_with(b"$IIMTW")));
    }

    proptest! {
        #[test]
        fn pieces_are_the_file_without_its_line_ends(
            bytes in proptest::collection::vec(prop_oneof![Just(b'\r'), Just(b'\n'), any::<u8>()], 0..200),
            chunk in 1usize..40,
        ) {
            let mut next = 0;
            for (_, byte, text) in pieces(&bytes, chunk) {
                let byte = byte as usize;
                prop_assert!(bytes[next..byte].iter().all(|b| matches!(b, b'\r' | b'\n')));
                prop_assert_eq!(&bytes[byte..byte + text.len()], &text[..]);
                next = byte + text.len();
            }
            prop_assert!(bytes[next..].iter().all(|b| matches!(b, b'\r' | b'\n')));
        }
    }
}
