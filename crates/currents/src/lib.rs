//! Water that moves: current as ground velocity minus water velocity, and the edges where it changes.
//!
//! ```text
//!              ground
//!   start ─────────────▶ end        current = ground − water
//!         ╲            ▲
//!    water ╲          ╱ current     a log or a compass that is wrong turns with the boat,
//!           ╲        ╱              the current does not: several courses tell them apart
//!            ▶──────╱
//! ```
//!
//! [`estimate`] takes a trip's motion, and what earlier trips of the boat said of her log and compass, and gives the current in windows, its edges, and how wrong log and compass are.
//! What the trip does not determine is left out, and a remark says why.
//!
//! ```
//! use waterseam_currents::ground_minus_water;
//!
//! // heading north at 1.2 m/s, and going north-east over ground
//! let current = ground_minus_water(1.5, 30.0, 1.2, 0.0);
//! let (drift_mps, set_deg) = current.speed_direction();
//! assert!((drift_mps - 0.757).abs() < 0.001 && (set_deg.unwrap() - 82.5).abs() < 0.1);
//! ```

mod align;
mod calibrate;
mod calibration;
mod circle;
mod clear;
mod edges;
mod estimate;
mod ground;
mod lure;
mod model;
mod no_compass;
mod ramp;
mod settings;
mod stats;
mod steady;
mod tips;
pub mod triangle;
mod turns;
mod types;
mod vector;
mod walk;
mod windows;

pub use calibration::{Basis, Calibration, Carried, Known};
pub use circle::{CourseCircle, course_circle};
pub use estimate::{Record, estimate};
pub use lure::{AtProbe, Look, LureSettings, at_probe};
pub use settings::Settings;
pub use types::{Currents, Edge, Method, Motion, Window};
pub use vector::{Velocity, ground_minus_water};
