//! Small pieces of a sentence: clock times, counts, ranges, places.

use jiff::tz::TimeZone;
use waterseam_tables::TripTables;
use waterseam_units::show::degrees_minutes;
use waterseam_units::{LatLon, UnitSystem, time};

use crate::summary::Style;

/// Clock time in the boat's zone: `07:52`, or `28 Jun 07:52` on a trip of several days.
pub fn clock(time_us: i64, style: &Style) -> String {
    let format = if style.several_days { "%-d %b %H:%M" } else { "%H:%M" };
    time::timestamp(time_us).to_zoned_datetime(style.zone.clone()).strftime(format).to_string()
}

/// Day in the boat's zone: `Sunday 14 June 2026`.
pub fn day(time_us: i64, zone: &TimeZone) -> String {
    time::timestamp(time_us).to_zoned_datetime(zone.clone()).strftime("%A %-d %B %Y").to_string()
}

/// Duration: `7 h 35 min`.
pub fn duration(seconds: f64) -> String {
    let minutes = (seconds / 60.0).round() as i64;
    match (minutes / 60, minutes % 60) {
        (0, m) => format!("{m} min"),
        (h, m) => format!("{h} h {m:02} min"),
    }
}

/// `1 bite`, `3 bites`.
pub fn count(n: usize, one: &str, many: &str) -> String {
    if n == 1 { format!("1 {one}") } else { format!("{n} {many}") }
}

/// `trip 20260718T072244Z`, or `3 trips`.
pub fn of_trips(tables: &TripTables) -> String {
    match &tables.trips[..] {
        [trip] => format!("trip {}", trip.trip_id),
        trips => count(trips.len(), "trip", "trips"),
    }
}

/// `a, b and c`.
pub fn list(parts: &[String]) -> String {
    match parts {
        [] => String::new(),
        [only] => only.clone(),
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    }
}

/// A range of depths in whole units: `40-50 ft`, or `40 ft` where both ends are the same.
pub fn depth_range(units: UnitSystem, low_m: f64, high_m: f64) -> String {
    range(units.depth_value(low_m), units.depth_value(high_m), units.depth_unit())
}

/// A range of temperatures in whole degrees: `50-54 °F`.
pub fn temp_range(units: UnitSystem, low_c: f64, high_c: f64) -> String {
    range(units.temp_value(low_c), units.temp_value(high_c), units.temp_unit())
}

fn range(low: f64, high: f64, unit: &str) -> String {
    let (low, high) = (format!("{low:.0}"), format!("{high:.0}"));
    if low == high { format!("{low} {unit}") } else { format!("{low}-{high} {unit}") }
}

/// A chance in words: `0.02`, or `under 0.01`.
pub fn chance(p: f64) -> String {
    if p < 0.01 { "under 0.01".to_owned() } else { format!("{p:.2}") }
}

/// A position as a plotter shows it.
pub fn place(lat: f64, lon: f64) -> String {
    degrees_minutes(LatLon { lat_deg: lat, lon_deg: lon })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn durations() {
        assert_eq!(duration(59.0 * 60.0), "59 min");
        assert_eq!(duration(7.0 * 3600.0 + 5.0 * 60.0), "7 h 05 min");
    }

    #[test]
    fn ranges() {
        assert_eq!(depth_range(UnitSystem::Metric, 12.1, 14.9), "12-15 m");
        assert_eq!(depth_range(UnitSystem::Metric, 12.1, 12.4), "12 m");
        assert_eq!(chance(0.0034), "under 0.01");
    }

    #[test]
    fn lists() {
        let parts = ["a", "b", "c"].map(str::to_owned);
        assert_eq!(list(&parts), "a, b and c");
        assert_eq!(list(&parts[..1]), "a");
    }
}
