//! Which values may a column have?
//!
//! The ranges are wide: what they refuse is a wrong unit, a wrong sign or a broken file, not a strange day
//! on the water. Quality flags judge the water; see the `_qc` columns.

/// A value as the checks see it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Measure<'a> {
    /// Missing.
    Null,
    /// A number.
    Number(f64),
    /// A word or a text.
    Text(&'a str),
    /// A shape as well-known binary.
    Shape(&'a [u8]),
    /// A value of which every bit pattern is right: an instant, a cell, a truth value.
    Free,
}

/// The values that a column may have. A missing value is for the column's nullability to judge.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Domain {
    /// Any.
    Any,
    /// From `min` to `max`, both included where given.
    Range {
        /// Least value.
        min: Option<f64>,
        /// Greatest value.
        max: Option<f64>,
    },
    /// One of these words.
    Words(&'static [&'static str]),
    /// One of these numbers.
    Codes(&'static [u8]),
}

impl Domain {
    /// Whether a value belongs to the domain.
    pub fn admits(&self, measure: Measure<'_>) -> bool {
        match (self, measure) {
            (Self::Range { min, max }, Measure::Number(x)) => {
                min.is_none_or(|min| min <= x) && max.is_none_or(|max| x <= max)
            }
            (Self::Words(words), Measure::Text(text)) => words.contains(&text),
            (Self::Codes(codes), Measure::Number(x)) => codes.iter().any(|&code| f64::from(code) == x),
            _ => true,
        }
    }
}

/// From `min` to `max`.
pub const fn between(min: f64, max: f64) -> Domain {
    Domain::Range { min: Some(min), max: Some(max) }
}

/// `min` and more.
pub const fn at_least(min: f64) -> Domain {
    Domain::Range { min: Some(min), max: None }
}

/// Anything.
pub const ANY: Domain = Domain::Any;
/// Not negative: a length, a speed, a count, a standard error.
pub const NOT_NEGATIVE: Domain = at_least(0.0);
/// Latitude, degrees.
pub const LATITUDE: Domain = between(-90.0, 90.0);
/// Longitude, degrees.
pub const LONGITUDE: Domain = between(-180.0, 180.0);
/// Direction, degrees true. 360 is let pass: rounding can make it of a direction just west of north.
pub const DIRECTION: Domain = between(0.0, 360.0);
/// Elevation above the horizon, degrees.
pub const ELEVATION: Domain = between(-90.0, 90.0);
/// Water temperature, °C: sea water freezes at about -2; nothing that is fished comes near 50.
pub const WATER_TEMP: Domain = between(-5.0, 50.0);
/// Depth below the surface, m. No water is deeper than 11 km.
pub const DEPTH: Domain = between(0.0, 12_000.0);
/// Depth as a pressure sensor reads it, m: at the surface it may read a little above the water.
pub const DEPTH_READ: Domain = between(-10.0, 12_000.0);
/// Probability.
pub const PROBABILITY: Domain = between(0.0, 1.0);
/// QARTOD flags (IOOS): pass, not evaluated, suspect, fail, missing.
pub const QARTOD: Domain = Domain::Codes(&[1, 2, 3, 4, 9]);
/// Where a running depth comes from.
pub const DEPTH_SOURCE: Domain = Domain::Words(&["recorded", "counter", "table", "model"]);

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ends_belong_to_a_range() {
        for (x, good) in [(-90.0, true), (90.0, true), (90.001, false), (-90.001, false)] {
            assert_eq!(LATITUDE.admits(Measure::Number(x)), good, "{x}");
        }
        assert!(NOT_NEGATIVE.admits(Measure::Number(1e300)));
        assert!(!NOT_NEGATIVE.admits(Measure::Number(-1e-300)));
    }

    #[test]
    fn words_and_codes_are_closed() {
        assert!(QARTOD.admits(Measure::Number(9.0)) && !QARTOD.admits(Measure::Number(5.0)));
        assert!(DEPTH_SOURCE.admits(Measure::Text("model")) && !DEPTH_SOURCE.admits(Measure::Text("guess")));
    }

    #[test]
    fn missing_is_no_matter_of_range() {
        assert!(LATITUDE.admits(Measure::Null) && DEPTH_SOURCE.admits(Measure::Null));
    }
}
