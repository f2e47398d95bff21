use jiff::tz::TimeZone;
use proptest::prelude::*;
use waterseam_logs::{BiteNote, LineMethod, NoteTime};
use waterseam_tackle::{DepthSource, Spell};

use super::*;
use crate::{Placed, Reason, Side, place};

fn note(second: i64) -> BiteNote {
    BiteNote { time: NoteTime::Instant(START_US + second * SECOND_US), ..BiteNote::default() }
}

fn placed(notes: &[BiteNote], spells: &[Spell]) -> Placed {
    let track = track(3600);
    place(notes, spells, &around(&track, NO_BREAKS, &[]), &TimeZone::UTC)
}

fn reasons(placed: &Placed) -> Vec<Reason> {
    placed.unplaced.iter().map(|u| u.reason).collect()
}

#[test]
fn everything_around_a_bite() {
    let track = track(3600);
    let crossings = [crossing(1500.0, -2.0)];
    let breaks = Breaks { zero_us: START_US, crossings: &crossings, lines: &[] };
    let window = |second: f64, east: f64| Window {
        time_s: second,
        distance_m: second,
        east_mps: east,
        north_mps: 0.0,
        east_se_mps: 0.02,
        north_se_mps: 0.02,
        method: Method::Heading,
    };
    let windows = [window(300.0, 0.1), window(1200.0, 0.2)];
    let bite = BiteNote { rod: Some("Port".into()), ..note(1001) };
    let spells = [spell("port", 0, 3000)];
    let got = place(&[bite], &spells, &around(&track, breaks, &windows), &TimeZone::UTC);
    let [bite] = &got.bites[..] else { panic!("one bite") };
    let (east_m, north_m) = frame().to_local(bite.at);
    assert!(east_m.abs() < 1e-6 && (north_m - 1001.0).abs() < 1e-3);
    assert_eq!((bite.time_se_s, bite.spell), (30.0, Some(0)));
    assert_eq!(
        (bite.depth_m, bite.depth_se_m, bite.depth_source),
        (Some(14.0), Some(0.8), Some(DepthSource::Model))
    );
    assert_eq!(
        (bite.temp_at_depth_c, bite.surface_temp_c, bite.water_depth_m),
        (Some(8.0), Some(15.0), Some(40.0))
    );
    assert!((bite.sog_mps.unwrap() - 1.0).abs() < 1e-9 && (bite.stw_mps.unwrap() - 1.1).abs() < 1e-9);
    assert_eq!((bite.set_deg, bite.drift_mps), (Some(90.0), Some(0.2)));
    assert!((bite.break_distance_m.unwrap() - 499.0).abs() < 0.1);
    assert_eq!(bite.break_side, Some(Side::Warm));
    assert_eq!(bite.above_thermocline_m, Some(-2.0));
}

#[test]
fn a_time_on_the_minute_is_less_sure() {
    let got = placed(&[note(600), note(601)], &[]);
    assert_eq!(got.bites.iter().map(|b| b.time_se_s).collect::<Vec<_>>(), [60.0, 30.0]);
}

#[test]
fn the_first_and_the_last_minute_and_what_lies_beyond() {
    let got = placed(&[note(0), note(-50), note(3655), note(-600), note(3900), BiteNote::default()], &[]);
    assert_eq!(got.bites.len(), 3);
    assert_eq!(reasons(&got), [Reason::OutsideTrip, Reason::OutsideTrip, Reason::NoTime]);
}

#[test]
fn clock_times_take_the_day_of_the_trip() {
    let clock = |h: f64| BiteNote { time: NoteTime::Clock((h * 3600e6) as i64), ..BiteNote::default() };
    let got = placed(&[clock(9.5), clock(20.0)], &[]);
    assert_eq!(got.bites[0].time_us, START_US + 30 * MINUTE_US);
    assert_eq!(reasons(&got), [Reason::OutsideTrip]);
}

