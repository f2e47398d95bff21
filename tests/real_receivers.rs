//! Do the sentences of real receivers say here what they say to decoders that are not ours?
//!
//! `real-receivers/` holds recordings from the sources of gpsd 3.22 and others, what pynmea2 1.19.0 reads in each
//! sentence and what gpsd reports behind it; `real_receivers.py` made them. Each difference stands with its reason in
//! `real-receivers/differences.csv`; one that is not there fails the test, and so does one that is there no more.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::PathBuf;

use waterseam_logs::boat::BoatFile;
use waterseam_logs::nmea::{Body, candidates};
use waterseam_logs::{Collected, Kind, read_bytes};
use waterseam_units::convert::MPS_PER_KN;

/// Both decoders work in doubles on the same digits.
const RELATIVE: f64 = 1e-9;

/// What a sentence says, by column of the tables.
type Said = BTreeMap<&'static str, f64>;

/// Difference: file, byte, column, ours, theirs.
type Difference = (String, u64, String, String, String);

#[test]
fn every_sentence_says_what_pynmea2_reads() {
    let columns = [
        "time_s",
        "date",
        "lat_deg",
        "lon_deg",
        "sog_kn",
        "cog_deg",
        "temp_c",
        "depth_m",
        "heading_deg",
        "stw_kn",
    ];
    let mut ours = decoded_files();
    let mut differences = BTreeSet::new();
    let mut n_values = BTreeMap::new();
    let mut n = 0;
    for row in rows("pynmea2.csv") {
        n += 1;
        let place = (row["file"].clone(), row["byte"].parse::<u64>().expect("a byte"));
        let theirs_refused = !row["refused"].is_empty();
        let mut differs = |column: &str, ours: String, theirs: String| {
            differences.insert((place.0.clone(), place.1, column.to_owned(), ours, theirs));
        };
        let Some(said) = ours.remove(&place) else {
            differs("sentence", "not found".to_owned(), row["type"].clone());
            continue;
        };
        let said = match (said, theirs_refused) {
            (Ok(said), false) => said,
            (Err(_), true) => continue,
            (Ok(_), true) => {
                differs("sentence", "decoded".to_owned(), format!("refused ({})", row["refused"]));
                continue;
            }
            (Err(reason), false) => {
                differs("sentence", format!("refused ({reason})"), "decoded".to_owned());
                continue;
            }
        };
        for column in columns {
            let got = said.get(column).copied();
            let want = match (column, row[column].as_str()) {
                (_, "") => None,
                ("date", text) => Some(day(text)),
                (_, text) => Some(text.parse().expect("a number")),
            };
            *n_values.entry(column).or_insert(0_u32) += u32::from(got.is_some() && want.is_some());
            let same = match (got, want) {
                (Some(got), Some(want)) => agree(column, got, want),
                (None, None) => true,
                _ => false,
            };
            if !same {
                let shown = |value: Option<f64>| value.map_or(String::new(), |value| value.to_string());
                differs(column, shown(got), shown(want));
            }
        }
    }
    // what we read and the script's pattern did not find
    for ((file, byte), said) in ours {
        if said.is_ok() {
            differences.insert((
                file,
                byte,
                "sentence".to_owned(),
                "decoded".to_owned(),
                "not found".to_owned(),
            ));
        }
    }
    compare("pynmea2", &differences);
    assert!(n > 5000, "{n} sentences");
    for (column, least) in
        [("lat_deg", 3000), ("sog_kn", 1500), ("cog_deg", 1000), ("temp_c", 350), ("depth_m", 650)]
    {
        assert!(n_values[column] >= least, "{column}: {n_values:?}");
    }
}

#[test]
fn every_report_of_gpsd_says_what_its_sentence_does() {
    let ours = decoded_files();
    let mut differences = BTreeSet::new();
    let mut n_values = 0;
    for row in rows("gpsd.csv") {
        let (file, byte) = (row["file"].clone(), row["byte"].parse::<u64>().expect("a byte"));
        let said = ours.get(&(file.clone(), byte)).and_then(|said| said.as_ref().ok());
        let empty = Said::new();
        let said = said.unwrap_or(&empty);
        // half of the last place that gpsd prints
        for (column, of, scale, within) in [
            ("lat_deg", "lat_deg", 1.0, 0.5e-9),
            ("lon_deg", "lon_deg", 1.0, 0.5e-9),
            ("speed_mps", "sog_kn", MPS_PER_KN, 0.5e-3),
            ("track_deg", "cog_deg", 1.0, 0.5e-4),
            ("depth_m", "depth_m", 1.0, 0.5e-3),
        ] {
            let Ok(want) = row[column].parse::<f64>() else { continue };
            let got = said.get(of).map(|value| value * scale);
            n_values += 1;
            // 1e-12 for the rounding of the comparison itself
            let same = got.is_some_and(|got| (got - want).abs() <= within + 1e-12);
            if !same {
                let shown = got.map_or(String::new(), |got| format!("{got:.10}"));
                differences.insert((file.clone(), byte, column.to_owned(), shown, row[column].clone()));
            }
        }
    }
    compare("gpsd", &differences);
    assert!(n_values > 3000, "{n_values}");
}

#[test]
fn every_recording_is_read_and_accounted_for() {
    let mut n = 0;
    for (file, bytes) in recordings() {
        let mut found = Collected::default();
        let report = read_bytes(&file, &bytes, &BoatFile::default(), &mut found);
        assert_eq!(report.kind, Some(Kind::Nmea0183), "{file}: {}", report.described);
        let sum = report.records_used + report.records_not_needed + report.records_set_aside();
        assert_eq!((report.records_read, report.bytes), (sum, bytes.len() as u64), "{file}");
        n += 1;
    }
    assert!(n >= 90, "{n}");
}

