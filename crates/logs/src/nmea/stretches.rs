//! In which stretches is a log read, and on how many cores?
//!
//! A log is looked at block by block. When it turns out to be long, several blocks are looked at side by side, each from
//! the start of a line to the end of one, while what the blocks before them say is taken in the order of the file. What
//! comes out does not depend on it.

use std::io::{BufRead, ErrorKind, Result};
use std::ops::Range;

use memchr::{memchr, memrchr};

use super::records::Records;
use crate::lines::Place;

/// Bytes that are looked at in one go: few enough that they and what they say stay near the processor.
pub(crate) const BLOCK_BYTES: usize = 16 * 1024;

/// How a log is cut.
#[derive(Clone, Copy, Debug)]
pub(super) struct Plan {
    /// Bytes that are looked at in one go.
    pub block_bytes: usize,
    /// So many blocks are read one by one before the log is taken for a long one.
    pub n_alone: usize,
    /// So many blocks of a long log are held at once.
    pub n_together: usize,
}

impl Plan {
    /// The plan for this machine: what other cores could do for a log of less than two megabytes is not worth waking
    /// them. Each gets several blocks, so that none waits long for the last.
    pub fn of_machine() -> Self {
        let n_threads = rayon::current_num_threads();
        let n_together = if n_threads > 1 { (32 * n_threads).min(512) } else { 1 };
        Self { block_bytes: BLOCK_BYTES, n_alone: 128, n_together }
    }
}

/// A stretch of a log, with what was found in it.
#[derive(Default)]
pub(super) struct Stretch {
    bytes: Vec<u8>,
    /// Bytes that were filled.
    filled: usize,
    /// Those that belong to its parts; the others are for the next stretch.
    used: usize,
    parts: Vec<Part>,
}

/// A part of a stretch that was looked at on its own.
struct Part {
    range: Range<usize>,
    from: Place,
    /// The place behind it.
    to: Place,
    records: Records,
}

/// Reads a log to its end and hands out what is in it, in its order: the bytes of each part, the place at which it starts
/// and its records, whose lines count from 0.
///
/// # Errors
/// What the input reports, after all that came before.
pub(super) fn each(
    input: &mut dyn BufRead,
    plan: Plan,
    mut take: impl FnMut(&[u8], Place, &mut Records),
) -> Result<()> {
    let (mut now, mut next) = (Stretch::default(), Stretch::default());
    let mut place = Place::START;
    let mut n = 0;
    loop {
        let n_blocks = if n < plan.n_alone { 1 } else { plan.n_together };
        n += 1;
        let read = next.fill(&now, input, n_blocks * plan.block_bytes, plan.block_bytes);
        let ended = !matches!(read, Ok(true));
        let is_last = matches!(read, Ok(false));
        next.cut(&now, plan.block_bytes, ended);
        let Stretch { bytes, used, parts, .. } = &mut next;
        let (bytes, n_parts) = (&*bytes, parts.len());
        if n_parts > 1 {
            rayon::in_place_scope(|scope| {
                for (at, part) in parts.iter_mut().enumerate() {
                    scope.spawn(move |_| _ = part.look(bytes, is_last && at + 1 == n_parts));
                }
                now.hand_out(&mut place, &mut take);
            });
        } else {
            now.hand_out(&mut place, &mut take);
            for part in parts {
                *used = part.look(bytes, is_last);
            }
            next.hand_out(&mut place, &mut take);
        }
        std::mem::swap(&mut now, &mut next);
        if ended {
            now.hand_out(&mut place, &mut take);
            return read.map(|_| ());
        }
    }
}

impl Stretch {
    /// Fills it with what the stretch before it left, and reads more behind it; whether there may be more still.
    fn fill(
        &mut self,
        before: &Self,
        input: &mut dyn BufRead,
        length: usize,
        block_bytes: usize,
    ) -> Result<bool> {
        let rest = &before.bytes[before.used..before.filled];
        let length = length.max(rest.len() + block_bytes);
        if self.bytes.len() < length {
            self.bytes.resize(length, 0);
        }
        self.bytes[..rest.len()].copy_from_slice(rest);
        self.filled = rest.len();
        while self.filled < length {
            match input.read(&mut self.bytes[self.filled..length]) {
                Ok(0) => return Ok(false),
                Ok(n) => self.filled += n,
                Err(error) if error.kind() == ErrorKind::Interrupted => {}
                Err(error) => return Err(error),
            }
        }
        Ok(true)
    }

    /// Cuts it at line ends into parts of about a block. `ended`: nothing follows.
    fn cut(&mut self, before: &Self, block_bytes: usize, ended: bool) {
        let bytes = &self.bytes[..self.filled];
        // without a line feed it is one part, and looking at it tells how much of it can be used
        let last = memrchr(b'\n', bytes).map_or(bytes.len(), |at| at + 1);
        self.used = if ended { bytes.len() } else { last };
        let first = before.parts.last().map_or(Place::START, |part| part.to);
        let mut records = self.parts.drain(..).map(|part| part.records).collect::<Vec<_>>();
        let mut start = 0;
        while start < self.used {
            let want = start + block_bytes;
            // what the stretch before it left is not worth a part of its own
            let end = if want + block_bytes / 2 >= self.used {
                self.used
            } else {
                let back = memrchr(b'\n', &bytes[start..want]).map(|at| start + at + 1);
                back.or_else(|| Some(want + memchr(b'\n', &bytes[want..self.used])? + 1)).unwrap_or(self.used)
            };
            let from = if start == 0 { first.counted_anew() } else { Place::START.counted_anew() };
            let records = records.pop().unwrap_or_default();
            self.parts.push(Part { range: start..end, from, to: from, records });
            start = end;
        }
    }

    /// Hands out what was found, and forgets it.
    fn hand_out(&mut self, place: &mut Place, take: &mut impl FnMut(&[u8], Place, &mut Records)) {
        for part in &mut self.parts {
            take(&self.bytes[part.range.clone()], *place, &mut part.records);
            part.records.clear();
            place.go_on(part.to);
            part.to = part.to.counted_anew();
        }
    }
}

impl Part {
    /// Looks at it; how many bytes of it were used.
    fn look(&mut self, bytes: &[u8], at_end: bool) -> usize {
        let (used, to) = self.records.look(&bytes[self.range.clone()], self.from, at_end);
        self.to = to;
        used
    }
}
