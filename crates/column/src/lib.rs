//! The water column: casts and towed data to profiles, thermocline and layers.

mod types;

pub use types::{Bin, Layers, Profile, Sample};
