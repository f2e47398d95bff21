//! What does a logger say about a sentence before the sentence: a time, a TAG block?

use crate::words::checksum;

/// Microseconds in a second.
const US_PER_S: i64 = 1_000_000;
/// Microseconds in a day without a leap second.
pub(crate) const US_PER_DAY: i64 = 86_400 * US_PER_S;

/// A date and time that a logger wrote.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Stamp {
    /// Microseconds since 1970: UTC where `zone` is known, else of the clock as it stands.
    pub time_us: i64,
    /// What was said about the zone.
    pub zone: StampZone,
}

/// Zone of a stamp.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum StampZone {
    /// `Z`, `UTC`, or seconds since 1970.
    Utc,
    /// Seconds east of UTC.
    Offset(i64),
    /// Nothing was said.
    Unsaid,
}

/// The first stamp in what stands before a sentence.
///
/// ISO 8601 (extended or basic, the time after `T`, a blank, a tab, a comma, a semicolon or `_`) or seconds,
/// milliseconds or microseconds since 1970. Device names, counters and brackets around it do not matter.
pub(crate) fn stamp_in(prefix: &[u8]) -> Option<Stamp> {
    let mut before = b' ';
    for (at, byte) in prefix.iter().enumerate() {
        if byte.is_ascii_digit() && !before.is_ascii_alphanumeric() && !matches!(before, b'.' | b'-' | b':') {
            let text = &prefix[at..];
            if let Some(stamp) = iso_8601(text).or_else(|| epoch(text)) {
                return Some(stamp);
            }
        }
        before = *byte;
    }
    None
}

/// Microseconds from 1970 to the start of a day of the Gregorian calendar in the years 0 to 9999, `None` for a day that
/// does not exist.
pub(crate) fn midnight_us(year: i64, month: i64, day: i64) -> Option<i64> {
    let is_leap = year % 4 == 0 && (year % 100 != 0 || year % 400 == 0);
    let days_in_month = match month {
        1 | 3 | 5 | 7 | 8 | 10 | 12 => 31,
        4 | 6 | 9 | 11 => 30,
        2 => 28 + i64::from(is_leap),
        _ => return None,
    };
    if !(0..=9999).contains(&year) || !(1..=days_in_month).contains(&day) {
        return None;
    }
    // years are counted from March on, so that the day which only leap years have is the last one
    let (year, month) = if month > 2 { (year, month - 3) } else { (year - 1, month + 9) };
    let leap_days = year.div_euclid(4) - year.div_euclid(100) + year.div_euclid(400);
    let since_march = (153 * month + 2) / 5 + day - 1;
    Some((365 * year + leap_days + since_march - DAYS_TO_1970) * US_PER_DAY)
}

/// Days from 1 March of the year 0 to 1 January 1970.
const DAYS_TO_1970: i64 = 719_468;

/// Start of the first day that a text writes as `2026-05-14`, `2026_05_14` or `20260514`, from 1980 to 2099.
pub fn date_in(text: &str) -> Option<i64> {
    let bytes = text.as_bytes();
    (0..bytes.len()).find_map(|at| {
        let inside_number = at > 0 && bytes[at - 1].is_ascii_digit();
        let (year, month, day, used) = calendar_date(&bytes[at..])?;
        let ends = !bytes.get(at + used).is_some_and(u8::is_ascii_digit);
        (!inside_number && ends && (1980..2100).contains(&year)).then(|| midnight_us(year, month, day))?
    })
}

/// A number that says microseconds since 1970 when it is taken as seconds, milliseconds or microseconds
/// and lies between 2001-09-09 (the first ten-digit second) and 2100.
fn epoch(text: &[u8]) -> Option<Stamp> {
    let whole = text.iter().take_while(|b| b.is_ascii_digit()).count();
    let us_per_unit = match whole {
        10 => US_PER_S,
        13 => 1_000,
        16 => 1,
        _ => return None,
    };
    let (mut time_us, mut unit_us) = (digits(text, 0, whole)? * us_per_unit, us_per_unit);
    if text.get(whole) == Some(&b'.') {
        for digit in text[whole + 1..].iter().take_while(|b| b.is_ascii_digit()) {
            unit_us /= 10;
            time_us += i64::from(digit - b'0') * unit_us;
        }
    }
    let until = 4_102_444_800 * US_PER_S;
    (time_us < until).then_some(Stamp { time_us, zone: StampZone::Utc })
}

