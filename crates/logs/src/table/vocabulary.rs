//! What does a column hold, by the words of its heading?

use waterseam_units::convert::Unit;

use super::heading::Heading;
use crate::quantity::Dimension;

/// What a column of a table of samples holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Sample {
    /// Date and time, or the clock alone.
    Time,
    /// Date, perhaps with the time.
    Date,
    /// Time since the start of the log.
    Elapsed,
    /// Latitude.
    Lat,
    /// Longitude.
    Lon,
    /// Depth of the probe.
    Depth,
    /// Water pressure at the probe.
    Pressure,
    /// Temperature at the probe; of a table without depths: of the water.
    Temp,
    /// Temperature at the surface.
    SurfaceTemp,
    /// Speed at the probe.
    Speed,
    /// Speed over ground.
    GroundSpeed,
    /// Course over ground.
    Course,
    /// Depth of the water.
    WaterDepth,
}

/// What a column of bite notes or of a gear log holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Note {
    /// Time of a bite or of an event.
    Time,
    /// Date that goes with the times.
    Date,
    /// Species.
    Species,
    /// What became of the bite.
    Outcome,
    /// Rod.
    Rod,
    /// Lure.
    Lure,
    /// Depth of the lure.
    Depth,
    /// Line out.
    LineOut,
    /// Weight of the fish, or of the sinker.
    Weight,
    /// Length of the fish.
    Length,
    /// Latitude.
    Lat,
    /// Longitude.
    Lon,
    /// Free text.
    Text,
    /// Time at which a line went into the water.
    TimeIn,
    /// Time at which a line came out of the water.
    TimeOut,
    /// Whether a line went out or came in.
    Event,
    /// How the line is taken down.
    Method,
    /// Colours out.
    Colors,
    /// Leader.
    Leader,
}

impl Sample {
    /// In words, for the captain.
    pub fn words(self) -> &'static str {
        match self {
            Self::Time => "time",
            Self::Date => "date",
            Self::Elapsed => "time since the start",
            Self::Lat => "latitude",
            Self::Lon => "longitude",
            Self::Depth => "depth of the probe",
            Self::Pressure => "pressure at the probe",
            Self::Temp => "temperature",
            Self::SurfaceTemp => "surface temperature",
            Self::Speed => "speed at the probe",
            Self::GroundSpeed => "speed over ground",
            Self::Course => "course over ground",
            Self::WaterDepth => "depth of the water",
        }
    }
}

impl Note {
    /// In words, for the captain.
    pub fn words(self) -> &'static str {
        match self {
            Self::Time => "time",
            Self::Date => "date",
            Self::Species => "species",
            Self::Outcome => "landed, released or lost",
            Self::Rod => "rod",
            Self::Lure => "lure",
            Self::Depth => "depth of the lure",
            Self::LineOut => "line out",
            Self::Weight => "weight",
            Self::Length => "length",
            Self::Lat => "latitude",
            Self::Lon => "longitude",
            Self::Text => "note",
            Self::TimeIn => "time the line went in",
            Self::TimeOut => "time the line came out",
            Self::Event => "line out or in",
            Self::Method => "how the line is taken down",
            Self::Colors => "colours out",
            Self::Leader => "leader",
        }
    }

    /// What its numbers measure, where they measure something.
    pub fn dimension(self) -> Option<Dimension> {
        match self {
            Self::Depth | Self::LineOut | Self::Leader => Some(Dimension::Depth),
            Self::Weight => Some(Dimension::Weight),
            Self::Length => Some(Dimension::FishLength),
            _ => None,
        }
    }
}

/// What the boat file may say that a column holds. Read as a heading, each means what it says.
pub(crate) const MEANINGS: &[&str] = &[
    "time",
    "date",
    "clock",
    "elapsed_s",
    "lat",
    "lon",
    "depth_m",
    "depth_ft",
    "pressure_dbar",
    "temp_c",
    "temp_f",
    "surface_temp_c",
    "surface_temp_f",
    "speed_mps",
    "speed_mph",
    "speed_kn",
    "speed_kmh",
    "sog_mps",
    "sog_mph",
    "sog_kn",
    "sog_kmh",
    "cog_deg",
    "water_depth_m",
    "water_depth_ft",
    "species",
    "outcome",
    "rod",
    "lure",
    "depth",
    "line_out",
    "weight",
    "length",
    "note",
    "time_in",
    "time_out",
    "event",
    "method",
    "colors",
    "leader",
    IGNORE,
];

