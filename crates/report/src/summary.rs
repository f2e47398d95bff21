//! One trip on one page, as a mate would report it; and a season as a few lines.

use std::fmt::Write;

use jiff::tz::TimeZone;
use waterseam_tables::{TripTables, sources, trips};
use waterseam_units::UnitSystem;

use crate::cautions::CAUTIONS;
use crate::moving_water::{current, lures};
use crate::other_trips::{self, OtherTrips, RateTold};
use crate::rates::{Detail, Produced, produced};
use crate::sections::{bites, breaks, data, head, layers, rates, water};
use crate::words::{count, day};

/// Units and time zone in which numbers are shown.
#[derive(Clone, Debug)]
pub struct Style {
    /// Units.
    pub units: UnitSystem,
    /// Zone of clock times and dates.
    pub zone: TimeZone,
    /// Whether the trip took more than a day, so that a clock time needs its date.
    pub several_days: bool,
}

impl Style {
    /// The style of a trip: what the captain asked for now, else what the boat file said when the trip was
    /// processed.
    pub fn of(tables: &TripTables, units: Option<UnitSystem>) -> Self {
        let plain = Self { units: units.unwrap_or_default(), zone: TimeZone::UTC, several_days: false };
        tables.trips.first().map_or(plain, |trip| Self::of_trip(trip, units))
    }

    /// The same, from the row of the trip alone.
    pub fn of_trip(trip: &trips::Row, units: Option<UnitSystem>) -> Self {
        Self {
            units: units.or_else(|| trip.units.parse().ok()).unwrap_or_default(),
            zone: TimeZone::get(&trip.time_zone).unwrap_or(TimeZone::UTC),
            several_days: trip.time_end - trip.time_start > DAY_US,
        }
    }
}

const DAY_US: i64 = 24 * 3600 * 1_000_000;

/// Columns of text that a line may fill.
const WIDTH: usize = 100;

/// Summary of one trip by itself. Empty where the tables hold no trip.
pub fn trip(tables: &TripTables, style: &Style) -> String {
    trip_with_others(tables, &OtherTrips::default(), style)
}

/// The same with what the boat's other trips make of its rates.
pub fn trip_with_others(tables: &TripTables, others: &OtherTrips, style: &Style) -> String {
    let Some(row) = tables.trips.first() else { return String::new() };
    let mut text = head(row, tables, style);
    for (label, lines) in [
        ("Water", water(row, style)),
        ("Breaks", breaks(tables, style)),
        ("Layers", layers(tables, style)),
        ("Current", current(tables, style)),
        ("Lures", lures(tables, style)),
        ("Bites", bites(tables, style)),
        ("Rates", rates(row, tables, others, style)),
        ("Data", data(row, tables)),
        ("Mind", CAUTIONS.map(str::to_owned).to_vec()),
    ] {
        section(&mut text, label, &lines);
    }
    text
}

/// The same trip as a JSON object of its tables, SI as in the tables; the track and the effort are left to
/// the tables themselves.
///
/// # Errors
/// Where a row cannot be written as JSON.
pub fn trip_json(tables: &TripTables) -> serde_json::Result<serde_json::Value> {
    let mut object = serde_json::Map::new();
    object.insert("trip".to_owned(), serde_json::to_value(tables.trips.first())?);
    object.insert("sources".to_owned(), serde_json::to_value(&tables.sources)?);
    object.insert("breaks".to_owned(), serde_json::to_value(&tables.breaks)?);
    object.insert("isotherm_breaks".to_owned(), serde_json::to_value(&tables.isotherm_breaks)?);
    object.insert("layers".to_owned(), serde_json::to_value(&tables.layers)?);
    object.insert("currents".to_owned(), serde_json::to_value(&tables.currents)?);
    object.insert("current_edges".to_owned(), serde_json::to_value(&tables.current_edges)?);
    object.insert("calibrations".to_owned(), serde_json::to_value(&tables.calibrations)?);
    object.insert("lure_speeds".to_owned(), serde_json::to_value(&tables.lure_speeds)?);
    object.insert("rod_spells".to_owned(), serde_json::to_value(&tables.rod_spells)?);
    object.insert("bites".to_owned(), serde_json::to_value(&tables.bites)?);
    object.insert("bands".to_owned(), serde_json::to_value(&tables.bands)?);
    object.insert("tackle_rates".to_owned(), serde_json::to_value(&tables.tackle_rates)?);
    object.insert("break_sides".to_owned(), serde_json::to_value(&tables.break_sides)?);
    object.insert("cautions".to_owned(), serde_json::to_value(CAUTIONS)?);
    Ok(serde_json::Value::Object(object))
}

