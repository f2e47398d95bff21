//! Lengths, speeds, temperatures, angles, time and geodesy: conversions at the edges, no input or output.
//!
//! Inside the house every quantity is SI (temperatures in °C) and its name says the unit: `depth_m`,
//! `sog_mps`, `heading_deg`. Feet, knots, miles per hour and Fahrenheit exist where files are read
//! ([`convert`]) and where numbers are shown ([`show`]), nowhere else.

pub mod angle;
pub mod convert;
pub mod geodesy;
pub mod quality;
pub mod show;
mod sums;
pub mod time;

pub use geodesy::{LatLon, LocalFrame};
pub use quality::Flag;
pub use show::UnitSystem;
pub use sums::PlaceSums;
