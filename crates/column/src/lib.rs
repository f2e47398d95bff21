//! The water column: casts and towed data to profiles, thermocline and layers.
//!
//! ```text
//! depth   temperature
//!   0 m          |    mixed layer
//!                |
//!   8 m         /     top of the thermocline
//!  12 m     ___/      thermocline: density rises fastest
//!  16 m    /          bottom
//!          |
//! ```
//!
//! [`profiles`] finds casts and towed stretches in a probe log, [`layers`] reads a profile, [`layer_errors`] how surely, a [`Field`] gives
//! the temperature at any time and depth between them, [`sections`] a grid of it along the way, [`passes`] how deep an isotherm lies there. Nothing is given for water that nobody measured.
//!
//! ```
//! use waterseam_column::{Sample, Settings, layers, profiles};
//!
//! // a probe lowered to 30 m and hauled up again; 18 °C above 12 m, 6 °C below
//! let log: Vec<Sample> = (0..240)
//!     .map(|i| {
//!         let depth_m = 30.0 - f64::from((i - 120_i32).abs()) / 4.0;
//!         Sample { time_s: f64::from(i), depth_m, temp_c: 12.0 - 6.0 * ((depth_m - 12.0) / 2.0).tanh() }
//!     })
//!     .collect();
//! let settings = Settings::default();
//! let [cast] = &profiles(&log, &settings)[..] else { panic!("one cast") };
//! let thermocline_m = layers(cast, None, 0.0, &settings).thermocline_depth_m.unwrap();
//! assert!((11.0..12.0).contains(&thermocline_m));
//! ```

mod bins;
mod casts;
mod density;
mod displacement;
mod field;
mod gradient;
mod holte_talley;
mod interpolate;
mod isotherm;
mod lag;
mod layer_errors;
mod layers;
mod mixed_fit;
mod preferred;
mod section;
mod settings;
mod stats;
mod types;

pub use bins::bin;
pub use casts::profiles;
pub use density::{
    conservative_temp_c, density_kg_m3, density_teos10_kg_m3, temp_of_max_density_c,
    temp_of_max_density_teos10_c,
};
pub use field::{Field, FieldSettings, FieldTemp};
pub use holte_talley::{HolteTalley, MixedBy, MixedCandidates, MixedLayer, mixed_candidates, mixed_layer};
pub use interpolate::{PROFILE_SPEAKS_FOR_S, isotherm_depth_m, temp_at};
pub use isotherm::{Pass, passes, thermocline_temp_c};
pub use lag::{Lag, thermometer_lag};
pub use layer_errors::{LayerErrors, layer_errors};
pub use layers::{layers, mixed_layer_depth_m};
pub use section::{Section, SectionColumn, SectionSettings, sections};
pub use settings::Settings;
pub use types::{Bin, Layers, Profile, Sample};
