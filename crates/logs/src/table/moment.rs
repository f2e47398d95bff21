//! Which date, time and zone does a text write?

use jiff::civil::Date;
use jiff::tz::TimeZone;
use waterseam_units::time::US_PER_S;

/// What a text says about a time.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Moment {
    /// Microseconds since 1970 UTC, written as a number.
    Epoch(i64),
    /// Calendar and clock, either of which may be missing.
    Civil(Civil),
}

/// A date, a clock time, or both.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(crate) struct Civil {
    /// Day of the calendar.
    pub day: Option<Day>,
    /// Microseconds since midnight.
    pub clock_us: Option<i64>,
    /// Zone that is written with it.
    pub zone: Zone,
}

/// A day as written.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Day {
    /// No doubt about it.
    Known(Date),
    /// Two numbers, either of which may be the month.
    Open {
        /// The number that stands first.
        first: i8,
        /// The number that stands second.
        second: i8,
        /// Year.
        year: i16,
    },
}

/// What is said about the zone of a clock.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) enum Zone {
    /// Nothing.
    #[default]
    Unsaid,
    /// UTC.
    Utc,
    /// Seconds east of UTC.
    OffsetS(i32),
}

impl Zone {
    /// The zone behind an offset.
    pub fn of_offset(offset_s: i32) -> Self {
        if offset_s == 0 { Self::Utc } else { Self::OffsetS(offset_s) }
    }
}

/// Why a day cannot be told.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum DayError {
    /// Nothing says which number is the month.
    Ambiguous,
    /// The order that holds for the file makes no day of it.
    Impossible,
}

impl Day {
    /// The day, where `day_first` says which number is the day.
    pub fn resolve(self, day_first: Option<bool>) -> Result<Date, DayError> {
        let (first, second, year) = match self {
            Self::Known(date) => return Ok(date),
            Self::Open { first, second, year } => (first, second, year),
        };
        let by_day = Date::new(year, second, first).ok();
        let by_month = Date::new(year, first, second).ok();
        match (day_first, by_day, by_month) {
            (Some(true) | None, Some(date), None)
            | (Some(false) | None, None, Some(date))
            | (Some(true), Some(date), Some(_))
            | (Some(false), Some(_), Some(date)) => Ok(date),
            (None, Some(date), Some(other)) if date == other => Ok(date),
            (None, Some(_), Some(_)) => Err(DayError::Ambiguous),
            _ => Err(DayError::Impossible),
        }
    }
}

/// What the dates of a file say about the order of day and month.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) struct DateOrder {
    /// Dates whose first number can only be the day.
    pub day_first: u64,
    /// Dates whose second number can only be the day.
    pub month_first: u64,
    /// Dates that can be read both ways, as different days.
    pub open: u64,
}

impl DateOrder {
    /// Takes a date into account.
    pub fn see(&mut self, day: Day) {
        let Day::Open { first, second, .. } = day else { return };
        match (first > 12, second > 12) {
            (true, _) => self.day_first += 1,
            (_, true) => self.month_first += 1,
            _ => self.open += u64::from(first != second),
        }
    }

    /// Whether the day comes first: what the dates say where they agree, else what the boat file says.
    pub fn settle(self, boat: Option<bool>) -> Option<bool> {
        match (self.day_first > 0, self.month_first > 0) {
            (true, false) => Some(true),
            (false, true) => Some(false),
            _ => boat,
        }
    }
}

/// Microseconds since 1970 UTC of a clock time in a zone. An hour that a clock change skips or repeats is taken as
/// RFC 5545 says (the offset before the change).
pub(crate) fn instant_us(date: Date, clock_us: i64, zone: &TimeZone) -> Option<i64> {
    let second = clock_us.div_euclid(US_PER_S);
    let (hour, minute) = (second / 3600, second / 60 % 60);
    let civil = date.at(hour.try_into().ok()?, minute as i8, (second % 60) as i8, 0);
    let whole = zone.to_timestamp(civil).ok()?.as_microsecond();
    Some(whole + clock_us.rem_euclid(US_PER_S))
}

