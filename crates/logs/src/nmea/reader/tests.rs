use std::fmt::Write;
use std::io::{BufReader, Read, repeat};

use super::*;
use crate::source::Collected;
use crate::words::checksum;
use proptest::prelude::*;
use waterseam_units::convert::{M_PER_FT, MPS_PER_KN};

/// A sentence from its address and fields.
fn s(inside: &str) -> String {
    format!("${inside}*{:02X}", checksum(inside.as_bytes()))
}

fn rmc(clock: &str, date: &str) -> String {
    s(&format!("GPRMC,{clock},A,4612.00,N,02924.00,W,2.1,90.0,{date},,,A"))
}

fn read_with(bytes: &[u8], boat: &BoatFile, file_name: &str) -> (SourceReport, Collected) {
    let (mut report, mut sink) = (SourceReport::default(), Collected::default());
    read(&mut BufReader::with_capacity(61, bytes), boat, file_name, &mut report, &mut sink).unwrap();
    let sum = report.records_used + report.records_not_needed + report.records_set_aside();
    assert_eq!(report.records_read, sum);
    (report, sink)
}

fn read_text(text: &str) -> (SourceReport, Collected) {
    read_with(text.as_bytes(), &BoatFile::default(), "log.nmea")
}

/// Times of the values as `hh:mm:ss.sss`, with the date where it is not 14 May 2026.
fn times(sink: &Collected) -> Vec<String> {
    let text = |o: &Observation| {
        Timestamp::from_microsecond(o.time_us).unwrap().strftime("%FT%H:%M:%S%.f").to_string()
    };
    sink.observations.iter().map(|o| text(o).replace("2026-05-14T", "")).collect()
}

#[test]
fn a_log_as_a_plotter_writes_it() {
    let log = [
        rmc("060000", "140526"),
        s("SDDPT,24.0,0.5"),
        s("YXMTW,9.4,C"),
        s("VWVHW,,T,95.0,M,2.3,N,4.3,K"),
        s("GPGSV,1,1,00"),
        "!AIVDM,1,1,,A,15M67FC000G?ufbE`FepT@3n00Sa,0*5F".to_owned(),
        rmc("060001", "140526"),
        s("SDDPT,24.1,0.5"),
    ]
    .join("\r\n");
    let (report, sink) = read_text(&log);
    assert_eq!((report.records_read, report.records_used, report.records_not_needed), (8, 6, 2));
    assert_eq!(
        times(&sink),
        ["06:00:00"; 6].iter().chain(&["06:00:01"; 3]).map(|t| (*t).to_owned()).collect::<Vec<_>>()
    );
    assert_eq!(
        sink.observations[2].value,
        Value::WaterDepth { depth_m: 24.5, reference: crate::DepthReference::Surface, offset_m: Some(0.5) }
    );
    assert_eq!(sink.observations[2].talker, *b"SD");
    assert_eq!(report.contents["SDDPT"], 2);
    assert_eq!((report.clock_offset_s, report.clock_offset_method), (Some(0.0), Some("gps")));
    assert_eq!(report.remarks, Vec::<String>::new());
}

#[test]
fn every_record_that_is_set_aside_has_its_place() {
    let good = s("YXMTW,9.4,C");
    let log = format!(
        "C*22\n{}\n\n{good}noise{good}\n# a comment\n$YXMTW,9.4,C*00\n\u{1}\u{2}{good}$SDDPT,2\n",
        [rmc("060000", "140526"), rmc("060001", "140526")].join("\r\n"),
    );
    let (report, sink) = read_text(&log);
    assert_eq!((report.records_read, report.records_used, report.records_not_needed), (9, 5, 1));
    let aside: Vec<_> = sink.set_aside.iter().map(|r| (r.line, r.reason, r.raw.as_str())).collect();
    assert_eq!(
        aside,
        [(1, "no_sentence", "C*22"), (7, "checksum_wrong", "$YXMTW,9.4,C*00"), (8, "cut_short", "$SDDPT,2"),]
    );
    for record in &sink.set_aside {
        assert!(log[record.byte as usize..].starts_with(&record.raw));
    }
}