/// Several trips, one line each, with their total and what their rods produced; `others` is what the boat's other trips make of the
/// rate of each, in the same order.
pub fn season(trips: &[trips::Row], others: &[Option<RateTold>], rates: &Produced, style: &Style) -> String {
    let mut text = String::new();
    for (row, with_others) in trips.iter().zip(others.iter().chain(std::iter::repeat(&None))) {
        let rate =
            row.rate_per_rod_hour.map_or("no rods out".to_owned(), |rate| format!("{rate:.2} a rod-hour"));
        let _ = writeln!(
            text,
            "{}  {:>9}  {:>10}  {:>5.1} rod-hours  {}  {}",
            row.trip_id,
            style.units.distance(row.distance_m),
            count(row.bites as usize, "bite", "bites"),
            row.rod_hours,
            rate,
            day(row.time_start, &style.zone),
        );
        if let Some(line) = with_others.and_then(|rate| other_trips::of_season(row, rate)) {
            let _ = writeln!(text, "{line}");
        }
    }
    let bites: i64 = trips.iter().map(|row| row.bites).sum();
    let rod_hours: f64 = trips.iter().map(|row| row.rod_hours).sum();
    let _ = writeln!(
        text,
        "{}: {} in {rod_hours:.1} rod-hours, {}.",
        count(trips.len(), "trip", "trips"),
        count(bites as usize, "bite", "bites"),
        style.units.distance(trips.iter().map(|row| row.distance_m).sum()),
    );
    let lines = produced(rates, Detail::Full, style);
    if rod_hours > 0.0 && !lines.is_empty() {
        text.push('\n');
        section(&mut text, "Rates", &lines);
        section(&mut text, "Mind", &CAUTIONS.map(str::to_owned));
    }
    text
}

/// Files that no trip could use, in one line; empty where there are none.
pub fn without_trip(sources: &[sources::Row]) -> String {
    const NAMED: usize = 8;
    if sources.is_empty() {
        return String::new();
    }
    let mut names: Vec<String> = sources.iter().take(NAMED).map(|row| row.file_name.clone()).collect();
    if sources.len() > NAMED {
        names.push(format!("and {} more", sources.len() - NAMED));
    }
    let n = count(sources.len(), "file", "files");
    format!("{n} that no trip could use: {} (table sources, without a trip_id).\n", names.join(", "))
}

/// A label in the margin and its lines beside it, wrapped.
pub(crate) fn section(text: &mut String, label: &str, lines: &[String]) {
    const MARGIN: usize = 9;
    let mut margin = label;
    for line in lines {
        let indent = line.len() - line.trim_start().len();
        for (n, part) in wrap(line.trim_start(), WIDTH - MARGIN - indent).into_iter().enumerate() {
            let hang = if n == 0 { indent } else { indent + 2 };
            let _ = writeln!(text, "{margin:<MARGIN$}{:hang$}{part}", "");
            margin = "";
        }
    }
}

/// Breaks a line at blanks so that no part is longer than `width` characters, where words allow.
pub(crate) fn wrap(line: &str, width: usize) -> Vec<String> {
    let mut parts: Vec<String> = Vec::new();
    let mut part = String::new();
    // two blanks separate columns and must survive: only single blanks are places to break
    for word in line.split(' ') {
        let longer = part.chars().count() + 1 + word.chars().count();
        if !part.trim().is_empty() && longer > width {
            parts.push(std::mem::take(&mut part).trim_end().to_owned());
            part.push_str(word);
        } else {
            if !(part.is_empty() && parts.is_empty()) || part.ends_with(' ') {
                part.push(' ');
            }
            part.push_str(word);
        }
    }
    parts.push(part.trim_end().to_owned());
    parts
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn wrapping_keeps_every_word() {
        let line = "one two three  four five six seven eight";
        let parts = wrap(line, 12);
        assert!(parts.iter().all(|part| part.chars().count() <= 12), "{parts:?}");
        let words: Vec<_> = line.split_whitespace().collect();
        let wrapped: Vec<_> = parts.iter().flat_map(|part| part.split_whitespace()).collect();
        assert_eq!(words, wrapped);
    }

    #[test]
    fn a_line_that_fits_stays_whole() {
        assert_eq!(wrap("one two  three", 20), ["one two  three"]);
        assert_eq!(wrap("", 20), [""]);
    }
}
