//! What did the boat do, second by second?
//!
//! ```text
//! observations ─▶ one receiver ─▶ usable fixes ─▶ trips ─▶ rows ─▶ columns, flags, activity
//! ```
//!
//! [`trips`] makes of everything that a boat's files say one clean track for each trip: a row for each second that has a
//! position, the samples of the instruments fused to these rows, and QARTOD flags that say which of them to
//! trust. All thresholds are in [`Settings`].
//!
//! ```
//! use waterseam_logs::{FixKind, Observation, Value};
//! use waterseam_track::{Settings, trips};
//! use waterseam_units::LatLon;
//!
//! let observation = |second: i64| Observation {
//!     time_us: (1_781_000_000 + second) * 1_000_000,
//!     talker: *b"GP",
//!     source: 0,
//!     value: Value::Fix {
//!         at: LatLon { lat_deg: 46.2 + second as f64 * 1e-5, lon_deg: -29.4 },
//!         from: FixKind::Rmc,
//!     },
//! };
//! let batch = trips((0..600).map(observation).collect(), &Settings::default());
//! let track = &batch.trips[0].track;
//! assert_eq!(track.len(), 600);
//! assert!((track.distance_m[599] - 665.8).abs() < 0.5);
//! ```

mod activity;
mod cells;
mod cut;
mod daylight;
mod distance;
mod heading;
mod hull_bias;
mod hull_lag;
mod keyed;
mod motion;
mod position;
pub mod qartod;
mod quality;
mod readings;
mod receivers;
mod rows;
mod series;
mod settings;
mod sounding;
mod steady;
mod stream;
mod sun;
mod temperature;
mod track;
mod trip;
mod trips;
mod wind;

pub use cells::cell;
pub use daylight::{Daylight, daylight};
pub use heading::declination_deg;
pub use hull_bias::{HullBias, hull_bias};
pub use hull_lag::{HullLag, hull_lag};
pub use quality::{StreamQuality, Tally, Test};
pub use settings::{Limits, Settings};
pub use sun::sun_elevation_deg;
pub use temperature::HullCorrection;
pub use track::{Activity, Mark, ProbeSample, ReportedCurrent, SpeedLog, Track, TransducerDepth, Trip};
pub use trips::{Batch, trips, trips_of};
