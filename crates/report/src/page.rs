//! A page to look at where the summary is to be read: one self-contained HTML file a trip, one a season, and an index.
//!
//! Everything is drawn here, as SVG that prints and shows without a script; the script enlarges the map, links it with
//! the drawings along the track and switches units. A page asks the network for nothing, and its policy forbids it to.

mod along;
mod bands;
mod colour;
mod decimate;
mod field;
mod index;
mod map;
mod markup;
mod measure;
mod places;
mod retold;
mod samples;
mod season;
mod seconds;
mod section;
mod shell;
mod strip;
mod trip;
mod waypoints;

pub use index::{PageOfTrip, index_page};
pub use places::{places_file, places_page};
pub use season::{Season, season_file, season_page};
pub use shell::PAGE_MARK;
pub use trip::trip_page;

#[cfg(test)]
#[path = "../../tables/tests/sample/mod.rs"]
mod sample;

/// Name of a trip's page: ids hold letters, digits and `-`; whatever else is in one cannot name a file elsewhere.
pub fn trip_file(trip_id: &str) -> String {
    let plain = |letter: char| if letter.is_ascii_alphanumeric() || letter == '-' { letter } else { '_' };
    format!("trip-{}.html", trip_id.chars().map(plain).collect::<String>())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_page_of_a_trip_lies_in_its_folder() {
        assert_eq!(trip_file("20260718T072244Z"), "trip-20260718T072244Z.html");
        assert_eq!(trip_file("../../etc/x"), "trip-______etc_x.html");
    }

    /// `put!` escapes its arguments; a name within the braces would slip by.
    #[test]
    fn every_value_is_an_argument() {
        let sources = [
            include_str!("page/along.rs"),
            include_str!("page/bands.rs"),
            include_str!("page/field.rs"),
            include_str!("page/index.rs"),
            include_str!("page/map.rs"),
            include_str!("page/measure.rs"),
            include_str!("page/places.rs"),
            include_str!("page/retold.rs"),
            include_str!("page/season.rs"),
            include_str!("page/section.rs"),
            include_str!("page/shell.rs"),
            include_str!("page/strip.rs"),
            include_str!("page/trip.rs"),
            include_str!("page/waypoints.rs"),
        ];
        let mut calls = 0;
        for source in sources {
            for call in source.split("put!(").skip(1) {
                let Some(markup) = call
                    .split('"')
                    .nth(1)
                    .filter(|_| call.trim_start().starts_with(|c: char| c.is_alphanumeric()))
                else {
                    continue;
                };
                calls += 1;
                let named = markup.split('{').skip(1).any(|rest| !rest.starts_with('}'));
                assert!(!named, "{markup}");
            }
        }
        assert!(calls > 40, "{calls}");
    }
}