/// The moment that a text writes, `None` where it writes none.
///
/// ISO 8601 in its extended and basic forms; day, month and year in numbers, or with the month's English name;
/// clock times with or without seconds, with am or pm; a zone behind them; seconds, milliseconds, microseconds or
/// nanoseconds since 1970.
pub(crate) fn moment(text: &str) -> Option<Moment> {
    let text = text.trim();
    if let Some(time_us) = epoch_us(text) {
        return Some(Moment::Epoch(time_us));
    }
    let mut civil = Civil::default();
    let mut rest = text.as_bytes();
    if let Some((day, behind)) = day(rest) {
        civil.day = Some(day);
        rest = between(behind);
    }
    if let Some((clock_us, behind)) = clock(rest, civil.day.is_some()) {
        civil.clock_us = Some(clock_us);
        (civil.zone, rest) = zone(behind);
        if civil.day.is_none() && !rest.is_empty() {
            let (day, behind) = day(between(rest))?;
            civil.day = Some(day);
            rest = behind;
        }
    }
    let said = civil.day.is_some() || civil.clock_us.is_some();
    (said && rest.trim_ascii().is_empty()).then_some(Moment::Civil(civil))
}

/// Clock times that are written without a colon: `0512`, `742`, `051203`, `742 pm`, `7am`.
pub(crate) fn compact_clock_us(text: &str) -> Option<i64> {
    let text = text.trim();
    let (digits, half) = text.split_at(text.find(|c: char| !c.is_ascii_digit()).unwrap_or(text.len()));
    let half_day = half_day(half.as_bytes());
    let good_length =
        matches!(digits.len(), 3 | 4 | 6) || (half_day.is_some() && matches!(digits.len(), 1 | 2));
    let rest = half_day.map_or(half.as_bytes(), |(_, rest)| rest);
    if !good_length || !rest.is_empty() {
        return None;
    }
    let n_behind = match digits.len() {
        6 => 4,
        3 | 4 => 2,
        _ => 0,
    };
    let (hour, behind) = digits.as_bytes().split_at(digits.len() - n_behind);
    let part = |at: usize| behind.get(at..at + 2).map_or(Some(0), number);
    clock_of(in_half_day(number(hour)?, half_day)?, part(0)?, part(2)?)
}

/// Which half of the day `am`, `p.m.` … at the start of a text says (`true`: the second), and what is behind it.
fn half_day(text: &[u8]) -> Option<(bool, &[u8])> {
    let (letter, rest) = text.trim_ascii_start().split_first()?;
    let second = match letter.to_ascii_lowercase() {
        b'a' => false,
        b'p' => true,
        _ => return None,
    };
    let rest = rest.strip_prefix(b".").unwrap_or(rest);
    let rest = rest.strip_prefix(b"m").or_else(|| rest.strip_prefix(b"M"))?;
    Some((second, rest.strip_prefix(b".").unwrap_or(rest)))
}

/// The hour of the day behind an hour of a half day. `None`: there is no such hour.
fn in_half_day(hour: i64, half_day: Option<(bool, &[u8])>) -> Option<i64> {
    match half_day {
        None => Some(hour),
        Some((second, _)) => (1..=12).contains(&hour).then(|| hour % 12 + if second { 12 } else { 0 }),
    }
}

/// A number of seconds, milliseconds, microseconds or nanoseconds since 1970 that lies between 1973 and 2286.
fn epoch_us(text: &str) -> Option<i64> {
    if !text.starts_with(|c: char| c.is_ascii_digit())
        || !text.bytes().all(|b| b.is_ascii_digit() || b == b'.')
    {
        return None;
    }
    let whole = text.split('.').next()?.len();
    let us_per_unit = match whole {
        9 | 10 => 1e6,
        12 | 13 => 1e3,
        15 | 16 => 1.0,
        18 | 19 => 1e-3,
        _ => return None,
    };
    if us_per_unit <= 1.0 && whole == text.len() {
        let units: i64 = text.parse().ok()?;
        return Some(if us_per_unit < 1.0 { units / 1000 } else { units });
    }
    let value: f64 = text.parse().ok()?;
    Some((value * us_per_unit).round() as i64)
}

/// Passes over what stands between a date and a clock time.
fn between(mut text: &[u8]) -> &[u8] {
    let mut marks = 0;
    while let [b' ' | b'\t' | b'T' | b't' | b'_' | b',' | b'-', rest @ ..] = text {
        if marks > 3 {
            break;
        }
        marks += 1;
        text = rest;
    }
    text
}

fn day(text: &[u8]) -> Option<(Day, &[u8])> {
    numbered_day(text).or_else(|| named_day(text))
}

