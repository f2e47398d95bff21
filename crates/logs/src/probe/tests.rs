use proptest::prelude::*;
use waterseam_units::LatLon;

use crate::boat::BoatFile;
use crate::observation::{FixKind, Value};
use crate::source::{Collected, SourceReport};
use crate::testing::read_bytes;

fn boat(text: &str) -> BoatFile {
    BoatFile::from_toml(text, "kittiwake.toml").unwrap()
}

fn read(text: &str, boat_file: &str) -> (SourceReport, Collected) {
    read_bytes("probe.csv", text.as_bytes(), &boat(boat_file))
}

fn utc(text: &str) -> i64 {
    text.parse::<jiff::Timestamp>().unwrap().as_microsecond()
}

/// Time, depth in m and temperature in °C of every sample of the probe.
fn samples(found: &Collected) -> Vec<(i64, f64, f64)> {
    let sample = |o: &crate::Observation| match o.value {
        Value::Probe { depth_m, temp_c, .. } => Some((o.time_us, depth_m, temp_c?)),
        _ => None,
    };
    found.observations.iter().filter_map(sample).collect()
}

/// One sample of a table, expected at this time, depth and temperature.
fn check(text: &str, boat_file: &str, time: &str, depth_m: f64, temp_c: f64) -> SourceReport {
    let (report, found) = read(text, boat_file);
    let samples = samples(&found);
    let [(time_us, depth, temp)] = samples[..] else { panic!("{text}: {samples:?}, {report:?}") };
    assert_eq!(time_us, utc(time), "{text}");
    assert!((depth - depth_m).abs() < 1e-9 && (temp - temp_c).abs() < 1e-9, "{text}: {depth} m, {temp} °C");
    report
}

fn remark(report: &SourceReport, words: &str) -> bool {
    report.remarks.iter().any(|remark| remark.contains(words))
}

#[test]
fn headings_and_units() {
    let time = "2026-06-14T05:12:03Z";
    // 40 ft and 50 °F by definition (NIST SP 811)
    check("Time (UTC),Depth (ft),temp_F\n2026-06-14 05:12:03,40,50\n", "", time, 12.192, 10.0);
    check("time,depth_m,water_temp_c\n2026-06-14T05:12:03Z,12.5,8.25\n", "", time, 12.5, 8.25);
    check("Date\tTime\tDepth (m)\tTemp °C\n2026-06-14\t05:12:03\t12,5\t8,25\n", "", time, 12.5, 8.25);
    check("date;time (UTC);depth m;temp c\n14.06.2026;5:12:03;12,5;8,25\n", "", time, 12.5, 8.25);
    check("epoch,depth_m,temp_c\n1781413923,12.5,8.25\n", "", time, 12.5, 8.25);
    check("timestamp,depth_m,temp_c\n1781413923000,12.5,8.25\n", "", time, 12.5, 8.25);
    check("Date,Time,Depth,Temp\n6/14/2026,5:12:03 AM,40 ft,50 °F\n", "", time, 12.192, 10.0);
    check("\u{feff}time,depth,temp\n(UTC),(m),(degC)\n20260614T051203,12.5,8.25\n", "", time, 12.5, 8.25);
    check("# time (UTC), depth_m, temp_c\n2026-06-14T05:12:03,12.5,8.25\n", "", time, 12.5, 8.25);
    check("time,depth_m,temp_c\n2026-06-14T05:12:03Z,-12.5,8.25\n", "", time, 12.5, 8.25);
}

#[test]
fn headings_in_another_language() {
    let text = "Zeit;Tiefe;Wasser °C\n14.06.2026 05:12:03;12,5;8,25\n";
    let columns = "time_zone = \"UTC\"\n[columns]\n\"Zeit\" = \"time\"\n\"Tiefe\" = \"depth_m\"\n\"Wasser °C\" = \"temp_c\"\n";
    check(text, columns, "2026-06-14T05:12:03Z", 12.5, 8.25);
    let latin_1: Vec<u8> = text.chars().map(|letter| letter as u8).collect();
    let (report, _) = read_bytes("probe.csv", &latin_1, &boat(columns));
    assert_eq!(report.records_used, 1);
}