#[test]
fn without_a_checksum_a_sentence_must_be_whole() {
    let (report, _) =
        read_text("$GPRMC,060000,A,4612.00,N,02924.00,W,2.1,90.0,140526,,\n$YXMTW,9.4,C\n$SDDBT,78.7,f,2\n");
    assert_eq!((report.records_used, report.set_aside["cut_short"]), (2, 1));
    assert_eq!(report.remarks, ["2 sentences have no checksum and were taken as they are."]);
}

#[test]
fn stamps_and_tag_blocks_time_what_has_no_time() {
    let log = [
        format!("2026-05-14T06:00:00.2Z {}", rmc("060000", "140526")),
        format!("2026-05-14T06:00:00.9Z {}", s("YXMTW,9.4,C")),
        format!("2026-05-14T06:00:01.2Z {}", rmc("060001", "140526")),
        format!("sounder\t1778738401.75\t{}", s("YXMTW,9.4,C")),
        format!("\\c:1778738401800*{:02X}\\{}", checksum(b"c:1778738401800"), s("YXMTW,9.4,C")),
        s("YXMTW,9.4,C"),
    ]
    .join("\n");
    let (report, sink) = read_text(&log);
    let want = [
        "06:00:00",
        "06:00:00",
        "06:00:00.9",
        "06:00:01",
        "06:00:01",
        "06:00:01.75",
        "06:00:01.8",
        "06:00:01",
    ];
    assert_eq!(times(&sink), want);
    assert_eq!(report.described, "NMEA 0183 with UTC stamps with TAG block times");
}

#[test]
fn stamps_without_a_zone() {
    let log = format!("2026-05-14 06:00:00 {0}\n2026-05-14 06:00:05 {0}\n", s("YXMTW,9.4,C"));
    let (report, sink) = read_text(&log);
    assert_eq!(times(&sink), ["06:00:00", "06:00:05"]);
    assert_eq!(report.clock_offset_method, Some("assumed_utc"));
    let boat = BoatFile {
        time_zone: TimeZone::get("America/Chicago").unwrap(),
        time_zone_stated: true,
        ..BoatFile::default()
    };
    let (report, sink) = read_with(log.as_bytes(), &boat, "log");
    assert_eq!(times(&sink), ["11:00:00", "11:00:05"]);
    assert_eq!(
        (report.clock_offset_s, report.clock_offset_method),
        (Some(5.0 * 3600.0), Some("boat_file_zone"))
    );
    // with fixes beside them the stamps need no zone
    let log = [
        format!("2026-05-14 01:00:00 {}", rmc("060000", "140526")),
        format!("2026-05-14 01:00:01 {}", rmc("060001", "140526")),
        format!("2026-05-14 01:00:01.5 {}", s("YXMTW,9.4,C")),
    ]
    .join("\n");
    let (report, sink) = read_text(&log);
    assert_eq!(times(&sink).last().unwrap(), "06:00:01.5");
    assert!(report.remarks[0].contains("(-18000.0 to -18000.0 s)"), "{:?}", report.remarks);
}

#[test]
fn a_void_fix_gives_time_but_no_place() {
    let log = [
        rmc("060000", "140526"),
        rmc("060001", "140526"),
        s("GPRMC,060002,V,4612.00,N,02924.00,W,2.1,90.0,140526,,,N"),
        s("GPGGA,060003,4612.00,N,02924.00,W,0,00,,,M,,M,,"),
        s("GPGLL,4612.00,N,02924.00,W,,V,N"),
        s("YXMTW,9.4,C"),
        s("GPRMC,060004,A,4612.00,,02924.00,W,2.1,90.0,140526,,,A"),
        s("YXMTW,,C"),
    ]
    .join("\n");
    let (report, sink) = read_text(&log);
    let fixes = sink.observations.iter().filter(|o| matches!(o.value, Value::Fix { .. })).count();
    assert_eq!(fixes, 2);
    assert_eq!(times(&sink)[4..], ["06:00:03", "06:00:04"], "temperature, then speed without a place");
    assert_eq!((report.records_used, report.records_not_needed, report.set_aside["void_fix"]), (6, 1, 1));
}