/// A date and time of ISO 8601 at the start of `text`.
fn iso_8601(text: &[u8]) -> Option<Stamp> {
    let (year, month, day, mut at) = calendar_date(text)?;
    if !matches!(text.get(at)?, b'T' | b't' | b' ' | b'\t' | b',' | b';' | b'_') {
        return None;
    }
    at += 1;
    at += text[at..].iter().take_while(|b| **b == b' ').count();
    let colon = usize::from(text.get(at + 2) == Some(&b':'));
    let (hour, minute) = (digits(text, at, 2)?, digits(text, at + 2 + colon, 2)?);
    if colon == 1 && text.get(at + 5) != Some(&b':') {
        return None;
    }
    let second = digits(text, at + 4 + 2 * colon, 2)?;
    at += 6 + 2 * colon;
    if hour > 23 || minute > 59 || second > 60 {
        return None;
    }
    let mut time_us = midnight_us(year, month, day)? + ((hour * 60 + minute) * 60 + second) * US_PER_S;
    let decimals = text.get(at + 1..).unwrap_or_default().iter().take_while(|b| b.is_ascii_digit()).count();
    // a comma may also part the stamp from a field behind it: only whole milliseconds or microseconds count
    if text.get(at) == Some(&b'.') || (text.get(at) == Some(&b',') && matches!(decimals, 3 | 6)) {
        let mut unit_us = US_PER_S;
        for digit in &text[at + 1..at + 1 + decimals] {
            unit_us /= 10;
            time_us += i64::from(digit - b'0') * unit_us;
        }
        at += 1 + decimals;
    }
    let zone = zone(&text[at..]);
    if let StampZone::Offset(offset_s) = zone {
        time_us -= offset_s * US_PER_S;
    }
    Some(Stamp { time_us, zone })
}

/// The zone behind a time: `Z`, ` UTC`, ` GMT`, `+02:00`, `-0500`, `+02`.
fn zone(text: &[u8]) -> StampZone {
    if matches!(text.first(), Some(b'Z' | b'z')) {
        return StampZone::Utc;
    }
    let word = text.strip_prefix(b" ").unwrap_or(text);
    if word.starts_with(b"UTC") || word.starts_with(b"GMT") {
        return StampZone::Utc;
    }
    let sign = match text.first() {
        Some(b'+') => 1,
        Some(b'-') => -1,
        _ => return StampZone::Unsaid,
    };
    let Some(hours) = digits(text, 1, 2).filter(|hours| *hours < 24) else { return StampZone::Unsaid };
    let colon = usize::from(text.get(3) == Some(&b':'));
    let minutes = digits(text, 3 + colon, 2).filter(|minutes| *minutes < 60).unwrap_or(0);
    StampZone::Offset(sign * (hours * 60 + minutes) * 60)
}

/// Year, month, day and length of a date at the start of `text`: `2026-05-14`, `2026_05_14`, `20260514`.
fn calendar_date(text: &[u8]) -> Option<(i64, i64, i64, usize)> {
    let year = digits(text, 0, 4)?;
    match text.get(4)? {
        mark @ (b'-' | b'_') if text.get(7) == Some(mark) => {
            Some((year, digits(text, 5, 2)?, digits(text, 8, 2)?, 10))
        }
        _ => Some((year, digits(text, 4, 2)?, digits(text, 6, 2)?, 8)),
    }
}

/// The number in exactly `n` digits at a place.
fn digits(text: &[u8], at: usize, n: usize) -> Option<i64> {
    text.get(at..at + n)?
        .iter()
        .try_fold(0, |sum, b| b.is_ascii_digit().then(|| sum * 10 + i64::from(b - b'0')))
}

/// A TAG block (NMEA 0183 version 4): what stands between two back-slashes before a sentence.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct TagBlock<'a> {
    /// Source (`s:`).
    pub source: Option<&'a [u8]>,
    /// Time (`c:`), microseconds since 1970 UTC; seconds and milliseconds are told apart by their size.
    pub time_us: Option<i64>,
}

impl TagBlock<'_> {
    /// What this block says, and of the rest what an `earlier` one before the same sentence says.
    pub(crate) fn or(self, earlier: Self) -> Self {
        Self { source: self.source.or(earlier.source), time_us: self.time_us.or(earlier.time_us) }
    }
}

/// Longest TAG block that is looked for. The standard allows 80 characters (from memory).
const TAG_BYTES_MAX: usize = 256;

/// The TAG block that starts at the first byte of `text` (a back-slash), with its length.
///
/// Without a checksum it counts. With a wrong one it is passed over: `Some((None, length))`.
pub(crate) fn tag_block(text: &[u8]) -> Option<(Option<TagBlock<'_>>, usize)> {
    let inside = text.get(1..)?;
    let end = inside.iter().take(TAG_BYTES_MAX).position(|b| *b == b'\\')?;
    let content = &inside[..end];
    if content.get(1) != Some(&b':') || !content.iter().all(|b| (b' '..=b'~').contains(b)) {
        return None;
    }
    let mut parts = content.rsplitn(2, |b| *b == b'*');
    let (last, before) = (parts.next(), parts.next());
    let fields = match (before, last) {
        (Some(fields), Some(sum)) => {
            if checksum_digits(sum) != Some(checksum(fields)) {
                return Some((None, end + 2));
            }
            fields
        }
        _ => content,
    };
    let mut tag = TagBlock { source: None, time_us: None };
    for field in fields.split(|b| *b == b',') {
        match field {
            [b's', b':', source @ ..] => tag.source = Some(source),
            [b'c', b':', time @ ..] => tag.time_us = epoch(time).map(|stamp| stamp.time_us),
            _ => {}
        }
    }
    Some((Some(tag), end + 2))
}