#[test]
fn clocks_and_zones() {
    let naive = "time,depth_m,temp_c\n2026-06-14 05:12:03,12.5,8.25\n";
    let report = check(naive, "time_zone = \"Etc/GMT+2\"", "2026-06-14T07:12:03Z", 12.5, 8.25);
    assert_eq!((report.clock_offset_s, report.clock_offset_method), (Some(7200.0), Some("boat_file_zone")));
    let report = check(naive, "", "2026-06-14T05:12:03Z", 12.5, 8.25);
    assert_eq!((report.clock_offset_s, report.clock_offset_method), (Some(0.0), Some("assumed_utc")));
    assert!(remark(&report, "`time_zone`"));
    let offset = "time,depth_m,temp_c\n2026-06-14T05:12:03-02:00,12.5,8.25\n";
    let report = check(offset, "", "2026-06-14T07:12:03Z", 12.5, 8.25);
    assert_eq!((report.clock_offset_s, report.clock_offset_method), (Some(7200.0), Some("offset_stated")));
    check(
        "Time (GMT-2),depth_m,temp_c\n2026-06-14 05:12:03,12.5,8.25\n",
        "",
        "2026-06-14T07:12:03Z",
        12.5,
        8.25,
    );
    let two = "time (local),time (UTC),depth_m,temp_c\n2026-06-14 03:12:03,2026-06-14 05:12:03,12.5,8.25\n";
    let report = check(two, "time_zone = \"Etc/GMT+2\"", "2026-06-14T05:12:03Z", 12.5, 8.25);
    assert_eq!(report.clock_offset_method, Some("utc_stated"));
}

#[test]
fn the_order_of_day_and_month() {
    let rows = "time (UTC),depth_m,temp_c\n03/04/2026 05:00,1,8\n04/04/2026 05:00,1,8\n";
    let (report, _) = read(rows, "");
    assert_eq!(report.set_aside, [("date_order_ambiguous", 1)].into(), "04/04 is the same day either way");
    assert!(remark(&report, "date_order = \"day-first\""));
    let (_, found) = read(rows, "date_order = \"day-first\"");
    assert_eq!(samples(&found)[0].0, utc("2026-04-03T05:00:00Z"));
    // a 13 anywhere in the file settles it, against the boat file
    let (report, found) = read(&format!("{rows}04/13/2026 05:00,1,8\n"), "date_order = \"day-first\"");
    assert_eq!(samples(&found)[0].0, utc("2026-03-04T05:00:00Z"));
    assert!(remark(&report, "month-first"));
    let (_, found) = read(&format!("Download time,24/06/2026 10:00\n{rows}"), "");
    assert_eq!(samples(&found)[0].0, utc("2026-04-03T05:00:00Z"), "so does one before the headings");
}

#[test]
fn a_cast_without_times() {
    let text = "% Cast time (UTC),2017-08-22 02:39:11\n% Cast time (local),2017-08-22 12:39:11\n\
                % Default latitude,32\n% Start latitude,46.21\n% Start longitude,-29.41\n% End latitude,46.22\n\
                % End longitude,-29.42\n% Calibration date,2017-07-10\n% \n\
                Pressure (Decibar),Depth (Meter),Temperature (Celsius)\n0.15,0.149,16.4\n0.45,0.447,16.3\n0.75,0.745,16.2\n";
    let (report, found) = read(text, "");
    let start = utc("2017-08-22T02:39:11Z");
    assert_eq!(samples(&found).iter().map(|s| s.0 - start).collect::<Vec<_>>(), [0, 1_000_000, 2_000_000]);
    assert!(remark(&report, "no time of their own"));
    let fixes: Vec<_> = found
        .observations
        .iter()
        .filter_map(|o| match o.value {
            Value::Fix { at, from: FixKind::Row } => Some((o.time_us - start, at.lat_deg)),
            _ => None,
        })
        .collect();
    assert_eq!(fixes, [(0, 46.21), (2_000_000, 46.22)]);
    assert_eq!((report.records_read, report.records_used, report.records_not_needed), (13, 3, 10));
}

#[test]
fn elapsed_seconds_and_clocks_without_a_date() {
    let text = "Start time: 2026-06-14 05:12:00 UTC\n\nElapsed (s),Depth (m),Temp (C)\n3,12.5,8.25\n";
    check(text, "", "2026-06-14T05:12:03Z", 12.5, 8.25);
    check(&text.replace("\n3,", "\n00:00:03,"), "", "2026-06-14T05:12:03Z", 12.5, 8.25);
    check("time_s,depth_m,temp_c\n1781413923,12.5,8.25\n", "", "2026-06-14T05:12:03Z", 12.5, 8.25);
    let (report, _) = read("elapsed_s,depth_m,temp_c\n3,12.5,8.25\n", "");
    assert_eq!(report.set_aside, [("no_start_time", 1)].into());
    let clock = "time,depth_m,temp_c\n23:59:58,1,8\n00:00:02,2,8\n";
    let (report, _) = read(clock, "");
    assert_eq!(report.set_aside, [("no_date", 2)].into());
    let (_, found) = read_bytes("2026-06-14 probe.csv", clock.as_bytes(), &BoatFile::default());
    let times: Vec<_> = samples(&found).iter().map(|s| s.0).collect();
    assert_eq!(times, [utc("2026-06-14T23:59:58Z"), utc("2026-06-15T00:00:02Z")]);
}

