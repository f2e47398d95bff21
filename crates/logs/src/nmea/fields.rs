//! What stands in a field: a number, an angle, a letter, a time, a date, a position?
//!
//! An empty field is `None`, and so is one that the sentence ends before. What is there and cannot be read
//! refuses the sentence: it arrived whole, so the instrument itself wrote nonsense.

use std::cell::Cell;

use memchr::memchr_iter;
use waterseam_units::LatLon;

use super::reason::Reason;
use super::sentence::Frame;
use crate::stamp::{US_PER_DAY, midnight_us};
use crate::words::{
    self, Plain, all_digits, commas_from, first_digits, leading_digits, plain_number, same_at_start,
    to_comma, word_at,
};

/// Longest number that is read. No instrument writes more digits than a double holds.
const NUMBER_BYTES_MAX: usize = 32;

/// The fields of a sentence, taken one after the other.
///
/// Where fields end is found for many of them at once. What nearly every sentence writes is read eight bytes at a time,
/// and what is written otherwise byte by byte; both give the same.
#[derive(Clone, Copy, Debug)]
pub(super) struct Fields<'a> {
    /// Something that holds the fields. At `end` it has ended, or no digit, point or comma stands there.
    text: &'a [u8],
    /// Where the next field starts; behind the end where there is none.
    start: usize,
    /// Where the last field ends.
    end: usize,
    /// Where the next fields end, counted from `start`, the first of them lowest; none where they must be looked for.
    ends: u64,
    /// The position that was read last in the same stretch of a log.
    last: Option<&'a LastPosition>,
}

/// A position as it was written last. A receiver says where it is in several sentences, and in all in the same digits.
#[derive(Debug, Default)]
pub(super) struct LastPosition(Cell<Option<Written>>);

/// A position and how it was written: four fields, with the comma behind the last, and whatever stands behind it.
#[derive(Clone, Copy, Debug)]
struct Written {
    text: [u8; 32],
    length: usize,
    position: Position,
}

impl LastPosition {
    /// The position with which a text starts, and how much of it that takes, where it is the one before.
    #[inline]
    fn at_start(&self, text: &[u8]) -> Option<(Position, usize)> {
        let last = self.0.get()?;
        let n_same = same_at_start(text.first_chunk()?, &last.text);
        (n_same >= last.length).then_some((last.position, last.length))
    }

    /// Remembers a position with which a text starts.
    fn remember(&self, text: &[u8], length: usize, position: Position) {
        if let Some(text) = text.first_chunk()
            && text.get(length - 1) == Some(&b',')
        {
            self.0.set(Some(Written { text: *text, length, position }));
        }
    }
}

impl<'a> Fields<'a> {
    /// The fields of a sentence, which may say the same position as the one before it.
    #[inline]
    pub fn of(frame: &Frame<'a>, last: Option<&'a LastPosition>) -> Self {
        Self { text: frame.text, start: frame.end - frame.data.len(), end: frame.end, ends: 0, last }
    }

    /// The fields of `data`, which comes without the comma before the first.
    pub fn new(data: &'a [u8]) -> Self {
        Self { text: data, start: 0, end: data.len(), ends: 0, last: None }
    }

    /// How many fields were not taken yet.
    pub fn n_left(&self) -> usize {
        if self.at_end() { 0 } else { 1 + memchr_iter(b',', self.rest()).count() }
    }

    /// Whether all fields were taken.
    pub fn at_end(&self) -> bool {
        self.start > self.end
    }