/// The checksum that two hexadecimal digits at the start of `text` say, in upper or lower case.
#[inline]
pub(crate) fn checksum_digits(text: &[u8]) -> Option<u8> {
    let [high, low] = *text.first_chunk()?;
    let (high, low) = (HEX[usize::from(high)], HEX[usize::from(low)]);
    (high | low < NO_DIGIT).then_some(high << 4 | low)
}

const NO_DIGIT: u8 = 16;

/// What each byte is worth as a hexadecimal digit.
const HEX: [u8; 256] = {
    let mut worth = [NO_DIGIT; 256];
    let mut n = 0;
    while n < 16 {
        worth[b"0123456789ABCDEF"[n] as usize] = n as u8;
        worth[b"0123456789abcdef"[n] as usize] = n as u8;
        n += 1;
    }
    worth
};

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn stamp(text: &str) -> Option<(String, StampZone)> {
        let stamp = stamp_in(text.as_bytes())?;
        Some((jiff::Timestamp::from_microsecond(stamp.time_us).unwrap().to_string(), stamp.zone))
    }

    #[test]
    fn stamps_as_loggers_write_them() {
        let utc = StampZone::Utc;
        for (text, time, zone) in [
            ("2018-12-06T00:00:00.2478Z ", "2018-12-06T00:00:00.2478Z", utc),
            ("[2026-05-14 06:01:02] gps0: ", "2026-05-14T06:01:02Z", StampZone::Unsaid),
            ("2026-05-14 06:01:02,250 INFO ", "2026-05-14T06:01:02.25Z", StampZone::Unsaid),
            ("20260514T060102Z\t", "2026-05-14T06:01:02Z", utc),
            ("plotter-2,2026-05-14,06:01:02 UTC,", "2026-05-14T06:01:02Z", utc),
            ("2026-05-14T06:01:02+02:00 ", "2026-05-14T04:01:02Z", StampZone::Offset(7200)),
            ("2026-05-14T06:01:02.5-0330 ", "2026-05-14T09:31:02.5Z", StampZone::Offset(-12600)),
            ("1780751005 ", "2026-06-06T13:03:25Z", utc),
            ("1780751005.25\tsounder\t", "2026-06-06T13:03:25.25Z", utc),
            ("n2k 1780751005123,", "2026-06-06T13:03:25.123Z", utc),
        ] {
            assert_eq!(stamp(text), Some((time.to_owned(), zone)), "{text}");
        }
        for text in ["", "sounder\t", "192.168.0.7 ", "000123456 ", "2026-13-40T00:00:00Z ", "12:00:01 "] {
            assert_eq!(stamp(text), None, "{text}");
        }
    }

    #[test]
    fn date_of_a_file_name() {
        let day = midnight_us(2026, 5, 14);
        for name in ["trip-2026-05-14.nmea", "20260514_0500.log", "NMEA_2026_05_14.txt"] {
            assert_eq!(date_in(name), day, "{name}");
        }
        for name in ["NMEA0048.TXT", "120260514.log", "2026-05.log"] {
            assert_eq!(date_in(name), None, "{name}");
        }
    }

    #[test]
    fn tag_blocks() {
        let (tag, length) = tag_block(b"\\s:GPS1,c:1780751005*41\\$GPRMC").unwrap();
        let tag = tag.unwrap();
        assert_eq!((tag.source, tag.time_us, length), (Some(&b"GPS1"[..]), Some(1_780_751_005_000_000), 24));
        let (tag, _) = tag_block(b"\\c:1780751005123*61\\").unwrap();
        assert_eq!(tag.unwrap().time_us, Some(1_780_751_005_123_000));
        assert_eq!(tag_block(b"\\s:X,c:1780751005*00\\$"), Some((None, 21)), "wrong checksum");
        assert_eq!(tag_block(b"\\not a tag\\"), None);
        assert_eq!(tag_block(b"\\s:never closed"), None);
    }

    proptest! {
        #[test]
        fn no_bytes_make_it_panic(bytes in proptest::collection::vec(any::<u8>(), 0..80)) {
            let _ = (stamp_in(&bytes), tag_block(&bytes), date_in(&String::from_utf8_lossy(&bytes)));
        }

        #[test]
        fn days_of_the_calendar(year in -1i64..10_002, month in 0i64..14, day in 0i64..33) {
            let date = jiff::civil::Date::new(year as i16, month as i8, day as i8).ok();
            let since = |date: jiff::civil::Date| date.duration_since(jiff::civil::Date::constant(1970, 1, 1)).as_micros();
            let date = date.filter(|_| (0..=9999).contains(&year));
            prop_assert_eq!(midnight_us(year, month, day).map(i128::from), date.map(since));
        }

        #[test]
        fn any_time_there_and_back(time_us in 0i64..4_000_000_000_000_000) {
            let text = jiff::Timestamp::from_microsecond(time_us).unwrap().to_string();
            let stamp = stamp_in(format!("logger {text} ").as_bytes()).unwrap();
            prop_assert_eq!(stamp, Stamp { time_us, zone: StampZone::Utc });
        }
    }
}
