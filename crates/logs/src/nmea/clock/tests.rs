use super::*;
use proptest::prelude::*;

const S: i64 = 1_000_000;
const DAY: i64 = US_PER_DAY;

fn dated(day: i64, clock_s: i64) -> Moment {
    let said = SaidTime { date_us: Some(day * DAY), time_of_day_us: Some(clock_s * S), sure: true };
    Moment { said, stamp_us: None }
}

fn clock_only(clock_s: i64) -> Moment {
    let said = SaidTime { time_of_day_us: Some(clock_s * S), ..SaidTime::default() };
    Moment { said, stamp_us: None }
}

fn untimed() -> Moment {
    Moment::default()
}

fn stamped(moment: Moment, day: i64, clock_s: i64) -> Moment {
    Moment { stamp_us: Some(day * DAY + clock_s * S), ..moment }
}

/// Times of all moments as (day, second), through the same steps as the reader takes.
fn times(moments: &[Moment]) -> (Vec<(i64, i64)>, ClockNotes) {
    let mut clock = Clock::new();
    let (mut waiting, mut times) = (Vec::new(), Vec::new());
    for moment in moments {
        match clock.hear(moment) {
            Heard::At(time) => times.push(time),
            Heard::Waits => waiting.push(*moment),
            Heard::Settles(time) => {
                waiting.push(*moment);
                times.extend(clock.place(&waiting, time));
                waiting.clear();
            }
        }
    }
    if let Some(time) = clock.decide(&waiting, None) {
        times.extend(clock.place(&waiting, time));
    }
    let times = times.into_iter().map(|t| (t.div_euclid(DAY), t.rem_euclid(DAY) / S)).collect();
    (times, clock.notes)
}

fn check(moments: &[Moment], want: &[(i64, i64)]) -> ClockNotes {
    let (got, notes) = times(moments);
    assert_eq!(got, want);
    notes
}

#[test]
fn midnight_rolls_over_before_and_after_the_date_does() {
    let notes = check(
        &[
            dated(9, 86_398),
            dated(9, 86_399),
            clock_only(0),
            untimed(),
            dated(10, 0),
            clock_only(86_399),
            dated(10, 1),
        ],
        &[(9, 86_398), (9, 86_399), (10, 0), (10, 0), (10, 0), (9, 86_399), (10, 1)],
    );
    assert_eq!((notes.steps, notes.dates_taken_back), (0, 0));
}

#[test]
fn what_comes_before_the_first_time_gets_it() {
    check(
        &[untimed(), clock_only(99), untimed(), dated(3, 100), dated(3, 101)],
        &[(3, 99), (3, 99), (3, 99), (3, 100), (3, 101)],
    );
}

#[test]
fn a_date_that_the_next_sentence_takes_back_is_ignored() {
    let notes = check(
        &[dated(6, 0), dated(6, 0), dated(5, 0), untimed(), dated(6, 0), dated(6, 1)],
        &[(6, 0), (6, 0), (6, 0), (6, 0), (6, 0), (6, 1)],
    );
    assert_eq!((notes.steps, notes.dates_taken_back), (0, 1));
    // as the first date of the file
    check(&[dated(5, 0), dated(6, 0), dated(6, 1)], &[(6, 0), (6, 0), (6, 1)]);
}

#[test]
fn a_silence_of_days_is_believed_with_the_second_date() {
    let notes = check(
        &[dated(3, 100), dated(3, 101), clock_only(50_000), untimed(), dated(5, 50_000), dated(5, 50_001)],
        &[(3, 100), (3, 101), (5, 50_000), (5, 50_000), (5, 50_000), (5, 50_001)],
    );
    assert_eq!(notes.steps, 1);
}

#[test]
fn a_clock_that_is_set_back_is_followed() {
    let notes = check(
        &[dated(3, 9000), dated(3, 9001), dated(3, 100), dated(3, 101), untimed()],
        &[(3, 9000), (3, 9001), (3, 100), (3, 101), (3, 101)],
    );
    assert_eq!(notes.steps, 1);
}

#[test]
fn stamps_time_what_has_no_time_of_its_own() {
    let fix = |s| stamped(dated(3, s), 3, s + 1);
    let notes = check(
        &[fix(100), stamped(untimed(), 3, 102), fix(102), stamped(untimed(), 3, 104), untimed()],
        &[(3, 100), (3, 102), (3, 102), (3, 104), (3, 102)],
    );
    assert_eq!((notes.leads_us, notes.stamps_are_off), (Some((S, S)), false));
}

#[test]
fn stamps_of_another_clock_are_moved_to_the_time_of_the_fixes() {
    // the logger runs on local time, four hours behind
    let local = |s: i64| s - 4 * 3600;
    let fix = |s| stamped(dated(3, s), 3, local(s));
    let notes = check(
        &[
            stamped(untimed(), 3, local(19_999)),
            fix(20_000),
            fix(20_002),
            stamped(untimed(), 3, local(20_003)),
        ],
        &[(3, 19_999), (3, 20_000), (3, 20_002), (3, 20_003)],
    );
    assert!(notes.stamps_are_off);
}

#[test]
fn stamps_give_the_date_where_no_sentence_does() {
    let notes = check(
        &[stamped(untimed(), 3, 86_399), stamped(clock_only(0), 4, 1), stamped(untimed(), 4, 2), untimed()],
        &[(3, 86_399), (4, 0), (4, 2), (4, 0)],
    );
    assert!(!notes.knows_date);
    check(&[stamped(untimed(), 3, 1), stamped(untimed(), 3, 2), untimed()], &[(3, 1), (3, 2), (3, 2)]);
}

