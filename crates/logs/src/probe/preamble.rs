//! What do the lines before the headings say about the start of a cast?

use jiff::civil::Date;
use waterseam_units::LatLon;

use crate::table::heading::Heading;
use crate::table::layout::Layout;
use crate::table::moment::{Civil, DateOrder, Moment, Zone, moment};
use crate::table::number::{Commas, degrees};
use crate::table::when::{Clock, When, see_date};

/// Words of keys that speak of another time or place than the start of the log.
const ELSEWHERE: [&str; 15] = [
    "calibration",
    "created",
    "default",
    "download",
    "end",
    "error",
    "expiry",
    "export",
    "exported",
    "firmware",
    "manufactured",
    "modified",
    "printed",
    "stop",
    "upload",
];

/// The time at which the log starts, with the key that says so. A key in UTC goes before one in another zone, a
/// start or a cast before another time.
pub(super) fn start<'l>(layout: &'l Layout, clock: &Clock) -> Option<(When, &'l str)> {
    let read = |(key, value): &'l (Heading, String)| {
        let clock = Clock { heading_zone: key.zone, ..clock.clone() };
        let when = clock.read(value, "").ok().filter(|when| matches!(when, When::Instant { .. }))?;
        let rank = (key.zone == Zone::Unsaid, !key.has(&["start", "cast", "begin"]));
        Some((rank, when, key.text.as_str()))
    };
    let named = layout.preamble.iter().filter(|(key, _)| {
        !key.has(&ELSEWHERE) && key.has(&["time", "date", "datetime", "start", "cast", "begin", "began"])
    });
    named.filter_map(read).min_by_key(|(rank, ..)| *rank).map(|(_, when, key)| (when, key))
}

/// The first day that is named without a clock time.
pub(super) fn day(layout: &Layout, clock: &Clock) -> Option<Date> {
    let mut entries =
        layout.preamble.iter().filter(|(key, _)| !key.has(&ELSEWHERE) && key.has(&["date", "day"]));
    entries.find_map(|(_, value)| match moment(value) {
        Some(Moment::Civil(Civil { day: Some(day), .. })) => day.resolve(clock.day_first).ok(),
        _ => None,
    })
}

/// Where the log starts and where it ends.
pub(super) fn positions(layout: &Layout) -> (Option<LatLon>, Option<LatLon>) {
    let find = |names: &[&str], end: bool| {
        let fits = |key: &Heading| {
            let elsewhere = ELSEWHERE.iter().any(|word| *word != "end" && key.has(&[word]));
            key.has(names) && key.has(&["end"]) == end && !elsewhere
        };
        let (_, value) = layout.preamble.iter().find(|(key, _)| fits(key))?;
        degrees(value, Commas::Thousands)
    };
    let position = |end| {
        let lat = find(&["latitude", "lat"], end)?;
        let lon = find(&["longitude", "lon", "long"], end)?;
        LatLon::new(lat, lon).filter(|at| (at.lat_deg, at.lon_deg) != (0.0, 0.0))
    };
    (position(false), position(true))
}

/// Takes the dates of the preamble into account: they are written by the same hand as those of the rows.
pub(super) fn see_dates(layout: &Layout, order: &mut DateOrder) {
    layout.preamble.iter().for_each(|(_, value)| see_date(order, value));
}