#[test]
fn positions_without_depths_are_surface_temperatures() {
    let text = "DATE\tLAT\tLON\tOCEAN TEMP\tSTREAM PRESSURE\n2026-06-14T05:12:03+00:00\t46.2\t330.6\t9.75\t12\n\
                2026-06-14T05:15:03+00:00\tNA\tNA\t9.5\t12\n2026-06-14T05:18:03+00:00\t46.2\t-29.4\tNA\t12\n\
                2026-06-14T05:21:03+00:00\tNA\tNA\tNA\t12\n";
    let (report, found) = read(text, "");
    let values: Vec<_> = found.observations.iter().map(|o| o.value).collect();
    let fix = |lon| Value::Fix { at: LatLon::new(46.2, lon).unwrap(), from: FixKind::Row };
    let Value::Fix { at, .. } = values[0] else { panic!("{values:?}") };
    assert!((at.lon_deg + 29.4).abs() < 1e-9, "330.6 east is 29.4 west");
    assert_eq!(
        values[1..],
        [Value::WaterTemp { temp_c: 9.75 }, Value::WaterTemp { temp_c: 9.5 }, fix(-29.4)]
    );
    assert_eq!((report.records_used, report.records_not_needed), (3, 2));
    assert!(remark(&report, "read in °C, only that fits"));
}

#[test]
fn a_temperature_without_a_unit_is_read_in_the_unit_that_fits() {
    let table = |temps: &[&str]| {
        let row = |temp: &&str| format!("2026-06-14T05:12:03Z,1,{temp}\n");
        format!("time,depth_m,temp\n{}", temps.iter().map(row).collect::<String>())
    };
    let first = |text: &str, boat: &str| samples(&read(text, boat).1)[0].2;
    assert!((first(&table(&["50", "52"]), "units = \"metric\"") - 10.0).abs() < 1e-9);
    assert_eq!(first(&table(&["8.5", "12"]), "units = \"imperial\""), 8.5);
    assert_eq!(first(&table(&["30", "31"]), "units = \"metric\""), 30.0);
    assert!((first(&table(&["41"]), "") - 5.0).abs() < 1e-9, "the boat file's units are imperial");
}

#[test]
fn what_is_missing_is_said() {
    for (text, reason, words) in [
        ("time,depth_ft\n2026-06-14T05:12:03Z,40\n", "no_temperature_column", "= \"temp_c\""),
        ("time,temp_c\n2026-06-14T05:12:03Z,8\n", "no_depth_column", "\"surface_temp_c\""),
        ("depth_m,temp_c\n12,8\n", "no_time_column", "= \"time\""),
    ] {
        let (report, found) = read(text, "");
        assert_eq!(report.set_aside, [(reason, 1)].into());
        assert!(remark(&report, words), "{:?}", report.remarks);
        assert_eq!(found.set_aside[0].line, 2);
        assert!(found.observations.is_empty());
    }
}

#[test]
fn a_bad_row_does_not_spoil_its_neighbours() {
    let text = "time,depth_m,temp_c,lat,lon\n2026-06-14T05:12:03Z,1,8.1,46.2,-29.4\nx,1,8.1,46.2,-29.4\n\
                2026-06-14T05:12:05Z,err,8.1,,\n2026-06-14T05:12:06Z,1,8.2,95,0\n2026-06-14T05:12:07Z,,8.2,,\n\
                2026-06-14T05:12:08Z,1,,,\n,1,8,,\n2026-06-14T05:12:09Z,1,8,3,46.2,-29.4\n2026-06-14T05:1";
    let (report, found) = read(text, "");
    let want = [
        ("bad_number", 1),
        // the torn last line is no time either
        ("bad_time", 2),
        ("no_depth", 1),
        ("no_temperature", 1),
        ("no_time", 1),
        ("too_many_fields", 1),
    ];
    assert_eq!(report.set_aside, want.into());
    assert_eq!(samples(&found).len(), 2);
    assert!(remark(&report, "1 positions are none") && remark(&report, "decimals are commas"));
    assert_eq!((found.set_aside[0].line, found.set_aside[0].byte), (3, 66));
}

