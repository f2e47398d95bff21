//! Thermal breaks: where did the boat cross from warm water into cold, or back?
//!
//! A thermal break is a narrow band where surface temperature changes from one level to another. Along the track it
//! is a smooth step; between its levels, from 10 % to 90 % of the step, lies its width:
//!
//! ```text
//!  °C
//!  14 ┤ ·.··.·.··.··..            temp_before_c
//!     │               ·.
//!  13 ┤                 ·         centre: distance_m, time_s      step_c = after - before = -2
//!     │                  ·.
//!  12 ┤                    ··..··.·..·.··  temp_after_c
//!     └───────────────┼─────┼────────────▶ distance along the track
//!                     width_m
//! ```
//!
//! A day that warms, a slope over many kilometres, a sensor that scatters or rounds, a boat that lies still are no
//! breaks. [`find`] tells them apart; [`lines`] joins the crossings of one break into a line; [`fit`] fits a single
//! step and nothing else.
//!
//! ```
//! use waterseam_breaks::{Settings, Series, find};
//!
//! // an hour and a half at 1.2 m/s, over a break of 2 °C after 3 km; a sensor that shows tenths
//! let time_s: Vec<f64> = (0..5_400).map(f64::from).collect();
//! let distance_m: Vec<f64> = time_s.iter().map(|t| 1.2 * t).collect();
//! let temp_c: Vec<f64> = distance_m
//!     .iter()
//!     .map(|x| ((13.0 - ((x - 3_000.0) / 50.0).tanh() + 0.04 * x.sin()) * 10.0).round() / 10.0)
//!     .collect();
//! let series = Series { time_s: &time_s, distance_m: &distance_m, temp_c: &temp_c };
//!
//! let breaks = find(series, &Settings::default());
//! assert_eq!(breaks.len(), 1);
//! assert!((breaks[0].distance_m - 3_000.0).abs() < 10.0);
//! assert!((breaks[0].step_c + 2.0).abs() < 0.1);
//! ```

mod along;
mod candidates;
mod covariance;
mod drift;
mod exponential;
mod false_discovery;
mod find;
mod grid;
mod isotherm;
mod lag;
mod lines;
mod noise;
mod objective_analysis;
mod profile;
mod search;
mod settings;
mod shadow;
mod stretches;
mod surface_map;
mod towed;
mod triangle;
mod types;
mod wanted;
mod wash;
mod whiten;

#[cfg(test)]
mod tests;

pub use along::with_runs_along;
pub use covariance::{Covariance, CovarianceShape};
pub use drift::Course;
pub use false_discovery::benjamini_hochberg;
pub use find::find;
pub use grid::{Grid, Place, Steepest};
pub use isotherm::{IsothermCrossing, IsothermDepths, find_isotherm_steps};
pub use lag::{Lag, Velocity, lag};
pub use lines::lines;
pub use objective_analysis::{Estimate, Mean, ObjectiveAnalysis, Observation};
pub use profile::{Background, Profile, fit};
pub use settings::Settings;
pub use shadow::{Looks, without_shadows};
pub use surface_map::{Isotherm, SurfaceMap, SurfaceMapSettings, surface_map};
pub use towed::{DeepCrossing, Towed, find_towed};
pub use types::{BreakLine, Crossing, Kind, PlacedCrossing, Series};
pub use wash::{Handling, WashSettings, own_water};