/// `2026-06-14`, `20260614`, `14/06/2026`, `6/14/26`, `14.06.2026`.
fn numbered_day(text: &[u8]) -> Option<(Day, &[u8])> {
    let (first, rest) = leading_digits(text)?;
    if first.len() == 8 || first.len() == 14 {
        let date =
            Date::new(number(&first[..4])? as i16, number(&first[4..6])? as i8, number(&first[6..8])? as i8);
        let date = date.ok().filter(|date| (1900..2200).contains(&date.year()))?;
        return Some((Day::Known(date), &text[8..]));
    }
    let (&mark, rest) = rest.split_first()?;
    if !matches!(mark, b'-' | b'/' | b'.' | b'_') {
        return None;
    }
    let (second, rest) = leading_digits(rest)?;
    let rest = rest.strip_prefix(&[mark])?;
    let (third, rest) = leading_digits(rest)?;
    let [a, b, c] = [number(first)?, number(second)?, number(third)?];
    match (first.len(), second.len(), third.len()) {
        (4, 1..=2, 1..=2) => Some((Day::Known(Date::new(a as i16, b as i8, c as i8).ok()?), rest)),
        (1..=2, 1..=2, 2 | 4) => {
            let (first, second) = (a as i8, b as i8);
            let year = if third.len() == 2 { full_year(c) } else { c as i16 };
            let possible = Date::new(year, second, first).is_ok() || Date::new(year, first, second).is_ok();
            possible.then_some((Day::Open { first, second, year }, rest))
        }
        _ => None,
    }
}

const MONTHS: [&str; 12] =
    ["jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec"];
const WEEKDAYS: [&str; 7] = ["mon", "tue", "wed", "thu", "fri", "sat", "sun"];

/// `14 Jun 2026`, `14-Jun-26`, `Jun 14, 2026`, `Sunday 14 June 2026`.
fn named_day(text: &[u8]) -> Option<(Day, &[u8])> {
    let (mut month, mut numbers, mut rest) = (None, [None; 2], text);
    for _ in 0..4 {
        if let Some((digits, behind)) = leading_digits(rest) {
            *numbers.iter_mut().find(|number| number.is_none())? = Some((number(digits)?, digits.len()));
            rest = behind;
        } else {
            let length = rest.iter().take_while(|b| b.is_ascii_alphabetic()).count();
            let word = rest[..length].to_ascii_lowercase();
            let starts = |names: &[&str]| names.iter().position(|name| word.starts_with(name.as_bytes()));
            match (starts(&MONTHS), starts(&WEEKDAYS)) {
                (Some(at), _) if month.is_none() => month = Some(at as i8 + 1),
                (None, Some(_)) => {}
                _ => return None,
            }
            rest = &rest[length..];
        }
        if let (Some(month), [Some((day, 1..=2)), Some((year, digits @ (2 | 4)))]) = (month, numbers) {
            let year = if digits == 2 { full_year(year) } else { year as i16 };
            return Some((Day::Known(Date::new(year, month, day as i8).ok()?), rest));
        }
        while let [b' ' | b',' | b'-' | b'/' | b'.', behind @ ..] = rest {
            rest = behind;
        }
    }
    None
}

/// The year behind two digits: 1980 to 2079.
fn full_year(two_digits: i64) -> i16 {
    if two_digits < 80 { 2000 + two_digits as i16 } else { 1900 + two_digits as i16 }
}

/// `5:12`, `05:12:03.25`, `05:12 pm`; behind a date also `051203` and `0512`.
fn clock(text: &[u8], behind_date: bool) -> Option<(i64, &[u8])> {
    let (digits, rest) = leading_digits(text)?;
    let (hour, minute, second, mut rest) = if let (1..=2, [b':', rest @ ..]) = (digits.len(), rest) {
        let (minute, rest) = leading_digits(rest).filter(|(minute, _)| minute.len() == 2)?;
        let (second, rest) = match rest {
            [b':', rest @ ..] => leading_digits(rest).filter(|(second, _)| second.len() == 2)?,
            _ => (&b"0"[..], rest),
        };
        (number(digits)?, number(minute)?, number(second)?, rest)
    } else if behind_date && matches!(digits.len(), 4 | 6) {
        let second = if digits.len() == 6 { number(&digits[4..])? } else { 0 };
        (number(&digits[..2])?, number(&digits[2..4])?, second, rest)
    } else {
        return None;
    };
    let mut fraction_us = 0;
    if let [b'.' | b',', behind @ ..] = rest
        && let Some((decimals, behind)) = leading_digits(behind)
    {
        let mut unit_us = US_PER_S;
        for digit in decimals {
            unit_us /= 10;
            fraction_us += i64::from(digit - b'0') * unit_us;
        }
        rest = behind;
    }
    let half_day = half_day(rest);
    let hour = in_half_day(hour, half_day)?;
    let rest = half_day.map_or(rest, |(_, rest)| rest);
    Some((clock_of(hour, minute, second)? + fraction_us, rest))
}

