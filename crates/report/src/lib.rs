//! Words for the captain: the summary of a trip, from the tables alone; what a file is; how deep lines run.
//!
//! Text and JSON read the same rows, so they cannot disagree.

mod cautions;
mod current_layer;
mod geojson;
mod gpx;
mod moving_water;
mod rates;
mod running_depth;
mod sections;
mod sentences;
mod source;
mod summary;
mod words;

pub use cautions::{CAUTIONS, RUNNING_DEPTH_CAUTIONS};
pub use current_layer::{currents_geojson, currents_gpx};
pub use geojson::{breaks_geojson, surface_map_geojson};
pub use rates::Produced;
pub use running_depth::{
    DepthBand, LineRun, RunningDepths, productive_depths, refusal, running_depth, running_depths,
    running_depths_json,
};
pub use source::{source, source_json};
pub use summary::{Style, season, trip, trip_json, without_trip};
