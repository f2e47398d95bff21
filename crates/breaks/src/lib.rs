//! Thermal breaks: where did the boat cross from warm water into cold, or back?
mod candidates;
mod find;
mod lines;
mod noise;
mod profile;
mod settings;
mod stretches;
mod types;
mod whiten;

pub use find::find;
pub use lines::lines;
pub use noise::Noise;
pub use profile::{Background, Profile, fit};
pub use settings::Settings;
pub use types::{BreakLine, Crossing, Kind, PlacedCrossing, Series};

#[cfg(test)]
mod tests;
