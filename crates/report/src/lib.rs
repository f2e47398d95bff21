//! Words for the captain: the summary of a trip, from the tables alone; what a file is; how deep lines run.
//!
//! Text and JSON read the same rows, so they cannot disagree.

mod bite_layer;
mod break_layer;
mod cautions;
mod csv;
mod current_layer;
mod fields;
mod geojson;
mod gpx;
mod headline;
mod hotspot_layer;
mod hotspots;
mod moving_water;
mod other_trips;
mod page;
mod plan;
mod rates;
mod running_depth;
mod sections;
mod sentences;
mod source;
mod summary;
mod track_layer;
mod words;

pub use bite_layer::{bites_geojson, bites_gpx};
pub use break_layer::breaks_gpx;
pub use cautions::{CAUTIONS, RUNNING_DEPTH_CAUTIONS};
pub use csv::csv;
pub use current_layer::{currents_geojson, currents_gpx};
pub use geojson::{breaks_geojson, surface_map_geojson};
pub use gpx::Plotter;
pub use hotspot_layer::{areas_geojson, hotspots_gpx};
pub use hotspots::{Conditional, Layer, expected, hotspots};
pub use other_trips::{OtherTrips, RateTold};
pub use page::{
    PAGE_MARK, PageOfTrip, Season, index_page, places_file, places_page, season_file, season_page, trip_file,
    trip_page,
};
pub use plan::{Plan, Stop, float_plan, plan, plan_gpx};
pub use rates::Produced;
pub use running_depth::{
    DepthBand, LineRun, RunningDepths, productive_depths, refusal, running_depth, running_depths,
    running_depths_json,
};
pub use source::{source, source_json};
pub use summary::{Style, season, trip, trip_json, trip_with_others, without_trip};
pub use track_layer::{track_geojson, track_gpx};
