//! Bytes to observations: NMEA 0183, GPX, probe logs, bite notes, gear logs, packed or not; recognising what a file is.
//!
//! Every record is accounted for: read = used + not needed + set aside, and what is set aside has a
//! reason, a line and a byte.

mod bites;
pub mod boat;
mod gear;
mod gpx;
mod lines;
mod member;
pub mod nmea;
mod notes;
pub mod observation;
mod probe;
pub mod quantity;
mod read;
mod recognise;
pub mod source;
mod stamp;
pub mod story;
mod table;
#[cfg(test)]
mod testing;
mod unpack;
mod utf16;
mod words;

pub use member::{Member, members};
pub use observation::*;
pub use read::{ReadError, read_bytes, read_file};
pub use source::*;
pub use stamp::date_in as date_in_name;
pub use story::{ClockHints, ClockStory, DateFrom, Retime, Stretch, Undated};
