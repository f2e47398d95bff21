//! Conversions between the units of the trade and SI.
//!
//! Every factor is exact by international definition (BIPM SI Brochure; NIST SP 811 appendix B).

/// Metres in a foot (exact).
pub const M_PER_FT: f64 = 0.3048;
/// Metres in a fathom of six feet (exact).
pub const M_PER_FATHOM: f64 = 1.8288;
/// Metres in an international mile (exact).
pub const M_PER_MI: f64 = 1609.344;
/// Metres in a nautical mile (exact).
pub const M_PER_NMI: f64 = 1852.0;
/// Metres in an inch (exact).
pub const M_PER_IN: f64 = 0.0254;
/// Metres a second in a knot (exact).
pub const MPS_PER_KN: f64 = 1852.0 / 3600.0;
/// Metres a second in a mile an hour (exact).
pub const MPS_PER_MPH: f64 = 1609.344 / 3600.0;
/// Metres a second in a kilometre an hour (exact).
pub const MPS_PER_KMH: f64 = 1.0 / 3.6;
/// Kilograms in a pound (exact).
pub const KG_PER_LB: f64 = 0.453_592_37;
/// Kilograms in an ounce (exact).
pub const KG_PER_OZ: f64 = KG_PER_LB / 16.0;
/// Standard gravity, m/s² (exact by convention).
pub const STANDARD_GRAVITY_MPS2: f64 = 9.806_65;

/// Temperature in °C from °F.
pub fn c_from_f(temp_f: f64) -> f64 {
    (temp_f - 32.0) * 5.0 / 9.0
}

/// Temperature in °F from °C.
pub fn f_from_c(temp_c: f64) -> f64 {
    temp_c * 9.0 / 5.0 + 32.0
}

/// Temperature in °C from kelvin.
pub fn c_from_k(temp_k: f64) -> f64 {
    temp_k - 273.15
}

/// Temperature in kelvin from °C.
pub fn k_from_c(temp_c: f64) -> f64 {
    temp_c + 273.15
}

/// Temperature difference in °F from a difference in °C (no offset of 32).
pub fn f_difference_from_c(difference_c: f64) -> f64 {
    difference_c * 9.0 / 5.0
}

/// A unit that a file may name beside a number, with what it measures.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Unit {
    /// metre
    Metre,
    /// foot
    Foot,
    /// fathom
    Fathom,
    /// inch
    Inch,
    /// centimetre
    Centimetre,
    /// degree Celsius
    Celsius,
    /// degree Fahrenheit
    Fahrenheit,
    /// kelvin
    Kelvin,
    /// metre a second
    MetrePerSecond,
    /// knot
    Knot,
    /// mile an hour
    MilePerHour,
    /// kilometre an hour
    KilometrePerHour,
    /// kilogram
    Kilogram,
    /// gram
    Gram,
    /// pound
    Pound,
    /// ounce
    Ounce,
    /// decibar of sea pressure, read as metres of water by [`Unit::to_si`]
    Decibar,
}

impl Unit {
    /// The unit as it is written behind a number.
    pub fn symbol(self) -> &'static str {
        match self {
            Self::Metre => "m",
            Self::Foot => "ft",
            Self::Fathom => "fathom",
            Self::Inch => "in",
            Self::Centimetre => "cm",
            Self::Celsius => "°C",
            Self::Fahrenheit => "°F",
            Self::Kelvin => "K",
            Self::MetrePerSecond => "m/s",
            Self::Knot => "kn",
            Self::MilePerHour => "mph",
            Self::KilometrePerHour => "km/h",
            Self::Kilogram => "kg",
            Self::Gram => "g",
            Self::Pound => "lb",
            Self::Ounce => "oz",
            Self::Decibar => "dbar",
        }
    }

    /// The unit behind a word as people write it: `ft`, `feet`, `'`, `°F`, `lbs`, `kn`, `dbar` …
    ///
    /// Case does not matter. `None` for a word that names no unit here.
    pub fn from_word(word: &str) -> Option<Self> {
        let word = word.trim().trim_matches(['(', ')', '[', ']', '.', ' ']).to_lowercase();
        Some(match word.as_str() {
            "m" | "meter" | "meters" | "metre" | "metres" | "mtr" => Self::Metre,
            "ft" | "foot" | "feet" | "'" => Self::Foot,
            "fm" | "ftm" | "fathom" | "fathoms" => Self::Fathom,
            "in" | "inch" | "inches" | "\"" => Self::Inch,
            "cm" | "centimeter" | "centimeters" | "centimetre" | "centimetres" => Self::Centimetre,
            "c" | "°c" | "degc" | "deg c" | "celsius" | "ºc" => Self::Celsius,
            "f" | "°f" | "degf" | "deg f" | "fahrenheit" | "ºf" => Self::Fahrenheit,
            "k" | "kelvin" => Self::Kelvin,
            "m/s" | "mps" | "ms-1" | "m s-1" => Self::MetrePerSecond,
            "kn" | "kt" | "kts" | "knot" | "knots" => Self::Knot,
            "mph" | "mi/h" | "miles/h" => Self::MilePerHour,
            "km/h" | "kmh" | "kph" => Self::KilometrePerHour,
            "kg" | "kgs" | "kilo" | "kilos" => Self::Kilogram,
            "g" | "gram" | "grams" => Self::Gram,
            "lb" | "lbs" | "pound" | "pounds" | "#" => Self::Pound,
            "oz" | "ounce" | "ounces" => Self::Ounce,
            "dbar" | "decibar" | "decibars" => Self::Decibar,
            _ => return None,
        })
    }

    /// The value in SI (temperatures in °C) of a number written in this unit.
    ///
    /// A decibar is taken for 1.0 m of water here; a reader that knows the density does better.
    pub fn to_si(self, value: f64) -> f64 {
        match self {
            Self::Metre | Self::Celsius | Self::MetrePerSecond | Self::Kilogram | Self::Decibar => value,
            Self::Foot => value * M_PER_FT,
            Self::Fathom => value * M_PER_FATHOM,
            Self::Inch => value * M_PER_IN,
            Self::Centimetre => value * 0.01,
            Self::Fahrenheit => c_from_f(value),
            Self::Kelvin => c_from_k(value),
            Self::Knot => value * MPS_PER_KN,
            Self::MilePerHour => value * MPS_PER_MPH,
            Self::KilometrePerHour => value * MPS_PER_KMH,
            Self::Gram => value * 0.001,
            Self::Pound => value * KG_PER_LB,
            Self::Ounce => value * KG_PER_OZ,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_for_units() {
        for (word, unit) in
            [("(ft)", Unit::Foot), ("°F", Unit::Fahrenheit), ("Lbs", Unit::Pound), ("KN", Unit::Knot)]
        {
            assert_eq!(Unit::from_word(word), Some(unit), "{word}");
        }
        assert_eq!(Unit::from_word("furlong"), None);
    }

    #[test]
    fn fahrenheit_there_and_back() {
        assert!((f_from_c(c_from_f(52.3)) - 52.3).abs() < 1e-12);
        assert_eq!(c_from_f(32.0), 0.0);
    }
}
