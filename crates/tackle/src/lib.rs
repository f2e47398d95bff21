//! Rod spells from the gear log, and the running depth of a towed line.
//!
//! [`shape`] and [`sheared_shape`] are the physics: sections of line, loads, a stream. A [`Tackle`] puts a
//! captain's [`Setup`] into it with the round figures of [`materials`], shifted by what he observed: how deep it
//! runs, and how much line reaches a depth. [`spells`] says when each rod's line was in the water.

mod cable;
mod calibrate;
mod depth;
mod diver;
mod factors;
mod gear;
mod march;
pub mod materials;
mod reach;
mod refusal;
mod rig;
mod setup;
mod spell;
mod spread;
mod stream;
mod tackle;

pub use cable::{Line, Load, Section, Shape, critical_angle_deg, shape, sheared_shape};
pub use calibrate::Seen;
pub use depth::{Depth, noted_se_m};
pub use gear::{GearSpells, TripContext, UnusedReason, UnusedRow, assumed_spells, rod_key, spells};
pub use refusal::Refusal;
pub use setup::{SOG_AS_STW_SE_MPS, STW_SE_MPS, Setup, Tow, USUAL_STW_MPS, USUAL_STW_SE_MPS};
pub use spell::{DepthSource, Spell};
pub use spread::Run;
pub use stream::{Sheared, Stream};
pub use tackle::Tackle;
