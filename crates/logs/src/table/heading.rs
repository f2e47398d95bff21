//! What are the words and the unit of a column's heading?

use waterseam_units::convert::Unit;

use super::moment::Zone;

/// Heading of a column.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Heading {
    /// As it stands in the file.
    pub text: String,
    /// Words in lower case; of a heading that the boat file explains, the words of the explanation.
    pub words: Vec<String>,
    /// Unit that it names.
    pub unit: Option<Unit>,
    /// Zone that it names (`(UTC)`, `GMT+2`).
    pub zone: Zone,
}

impl Heading {
    /// The words of `meaning`, which is the heading itself or what the boat file says for it.
    pub fn new(text: &str, meaning: &str) -> Self {
        let words = words(meaning);
        Self { text: text.to_owned(), unit: unit(meaning, &words), zone: zone(meaning), words }
    }

    /// Whether one of the words occurs.
    pub fn has(&self, any: &[&str]) -> bool {
        self.words.iter().any(|word| any.contains(&word.as_str()))
    }

    /// The words in a row, with and without the unit at their end.
    pub fn phrases(&self) -> [String; 2] {
        let whole = self.words.join(" ");
        let n_unit =
            (1..self.words.len()).rfind(|&at| Unit::from_word(&self.words[at..].join(" ")).is_some());
        let bare = self.words[..n_unit.unwrap_or(self.words.len())].join(" ");
        [whole, bare]
    }
}

/// Parts of a heading between anything that is no letter, digit or degree sign, in lower case; `DepthFt` has two,
/// `Temp1` is `temp`.
fn words(heading: &str) -> Vec<String> {
    let mut words = vec![String::new()];
    let mut before = ' ';
    for letter in heading.chars() {
        let in_word = letter.is_alphanumeric() || matches!(letter, '°' | 'º' | '#');
        let hump = before.is_lowercase() && letter.is_uppercase();
        let number = before.is_alphabetic() && letter.is_ascii_digit();
        if !in_word || hump || number {
            words.push(String::new());
        }
        if in_word {
            words.last_mut().expect("never empty").extend(letter.to_lowercase());
        }
        before = letter;
    }
    let numbered = words.iter().any(|word| word.starts_with(char::is_alphabetic));
    words.retain(|word| !(word.is_empty() || numbered && word.bytes().all(|b| b.is_ascii_digit())));
    words
}

/// The unit in brackets, else the last word or words that name one. The first word is never a unit.
fn unit(heading: &str, words: &[String]) -> Option<Unit> {
    let bracketed =
        heading.split(['(', '[', '{']).skip(1).filter_map(|part| part.split([')', ']', '}']).next());
    let behind_mark = heading.rsplit([',', ' ', '_']).next().filter(|last| last.contains('/'));
    let last_words = (1..words.len()).rev().find_map(|at| Unit::from_word(&words[at]));
    bracketed.chain(behind_mark).find_map(Unit::from_word).or(last_words)
}

/// The zone that a heading names: `UTC`, `GMT`, `Zulu`, each perhaps with an offset behind it.
fn zone(heading: &str) -> Zone {
    let lower = heading.to_lowercase();
    let Some(at) = ["utc", "gmt", "zulu"].iter().find_map(|name| Some(lower.find(name)? + name.len())) else {
        return Zone::Unsaid;
    };
    let behind: String = lower[at..].chars().filter(|c| !c.is_whitespace()).collect();
    super::moment::offset_s(&behind).map_or(Zone::Utc, |(offset_s, _)| Zone::of_offset(offset_s))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn units_of_headings() {
        for (heading, unit) in [
            ("Depth (ft)", Some(Unit::Foot)),
            ("temp_F", Some(Unit::Fahrenheit)),
            ("Temperature (Celsius)", Some(Unit::Celsius)),
            ("Temperature C", Some(Unit::Celsius)),
            ("TempC", Some(Unit::Celsius)),
            ("Depth (dBar)", Some(Unit::Decibar)),
            ("Wasser °C", Some(Unit::Celsius)),
            ("Speed [m/s]", Some(Unit::MetrePerSecond)),
            ("Speed km/h", Some(Unit::KilometrePerHour)),
            ("water_temp_c", Some(Unit::Celsius)),
            ("OCEAN TEMP", None),
            ("in", None),
        ] {
            assert_eq!(Heading::new(heading, heading).unit, unit, "{heading}");
        }
    }

    #[test]
    fn zones_of_headings() {
        for (heading, zone) in [
            ("DateTime (UTC)", Zone::Utc),
            ("Time GMT-0400", Zone::OffsetS(-14_400)),
            ("Time (UTC +2)", Zone::OffsetS(7200)),
            ("Time", Zone::Unsaid),
        ] {
            assert_eq!(Heading::new(heading, heading).zone, zone, "{heading}");
        }
    }

    #[test]
    fn phrases_leave_the_unit_out() {
        let phrases = |text: &str| Heading::new(text, text).phrases();
        assert_eq!(phrases("Line_Out (ft)")[1], "line out");
        assert_eq!(phrases("time_in"), ["time in", "time"]);
        assert_eq!(phrases("Lure Depth, ft")[1], "lure depth");
    }
}