    /// What was not taken yet.
    #[inline]
    pub fn rest(&self) -> &'a [u8] {
        self.text.get(self.start..self.end).unwrap_or_default()
    }

    /// The next field: where it starts and how long it is.
    #[inline(always)]
    fn take(&mut self) -> (usize, usize) {
        if self.ends == 0 {
            self.ends = next_ends(self.text, self.start, self.end);
        }
        let start = self.start;
        let length = if self.ends == 0 {
            length_of_long(self.text, self.start, self.end)
        } else {
            let length = self.ends.trailing_zeros();
            self.ends = self.ends >> length >> 1;
            length as usize
        };
        self.start += length + 1;
        (start, length)
    }

    /// The next field without blanks around it.
    #[inline(always)]
    pub fn text(&mut self) -> &'a [u8] {
        let field = self.take();
        text_of(self.text, field)
    }

    /// Passes over `n` fields.
    #[inline(always)]
    pub fn skip(&mut self, n: usize) {
        for _ in 0..n {
            self.take();
        }
    }

    /// Whether each of the fields that are left is empty, a capital letter or a number.
    pub fn are_plain(mut self) -> bool {
        while !self.at_end() {
            if !is_plain(self.text()) {
                return false;
            }
        }
        true
    }

    /// One letter or digit.
    #[inline(always)]
    pub fn letter(&mut self) -> Result<Option<u8>, Reason> {
        let field = self.take();
        match (field, self.text.get(field.0)) {
            ((_, 0), _) => Ok(None),
            ((_, 1), Some(letter @ b'!'..)) => Ok(Some(*letter)),
            _ => unusual_letter(self.text, field).or(Err(Reason::FieldUnreadable)),
        }
    }

    /// A number.
    #[inline(always)]
    pub fn number(&mut self) -> Result<Option<f64>, Reason> {
        let field = self.take();
        if field.1 == 0 {
            return Ok(None);
        }
        match plain(self.text, field) {
            Some(value) => Ok(Some(value)),
            None => unusual_number(self.text, field).or(Err(Reason::FieldUnreadable)),
        }
    }

    /// A number that the sentence stays good without: what can't be read is missing.
    #[inline]
    pub fn number_if_readable(&mut self) -> Option<f64> {
        self.number().unwrap_or_default()
    }

    /// A whole number of at most four digits.
    pub fn whole(&mut self) -> Result<Option<i64>, Reason> {
        match self.text() {
            [] => Ok(None),
            text if text.len() <= 4 && text.iter().all(u8::is_ascii_digit) => {
                Ok(Some(text.iter().fold(0, |sum, b| sum * 10 + i64::from(b - b'0'))))
            }
            _ => Err(Reason::FieldUnreadable),
        }
    }

    /// A number and the letter of its unit behind it, which may be missing but not another.
    #[inline(always)]
    pub fn number_with(&mut self, unit: u8) -> Result<Option<f64>, Reason> {
        let value = self.number()?;
        match self.letter() {
            Ok(None) => Ok(value),
            Ok(Some(letter)) if letter.eq_ignore_ascii_case(&unit) => Ok(value),
            _ if value.is_none() => Ok(None),
            _ => Err(Reason::UnitUnknown),
        }
    }

    /// A direction in degrees, wrapped into `0.0..360.0`.
    #[inline(always)]
    pub fn direction(&mut self) -> Result<Option<f64>, Reason> {
        self.number()?.map(in_circle).transpose()
    }

    /// A direction and the letter of its reference behind it.
    #[inline(always)]
    pub fn direction_with(&mut self, reference: u8) -> Result<Option<f64>, Reason> {
        self.number_with(reference)?.map(in_circle).transpose()
    }

    /// An angle with `E` or `W` behind it, positive east; `None` without the letter.
    #[inline(always)]
    pub fn east_or_west(&mut self) -> Result<Option<f64>, Reason> {
        let angle = self.number()?;
        let sign = match self.letter()? {
            None => return Ok(None),
            Some(b'E') => 1.0,
            Some(b'W') => -1.0,
            Some(_) => return Err(Reason::FieldUnreadable),
        };
        match angle {
            Some(angle) if angle.abs() > 180.0 => Err(Reason::ValueOutOfRange),
            angle => Ok(angle.map(|angle| sign * angle)),
        }
    }

    /// A time of day (`hhmmss.sss`), microseconds since midnight UTC. Leading zeros may be missing.
    /// A second 60 (a leap second, or rounding) is the first of the next minute.
    #[inline(always)]
    pub fn time_of_day_us(&mut self) -> Result<Option<i64>, Reason> {
        let field = self.take();
        let ([hour, minute, second], decimals_us) = match usual_clock(self.text, field) {
            Some(clock) => clock,
            None => match text_of(self.text, field) {
                [] => return Ok(None),
                text => unusual_clock(text)?,
            },
        };
        if hour > 23 || minute > 59 || second > 60 {
            return Err(Reason::TimeOutOfRange);
        }
        Ok(Some(((hour * 60 + minute) * 60 + second) * 1_000_000 + decimals_us?))
    }

    /// A date (`ddmmyy`), microseconds from 1970 to its start. Years 80 to 99 are 19xx, others 20xx.
    /// `000000` is a receiver that does not know the date.
    #[inline(always)]
    pub fn date_us(&mut self) -> Result<Option<i64>, Reason> {
        let field = self.take();
        let usual = if field.1 == 6 { words::three_pairs(word_at(self.text, field.0)) } else { None };
        let [day, month, year] = match usual {
            Some(([0, 0, 0], _)) => return Ok(None),
            Some((date, _)) => date,
            None => match text_of(self.text, field) {
                [] | b"000000" => return Ok(None),
                text => three_pairs(text, 5)?,
            },
        };
        let date_us = year_of(year).and_then(|year| midnight_us(year, month, day));
        date_us.map(Some).ok_or(Reason::DateOutOfRange)
    }

    /// Latitude and longitude, four fields.
    #[inline(always)]
    pub fn position(&mut self) -> Result<Position, Reason> {
        let text = self.text.get(self.start..).unwrap_or_default();
        if let Some((position, length)) = self.last.and_then(|last| last.at_start(text)) {
            self.start += length;
            self.ends >>= length;
            return Ok(position);
        }
        let (position, behind) = self.next_position();
        *self = behind;
        position
    }

    /// Latitude and longitude, and the fields behind them.
    #[inline(never)]
    fn next_position(mut self) -> (Result<Position, Reason>, Self) {
        let start = self.start;
        let (lat_deg, lon_deg) = (self.coordinate(*b"NS", 90.0), self.coordinate(*b"EW", 180.0));
        let position = lat_deg.and_then(|lat_deg| Ok(Position { lat_deg, lon_deg: lon_deg? }));
        if let (Ok(position), Some(last)) = (position, self.last.filter(|_| !self.at_end())) {
            last.remember(&self.text[start..], self.start - start, position);
        }
        (position, self)
    }

    /// Degrees and minutes (`ddmm.mmm`) and the hemisphere; `None` without the hemisphere.
    /// The degrees are what stands before the last two digits of the whole minutes.
    #[inline]
    fn coordinate(&mut self, [positive, negative]: [u8; 2], most_deg: f64) -> Result<Option<f64>, Reason> {
        let field = self.take();
        let angle = match self.usual_coordinate(field) {
            Some(usual) => Ok(Some(usual)),
            None => match text_of(self.text, field) {
                [] => Ok(None),
                text => degrees_and_minutes(text).map(Some).ok_or(Reason::FieldUnreadable),
            },
        };
        let hemisphere = self.letter()?;
        let Some((degrees, minutes)) = angle? else { return Ok(None) };
        let angle = degrees + minutes / 60.0;
        if minutes >= 60.0 || angle > most_deg {
            return Err(Reason::PositionOutOfRange);
        }
        match hemisphere {
            None => Ok(None),
            Some(letter) if letter == positive => Ok(Some(angle)),
            Some(letter) if letter == negative => Ok(Some(-angle)),
            Some(_) => Err(Reason::FieldUnreadable),
        }
    }

    /// Degrees and minutes where the point stands behind four or five digits, and one to eight behind it.
    #[inline]
    fn usual_coordinate(&self, (start, length): (usize, usize)) -> Option<(f64, f64)> {
        let word = word_at(self.text, start);
        let (n_digits @ 4..=5, Some(b'.')) = leading_digits(word) else { return None };
        let decimals @ 1..=8 = length.wrapping_sub(n_digits + 1) else { return None };
        let behind = all_digits(word_at(self.text, start + n_digits + 1), decimals)?;
        let before = first_digits(word, n_digits);
        let minutes = before % 100 * POWERS_OF_TEN_WHOLE[decimals] + behind;
        Some(((before / 100) as i64 as f64, quotient(Plain { digits: minutes, decimals })))
    }
}

