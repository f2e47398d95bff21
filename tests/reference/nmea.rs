//! Does every reference sentence decode as its definition says?
//!
//! Sources (in the head of the two tables): the public description "NMEA Revealed" (E. S. Raymond) and
//! pynmea2 1.19.0. `yes`, `no` and `ignore` are met exactly; for `policy` rows the choice is in [`POLICIES`].

mod common;

use std::collections::{BTreeMap, BTreeSet};

use common::{Row, table};
use waterseam_logs::boat::BoatFile;
use waterseam_logs::nmea::{Body, Candidate, Position, Reason, SaidTime, candidates, decode, read};
use waterseam_logs::{Collected, DepthReference, North, SourceReport, Value};

/// What becomes of the rows on which references differ: how many values come out, or why none.
const POLICIES: [(&str, Result<usize, Reason>, &str); 15] = [
    ("n014", Err(Reason::VoidFix), "dead reckoning is no fix; the time counts"),
    ("n015", Err(Reason::Simulated), "a simulator's data does not enter a log"),
    ("n022", Ok(2), "degrees are what stands before the last two digits of the whole minutes"),
    ("n024", Ok(2), "a checksum may be missing where all fields are there"),
    ("n031", Ok(2), "a leap second is the first second of the next minute"),
    ("n042", Err(Reason::VoidFix), "dead reckoning is no fix; the time counts"),
    ("n043", Err(Reason::Simulated), "a simulator's data does not enter a log"),
    ("n089", Err(Reason::DepthZero), "a depth of zero is a lost bottom"),
    ("n104", Ok(1), "a plus sign is a sign"),
    ("n105", Ok(1), "Celsius is the only unit of the standard"),
    ("n106", Ok(1), "Celsius is the only unit of the standard"),
    ("n108", Ok(1), "Fahrenheit is converted"),
    ("n117", Ok(0), "complete groups count, and T1 is not said to be in the water"),
    ("n138", Ok(1), "a TAG block with a wrong checksum is passed over, its sentence is not"),
    ("n147", Ok(1), "the sentence that another ran into is found again"),
];

/// Reasons that a row marked `yes` may be set aside for: the sentence itself says that it has no value.
const SAYS_SO_ITSELF: [&str; 2] = ["void_fix", "status_invalid"];

#[test]
fn every_line_is_judged_as_the_table_says() {
    let mut seen = BTreeMap::new();
    for row in table("nmea_sentences.csv") {
        let (case, accept) = (row.text("case_id"), row.text("accept"));
        *seen.entry(accept.to_owned()).or_insert(0) += 1;
        let decoded: Vec<_> = sentences(&row).iter().map(|c| c.frame.and_then(|f| f.decode())).collect();
        let account = account_of(&row);
        match accept {
            "yes" => {
                assert!(decoded.len() == 1 && decoded[0].is_ok(), "{case}: {decoded:?}");
                assert_ne!(decoded[0].unwrap().body, Body::NotNeeded, "{case}");
                let aside: Vec<_> = account.set_aside.keys().collect();
                assert!(aside.iter().all(|reason| SAYS_SO_ITSELF.contains(reason)), "{case}: {aside:?}");
            }
            "no" => {
                assert!(decoded.iter().all(Result::is_err), "{case}: {decoded:?}");
                assert_eq!((account.records_read, account.records_set_aside()), (1, 1), "{case}");
            }
            "ignore" => {
                assert_eq!((account.records_used, account.records_set_aside()), (0, 0), "{case}");
                let blank = row.text("line").trim().is_empty();
                assert_eq!(account.records_not_needed, u64::from(!blank), "{case}");
            }
            "policy" => policy_holds(case, &row),
            other => panic!("{case}: accept = {other}"),
        }
    }
    // a table that lost rows would check less than it seems to
    assert_eq!(seen.values().sum::<i32>(), 163, "{seen:?}");
    assert_eq!(seen["policy"], POLICIES.len() as i32);
}

fn policy_holds(case: &str, row: &Row) {
    let (_, want, why) =
        POLICIES.iter().find(|(id, ..)| *id == case).unwrap_or_else(|| panic!("{case}: no choice"));
    let last = sentences(row).pop().expect("a sentence");
    let body = last.frame.and_then(|frame| frame.decode()).unwrap_or_else(|e| panic!("{case}: {e:?}")).body;
    let mut n = 0;
    let got = body.values(&mut |_: Value| n += 1).map(|()| n);
    assert_eq!(got, *want, "{case}: {why}");
}

