//! Water that moves: current as ground velocity minus water velocity, and the edges where it changes.

mod types;

pub use types::{Calibration, Currents, Edge, Motion, Window};