#[test]
fn clocks_of_files_without_a_date() {
    let log = [s("GPGGA,235959,4612.00,N,02924.00,W,1,08,1.0,180,M,,M,,"), s("YXMTW,9.4,C")].join("\n")
        + &format!("\n{}", s("GPGGA,000000,4612.00,N,02924.00,W,1,08,1.0,180,M,,M,,"));
    let (report, _) = read_text(&log);
    assert_eq!((report.set_aside["no_date_yet"], report.set_aside["no_time_yet"]), (2, 1));
    let (report, sink) = read_with(log.as_bytes(), &BoatFile::default(), "trip-2026-05-14.nmea");
    assert_eq!(times(&sink), ["23:59:59", "23:59:59", "2026-05-15T00:00:00"]);
    assert_eq!(report.remarks, ["No sentence gives a date; it was taken from the name of the file."]);
}

#[test]
fn a_day_in_the_name_is_the_day_aboard() {
    // 22:00 on 13 May in a zone seven hours behind is the 14th in UTC
    let log = [rmc("050000", ""), rmc("050001", "")].join("\n");
    let boat = BoatFile {
        time_zone: TimeZone::get("Etc/GMT+7").unwrap(),
        time_zone_stated: true,
        ..BoatFile::default()
    };
    let (_, sink) = read_with(log.as_bytes(), &boat, "2026-05-13.nmea");
    assert_eq!(times(&sink)[0], "05:00:00");
    let (_, sink) = read_with(log.as_bytes(), &BoatFile::default(), "2026-05-14.nmea");
    assert_eq!(times(&sink)[0], "05:00:00");
}

#[test]
fn a_night_without_dates_is_taken_for_one() {
    let evening: Vec<String> = (0..300).map(|s| format!("20{:02}{:02}", s / 60, s % 60)).collect();
    let clocks = evening.iter().map(String::as_str).chain(["060000", "060001"]);
    let log: String = clocks.map(|clock| rmc(clock, "") + "\n").collect();
    let (report, sink) = read_with(log.as_bytes(), &BoatFile::default(), "2026-05-13.nmea");
    assert_eq!(
        (times(&sink)[0].as_str(), times(&sink).last().unwrap().as_str()),
        ("2026-05-13T20:00:00", "06:00:01")
    );
    assert!(report.remarks[1].contains("taken for those of the next day"), "{:?}", report.remarks);
}

#[test]
fn a_leap_second_is_the_next_minute() {
    let log = ["235959", "235960", "000000", "000001"];
    let log = log.map(|clock| rmc(clock, if clock < "1" { "010117" } else { "311216" })).join("\n");
    let (report, sink) = read_text(&log);
    let seconds: Vec<i64> = sink.observations.iter().step_by(2).map(|o| o.time_us / 1_000_000).collect();
    assert_eq!(seconds.iter().map(|s| s - seconds[0]).collect::<Vec<_>>(), [0, 1, 1, 2]);
    assert_eq!(report.clock.stretches.len(), 1);
}

#[test]
fn a_clock_that_stands_still_times_nothing() {
    let before = [rmc("060000", "140526"), s("YXMTW,9.4,C")].join("\n") + "\n";
    let stands = format!("{}\n{}\n", rmc("060001", "140526"), s("YXMTW,9.4,C")).repeat(100);
    let after = [rmc("060141", "140526"), s("YXMTW,9.4,C")].join("\n");
    let (report, sink) = read_text(&format!("{before}{stands}{after}"));
    assert_eq!(report.set_aside["clock_stands_still"], 2 * (100 - u64::from(STANDS_STILL)));
    assert_eq!(times(&sink).last().unwrap(), "06:01:41");
    // with stamps the clock of the logger goes on
    let stamped: String = (0..100)
        .map(|n| format!("2026-05-14T06:{:02}:{:02}Z {}\n", n / 60, n % 60, rmc("060000", "140526")))
        .collect();
    let (report, sink) = read_text(&stamped);
    assert_eq!(report.records_set_aside(), 0);
    assert_eq!(times(&sink).last().unwrap(), "06:01:39");
}

