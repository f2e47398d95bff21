//! Does a decoder that is not ours, the `nmea` crate (0.8), read in a sentence what is read here?
//!
//! Real recordings, what the fuzzer found, and sentences that are made up here, whole and damaged; `WATERSEAM_SENTENCES`
//! says how many of those (10 million take minutes). Of each that both decode every value is compared. The crate refuses
//! ordinary forms and accepts some that are wrong, so whether a sentence is decoded at all is not compared here: other
//! decoders are asked that in `real_receivers.rs`.

use std::collections::BTreeMap;
use std::fs;
use std::io::Read;
use std::path::PathBuf;

use flate2::read::MultiGzDecoder;
use nmea::ParseResult;
use waterseam_logs::nmea::{Body, Position, candidates};
use waterseam_units::convert::{MPS_PER_KMH, MPS_PER_KN, MPS_PER_MPH};

/// Sentences that are made up in a run that nobody asked more of.
const SENTENCES: u64 = 20_000;

/// How well two values agree.
#[derive(Clone, Copy)]
enum Within {
    /// Bit for bit.
    Exactly,
    /// Both are doubles, one of them through metres per second and back.
    Doubles,
    /// Theirs is a single.
    Singles,
    /// The same, around the circle.
    Circle,
    /// Times: ours are whole microseconds.
    Microsecond,
}

/// Values compared by name, and sentences that both decoded.
#[derive(Default)]
struct Compared {
    values: BTreeMap<&'static str, u64>,
    sentences: u64,
}

#[test]
fn real_recordings_say_the_same() {
    let mut compared = Compared::default();
    for (folder, is_recording) in [
        ("tests/real-receivers", true),
        ("tests/recordings", true),
        ("fuzz/corpus/sentences", false),
        ("fuzz/corpus/lines", false),
    ] {
        let folder = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../..").join(folder);
        let paths = fs::read_dir(folder).expect("a folder").map(|entry| entry.expect("a file").path());
        for path in paths {
            let mut bytes = fs::read(&path).expect("a file that can be read");
            let ends_in = |end: &str| path.extension().is_some_and(|extension| extension == end);
            if ends_in("gz") {
                let mut unpacked = Vec::new();
                MultiGzDecoder::new(&bytes[..]).read_to_end(&mut unpacked).expect("a packed recording");
                bytes = unpacked;
            } else if is_recording && !ends_in("log") {
                continue;
            }
            for line in bytes.split(|b| matches!(b, b'\n' | b'\r')) {
                compared.line(line);
            }
        }
    }
    println!("{} sentences, {:?}", compared.sentences, compared.values);
    assert!(compared.sentences > 80_000, "{}", compared.sentences);
    for value in ["rmc lat", "gga lon", "gll lat", "vtg speed", "zda day", "dpt depth", "mtw", "hdt"] {
        assert!(compared.values.get(value).is_some_and(|n| *n > 50), "{value}: {:?}", compared.values);
    }
}

#[test]
fn sentences_made_up_say_the_same() {
    let n = std::env::var("WATERSEAM_SENTENCES").map_or(SENTENCES, |n| n.parse().expect("a number"));
    let (mut compared, mut draw) = (Compared::default(), Draw(0x5EED));
    for _ in 0..n {
        compared.line(draw.sentence().as_bytes());
    }
    println!("{} of {n} sentences, {:?}", compared.sentences, compared.values);
    assert!(compared.sentences * 2 > n, "both decode {} of {n}", compared.sentences);
    assert_eq!(compared.values.len(), 41, "{:?}", compared.values);
    assert!(compared.values.values().all(|count| count * 2_000 > n), "{:?}", compared.values);
}

impl Compared {
    fn line(&mut self, line: &[u8]) {
        for candidate in candidates(line) {
            let ours = candidate.frame.and_then(|frame| frame.decode());
            let Ok(text) = std::str::from_utf8(candidate.bytes) else { continue };
            // numbers that are none for us, like `inf`, make a sentence that is not decoded here
            if let (Ok(ours), Ok(theirs)) = (ours, nmea::parse_str(text)) {
                self.sentences += u64::from(ours.body != Body::NotNeeded);
                self.bodies(&ours.body, &theirs, text);
            }
        }
    }

    /// Compares a value that both have. `text` is the sentence.
    fn value(
        &mut self,
        name: &'static str,
        ours: Option<f64>,
        theirs: Option<impl Into<f64>>,
        within: Within,
        text: &str,
    ) {
        let theirs = theirs.map(Into::into);
        let (Some(a), Some(b)) = (ours, theirs) else {
            assert_eq!(ours, theirs, "{name} of {text}");
            return;
        };
        let apart = (a - b).abs();
        let same = match within {
            Within::Exactly => a == b,
            Within::Doubles => apart <= 1e-14 * b.abs(),
            Within::Singles => apart <= f64::from(f32::EPSILON) * b.abs(),
            Within::Circle => apart.min((apart - 360.0).abs()) <= f64::from(f32::EPSILON) * b.abs(),
            Within::Microsecond => apart <= 1.0,
        };
        assert!(same, "{name}: {a}, not {b}, of {text}");
        *self.values.entry(name).or_default() += 1;
    }

