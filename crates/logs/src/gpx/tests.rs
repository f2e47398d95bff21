use std::fmt::Write as _;

use proptest::prelude::*;
use waterseam_units::LatLon;
use waterseam_units::time::US_PER_S;

use crate::boat::BoatFile;
use crate::observation::{DepthReference, FixKind, Value};
use crate::source::{Collected, Kind, SourceReport};
use crate::testing::read_bytes;

/// 2026-06-14T05:12:03Z.
const START_US: i64 = 1_781_413_923 * US_PER_S;

fn gpx(text: &str) -> (SourceReport, Collected) {
    let (report, found) = read_bytes("x.gpx", text.as_bytes(), &BoatFile::default());
    assert_eq!(report.kind, Some(Kind::Gpx), "{text}");
    assert!(accounted_for(&report), "{report:?}");
    (report, found)
}

fn accounted_for(report: &SourceReport) -> bool {
    report.records_read == report.records_used + report.records_not_needed + report.records_set_aside()
}

fn fix(lat: f64, lon: f64) -> Value {
    Value::Fix { at: LatLon::new(lat, lon).unwrap(), from: FixKind::Row }
}

fn timed(found: &Collected) -> Vec<(i64, Value)> {
    found.observations.iter().map(|o| ((o.time_us - START_US) / US_PER_S, o.value)).collect()
}

/// Track points between the tags that a file of version 1.1 has around them.
fn track(points: &str) -> String {
    format!(
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<gpx version=\"1.1\" creator=\"test\">\n<trk><trkseg>\n{points}\n\
         </trkseg></trk></gpx>\n"
    )
}

fn point(second: i64, inside: &str) -> String {
    format!(
        "<trkpt lat=\"46.2\" lon=\"-29.4\"><time>2026-06-14T05:12:{:02}Z</time>{inside}</trkpt>\n",
        3 + second
    )
}

#[test]
fn a_track_of_version_1_1_with_extensions_of_two_namespaces() {
    // element names and units: GPX 1.1 schema; the extensions are invented
    let text = r#"<?xml version="1.0" encoding="UTF-8"?>
<gpx version="1.1" creator="Kittiwake" xmlns="http://www.topografix.com/GPX/1/1"
     xmlns:a="https://alder-harbour.example/a" xmlns:b="https://alder-harbour.example/b">
  <metadata><time>1999-01-01T00:00:00Z</time></metadata>
  <trk><name>Day &amp; night</name><trkseg>
    <trkpt lat="46.2" lon="-29.4"><ele>0</ele><time>2026-06-14T05:12:03Z</time>
      <extensions><a:Point><a:atemp>25.5</a:atemp><a:wtemp>8.4</a:wtemp><a:depth>61.2</a:depth></a:Point>
      <b:speed>1.25</b:speed><b:course>360</b:course></extensions></trkpt>
    <trkpt lat="46.2001" lon="-29.4"><time>2026-06-14T03:12:04.000-02:00</time>
      <extensions><b:water_temp unit="F">50</b:water_temp><b:time>1999-01-01T00:00:00Z</b:time></extensions></trkpt>
  </trkseg></trk>
</gpx>"#;
    let (report, found) = gpx(text);
    let depth = Value::WaterDepth { depth_m: 61.2, reference: DepthReference::Surface, offset_m: None };
    assert_eq!(
        timed(&found),
        [
            (0, fix(46.2, -29.4)),
            (0, Value::GroundVelocity { sog_mps: 1.25, cog_deg: Some(0.0) }),
            (0, Value::WaterTemp { temp_c: 8.4 }),
            (0, depth),
            (1, fix(46.2001, -29.4)),
            (1, Value::WaterTemp { temp_c: 10.0 }),
        ]
    );
    assert_eq!((report.records_read, report.records_used), (2, 2));
    assert_eq!(report.contents["track point"], 2);
    assert_eq!(report.remarks, Vec::<String>::new());
}

#[test]
fn a_track_of_version_1_0() {
    // speed in m/s and course in degrees true are elements of the point: GPX 1.0 schema
    let text = r#"<gpx version="1.0" creator="x" xmlns="http://www.topografix.com/GPX/1/0"><time>2020-01-01T00:00:00Z</time>
<trk><trkseg><trkpt lat="46.2" lon="180"><ele>0.0</ele><time>2026-06-14T05:12:03</time><course>91.5</course><speed>1,5</speed>
<temp>8.25 °C</temp></trkpt></trkseg></trk></gpx>"#;
    let (report, found) = gpx(text);
    assert_eq!(
        timed(&found),
        [
            (0, fix(46.2, 180.0)),
            (0, Value::GroundVelocity { sog_mps: 1.5, cog_deg: Some(91.5) }),
            (0, Value::WaterTemp { temp_c: 8.25 }),
        ]
    );
    assert_eq!(report.clock_offset_method, Some("utc_stated"), "GPX times are UTC");
}

