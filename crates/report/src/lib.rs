//! Words for the captain: the summary of a trip, from the tables alone.
//!
//! Text and JSON read the same rows, so they cannot disagree.

mod cautions;
mod geojson;
mod rates;
mod sections;
mod sentences;
mod source;
mod summary;
mod words;

pub use cautions::CAUTIONS;
pub use geojson::{breaks_geojson, surface_map_geojson};
pub use rates::Produced;
pub use source::{source, source_json};
pub use summary::{Style, season, trip, trip_json, without_trip};
