//! What stands in a field: a number, an angle, a letter, a time, a date, a position?
//!
//! An empty field is `None`, and so is one that the sentence ends before. What is there and cannot be read
//! refuses the sentence: it arrived whole, so the instrument itself wrote nonsense.

use waterseam_units::LatLon;
use waterseam_units::angle::wrap_deg;

use super::reason::Reason;
use crate::stamp::{US_PER_DAY, midnight_us};

/// Longest number that is read. No instrument writes more digits than a double holds.
const NUMBER_BYTES_MAX: usize = 32;

/// The fields of a sentence, taken one after the other.
#[derive(Clone, Copy, Debug)]
pub(super) struct Fields<'a> {
    rest: Option<&'a [u8]>,
}

impl<'a> Fields<'a> {
    /// The fields of `data`, which comes without the comma before the first.
    pub fn new(data: &'a [u8]) -> Self {
        Self { rest: Some(data) }
    }

    /// Whether all fields were taken.
    pub fn at_end(&self) -> bool {
        self.rest.is_none()
    }

    /// The next field without blanks around it.
    pub fn text(&mut self) -> &'a [u8] {
        let Some(rest) = self.rest else { return &[] };
        let (field, rest) = match rest.iter().position(|b| *b == b',') {
            Some(comma) => (&rest[..comma], Some(&rest[comma + 1..])),
            None => (rest, None),
        };
        self.rest = rest;
        field.trim_ascii()
    }

    /// Passes over `n` fields.
    pub fn skip(&mut self, n: usize) {
        for _ in 0..n {
            self.text();
        }
    }

    /// One letter or digit.
    pub fn letter(&mut self) -> Result<Option<u8>, Reason> {
        match self.text() {
            [] => Ok(None),
            [letter] => Ok(Some(*letter)),
            _ => Err(Reason::FieldUnreadable),
        }
    }

    /// A number.
    pub fn number(&mut self) -> Result<Option<f64>, Reason> {
        match self.text() {
            [] => Ok(None),
            text => number(text).map(Some).ok_or(Reason::FieldUnreadable),
        }
    }

    /// A number that the sentence stays good without: what can't be read is missing.
    pub fn number_if_readable(&mut self) -> Option<f64> {
        number(self.text())
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
    pub fn number_with(&mut self, unit: u8) -> Result<Option<f64>, Reason> {
        let value = self.number()?;
        match self.text() {
            [] => Ok(value),
            [letter] if letter.eq_ignore_ascii_case(&unit) => Ok(value),
            _ if value.is_none() => Ok(None),
            _ => Err(Reason::UnitUnknown),
        }
    }

    /// A direction in degrees, wrapped into `0.0..360.0`.
    pub fn direction(&mut self) -> Result<Option<f64>, Reason> {
        self.number()?.map(in_circle).transpose()
    }

    /// A direction and the letter of its reference behind it.
    pub fn direction_with(&mut self, reference: u8) -> Result<Option<f64>, Reason> {
        self.number_with(reference)?.map(in_circle).transpose()
    }

    /// An angle with `E` or `W` behind it, positive east; `None` without the letter.
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
    pub fn time_of_day_us(&mut self) -> Result<Option<i64>, Reason> {
        let text = self.text();
        if text.is_empty() {
            return Ok(None);
        }
        let (clock, decimals) = match text.iter().position(|b| *b == b'.') {
            Some(dot) => (&text[..dot], &text[dot + 1..]),
            None => (text, &[][..]),
        };
        let [hour, minute, second] = three_pairs(clock, 1)?;
        if hour > 23 || minute > 59 || second > 60 {
            return Err(Reason::TimeOutOfRange);
        }
        let (mut us, mut unit_us) = (((hour * 60 + minute) * 60 + second) * 1_000_000, 1_000_000);
        for digit in decimals {
            if !digit.is_ascii_digit() {
                return Err(Reason::FieldUnreadable);
            }
            unit_us /= 10;
            us += i64::from(digit - b'0') * unit_us;
        }
        Ok(Some(us))
    }

    /// A date (`ddmmyy`), microseconds from 1970 to its start. Years 80 to 99 are 19xx, others 20xx.
    /// `000000` is a receiver that does not know the date.
    pub fn date_us(&mut self) -> Result<Option<i64>, Reason> {
        let text = self.text();
        if text.is_empty() || text == b"000000" {
            return Ok(None);
        }
        let [day, month, year] = three_pairs(text, 5)?;
        let date_us = year_of(year).and_then(|year| midnight_us(year, month, day));
        date_us.map(Some).ok_or(Reason::DateOutOfRange)
    }

    /// Latitude and longitude, four fields.
    pub fn position(&mut self) -> Result<Position, Reason> {
        let (lat_deg, lon_deg) = (self.coordinate(*b"NS", 90.0), self.coordinate(*b"EW", 180.0));
        Ok(Position { lat_deg: lat_deg?, lon_deg: lon_deg? })
    }

    /// Degrees and minutes (`ddmm.mmm`) and the hemisphere; `None` without the hemisphere.
    /// The degrees are what stands before the last two digits of the whole minutes.
    fn coordinate(&mut self, [positive, negative]: [u8; 2], most_deg: f64) -> Result<Option<f64>, Reason> {
        let (text, hemisphere) = (self.text(), self.letter()?);
        if text.is_empty() {
            return Ok(None);
        }
        let whole = text.iter().take_while(|b| b.is_ascii_digit()).count();
        if whole == 0 || whole > 5 {
            return Err(Reason::FieldUnreadable);
        }
        let (degrees, minutes) = text.split_at(whole.saturating_sub(2));
        let degrees = degrees.iter().fold(0.0, |sum, b| sum * 10.0 + f64::from(b - b'0'));
        let minutes = number(minutes).ok_or(Reason::FieldUnreadable)?;
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

/// A direction in degrees, wrapped into `0.0..360.0`, refused beyond a full circle.
pub(super) fn in_circle(angle_deg: f64) -> Result<f64, Reason> {
    if (0.0..=360.0).contains(&angle_deg) { Ok(wrap_deg(angle_deg)) } else { Err(Reason::ValueOutOfRange) }
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
pub(super) fn number(text: &[u8]) -> Option<f64> {
    let (negative, unsigned) = match text {
        [b'-', rest @ ..] => (true, rest),
        [b'+', rest @ ..] => (false, rest),
        _ => (false, text),
    };
    if unsigned.len() > NUMBER_BYTES_MAX {
        return None;
    }
    let (mut mantissa, mut n_digits, mut decimals, mut seen_point) = (0_u64, 0, 0, false);
    for byte in unsigned {
        match byte {
            b'0'..=b'9' => {
                mantissa = mantissa.wrapping_mul(10).wrapping_add(u64::from(byte - b'0'));
                n_digits += 1;
                decimals += usize::from(seen_point);
            }
            b'.' if !seen_point => seen_point = true,
            _ => return None,
        }
    }
    let value = match n_digits {
        0 => return None,
        // mantissa and power of ten are exact, so their quotient is the nearest double
        1..=15 => mantissa as f64 / POWERS_OF_TEN[decimals],
        _ => std::str::from_utf8(unsigned).ok()?.parse().ok()?,
    };
    Some(if negative { -value } else { value })
}

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
        for text in ["45-30.0,N,02924.0,W", "inf,N,02924.0,W", "4530.0,X,02924.0,W", "4530.0,N,-2924.0,W"] {
            assert_eq!(position(text), Err(Reason::FieldUnreadable), "{text}");
        }
    }

    proptest! {
        #[test]
        fn numbers_agree_with_the_standard_library(whole in 0u64..1_000_000, decimals in 0usize..12, value in any::<u32>()) {
            let text = format!("{whole}.{value:0decimals$}");
            prop_assert_eq!(number(text.as_bytes()), text.parse().ok());
        }
    }
}
