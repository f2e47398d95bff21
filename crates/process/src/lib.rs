//! Files off the boat to finished trips in the logbook: which files belong together, and in which order
//! the crates of the house are called.

mod angling;
pub mod card;
pub mod cell_visits;
mod chain;
pub mod clocks;
mod copies;
mod current_rows;
pub mod currents;
mod dates;
mod doubles;
mod error;
pub mod files;
pub mod hotspots;
mod instruments;
mod isotherms;
mod lure;
mod map_rows;
pub mod other_trips;
pub mod outings;
mod place;
mod placing;
pub mod plan;
mod rates;
pub mod read;
mod rows;
mod run;
pub mod season;
mod section_rows;
pub mod sensor_care;
pub mod settings;
pub mod sharing;
pub mod shelf;
pub mod span;
mod stored;
mod supersede;
mod trip;
pub mod water;
mod without_trip;

pub use copies::Copy;
pub use error::ProcessError;
pub use rates::Rates;
pub use run::{Done, DoneTrip, Kept, Request, run};
