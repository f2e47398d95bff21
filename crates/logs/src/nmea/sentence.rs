//! Where on a line are the sentences, and did they arrive whole?
//!
//! A sentence starts with `$` or `!` and an address and ends with `*` and a checksum of two hexadecimal
//! digits. Many loggers leave the checksum out; then it ends where the next one starts, or with the line.
//! A second start inside a sentence whose checksum is right belongs to it; where the checksum is wrong, the
//! first sentence was cut and the second is looked at on its own. What stands before, between and behind the
//! sentences of a line is noise.

use memchr::{memchr, memchr2, memchr3};

use super::reason::Reason;
use crate::stamp::{TagBlock, checksum_digits, tag_block};
use crate::words::{UpToStar, starts_usual, up_to_star};

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
    /// What starts with the sentence: where it has a checksum, that and more may stand behind the fields.
    pub(super) text: &'a [u8],
    /// Where the fields end in `text`.
    pub(super) end: usize,
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
            let start = self.at + next_mark(&self.line[self.at..])?;
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
            } else if let Some((length, frame)) = usual(text)
                .map(|(length, frame)| (length, Ok(frame)))
                .or_else(|| Some(frame(text, starts_sentence(text)?)))
            {
                self.at = start + length;
                let tag = tag.filter(|_| tag_end == Some(start));
                return Some(Candidate { start, bytes: &text[..length], tag, frame });
            } else {
                self.at = start + 1;
            }
        }
    }
}

/// A sentence as nearly all are, where the text starts with one: behind the first star the right checksum, and nothing
/// before it that no sentence holds. With its length. A text of several lines is taken as its first line would be.
#[inline(always)]
pub(super) fn usual(text: &[u8]) -> Option<(usize, Frame<'_>)> {
    let n_address =
        if starts_usual(u64::from_le_bytes(*text.first_chunk()?)) { 5 } else { address_of(text)? };
    let UpToStar { star, checksum, has_control } = up_to_star(&text[..text.len().min(SENTENCE_BYTES_MAX)])?;
    // the start itself does not count
    if has_control || checksum_digits(text.get(star + 1..)?) != Some(checksum ^ text[0]) {
        return None;
    }
    if n_address != 5 || text[6] != b',' {
        return Some((star + 3, split(text, star, n_address, true).ok()?));
    }
    let (address, data) = (&text[1..6], &text[7..star]);
    Some((star + 3, Frame { start: text[0], address, data, has_checksum: true, text, end: star }))
}

/// The length of the address, where the text starts like a sentence.
#[inline(never)]
fn address_of(text: &[u8]) -> Option<usize> {
    matches!(text[0], b'$' | b'!').then(|| starts_sentence(text))?
}

/// Place of the next byte with which a sentence or a TAG block may start.
fn next_mark(text: &[u8]) -> Option<usize> {
    match text.first()? {
        b'$' | b'!' | b'\\' => Some(0),
        _ => memchr3(b'$', b'!', b'\\', text),
    }
}

/// Whether a text that starts with `$` or `!` goes on like a sentence: an address, then a comma, a star,
/// or, where it was torn, nothing. The length of the address.
fn starts_sentence(text: &[u8]) -> Option<usize> {
    let address =
        text[1..].iter().take(ADDRESS_BYTES_MAX + 1).take_while(|b| b.is_ascii_alphanumeric()).count();
    let good = match text.get(1 + address) {
        Some(b',' | b'*') => (3..=ADDRESS_BYTES_MAX).contains(&address),
        Some(b'$' | b'!') | None => (1..=ADDRESS_BYTES_MAX).contains(&address),
        Some(_) => false,
    };
    good.then_some(address)
}

/// The sentence at the start of `text`, which has an address of that length, and the length of what was looked at.
fn frame(text: &[u8], n_address: usize) -> (usize, Result<Frame<'_>, Reason>) {
    let window = &text[..text.len().min(SENTENCE_BYTES_MAX)];
    let Some(UpToStar { star, checksum, .. }) = up_to_star(window) else {
        let end = next_start(window).unwrap_or(window.len());
        let sentence = window[..end].trim_ascii_end();
        return (end, split(sentence, sentence.len(), n_address, false));
    };
    // the start itself does not count
    if checksum_digits(&text[star + 1..]) == Some(checksum ^ text[0]) {
        return (star + 3, split(text, star, n_address, true));
    }
    if let Some(end) = next_start(&text[..star]) {
        return (end, Err(Reason::CutShort));
    }
    let digits = text[star + 1..].iter().take(2).take_while(|b| b.is_ascii_hexdigit()).count();
    let torn =
        digits < 2 && text.get(star + 1 + digits).is_none_or(|b| matches!(b, b' ' | b'\t' | b'$' | b'!'));
    (star + 1 + digits, Err(if torn { Reason::CutShort } else { Reason::ChecksumWrong }))
}

/// Address and fields of a sentence that starts with `text` and ends at `end`; the address ends no earlier than said.
fn split(text: &[u8], end: usize, n_address: usize, has_checksum: bool) -> Result<Frame<'_>, Reason> {
    let behind = text[..end].get(1 + n_address..).unwrap_or_default();
    let (address, data) = match memchr(b',', behind) {
        Some(more) => (&text[1..=n_address + more], &behind[more + 1..]),
        None if has_checksum => (&text[1..end], &text[end..end]),
        None => return Err(Reason::CutShort),
    };
    Ok(Frame { start: text[0], address, data, has_checksum, text, end })
}

/// Place of the next start behind the first byte.
fn next_start(text: &[u8]) -> Option<usize> {
    let mut at = 1;
    loop {
        at += memchr2(b'$', b'!', &text[at..])?;
        if starts_sentence(&text[at..]).is_some() {
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
