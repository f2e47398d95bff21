//! Rod spells from the gear log, and the running depth of a towed line.
//!
//! [`shape`] is the physics: sections of line, loads, a stream. [`running_depth`] puts a captain's setup
//! into it with the round figures of [`materials`]. [`spells`] says when each rod's line was in the water.

mod cable;
mod depth;
mod gear;
mod march;
pub mod materials;
mod spell;

pub use cable::{Line, Load, Section, Shape, Stream, critical_angle_deg, shape};
pub use depth::{
    Depth, SOG_AS_STW_SE_MPS, STW_SE_MPS, Setup, Tow, USUAL_STW_MPS, USUAL_STW_SE_MPS, noted_se_m,
    running_depth,
};
pub use gear::{GearSpells, TripContext, UnusedReason, UnusedRow, assumed_spells, rod_key, spells};
pub use spell::{DepthSource, Spell};
