//! What a file tells about its own clock, and what others may tell the reader about it.
//!
//! A reader takes one file for what it says. Whether a date is 1024 weeks off, or a clock was wrong before it was set,
//! shows in the whole of the file and in the files beside it: the reader hands out a [`ClockStory`], and reads the file
//! again with the [`ClockHints`] that somebody drew from it.

/// The number of the week that satellites send starts again after 1024 weeks (10 bits, IS-GPS-200, section 20.3.3.3.1.1,
/// from memory), µs. A receiver that counts them wrongly gives dates that are too early by this.
pub const ROLLOVER_US: i64 = 1024 * 7 * 86_400 * 1_000_000;

/// How a file's clock ran.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct ClockStory {
    /// Stretches in which time ran on, in the order of the file; at most [`STRETCHES_MAX`].
    pub stretches: Vec<Stretch>,
    /// Clock times before any date, which were set aside for want of one.
    pub undated: Option<Undated>,
}

/// Stretches that are told apart in one file; what comes later belongs to the last.
pub const STRETCHES_MAX: usize = 1024;

/// A stretch of a log in which time ran on, as the file itself says it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stretch {
    /// Its first time in the order of the file, µs since 1970 UTC.
    pub first_us: i64,
    /// Its last time in the order of the file, µs.
    pub last_us: i64,
    /// From one time to the next at its end, µs; 0 where it has one time only.
    pub tick_us: i64,
    /// Where its date comes from.
    pub date: DateFrom,
    /// Positions in it.
    pub fixes: u64,
    /// Dates between its own that were taken back by the next ones and were whole GPS rollovers later: by how much, µs,
    /// and how many there were.
    pub later: Option<(i64, u64)>,
    /// Stamp of the line less the time that the sentence says, where first and last both are there, µs.
    pub leads_us: Option<(i64, i64)>,
}

/// Where the date of a stretch comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum DateFrom {
    /// Sentences.
    Sentences,
    /// Stamps before the sentences.
    Stamps,
    /// The day that follows the last date: a clock time alone after a silence.
    NextDay,
    /// The name of the file, or a hint.
    Outside,
}

/// Clock times without a date, in the order of the file.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Undated {
    /// First time of day, µs since midnight UTC.
    pub first_us: i64,
    /// Last time of day, µs since midnight UTC.
    pub last_us: i64,
    /// Midnights between them.
    pub midnights: i64,
    /// Records set aside for want of a date.
    pub records: u64,
}

/// What is known about a file's clock before the file is read.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct ClockHints {
    /// Start of the UTC day of the first clock time, for a file whose sentences do not give it, µs since 1970.
    pub first_date_us: Option<i64>,
    /// What to do with the stretches of [`ClockStory`], in their order; with those beyond, nothing.
    pub stretches: Vec<Retime>,
}

/// What to do with the times of one stretch.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Retime {
    /// Add this to what the file says, µs; 0 leaves it.
    Add(i64),
    /// Set its records aside: nothing tells their time.
    SetAside,
}

impl ClockHints {
    /// What to do with one stretch.
    pub(crate) fn of(&self, stretch: usize) -> Retime {
        self.stretches.get(stretch).copied().unwrap_or(Retime::Add(0))
    }
}
