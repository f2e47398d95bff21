//! On which day of the trip was this clock time?

use jiff::SignedDuration;
use jiff::tz::{AmbiguousOffset, TimeZone};
use waterseam_units::time::timestamp;

use crate::unplaced::Reason;

/// The instant in a trip behind a clock time without a date.
///
/// `clock_us` counts from local midnight in `zone`; trip and result are µs since 1970 UTC. Where clocks
/// were put back, both hours are looked at; where they were put forward, a time that never was is moved on
/// with them.
///
/// # Errors
/// [`Reason::OutsideTrip`] where no day of the trip has that time, [`Reason::ClockFitsTwice`] where several
/// have.
pub fn resolve_clock(
    clock_us: i64,
    zone: &TimeZone,
    trip_start_us: i64,
    trip_end_us: i64,
) -> Result<i64, Reason> {
    let local_date = |time_us| timestamp(time_us).to_zoned_datetime(zone.clone()).date();
    let last = local_date(trip_end_us);
    let (mut day, mut found) = (local_date(trip_start_us), Vec::new());
    while day <= last && found.len() < 2 {
        found.extend(
            instants(day.at(0, 0, 0, 0).saturating_add(SignedDuration::from_micros(clock_us)), zone)
                .filter(|time_us| (trip_start_us..=trip_end_us).contains(time_us)),
        );
        let Ok(next) = day.tomorrow() else { break };
        day = next;
    }
    match found[..] {
        [] => Err(Reason::OutsideTrip),
        [time_us] => Ok(time_us),
        _ => Err(Reason::ClockFitsTwice),
    }
}

/// The instants with a local time: one, or two where clocks were put back.
fn instants(local: jiff::civil::DateTime, zone: &TimeZone) -> impl Iterator<Item = i64> {
    let ambiguous = zone.to_ambiguous_timestamp(local);
    let twice = matches!(ambiguous.offset(), AmbiguousOffset::Fold { .. });
    let first = ambiguous.compatible().ok();
    let second = twice.then(|| zone.to_ambiguous_timestamp(local).later().ok()).flatten();
    [first, second].into_iter().flatten().map(jiff::Timestamp::as_microsecond)
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::Timestamp;

    const HOUR_US: i64 = 3_600_000_000;

    fn us(text: &str) -> i64 {
        text.parse::<Timestamp>().unwrap().as_microsecond()
    }

    fn check(zone: &str, clock_h: f64, start: &str, end: &str, want: Result<&str, Reason>) {
        let zone = TimeZone::get(zone).unwrap();
        let got = resolve_clock((clock_h * HOUR_US as f64) as i64, &zone, us(start), us(end));
        assert_eq!(got, want.map(us));
    }

    #[test]
    fn the_trip_gives_the_date() {
        let (start, end) = ("2026-06-14T09:00:00Z", "2026-06-14T17:00:00Z");
        check("America/Toronto", 6.5, start, end, Ok("2026-06-14T10:30:00Z"));
        check("UTC", 10.5, start, end, Ok("2026-06-14T10:30:00Z"));
        check("America/Toronto", 20.0, start, end, Err(Reason::OutsideTrip));
    }

    #[test]
    fn over_midnight_in_utc_and_on_the_boat() {
        check(
            "America/Toronto",
            20.5,
            "2026-06-14T22:00:00Z",
            "2026-06-15T03:00:00Z",
            Ok("2026-06-15T00:30:00Z"),
        );
        check("UTC", 1.0, "2026-06-14T22:00:00Z", "2026-06-15T03:00:00Z", Ok("2026-06-15T01:00:00Z"));
    }

    #[test]
    fn a_time_that_fits_twice_is_not_guessed() {
        check("UTC", 10.0, "2026-06-14T09:00:00Z", "2026-06-15T11:00:00Z", Err(Reason::ClockFitsTwice));
        // clocks go back at 06:00 UTC on this day
        let (start, end) = ("2026-11-01T04:00:00Z", "2026-11-01T12:00:00Z");
        check("America/Toronto", 1.5, start, end, Err(Reason::ClockFitsTwice));
        check("America/Toronto", 1.5, "2026-11-01T06:15:00Z", end, Ok("2026-11-01T06:30:00Z"));
    }
}
