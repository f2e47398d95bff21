//! How much is `48 ft`, `11 lb 8 oz` or a plain `2.5`?

use waterseam_units::UnitSystem;
use waterseam_units::convert::Unit;

/// What a number measures. It decides which units make sense beside it, and which one is meant where none is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Dimension {
    /// Depth, line out, leader, width of a break.
    Depth,
    /// Length of a fish.
    FishLength,
    /// Weight of a fish or of a sinker.
    Weight,
    /// Speed.
    Speed,
    /// Temperature.
    Temperature,
    /// Difference of two temperatures: no offset of 32.
    TemperatureDifference,
}

impl Dimension {
    /// The unit of a number without one.
    pub fn usual_unit(self, units: UnitSystem) -> Unit {
        match (self, units) {
            (Self::Depth, UnitSystem::Imperial) => Unit::Foot,
            (Self::Depth, _) => Unit::Metre,
            (Self::FishLength, UnitSystem::Imperial) => Unit::Inch,
            (Self::FishLength, _) => Unit::Centimetre,
            (Self::Weight, UnitSystem::Imperial) => Unit::Pound,
            (Self::Weight, _) => Unit::Kilogram,
            (Self::Speed, UnitSystem::Imperial) => Unit::MilePerHour,
            (Self::Speed, UnitSystem::Metric) => Unit::KilometrePerHour,
            (Self::Speed, UnitSystem::Marine) => Unit::Knot,
            (Self::Temperature | Self::TemperatureDifference, UnitSystem::Imperial) => Unit::Fahrenheit,
            (Self::Temperature | Self::TemperatureDifference, _) => Unit::Celsius,
        }
    }

    /// Whether a unit measures this.
    pub fn admits(self, unit: Unit) -> bool {
        match self {
            Self::Depth | Self::FishLength => {
                matches!(unit, Unit::Metre | Unit::Foot | Unit::Fathom | Unit::Inch | Unit::Centimetre)
            }
            Self::Weight => matches!(unit, Unit::Kilogram | Unit::Gram | Unit::Pound | Unit::Ounce),
            Self::Speed => {
                matches!(unit, Unit::MetrePerSecond | Unit::Knot | Unit::MilePerHour | Unit::KilometrePerHour)
            }
            Self::Temperature | Self::TemperatureDifference => {
                matches!(unit, Unit::Celsius | Unit::Fahrenheit | Unit::Kelvin)
            }
        }
    }

    /// The value in SI (temperatures and their differences in °C).
    pub fn to_si(self, value: f64, unit: Unit) -> f64 {
        match (self, unit) {
            (Self::TemperatureDifference, Unit::Fahrenheit) => value * 5.0 / 9.0,
            (Self::TemperatureDifference, _) => value,
            _ => unit.to_si(value),
        }
    }

    /// Examples of how to write one, for messages.
    pub fn examples(self) -> &'static str {
        match self {
            Self::Depth => "a number or \"40 ft\", \"12 m\"",
            Self::FishLength => "a number or \"31 in\", \"80 cm\"",
            Self::Weight => "a number or \"10 lb\", \"11 lb 8 oz\", \"4.5 kg\"",
            Self::Speed => "a number or \"2.5 mph\", \"2.2 kn\", \"4 km/h\"",
            Self::Temperature => "a number or \"52 °F\", \"11 °C\"",
            Self::TemperatureDifference => "a number or \"2 °F\", \"1 °C\"",
        }
    }
}

/// The amount that a text says, in SI: numbers each with a unit, which are added up, or one number alone,
/// which is in `unit_unsaid`.
///
/// A comma is a decimal comma (`3,2 kg`) unless three digits follow it (`1,200 ft`). `None` for anything else
/// than an amount of this dimension.
pub(crate) fn quantity(text: &str, dimension: Dimension, unit_unsaid: Unit) -> Option<f64> {
    let mut rest = text.trim().trim_start_matches('~').trim_start();
    let mut sum = None;
    while !rest.is_empty() {
        let digits = rest.find(|c: char| !(c.is_ascii_digit() || matches!(c, '.' | ',' | '-' | '+')));
        let (number, behind) = rest.split_at(digits.unwrap_or(rest.len()));
        let value = plain_number(number)?;
        let word_end = behind.find(|c: char| c.is_ascii_digit()).unwrap_or(behind.len());
        let (word, behind) = behind.split_at(word_end);
        let unit = match word.trim() {
            "" if sum.is_none() && behind.is_empty() => unit_unsaid,
            word => Unit::from_word(word)?,
        };
        if !dimension.admits(unit) || (sum.is_some() && number.starts_with(['-', '+'])) {
            return None;
        }
        sum = Some(sum.unwrap_or(0.0) + dimension.to_si(value, unit));
        rest = behind;
    }
    sum.filter(|sum: &f64| sum.is_finite())
}

