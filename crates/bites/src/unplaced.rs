//! Why has a bite no place?

use waterseam_logs::BiteNote;

/// A bite note that has no place in the trip. It is kept, with the reason.
#[derive(Clone, Debug, PartialEq)]
pub struct Unplaced {
    /// The note.
    pub note: BiteNote,
    /// Why.
    pub reason: Reason,
}

/// Why a time or a bite has no place.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Reason {
    /// The note has no time.
    NoTime,
    /// The time is before the trip or after it.
    OutsideTrip,
    /// The clock time fits more than one day of the trip, or an hour that was there twice.
    ClockFitsTwice,
    /// No position was recorded around that time, and the note has none.
    NoPosition,
}

impl Reason {
    /// The reason in words.
    pub fn words(self) -> &'static str {
        match self {
            Self::NoTime => "the note has no time",
            Self::OutsideTrip => "the time is not in the trip",
            Self::ClockFitsTwice => "the clock time fits the trip more than once",
            Self::NoPosition => "no position was recorded around that time",
        }
    }
}
