//! Instants as whole microseconds since 1970-01-01T00:00:00 UTC, as the tables keep them.

use jiff::civil::Date;
use jiff::{Timestamp, tz::TimeZone};

/// Microseconds in a second.
pub const US_PER_S: i64 = 1_000_000;

/// Seconds from one instant to another, positive when `to_us` is later.
pub fn seconds_between(from_us: i64, to_us: i64) -> f64 {
    (to_us - from_us) as f64 / US_PER_S as f64
}

/// The instant as jiff has it. Instants outside the years -9999 to 9999 come back as the nearest end.
pub fn timestamp(time_us: i64) -> Timestamp {
    Timestamp::from_microsecond(time_us).unwrap_or(if time_us < 0 { Timestamp::MIN } else { Timestamp::MAX })
}

/// Calendar year in UTC.
pub fn utc_year(time_us: i64) -> i16 {
    timestamp(time_us).to_zoned_datetime(TimeZone::UTC).year()
}

/// Day of an instant in a time zone.
pub fn day_in(zone: &TimeZone, time_us: i64) -> Date {
    timestamp(time_us).to_zoned_datetime(zone.clone()).date()
}

/// `2026-06-14 05:12:03` in a time zone.
pub fn local_text(time_us: i64, zone: &TimeZone) -> String {
    timestamp(time_us).to_zoned_datetime(zone.clone()).strftime("%Y-%m-%d %H:%M:%S").to_string()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn year_at_the_edge() {
        let new_year: Timestamp = "2026-01-01T00:00:00Z".parse().unwrap();
        assert_eq!(utc_year(new_year.as_microsecond()), 2026);
        assert_eq!(utc_year(new_year.as_microsecond() - 1), 2025);
    }

    #[test]
    fn seconds_have_a_sign() {
        assert_eq!(seconds_between(0, 1_500_000), 1.5);
        assert_eq!(seconds_between(1_500_000, 0), -1.5);
    }
}