fn read_hinted(text: &[u8], hints: &ClockHints) -> (SourceReport, Collected) {
    let (mut report, mut sink) = (SourceReport::default(), Collected::default());
    super::read_with(&mut &text[..], &BoatFile::default(), hints, "log", &mut report, &mut sink).unwrap();
    let sum = report.records_used + report.records_not_needed + report.records_set_aside();
    assert_eq!(report.records_read, sum);
    (report, sink)
}

#[test]
fn hints_move_or_set_aside_a_stretch() {
    let log = ["010580", "010580", "140526", "140526"].map(|date| rmc("060000", date)).join("\n");
    let day = US_PER_DAY;
    let hints = ClockHints { first_date_us: None, stretches: vec![Retime::SetAside, Retime::Add(-day)] };
    let (report, sink) = read_hinted(log.as_bytes(), &hints);
    assert_eq!(report.set_aside["clock_not_set"], 2);
    assert_eq!(times(&sink), vec!["2026-05-13T06:00:00"; 4]);
    assert_eq!(report.clock.stretches.len(), 2, "the story stays that of the file");
    // a date for clock times that come long before the first date
    let late = (0..400).map(|n| rmc(&format!("06{:02}{:02}", n / 60, n % 60), "") + "\n").collect::<String>();
    let late = late + &rmc("061000", "140526") + "\n" + &rmc("061001", "140526");
    let (report, _) = read_hinted(late.as_bytes(), &ClockHints::default());
    assert_eq!(report.clock.undated.unwrap().records, report.set_aside["no_date_yet"]);
    let first_date_us = Some(report.clock.stretches[0].first_us / day * day);
    let (report, sink) = read_hinted(late.as_bytes(), &ClockHints { first_date_us, stretches: vec![] });
    assert_eq!((report.records_used, times(&sink)[0].as_str()), (402, "06:00:00"));
}

#[test]
fn what_waits_for_the_first_time_is_bounded() {
    let mut log = String::new();
    for n in 0..1000 {
        writeln!(log, "{}", s(&format!("YXMTW,{}.0,C", n % 20))).unwrap();
    }
    let log = log + &rmc("060000", "140526") + "\n" + &rmc("060001", "140526");
    let (report, sink) = read_text(&log);
    assert_eq!(report.set_aside["no_time_yet"], 1000 - (WAITING_MAX as u64 - 1));
    assert_eq!(times(&sink)[0], "06:00:00");
    assert_eq!(sink.set_aside[0].line, 1);
}

#[test]
fn marks_are_not_multiplied_by_a_plotter_that_repeats_them() {
    let mark = s("GPWPL,4612.00,N,02924.00,W,M1");
    let log = [rmc("060000", "140526"), rmc("060001", "140526"), mark.clone(), mark].join("\n");
    let (report, sink) = read_text(&log);
    assert_eq!(sink.observations.iter().filter(|o| matches!(o.value, Value::Mark { .. })).count(), 1);
    assert_eq!(report.records_not_needed, 1);
}

#[test]
fn a_line_that_never_ends_is_one_record() {
    let start = [rmc("060000", "140526"), rmc("060001", "140526")].join("\n") + "\n";
    let end = format!("\n{}\n", s("YXMTW,9.4,C"));
    let mut input = BufReader::new(start.as_bytes().chain(repeat(0).take(8 << 20)).chain(end.as_bytes()));
    let (mut report, mut sink) = (SourceReport::default(), Collected::default());
    read(&mut input, &BoatFile::default(), "log", &mut report, &mut sink).unwrap();
    assert_eq!((report.records_read, report.records_used, report.set_aside["line_too_long"]), (4, 3, 1));
}

#[test]
fn a_log_without_line_ends_is_read() {
    let text = rmc("060000", "140526") + &rmc("060001", "140526") + &s("YXMTW,9.4,C").repeat(20_000);
    let (report, _) = read_text(&text);
    assert_eq!((report.records_read, report.records_used), (20_002, 20_002));
}