#[test]
fn waypoints_are_marks_at_their_time_and_routes_are_plans() {
    let text = r#"<gpx version="1.1"><wpt lat="46.2" lon="-29.4"><time>2026-06-14T05:12:03Z</time><name>hit</name></wpt>
<wpt lat="46.3" lon="-29.4"><name>dock</name></wpt><wpt lat="46.3" lon="-29.4"/>
<rte><rtept lat="46.2" lon="-29.4"/></rte></gpx>"#;
    let (report, found) = gpx(text);
    assert_eq!(timed(&found), [(0, Value::Mark { at: LatLon::new(46.2, -29.4).unwrap() })]);
    assert_eq!((report.records_read, report.records_not_needed), (4, 1));
    assert_eq!(report.set_aside["waypoint_without_time"], 2);
    let place = &found.set_aside[0];
    assert_eq!((place.line, place.raw.as_str()), (2, r#"<wpt lat="46.3" lon="-29.4">"#));
    assert!(text[place.byte as usize..].starts_with(&place.raw));
}

#[test]
fn a_bad_point_loses_nothing_but_itself() {
    let bad = [
        (r#"<trkpt lat="46.2" lon="-29.4"></trkpt>"#, "no_time"),
        (r#"<trkpt lat="46.2" lon="-29.4"><time>at noon</time></trkpt>"#, "bad_time"),
        (r#"<trkpt lat="96.2" lon="-29.4"><time>2026-06-14T05:12:09Z</time></trkpt>"#, "bad_position"),
        (r#"<trkpt lat="NaN" lon="inf"><time>2026-06-14T05:12:09Z</time></trkpt>"#, "bad_position"),
        (r#"<trkpt lat="0" lon="0.000"><time>2026-06-14T05:12:09Z</time></trkpt>"#, "bad_position"),
        (r#"<trkpt lon="-29.4"><time>2026-06-14T05:12:09Z</time></trkpt>"#, "bad_position"),
        (r#"<trkpt lat="46.2" lon="-29.4"><name>torn"#, "no_time"),
        (r#"<trkpt lat="46.2" lon="-29.4"><time>&x;</time></trkpt>"#, "entity_not_expanded"),
        (r#"<trkpt lat="&x;" lon="-29.4"><time>2026-06-14T05:12:09Z</time></trkpt>"#, "entity_not_expanded"),
    ];
    for (bad, reason) in bad {
        let (report, found) = gpx(&track(&format!("{}{bad}{}", point(0, ""), point(1, ""))));
        assert_eq!(timed(&found), [(0, fix(46.2, -29.4)), (1, fix(46.2, -29.4))], "{bad}");
        assert_eq!(report.set_aside, [(reason, 1)].into(), "{bad}");
        assert_eq!(found.set_aside[0].line, 5, "{bad}");
    }
}

#[test]
fn a_value_that_is_none_leaves_the_rest_of_its_point() {
    let text =
        track(&point(0, "<depth>deep</depth><speed>-1</speed><wtemp/><course>400</course><depth>0</depth>"));
    let (report, found) = gpx(&text);
    assert_eq!(timed(&found), [(0, fix(46.2, -29.4))]);
    assert!(report.remarks[0].starts_with("2 values are no numbers"), "{:?}", report.remarks);
    let lost = point(0, "<wtemp>8</wtemp>").replace("46.2", "146.2");
    let (report, found) = gpx(&track(&lost));
    assert_eq!(timed(&found), [(0, Value::WaterTemp { temp_c: 8.0 })]);
    assert!(report.remarks[0].starts_with("1 positions are none"), "{:?}", report.remarks);
}

#[test]
fn broken_xml_ends_the_file_and_says_where() {
    let good = track(&format!("{}{}", point(0, ""), point(1, "")));
    let cut = good.find("05:12:04").unwrap();
    let (report, found) = gpx(&good[..cut]);
    assert_eq!(timed(&found), [(0, fix(46.2, -29.4))]);
    assert_eq!(report.set_aside, [("file_ends_early", 1)].into());
    assert_eq!(found.set_aside[0].line, 5);

    let (report, found) = gpx(&good[..good.rfind("<time").unwrap() + 3]);
    assert_eq!(timed(&found), [(0, fix(46.2, -29.4))]);
    assert_eq!(report.set_aside, [("xml_malformed", 1)].into());
    assert_eq!(found.set_aside[0].line, 5);
    assert!(report.remarks[0].contains("broken in line 5"), "{:?}", report.remarks);

    let (report, _) = gpx(&good[..good.find("</trkseg>").unwrap()]);
    assert_eq!((report.records_used, report.records_set_aside()), (2, 0));
    assert!(report.remarks[0].contains("ends early"), "{:?}", report.remarks);
}

#[test]
fn entities_are_never_expanded() {
    // ten entities, each ten times the one before: a gigabyte if they were
    let mut declared = String::from("<!ENTITY e0 \"12345678901234567890\">");
    for n in 1..10 {
        let body = format!("&e{};", n - 1).repeat(10);
        write!(declared, "<!ENTITY e{n} \"{body}\">").unwrap();
    }
    let body = format!("{}{}", point(0, "<name>&e9;</name>"), point(1, "<wtemp>&e9;</wtemp>"));
    let text = track(&body).replacen("<gpx", &format!("<!DOCTYPE gpx [{declared}]>\n<gpx"), 1);
    let (report, found) = gpx(&text);
    assert_eq!(timed(&found), [(0, fix(46.2, -29.4))], "a name is not needed");
    assert_eq!(report.set_aside, [("entity_not_expanded", 1)].into());
    assert!(report.remarks.iter().any(|remark| remark.contains("document type")));
    let digits = point(0, "<wtemp>&#49;2</wtemp>");
    assert_eq!(timed(&gpx(&track(&digits)).1)[1].1, Value::WaterTemp { temp_c: 12.0 }, "characters are");
}

#[test]
fn markup_without_an_end_needs_little_memory() {
    let long = "x".repeat(3 << 20);
    let (report, found) = gpx(&track(&format!("{}<!-- {long} -->{}", point(0, ""), point(1, ""))));
    assert_eq!(timed(&found).len(), 1);
    assert_eq!(report.set_aside, [("markup_too_long", 1)].into());
    assert!(found.set_aside[0].raw.len() <= 200);
}

#[test]
fn bytes_of_another_encoding_do_no_harm() {
    let text = track(&point(0, "<name>K\u{e4}pt'n</name><wtemp>8.5 \u{b0}C</wtemp>"));
    let latin: Vec<u8> = text.chars().map(|letter| letter as u8).collect();
    let marked = [b"\xEF\xBB\xBF", text.as_bytes()].concat();
    for bytes in [latin, marked] {
        let (report, found) = read_bytes("x.gpx", &bytes, &BoatFile::default());
        assert_eq!(timed(&found)[1].1, Value::WaterTemp { temp_c: 8.5 });
        assert_eq!(report.records_used, 1);
    }
}

/// A piece of a file, good or not.
fn piece() -> impl Strategy<Value = String> {
    prop_oneof![
        Just(point(0, "")),
        Just(point(1, "<extensions><x:wtemp>8</x:wtemp></extensions>")),
        Just("<wpt lat='46.2' lon='-29.4'><time>2026-06-14T05:12:03Z</time></wpt>".to_owned()),
        Just("<trkpt lat=\"46.2\" lon=\"-29.4\">".to_owned()),
        "(</?(trkpt|wpt|rtept|time|extensions|speed|gpx|trk)/?>|<!--|-->|<!\\[CDATA\\[|\\]\\]>|<\\?|\\?>|&[a-z]{0,3};?)",
        "[ -~\u{e9}]{0,12}",
        ".{0,4}",
    ]
}

proptest! {
    #[test]
    fn anything_is_accounted_for(pieces in proptest::collection::vec(piece(), 0..30)) {
        let text = format!("<gpx>{}", pieces.concat());
        let (report, found) = read_bytes("x.gpx", text.as_bytes(), &BoatFile::default());
        prop_assert!(accounted_for(&report), "{report:?}");
        prop_assert_eq!(found.set_aside.len() as u64, report.records_set_aside());
        for record in &found.set_aside {
            prop_assert!(record.byte <= text.len() as u64 && record.line >= 1, "{record:?}");
        }
    }

    #[test]
    fn any_bytes_do_not_make_it_panic(bytes in proptest::collection::vec(any::<u8>(), 0..200), at in 0usize..400) {
        let mut text = track(&format!("{}{}", point(0, ""), point(1, ""))).into_bytes();
        let at = at.min(text.len());
        text.splice(at..at, bytes);
        let (report, _) = read_bytes("x.gpx", &text, &BoatFile::default());
        prop_assert!(accounted_for(&report), "{report:?}");
    }

    #[test]
    fn a_track_there_and_back(
        points in proptest::collection::vec(
            (-89.0f64..90.0, -180.0f64..=180.0, 0i64..86_400_000, proptest::option::of(-2.0f64..30.0)), 1..40),
    ) {
        let mut text = String::new();
        for (lat, lon, ms, temp) in &points {
            let time = jiff::Timestamp::from_millisecond(START_US / 1000 + ms).unwrap();
            let temp = temp.map_or(String::new(), |temp| format!("<e:wtemp>{temp}</e:wtemp>"));
            write!(text, "<trkpt lat=\"{lat}\" lon=\"{lon}\"><time>{time}</time><extensions>{temp}</extensions></trkpt>").unwrap();
        }
        let (report, found) = gpx(&track(&text));
        prop_assert_eq!(report.records_used, points.len() as u64);
        let got: Vec<_> = found.observations.iter().map(|o| (o.time_us, o.value)).collect();
        let want: Vec<_> = points.iter().flat_map(|&(lat, lon, ms, temp)| {
            let time_us = START_US + ms * 1000;
            [Some((time_us, fix(lat, lon))), temp.map(|temp_c| (time_us, Value::WaterTemp { temp_c }))]
        }).flatten().collect();
        prop_assert_eq!(got, want);
    }
}