#[test]
fn the_order_of_depths() {
    let rod = || Some("port".to_owned());
    let counted = Spell { method: Some(LineMethod::Downrigger), ..spell("port", 0, 3600) };
    let notes = [
        BiteNote { depth_m: Some(9.0), line_out_m: Some(20.0), rod: rod(), ..note(101) },
        BiteNote { line_out_m: Some(20.0), rod: rod(), ..note(102) },
        BiteNote { rod: rod(), ..note(103) },
        BiteNote { rod: Some("never put out".into()), ..note(104) },
    ];
    let got = placed(&notes, &[counted]).bites;
    let sources: Vec<_> = got.iter().map(|b| b.depth_source).collect();
    assert_eq!(
        sources,
        [Some(DepthSource::Recorded), Some(DepthSource::Counter), Some(DepthSource::Model), None]
    );
    assert!(got[1].depth_m.unwrap() < 20.0 && got[1].depth_m.unwrap() > 19.0);
    assert_eq!((got[3].depth_m, got[3].spell, got[3].temp_at_depth_c), (None, None, None));
}

#[test]
fn the_spell_of_a_bite() {
    let green = Spell { lure: Some("Green spoon".into()), ..spell("a", 0, 1000) };
    let white = Spell { lure: Some("white plug".into()), ..spell("b", 500, 2000) };
    let spells = [green, white, spell("a", 1010, 2000)];
    let at = |second, rod: Option<&str>, lure: Option<&str>| {
        let note = BiteNote { rod: rod.map(Into::into), lure: lure.map(Into::into), ..note(second) };
        placed(&[note], &spells).bites[0].spell
    };
    assert_eq!(at(100, None, None), Some(0));
    assert_eq!(at(601, None, None), None);
    assert_eq!(at(601, None, Some("green SPOON")), Some(0));
    assert_eq!(at(601, Some("B"), None), Some(1));
    // noted when the line was already out of the water, and long after
    assert_eq!(at(1004, Some("a"), None), Some(0));
    assert_eq!(at(2041, Some("b"), None), Some(1));
    assert_eq!(at(2141, Some("b"), None), None);
}

#[test]
fn a_gap_in_the_positions_is_bridged_or_said() {
    let mut track = track(7200);
    let far = (0..track.len()).filter(|&row| row > 1000 && row < 4000);
    far.for_each(|row| track.position_qc[row] = Flag::Fail);
    (5000..5300).for_each(|row| track.position_qc[row] = Flag::Fail);
    let here = frame().to_position(10.0, 2000.0);
    let notes = [note(2501), BiteNote { at: Some(here), ..note(2502) }, note(5151)];
    let got = place(&notes, &[], &around(&track, NO_BREAKS, &[]), &TimeZone::UTC);
    assert_eq!(reasons(&got), [Reason::NoPosition]);
    assert_eq!(got.bites[0].at, here);
    assert!((frame().to_local(got.bites[1].at).1 - 5151.0).abs() < 0.01);
}

proptest! {
    #[test]
    fn no_note_is_lost(
        times in prop::collection::vec((prop::bool::ANY, -10_000i64..10_000), 0..40),
        rows in 0i64..600,
    ) {
        let notes: Vec<_> = times
            .iter()
            .map(|&(clock, s)| {
                let instant = NoteTime::Instant(START_US + s * SECOND_US);
                let time = if clock { NoteTime::Clock(s.abs() * 9 * SECOND_US) } else { instant };
                BiteNote { time, ..BiteNote::default() }
            })
            .collect();
        let track = if rows == 0 { waterseam_track::Track::default() } else { track(rows) };
        let got = place(&notes, &[spell("a", 0, 300)], &around(&track, NO_BREAKS, &[]), &TimeZone::UTC);
        prop_assert_eq!(got.bites.len() + got.unplaced.len(), notes.len());
        let mut kept: Vec<_> = got.bites.iter().map(|b| b.note_index).collect();
        kept.sort_unstable();
        kept.dedup();
        prop_assert_eq!(kept.len(), got.bites.len());
    }
}