#[test]
fn what_came_before_a_failing_card_is_kept() {
    struct Fails;
    impl Read for Fails {
        fn read(&mut self, _: &mut [u8]) -> Result<usize> {
            Err(std::io::Error::other("bad sector"))
        }
    }
    let start = [rmc("060000", "140526"), s("YXMTW,9.4,C")].join("\n") + "\n";
    let (mut report, mut sink) = (SourceReport::default(), Collected::default());
    let mut input = BufReader::new(start.as_bytes().chain(Fails));
    assert!(read(&mut input, &BoatFile::default(), "log", &mut report, &mut sink).is_err());
    assert_eq!((report.records_used, sink.observations.len()), (2, 3));
}

/// Pieces that logs are made of, whole and broken.
fn pieces() -> impl Strategy<Value = Vec<u8>> {
    let sentence = prop::sample::select(vec![
        rmc("060000", "140526"),
        rmc("235959.9", "311299"),
        s("GPGGA,000000,4612.00,N,02924.00,W,1,08,1.0,180,M,,M,,"),
        s("GPZDA,060001,14,05,2026,,"),
        s("SDDPT,24.0,0.5"),
        s("IIXDR,C,9.1,C,SEA,C,x,C,SEA"),
        s("GPWPL,4612.00,N,02924.00,W,M1"),
        "$YXMTW,9.4,C".to_owned(),
        "\\s:a,c:1778738401*00\\".to_owned(),
        "2026-05-14T06:00:00Z ".to_owned(),
        "\r\n".to_owned(),
        "\n".to_owned(),
    ]);
    prop_oneof![
        6 => sentence.clone().prop_map(String::into_bytes),
        1 => (sentence, any::<prop::sample::Index>()).prop_map(|(s, at)| s.as_bytes()[..at.index(s.len())].to_vec()),
        1 => proptest::collection::vec(any::<u8>(), 0..6),
    ]
}

/// Reads in blocks, on several cores where the plan says so.
fn read_planned(bytes: &[u8], plan: Plan) -> (SourceReport, Collected) {
    let (mut report, mut sink) = (SourceReport::default(), Collected::default());
    let (boat, hints) = (BoatFile::default(), ClockHints::default());
    super::read_in(plan, &mut &bytes[..], &boat, &hints, "log", &mut report, &mut sink).unwrap();
    (report, sink)
}

/// One block for all.
fn whole(bytes: &[u8]) -> Plan {
    Plan { block_bytes: bytes.len() + 1, n_alone: 1, n_together: 1 }
}

#[test]
fn real_logs_say_the_same_however_they_are_cut() {
    let root = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../..");
    let mut n = 0;
    for folder in ["tests/real-receivers", "fuzz/corpus/lines", "fuzz/corpus/sentences"] {
        for entry in std::fs::read_dir(root.join(folder)).unwrap() {
            let path = entry.unwrap().path();
            if path.extension().is_some_and(|end| end == "csv" || end == "md") {
                continue;
            }
            let bytes = std::fs::read(path).unwrap();
            let want = read_planned(&bytes, whole(&bytes));
            for (block_bytes, n_alone, n_together) in [(1 + bytes.len() / 7, 0, 3), (4096, 1, 4), (997, 2, 1)]
            {
                assert_eq!(want, read_planned(&bytes, Plan { block_bytes, n_alone, n_together }));
            }
            n += 1;
        }
    }
    assert!(n > 900, "{n}");
}

#[test]
fn overlong_lines_say_the_same_however_they_are_cut() {
    let sentences = rmc("060000", "140526") + &rmc("060001", "140526") + &s("YXMTW,9.4,C").repeat(10_000);
    for end in ["\n", "\r", "\r\n"] {
        let text =
            format!("#{end}{}{end}{sentences}{end}{}", "x".repeat(200_000), sentences.replace('*', "*0"));
        let want = read_planned(text.as_bytes(), whole(text.as_bytes()));
        assert_eq!((want.0.records_used, want.0.set_aside["line_too_long"]), (10_002, 1));
        for (block_bytes, n_alone, n_together) in [(1000, 3, 5), (50_000, 0, 3), (70_000, 0, 1)] {
            let got = read_planned(text.as_bytes(), Plan { block_bytes, n_alone, n_together });
            assert!(want == got, "{block_bytes} {end:?}: {:?}, not {:?}", got.0, want.0);
        }
    }
}

