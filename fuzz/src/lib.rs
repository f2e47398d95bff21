//! What must hold for every file, whatever is in it?

use std::io::Write as _;

use flate2::{Compression, write::GzEncoder};
use waterseam_logs::boat::BoatFile;
use waterseam_logs::{Collected, Kind, NoteTime, SET_ASIDE_KEPT, SourceReport, Value, read_bytes};

/// Reads bytes, and asserts all that holds of any file.
///
/// # Panics
/// Where it does not hold.
pub fn read_and_check(name: &str, bytes: &[u8], boat: &BoatFile) -> (SourceReport, Collected) {
    let read = |name: &str, bytes: &[u8]| {
        let mut found = Collected::default();
        let report = read_bytes(name, bytes, boat, &mut found);
        (report, found)
    };
    let (report, found) = read(name, bytes);
    check(&report, &found, bytes);
    // what is packed arrives in other pieces and says the same; what looks packed already does not
    if !bytes.starts_with(b"\x1F\x8B") && !bytes.starts_with(b"PK") {
        let mut packed = GzEncoder::new(Vec::new(), Compression::fast());
        packed.write_all(bytes).expect("memory takes all");
        let packed = read(&format!("{name}.gz"), &packed.finish().expect("memory takes all"));
        assert_eq!((&report, &found), (&packed.0, &packed.1), "packed bytes say the same");
    } else {
        assert_eq!(
            (&report, &found),
            (&read(name, bytes).0, &read(name, bytes).1),
            "the same bytes say the same"
        );
    }
    (report, found)
}

/// Asserts that the account of a file adds up and that its values can be stored.
///
/// # Panics
/// Where they do not.
pub fn check(report: &SourceReport, found: &Collected, bytes: &[u8]) {
    let n_aside = report.records_set_aside();
    assert_eq!(report.records_read, report.records_used + report.records_not_needed + n_aside);
    let n_kept: u64 = report.set_aside.values().map(|n| (*n).min(SET_ASIDE_KEPT)).sum();
    assert_eq!(found.set_aside.len() as u64, n_kept);
    for record in &found.set_aside {
        assert!(report.set_aside.contains_key(record.reason));
        assert!(record.raw.chars().count() <= 200 && record.line >= 1 && record.byte <= report.bytes);
        let is_word = |reason: &str| reason.bytes().all(|b| b.is_ascii_lowercase() || b == b'_');
        assert!(is_word(record.reason), "{}", record.reason);
    }
    if report.kind.is_none() {
        assert_eq!((report.records_read, found), (0, &Collected::default()), "what is unknown gives nothing");
        assert!(!report.described.is_empty(), "what is unknown is described");
    }
    let line_ends = bytes.iter().filter(|b| matches!(b, b'\n' | b'\r')).count() as u64;
    if report.bytes == bytes.len() as u64 {
        assert!(found.set_aside.iter().all(|record| record.line <= line_ends + 2));
    }
    let inside = |time_us: i64| {
        report.time_first_us.is_some_and(|first| first <= time_us)
            && report.time_last_us.is_some_and(|last| time_us <= last)
    };
    for observation in &found.observations {
        assert!(inside(observation.time_us), "{observation:?}");
        check_value(&observation.value);
    }
    let at = |time: NoteTime| match time {
        NoteTime::Instant(time_us) => inside(time_us),
        NoteTime::Clock(clock_us) => (0..86_400_000_000).contains(&clock_us),
    };
    for bite in &found.bites {
        assert!(report.kind == Some(Kind::Bites) && at(bite.time), "{bite:?}");
        let amounts = [bite.depth_m, bite.line_out_m, bite.weight_kg, bite.length_m];
        assert!(amounts.into_iter().flatten().all(|amount| amount.is_finite() && amount >= 0.0), "{bite:?}");
    }
    for row in &found.gear {
        assert!(report.kind == Some(Kind::Gear) && (row.start.is_some() || row.end.is_some()), "{row:?}");
        assert!([row.start, row.end].into_iter().flatten().all(at), "{row:?}");
        let amounts = [row.line_out_m, row.colors, row.weight_kg, row.leader_m, row.depth_m];
        assert!(amounts.into_iter().flatten().all(|amount| amount.is_finite() && amount >= 0.0), "{row:?}");
    }
}

/// Asserts that a value can be stored: numbers are finite, angles are inside the circle.
///
/// # Panics
/// Where they are not.
pub fn check_value(value: &Value) {
    let good = match *value {
        Value::Fix { at, .. } | Value::Mark { at } => at.lat_deg.abs() <= 90.0 && at.lon_deg.abs() <= 180.0,
        Value::GroundVelocity { sog_mps, cog_deg } => {
            sog_mps.is_finite() && sog_mps >= 0.0 && cog_deg.is_none_or(is_angle)
        }
        Value::WaterTemp { temp_c } => temp_c.is_finite(),
        Value::WaterDepth { depth_m, offset_m, .. } => {
            depth_m.is_finite() && offset_m.is_none_or(f64::is_finite)
        }
        Value::WaterSpeed { stw_mps, across_mps } => {
            stw_mps.is_finite() && across_mps.is_none_or(f64::is_finite)
        }
        Value::Heading { heading_deg, .. } => is_angle(heading_deg),
        Value::ReportedCurrent { set_deg, drift_mps, .. } => {
            is_angle(set_deg) && drift_mps.is_finite() && drift_mps >= 0.0
        }
        Value::Wind { speed_mps, from_deg, .. } => {
            speed_mps.is_finite() && speed_mps >= 0.0 && is_angle(from_deg)
        }
        Value::Probe { depth_m, temp_c, speed_mps } => {
            [Some(depth_m), temp_c, speed_mps].into_iter().flatten().all(f64::is_finite)
        }
    };
    assert!(good, "{value:?}");
}

fn is_angle(angle_deg: f64) -> bool {
    (0.0..360.0).contains(&angle_deg)
}

/// A sentence around a body, with its checksum: exclusive or of all bytes between `$` and `*` (NMEA 0183).
#[must_use]
pub fn sentence(start: u8, body: &[u8]) -> Vec<u8> {
    let sum = body.iter().fold(0, |sum, byte| sum ^ byte);
    [&[start], body, format!("*{sum:02X}").as_bytes()].concat()
}

/// One of a few boat files, chosen by a byte.
///
/// # Panics
/// Where one of them is not read.
#[must_use]
pub fn boat(choice: u8) -> BoatFile {
    let texts = [
        "",
        "date_order = \"day-first\"\nunits = \"metric\"",
        "date_order = \"month-first\"\ntime_zone = \"America/Toronto\"\nmarks = \"bites\"",
        "time_zone = \"Asia/Kathmandu\"\nunits = \"marine\"\n[columns]\n\"1\" = \"surface_temp_c\"\n\"Wasser\" = \"temp_c\"",
    ];
    BoatFile::from_toml(texts[usize::from(choice) % texts.len()], "boat.toml").expect("these are right")
}
