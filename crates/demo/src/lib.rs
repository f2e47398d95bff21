//! What would come off a boat if the lake, the fish and every error of every instrument were known?
//!
//! The charter boat *Kittiwake* of Alder Harbour fishes Lake Corvane. Boat, harbour and lake are invented; their
//! coordinates lie in open ocean. [`trip`] gives the raw files of one day and the truth beside them; [`write()`] puts whole
//! seasons on a disk. Nothing here uses the crates that read and analyse such files, so that scoring them against
//! [`Truth`] is honest.
//!
//! ```text
//! days ─▶ lake, route ─▶ voyage ─▶ lines and bites ─▶ plotter, probe, notes   (files)
//!                             └──────────────────────▶ crossings, columns …   (truth)
//! ```
//!
//! The same seed gives the same bytes: random numbers are ChaCha8, and every number is written with few decimals, so that the
//! last bit of a platform's sine does not show.

mod boat_file;
mod card;
mod clock;
mod crossings;
mod days;
mod dice;
mod faults;
mod fish;
mod handling;
mod hull;
pub mod lake;
mod lines;
mod nmea;
mod notes;
mod plotter;
mod probe;
mod route;
mod scenario;
mod trip;
pub mod truth;
mod voyage;
mod write;
pub mod years;

#[cfg(test)]
mod tests;

pub use boat_file::boat_file;
pub use faults::WaterFaults;
pub use fish::SpeciesRate;
pub use lake::Lake;
pub use scenario::{ClockReset, Handling, Knobs, ResetTo, Scenario};
pub use trip::{DemoFile, DemoTrip, trip, trip_with};
pub use truth::{TripTruth, Truth};
pub use write::{SAMPLE_SEED, write, write_samples};
