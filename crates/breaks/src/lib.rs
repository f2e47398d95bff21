//! Thermal breaks: where the boat crossed from warm water into cold, or back.

mod types;

pub use types::{BreakLine, Crossing, Kind, PlacedCrossing, Series};