/// Where fields end among the next 64 bytes from a place on, the first of them lowest. Behind the last field all others
/// are empty.
#[inline(never)]
fn next_ends(text: &[u8], start: usize, end: usize) -> u64 {
    let Some(left) = end.checked_sub(start) else { return 1 };
    let commas = commas_from(text, start);
    let end = 1_u64.unbounded_shl(left as u32);
    commas & end.wrapping_sub(1) | end
}

/// The length of a field that does not end among the next 64 bytes.
#[cold]
fn length_of_long(text: &[u8], start: usize, end: usize) -> usize {
    to_comma(text.get(start..end).unwrap_or_default(), 0)
}

/// A field without blanks around it.
#[inline]
fn text_of(text: &[u8], (start, length): (usize, usize)) -> &[u8] {
    let field = text.get(start..start + length).unwrap_or_default();
    match (field.first(), field.last()) {
        (Some(b'!'..), Some(b'!'..)) => field,
        _ => field.trim_ascii(),
    }
}

/// A number without a sign that is not longer than eight bytes.
#[inline(always)]
fn plain(text: &[u8], (start, length): (usize, usize)) -> Option<f64> {
    if length > 8 {
        return None;
    }
    plain_number(word_at(text, start), length).map(quotient)
}

#[cold]
fn unusual_number(text: &[u8], field: (usize, usize)) -> Result<Option<f64>, Unreadable> {
    match text_of(text, field) {
        [] => Ok(None),
        text => number(text).map(Some).ok_or(Unreadable),
    }
}

