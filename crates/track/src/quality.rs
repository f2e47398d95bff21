//! What did each test say about each stream?

use waterseam_units::Flag;

/// A test of the QARTOD manuals. The syntax test is the reader's: its account of what was set aside is the count.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Test {
    /// Time since the sample before. A sample behind a gap is not a bad one: this test changes no flag.
    Gap,
    /// On the earth, not where receivers are that have no fix, and in the waters of the home port.
    Location,
    /// Within what can be.
    GrossRange,
    /// Off its neighbours.
    Spike,
    /// Changing faster than can be.
    RateOfChange,
    /// Not changing at all.
    FlatLine,
    /// Changing less than water does.
    AttenuatedSignal,
}

impl Test {
    /// The word of the tables.
    pub fn word(self) -> &'static str {
        match self {
            Self::Gap => "gap",
            Self::Location => "location",
            Self::GrossRange => "gross_range",
            Self::Spike => "spike",
            Self::RateOfChange => "rate_of_change",
            Self::FlatLine => "flat_line",
            Self::AttenuatedSignal => "attenuated_signal",
        }
    }
}

/// How many samples of a stream a test let pass and found. A test sees what the tests before it left.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Tally {
    /// The test.
    pub test: Test,
    /// Samples that passed.
    pub passed: usize,
    /// Samples that it could not judge.
    pub not_evaluated: usize,
    /// Samples of doubtful use.
    pub suspect: usize,
    /// Samples that failed.
    pub failed: usize,
}

impl Tally {
    pub(crate) fn of(test: Test, flags: &[Flag]) -> Self {
        // as many as a byte can count at once, which the machine does for many flags together
        let of_few = |few: &[Flag], flag| few.iter().map(|&f| u8::from(f == flag)).sum::<u8>();
        let count = |flag| flags.chunks(255).map(|few| usize::from(of_few(few, flag))).sum();
        let passed = count(Flag::Pass);
        if passed == flags.len() {
            return Self { test, passed, not_evaluated: 0, suspect: 0, failed: 0 };
        }
        Self {
            test,
            passed,
            not_evaluated: count(Flag::NotEvaluated),
            suspect: count(Flag::Suspect),
            failed: count(Flag::Fail),
        }
    }
}

/// The tests of one stream on one trip, in the order in which they ran.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct StreamQuality {
    /// Which stream: `position`, `surface_temp` …
    pub stream: &'static str,
    /// Its tests.
    pub tests: Vec<Tally>,
}
