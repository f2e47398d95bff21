//! How are bytes of any encoding made safe for an XML reader, one for one, so that places still count?

use std::io::{BufRead, ErrorKind, Read, Result};

use memchr::memchr_iter;

/// Bytes handed out at once.
const BUFFER_BYTES: usize = 64 * 1024;

/// An input whose bytes outside of ASCII are question marks. All that is used of a GPX file is ASCII: tags, numbers,
/// times. Counts lines, and refuses to go on when one piece of markup takes more than it may.
pub(super) struct Ascii<'i> {
    input: &'i mut dyn BufRead,
    buffer: Vec<u8>,
    start: usize,
    line: u64,
    allowed: usize,
}

impl<'i> Ascii<'i> {
    /// The bytes of `input` from its current place.
    pub fn new(input: &'i mut dyn BufRead) -> Self {
        Self { input, buffer: Vec::new(), start: 0, line: 1, allowed: 0 }
    }

    /// Lets `bytes` more be read from here.
    pub fn allow(&mut self, bytes: usize) {
        self.allowed = bytes;
    }

    /// Whether all that was allowed has been read.
    pub fn is_used_up(&self) -> bool {
        self.allowed == 0
    }

    /// Line of the next byte, from 1.
    pub fn line(&self) -> u64 {
        self.line
    }
}

impl BufRead for Ascii<'_> {
    fn fill_buf(&mut self) -> Result<&[u8]> {
        if self.allowed == 0 {
            return Err(ErrorKind::FileTooLarge.into());
        }
        if self.start == self.buffer.len() {
            let more = self.input.fill_buf()?;
            let n = more.len().min(BUFFER_BYTES);
            self.buffer.clear();
            self.buffer.extend(more[..n].iter().map(|byte| if byte.is_ascii() { *byte } else { b'?' }));
            self.start = 0;
            self.input.consume(n);
        }
        let unread = &self.buffer[self.start..];
        Ok(&unread[..unread.len().min(self.allowed)])
    }

    fn consume(&mut self, n: usize) {
        let end = self.start + n;
        self.line += memchr_iter(b'\n', &self.buffer[self.start..end]).count() as u64;
        self.start = end;
        self.allowed -= n;
    }
}

impl Read for Ascii<'_> {
    fn read(&mut self, into: &mut [u8]) -> Result<usize> {
        let mut unread = self.fill_buf()?;
        let n = unread.read(into)?;
        self.consume(n);
        Ok(n)
    }
}
