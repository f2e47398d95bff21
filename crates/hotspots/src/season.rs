//! Which part of the season is a day in?

use std::fmt;
use std::str::FromStr;

use jiff::civil::Date;

/// How the season is divided.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum SeasonPart {
    /// ISO 8601 weeks: `w01` to `w53`.
    Week,
    /// Days 1 to 15 and 16 to the end of a month: `07a`, `07b`.
    HalfMonth,
    /// Months: `07`.
    #[default]
    Month,
    /// Three months each, from March, June, September and December: `spring`, `summer`, `autumn`, `winter`
    /// (the meteorological seasons; common practice, no source).
    Season,
    /// The whole year: `all`.
    All,
}

const SEASONS: [&str; 4] = ["winter", "spring", "summer", "autumn"];

impl SeasonPart {
    /// Every division, from the finest.
    pub const EVERY: [Self; 5] = [Self::Week, Self::HalfMonth, Self::Month, Self::Season, Self::All];

    /// The word for it.
    pub fn word(self) -> &'static str {
        match self {
            Self::Week => "week",
            Self::HalfMonth => "half-month",
            Self::Month => "month",
            Self::Season => "season",
            Self::All => "all",
        }
    }

    /// The part that a day is in, counted through the year from 0.
    pub fn number(self, day: Date) -> usize {
        let month = usize::from(day.month().unsigned_abs());
        match self {
            Self::Week => usize::from(day.iso_week_date().week().unsigned_abs()) - 1,
            Self::HalfMonth => 2 * (month - 1) + usize::from(day.day() > 15),
            Self::Month => month - 1,
            Self::Season => month / 3 % 4,
            Self::All => 0,
        }
    }

    /// Parts of a year.
    pub fn parts(self) -> usize {
        match self {
            Self::Week => 53,
            Self::HalfMonth => 24,
            Self::Month => 12,
            Self::Season => 4,
            Self::All => 1,
        }
    }

    /// The word for a part, by its number.
    pub fn name(self, number: usize) -> String {
        match self {
            Self::Week => format!("w{:02}", number + 1),
            Self::HalfMonth => {
                format!("{:02}{}", number / 2 + 1, if number.is_multiple_of(2) { 'a' } else { 'b' })
            }
            Self::Month => format!("{:02}", number + 1),
            Self::Season => SEASONS[number % 4].to_owned(),
            Self::All => "all".to_owned(),
        }
    }

    /// The word for the part that a day is in.
    pub fn of(self, day: Date) -> String {
        self.name(self.number(day))
    }
}

impl fmt::Display for SeasonPart {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.word())
    }
}

impl FromStr for SeasonPart {
    type Err = String;

    fn from_str(word: &str) -> Result<Self, Self::Err> {
        let found = Self::EVERY.into_iter().find(|part| part.word() == word);
        found.ok_or_else(|| {
            format!("'{word}' is no part of a season; write week, half-month, month, season or all")
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;

    #[test]
    fn words_of_days() {
        let words = |day| SeasonPart::EVERY.map(|part| part.of(day));
        assert_eq!(words(date(2026, 7, 4)), ["w27", "07a", "07", "summer", "all"]);
        assert_eq!(words(date(2026, 7, 16)), ["w29", "07b", "07", "summer", "all"]);
        assert_eq!(words(date(2026, 12, 31)), ["w53", "12b", "12", "winter", "all"]);
        assert_eq!(words(date(2027, 1, 1)), ["w53", "01a", "01", "winter", "all"]);
        assert_eq!(words(date(2026, 3, 1)), ["w09", "03a", "03", "spring", "all"]);
        assert_eq!(words(date(2026, 11, 30)), ["w49", "11b", "11", "autumn", "all"]);
    }

    #[test]
    fn every_day_has_a_part_that_exists() {
        for part in SeasonPart::EVERY {
            let mut day = date(2024, 1, 1);
            while day < date(2029, 1, 1) {
                assert!(part.number(day) < part.parts(), "{part} {day}");
                day = day.tomorrow().unwrap();
            }
        }
    }

    #[test]
    fn words_are_read_as_they_are_written() {
        for part in SeasonPart::EVERY {
            assert_eq!(part.word().parse(), Ok(part));
        }
        assert!("fortnight".parse::<SeasonPart>().is_err());
    }
}
