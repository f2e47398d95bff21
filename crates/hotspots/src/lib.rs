//! Many trips to places, parts of the season, depths and temperatures that produce.
//!
//! One trip is a story; ten years are knowledge, if the luck of each trip is told from the places that it fished.
//!
//! ```text
//! visits ─▶ tally ─▶ luck ──────▶ rates ─┐
//! bites  ─┘    │                         ├─▶ layer
//!              └─▶ witnesses ────────────┘
//!                  (Gi*, search over space and season)
//! ```
//!
//! [`layer()`] gives a row for each cell and part of the season. A place is *hot* where its rate is more likely than not twice the mean of its part of
//! the season or more, or not much less likely and one of two witnesses, which know nothing of the fitted rates, speaks for it too. All three
//! carry the luck of trips: bites of one trip share that day's, and a plain Poisson null would invent hot places.
//!
//! [`Model`] gives the rate to be expected at a surface temperature, [`skill()`] says what that is worth against simple guesses, and
//! [`places()`] where to set lines first.

pub mod cells;
mod conditional;
mod gi_star;
mod habitat;
mod half_months;
mod layer;
mod luck;
mod places;
mod scan;
mod season;
mod sharing;
mod skill;
mod surface;
mod tally;
#[cfg(test)]
mod tests;
mod witnesses;

pub use conditional::{Expected, Model};
pub use gi_star::{gi_star, gi_stars, upper_tail};
pub use habitat::Quartiles;
pub use half_months::{HalfMonth, TripCounts, half_months};
pub use layer::{Hotspot, Rate, Settings, layer};
pub use places::{Near, Start, places};
pub use season::SeasonPart;
pub use sharing::{Blur, FINEST_SHARED, Shared, SharingSettings, shared};
pub use skill::{Guess, Skill, skill};
pub use tally::{Bite, Visit};
