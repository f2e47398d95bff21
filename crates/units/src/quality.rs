//! The QARTOD quality flags (US IOOS), one byte a value.

use serde::{Deserialize, Serialize};

/// QARTOD flag of a value (IOOS QARTOD manuals; the numbers are those of the standard).
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[repr(u8)]
pub enum Flag {
    /// Passed every test that was made.
    Pass = 1,
    /// No test could be made.
    NotEvaluated = 2,
    /// Suspect: of doubtful use.
    Suspect = 3,
    /// Failed: not to be used.
    Fail = 4,
    /// There is no value.
    Missing = 9,
}

impl Flag {
    /// The number of the standard.
    pub fn code(self) -> u8 {
        self as u8
    }

    /// The flag behind a number of the standard.
    pub fn from_code(code: u8) -> Option<Self> {
        Some(match code {
            1 => Self::Pass,
            2 => Self::NotEvaluated,
            3 => Self::Suspect,
            4 => Self::Fail,
            9 => Self::Missing,
            _ => return None,
        })
    }

    /// Whether analysis may use the value: passed, or not tested.
    pub fn is_usable(self) -> bool {
        matches!(self, Self::Pass | Self::NotEvaluated)
    }

    /// The flag that stands for two tests of the same value: missing, fail, suspect, pass, not evaluated,
    /// in this order of precedence.
    #[must_use]
    pub fn and(self, other: Self) -> Self {
        let rank = |flag| match flag {
            Self::NotEvaluated => 0,
            Self::Pass => 1,
            Self::Suspect => 2,
            Self::Fail => 3,
            Self::Missing => 4,
        };
        if rank(self) < rank(other) { other } else { self }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn codes_there_and_back() {
        for flag in [Flag::Pass, Flag::NotEvaluated, Flag::Suspect, Flag::Fail, Flag::Missing] {
            assert_eq!(Flag::from_code(flag.code()), Some(flag));
        }
        assert_eq!(Flag::from_code(5), None);
    }

    #[test]
    fn the_worse_flag_stands() {
        assert_eq!(Flag::Pass.and(Flag::NotEvaluated), Flag::Pass);
        assert_eq!(Flag::Suspect.and(Flag::Fail), Flag::Fail);
        assert_eq!(Flag::Missing.and(Flag::Fail), Flag::Missing);
    }
}