/// Microseconds since midnight. Second 60 (a leap second) is the first of the next minute.
fn clock_of(hour: i64, minute: i64, second: i64) -> Option<i64> {
    let good = hour < 24 && minute < 60 && second <= 60;
    // the last second of a day cannot run over into a day that has no such clock time
    let second = if (hour, minute, second) == (23, 59, 60) { 59 } else { second };
    good.then_some(((hour * 60 + minute) * 60 + second) * US_PER_S)
}

fn zone(text: &[u8]) -> (Zone, &[u8]) {
    let word = text.trim_ascii_start();
    for name in [&b"UTC"[..], b"GMT", b"Z", b"utc", b"gmt", b"z"] {
        if let Some(rest) = word.strip_prefix(name) {
            return (Zone::Utc, rest);
        }
    }
    let offset = std::str::from_utf8(word).ok().and_then(offset_s);
    offset.map_or((Zone::Unsaid, text), |(offset_s, length)| (Zone::of_offset(offset_s), &word[length..]))
}

/// Seconds east of UTC and the length of an offset at the start of a text: `+02:00`, `-0330`, `+2`.
pub(crate) fn offset_s(text: &str) -> Option<(i32, usize)> {
    let sign = match text.as_bytes().first()? {
        b'+' => 1,
        b'-' => -1,
        _ => return None,
    };
    let (digits, rest) = leading_digits(&text.as_bytes()[1..])?;
    let (hours, minutes, length) = match (digits.len(), rest) {
        (1..=2, [b':', rest @ ..]) => {
            let (minutes, _) = leading_digits(rest).filter(|(minutes, _)| minutes.len() == 2)?;
            (number(digits)?, number(minutes)?, digits.len() + 4)
        }
        (1..=2, _) => (number(digits)?, 0, digits.len() + 1),
        (4, _) => (number(&digits[..2])?, number(&digits[2..])?, 5),
        _ => return None,
    };
    // offsets of the zone list reach from -12 h to +14 h
    (hours <= 14 && minutes < 60).then_some((sign * (hours * 60 + minutes) as i32 * 60, length))
}

fn leading_digits(text: &[u8]) -> Option<(&[u8], &[u8])> {
    let n = text.iter().take_while(|b| b.is_ascii_digit()).count();
    (n > 0).then(|| text.split_at(n))
}

