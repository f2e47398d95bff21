//! Observations to one clean clock, a fused 1 Hz track with QARTOD flags, trips and activity.

mod track;

pub use track::{Activity, Mark, ProbeSample, ReportedCurrent, Track, Trip};
