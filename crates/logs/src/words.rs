//! Where in a text does a byte stand, and what is its checksum, looked at eight or sixteen bytes at a time?
//!
//! Sentences are short: a search that is set up for long texts costs more than it finds in a field of four digits. So
//! the bytes of a word are compared together, in plain integers or in the vectors that every processor has.

#![expect(clippy::inline_always, reason = "a call would cost as much as what is called")]

use wide::u8x16;

/// One in every byte.
const ONES: u64 = u64::from_le_bytes([1; 8]);

/// The highest bit of every byte.
const HIGH_BITS: u64 = u64::from_le_bytes([0x80; 8]);

const STARS: u8x16 = u8x16::splat(b'*');

const COMMAS: u8x16 = u8x16::splat(b',');

/// The last byte below the blank.
const LAST_CONTROLS: u8x16 = u8x16::splat(b' ' - 1);

/// From the place 16 - n on: n bytes of ones, and then zeros.
const UP_TO: [u8; 32] = {
    let mut bytes = [0; 32];
    let mut at = 0;
    while at < 16 {
        bytes[at] = u8::MAX;
        at += 1;
    }
    bytes
};

/// What a text holds up to its first `*`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct UpToStar {
    /// Where the star stands.
    pub star: usize,
    /// Exclusive or of all bytes before it.
    pub checksum: u8,
    /// Whether one of them is a line end or another byte below the blank.
    pub has_control: bool,
}

/// Looks for the first `*`.
#[inline]
pub(crate) fn up_to_star(text: &[u8]) -> Option<UpToStar> {
    let (chunks, tail) = text.as_chunks();
    let (mut sum, mut controls) = (u8x16::ZERO, u8x16::ZERO);
    for (n, chunk) in chunks.iter().enumerate() {
        let bytes = u8x16::new(*chunk);
        let stars = bytes.simd_eq(STARS).to_bitmask();
        if stars != 0 {
            return Some(with_last_bytes(stars, 16 * n, sum, controls, bytes));
        }
        sum ^= bytes;
        controls |= bytes.simd_eq(bytes.min(LAST_CONTROLS));
    }
    let mut last = [b' '; 16];
    last[..tail.len()].copy_from_slice(tail);
    let bytes = u8x16::new(last);
    let stars = bytes.simd_eq(STARS).to_bitmask();
    (stars != 0).then(|| with_last_bytes(stars, text.len() - tail.len(), sum, controls, bytes))
}

#[inline]
fn with_last_bytes(stars: u32, start: usize, sum: u8x16, controls: u8x16, bytes: u8x16) -> UpToStar {
    let at = stars.trailing_zeros() as usize % 16;
    let before = u8x16::new(*UP_TO[16 - at..].first_chunk().unwrap_or(&[0; 16]));
    let controls = controls | bytes.simd_eq(bytes.min(LAST_CONTROLS)) & before;
    let sum = u128::from_le_bytes((sum ^ bytes & before).to_array());
    let checksum = folded(sum as u64 ^ (sum >> 64) as u64);
    UpToStar { star: start + at, checksum, has_control: controls.to_bitmask() != 0 }
}

/// Exclusive or of all bytes: the checksum of sentences and of TAG blocks.
pub(crate) fn checksum(text: &[u8]) -> u8 {
    let (words, tail) = text.as_chunks();
    let sum = words.iter().fold(0, |sum, word| sum ^ u64::from_le_bytes(*word));
    tail.iter().fold(folded(sum), |sum, b| sum ^ b)
}

/// Whether a word starts with `$`, five capital letters and a comma.
#[inline]
pub(crate) fn starts_usual(word: u64) -> bool {
    const LETTERS: u64 = u64::from_le_bytes([0, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0, 0]);
    const ENDS: u64 = u64::from_le_bytes([0xFF, 0, 0, 0, 0, 0, 0xFF, 0]);
    let from_a = word.wrapping_add(ONES * u64::from(0x80 - b'A'));
    let behind_z = word.wrapping_add(ONES * u64::from(0x7F - b'Z'));
    word & ENDS == u64::from_le_bytes([b'$', 0, 0, 0, 0, 0, b',', 0])
        && from_a & !behind_z & !word & HIGH_BITS & LETTERS == HIGH_BITS & LETTERS
}

/// How many bytes are the same at the start of two texts.
#[inline]
pub(crate) fn same_at_start(one: &[u8; 32], other: &[u8; 32]) -> usize {
    let (ones, _) = one.as_chunks();
    let (others, _) = other.as_chunks();
    let same = |at: usize| u8x16::new(ones[at]).simd_eq(u8x16::new(others[at])).to_bitmask();
    (same(0) | same(1) << 16).trailing_ones() as usize
}