/// The number in at most 14 digits.
fn number(digits: &[u8]) -> Option<i64> {
    (digits.len() <= 14).then(|| digits.iter().fold(0, |sum, b| sum * 10 + i64::from(b - b'0')))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn iso(text: &str) -> String {
        match moment(text) {
            Some(Moment::Epoch(us)) => jiff::Timestamp::from_microsecond(us).unwrap().to_string(),
            Some(Moment::Civil(civil)) => {
                let date = civil.day.unwrap().resolve(None).unwrap();
                let us = instant_us(date, civil.clock_us.unwrap(), &TimeZone::UTC).unwrap();
                let zone = match civil.zone {
                    Zone::Unsaid => String::new(),
                    Zone::Utc => " utc".to_owned(),
                    Zone::OffsetS(s) => format!(" {s}"),
                };
                format!("{}{zone}", jiff::Timestamp::from_microsecond(us).unwrap())
            }
            None => panic!("{text}"),
        }
    }

    #[test]
    fn times_as_loggers_and_people_write_them() {
        for (text, want) in [
            ("2026-06-14T05:12:03Z", "2026-06-14T05:12:03Z utc"),
            ("2026-06-14 05:12:03.25", "2026-06-14T05:12:03.25Z"),
            ("2011-10-26T04:34:38+00:00", "2011-10-26T04:34:38Z utc"),
            ("2026-06-14T05:12:03-0230", "2026-06-14T05:12:03Z -9000"),
            ("20210624T040108", "2021-06-24T04:01:08Z"),
            ("20210624040108", "2021-06-24T04:01:08Z"),
            ("24/06/2021 04:11:06", "2021-06-24T04:11:06Z"),
            ("6/14/26 5:12 PM", "2026-06-14T17:12:00Z"),
            ("6/14/2026 12:05:00 a.m.", "2026-06-14T00:05:00Z"),
            ("14.06.2026, 05:12", "2026-06-14T05:12:00Z"),
            ("14-Jun-26 05:12:03", "2026-06-14T05:12:03Z"),
            ("Sun Jun 14, 2026 05:12 UTC", "2026-06-14T05:12:00Z utc"),
            ("05:12:03 14/06/2026", "2026-06-14T05:12:03Z"),
            ("2026-06-14 23:59:60", "2026-06-14T23:59:59Z"),
            ("1780751005", "2026-06-06T13:03:25Z"),
            ("1780751005.25", "2026-06-06T13:03:25.25Z"),
            ("1780751005123", "2026-06-06T13:03:25.123Z"),
            ("1780751005123456", "2026-06-06T13:03:25.123456Z"),
        ] {
            assert_eq!(iso(text), want, "{text}");
        }
    }

    #[test]
    fn what_is_no_time() {
        for text in [
            "",
            "48.2",
            "2026-13-01",
            "31/31/2026",
            "2026-02-30 05:00",
            "25:00",
            "5:60",
            "05:12:03 x",
            "coho",
            "13:00 pm",
            "192.168.0.1",
            "END",
            "99999999",
        ] {
            assert_eq!(moment(text), None, "{text}");
        }
    }

    #[test]
    fn clocks_and_dates_alone() {
        let clock = |text: &str| match moment(text) {
            Some(Moment::Civil(Civil { day: None, clock_us: Some(us), .. })) => us / US_PER_S,
            other => panic!("{text}: {other:?}"),
        };
        assert_eq!(clock("7:42"), 7 * 3600 + 42 * 60);
        assert_eq!(clock("7:42 pm"), 19 * 3600 + 42 * 60);
        assert_eq!(compact_clock_us("0742"), Some((7 * 60 + 42) * 60 * US_PER_S));
        assert_eq!(compact_clock_us("742"), compact_clock_us("074200"));
        assert_eq!(compact_clock_us("7 pm"), compact_clock_us("1900"));
        assert_eq!(compact_clock_us("1242 a.m."), compact_clock_us("042"));
        for text in ["2575", "7", "13 pm", "742 x", "", "am"] {
            assert_eq!(compact_clock_us(text), None, "{text}");
        }
        let Some(Moment::Civil(civil)) = moment("2026-06-14") else { panic!() };
        assert!(civil.day.is_some() && civil.clock_us.is_none());
    }

    #[test]
    fn day_and_month_need_evidence() {
        let day = |text: &str| match moment(text) {
            Some(Moment::Civil(civil)) => civil.day.unwrap(),
            other => panic!("{other:?}"),
        };
        let open = day("03/04/2026");
        assert_eq!(open.resolve(None), Err(DayError::Ambiguous));
        assert_eq!(open.resolve(Some(true)), Ok(Date::constant(2026, 4, 3)));
        assert_eq!(open.resolve(Some(false)), Ok(Date::constant(2026, 3, 4)));
        assert_eq!(day("05/05/2026").resolve(None), Ok(Date::constant(2026, 5, 5)));
        assert_eq!(day("13/05/2026").resolve(Some(false)), Err(DayError::Impossible));
        let mut order = DateOrder::default();
        order.see(open);
        assert_eq!((order.settle(None), order.settle(Some(true))), (None, Some(true)));
        order.see(day("14/06/2026"));
        assert_eq!(order.settle(Some(false)), Some(true), "a 13 or more settles it");
        order.see(day("06/14/2026"));
        assert_eq!(order.settle(None), None, "dates that disagree settle nothing");
    }

    proptest! {
        #[test]
        fn no_text_makes_it_panic(text in "[0-9:/. TtZzAPamp+,_JunSep-]{0,30}|.{0,30}") {
            let _ = (moment(&text), compact_clock_us(&text), offset_s(&text));
        }

        #[test]
        fn any_instant_there_and_back(time_us in 1_000_000_000_000_000i64..4_000_000_000_000_000) {
            let text = jiff::Timestamp::from_microsecond(time_us).unwrap().to_string();
            prop_assert_eq!(iso(&text), format!("{text} utc"));
        }
    }
}
