//! Bites in depth, temperature and distance to break; effort; bands.
//!
//! Counting bites says where the lines were; bites *per rod-hour in the same water* say where the fish
//! were.
//!
//! ```text
//! notes ─▶ place  ─▶ bites ──┐
//!                            ├─▶ bands ─▶ evidence
//! spells ─▶ effort ─▶ hours ─┘
//! ```
//!
//! [`place`] and [`effort`] lay notes and spells over the [`Surroundings`] of a trip, [`bands`] compares
//! the bins of one [`Factor`], [`evidence`] says whether that is enough to speak of. [`rates`] has the
//! statistics.

mod along;
mod bands;
mod clock;
mod effort;
mod evidence;
mod factor;
mod lures;
mod near;
mod other_trips;
mod place;
pub mod rates;
mod regression;
mod scan;
mod sides;
mod surroundings;
mod symmetric;
mod unplaced;

pub use along::stretches;
pub use bands::{Band, BandSettings, Fished, Rate, bands, bands_of_each};
pub use clock::resolve_clock;
pub use effort::{EffortRow, effort};
pub use evidence::{Evidence, bites_needed, evidence};
pub use factor::Factor;
pub use lures::{Credit, CreditSettings, Credits, credits, credits_of_each};
pub use near::{Breaks, NearBreak, Side, nearest_break};
pub use other_trips::{by_itself, prior_of_bins, with_others, with_prior};
pub use place::{MINUTE_TIME_SE_S, Placed, PlacedBite, TIME_SE_S, place};
pub use scan::{Cluster, ScanSettings, scan};
pub use sides::{Sides, sides};
pub use surroundings::{Surroundings, Temp};
pub use unplaced::{Reason, Unplaced};

#[cfg(test)]
mod tests;