#[test]
fn a_receiver_without_a_fix_does_not_set_the_date() {
    let mut void = dated(-3600, 5);
    void.said.sure = false;
    check(
        &[void, void, untimed(), dated(3, 100), dated(3, 101)],
        &[(3, 5), (3, 5), (3, 5), (3, 100), (3, 101)],
    );
    check(&[void, void], &[(-3600, 5), (-3600, 5)]);
}

/// Stretches as (first day, first second, last second).
fn stretches(moments: &[Moment]) -> Vec<(i64, i64, i64)> {
    let mut clock = Clock::new();
    let mut waiting = Vec::new();
    for moment in moments {
        waiting.push(*moment);
        match clock.hear(moment) {
            Heard::At(_) => _ = waiting.pop(),
            Heard::Waits => {}
            Heard::Settles(time) => {
                clock.place(&waiting, time);
                waiting.clear();
            }
        }
    }
    let of = |s: &Stretch| {
        (s.first_us.div_euclid(DAY), s.first_us.rem_euclid(DAY) / S, s.last_us.rem_euclid(DAY) / S)
    };
    clock.stretches.iter().map(of).collect()
}

#[test]
fn a_clock_that_is_set_starts_a_stretch() {
    let moments = [dated(3, 100), dated(3, 101), untimed(), dated(9, 102), dated(9, 103), clock_only(104)];
    assert_eq!(stretches(&moments), [(3, 100, 101), (9, 102, 104)]);
    // midnight, another order and a single wrong date start none
    let moments = [
        dated(3, 86_398),
        dated(3, 86_399),
        dated(4, 0),
        dated(3, 86_399),
        dated(7, 1),
        dated(4, 2),
        dated(4, 3),
    ];
    assert_eq!(stretches(&moments), [(3, 86_398, 3)]);
}

#[test]
fn two_clocks_side_by_side_become_one() {
    // two sentences a second of each, the second receiver 1024 weeks behind
    let behind = ROLLOVER_US / DAY;
    let of_second =
        |s: i64| [dated(9000, s), dated(9000, s), dated(9000 - behind, s), dated(9000 - behind, s)];
    let moments: Vec<Moment> = (0..500).flat_map(of_second).collect();
    let (got, notes) = times(&moments);
    assert!(notes.steps <= 5, "{notes:?}");
    let late: Vec<_> = got[40..].iter().map(|(day, _)| *day).collect();
    assert_eq!(late, vec![9000; late.len()]);
    assert!(stretches(&moments).len() <= 6);
}

#[test]
fn a_receiver_that_is_behind_and_one_that_is_right_in_turn() {
    let behind = ROLLOVER_US / DAY;
    let mut clock = Clock::new();
    let moments: Vec<Moment> = (0..300).flat_map(|s| [dated(9000 - behind, s), dated(9000, s)]).collect();
    let mut waiting = Vec::new();
    for moment in &moments {
        waiting.push(*moment);
        match clock.hear(moment) {
            Heard::At(_) => _ = waiting.pop(),
            Heard::Settles(time) => {
                clock.place(&waiting, time);
                waiting.clear();
            }
            Heard::Waits if waiting.len() > 255 => {
                let time = clock.decide(&waiting, None).unwrap();
                clock.place(&waiting, time);
                waiting.clear();
            }
            Heard::Waits => {}
        }
    }
    // whichever was followed, the stretch knows of the later one
    let [stretch] = clock.stretches[..] else { panic!("{:?}", clock.stretches) };
    let followed_is_behind = stretch.first_us < 9000 * DAY;
    assert_eq!(stretch.later.is_some(), followed_is_behind);
}

#[test]
fn nothing_is_known() {
    assert_eq!(times(&[untimed(), clock_only(5)]).0, []);
    let mut clock = Clock::new();
    let waiting = [untimed(), clock_only(5)];
    let time = clock.decide(&waiting, Some(7 * DAY)).unwrap();
    assert_eq!(clock.place(&waiting, time), [7 * DAY + 5 * S, 7 * DAY + 5 * S]);
}

proptest! {
    #[test]
    fn every_moment_gets_a_time_once_there_is_one(
        moments in proptest::collection::vec(
            (0i64..6, prop::option::of(0i64..86_401), any::<bool>(), any::<bool>(), prop::option::of(0i64..400_000)),
            0..60,
        ),
    ) {
        let moments: Vec<_> = moments.into_iter().map(|(day, clock, has_date, sure, stamp)| Moment {
            said: SaidTime {
                date_us: (has_date && clock.is_some()).then_some(day * DAY),
                time_of_day_us: clock.map(|s| s * S),
                sure,
            },
            stamp_us: stamp.map(|s| s * S),
        }).collect();
        let known = moments.iter().any(|m| m.said.date_us.is_some() || m.stamp_us.is_some());
        prop_assert_eq!(times(&moments).0.len(), if known { moments.len() } else { 0 });
    }

    #[test]
    fn nearest_day_is_within_twelve_hours(clock in 0..DAY, near in -4 * DAY..20_000 * DAY) {
        let time = nearest_day(clock, near);
        prop_assert_eq!(time.rem_euclid(DAY), clock);
        prop_assert!((time - near).abs() <= DAY / 2);
    }
}