#[cold]
fn unusual_letter(text: &[u8], field: (usize, usize)) -> Result<Option<u8>, Unreadable> {
    match text_of(text, field) {
        [] => Ok(None),
        [letter] => Ok(Some(*letter)),
        _ => Err(Unreadable),
    }
}

/// A field that cannot be read. It has no size, so that what comes instead of it goes through registers.
struct Unreadable;

/// Hour, minute and second as they are written, and microseconds of the next second.
type Clock = ([i64; 3], Result<i64, Reason>);

/// A time of day with all its six digits and at most six decimals.
#[inline(always)]
fn usual_clock(text: &[u8], (start, length): (usize, usize)) -> Option<Clock> {
    if length < 6 {
        return None;
    }
    let (clock, behind) = words::three_pairs(word_at(text, start))?;
    if length == 6 {
        return Some((clock, Ok(0)));
    }
    let n_decimals @ 1..=6 = length.wrapping_sub(7) else { return None };
    let decimals = all_digits(word_at(text, start + 7), n_decimals).filter(|_| behind == b'.')?;
    Some((clock, Ok((decimals * POWERS_OF_TEN_WHOLE[6 - n_decimals]) as i64)))
}

#[cold]
fn unusual_clock(text: &[u8]) -> Result<Clock, Reason> {
    let (clock, decimals) = match text.iter().position(|b| *b == b'.') {
        Some(dot) => (&text[..dot], &text[dot + 1..]),
        None => (text, &[][..]),
    };
    Ok((three_pairs(clock, 1)?, decimals_us(decimals)))
}