    /// Compares a place that both have. Where there is no fix, what is no place is missing here, and the crate takes the
    /// first two and three of any number of digits for degrees.
    fn place(
        &mut self,
        [lat, lon]: [&'static str; 2],
        ours: Position,
        (lat_deg, lon_deg): (Option<f64>, Option<f64>),
        text: &str,
    ) {
        if ours.at().is_some() && lat_deg.is_some() && has_usual_place(text) {
            self.value(lat, ours.lat_deg, lat_deg, Within::Exactly, text);
            self.value(lon, ours.lon_deg, lon_deg, Within::Exactly, text);
        }
    }

    /// Compares a time. Where a digit is missing, the crate takes the first two for the hour, and here a zero is missing.
    fn time(&mut self, name: &'static str, ours: &Body, theirs: Option<f64>, text: &str) {
        let at = if matches!(ours, Body::Gll(_)) { 5 } else { 1 };
        let clock =
            text.split(',').nth(at).and_then(|field| field.split('.').next()).unwrap_or_default().trim();
        if clock.is_empty() || clock.len() == 6 {
            let ours_us = ours.said().unwrap_or_default().time_of_day_us.map(|us| us as f64);
            self.value(name, ours_us, theirs, Within::Microsecond, text);
        }
    }

    fn bodies(&mut self, ours: &Body, theirs: &ParseResult, text: &str) {
        use Within::{Circle, Doubles, Exactly, Singles};
        let kn = |mps: Option<f64>| mps.map(|mps| mps / MPS_PER_KN);
        match (ours, theirs) {
            (Body::Rmc(a), ParseResult::RMC(b)) => {
                self.time("rmc time", ours, b.fix_time.as_ref().map(microseconds), text);
                let day = a.said.date_us.map(|us| us as f64 / 86_400e6);
                // the crate takes 80 to 82 for 2080 to 2082
                if day.is_none_or(|day| day >= 4_748.0) {
                    self.value("rmc day", day, b.fix_date.as_ref().map(days), Exactly, text);
                }
                self.place(["rmc lat", "rmc lon"], a.position, (b.lat, b.lon), text);
                self.value("rmc speed", kn(a.sog_mps), b.speed_over_ground, Singles, text);
                self.value("rmc course", a.cog_deg, b.true_course, Circle, text);
                self.value("rmc variation", a.variation_deg, b.magnetic_variation, Singles, text);
            }
            (Body::Gga(a), ParseResult::GGA(b)) => {
                self.time("gga time", ours, b.fix_time.as_ref().map(microseconds), text);
                self.place(["gga lat", "gga lon"], a.position, (b.latitude, b.longitude), text);
                self.value("gga satellites", a.satellites(), b.fix_satellites, Exactly, text);
                self.value("gga hdop", a.hdop(), b.hdop, Singles, text);
                self.value("gga altitude", a.altitude_m(), b.altitude, Singles, text);
                self.value("gga geoid", a.geoid_m(), b.geoid_separation, Singles, text);
            }
            (Body::Gll(a), ParseResult::GLL(b)) => {
                self.time("gll time", ours, b.fix_time.as_ref().map(microseconds), text);
                self.place(["gll lat", "gll lon"], a.position, (b.latitude, b.longitude), text);
            }
            (Body::Gns(a), ParseResult::GNS(b)) => {
                self.time("gns time", ours, b.fix_time.as_ref().map(microseconds), text);
                self.place(["gns lat", "gns lon"], a.position, (b.lat, b.lon), text);
                self.value("gns satellites", a.satellites(), Some(f64::from(b.nsattelites)), Exactly, text);
                self.value("gns hdop", a.hdop(), b.hdop, Singles, text);
                self.value("gns altitude", a.altitude_m(), b.alt, Singles, text);
                self.value("gns geoid", a.geoid_m(), b.geoid_separation, Singles, text);
            }
            (Body::Vtg(a), ParseResult::VTG(b)) => {
                self.value("vtg course", a.cog_deg, b.true_course, Circle, text);
                // the crate looks for km/h where their unit stands
                if text.split(',').nth(5).is_some_and(|kn| !kn.is_empty()) {
                    self.value("vtg speed", kn(a.sog_mps), b.speed_over_ground, Singles, text);
                }
            }
            (Body::Zda(a), ParseResult::ZDA(b)) => {
                self.time("zda time", ours, b.utc_time.as_ref().map(microseconds), text);
                let day = a.said.date_us.map(|us| us as f64 / 86_400e6);
                // a year of two digits is one of that many for the crate
                if let Some(date) = b.utc_date().filter(|_| b.year >= Some(1980)) {
                    self.value("zda day", day, Some(days(&date)), Exactly, text);
                }
            }
            (Body::Dpt(a), ParseResult::DPT(b)) => {
                self.value("dpt depth", a.depth_m, b.water_depth, Exactly, text);
                self.value("dpt offset", a.offset_m, b.offset, Exactly, text);
                self.value("dpt range", a.range_m, b.max_range_scale, Exactly, text);
            }
            (Body::DepthBelow(a), ParseResult::DBK(b)) => {
                let depth_m = a.depth_m.filter(|_| b.depth_meters.is_some());
                self.value("dbk", depth_m, b.depth_meters, Exactly, text);
            }
            (Body::Mtw(a), ParseResult::MTW(b)) => {
                self.value("mtw", a.temp_c, b.temperature, Exactly, text);
            }
            (Body::Vhw(a), ParseResult::VHW(b)) => {
                let in_circle = |angle: Option<f64>| angle.map(|angle| angle % 360.0);
                self.value("vhw true", a.heading_true_deg, in_circle(b.heading_true), Exactly, text);
                self.value(
                    "vhw magnetic",
                    a.heading_magnetic_deg,
                    in_circle(b.heading_magnetic),
                    Exactly,
                    text,
                );
                let by_kmh = b.relative_speed_kmph.map(|kmh| kmh * MPS_PER_KMH / MPS_PER_KN);
                self.value("vhw speed", kn(a.stw_mps), b.relative_speed_knots.or(by_kmh), Doubles, text);
            }
            (Body::Heading(a), ParseResult::HDT(b)) => {
                self.value("hdt", a.heading_deg, b.heading, Circle, text);
            }
            (Body::Mwv(a), ParseResult::MWV(b)) => {
                self.value("mwv angle", a.angle_deg, b.wind_direction, Circle, text);
                let unit = text.split(',').nth(4).unwrap_or_default();
                let mps = [("N", MPS_PER_KN), ("K", MPS_PER_KMH), ("M", 1.0), ("S", MPS_PER_MPH)];
                let mps = mps.into_iter().find(|(letter, _)| *letter == unit).map_or(1.0, |(_, mps)| mps);
                self.value("mwv speed", a.speed_mps.map(|speed| speed / mps), b.wind_speed, Singles, text);
            }
            (Body::Mda(a), ParseResult::MDA(b)) => {
                self.value("mda water", a.water_temp_c, b.water_temp_deg, Singles, text);
                self.value("mda air", a.air_temp_c, b.air_temp_deg, Singles, text);
            }
            _ => {}
        }
    }
}

/// Whether latitude and longitude have two and three digits of degrees, where each has its letter.
fn has_usual_place(text: &str) -> bool {
    let fields: Vec<&str> = text.split(',').collect();
    let digits_before = |letters: [&str; 2], n: usize| {
        let at = fields.iter().position(|field| letters.contains(field)).filter(|at| *at > 0);
        at.is_none_or(|at| fields[at - 1].split('.').next().is_some_and(|whole| whole.len() == n))
    };
    digits_before(["N", "S"], 4) && digits_before(["E", "W"], 5)
}

/// Microseconds since midnight of a clock time as it is shown (`06:01:02.250`).
fn microseconds(time: &impl ToString) -> f64 {
    let text = time.to_string();
    let parts: Vec<f64> = text.split(':').map(|part| part.parse().expect("a number")).collect();
    ((parts[0] * 60.0 + parts[1]) * 60.0 + parts[2]) * 1e6
}

/// Days since 1970 of a date as it is shown (`2026-05-14`).
fn days(date: &impl ToString) -> f64 {
    let date: jiff::civil::Date = date.to_string().parse().expect("a date");
    date.duration_since(jiff::civil::Date::constant(1970, 1, 1)).as_secs() as f64 / 86_400.0
}

/// Draws sentences (xorshift64*, Vigna 2016).
struct Draw(u64);

impl Draw {
    fn below(&mut self, n: u64) -> u64 {
        self.0 ^= self.0 >> 12;
        self.0 ^= self.0 << 25;
        self.0 ^= self.0 >> 27;
        (self.0.wrapping_mul(0x2545_F491_4F6C_DD1D) >> 32) % n
    }