/// The meaning of a column that is to be left alone.
pub(crate) const IGNORE: &str = "ignore";

/// Whether the boat file may say this of a column.
pub(crate) fn is_meaning(word: &str) -> bool {
    MEANINGS.iter().any(|meaning| meaning.eq_ignore_ascii_case(word))
}

/// Words that say that a column is about something else than a sample of the water.
const ELSEWHERE: [&str; 44] = [
    "air",
    "ambient",
    "atmospheric",
    "baro",
    "barometric",
    "battery",
    "board",
    "cabin",
    "calibration",
    "case",
    "cell",
    "conductivity",
    "count",
    "cpu",
    "default",
    "density",
    "dew",
    "download",
    "duration",
    "end",
    "engine",
    "error",
    "flag",
    "flow",
    "housing",
    "internal",
    "lifetime",
    "logger",
    "max",
    "oxygen",
    "ph",
    "qc",
    "quality",
    "rate",
    "raw",
    "salinity",
    "sd",
    "sound",
    "std",
    "stddev",
    "stream",
    "upload",
    "wind",
    "zone",
];

/// What a column of samples holds, if it is anything that this job reads.
pub(crate) fn sample(heading: &Heading) -> Option<Sample> {
    let has = |any: &[&str]| heading.has(any);
    if has(&ELSEWHERE) {
        return None;
    }
    let temperature_unit = matches!(heading.unit, Some(Unit::Celsius | Unit::Fahrenheit | Unit::Kelvin));
    let names_temp =
        has(&["temp", "temps", "temperature", "wtemp", "watertemp", "watertemperature", "sst", "wt"]);
    if names_temp || (has(&["t", "water"]) && temperature_unit) {
        let surface = has(&["sst", "surface", "hull", "intake", "transducer"]);
        return match (has(&["bottom"]), surface) {
            (true, _) => None,
            (false, true) => Some(Sample::SurfaceTemp),
            (false, false) => Some(Sample::Temp),
        };
    }
    if has(&["lat", "latitude"]) {
        return Some(Sample::Lat);
    }
    if has(&["lon", "long", "lng", "longitude"]) {
        return Some(Sample::Lon);
    }
    if has(&["depth", "dpth", "dpt", "pressure", "press"]) {
        let pressure = heading.unit == Some(Unit::Decibar);
        let named_pressure = has(&["pressure", "press"]);
        return match (pressure, has(&["bottom", "water", "sounder", "sonar", "seabed", "lakebed"])) {
            (true, _) => Some(Sample::Pressure),
            _ if named_pressure => None,
            (false, true) => Some(Sample::WaterDepth),
            (false, false) => Some(Sample::Depth),
        };
    }
    if has(&["sog"]) || (has(&["ground", "gps"]) && has(&["speed", "spd", "velocity"])) {
        return Some(Sample::GroundSpeed);
    }
    if has(&["speed", "spd"]) {
        return Some(Sample::Speed);
    }
    if has(&["cog", "course"]) {
        return Some(Sample::Course);
    }
    let clock = has(&["time", "clock", "datetime", "timestamp", "epoch", "unix", "unixtime", "utc", "gmt"]);
    // `h:m:s` is how a clock is written
    let seconds = has(&["elapsed", "sec", "secs", "second", "seconds", "s", "min", "mins", "minutes", "ms"])
        && !has(&["h", "hh"]);
    match (clock, has(&["date"]), seconds) {
        (_, false, true) if clock || has(&["elapsed"]) => Some(Sample::Elapsed),
        (true, ..) => Some(Sample::Time),
        (false, true, _) => Some(Sample::Date),
        _ => None,
    }
}

