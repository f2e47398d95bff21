//! Where on a line are the sentences, and did they arrive whole?
//!
//! A sentence starts with `$` or `!` and an address and ends with `*` and a checksum of two hexadecimal
//! digits. Many loggers leave the checksum out; then it ends where the next one starts, or with the line.
//! A second start inside a sentence whose checksum is right belongs to it; where the checksum is wrong, the
//! first sentence was cut and the second is looked at on its own. What stands before, between and behind the
//! sentences of a line is noise.

use super::reason::Reason;
use crate::stamp::{TagBlock, checksum, checksum_digits, tag_block};

/// Bytes within which a sentence must end. The standard says 82 characters, transducer sentences of real
/// instruments reach several hundred.
const SENTENCE_BYTES_MAX: usize = 1024;

/// Longest address of a start that is taken for one.
const ADDRESS_BYTES_MAX: usize = 12;

/// Something on a line that starts like a sentence.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Candidate<'a> {
    /// Byte of the line at which it starts.
    pub start: usize,
    /// The candidate itself, from its `$` or `!`.
    pub bytes: &'a [u8],
    /// TAG block directly before it.
    pub tag: Option<TagBlock<'a>>,
    /// The sentence in it, or why it holds none.
    pub frame: Result<Frame<'a>, Reason>,
}

/// A sentence that arrived whole, as far as a checksum can tell.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Frame<'a> {
    /// `$`, or `!` for an encapsulated sentence.
    pub start: u8,
    /// Talker and type: `GPRMC`.
    pub address: &'a [u8],
    /// The fields, without the comma before the first.
    pub data: &'a [u8],
    /// Whether there was a checksum (which then is right).
    pub has_checksum: bool,
}

/// The candidates on a line, in order.
pub fn candidates(line: &[u8]) -> Candidates<'_> {
    Candidates { line, at: 0, tags_wrong: 0 }
}

/// Iterator of [`candidates`].
#[derive(Clone, Debug)]
pub struct Candidates<'a> {
    line: &'a [u8],
    at: usize,
    tags_wrong: u64,
}

impl Candidates<'_> {
    /// TAG blocks so far whose own checksum was wrong; they are passed over, their sentences are not.
    pub fn tags_wrong(&self) -> u64 {
        self.tags_wrong
    }
}

impl<'a> Iterator for Candidates<'a> {
    type Item = Candidate<'a>;

    fn next(&mut self) -> Option<Candidate<'a>> {
        let mut tag = None;
        let mut tag_end = None;
        loop {
            let rest = &self.line[self.at..];
            let start = self.at + rest.iter().position(|b| matches!(b, b'$' | b'!' | b'\\'))?;
            let text = &self.line[start..];
            if text[0] == b'\\' {
                self.at = start + 1;
                if let Some((block, length)) = tag_block(text) {
                    self.at = start + length;
                    self.tags_wrong += u64::from(block.is_none());
                    let earlier: Option<TagBlock> = tag.filter(|_| tag_end == Some(start));
                    tag = match (block, earlier) {
                        (Some(block), Some(earlier)) => Some(block.or(earlier)),
                        (block, earlier) => block.or(earlier),
                    };
                    tag_end = Some(self.at);
                }
            } else if starts_sentence(text) {
                let (length, frame) = frame(text);
                self.at = start + length;
                let tag = tag.filter(|_| tag_end == Some(start));
                return Some(Candidate { start, bytes: &text[..length], tag, frame });
            } else {
                self.at = start + 1;
            }
        }
    }
}

/// Whether a text that starts with `$` or `!` goes on like a sentence: an address, then a comma, a star,
/// or, where it was torn, nothing.
fn starts_sentence(text: &[u8]) -> bool {
    let address =
        text[1..].iter().take(ADDRESS_BYTES_MAX + 1).take_while(|b| b.is_ascii_alphanumeric()).count();
    match text.get(1 + address) {
        Some(b',' | b'*') => (3..=ADDRESS_BYTES_MAX).contains(&address),
        Some(b'$' | b'!') | None => (1..=ADDRESS_BYTES_MAX).contains(&address),
        Some(_) => false,
    }
}