proptest! {
    #[test]
    fn however_a_log_is_cut_it_says_the_same(
        parts in proptest::collection::vec(pieces(), 0..60),
        block_bytes in 1usize..200,
        n_alone in 0usize..3,
        n_together in 1usize..6,
    ) {
        let bytes = parts.concat();
        let cut = read_planned(&bytes, Plan { block_bytes, n_alone, n_together });
        prop_assert_eq!(read_planned(&bytes, whole(&bytes)), cut);
    }

    #[test]
    fn every_record_of_any_file_ends_up_once(parts in proptest::collection::vec(pieces(), 0..60)) {
        let bytes = parts.concat();
        let (report, sink) = read_with(&bytes, &BoatFile::default(), "log");
        prop_assert_eq!(report.records_set_aside(), sink.set_aside.len() as u64);
        for record in &sink.set_aside {
            prop_assert!(record.line >= 1 && record.byte < bytes.len() as u64);
        }
        let _ = super::super::looks_like(&bytes);
    }

    #[test]
    fn every_record_ends_up_once_whatever_is_known_of_the_clock(
        parts in proptest::collection::vec(pieces(), 0..60),
        date in prop::option::of(0i64..20_000),
        moves in proptest::collection::vec(prop::option::of(-9_000i64..9_000), 0..4),
    ) {
        let retime = |days: &Option<i64>| days.map_or(Retime::SetAside, |days| Retime::Add(days * US_PER_DAY));
        let hints = ClockHints {
            first_date_us: date.map(|day| day * US_PER_DAY),
            stretches: moves.iter().map(retime).collect(),
        };
        let bytes = parts.concat();
        let (hinted, _) = read_hinted(&bytes, &hints);
        let (plain, _) = read_hinted(&bytes, &ClockHints { stretches: vec![], ..hints });
        // what is set aside changes, and nothing else
        prop_assert_eq!(&hinted.clock, &plain.clock);
        prop_assert_eq!(
            hinted.records_used + hinted.set_aside.get("clock_not_set").copied().unwrap_or_default(),
            plain.records_used
        );
    }

    #[test]
    fn in_any_order_time_goes_on_or_a_step_is_told(
        days in proptest::collection::vec(0i64..3, 1..4),
        seconds in proptest::collection::vec(0i64..500, 1..80),
    ) {
        // positions of some days, out of order within each by less than ten minutes
        let start = 9 * 3600;
        let at = |day: i64, s: i64| {
            let s = start + s;
            rmc(&format!("{:02}{:02}{:02}", s / 3600, s / 60 % 60, s % 60), &format!("{:02}0526", 10 + day)) + "\n"
        };
        let of_day = |day: i64| seconds.iter().map(|s| at(day, *s)).collect::<String>();
        let text: String = days.iter().map(|day| of_day(*day)).collect();
        let (report, sink) = read_hinted(text.as_bytes(), &ClockHints::default());
        let far = sink.observations.windows(2).filter(|two| (two[1].time_us - two[0].time_us).abs() > 600_000_000);
        prop_assert!(far.count() < report.clock.stretches.len().max(1));
        prop_assert_eq!(report.records_set_aside(), 0);
    }

    #[test]
    fn any_bytes(bytes in proptest::collection::vec(any::<u8>(), 0..300)) {
        read_with(&bytes, &BoatFile::default(), "log");
    }

    #[test]
    fn values_there_and_back(
        clock_us in 0i64..86_400_000_000,
        lat in -90.0f64..90.0,
        lon in -180.0f64..180.0,
        sog_kn in 0.0f64..40.0,
        cog in 0.0f64..359.9,
        temp_c in -2.0f64..30.0,
        depth_ft in 1.0f64..900.0,
    ) {
        let (minute, us) = (clock_us / 60_000_000, clock_us % 60_000_000);
        let clock = format!("{:02}{:02}{:02}.{:06}", minute / 60, minute % 60, us / 1_000_000, us % 1_000_000);
        let (lat_abs, lon_abs) = (lat.abs().min(89.999), lon.abs().min(179.999));
        let log = [
            s(&format!(
                "GPRMC,{clock},A,{:02}{:011.8},{},{:03}{:011.8},{},{sog_kn:.6},{cog:.6},140526,,,A",
                lat_abs.trunc(), (lat_abs.fract() * 60.0).min(59.999), if lat < 0.0 { 'S' } else { 'N' },
                lon_abs.trunc(), (lon_abs.fract() * 60.0).min(59.999), if lon < 0.0 { 'W' } else { 'E' },
            )),
            s(&format!("YXMTW,{temp_c:.4},C")),
            s(&format!("SDDBT,{depth_ft:.4},f,,M,,F")),
        ].join("\r\n");
        let (_, sink) = read_text(&log);
        let midnight_us = "2026-05-14T00:00:00Z".parse::<Timestamp>().unwrap().as_microsecond();
        prop_assert!(sink.observations.iter().all(|o| o.time_us == midnight_us + clock_us));
        let [fix, velocity, temp, depth] = sink.observations[..] else { panic!("{sink:?}") };
        let Value::Fix { at, .. } = fix.value else { panic!() };
        // the test itself keeps minutes below 59.999: at most 0.001′ is lost
        prop_assert!((at.lat_deg.abs() - lat_abs).abs() < 2e-5 && (at.lon_deg.abs() - lon_abs).abs() < 2e-5);
        prop_assert!(at.lat_deg * lat >= 0.0 && at.lon_deg * lon >= 0.0);
        let Value::GroundVelocity { sog_mps, cog_deg: Some(cog_deg) } = velocity.value else { panic!() };
        prop_assert!((sog_mps - sog_kn * MPS_PER_KN).abs() < 1e-6 && (cog_deg - cog).abs() < 1e-6);
        let Value::WaterTemp { temp_c: got } = temp.value else { panic!() };
        prop_assert!((got - temp_c).abs() < 1e-4);
        let Value::WaterDepth { depth_m, .. } = depth.value else { panic!() };
        prop_assert!((depth_m - depth_ft * M_PER_FT).abs() < 1e-4);
    }

    #[test]
    fn what_stands_before_a_sentence_gives_its_time(
        // 2001-09-09, where seconds get ten digits, to 2096
        start_ms in 1_000_000_000_000i64..4_000_000_000_000,
        style in 0usize..9,
        end in prop_oneof![Just("\r\n"), Just("\n"), Just("\r")],
    ) {
        let mut log = String::new();
        for n in 0..5 {
            let ms = start_ms + n * 1000;
            let time = |offset_s: i64| Timestamp::from_millisecond(ms + 1000 * offset_s).unwrap();
            let tag = |inside: String| format!("\\{inside}*{:02X}\\", checksum(inside.as_bytes()));
            let before = match style {
                0 => format!("{:.3} ", time(0)),
                1 => format!("{}+02:00,gps0,", time(7200).strftime("%FT%H:%M:%S%.3f")),
                2 => format!("[{}] plotter 2: ", time(0).strftime("%F %H:%M:%S%.3f")),
                3 => format!("{}.{:03}\t", ms / 1000, ms % 1000),
                4 => format!("gps0\t{ms}\t"),
                5 => tag(format!("s:GPS1,c:{ms}")),
                6 => tag(format!("g:1-2-{n},s:GPS1,n:{n},c:{ms}")),
                7 => format!("{}{}", tag(format!("c:{ms}")), tag("s:GPS1".to_owned())),
                _ => format!("noise {:.3} \u{1}\u{fffd}", time(0)),
            };
            let _ = write!(log, "{before}{}{end}", s(&format!("YXMTW,{n}.5,C")));
        }
        let (report, sink) = read_text(&log);
        prop_assert_eq!((report.records_read, report.records_used), (5, 5), "{}", log);
        for (n, observation) in sink.observations.iter().enumerate() {
            prop_assert_eq!(observation.time_us, (start_ms + n as i64 * 1000) * 1000, "{}", log);
        }
    }
}