const NOTES: [(Note, &[&str]); 19] = [
    (
        Note::Time,
        &[
            "time",
            "when",
            "clock",
            "datetime",
            "date time",
            "timestamp",
            "time of day",
            "local time",
            "time local",
            "time utc",
            "utc",
            "bite time",
        ],
    ),
    (Note::Date, &["date", "day"]),
    (Note::Species, &["species", "fish", "kind", "kind of fish"]),
    (Note::Outcome, &["outcome", "result", "fate", "what became of it"]),
    (Note::Rod, &["rod", "rod name", "rod number", "which rod", "line", "pole"]),
    (Note::Lure, &["lure", "bait", "fly"]),
    (
        Note::Depth,
        &["depth", "lure depth", "running depth", "bite depth", "fish depth", "depth down", "down"],
    ),
    (Note::LineOut, &["line out", "lineout", "out", "let out", "counter", "line counter"]),
    (Note::Weight, &["weight", "wt", "lb", "lbs", "kg", "fish weight", "ball", "ball weight", "sinker"]),
    (Note::Length, &["length", "len", "fish length"]),
    (Note::Lat, &["lat", "latitude"]),
    (Note::Lon, &["lon", "long", "lng", "longitude"]),
    (Note::Text, &["note", "notes", "comment", "comments", "remark", "remarks"]),
    (Note::TimeIn, &["time in", "start", "start time", "time start", "set time", "in water"]),
    (Note::TimeOut, &["time out", "end", "end time", "time end", "stop", "out of water"]),
    (Note::Event, &["event", "action", "in or out", "in out", "out in"]),
    (Note::Method, &["method", "gear", "presentation", "how"]),
    (Note::Colors, &["colors", "colours", "color", "colour"]),
    (Note::Leader, &["leader", "leader length", "lead", "setback"]),
];

/// What a column of notes holds: the whole heading, with or without its unit, must be a word for it; times and
/// positions may be said in more words.
pub(crate) fn note(heading: &Heading) -> Option<Note> {
    let phrases = heading.phrases();
    let named = |phrase: &String| NOTES.iter().find(|(_, words)| words.contains(&phrase.as_str()));
    phrases.iter().find_map(named).map(|(note, _)| *note).or_else(|| match sample(heading) {
        Some(Sample::Time) => Some(Note::Time),
        Some(Sample::Date) => Some(Note::Date),
        Some(Sample::Lat) => Some(Note::Lat),
        Some(Sample::Lon) => Some(Note::Lon),
        _ => None,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(text: &str, want: Option<Sample>) {
        assert_eq!(sample(&Heading::new(text, text)), want, "{text}");
    }

    #[test]
    fn headings_of_sample_tables() {
        check("Depth (ft)", Some(Sample::Depth));
        check("Depth (dBar)", Some(Sample::Pressure));
        check("Pressure (Decibar)", Some(Sample::Pressure));
        check("STREAM PRESSURE", None);
        check("Pressure", None);
        check("OCEAN TEMP", Some(Sample::Temp));
        check("water_temp_c", Some(Sample::Temp));
        check("Temperature (Celsius)", Some(Sample::Temp));
        check("Water (°F)", Some(Sample::Temp));
        check("SST", Some(Sample::SurfaceTemp));
        check("surface_temp_c", Some(Sample::SurfaceTemp));
        check("bottom_temp_c", None);
        check("Air Temp", None);
        check("bottom_depth_m", Some(Sample::WaterDepth));
        check("DateTime (UTC)", Some(Sample::Time));
        check("DATE", Some(Sample::Date));
        check("FILE DURATION", None);
        check("EVENT RATE", None);
        check("Time (Seconds)", Some(Sample::Elapsed));
        check("elapsed_s", Some(Sample::Elapsed));
        check("Time (h:m:s)", Some(Sample::Time));
        check("Sound velocity (Meters per Second)", None);
        check("Speed (mph)", Some(Sample::Speed));
        check("GPS Speed", Some(Sample::GroundSpeed));
        check("Max Lifetime Depth (dBar)", None);
        check("species", None);
    }

    #[test]
    fn headings_of_notes() {
        for (text, want) in [
            ("Time", Some(Note::Time)),
            ("SPECIES", Some(Note::Species)),
            ("Line Out (ft)", Some(Note::LineOut)),
            ("weight_lb", Some(Note::Weight)),
            ("Weight, kg", Some(Note::Weight)),
            ("length (in)", Some(Note::Length)),
            ("time_in", Some(Note::TimeIn)),
            ("time_out", Some(Note::TimeOut)),
            ("Colours", Some(Note::Colors)),
            ("Bite time (UTC-2)", Some(Note::Time)),
            ("EVENT RATE", None),
            ("cpue_kg_per_ha", None),
        ] {
            assert_eq!(note(&Heading::new(text, text)), want, "{text}");
        }
    }

    #[test]
    fn every_meaning_is_understood_as_a_heading() {
        for meaning in MEANINGS.iter().filter(|meaning| **meaning != IGNORE) {
            let heading = Heading::new("x", meaning);
            assert!(sample(&heading).is_some() || note(&heading).is_some(), "{meaning}");
        }
    }
}