/// The commas among the next 64 bytes from a place on, the first of them lowest.
#[inline]
pub(crate) fn commas_from(text: &[u8], start: usize) -> u64 {
    let rest = text.get(start..).unwrap_or_default();
    if let Some(bytes) = rest.first_chunk() {
        return commas_in(bytes);
    }
    let mut bytes = [0; 64];
    bytes[..rest.len()].copy_from_slice(rest);
    commas_in(&bytes)
}

#[inline]
fn commas_in(bytes: &[u8; 64]) -> u64 {
    let (chunks, _) = bytes.as_chunks();
    chunks
        .iter()
        .rev()
        .fold(0, |commas, chunk| commas << 16 | u64::from(u8x16::new(*chunk).simd_eq(COMMAS).to_bitmask()))
}

/// How many bytes from a place to the next comma, or to the end.
#[inline]
pub(crate) fn to_comma(text: &[u8], start: usize) -> usize {
    let mut at = start;
    while at < text.len() {
        let commas = bytes_like(b',', word_at(text, at));
        if commas != 0 {
            return at + commas.trailing_zeros() as usize / 8 - start;
        }
        at += 8;
    }
    text.len() - start.min(text.len())
}

/// The eight bytes of a text from a place on, the first one lowest; zero where the text has ended.
#[inline(always)]
pub(crate) fn word_at(text: &[u8], at: usize) -> u64 {
    let rest = text.get(at..).unwrap_or_default();
    match (rest.first_chunk(), text.last_chunk()) {
        (Some(word), _) => u64::from_le_bytes(*word),
        (None, Some(last)) if !rest.is_empty() => u64::from_le_bytes(*last) >> (64 - 8 * rest.len()),
        _ => rest.iter().rev().fold(0, |word, b| word << 8 | u64::from(*b)),
    }
}

/// A number without a sign.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Plain {
    /// The number that its digits make without the point.
    pub digits: u64,
    /// How many of them stand behind the point.
    pub decimals: usize,
}

/// The number in the first one to eight bytes of a word: digits with at most one point among them. `None` for anything
/// else.
#[inline(always)]
pub(crate) fn plain_number(word: u64, length: usize) -> Option<Plain> {
    // what stands behind the number is shifted out, and the last digit becomes that of the word
    let values = (word ^ (ONES * u64::from(b'0'))) << (64 - 8 * length);
    let others = (values | values.wrapping_add(ONES * 118)) & HIGH_BITS;
    if others == 0 {
        return Some(Plain { digits: eight_digits(values), decimals: 0 });
    }
    let point = others.trailing_zeros() & !7;
    let is_point = (values >> point) as u8 == b'.' ^ b'0';
    if !is_point || others & (others - 1) != 0 || length < 2 {
        return None;
    }
    // what stands before the point moves up to what stands behind it
    let before = values & ((1 << point) - 1);
    let behind = values & (u64::MAX << point << 8);
    Some(Plain { digits: eight_digits(behind | before << 8), decimals: 7 - point as usize / 8 })
}

/// The number in the first one to eight bytes of a word, all of them digits.
#[inline(always)]
pub(crate) fn all_digits(word: u64, length: usize) -> Option<u64> {
    let values = (word ^ (ONES * u64::from(b'0'))) << (64 - 8 * length);
    let others = (values | values.wrapping_add(ONES * 118)) & HIGH_BITS;
    (others == 0).then(|| eight_digits(values))
}

/// How many digits stand at the start of a word, and the byte behind them.
#[inline(always)]
pub(crate) fn leading_digits(word: u64) -> (usize, Option<u8>) {
    let n = values_and_others(word).1.trailing_zeros() / 8;
    (n as usize, (n < 8).then(|| (word >> (8 * n)) as u8))
}

/// The number that the first one to eight bytes of a word make, all of them digits.
#[inline(always)]
pub(crate) fn first_digits(word: u64, n: usize) -> u64 {
    eight_digits(values_and_others(word).0 << (64 - 8 * n))
}

/// The three numbers of two digits each at the start of a word, and the byte behind them.
#[inline(always)]
pub(crate) fn three_pairs(word: u64) -> Option<([i64; 3], u8)> {
    let (values, others) = values_and_others(word);
    let pairs = pairs(values << 16);
    let pair = |n: u32| (pairs >> (16 * n) & 0xFF) as i64;
    (others.trailing_zeros() / 8 >= 6).then(|| ([pair(1), pair(2), pair(3)], (word >> 48) as u8))
}

/// What digits are worth, byte by byte, and the highest bit of each byte that is none. Right up to the first byte that is
/// no digit, and where that is a point up to the next one.
#[inline(always)]
fn values_and_others(word: u64) -> (u64, u64) {
    let values = word ^ (ONES * u64::from(b'0'));
    // 9 and 118 stay below the highest bit; a point does too
    (values, (values | values.wrapping_add(ONES * 118)) & HIGH_BITS)
}

