//! Elevation of the sun against the Solar Position Algorithm.
//!
//! Source: `sun_position.csv`: NREL SPA (Reda & Andreas 2003/2004, NREL/TP-560-34302) as in pvlib 0.16.1, with
//! the worked example of the report in the first row.

mod common;

use common::{close, table};
use waterseam_track::{daylight, sun_elevation_deg};
use waterseam_units::LatLon;

/// The table's tolerance for an SPA implementation is 1e-4°. Ours stands at sea level, so parallax differs by
/// less than 1e-6° at the height of the worked example.
const WITHIN_DEG: f64 = 1e-4;

#[test]
fn elevation_agrees_with_the_algorithm() {
    for row in table("sun_position.csv") {
        let time: jiff::Timestamp = row.text("time_utc").parse().unwrap();
        let at = LatLon { lat_deg: row.must("lat"), lon_deg: row.must("lon") };
        let got = sun_elevation_deg(time.as_microsecond(), at);
        let case = format!("{} {}", row.text("place"), row.text("time_utc"));
        close(&case, got, row.must("elevation_deg"), WITHIN_DEG);
    }
}

/// Sunrise, sunset and civil twilight of local days. Source: `sun_rise_set.csv`: pvlib 0.16.1 (NREL SPA), crossings by bisection. The
/// table's tolerance: 60 s below 60° of latitude, 300 s above.
#[test]
fn light_of_a_day() {
    for row in table("sun_rise_set.csv") {
        let day: jiff::civil::Date = row.text("local_date").parse().unwrap();
        let offset = jiff::tz::Offset::from_seconds((3600.0 * row.must("tz_offset_h")) as i32).unwrap();
        let at = LatLon { lat_deg: row.must("lat"), lon_deg: row.must("lon") };
        let got = daylight(day, &offset.to_time_zone(), at);
        let within_s = if at.lat_deg.abs() < 60.0 { 60.0 } else { 300.0 };
        for (got, column) in [
            (got.dawn_us, "civil_dawn_utc"),
            (got.sunrise_us, "sunrise_utc"),
            (got.sunset_us, "sunset_utc"),
            (got.dusk_us, "civil_dusk_utc"),
        ] {
            let case = format!("{} {day} {column}", row.text("place"));
            let want = Some(row.text(column)).filter(|text| !text.is_empty());
            let want = want.map(|text| text.parse::<jiff::Timestamp>().unwrap().as_microsecond());
            match (got, want) {
                (Some(got), Some(want)) => close(&case, (got - want) as f64 / 1e6, 0.0, within_s),
                _ => assert_eq!(got, want, "{case}"),
            }
        }
    }
}

/// The examples of the report itself, table A2.1 of NREL/TP-560-34302 (read second-hand), to 5 s.
#[test]
fn sunrise_and_sunset_as_published() {
    for row in table("sun_rise_set_published.csv") {
        let day: jiff::civil::Date = row.text("date").parse().unwrap();
        let at = LatLon { lat_deg: row.must("lat"), lon_deg: row.must("lon") };
        let got = daylight(day, &jiff::tz::TimeZone::UTC, at);
        for (got, column) in [(got.sunrise_us, "sunrise_utc"), (got.sunset_us, "sunset_utc")] {
            let want = row.text(column).parse::<jiff::Timestamp>().unwrap().as_microsecond();
            close(&format!("{day} {column}"), (got.unwrap() - want) as f64 / 1e6, 0.0, 5.0);
        }
    }
}
