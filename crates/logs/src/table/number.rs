//! Which number does a cell hold, if any?

use waterseam_units::LatLon;

/// What the commas of a file's numbers are.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) enum Commas {
    /// Marks between thousands, or not there.
    #[default]
    Thousands,
    /// Decimal commas.
    Decimals,
}

/// What the numbers of a file say about their commas.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) struct CommaEvidence {
    decimal_points: u64,
    decimal_commas: u64,
}

impl CommaEvidence {
    /// Takes a cell into account.
    pub fn see(&mut self, cell: &str) {
        if !cell.bytes().any(|b| b.is_ascii_digit()) {
            return;
        }
        match (cell.rfind('.'), cell.rfind(',')) {
            (Some(point), Some(comma)) if point < comma => self.decimal_commas += 1,
            (Some(_), _) => self.decimal_points += 1,
            (None, Some(_)) => self.decimal_commas += 1,
            (None, None) => {}
        }
    }

    /// What the commas are: decimal commas where most numbers with a mark have one.
    pub fn settle(self) -> Commas {
        if self.decimal_commas > self.decimal_points { Commas::Decimals } else { Commas::Thousands }
    }
}

/// Whether a cell says that there is no value: nothing, `NA`, dashes, or a row of nines below zero.
pub(crate) fn is_missing(cell: &str) -> bool {
    let nines = || {
        let digits = cell.strip_prefix('-').unwrap_or_default();
        let (whole, decimals) = digits.split_once(['.', ',']).unwrap_or((digits, ""));
        let rounded = decimals.bytes().all(|b| b == b'9') || decimals.bytes().all(|b| b == b'0');
        whole.len() >= 2 && whole.bytes().all(|b| b == b'9') && rounded
    };
    let words = ["na", "n/a", "nan", "#n/a", "null", "none", "-", "--", "---"];
    cell.is_empty() || words.iter().any(|word| cell.eq_ignore_ascii_case(word)) || nines()
}

/// The number of a cell; `None` where it is none, or not finite.
pub(crate) fn number(cell: &str, commas: Commas) -> Option<f64> {
    let plain = cell.bytes().all(|b| matches!(b, b'0'..=b'9' | b'.' | b',' | b'-' | b'+' | b'e' | b'E'));
    if !plain {
        return None;
    }
    let value: f64 = match (cell.contains(','), commas) {
        (false, _) => cell.parse().ok()?,
        (true, Commas::Decimals) => cell.replace('.', "").replacen(',', ".", 1).parse().ok()?,
        (true, Commas::Thousands) => {
            let (whole, decimals) = cell.split_once('.').unwrap_or((cell, "0"));
            let mut groups = whole.trim_start_matches(['-', '+']).split(',');
            let first = groups.next().is_some_and(|group| (1..=3).contains(&group.len()));
            if !first || !groups.all(|group| group.len() == 3) || decimals.contains(',') {
                return None;
            }
            cell.replace(',', "").parse().ok()?
        }
    };
    value.is_finite().then_some(value)
}

/// The position of two numbers of degrees. Some write longitudes from 0 to 360; 0° N 0° E is what receivers without a
/// fix write.
pub(crate) fn position(lat_deg: f64, lon_deg: f64) -> Option<LatLon> {
    let lon_deg = if 180.0 < lon_deg && lon_deg <= 360.0 { lon_deg - 360.0 } else { lon_deg };
    LatLon::new(lat_deg, lon_deg).filter(|at| (at.lat_deg, at.lon_deg) != (0.0, 0.0))
}

/// Degrees of a latitude or longitude: decimal degrees, or degrees, minutes and seconds, with a sign or with
/// N, S, E or W.
pub(crate) fn degrees(cell: &str, commas: Commas) -> Option<f64> {
    if let Some(value) = number(cell, commas) {
        return Some(value);
    }
    let letters: String = cell.chars().filter(char::is_ascii_alphabetic).collect();
    let negative = match letters.to_ascii_uppercase().as_str() {
        "N" | "E" => false,
        "S" | "W" => true,
        "" => cell.starts_with('-'),
        _ => return None,
    };
    let is_mark =
        |c: char| c.is_ascii_alphabetic() || matches!(c, '°' | 'º' | '\'' | '"' | '′' | '″' | ' ' | ':');
    let parts = cell.trim_start_matches(['-', '+']).split(is_mark).filter(|part| !part.is_empty());
    let mut parts = parts.map(|part| number(part, commas).filter(|part| *part >= 0.0));
    let (mut value, mut unit) = (parts.next()??, 60.0);
    for part in parts {
        let part = part.filter(|part| *part < 60.0 && unit <= 3600.0)?;
        value += part / unit;
        unit *= 60.0;
    }
    Some(if negative { -value } else { value })
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn commas_and_points() {
        let settle = |cells: &[&str]| {
            let mut evidence = CommaEvidence::default();
            for cell in cells {
                evidence.see(cell);
            }
            evidence.settle()
        };
        assert_eq!(settle(&["12,5", "13,25", "7"]), Commas::Decimals);
        assert_eq!(settle(&["1,234.5", "12.5"]), Commas::Thousands);
        assert_eq!(settle(&["1.234,5"]), Commas::Decimals);
        assert_eq!(number("12,5", Commas::Decimals), Some(12.5));
        assert_eq!(number("1.234,5", Commas::Decimals), Some(1234.5));
        assert_eq!(number("1,234.5", Commas::Thousands), Some(1234.5));
        assert_eq!(number("12,5", Commas::Thousands), None);
        assert_eq!(number("+174.338045", Commas::Thousands), Some(174.338_045));
        for cell in ["inf", "nan", "1e999", "12 m", "", "0x10"] {
            assert_eq!(number(cell, Commas::Thousands), None, "{cell}");
        }
    }

    #[test]
    fn missing_values() {
        for cell in ["", "NA", "NaN", "--", "-999", "-9999.0", "-99.99"] {
            assert!(is_missing(cell), "{cell}");
        }
        for cell in ["0", "-9", "99", "999", "-98", "-1.99"] {
            assert!(!is_missing(cell), "{cell}");
        }
    }

    #[test]
    fn positions() {
        for (cell, want) in [
            ("46.2031", 46.2031),
            ("-29.4", -29.4),
            ("29.4 W", -29.4),
            ("46°12.345'N", 46.20575),
            ("29 24 45 W", -29.4125),
            ("-29° 24.75'", -29.4125),
        ] {
            let got = degrees(cell, Commas::Thousands).unwrap_or_else(|| panic!("{cell}"));
            assert!((got - want).abs() < 1e-9, "{cell}: {got}");
        }
        for cell in ["north", "46 75 N", "46 12 30 5", "N"] {
            assert_eq!(degrees(cell, Commas::Thousands), None, "{cell}");
        }
    }

    proptest! {
        #[test]
        fn no_cell_makes_it_panic(cell in ".{0,20}|[-0-9.,eE°NSEW ]{0,12}") {
            let _ = (number(&cell, Commas::Decimals), degrees(&cell, Commas::Thousands), is_missing(&cell));
        }

        #[test]
        fn numbers_there_and_back(value in -1e6f64..1e6) {
            prop_assert_eq!(number(&value.to_string(), Commas::Thousands), Some(value));
            prop_assert_eq!(number(&value.to_string().replace('.', ","), Commas::Decimals), Some(value));
        }
    }
}
