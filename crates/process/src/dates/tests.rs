use super::*;
use waterseam_logs::Undated;

fn at(text: &str) -> i64 {
    text.parse::<jiff::Timestamp>().unwrap().as_microsecond()
}

const RELEASE: &str = "2026-11-25T00:00:00Z";

fn bounds() -> Bounds {
    Bounds { released_us: at(RELEASE), earliest_us: None }
}

/// A stretch with positions that sentences date.
fn stretch(first: &str, last: &str) -> Stretch {
    Stretch {
        first_us: at(first),
        last_us: at(last),
        tick_us: US_PER_S,
        date: DateFrom::Sentences,
        fixes: 1000,
        later: None,
        leads_us: None,
    }
}

fn log(path: &str, stretches: &[Stretch]) -> FileTimes {
    let times = || stretches.iter().flat_map(|stretch| [stretch.first_us, stretch.last_us]);
    FileTimes {
        path: PathBuf::from(path),
        kind: Kind::Nmea0183,
        span: times().min().zip(times().max()).map(|(first_us, last_us)| Span { first_us, last_us }),
        clock: ClockStory { stretches: stretches.to_vec(), undated: None },
        named_us: None,
    }
}

fn notes(path: &str, first: &str, last: &str) -> FileTimes {
    let span = Some(Span { first_us: at(first), last_us: at(last) });
    FileTimes { kind: Kind::Bites, span, clock: ClockStory::default(), ..log(path, &[]) }
}

/// What is added to each stretch of each file, in weeks where these are whole, else in s.
fn check(files: &[FileTimes], bounds: Bounds, expected: &[&[i64]]) -> Vec<Finding> {
    let findings = judge(files, bounds);
    for (finding, expected) in findings.iter().zip(expected) {
        let added: Vec<i64> = finding
            .hints
            .stretches
            .iter()
            .map(|retime| match retime {
                Retime::Add(us) if us % (7 * DAY_US) == 0 => us / (7 * DAY_US),
                Retime::Add(us) => us / US_PER_S,
                Retime::SetAside => i64::MIN,
            })
            .collect();
        assert_eq!(added, *expected, "{finding:?}");
        assert!(!added.is_empty() || finding.method.is_none());
    }
    findings
}

const ROLLED: (&str, &str) = ("2006-10-29T05:00:00Z", "2006-10-29T10:00:00Z");
const TRUE: (&str, &str) = ("2026-06-14T05:00:00Z", "2026-06-14T10:00:00Z");

#[test]
fn a_log_of_this_year_stays_and_so_does_a_genuine_old_one() {
    check(&[log("a", &[stretch(TRUE.0, TRUE.1)])], bounds(), &[&[]]);
    let of_2008 = stretch("2008-05-28T16:48:00Z", "2008-05-28T18:14:58Z");
    let found = check(&[log("a", &[of_2008])], bounds(), &[&[]]);
    assert!(found[0].remarks.is_empty(), "{:?}", found[0].remarks);
}

#[test]
fn what_may_be_old_or_rolled_over_is_asked() {
    let rolled =
        log("a", &[stretch(ROLLED.0, ROLLED.1), stretch("2006-11-02T05:00:00Z", "2006-11-02T06:00:00Z")]);
    let found = check(std::slice::from_ref(&rolled), bounds(), &[&[]]);
    assert_eq!(found[0].remarks.len(), 1);
    assert!(found[0].remarks[0].contains("[trips] earliest"), "{:?}", found[0].remarks);
    // and the answer settles it
    let asked = Bounds { earliest_us: Some(at("2015-01-01T00:00:00Z")), ..bounds() };
    let found = check(&[rolled], asked, &[&[1024, 1024]]);
    assert!(found[0].remarks[0].contains("2006-10-29 was read as 2026-06-14"), "{:?}", found[0].remarks);
}

#[test]
fn dates_of_before_any_card_are_rolled_over_when_one_year_fits() {
    check(&[log("a", &[stretch("1990-01-07T05:00:00Z", "1990-01-07T09:00:00Z")])], bounds(), &[&[1024]]);
    check(&[log("a", &[stretch("1984-01-07T05:00:00Z", "1984-01-07T09:00:00Z")])], bounds(), &[&[2048]]);
    // 2007 or 2027: not known
    let found =
        check(&[log("a", &[stretch("1988-02-07T05:00:00Z", "1988-02-07T09:00:00Z")])], bounds(), &[&[]]);
    assert_eq!(found[0].remarks.len(), 1);
}

