//! Why was a record set aside?

/// Reason for which a record could not be used.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Reason {
    /// A line that holds no sentence.
    NoSentence,
    /// A line without end, or a part of it, that holds no sentence.
    LineTooLong,
    /// A sentence that stops before its end, or into which the next one runs.
    CutShort,
    /// The checksum does not belong to the sentence.
    ChecksumWrong,
    /// A field that is neither empty nor what belongs there: not a plain decimal number, an unknown letter.
    FieldUnreadable,
    /// A unit that the field does not have in the standard.
    UnitUnknown,
    /// Latitude over 90°, longitude over 180°, minutes not below 60.
    PositionOutOfRange,
    /// A time of day that does not exist.
    TimeOutOfRange,
    /// A day that does not exist, or one before 1980 (GPS began in that year) or after 2099.
    DateOutOfRange,
    /// A direction over 360°, a negative speed over ground, a negative depth.
    ValueOutOfRange,
    /// The receiver says that it has no satellite fix, and the sentence gives no time either.
    VoidFix,
    /// The instrument says that its value is not valid.
    StatusInvalid,
    /// The receiver says that it is a simulator.
    Simulated,
    /// A sounder that lost the bottom shows a depth of zero (common practice, no source).
    DepthZero,
    /// A value without a time, before the file gives any.
    NoTimeYet,
    /// A clock time without a date, before the file gives any.
    NoDateYet,
    /// The receiver's clock was not set yet: it showed a date of before any log, and no fix follows to count back from.
    ClockNotSet,
    /// The receiver wrote the same time on and on.
    ClockStandsStill,
    /// A mark behind more of them than any plotter keeps.
    TooManyMarks,
}

impl Reason {
    /// The word of the tables.
    pub fn word(self) -> &'static str {
        match self {
            Self::NoSentence => "no_sentence",
            Self::LineTooLong => "line_too_long",
            Self::CutShort => "cut_short",
            Self::ChecksumWrong => "checksum_wrong",
            Self::FieldUnreadable => "field_unreadable",
            Self::UnitUnknown => "unit_unknown",
            Self::PositionOutOfRange => "position_out_of_range",
            Self::TimeOutOfRange => "time_out_of_range",
            Self::DateOutOfRange => "date_out_of_range",
            Self::ValueOutOfRange => "value_out_of_range",
            Self::VoidFix => "void_fix",
            Self::StatusInvalid => "status_invalid",
            Self::Simulated => "simulated",
            Self::DepthZero => "depth_zero",
            Self::NoTimeYet => "no_time_yet",
            Self::NoDateYet => "no_date_yet",
            Self::ClockNotSet => "clock_not_set",
            Self::ClockStandsStill => "clock_stands_still",
            Self::TooManyMarks => "too_many_marks",
        }
    }
}
