//! Rod spells from the gear log, and the running depth of a towed line.

mod spell;

pub use spell::{DepthSource, Spell};