/// Microseconds in the decimals of a second; digits behind the sixth are dropped.
fn decimals_us(decimals: &[u8]) -> Result<i64, Reason> {
    let (mut us, mut unit_us) = (0, 1_000_000);
    for digit in decimals {
        if !digit.is_ascii_digit() {
            return Err(Reason::FieldUnreadable);
        }
        unit_us /= 10;
        us += i64::from(digit - b'0') * unit_us;
    }
    Ok(us)
}

/// Degrees and minutes as they stand together: the degrees are what stands before the last two digits of the whole
/// minutes.
fn degrees_and_minutes(text: &[u8]) -> Option<(f64, f64)> {
    let whole = text.iter().take_while(|b| b.is_ascii_digit()).count();
    if whole == 0 || whole > 5 {
        return None;
    }
    let (degrees, minutes) = text.split_at(whole.saturating_sub(2));
    let degrees = degrees.iter().fold(0.0, |sum, b| sum * 10.0 + f64::from(b - b'0'));
    Some((degrees, number(minutes)?))
}

/// A position as a sentence gives it.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Position {
    /// Latitude, degrees north; `None` where digits or hemisphere are missing.
    pub lat_deg: Option<f64>,
    /// Longitude, degrees east; `None` where digits or hemisphere are missing.
    pub lon_deg: Option<f64>,
}

impl Position {
    /// The position where both parts are there.
    pub fn at(self) -> Option<LatLon> {
        LatLon::new(self.lat_deg?, self.lon_deg?)
    }
}

/// The time that a sentence itself says.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct SaidTime {
    /// Start of the UTC day, microseconds since 1970.
    pub date_us: Option<i64>,
    /// Microseconds since midnight UTC; up to a second more than a day in a leap second.
    pub time_of_day_us: Option<i64>,
    /// Whether a satellite fix stands behind it, not only the clock of the receiver.
    pub sure: bool,
}

impl SaidTime {
    /// Date and time together, microseconds since 1970 UTC.
    pub fn time_us(self) -> Option<i64> {
        debug_assert!(self.time_of_day_us.is_none_or(|us| us < US_PER_DAY + 1_000_000));
        Some(self.date_us? + self.time_of_day_us?)
    }
}

/// Whether a field is empty, a capital letter or a number.
pub(super) fn is_plain(field: &[u8]) -> bool {
    matches!(field, [] | [b'A'..=b'Z']) || number(field).is_some()
}

/// A direction in degrees, wrapped into `0.0..360.0`, refused beyond a full circle.
pub(super) fn in_circle(angle_deg: f64) -> Result<f64, Reason> {
    match angle_deg {
        0.0..360.0 => Ok(angle_deg),
        360.0 => Ok(0.0),
        _ => Err(Reason::ValueOutOfRange),
    }
}

/// A speed without a direction of its own, or a depth: refused where negative.
pub(super) fn not_negative(value: f64) -> Result<f64, Reason> {
    if value < 0.0 { Err(Reason::ValueOutOfRange) } else { Ok(value) }
}

/// The year that two or four digits mean: 80 to 99 are 19xx, 0 to 79 are 20xx; 1980 to 2099 as they stand.
pub(super) fn year_of(year: i64) -> Option<i64> {
    match year {
        0..80 => Some(2000 + year),
        80..100 => Some(1900 + year),
        1980..2100 => Some(year),
        _ => None,
    }
}