#[test]
fn the_receiver_shows_it_itself() {
    let cold = stretch("2006-10-29T05:00:00Z", "2006-10-29T05:05:00Z");
    let found = check(&[log("a", &[cold, stretch("2026-06-14T05:05:01Z", TRUE.1)])], bounds(), &[&[1024]]);
    assert_eq!(found[0].method, Some("gps_week_rollover"));
    // in the night of the rollover the later dates are the wrong ones
    let night = [
        stretch("2019-04-06T20:00:00Z", "2019-04-06T23:59:59Z"),
        stretch("1999-08-22T00:00:00Z", "1999-08-22T04:00:00Z"),
    ];
    check(&[log("a", &night)], bounds(), &[&[0, 1024]]);
}

#[test]
fn stamps_before_the_sentences_show_it() {
    let lead = at(TRUE.0) - at(ROLLED.0) + 300_000;
    let stamped = Stretch { leads_us: Some((lead, lead)), ..stretch(ROLLED.0, ROLLED.1) };
    let found = check(&[log("a", &[stamped])], bounds(), &[&[1024]]);
    assert!(found[0].remarks[0].contains("stamps"), "{:?}", found[0].remarks);
    // a logger that is merely hours off shows nothing
    let stamped = Stretch { leads_us: Some((4 * 3600 * US_PER_S, 0)), ..stretch(ROLLED.0, ROLLED.1) };
    check(&[log("a", &[stamped])], bounds(), &[&[]]);
}

#[test]
fn other_files_of_the_folder_show_it_and_the_next_log_follows() {
    let files = [
        log("day/LOG1", &[stretch(ROLLED.0, ROLLED.1)]),
        log("day/LOG2", &[stretch("2006-10-29T10:00:01Z", "2006-10-29T23:00:00Z")]),
        log("day/LOG3", &[stretch("2006-10-30T02:00:01Z", "2006-10-30T23:00:00Z")]),
        notes("day/bites.csv", "2026-06-14T06:00:00Z", "2026-06-14T07:00:00Z"),
    ];
    let found = check(&files, bounds(), &[&[1024], &[1024], &[1024], &[]]);
    assert!(found[0].remarks[0].contains("bites.csv says so"), "{:?}", found[0].remarks);
    // notes of its own day beside it: it is genuine
    let genuine =
        [&files[..], &[notes("day/old.csv", "2006-10-29T06:00:00Z", "2006-10-29T07:00:00Z")]].concat();
    let genuine: Vec<FileTimes> = genuine[..1].iter().chain(&genuine[3..]).cloned().collect();
    let found = check(&genuine, bounds(), &[&[], &[], &[]]);
    assert!(found[0].remarks.is_empty(), "{:?}", found[0].remarks);
    // another folder says nothing
    let elsewhere =
        [files[0].clone(), notes("other/bites.csv", "2026-06-14T06:00:00Z", "2026-06-14T07:00:00Z")];
    check(&elsewhere, bounds(), &[&[], &[]]);
}

#[test]
fn a_date_that_is_set_under_a_running_clock_joins() {
    // GPS knew the time of day, but the date came five minutes later
    let before = stretch("2026-03-01T05:00:00Z", "2026-03-01T05:04:59Z");
    let after = stretch("2026-06-14T05:05:00Z", "2026-06-14T10:00:00Z");
    check(&[log("a", &[before, after])], bounds(), &[&[15]]);
    // off for two days, but for another part of the day
    let before = stretch("2026-06-12T05:00:00Z", "2026-06-12T05:04:59Z");
    let after = stretch("2026-06-14T06:05:00Z", "2026-06-14T10:00:00Z");
    check(&[log("a", &[before, after])], bounds(), &[&[]]);
}

#[test]
fn days_of_a_genuine_log_are_never_moved() {
    // four hundred logs of forty days each, from 2008 to 2026, on and off at any second
    let mut state = 7_u64;
    let mut below = |n: i64| {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        i64::try_from(state >> 33).unwrap() % n
    };
    let mut changed = 0;
    for _ in 0..400 {
        let mut now_s = at("2008-01-15T00:00:00Z") / US_PER_S + below(18 * 365 * 86_400);
        let day = |_| {
            now_s += 3 * 3600 + below(20 * 3600);
            let first_us = now_s * US_PER_S;
            now_s += 1800 + below(9 * 3600);
            Stretch { first_us, last_us: now_s * US_PER_S, ..stretch(TRUE.0, TRUE.1) }
        };
        let days: Vec<Stretch> = (0..40).map(day).collect();
        changed += usize::from(judge(&[log("a", &days)], bounds())[0].changes_times());
    }
    assert_eq!(changed, 0);
}