#[test]
fn every_field_has_the_value_of_the_table() {
    let mut want: BTreeMap<String, Vec<Row>> = BTreeMap::new();
    for row in table("nmea_fields.csv") {
        want.entry(row.text("case_id").to_owned()).or_default().push(row);
    }
    let mut n = 0;
    for row in table("nmea_sentences.csv") {
        let case = row.text("case_id");
        let mut got = BTreeMap::new();
        for candidate in sentences(&row) {
            if let Some(decoded) = candidate.frame.ok().and_then(|frame| frame.decode().ok()) {
                got = fields(&candidate, &decoded.body);
            }
        }
        let rows = want.remove(case).unwrap_or_default();
        for row in &rows {
            let field = row.text("field");
            let value = got.get(field).unwrap_or_else(|| panic!("{case}: {field} is missing"));
            value.check(&format!("{case} {field}"), row.text("value"));
            n += 1;
        }
        // an absent field is empty in the sentence and must stay missing
        let named: BTreeSet<_> = rows.iter().map(|row| row.text("field")).collect();
        // of some policy rows the table lists nothing, and of none whether the fix is usable
        let policy = row.text("accept") == "policy";
        let open = |field: &str| policy && (rows.is_empty() || field == "fix_usable");
        let extra: Vec<_> = got.keys().filter(|field| !named.contains(**field) && !open(field)).collect();
        assert!(extra.is_empty(), "{case}: not in the sentence: {extra:?}");
    }
    assert!(want.is_empty(), "rows without a sentence: {:?}", want.keys());
    assert_eq!(n, 633, "rows of the table");
}

#[test]
fn the_first_sentence_of_a_text_is_decoded() {
    assert!(decode(b"2026-05-14T06:01:02Z $YXMTW,17.1,C*15\r\n").is_ok());
    assert_eq!(decode(b"no sentence"), Err(Reason::NoSentence));
}

fn sentences(row: &Row) -> Vec<Candidate<'_>> {
    candidates(row.text("line").as_bytes()).collect()
}

/// Account of the line alone, in a log whose clock is known.
fn account_of(row: &Row) -> SourceReport {
    let before = "$GPZDA,000000,14,05,2026,,*4E\r\n$GPZDA,000001,14,05,2026,,*4F\r\n";
    let account = |text: &str| {
        let (mut report, mut sink) = (SourceReport::default(), Collected::default());
        read(&mut text.as_bytes(), &BoatFile::default(), "log", &mut report, &mut sink)
            .expect("memory can be read");
        let sum = report.records_used + report.records_not_needed + report.records_set_aside();
        assert_eq!(report.records_read, sum, "{text}");
        report
    };
    let (mut with, without) = (account(&format!("{before}{}\r\n", row.text("line"))), account(before));
    assert_eq!(without.records_used, 2);
    with.records_read -= without.records_read;
    with.records_used -= without.records_used;
    with
}

/// A decoded value in the terms of the table.
#[derive(Debug)]
enum Got {
    Number(f64),
    Text(String),
    Date(i64),
    TimeOfDay(i64),
}

impl Got {
    fn check(&self, case: &str, want: &str) {
        match self {
            Self::Text(got) => assert_eq!(got, want, "{case}"),
            Self::Number(got) => {
                let want: f64 = want.parse().unwrap_or_else(|_| panic!("{case}: {want} is no number"));
                common::close(case, *got, want, 1e-9 * want.abs().max(1e-3));
            }
            Self::Date(got) => {
                let day: jiff::civil::Date = want.parse().unwrap_or_else(|e| panic!("{case}: {e}"));
                let since = day.duration_since(jiff::civil::date(1970, 1, 1));
                assert_eq!(*got, since.as_secs() * 1_000_000, "{case}");
            }
            Self::TimeOfDay(got) => {
                let parts: Vec<f64> = want.split(':').map(|part| part.parse().expect(case)).collect();
                let seconds = (parts[0] * 60.0 + parts[1]) * 60.0 + parts[2];
                assert_eq!(*got, (seconds * 1e6).round() as i64, "{case}");
            }
        }
    }
}