fn agree(column: &str, got: f64, want: f64) -> bool {
    let apart = (got - want).abs();
    let circle = matches!(column, "cog_deg" | "heading_deg") && (apart - 360.0).abs() < 1e-9;
    apart <= RELATIVE * want.abs().max(1e-3) || circle
}

/// What each sentence of each recording says, or why it was refused, by file and byte. Only types that are compared.
fn decoded_files() -> BTreeMap<(String, u64), Result<Said, String>> {
    let mut all = BTreeMap::new();
    for (file, bytes) in recordings() {
        let mut start = 0;
        for line in bytes.split(|b| matches!(b, b'\n' | b'\r')) {
            for candidate in candidates(line) {
                let Ok(frame) = candidate.frame else { continue };
                let said = match frame.decode().map(|decoded| decoded.body) {
                    Ok(Body::NotNeeded | Body::Vwr(_)) => continue,
                    Ok(body) => Ok(said(&body)),
                    Err(reason) => Err(reason.word().to_owned()),
                };
                all.insert((file.clone(), (start + candidate.start) as u64), said);
            }
            start += line.len() + 1;
        }
    }
    all
}

fn said(body: &Body) -> Said {
    let mut said = Said::new();
    let mut put = |column, value: Option<f64>| {
        if let Some(value) = value {
            said.insert(column, value);
        }
    };
    let time = body.said().unwrap_or_default();
    put("time_s", time.time_of_day_us.map(|us| us as f64 / 1e6));
    put("date", time.date_us.map(|us| us as f64 / 86_400e6));
    let position = match body {
        Body::Rmc(rmc) => Some(rmc.position),
        Body::Gga(gga) => Some(gga.position),
        Body::Gll(gll) => Some(gll.position),
        Body::Gns(gns) => Some(gns.position),
        Body::Wpl(wpl) => Some(wpl.position),
        _ => None,
    };
    put("lat_deg", position.and_then(|at| at.lat_deg));
    put("lon_deg", position.and_then(|at| at.lon_deg));
    let (sog_mps, cog_deg) = match body {
        Body::Rmc(rmc) => (rmc.sog_mps, rmc.cog_deg),
        Body::Vtg(vtg) => (vtg.sog_mps, vtg.cog_deg),
        _ => (None, None),
    };
    put("sog_kn", sog_mps.map(|mps| mps / MPS_PER_KN));
    put("cog_deg", cog_deg);
    match body {
        Body::Mtw(water) => put("temp_c", water.temp_c),
        Body::Mda(mda) => put("temp_c", mda.water_temp_c),
        Body::Dpt(dpt) => put("depth_m", dpt.depth_m),
        Body::DepthBelow(depth) => put("depth_m", depth.depth_m),
        Body::Vhw(vhw) => {
            put("stw_kn", vhw.stw_mps.map(|mps| mps / MPS_PER_KN));
            put("heading_deg", vhw.heading_true_deg);
        }
        Body::Hdg(hdg) => put("heading_deg", hdg.sensor_deg),
        Body::Heading(heading) => put("heading_deg", heading.heading_deg),
        _ => {}
    }
    said
}

/// Days since 1970 of `2006-09-16`.
fn day(text: &str) -> f64 {
    let date: jiff::civil::Date = text.parse().expect("a date");
    date.duration_since(jiff::civil::Date::constant(1970, 1, 1)).as_secs() as f64 / 86_400.0
}

/// Fails unless the differences from a decoder are those of the table, each with its reason.
fn compare(decoder: &str, differences: &BTreeSet<Difference>) {
    let explained: BTreeSet<Difference> = rows("differences.csv")
        .into_iter()
        .filter(|row| row["decoder"] == decoder)
        .map(|row| {
            assert!(!row["why"].is_empty(), "{row:?}");
            let text = |column: &str| row[column].clone();
            (text("file"), row["byte"].parse().expect("a byte"), text("column"), text("ours"), text("theirs"))
        })
        .collect();
    let shown = |differences: Vec<&Difference>| -> String {
        let line = |(file, byte, column, ours, theirs): &Difference| {
            format!("{decoder},{file},{byte},{column},{ours},{theirs},\n")
        };
        differences.into_iter().map(line).collect()
    };
    let (new, gone) = (differences.difference(&explained), explained.difference(differences));
    let (new, gone) = (shown(new.collect()), shown(gone.collect()));
    assert!(new.is_empty() && gone.is_empty(), "not explained:\n{new}no difference any more:\n{gone}");
}

fn folder() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../../tests/real-receivers")
}

fn recordings() -> Vec<(String, Vec<u8>)> {
    let files = rows("sources.csv").into_iter().map(|row| row["file"].clone());
    files.map(|file| (file.clone(), fs::read(folder().join(file)).expect("a recording"))).collect()
}

/// The rows of a table, by heading.
fn rows(name: &str) -> Vec<BTreeMap<String, String>> {
    let mut reader = csv::ReaderBuilder::new()
        .comment(Some(b'#'))
        .from_path(folder().join(name))
        .unwrap_or_else(|error| panic!("{name}: {error}"));
    let rows = reader.deserialize().map(|row| row.unwrap_or_else(|error| panic!("{name}: {error}")));
    rows.collect()
}