    /// One of some words.
    fn of(&mut self, words: &[&str]) -> String {
        words[self.below(words.len() as u64) as usize].to_owned()
    }

    fn digits(&mut self, n: u64) -> String {
        (0..n).map(|_| char::from(b'0' + self.below(10) as u8)).collect()
    }

    /// A number below a limit, written in one of many ways, or nothing.
    fn number(&mut self, below: u64) -> String {
        let whole = self.below(below);
        let decimals = self.below(9);
        match self.below(12) {
            0 => String::new(),
            1 => whole.to_string(),
            2 => format!("{whole:05}.{}", self.digits(decimals)),
            3 => format!(".{}", self.digits(decimals + 1)),
            4 => format!("{whole}.{}", self.digits(decimals + 8)),
            _ => format!("{whole}.{}", self.digits(decimals)),
        }
    }

    fn signed(&mut self, below: u64) -> String {
        let number = self.number(below);
        if number.is_empty() || self.below(3) > 0 { number } else { format!("-{number}") }
    }

    fn clock(&mut self) -> String {
        let clock = format!("{:02}{:02}{:02}", self.below(24), self.below(60), self.below(60));
        let decimals = self.below(8);
        match self.below(8) {
            0 => String::new(),
            1 => clock,
            _ => format!("{clock}.{}", self.digits(decimals)),
        }
    }

