//! Bytes to observations: NMEA 0183, probe logs, bite notes, gear logs; recognising what a file is.
//!
//! Every record is accounted for: read = used + not needed + set aside, and what is set aside has a
//! reason, a line and a byte.

pub mod boat;
pub mod observation;
pub mod source;

pub use observation::*;
pub use source::*;