/// The amount that a text says, in SI; a number without a unit is in the usual one of `units`.
///
/// `None` for anything else than an amount of this dimension.
pub fn amount(text: &str, dimension: Dimension, units: UnitSystem) -> Option<f64> {
    quantity(text, dimension, dimension.usual_unit(units))
}

/// The two amounts of `40-60 ft`, `40 ft - 60 ft` or `12 to 18 m`, in SI; a unit that only the second has is that of
/// both. `None` where the second is not the greater one.
pub fn range(text: &str, dimension: Dimension, units: UnitSystem) -> Option<(f64, f64)> {
    let (low, high) = ["–", " to ", "-"]
        .iter()
        .find_map(|between| text.split_once(between).map(|(l, h)| (l.trim(), h.trim())))?;
    let unit_of_high =
        Unit::from_word(high.trim_start_matches(|c: char| c.is_ascii_digit() || ".,".contains(c)));
    let unsaid = unit_of_high.unwrap_or(dimension.usual_unit(units));
    let range = (quantity(low, dimension, unsaid)?, quantity(high, dimension, unsaid)?);
    (range.0 < range.1).then_some(range)
}

fn plain_number(text: &str) -> Option<f64> {
    let value: f64 = match text.split_once(',') {
        Some((whole, decimals)) if decimals.len() != 3 && !decimals.contains(['.', ',']) => {
            format!("{whole}.{decimals}").parse().ok()?
        }
        Some(_) => text.replace(',', "").parse().ok()?,
        None => text.parse().ok()?,
    };
    value.is_finite().then_some(value)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn amounts_as_people_write_them() {
        // factors: NIST SP 811 appendix B
        for (text, dimension, unsaid, si) in [
            ("48 ft", Dimension::Depth, Unit::Metre, 48.0 * 0.3048),
            ("48", Dimension::Depth, Unit::Foot, 48.0 * 0.3048),
            ("48'", Dimension::Depth, Unit::Metre, 48.0 * 0.3048),
            ("~15m", Dimension::Depth, Unit::Foot, 15.0),
            ("1,200 ft", Dimension::Depth, Unit::Foot, 1200.0 * 0.3048),
            ("11 lb 8 oz", Dimension::Weight, Unit::Pound, 11.5 * 0.453_592_37),
            ("3,2 kg", Dimension::Weight, Unit::Pound, 3.2),
            ("2'7\"", Dimension::FishLength, Unit::Inch, 31.0 * 0.0254),
            ("2.5 mph", Dimension::Speed, Unit::Knot, 2.5 * 0.44704),
            ("50 °F", Dimension::Temperature, Unit::Celsius, 10.0),
            ("-1.8 °F", Dimension::TemperatureDifference, Unit::Celsius, -1.0),
        ] {
            let got = quantity(text, dimension, unsaid).unwrap_or_else(|| panic!("{text}"));
            assert!((got - si).abs() < 1e-9, "{text}: {got}");
        }
    }

    #[test]
    fn what_is_no_amount() {
        for text in ["", "deep", "48 kg", "40-50 ft", "11 lb 8", "ft", "1e999", "--3", "5 ft -2 in"] {
            assert_eq!(quantity(text, Dimension::Depth, Unit::Foot), None, "{text}");
        }
    }

    #[test]
    fn ranges_as_people_write_them() {
        let ft = |feet: f64| feet * 0.3048;
        for (text, want) in [
            ("40-60ft", Some((ft(40.0), ft(60.0)))),
            ("40 ft - 60 ft", Some((ft(40.0), ft(60.0)))),
            ("12 to 18 m", Some((12.0, 18.0))),
            ("12–18m", Some((12.0, 18.0))),
            ("40-60", Some((ft(40.0), ft(60.0)))),
            ("2 fathoms-60 ft", Some((ft(12.0), ft(60.0)))),
            ("60-40", None),
            ("40", None),
            ("-40", None),
            ("40-60 lb", None),
        ] {
            let got = range(text, Dimension::Depth, UnitSystem::Imperial);
            let near = |(a, b): (f64, f64), (c, d): (f64, f64)| (a - c).abs() < 1e-9 && (b - d).abs() < 1e-9;
            assert!(
                match (got, want) {
                    (Some(got), Some(want)) => near(got, want),
                    (got, want) => got == want,
                },
                "{text}: {got:?}"
            );
        }
    }

    proptest! {
        #[test]
        fn no_text_makes_it_panic(text in ".{0,30}") {
            let _ = quantity(&text, Dimension::Weight, Unit::Pound);
            let _ = range(&text, Dimension::Depth, UnitSystem::Imperial);
        }
    }
}