/// A plain decimal number: a sign, digits, a point, digits. No exponent, no `inf`, no `nan`.
#[inline]
pub(super) fn number(text: &[u8]) -> Option<f64> {
    let (negative, unsigned) = match text {
        [b'-', rest @ ..] => (true, rest),
        [b'+', rest @ ..] => (false, rest),
        _ => (false, text),
    };
    if unsigned.len() > NUMBER_BYTES_MAX {
        return None;
    }
    let (mut mantissa, mut point) = (0_u64, None);
    for (at, byte) in unsigned.iter().enumerate() {
        match byte {
            b'0'..=b'9' => mantissa = mantissa.wrapping_mul(10).wrapping_add(u64::from(byte - b'0')),
            b'.' if point.is_none() => point = Some(at),
            _ => return None,
        }
    }
    let (n_digits, decimals) =
        point.map_or((unsigned.len(), 0), |at| (unsigned.len() - 1, unsigned.len() - 1 - at));
    let value = match n_digits {
        0 => return None,
        1..=15 => quotient(Plain { digits: mantissa, decimals }),
        _ => std::str::from_utf8(unsigned).ok()?.parse().ok()?,
    };
    Some(if negative { -value } else { value })
}

/// The number with so many decimals, at most fifteen digits: both parts are exact, so their quotient is the nearest
/// double.
#[inline]
fn quotient(number: Plain) -> f64 {
    number.digits as i64 as f64 / POWERS_OF_TEN[number.decimals]
}

const POWERS_OF_TEN_WHOLE: [u64; 9] =
    [1, 10, 100, 1_000, 10_000, 100_000, 1_000_000, 10_000_000, 100_000_000];

const POWERS_OF_TEN: [f64; 16] =
    [1.0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15];

