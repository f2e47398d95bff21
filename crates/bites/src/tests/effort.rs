use proptest::prelude::*;
use waterseam_logs::{GearEntry, NoteTime};
use waterseam_tackle::{Tow, TripContext};
use waterseam_track::{Activity, Track};

use super::*;
use crate::{EffortRow, effort, stretches};

fn laid_over(track: &Track, spells: &[Spell]) -> Vec<EffortRow> {
    effort(spells, &around(track, NO_BREAKS, &[]))
}

fn hours(rows: &[EffortRow]) -> f64 {
    rows.iter().map(|row| row.rod_hours).sum()
}

#[test]
fn a_minute_and_a_half_on_two_rods() {
    let rows = laid_over(&track(600), &[spell("a", 30, 120), spell("b", 60, 90)]);
    let seconds: Vec<_> = rows
        .iter()
        .map(|r| ((r.time_us - START_US) / SECOND_US, r.spell, (r.rod_hours * 3600.0).round() as i64))
        .collect();
    assert_eq!(seconds, [(0, 0, 30), (60, 0, 60), (60, 1, 30)]);
    assert!((frame().to_local(rows[0].at).1 - 45.0).abs() < 0.01);
    assert_eq!(
        (rows[0].depth_m, rows[0].temp_at_depth_c, rows[0].surface_temp_c),
        (Some(14.0), Some(8.0), Some(15.0))
    );
}

#[test]
fn the_probe_speaks_for_lures_near_its_depth() {
    let mut deep = spell("deep", 0, 60);
    deep.running_depth_m = Some(25.0);
    let rows = laid_over(&track(600), &[spell("near", 0, 60), deep]);
    let speeds: Vec<_> = rows.iter().map(|row| row.lure_speed_mps).collect();
    assert_eq!(speeds.len(), 2);
    assert!((speeds[0].unwrap() - 0.9).abs() < 1e-12 && speeds[1].is_none(), "{speeds:?}");
}

#[test]
fn running_and_lying_still_are_not_fishing() {
    let mut track = track(600);
    (100..200).for_each(|row| track.activity[row] = Activity::Run);
    (200..300).for_each(|row| track.activity[row] = Activity::Drift);
    (300..400).for_each(|row| track.activity[row] = Activity::Stopped);
    let rows = laid_over(&track, &[spell("a", 0, 600)]);
    assert!((hours(&rows) * 3600.0 - 400.0).abs() < 1e-6);
}

#[test]
fn a_long_gap_is_not_fished_and_a_short_one_is() {
    let mut track = track(7200);
    let keep: Vec<usize> =
        (0..track.len()).filter(|&r| !(1001..4000).contains(&r) && !(5001..5300).contains(&r)).collect();
    let pick = |column: &[f64]| keep.iter().map(|&r| column[r]).collect::<Vec<_>>();
    track.lat_deg = pick(&track.lat_deg);
    track.lon_deg = pick(&track.lon_deg);
    track.distance_m = pick(&track.distance_m);
    track.time_us = keep.iter().map(|&r| track.time_us[r]).collect();
    let n = keep.len();
    track.activity.truncate(n);
    assert_eq!(stretches(&track, |a| a == Activity::Troll).len(), 2);
    let rows = laid_over(&track, &[spell("a", 0, 7200)]);
    assert!((hours(&rows) * 3600.0 - (7200.0 - 3000.0)).abs() < 1e-6);
}

#[test]
fn no_track_no_effort() {
    assert_eq!(laid_over(&Track::default(), &[spell("a", 0, 100)]), []);
}

proptest! {
    #[test]
    fn rod_hours_add_up_to_the_fished_time_of_the_spells(
        activities in prop::collection::vec(0usize..4, 1..20),
        spans in prop::collection::vec((-200i64..2000, 1i64..900), 0..6),
        bad in prop::collection::vec(0usize..1200, 0..40),
    ) {
        let mut track = track(1200);
        let kinds = [Activity::Run, Activity::Troll, Activity::Drift, Activity::Stopped];
        for row in 0..track.len() {
            track.activity[row] = kinds[activities[row / 61 % activities.len()]];
        }
        for row in bad {
            track.position_qc[row] = Flag::Fail;
        }
        let spells: Vec<_> = spans.iter().map(|&(from, length)| spell("a", from, from + length)).collect();
        let fished: i64 = spells
            .iter()
            .flat_map(|s| stretches(&track, |a| matches!(a, Activity::Troll | Activity::Drift))
                .into_iter()
                .map(|(start, end)| (end.min(s.end_us) - start.max(s.start_us)).max(0)))
            .sum();
        let rows = laid_over(&track, &spells);
        prop_assert!((hours(&rows) - fished as f64 / 3.6e9).abs() < 1e-9);
        prop_assert!(rows.iter().all(|row| row.rod_hours > 0.0 && row.rod_hours <= 1.0 / 60.0 + 1e-12));
        prop_assert!(rows.is_sorted_by_key(|row| (row.time_us, row.spell)));
    }

    #[test]
    fn rod_hours_of_a_gear_log_are_those_that_a_mate_with_a_watch_would_count(
        log in prop::collection::vec((0usize..3, any::<bool>(), 0i64..1200), 0..40),
        activities in prop::collection::vec(0usize..4, 1..20),
    ) {
        let mut track = track(1200);
        let kinds = [Activity::Run, Activity::Troll, Activity::Drift, Activity::Stopped];
        for row in 0..track.len() {
            track.activity[row] = kinds[activities[row / 61 % activities.len()]];
        }
        let end_us = track.time_us[track.len() - 1];
        let (rods, at_us) = (["port", "starboard", "middle"], |second: i64| START_US + second * SECOND_US);
        let entry = |&(rod, out, second): &(usize, bool, i64)| {
            let time = Some(NoteTime::Instant(at_us(second)));
            let (start, end) = if out { (time, None) } else { (None, time) };
            GearEntry { rod: rods[rod].to_owned(), start, end, ..GearEntry::default() }
        };
        let gear: Vec<GearEntry> = log.iter().map(entry).collect();
        let resolve = |time| if let NoteTime::Instant(us) = time { Some(us) } else { None };
        let trip = TripContext {
            start_us: START_US, end_us, resolve: &resolve, tow: &|_, _| Tow::usual(), tackle: &ROUND_FIGURES,
        };
        let spells = waterseam_tackle::spells(&gear, &trip).spells;
        let rows = laid_over(&track, &spells);
        let fishing = stretches(&track, |a| matches!(a, Activity::Troll | Activity::Drift));
        for (rod, name) in rods.into_iter().enumerate() {
            // the watch: the last thing that was called out about this rod; an `in` of the same second
            // comes before the `out`
            let mut called: Vec<_> = log.iter().filter(|row| row.0 == rod).map(|&(_, out, second)| (second, out)).collect();
            called.sort_unstable();
            // an activity ends half-way between two rows, so that half seconds are watched
            let watched = (0..2400).filter(|&half| {
                let is_out = called.iter().rev().find(|(at, _)| *at <= half / 2).is_some_and(|(_, out)| *out);
                let middle_us = START_US + half * SECOND_US / 2 + SECOND_US / 4;
                is_out && middle_us < end_us && fishing.iter().any(|&(from, to)| from <= middle_us && middle_us < to)
            });
            let counted: f64 = rows.iter().filter(|row| spells[row.spell].rod == name).map(|row| row.rod_hours).sum();
            prop_assert!((counted * 3600.0 - 0.5 * watched.count() as f64).abs() < 1e-6, "{name}: {counted}");
        }
    }
}
