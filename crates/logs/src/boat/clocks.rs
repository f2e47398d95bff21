//! What is to be added to which clock?

use super::BoatFile;
use super::entry::{Entry, Section};
use super::error::BoatFileError;

const RIGHT: &str = "what is added to the clock, like \"+1 h\", \"-37 s\", \"1 h 30 min\" or \"0 s\"";
/// More than this is no clock that is wrong but another day, s: 100 days.
const LARGEST_S: f64 = 100.0 * 86_400.0;

pub(super) fn read(top: &Section<'_>, boat: &mut BoatFile) -> Result<(), BoatFileError> {
    let Some(entry) = top.get("clocks") else { return Ok(()) };
    let section = entry.table("a table [clocks]")?;
    section.only(&["probe", "notes", "files"])?;
    boat.clocks.probe_s = section.get("probe").map(|entry| offset(&entry)).transpose()?;
    boat.clocks.notes_s = section.get("notes").map(|entry| offset(&entry)).transpose()?;
    if let Some(files) = section.get("files") {
        for (name, entry) in files.table("a table of \"file name\" = \"offset\"")?.entries() {
            boat.clocks.files_s.insert(name, offset(&entry)?);
        }
    }
    Ok(())
}

fn offset(entry: &Entry<'_>) -> Result<f64, BoatFileError> {
    seconds(entry.text(RIGHT)?).ok_or_else(|| entry.wrong(RIGHT))
}

/// Seconds of a text like `+1 h`, `-1 h 30 min` or `-37 s`. The sign holds for all of it.
fn seconds(text: &str) -> Option<f64> {
    let text = text.trim().replace('\u{2212}', "-");
    let (sign, mut rest) = match text.strip_prefix('-') {
        Some(rest) => (-1.0, rest.trim_start()),
        None => (1.0, text.strip_prefix('+').unwrap_or(&text).trim_start()),
    };
    let mut whole_s = 0.0;
    if rest.is_empty() {
        return None;
    }
    while !rest.is_empty() {
        let digits = rest.find(|c: char| !c.is_ascii_digit() && c != '.').unwrap_or(rest.len());
        let number: f64 = rest[..digits].parse().ok()?;
        rest = rest[digits..].trim_start();
        let letters = rest.find(|c: char| !c.is_alphabetic()).unwrap_or(rest.len());
        whole_s += number
            * match rest[..letters].to_lowercase().as_str() {
                "d" | "day" | "days" => 86_400.0,
                "h" | "hour" | "hours" => 3600.0,
                "min" | "minute" | "minutes" => 60.0,
                "s" | "sec" | "second" | "seconds" => 1.0,
                _ => return None,
            };
        rest = rest[letters..].trim_start();
    }
    (whole_s <= LARGEST_S).then_some(sign * whole_s)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_of_a_captain() {
        for (text, want_s) in [
            ("+1 h", 3600.0),
            ("-37 s", -37.0),
            ("\u{2212}37 s", -37.0),
            ("-1 h 30 min", -5400.0),
            ("12h", 43_200.0),
            ("0 s", 0.0),
            ("1.5 hours", 5400.0),
        ] {
            assert_eq!(seconds(text), Some(want_s), "{text}");
        }
        for text in ["", "-", "an hour", "1", "1 h -3 s", "1 fortnight", "9999 days", "1..2 h"] {
            assert_eq!(seconds(text), None, "{text}");
        }
    }

    #[test]
    fn keys_of_the_boat_file() {
        let text = "[clocks]\nprobe = \"+1 h\"\nfiles = { \"p.csv\" = \"-12 h\" }\n";
        let clocks = BoatFile::from_toml(text, "waterseam.toml").unwrap().clocks;
        assert_eq!((clocks.probe_s, clocks.notes_s), (Some(3600.0), None));
        assert_eq!(clocks.files_s["p.csv"], -43_200.0);
        let wrong = BoatFile::from_toml("[clocks]\nprobe = 3600\n", "waterseam.toml").unwrap_err();
        assert!(wrong.to_string().contains("clocks.probe"), "{wrong}");
    }
}
