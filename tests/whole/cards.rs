//! Cards made of the sample logs in other ways than the boat made them, and what a trip says whichever way.

use std::fs;
use std::path::PathBuf;
use std::sync::OnceLock;

use serde_json::Value;

use super::helpers::{expect_status, process, sample_logs, sentence, stderr, waterseam};

/// The day that is rearranged, with its plotter log.
pub const DAY: &str = "2026-07-18";
/// The plotter's log of that day.
pub const LOG: &str = "LOG00199.TXT";

/// A card and a logbook in a folder of their own.
pub struct Boat {
    dir: tempfile::TempDir,
}

impl Boat {
    /// A card with the boat file and nothing else.
    pub fn new() -> Self {
        let boat = Self { dir: tempfile::tempdir().unwrap() };
        fs::create_dir(boat.card()).unwrap();
        fs::copy(sample_logs().join("waterseam.toml"), boat.card().join("waterseam.toml")).unwrap();
        boat
    }

    /// The card.
    pub fn card(&self) -> PathBuf {
        self.dir.path().join("card")
    }

    /// The logbook.
    pub fn logbook(&self) -> PathBuf {
        self.dir.path().join("logbook")
    }

    /// Puts a file on the card.
    pub fn put(&self, name: &str, bytes: &[u8]) -> &Self {
        let path = self.card().join(name);
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        fs::write(path, bytes).unwrap();
        self
    }

    /// Takes a file off the card.
    pub fn take(&self, name: &str) -> &Self {
        fs::remove_file(self.card().join(name)).unwrap();
        self
    }

    /// Puts all files of the day on the card but the plotter's log.
    pub fn put_notes(&self) -> &Self {
        for entry in fs::read_dir(sample_logs().join(DAY)).unwrap() {
            let path = entry.unwrap().path();
            let name = path.file_name().unwrap().to_str().unwrap().to_owned();
            if name != LOG {
                self.put(&name, &fs::read(&path).unwrap());
            }
        }
        self
    }

    /// Processes the card; gives what was said on stderr.
    pub fn process(&self) -> String {
        let output = process(&self.card(), &self.logbook());
        expect_status(&output, 0);
        let verified = waterseam().args(["verify", "--logbook"]).arg(self.logbook()).output().unwrap();
        expect_status(&verified, 0);
        stderr(&output)
    }

    /// Ids of the trips in the logbook.
    pub fn trips(&self) -> Vec<String> {
        let mut ids: Vec<String> = fs::read_dir(self.logbook().join("trips"))
            .into_iter()
            .flatten()
            .flat_map(|year| fs::read_dir(year.unwrap().path()).unwrap())
            .map(|trip| trip.unwrap().file_name().to_str().unwrap().trim_start_matches("trip=").to_owned())
            .collect();
        ids.sort();
        ids
    }

    /// Everything that a trip says.
    pub fn trip(&self, id: &str) -> Value {
        let args = ["summary", "--format", "json", "--trip", id, "--logbook"];
        let output = waterseam().args(args).arg(self.logbook()).output().unwrap();
        expect_status(&output, 0);
        serde_json::from_slice(&output.stdout).unwrap()
    }

    /// Everything that the only trip says.
    pub fn only_trip(&self) -> Value {
        let trips = self.trips();
        assert_eq!(trips.len(), 1, "{trips:?}");
        self.trip(&trips[0])
    }
}

/// The day as it came off the boat; processed once for all tests.
pub fn undisturbed() -> &'static Value {
    static UNDISTURBED: OnceLock<Value> = OnceLock::new();
    UNDISTURBED.get_or_init(|| {
        let boat = Boat::new();
        boat.put(LOG, &log()).put_notes();
        boat.process();
        boat.only_trip()
    })
}

/// The plotter's log of the day.
pub fn log() -> Vec<u8> {
    fs::read(sample_logs().join(DAY).join(LOG)).unwrap()
}

/// A file of notes of the day.
pub fn notes(name: &str) -> Vec<u8> {
    fs::read(sample_logs().join(DAY).join(name)).unwrap()
}

/// Fails where two trips do not say the same about water, fish and effort. What they say about their files may differ.
pub fn expect_same(got: &Value, expected: &Value) {
    for table in ["breaks", "layers", "currents", "current_edges", "rod_spells", "bites", "bands"] {
        assert!(
            !expected[table].as_array().unwrap().is_empty() || table == "current_edges",
            "{table} shows nothing"
        );
        assert_eq!(got[table], expected[table], "{table}");
    }
    for (key, value) in expected["trip"].as_object().unwrap() {
        // the quality counts samples and records of the files, those of no use to the trip among them
        if key != "remarks" && key != "quality" {
            assert_eq!(got["trip"][key], *value, "{key}");
        }
    }
}