    fn place(&mut self) -> String {
        if self.below(10) == 0 {
            return ",,,".to_owned();
        }
        let (a, b) = (self.below(9), self.below(9));
        format!(
            "{:02}{:02}.{},{},{:03}{:02}.{},{}",
            self.below(90),
            self.below(60),
            self.digits(a),
            self.of(&["N", "S"]),
            self.below(180),
            self.below(60),
            self.digits(b),
            self.of(&["E", "W"]),
        )
    }

    fn fields(&mut self) -> String {
        let (clock, place) = (self.clock(), self.place());
        match self.below(13) {
            0 => {
                let date =
                    format!("{:02}{:02}{:02}", 1 + self.below(28), 1 + self.below(12), self.below(100));
                let date = if self.below(9) == 0 { String::new() } else { date };
                let variation = if self.below(2) == 0 {
                    ",".to_owned()
                } else {
                    format!("{}.{},{}", self.below(90), self.below(10), self.of(&["E", "W"]))
                };
                format!(
                    "RMC,{clock},{},{place},{},{},{date},{variation},{}",
                    self.of(&["A", "A", "A", "V"]),
                    self.number(60),
                    self.number(360),
                    self.of(&["A", "D", "A", "N"])
                )
            }
            1 => format!(
                "GGA,{clock},{place},{},{:02},{},{},M,{},M,,",
                self.below(9),
                self.below(20),
                self.number(9),
                self.signed(500),
                self.signed(90)
            ),
            2 => format!("GLL,{place},{clock},A,{}", self.of(&["A", "D"])),
            3 => format!(
                "GNS,{clock},{place},{},{:02},{},{},{},,",
                self.of(&["A", "AN", "DA"]),
                self.below(30),
                self.number(9),
                self.signed(500),
                self.signed(90)
            ),
            4 => format!(
                "VTG,{},T,{},M,{},N,{},K,A",
                self.number(360),
                self.number(360),
                self.number(60),
                self.number(110)
            ),
            5 => format!(
                "ZDA,{clock},{:02},{:02},{},00,00",
                1 + self.below(31),
                1 + self.below(12),
                1980 + self.below(120)
            ),
            6 => format!("DPT,{},{},{}", self.number(900), self.number(9), self.number(1000)),
            7 => format!("DBK,{},f,{},M,{},F", self.number(900), self.number(300), self.number(150)),
            8 => format!("MTW,{},C", self.signed(40)),
            9 => format!(
                "VHW,{},T,{},M,{},N,{},K",
                self.number(360),
                self.number(360),
                self.number(40),
                self.number(70)
            ),
            10 => format!("HDT,{},T", self.number(360)),
            11 => format!(
                "MWV,{},{},{},{},A",
                self.number(360),
                self.of(&["R", "T"]),
                self.number(90),
                self.of(&["N", "K", "M", "S"])
            ),
            _ => format!(
                "MDA,{},I,{},B,{},C,{},C,,,,C,,T,,M,,N,,M",
                self.number(40),
                self.number(2),
                self.signed(40),
                self.signed(30)
            ),
        }
    }

    /// A sentence, one in eight of them damaged before its checksum was taken.
    fn sentence(&mut self) -> String {
        let mut inside = self.of(&["GP", "GN", "II", "SD"]) + &self.fields();
        if self.below(8) == 0 {
            let at = self.below(inside.len() as u64) as usize;
            let instead = self.of(&[",", ".", "-", "0", "9", " ", "N", ""]);
            inside.replace_range(at..=at, &instead);
        }
        let sum = inside.bytes().fold(0, |sum, byte| sum ^ byte);
        format!("${inside}*{sum:02X}")
    }
}