/// Three numbers of two digits from at most six digits; leading zeros may be missing down to `least` digits.
fn three_pairs(text: &[u8], least: usize) -> Result<[i64; 3], Reason> {
    if !(least..=6).contains(&text.len()) || !text.iter().all(u8::is_ascii_digit) {
        return Err(Reason::FieldUnreadable);
    }
    let all = text.iter().fold(0, |sum, b| sum * 10 + i64::from(b - b'0'));
    Ok([all / 10_000, all / 100 % 100, all % 100])
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn numbers() {
        for (text, value) in [("12.5", 12.5), ("+12.0", 12.0), ("-.5", -0.5), ("7.", 7.0), ("0099.90", 99.9)]
        {
            assert_eq!(number(text.as_bytes()), Some(value), "{text}");
        }
        for text in ["", "-", ".", "12..4", "1e2", "nan", "inf", "--5", "5-", "1 2", "0x1F", "١"] {
            assert_eq!(number(text.as_bytes()), None, "{text}");
        }
        assert_eq!(number("9".repeat(400).as_bytes()), None);
    }

    #[test]
    fn times_of_day() {
        let time = |text: &str| Fields::new(text.as_bytes()).time_of_day_us();
        assert_eq!(time("235959.25"), Ok(Some(86_399_250_000)));
        assert_eq!(time("235960"), Ok(Some(86_400_000_000)), "leap second");
        assert_eq!(time("91520"), Ok(Some(33_320_000_000)), "leading zero dropped");
        assert_eq!(time("000001.12345678901"), Ok(Some(1_123_456)));
        assert_eq!(time(""), Ok(None));
        assert_eq!(time("060102."), Ok(Some(21_662_000_000)));
        assert_eq!(time("060102.5."), Err(Reason::FieldUnreadable));
        assert_eq!(time("240000"), Err(Reason::TimeOutOfRange));
        assert_eq!(time("0123456"), Err(Reason::FieldUnreadable));
        assert_eq!(time("-12345"), Err(Reason::FieldUnreadable));
    }

    #[test]
    fn dates() {
        let date = |text: &str| Fields::new(text.as_bytes()).date_us().map(|us| us.map(|us| us / US_PER_DAY));
        assert_eq!(date("060180"), Ok(Some(3657)));
        assert_eq!(date("010179"), Ok(Some(39_812)));
        assert_eq!(date("000000"), Ok(None));
        assert_eq!(date("300226"), Err(Reason::DateOutOfRange));
        assert_eq!(date("290224"), Ok(Some(19_782)));
    }

    #[test]
    fn positions() {
        let position = |text: &str| Fields::new(text.as_bytes()).position().map(Position::at);
        let at = |lat_deg, lon_deg| Ok(Some(LatLon { lat_deg, lon_deg }));
        assert_eq!(position("4530.0,N,02924.0,W"), at(45.5, -29.4));
        assert_eq!(position("4530,S,933.25,E"), at(-45.5, 9.0 + 33.25 / 60.0));
        assert_eq!(position("9000.0,N,18000.0,W"), at(90.0, -180.0));
        assert_eq!(position("4530.0,,02924.0,W"), Ok(None));
        assert_eq!(position(",,,"), Ok(None));
        assert_eq!(position("9575.0,N,02924.0,W"), Err(Reason::PositionOutOfRange));
        assert_eq!(position("9000.1,N,02924.0,W"), Err(Reason::PositionOutOfRange));
        for text in [
            "45-30.0,N,02924.0,W",
            "inf,N,02924.0,W",
            "4530.0,X,02924.0,W",
            "4530.0,N,-2924.0,W",
            "4530.0.,N,02924.0,W",
            "45.30.0,N,02924.0,W",
        ] {
            assert_eq!(position(text), Err(Reason::FieldUnreadable), "{text}");
        }
    }

    proptest! {
        /// A blank before a field changes nothing, but it is then read byte by byte.
        #[test]
        fn fields_in_words_and_in_bytes_are_the_same(
            field in "[0-9]{0,8}[.]?[0-9]{0,8}|[0-9.]{0,10}|[-+0-9.NSE ]{0,9}|[0-9]{60,70}",
            letter in "[NSEW]?",
            behind in ",[0-9.,A]{0,9}",
        ) {
            let (plain, padded) = (format!("{field},{letter}{behind}"), format!(" {field},{letter}{behind}"));
            let (plain, padded) = (&mut Fields::new(plain.as_bytes()), &mut Fields::new(padded.as_bytes()));
            let all = |f: &mut Fields| {
                let (mut a, mut b, mut c, mut d, mut e) = (*f, *f, *f, *f, *f);
                let position = f.coordinate(*b"NS", 90.0);
                ((a.number(), a.rest().len()), (b.time_of_day_us(), b.rest().len()), (c.date_us(), c.rest().len()),
                 (d.letter(), d.rest().len()), (e.number_if_readable(), e.rest().len()), (position, f.rest().len()))
            };
            prop_assert_eq!(all(plain), all(padded));
        }

        /// A position that is written as the one before it is the same, whatever stands behind it.
        #[test]
        fn positions_are_the_same_when_they_are_remembered(
            texts in proptest::collection::vec(
                ("461[0-2][.]3[0-9]{0,2},N,0?2924[.]1,[WX]|,,,|[0-9.]{0,20},[NS]?,[0-9.]{0,12}", "[,*]|,[A,]{0,3}[*]|"),
                1..12,
            ),
        ) {
            let last = LastPosition::default();
            for (position, behind) in &texts {
                let text = format!("{position}{behind}");
                let end = text.find('*').unwrap_or(text.len());
                let text = text + "0123456789,,,0123456789,,,0123456789";
                let text = if text.as_bytes()[end] == b'*' { &text[..] } else { &text[..end] };
                let mut fields = Fields { text: text.as_bytes(), start: 0, end, ends: 0, last: Some(&last) };
                let mut alone = Fields { last: None, ..fields };
                prop_assert_eq!(fields.position(), alone.position());
                prop_assert_eq!((fields.start, fields.text()), (alone.start, alone.text()));
            }
        }

        #[test]
        fn numbers_agree_with_the_standard_library(whole in 0u64..1_000_000, decimals in 0usize..12, value in any::<u32>()) {
            let text = format!("{whole}.{value:0decimals$}");
            prop_assert_eq!(number(text.as_bytes()), text.parse().ok());
        }
    }
}
