//! Bytes to observations: NMEA 0183, probe logs, bite notes, gear logs; recognising what a file is.
//!
//! Every record is accounted for: read = used + not needed + set aside, and what is set aside has a
//! reason, a line and a byte.

mod bites;
pub mod boat;
mod gear;
mod lines;
pub mod nmea;
mod notes;
pub mod observation;
mod probe;
mod quantity;
mod read;
mod recognise;
pub mod source;
mod stamp;
mod table;
#[cfg(test)]
mod testing;

pub use observation::*;
pub use read::{ReadError, read_file};
pub use source::*;