type Fields = BTreeMap<&'static str, Got>;

/// Every field of a sentence by its name in the table.
fn fields(candidate: &Candidate, body: &Body) -> Fields {
    let mut all = Fields::new();
    let f = &mut all;
    if let Some(tag) = candidate.tag {
        text(f, "tag_source", tag.source);
        number(f, "tag_unix_time_s", tag.time_us.map(|us| us as f64 / 1e6));
    }
    match body {
        Body::Rmc(rmc) => {
            said(f, rmc.said);
            position(f, rmc.position);
            letter(f, "status", rmc.status);
            number(f, "sog_mps", rmc.sog_mps);
            number(f, "cog_true_deg", rmc.cog_deg);
            number(f, "variation_deg_east", rmc.variation_deg);
            letter(f, "faa_mode", rmc.mode);
            letter(f, "nav_status", rmc.nav_status);
            flag(f, "fix_usable", rmc.is_usable());
        }
        Body::Gga(gga) => {
            said(f, gga.said);
            position(f, gga.position);
            number(f, "fix_quality", gga.quality.map(f64::from));
            number(f, "num_sats", gga.satellites());
            number(f, "hdop", gga.hdop());
            number(f, "altitude_msl_m", gga.altitude_m());
            number(f, "geoid_sep_m", gga.geoid_m());
            number(f, "dgps_age_s", gga.differential_age_s());
            flag(f, "fix_usable", gga.is_usable());
        }
        Body::Gll(gll) => {
            said(f, gll.said);
            position(f, gll.position);
            letter(f, "status", gll.status);
            letter(f, "faa_mode", gll.mode);
            flag(f, "fix_usable", gll.is_usable());
        }
        Body::Gns(gns) => {
            said(f, gns.said);
            position(f, gns.position);
            text(f, "gns_mode", Some(gns.modes));
            number(f, "num_sats", gns.satellites());
            number(f, "hdop", gns.hdop());
            number(f, "altitude_msl_m", gns.altitude_m());
            number(f, "geoid_sep_m", gns.geoid_m());
            flag(f, "fix_usable", gns.is_usable());
        }
        Body::Vtg(vtg) => {
            number(f, "cog_true_deg", vtg.cog_deg);
            number(f, "cog_mag_deg", vtg.cog_magnetic_deg);
            number(f, "sog_mps", vtg.sog_mps);
            letter(f, "faa_mode", vtg.mode);
        }
        Body::Zda(zda) => {
            said(f, zda.said);
            number(f, "local_zone_min", zda.zone_minutes);
        }
        Body::Wpl(wpl) => {
            position(f, wpl.position);
            text(f, "waypoint_id", Some(wpl.name));
        }
        _ => instruments(f, body),
    }
    all
}

