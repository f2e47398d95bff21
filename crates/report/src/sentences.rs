//! What is behind the letters of a sentence's address?
//!
//! Talkers and formatters as NMEA 0183 names them (from memory; the standard is not free). Only those that a boat
//! like this one carries; any other is shown by its letters.

/// What the device behind the two letters of a talker is.
const TALKERS: [(&str, &str); 20] = [
    ("GP", "GPS"),
    ("GL", "GLONASS"),
    ("GA", "Galileo"),
    ("GB", "BeiDou"),
    ("BD", "BeiDou"),
    ("GI", "NavIC"),
    ("GQ", "QZSS"),
    ("GN", "GNSS"),
    ("II", "instruments"),
    ("IN", "instruments"),
    ("SD", "sounder"),
    ("YX", "transducer"),
    ("VW", "speed log"),
    ("VD", "Doppler log"),
    ("HC", "compass"),
    ("HE", "gyro compass"),
    ("HN", "gyro compass"),
    ("WI", "wind"),
    ("EC", "plotter"),
    ("AI", "AIS"),
];

/// What the sentences say that are read.
const FORMATTERS: [(&str, &str); 23] = [
    ("RMC", "position, speed, course, date"),
    ("GGA", "position, quality"),
    ("GLL", "position"),
    ("GNS", "position, quality"),
    ("VTG", "speed and course over ground"),
    ("ZDA", "date and time"),
    ("MTW", "water temperature"),
    ("MDA", "weather, water temperature"),
    ("XDR", "transducers"),
    ("DPT", "depth"),
    ("DBT", "depth below transducer"),
    ("DBS", "depth below surface"),
    ("DBK", "depth below keel"),
    ("VHW", "speed through water, heading"),
    ("VBW", "speed through water and over ground"),
    ("HDG", "heading, magnetic"),
    ("HDT", "heading, true"),
    ("HDM", "heading, magnetic"),
    ("THS", "heading, true"),
    ("VDR", "set and drift"),
    ("MWD", "wind, true"),
    ("MWV", "wind"),
    ("WPL", "mark"),
];

/// An address in words: `GPS: position, speed, course, date`. Empty where it is not known.
pub fn words(address: &str) -> String {
    if address.len() != 5 || !address.is_ascii() {
        return String::new();
    }
    if address.starts_with('P') {
        return "a maker's own".to_owned();
    }
    let of = |list: &[(&str, &'static str)], letters: &str| {
        list.iter().find(|(name, _)| *name == letters).map(|(_, words)| *words)
    };
    match (of(&TALKERS, &address[..2]), of(&FORMATTERS, &address[2..])) {
        (Some(talker), Some(what)) => format!("{talker}: {what}"),
        (None, Some(what)) => what.to_owned(),
        (Some(talker), None) => format!("{talker}; not needed"),
        (None, None) => "not needed".to_owned(),
    }
}
