//! What does UTF-16 text say in UTF-8?
//!
//! Spreadsheets and phones export it. It is known by its byte order mark, or by the zero in every second byte of plain
//! English at its start (RFC 2781, sections 3.2 and 4.3, which leaves texts without a mark to the reader).

use std::io::{Read, Result};

/// Bytes that are looked at.
pub(crate) const HEAD_BYTES: usize = 64;

/// Bytes that are converted at a time.
const CHUNK_BYTES: usize = 8 * 1024;

/// Which byte of two comes first.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Order {
    /// The more significant one.
    Big,
    /// The less significant one.
    Little,
}

impl Order {
    /// The order of a text that starts with `head`; `None`: it is not UTF-16.
    pub fn of(head: &[u8]) -> Option<Self> {
        match head {
            // UTF-32
            [0xFF, 0xFE, 0, 0, ..] => None,
            [0xFF, 0xFE, ..] => Some(Self::Little),
            [0xFE, 0xFF, ..] => Some(Self::Big),
            _ => {
                let (pairs, _) = head.as_chunks();
                let is_letter = |byte: u8| byte.is_ascii_graphic() || byte.is_ascii_whitespace();
                let all = |good: fn([u8; 2]) -> (u8, u8)| {
                    pairs.iter().all(|pair| {
                        let (letter, zero) = good(*pair);
                        zero == 0 && is_letter(letter)
                    })
                };
                match pairs.len() {
                    0..8 => None,
                    _ if all(|[a, b]| (a, b)) => Some(Self::Little),
                    _ if all(|[a, b]| (b, a)) => Some(Self::Big),
                    _ => None,
                }
            }
        }
    }
}

/// UTF-8 made of UTF-16 as it is read. Half a pair, and an odd last byte, become U+FFFD.
pub(crate) struct Utf8From16<R> {
    bytes: R,
    order: Order,
    /// Bytes of a unit, or the unit of a pair, whose other half has not come yet.
    rest: Vec<u8>,
    text: String,
    /// How much of `text` was handed out.
    used: usize,
}

impl<R: Read> Utf8From16<R> {
    /// The text of `bytes`.
    pub fn new(bytes: R, order: Order) -> Self {
        Self { bytes, order, rest: Vec::new(), text: String::new(), used: 0 }
    }

    /// Where the bytes come from.
    pub fn get_ref(&self) -> &R {
        &self.bytes
    }

    /// Converts more; nothing more is there where `text` stays empty.
    fn fill(&mut self) -> Result<()> {
        self.text.clear();
        self.used = 0;
        while self.text.is_empty() {
            let n_before = self.rest.len();
            let n = self.bytes.by_ref().take(CHUNK_BYTES as u64).read_to_end(&mut self.rest)?;
            let (pairs, odd) = self.rest.as_chunks();
            let unit = |pair: &[u8; 2]| match self.order {
                Order::Big => u16::from_be_bytes(*pair),
                Order::Little => u16::from_le_bytes(*pair),
            };
            let mut units: Vec<u16> = pairs.iter().map(unit).collect();
            let mut kept = odd.to_vec();
            if n == 0 {
                // nothing follows that could complete it
                units.extend(odd.first().map(|_| 0xFFFD));
                kept.clear();
            } else if units.last().is_some_and(|last| (0xD800..0xDC00).contains(last)) {
                units.pop();
                let from = self.rest.len() - odd.len() - 2;
                kept = self.rest[from..].to_vec();
            }
            let letters = char::decode_utf16(units);
            self.text.extend(letters.map(|letter| letter.unwrap_or(char::REPLACEMENT_CHARACTER)));
            self.rest = kept;
            if n == 0 && (n_before == 0 || self.rest.is_empty()) {
                break;
            }
        }
        Ok(())
    }
}

impl<R: Read> Read for Utf8From16<R> {
    fn read(&mut self, buffer: &mut [u8]) -> Result<usize> {
        if self.used == self.text.len() {
            self.fill()?;
        }
        let n = buffer.len().min(self.text.len() - self.used);
        buffer[..n].copy_from_slice(&self.text.as_bytes()[self.used..self.used + n]);
        self.used += n;
        Ok(n)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn converted(bytes: &[u8], order: Order) -> String {
        let mut text = String::new();
        Utf8From16::new(bytes, order).read_to_string(&mut text).unwrap();
        text
    }

    fn utf16(text: &str, order: Order) -> Vec<u8> {
        let bytes = |unit: u16| if order == Order::Big { unit.to_be_bytes() } else { unit.to_le_bytes() };
        text.encode_utf16().flat_map(bytes).collect()
    }

    #[test]
    fn what_is_utf_16() {
        for order in [Order::Big, Order::Little] {
            assert_eq!(Order::of(&utf16("\u{feff}t", order)), Some(order));
            assert_eq!(Order::of(&utf16("time,depth", order)), Some(order));
            assert_eq!(Order::of(&utf16("time", order)), None, "too short to tell");
        }
        for other in ["", "time,depth_m,temp_c", "\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0"] {
            assert_eq!(Order::of(other.as_bytes()), None);
        }
        assert_eq!(Order::of(b"\xFF\xFE\0\0t\0\0\0"), None, "UTF-32");
    }

    #[test]
    fn halves() {
        assert_eq!(converted(b"\x3C\xD8a\0\x3C\xD8", Order::Little), "\u{fffd}a\u{fffd}");
        assert_eq!(converted(b"a\0b", Order::Little), "a\u{fffd}");
        assert_eq!(converted(b"", Order::Big), "");
    }

    proptest! {
        #[test]
        fn any_text_there_and_back(text in "\\PC{0,40}", n in 1usize..400, little in any::<bool>()) {
            let order = if little { Order::Little } else { Order::Big };
            let text = text.repeat(n);
            prop_assert_eq!(converted(&utf16(&text, order), order), text);
        }

        #[test]
        fn no_bytes_make_it_panic(bytes in proptest::collection::vec(any::<u8>(), 0..80)) {
            let _ = (Order::of(&bytes), converted(&bytes, Order::Little), converted(&bytes, Order::Big));
        }
    }
}