/// The number that eight digits make, the first in the lowest byte.
#[inline(always)]
fn eight_digits(values: u64) -> u64 {
    let fours = (pairs(values).wrapping_mul(1 + (100 << 16)) >> 16) & 0x0000_FFFF_0000_FFFF;
    fours.wrapping_mul(1 + (10_000 << 32)) >> 32
}

/// The four numbers that pairs of digits make, the first in the lowest 16 bits.
#[inline(always)]
fn pairs(values: u64) -> u64 {
    (values.wrapping_mul(1 + (10 << 8)) >> 8) & 0x00FF_00FF_00FF_00FF
}

/// The highest bit of the first byte of a word that is the given one, and perhaps others above it.
#[inline]
fn bytes_like(byte: u8, word: u64) -> u64 {
    let differing = word ^ (ONES * u64::from(byte));
    differing.wrapping_sub(ONES) & !differing & HIGH_BITS
}

/// Exclusive or of the bytes of a word.
#[inline]
fn folded(word: u64) -> u8 {
    let word = word ^ word >> 32;
    let word = word ^ word >> 16;
    (word ^ word >> 8) as u8
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn words_say_what_bytes_say(text in proptest::collection::vec(
            prop_oneof![1 => any::<u8>(), 8 => b' '..=b'\xFF', 1 => Just(b'*'), 1 => Just(b'*' ^ 0x80), 1 => Just(b'+'), 1 => Just(b',')], 0..140,
        ), start in 0usize..150) {
            let sum = |bytes: &[u8]| bytes.iter().fold(0, |sum, b| sum ^ b);
            prop_assert_eq!(checksum(&text), sum(&text));
            let star = text.iter().position(|b| *b == b'*');
            let found = star.map(|star| UpToStar {
                star,
                checksum: sum(&text[..star]),
                has_control: text[..star].iter().any(|b| *b < b' '),
            });
            prop_assert_eq!(up_to_star(&text), found);
            let rest = text.get(start..).unwrap_or_default();
            let comma = rest.iter().position(|b| *b == b',').unwrap_or(rest.len());
            prop_assert_eq!(to_comma(&text, start), comma);
            let commas = rest.iter().take(64).rev().fold(0, |commas, b| commas << 1 | u64::from(*b == b','));
            prop_assert_eq!(commas_from(&text, start), commas);
            let word: Vec<u8> = rest.iter().copied().chain([0; 8]).take(8).collect();
            prop_assert_eq!(word_at(&text, start).to_le_bytes().to_vec(), word);
        }

        #[test]
        fn starts(text in r"[$!][A-Z]{5},.|[$!][@-\[`-{]{5}[,*].|.{8}") {
            let bytes: Vec<u8> = text.bytes().chain([0; 8]).take(8).collect();
            let want = bytes[0] == b'$' && bytes[1..6].iter().all(u8::is_ascii_uppercase) && bytes[6] == b',';
            prop_assert_eq!(starts_usual(word_at(&bytes, 0)), want);
        }

        #[test]
        fn texts_that_start_alike(text in any::<[u8; 32]>(), at in 0usize..40, byte in any::<u8>()) {
            let mut other = text;
            if let Some(changed) = other.get_mut(at) {
                *changed = byte;
            }
            let n_same = text.iter().zip(&other).take_while(|(one, other)| one == other).count();
            prop_assert_eq!(same_at_start(&text, &other), n_same);
        }

        #[test]
        fn digits(text in "[0-9.]{0,9}[,*A. \u{e9}-]?.{0,3}", length in 1usize..=8) {
            let bytes: Vec<u8> = text.bytes().chain([0; 8]).take(8).collect();
            let word = word_at(&bytes, 0);
            let is_digit = |at: usize| bytes[at].is_ascii_digit();
            let number = std::str::from_utf8(&bytes[..length]).unwrap_or_default();
            let point = number.find('.');
            let digits = number.replacen('.', "", 1);
            let want = digits.bytes().all(|b| b.is_ascii_digit()).then(|| digits.parse().ok()).flatten();
            let decimals = point.map_or(0, |at| length - 1 - at);
            prop_assert_eq!(plain_number(word, length), want.map(|digits| Plain { digits, decimals }));
            prop_assert_eq!(all_digits(word, length), want.filter(|_| point.is_none()));
            let n = (0..8).find(|at| !is_digit(*at)).unwrap_or(8);
            prop_assert_eq!(leading_digits(word), (n, bytes.get(n).copied()));
            if n > 0 {
                prop_assert_eq!(first_digits(word, n).to_string(), text[..n].parse::<u64>().unwrap().to_string());
            }
            let pair = |at: usize| i64::from(bytes[at] - b'0') * 10 + i64::from(bytes[at + 1] - b'0');
            let pairs = (0..6).all(is_digit).then(|| ([pair(0), pair(2), pair(4)], bytes[6]));
            prop_assert_eq!(three_pairs(word), pairs);
        }
    }
}
