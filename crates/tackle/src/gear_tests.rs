//! Times are in minutes from the trip's start; the trip lasts 300 minutes.

use proptest::prelude::*;
use waterseam_logs::LineMethod;

use super::*;
use crate::spell::DepthSource;

const MINUTE_US: i64 = 60_000_000;

fn row(rod: &str, start: Option<i64>, end: Option<i64>) -> GearEntry {
    let time = |minute: Option<i64>| minute.map(|m| NoteTime::Instant(m * MINUTE_US));
    GearEntry { rod: rod.to_owned(), start: time(start), end: time(end), ..GearEntry::default() }
}

fn laid_over(gear: &[GearEntry]) -> GearSpells {
    let resolve = |time| match time {
        NoteTime::Instant(us) => Some(us),
        NoteTime::Clock(_) => None,
    };
    let tow = |_, _| Tow::by_log(1.0);
    spells(
        gear,
        &TripContext {
            start_us: 0,
            end_us: 300 * MINUTE_US,
            resolve: &resolve,
            tow: &tow,
            tackle: &Tackle::default(),
        },
    )
}

/// Each spell as rod and minutes, and the rows without use.
fn check(gear: &[GearEntry], spells: &[(&str, i64, i64)], unused: &[(usize, UnusedReason)]) {
    let got = laid_over(gear);
    let minutes: Vec<_> =
        got.spells.iter().map(|s| (s.rod.as_str(), s.start_us / MINUTE_US, s.end_us / MINUTE_US)).collect();
    assert_eq!(minutes, spells);
    assert_eq!(got.unused.iter().map(|u| (u.entry, u.reason)).collect::<Vec<_>>(), unused);
}

#[test]
fn out_and_in_events_are_paired() {
    let gear = [
        row("port", Some(10), None),
        row("starboard", Some(12), None),
        row("PORT ", None, Some(60)),
        row("port", Some(65), None),
        row("starboard", None, Some(90)),
        row("port", None, Some(200)),
    ];
    check(&gear, &[("port", 10, 60), ("starboard", 12, 90), ("port", 65, 200)], &[]);
}

#[test]
fn rows_with_both_times_are_spells() {
    check(&[row("a", Some(10), Some(70)), row("b", Some(5), Some(20))], &[("b", 5, 20), ("a", 10, 70)], &[]);
}

#[test]
fn a_forgotten_in_ends_at_the_next_out_or_with_the_trip() {
    check(&[row("a", Some(10), None), row("a", Some(50), None)], &[("a", 10, 50), ("a", 50, 300)], &[]);
}

#[test]
fn overlaps_of_one_rod_are_cut_where_the_later_begins() {
    let gear = [row("a", Some(10), Some(100)), row("a", Some(60), Some(80)), row("b", Some(20), Some(90))];
    check(&gear, &[("a", 10, 60), ("b", 20, 90), ("a", 60, 80)], &[]);
}

#[test]
fn a_log_given_twice_counts_once() {
    let gear = [row("a", Some(10), Some(100)), row("a", Some(10), Some(100))];
    check(&gear, &[("a", 10, 100)], &[(0, UnusedReason::Replaced)]);
}

#[test]
fn spells_are_clipped_to_the_trip_and_other_days_are_not_used() {
    let day = 24 * 60;
    let gear = [
        row("a", Some(-20), Some(30)),
        row("b", Some(250), Some(400)),
        row("c", Some(-day), None),
        row("d", Some(day), Some(day + 10)),
        row("e", Some(-30), None),
        row("f", Some(-day), None),
        row("f", Some(40), Some(50)),
    ];
    let spells = [("a", 0, 30), ("e", 0, 300), ("f", 40, 50), ("b", 250, 300)];
    let unused =
        [(2, UnusedReason::OutsideTrip), (3, UnusedReason::OutsideTrip), (5, UnusedReason::OutsideTrip)];
    check(&gear, &spells, &unused);
}

#[test]
fn rows_that_make_no_sense_are_named() {
    let clock = GearEntry { rod: "d".into(), start: Some(NoteTime::Clock(0)), ..GearEntry::default() };
    let gear = [row("a", Some(50), Some(40)), row("b", None, Some(40)), row("c", None, None), clock];
    let unused = [
        (0, UnusedReason::OutBeforeIn),
        (1, UnusedReason::NeverWentOut),
        (2, UnusedReason::NoTime),
        (3, UnusedReason::NoTime),
    ];
    check(&gear, &[], &unused);
}

#[test]
fn the_depth_is_the_one_of_the_setup() {
    let noted = GearEntry { depth_m: Some(20.0), ..row("a", Some(0), Some(10)) };
    let counted = GearEntry {
        method: Some(LineMethod::Downrigger),
        line_out_m: Some(20.0),
        ..row("b", Some(0), Some(10))
    };
    let got = laid_over(&[noted, counted, row("c", Some(0), Some(10))]).spells;
    assert_eq!(got[0].depth_source, Some(DepthSource::Recorded));
    assert_eq!(got[1].depth_source, Some(DepthSource::Counter));
    assert!(got[1].running_depth_m.unwrap() < 20.0);
    assert_eq!((got[2].running_depth_m, got[2].depth_source), (None, None));
}

#[test]
fn the_usual_spread_is_assumed_while_trolling() {
    let rod = SpreadRod {
        rod: "port".into(),
        method: LineMethod::Downrigger,
        line_out_m: Some(15.0),
        colors: None,
        weight_kg: None,
        leader_m: None,
        longest_m: None,
        lure: Some("green spoon".into()),
        depth_m: None,
    };
    let got = assumed_spells(
        &[rod.clone(), rod],
        &[(0, 100), (100, 100), (200, 300)],
        &|_, _| Tow::usual(),
        &Tackle::default(),
    );
    assert_eq!(
        got.iter().map(|s| (s.start_us, s.end_us)).collect::<Vec<_>>(),
        [(0, 100), (0, 100), (200, 300), (200, 300)]
    );
    assert!(got.iter().all(|s| s.assumed && s.running_depth_m.is_some()));
}

fn maybe_minute() -> impl Strategy<Value = Option<i64>> {
    prop::option::of(-200i64..500)
}

proptest! {
    #[test]
    fn spells_of_a_rod_never_overlap_and_every_row_is_accounted_for(
        rows in prop::collection::vec((0usize..3, maybe_minute(), maybe_minute()), 0..30)
    ) {
        let gear: Vec<_> = rows.iter().map(|&(rod, start, end)| row(["a", "b", "c"][rod], start, end)).collect();
        let got = laid_over(&gear);
        for rod in ["a", "b", "c"] {
            let mine: Vec<_> = got.spells.iter().filter(|s| s.rod == rod).collect();
            prop_assert!(mine.windows(2).all(|w| w[0].end_us <= w[1].start_us));
        }
        let in_trip = |s: &Spell| 0 <= s.start_us && s.start_us < s.end_us && s.end_us <= 300 * MINUTE_US;
        prop_assert!(got.spells.iter().all(in_trip));
        // a row that puts a line out is a spell or is named, never both and never neither
        let outs = rows.iter().filter(|(_, start, _)| start.is_some()).count();
        let named = got.unused.iter().filter(|u| rows[u.entry].1.is_some()).count();
        prop_assert_eq!(outs, got.spells.len() + named);
    }
}