#[test]
fn a_track_in_gpx_is_judged_as_a_whole() {
    let track = FileTimes {
        kind: Kind::Gpx,
        clock: ClockStory::default(),
        ..log("day/t.gpx", &[stretch(ROLLED.0, ROLLED.1)])
    };
    let beside = notes("day/bites.csv", "2026-06-14T06:00:00Z", "2026-06-14T07:00:00Z");
    let found = check(&[track.clone(), beside], bounds(), &[&[1024], &[]]);
    assert_eq!(found[0].offset_s(&track.clock), Some((ROLLOVER_US / US_PER_S) as f64));
    check(&[track], bounds(), &[&[]]);
}

#[test]
fn before_its_first_fix_a_receiver_is_timed_by_counting_back() {
    let cold = Stretch { fixes: 0, ..stretch("1980-01-06T00:00:00Z", "1980-01-06T00:00:40Z") };
    let found = check(
        &[log("a", &[cold, stretch("2026-06-14T05:00:00Z", TRUE.1)])],
        bounds(),
        &[&[(at("2026-06-14T04:59:59Z") - at("1980-01-06T00:00:40Z")) / US_PER_S]],
    );
    assert_eq!(found[0].method, Some("clock_set"));
    // no fix follows: nothing to count from
    let later = Stretch { fixes: 0, ..stretch("2026-06-14T05:00:00Z", TRUE.1) };
    check(&[log("a", &[cold, later])], bounds(), &[&[i64::MIN]]);
    // a plotter that was on in the shed yesterday, and had the right time
    let shed = Stretch { fixes: 0, ..stretch("2026-06-13T20:00:00Z", "2026-06-13T20:05:00Z") };
    check(&[log("a", &[shed, stretch(TRUE.0, TRUE.1)])], bounds(), &[&[]]);
}

#[test]
fn stamps_that_run_on_tell_how_far_a_clock_was_set() {
    let lead = |stretch: Stretch, s: i64| Stretch { leads_us: Some((s * US_PER_S, s * US_PER_S)), ..stretch };
    let before = lead(stretch("2026-06-14T02:00:00Z", "2026-06-14T02:10:00Z"), 3 * 3600);
    let after = lead(stretch("2026-06-14T05:10:30Z", TRUE.1), 0);
    check(&[log("a", &[before, after])], bounds(), &[&[3 * 3600]]);
    // the logger was off as well
    check(&[log("a", &[lead(before, 0), after])], bounds(), &[&[]]);
}

#[test]
fn undated_logs_take_the_day_of_a_file_beside_them() {
    let clock =
        Undated { first_us: 22 * 3600 * US_PER_S, last_us: 3 * 3600 * US_PER_S, midnights: 1, records: 9 };
    let bare =
        FileTimes { clock: ClockStory { stretches: vec![], undated: Some(clock) }, ..log("day/LOG", &[]) };
    let day = |files: &[FileTimes]| judge(files, bounds())[0].hints.first_date_us;
    let bites = notes("day/bites.csv", "2026-06-15T01:00:00Z", "2026-06-15T02:00:00Z");
    assert_eq!(day(&[bare.clone(), bites.clone()]), Some(at("2026-06-14T00:00:00Z")));
    // two days fit
    let others = notes("day/more.csv", "2026-06-18T01:00:00Z", "2026-06-18T02:00:00Z");
    assert_eq!(day(&[bare.clone(), bites.clone(), others.clone()]), None);
    let named = FileTimes { named_us: Some(at("2026-06-14T00:00:00Z")), ..bare.clone() };
    assert_eq!(day(&[named, bites, others]), Some(at("2026-06-14T00:00:00Z")));
    let found = judge(&[bare], bounds());
    assert!(found[0].remarks[0].contains("Put it into the name of the file"), "{:?}", found[0].remarks);
}

#[test]
fn a_late_date_is_counted_back_over_midnight() {
    let mut file = log("a", &[stretch("2026-06-15T03:00:00Z", "2026-06-15T08:00:00Z")]);
    let clock = |first_h: i64, last_h: i64| Undated {
        first_us: first_h * 3600 * US_PER_S,
        last_us: last_h * 3600 * US_PER_S,
        midnights: 0,
        records: 9,
    };
    for (undated, date) in [(clock(22, 23), "2026-06-14T00:00:00Z"), (clock(1, 2), "2026-06-15T00:00:00Z")] {
        file.clock.undated = Some(undated);
        assert_eq!(judge(std::slice::from_ref(&file), bounds())[0].hints.first_date_us, Some(at(date)));
    }
}