/// All that is remarked about the files and the trip.
pub fn remarks(trip: &Value) -> String {
    let of = |value: &Value| value["remarks"].as_str().unwrap_or_default().to_owned();
    let sources = trip["sources"].as_array().unwrap().iter().map(of);
    sources.chain([of(&trip["trip"])]).collect::<Vec<_>>().join("\n")
}

/// Records of all files that were set aside for a reason.
pub fn set_aside(trip: &Value, reason: &str) -> u64 {
    let of = |source: &Value| {
        let reasons: Value = serde_json::from_str(source["set_aside_reasons"].as_str().unwrap()).unwrap();
        reasons[reason].as_u64().unwrap_or_default()
    };
    trip["sources"].as_array().unwrap().iter().map(of).sum()
}

/// What stands between start and checksum of a line that is one good sentence.
fn good(line: &[u8]) -> Option<&str> {
    let (inside, sum) = std::str::from_utf8(line).ok()?.trim_end().strip_prefix('$')?.split_once('*')?;
    (sentence(inside).trim_end().rsplit('*').next() == Some(sum)).then_some(inside)
}

/// A log with the fields of its good sentences of one type changed, and their checksums right again. `change` gets the
/// number of the line.
pub fn changed(log: &[u8], kind: &str, change: impl Fn(usize, &mut Vec<String>)) -> Vec<u8> {
    let of_line = |(number, line): (usize, &[u8])| -> Vec<u8> {
        let inside = good(line).filter(|inside| inside.get(2..5) == Some(kind));
        let Some(inside) = inside else { return line.to_vec() };
        let mut fields: Vec<String> = inside.split(',').map(str::to_owned).collect();
        change(number, &mut fields);
        sentence(&fields.join(",")).into_bytes()
    };
    log.split_inclusive(|byte| *byte == b'\n').enumerate().flat_map(of_line).collect()
}

/// A part of the lines of a log, from 0.0 to 1.0; it starts and ends where a second does, in notes anywhere.
pub fn lines(log: &[u8], from: f64, to: f64) -> Vec<u8> {
    let lines: Vec<&[u8]> = log.split_inclusive(|byte| *byte == b'\n').collect();
    let at = |part: f64| {
        let at = (lines.len() as f64 * part) as usize;
        let second = lines[at..].iter().position(|line| line.starts_with(b"$GPRMC")).unwrap_or_default();
        if part > 0.0 { at + second } else { at }
    };
    lines[at(from)..at(to)].concat()
}

/// A date `ddmmyy` moved by days.
pub fn date_moved(date: &str, days: i64) -> String {
    let part = |at: usize| date[at..at + 2].parse::<i8>().unwrap();
    let day = jiff::civil::date(2000 + i16::from(part(4)), part(2), part(0));
    day.checked_add(jiff::Span::new().days(days)).unwrap().strftime("%d%m%y").to_string()
}

/// The track of a log as a plotter exports it: GPX with the dates of the log.
pub fn gpx(log: &[u8]) -> String {
    let angle = |text: &str, digits: usize| {
        text[..digits].parse::<f64>().unwrap() + text[digits..].parse::<f64>().unwrap() / 60.0
    };
    let point = |fields: &[&str]| {
        let (clock, date) = (fields[0], fields[8]);
        let (lat, lon) = (angle(fields[2], 2), -angle(fields[4], 3));
        let pairs = |text: &str| [0, 2, 4].map(|at| text[at..at + 2].to_owned());
        let ([h, m, s], [day, month, year]) = (pairs(clock), pairs(date));
        format!(
            "<trkpt lat=\"{lat:.6}\" lon=\"{lon:.6}\"><time>20{year}-{month}-{day}T{h}:{m}:{s}Z</time></trkpt>\n"
        )
    };
    let points: String = log
        .split(|byte| *byte == b'\n')
        .filter_map(|line| good(line)?.strip_prefix("GPRMC,"))
        .map(|inside| inside.split(',').collect::<Vec<_>>())
        .filter(|fields| fields[1] == "A")
        .map(|fields| point(&fields))
        .collect();
    format!(
        "<?xml version=\"1.0\"?>\n<gpx version=\"1.1\" creator=\"a plotter\" \
         xmlns=\"http://www.topografix.com/GPX/1/1\"><trk><trkseg>\n{points}</trkseg></trk></gpx>\n"
    )
}