fn instruments(f: &mut Fields, body: &Body) {
    match body {
        Body::Mtw(mtw) => number(f, "water_temp_c", mtw.temp_c),
        Body::Dpt(dpt) => {
            number(f, "depth_below_transducer_m", dpt.depth_m);
            number(f, "transducer_offset_m", dpt.offset_m);
            number(f, "range_scale_m", dpt.range_m);
            number(f, "depth_below_surface_m", dpt.depth_below(DepthReference::Surface));
            number(f, "depth_below_keel_m", dpt.depth_below(DepthReference::Keel));
        }
        Body::DepthBelow(depth) => {
            let name = match depth.reference {
                DepthReference::Surface => "depth_below_surface_m",
                DepthReference::Transducer => "depth_below_transducer_m",
                DepthReference::Keel => "depth_below_keel_m",
            };
            number(f, name, depth.depth_m);
        }
        Body::Vhw(vhw) => {
            number(f, "heading_true_deg", vhw.heading_true_deg);
            number(f, "heading_mag_deg", vhw.heading_magnetic_deg);
            number(f, "stw_mps", vhw.stw_mps);
        }
        Body::Vbw(vbw) => {
            number(f, "water_long_mps", vbw.water.along_mps);
            number(f, "water_trans_mps", vbw.water.across_mps);
            number(f, "ground_long_mps", vbw.ground.along_mps);
            number(f, "ground_trans_mps", vbw.ground.across_mps);
            number(f, "stern_water_trans_mps", vbw.stern_water_across_mps);
            flag(f, "water_usable", vbw.water.is_usable());
            flag(f, "ground_usable", vbw.ground.is_usable());
        }
        Body::Vdr(vdr) => {
            number(f, "set_true_deg", vdr.set_deg);
            number(f, "set_mag_deg", vdr.set_magnetic_deg);
            number(f, "drift_mps", vdr.drift_mps);
        }
        Body::Hdg(hdg) => {
            number(f, "heading_sensor_deg", hdg.sensor_deg);
            number(f, "deviation_deg_east", hdg.deviation_deg);
            number(f, "variation_deg_east", hdg.variation_deg);
            number(f, "heading_mag_deg", hdg.magnetic_deg());
            number(f, "heading_true_deg", hdg.true_deg());
        }
        Body::Heading(heading) => {
            let name = if heading.north == North::True { "heading_true_deg" } else { "heading_mag_deg" };
            number(f, name, heading.heading_deg);
        }
        Body::Mda(mda) => {
            number(f, "pressure_pa", mda.pressure_pa);
            number(f, "air_temp_c", mda.air_temp_c);
            number(f, "water_temp_c", mda.water_temp_c);
            number(f, "rel_humidity_pct", mda.humidity_percent);
            number(f, "dew_point_c", mda.dew_point_c);
            number(f, "wind_dir_true_deg", mda.wind.from_true_deg);
            number(f, "wind_dir_mag_deg", mda.wind.from_magnetic_deg);
            number(f, "wind_speed_mps", mda.wind.speed_mps);
        }
        Body::Mwv(mwv) => {
            number(f, "wind_angle_deg", mwv.angle_deg);
            letter(f, "wind_reference", mwv.reference);
            number(f, "wind_speed_mps", mwv.speed_mps);
            letter(f, "status", mwv.status);
            flag(f, "data_usable", mwv.is_usable());
        }
        Body::Mwd(mwd) => {
            number(f, "wind_dir_true_deg", mwd.from_true_deg);
            number(f, "wind_dir_mag_deg", mwd.from_magnetic_deg);
            number(f, "wind_speed_mps", mwd.speed_mps);
        }
        Body::Xdr(xdr) => {
            for (names, transducer) in XDR_NAMES.iter().zip(xdr.transducers()) {
                text(f, names[0], Some(transducer.kind));
                number(f, names[1], transducer.value);
                text(f, names[2], Some(transducer.unit));
                text(f, names[3], Some(transducer.name));
                number(f, names[4], transducer.temp_c());
                number(f, names[5], transducer.pressure_pa());
            }
        }
        Body::NotNeeded => {}
        other => panic!("the table has no {other:?}"),
    }
}

macro_rules! xdr_names {
    ($($n:literal),*) => {
        [$([
            concat!("xdr", $n, "_type"), concat!("xdr", $n, "_value"), concat!("xdr", $n, "_unit"),
            concat!("xdr", $n, "_name"), concat!("xdr", $n, "_temperature_c"), concat!("xdr", $n, "_pressure_pa"),
        ]),*]
    };
}

const XDR_NAMES: [[&str; 6]; 6] = xdr_names!(1, 2, 3, 4, 5, 6);

fn number(f: &mut Fields, name: &'static str, value: Option<f64>) {
    f.extend(value.map(|value| (name, Got::Number(value))));
}

fn letter(f: &mut Fields, name: &'static str, value: Option<u8>) {
    f.extend(value.map(|value| (name, Got::Text(char::from(value).to_string()))));
}

fn text(f: &mut Fields, name: &'static str, value: Option<&[u8]>) {
    let value = value.filter(|value| !value.is_empty());
    f.extend(value.map(|value| (name, Got::Text(String::from_utf8_lossy(value).into_owned()))));
}

fn flag(f: &mut Fields, name: &'static str, value: bool) {
    f.insert(name, Got::Number(f64::from(u8::from(value))));
}

fn said(f: &mut Fields, said: SaidTime) {
    f.extend(said.time_of_day_us.map(|us| ("time_utc", Got::TimeOfDay(us))));
    f.extend(said.date_us.map(|us| ("date_utc", Got::Date(us))));
}

fn position(f: &mut Fields, position: Position) {
    number(f, "lat_deg", position.lat_deg);
    number(f, "lon_deg", position.lon_deg);
}