#[test]
fn pressure_becomes_depth_with_the_salinity_of_the_boat_file() {
    let text = "time (UTC),Depth (dBar),Temperature C\n20210624T040108,103.5,17.5\n";
    let (_, fresh) = read(text, "");
    let (_, sea) = read(text, "salinity = 35");
    assert!((samples(&fresh)[0].1 - 105.54).abs() < 0.01);
    // 102.90 m by TEOS-10 (gsw 3.6.23)
    assert!((samples(&sea)[0].1 - 102.90).abs() < 0.3);
}

#[test]
fn stamped_numbers_need_the_boat_file() {
    let text =
        "2018-12-06T00:00:00.9947Z 9.1127, 31.4\n2018-12-06T00:00:01.9998Z 9.1131, 31.5\n2018-12-06T00:0";
    let (report, found) = read(text, "");
    assert_eq!(report.set_aside, [("column_meaning_unknown", 2), ("not_a_stamped_number", 1)].into());
    assert!(remark(&report, "column 1: 2 values, 9.1127 to 9.1131; column 2: 2 values, 31.4 to 31.5"));
    assert!(found.observations.is_empty());
    let (report, found) = read(text, "[columns]\n\"1\" = \"surface_temp_c\"\n");
    assert_eq!((report.records_read, report.records_used), (3, 2));
    assert_eq!(found.observations[0].value, Value::WaterTemp { temp_c: 9.1127 });
    assert_eq!(found.observations[0].time_us, utc("2018-12-06T00:00:00.9947Z"));
}

fn accounted_for(report: &SourceReport) -> bool {
    report.records_read == report.records_used + report.records_not_needed + report.records_set_aside()
}

proptest! {
    #[test]
    fn any_bytes_are_accounted_for(bytes in proptest::collection::vec(any::<u8>(), 0..400)) {
        let (report, _) = read_bytes("x", &bytes, &BoatFile::default());
        prop_assert!(accounted_for(&report), "{report:?}");
    }

    #[test]
    fn any_rows_are_accounted_for(
        heading in "(time|date|depth_m|temp|lat|lon|speed|elapsed_s|T){1}(,(time|depth_ft|temp_c|lat|lon|sog)){1,5}",
        rows in "([-0-9.:/TZ, \"]{0,40}|2026-06-14T05:12:0[0-9]Z,[0-9]{1,2},[0-9.]{1,3}|END|NA,\u{0}?)(\n|\r\n|\r)",
        again in 1usize..6,
    ) {
        let text = format!("{heading}\n{}", rows.repeat(again));
        let (report, _) = read_bytes("x.csv", text.as_bytes(), &BoatFile::default());
        let lines = text.split(['\n', '\r']).filter(|line| !line.trim().is_empty()).count() as u64;
        prop_assert!(accounted_for(&report), "{report:?}");
        // a quoted field may go on over the end of its line
        prop_assert!(report.records_read <= lines);
        if report.kind.is_some() && !text.contains('"') {
            prop_assert_eq!(report.records_read, lines, "{:?}", report);
        }
    }

    #[test]
    fn a_table_there_and_back(
        rows in proptest::collection::vec((0i64..86_400_000, 0f64..100.0, -1.5f64..25.0), 1..50),
        (delimiter, comma) in prop_oneof![Just((',', false)), Just((';', true)), Just(('\t', true)), Just(('\t', false))],
    ) {
        let number = |value: f64| if comma { value.to_string().replace('.', ",") } else { value.to_string() };
        let start = utc("2026-06-14T00:00:00Z");
        let mut text = ["time", "depth_m", "temp_c"].join(&delimiter.to_string()) + "\r\n";
        for (ms, depth, temp) in &rows {
            let time = jiff::Timestamp::from_microsecond(start + ms * 1000).unwrap().to_string();
            text += &([time, number(*depth), number(*temp)].join(&delimiter.to_string()) + "\r\n");
        }
        let (report, found) = read_bytes("x.csv", text.as_bytes(), &BoatFile::default());
        let want: Vec<_> = rows.iter().map(|(ms, depth, temp)| (start + ms * 1000, *depth, *temp)).collect();
        prop_assert_eq!(samples(&found), want, "{:?}", report);
    }
}
