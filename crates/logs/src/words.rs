//! Where in a text does a byte stand, and what is its checksum, looked at eight bytes at a time?
//!
//! Sentences are short: a search that is set up for long texts costs more than it finds in a field of four digits. So
//! the bytes of a word are compared together, in plain integers that every processor has.

/// One in every byte.
const ONES: u64 = u64::from_le_bytes([1; 8]);

/// The highest bit of every byte.
const HIGH_BITS: u64 = u64::from_le_bytes([0x80; 8]);

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
    let (words, tail) = text.as_chunks();
    let (mut sum, mut controls) = (0, 0);
    for (n, word) in words.iter().enumerate() {
        let word = u64::from_le_bytes(*word);
        let stars = bytes_like(b'*', word);
        if stars != 0 {
            return Some(with_last_word(stars, 8 * n, sum, controls, word));
        }
        sum ^= word;
        controls |= controls_in(word);
    }
    let start = text.len() - tail.len();
    let word = word_at(text, start);
    let stars = bytes_like(b'*', word);
    (stars != 0).then(|| with_last_word(stars, start, sum, controls, word))
}

#[inline]
fn with_last_word(stars: u64, start: usize, sum: u64, controls: u64, word: u64) -> UpToStar {
    let at = stars.trailing_zeros() / 8;
    let before = (1 << (8 * at)) - 1;
    UpToStar {
        star: start + at as usize,
        checksum: folded(sum ^ word & before),
        has_control: controls | controls_in(word) & before != 0,
    }
}

/// The highest bit of the first byte of a word that is below the blank, and perhaps others above it.
#[inline]
fn controls_in(word: u64) -> u64 {
    word.wrapping_sub(ONES * u64::from(b' ')) & !word & HIGH_BITS
}

/// Exclusive or of all bytes: the checksum of sentences and of TAG blocks.
pub(crate) fn checksum(text: &[u8]) -> u8 {
    let (words, tail) = text.as_chunks();
    let sum = words.iter().fold(0, |sum, word| sum ^ u64::from_le_bytes(*word));
    tail.iter().fold(folded(sum), |sum, b| sum ^ b)
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
#[inline]
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
    /// How many bytes it takes.
    pub length: usize,
}

/// The digits with at most one point among them at the start of a word, up to the first other byte. `None` where there
/// are none, or where no other byte stands in the word.
#[inline]
pub(crate) fn plain_number(word: u64) -> Option<Plain> {
    let (values, others) = values_and_others(word);
    let first = others.trailing_zeros() / 8;
    if first < 8 && (word >> (8 * first)) as u8 != b'.' {
        let digits = eight_digits(values.checked_shl(64 - 8 * first)?);
        return Some(Plain { digits, decimals: 0, length: first as usize });
    }
    let last = (others & others.wrapping_sub(1)).trailing_zeros() / 8;
    if !(2..8).contains(&last) {
        return None;
    }
    // the last digit becomes that of the word, and what stands before the point moves up to what stands behind it
    let values = values << (64 - 8 * last);
    let point = 8 * (first + 8 - last);
    let behind = values & (u64::MAX << point << 8);
    let digits = eight_digits(behind | (values & ((1 << point) - 1)) << 8);
    Some(Plain { digits, decimals: (last - first - 1) as usize, length: last as usize })
}

/// How many digits stand at the start of a word, and the byte behind them.
#[inline]
pub(crate) fn leading_digits(word: u64) -> (usize, Option<u8>) {
    let n = values_and_others(word).1.trailing_zeros() / 8;
    (n as usize, (n < 8).then(|| (word >> (8 * n)) as u8))
}

/// The number that the first one to eight bytes of a word make, all of them digits.
#[inline]
pub(crate) fn first_digits(word: u64, n: usize) -> u64 {
    eight_digits(values_and_others(word).0 << (64 - 8 * n))
}

/// The three numbers of two digits each at the start of a word, and the byte behind them.
#[inline]
pub(crate) fn three_pairs(word: u64) -> Option<([i64; 3], u8)> {
    let (values, others) = values_and_others(word);
    let pairs = pairs(values << 16);
    let pair = |n: u32| (pairs >> (16 * n) & 0xFF) as i64;
    (others.trailing_zeros() / 8 >= 6).then(|| ([pair(1), pair(2), pair(3)], (word >> 48) as u8))
}

/// What digits are worth, byte by byte, and the highest bit of each byte that is none. Right up to the first byte that is
/// no digit, and where that is a point up to the next one.
#[inline]
fn values_and_others(word: u64) -> (u64, u64) {
    let values = word ^ (ONES * u64::from(b'0'));
    // 9 and 118 stay below the highest bit; a point does too
    (values, (values | values.wrapping_add(ONES * 118)) & HIGH_BITS)
}

/// The number that eight digits make, the first in the lowest byte.
#[inline]
fn eight_digits(values: u64) -> u64 {
    let fours = (pairs(values).wrapping_mul(1 + (100 << 16)) >> 16) & 0x0000_FFFF_0000_FFFF;
    fours.wrapping_mul(1 + (10_000 << 32)) >> 32
}

/// The four numbers that pairs of digits make, the first in the lowest 16 bits.
#[inline]
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
            let word: Vec<u8> = rest.iter().copied().chain([0; 8]).take(8).collect();
            prop_assert_eq!(word_at(&text, start).to_le_bytes().to_vec(), word);
        }

        #[test]
        fn digits(text in "[0-9.]{0,9}[,*A. \u{e9}-]?.{0,3}") {
            let bytes: Vec<u8> = text.bytes().chain([0; 8]).take(8).collect();
            let word = word_at(&bytes, 0);
            let is_digit = |at: usize| bytes[at].is_ascii_digit();
            let mut length = (0..8).find(|at| !is_digit(*at));
            let mut point = None;
            if let Some(at) = length.filter(|at| bytes[*at] == b'.') {
                point = Some(at);
                length = (at + 1..8).find(|at| !is_digit(*at));
            }
            let want = length.and_then(|length| {
                let digits = text[..length].replace('.', "").parse().ok()?;
                Some(Plain { digits, decimals: point.map_or(0, |at| length - 1 - at), length })
            });
            prop_assert_eq!(plain_number(word), want);
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
