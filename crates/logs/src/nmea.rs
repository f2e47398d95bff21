//! What does a log of NMEA 0183 sentences say, and when?
//!
//! Bytes become lines ([`crate::lines`]), lines become sentences ([`candidates`]), each sentence is decoded on
//! its own ([`decode`]), and [`read`] gives the values their times and keeps the account.
//!
//! Choices, each with a test in `tests/reference/nmea.rs`:
//! - A sentence without a checksum is accepted when it has all fields of its form.
//! - Positions by dead reckoning or entered by hand are no fixes; their time counts. What a simulator says is
//!   set aside whole.
//! - A record is used when it gives a value or a time. A sentence that says that it has no fix and gives
//!   no time is set aside as `void_fix`; a good sentence with empty fields is not needed.
//! - A second 60 is the first of the next minute. Leading zeros may be missing. A plus sign is a sign.
//! - A water temperature without a unit is in °C; °F and K are converted; any other unit is refused.
//! - A depth of zero is a lost bottom.
//! - A waypoint that a plotter repeats word for word is one mark.

#![expect(
    clippy::inline_always,
    reason = "what each kind of sentence needs is compiled into one function: calls cost as much as they do"
)]

mod addresses;
mod air;
mod clock;
mod compass;
mod decode;
mod fields;
mod likeness;
mod position;
mod reader;
mod reason;
mod records;
mod sentence;
mod stretches;
mod transducers;
mod water;

pub use crate::stamp::TagBlock;
pub use air::{Mda, Mwd, Mwv, Vwr};
pub use compass::{Hdg, Heading};
pub use decode::{Body, Decoded, decode};
pub use fields::{Position, SaidTime};
pub use likeness::looks_like;
pub use position::{Gga, Gll, Gns, Rmc, Vtg, Wpl, Zda};
pub use reader::{read, read_with};
pub use reason::Reason;
pub use sentence::{Candidate, Candidates, Frame, candidates};
pub(crate) use stretches::BLOCK_BYTES;
pub use transducers::{Transducer, Xdr};
pub use water::{DepthBelow, Dpt, HullSpeeds, Mtw, Vbw, Vdr, Vhw};