/// The sentence at the start of `text`, and the length of what was looked at.
fn frame(text: &[u8]) -> (usize, Result<Frame<'_>, Reason>) {
    let window = &text[..text.len().min(SENTENCE_BYTES_MAX)];
    let Some(star) = window.iter().position(|b| *b == b'*') else {
        let end = next_start(window).unwrap_or(window.len());
        return (end, split(text[0], window[1..end].trim_ascii_end(), false));
    };
    let given = checksum_digits(&text[star + 1..]);
    if given == Some(checksum(&text[1..star])) {
        return (star + 3, split(text[0], &text[1..star], true));
    }
    if let Some(end) = next_start(&text[..star]) {
        return (end, Err(Reason::CutShort));
    }
    let digits = text[star + 1..].iter().take(2).take_while(|b| b.is_ascii_hexdigit()).count();
    let torn =
        digits < 2 && text.get(star + 1 + digits).is_none_or(|b| matches!(b, b' ' | b'\t' | b'$' | b'!'));
    (star + 1 + digits, Err(if torn { Reason::CutShort } else { Reason::ChecksumWrong }))
}

/// Address and fields of a sentence without its start and checksum.
fn split(start: u8, inside: &[u8], has_checksum: bool) -> Result<Frame<'_>, Reason> {
    match inside.iter().position(|b| *b == b',') {
        Some(comma) => {
            Ok(Frame { start, address: &inside[..comma], data: &inside[comma + 1..], has_checksum })
        }
        None if has_checksum => Ok(Frame { start, address: inside, data: &[], has_checksum }),
        None => Err(Reason::CutShort),
    }
}

/// Place of the next start behind the first byte.
fn next_start(text: &[u8]) -> Option<usize> {
    let mut at = 1;
    loop {
        at += text[at..].iter().position(|b| matches!(b, b'$' | b'!'))?;
        if starts_sentence(&text[at..]) {
            return Some(at);
        }
        at += 1;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Bytes of each candidate with `ok` or its reason.
    fn check(line: &str, want: &[(&str, &str)]) {
        let got: Vec<_> = candidates(line.as_bytes())
            .map(|c| (std::str::from_utf8(c.bytes).unwrap(), c.frame.map_or_else(Reason::word, |_| "ok")))
            .collect();
        assert_eq!(got, want, "{line}");
    }

    #[test]
    fn sentences_on_a_line() {
        check("$YXMTW,17.1,C*15", &[("$YXMTW,17.1,C*15", "ok")]);
        check("noise $ $$ !\u{1} $YXMTW,17.1,C*15 more", &[("$YXMTW,17.1,C*15", "ok")]);
        check("$YXMTW,17.1,C*15$YXMTW,19,C*04", &[("$YXMTW,17.1,C*15", "ok"), ("$YXMTW,19,C*04", "ok")]);
        check("$YXMTW,17.1,C $YXMTW,19,C", &[("$YXMTW,17.1,C ", "ok"), ("$YXMTW,19,C", "ok")]);
        check("$USSSL*4A", &[("$USSSL*4A", "ok")]);
        check("# no sentence here: $ 5", &[]);
        check("$GP*00", &[]);
    }

    #[test]
    fn sentences_that_run_together() {
        check("$SDDPT,26$YXMTW,17.1,C*15", &[("$SDDPT,26", "cut_short"), ("$YXMTW,17.1,C*15", "ok")]);
        // a sentence of a real instrument that holds copies of itself and still has the right checksum
        let nested = "$SDVLW,$SDVLW,,N,322.0,N,$SDVLW,$SDVLW,,N,322.0,N,2328.9,N,$SDVLW,$SDVLW,,N,322.0,N,\
                      $SDVLW,$SDVLW,,N,322.0,N,2328.9,N,2315.4,N*59";
        check(nested, &[(nested, "ok")]);
    }

    #[test]
    fn torn_and_wrong() {
        check("$GPRMC", &[("$GPRMC", "cut_short")]);
        check("$YXMTW,17.1,C*1", &[("$YXMTW,17.1,C*1", "cut_short")]);
        check("$YXMTW,17.1,C*", &[("$YXMTW,17.1,C*", "cut_short")]);
        check("$YXMTW,17.1,C*16", &[("$YXMTW,17.1,C*16", "checksum_wrong")]);
        check("$YXMTW,17.1,C*?5", &[("$YXMTW,17.1,C*", "checksum_wrong")]);
    }
}
