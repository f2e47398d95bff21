//! Which receiver's positions make the track?
//!
//! Two receivers lie metres apart, and one receiver writes its position into several kinds of sentence. One of these
//! sources, a talker with a kind of sentence, is used for the whole batch; another one only where it is silent.

use std::cmp::Reverse;
use std::collections::BTreeMap;

use waterseam_logs::{FixKind, Observation, Talker, Value};
use waterseam_units::Flag;
use waterseam_units::time::US_PER_S;

use crate::distance::step_m;
use crate::position::{Fix, screen};
use crate::qartod::median_interval_s;
use crate::series::Series;
use crate::settings::Settings;
use crate::steady::name;

/// Sources with this share of the most usable seconds are as good as the best; of those the better kind counts.
const AS_GOOD: f64 = 0.9;
/// Another source is used where the chosen one is silent for longer than this, s, and than
/// [`SILENT_INTERVALS`] of its intervals.
const SILENT_S: f64 = 60.0;
const SILENT_INTERVALS: f64 = 5.0;

/// The fixes of the batch in time order, flagged, and what the captain should know of their sources.
#[derive(Debug, Default)]
pub(crate) struct Positions {
    pub fixes: Vec<Fix>,
    pub remarks: Vec<String>,
}

/// Chooses among the receivers of a batch. `observations` are in time order.
///
/// The source with most usable seconds wins; among sources that are nearly as good RMC comes first, which brings
/// velocity, then GGA, GNS, GLL and rows of a table.
pub(crate) fn choose(observations: &[Observation], settings: &Settings) -> Positions {
    let sources = ranked(observations, settings);
    let Some((first, others)) = sources.split_first() else { return Positions::default() };
    let mut fixes = first.fixes.clone();
    let mut remarks: Vec<String> = others
        .iter()
        .filter(|other| other.talker != first.talker)
        .filter_map(|other| apart_remark(first, other))
        .collect();
    for other in others {
        let filled = fill(&mut fixes, &other.fixes);
        if filled > 0 && other.talker != first.talker {
            let (used, silent) = (name(other.talker), name(first.talker));
            remarks.push(format!("Where {silent} gave no position, {used} is used ({filled} positions)."));
        }
    }
    if fixes.len() > first.fixes.len() {
        let speeds = speeds(observations, None);
        screen(&mut fixes, &speeds, settings);
    }
    Positions { fixes, remarks }
}

struct Source {
    talker: Talker,
    kind: FixKind,
    fixes: Vec<Fix>,
    usable_s: usize,
}

/// The sources, the best first.
fn ranked(observations: &[Observation], settings: &Settings) -> Vec<Source> {
    let mut by_source: BTreeMap<(Talker, FixKind), Vec<Fix>> = BTreeMap::new();
    for observation in observations {
        if let Value::Fix { at, from } = observation.value {
            let (time_us, talker) = (observation.time_us, observation.talker);
            let fix = Fix { time_us, talker, at, flag: Flag::NotEvaluated };
            by_source.entry((talker, from)).or_default().push(fix);
        }
    }
    let judge = |((talker, kind), mut fixes): ((Talker, FixKind), Vec<Fix>)| {
        screen(&mut fixes, &speeds(observations, Some(talker)), settings);
        let usable_s = usable_seconds(&fixes).count();
        Source { talker, kind, fixes, usable_s }
    };
    let mut sources: Vec<Source> = by_source.into_iter().map(judge).collect();
    let most = sources.iter().map(|source| source.usable_s).max().unwrap_or_default() as f64;
    sources.sort_by_key(|source| {
        let falls_short = (source.usable_s as f64) < AS_GOOD * most;
        let kind = if falls_short { None } else { Some(source.kind) };
        (falls_short, kind, Reverse(source.usable_s), source.kind, source.talker)
    });
    sources
}

/// Speeds over ground of one talker, or of all.
fn speeds(observations: &[Observation], talker: Option<Talker>) -> Series {
    let of_talker = |o: &&Observation| talker.is_none_or(|talker| o.talker == talker);
    let speed = |o: &Observation| match o.value {
        Value::GroundVelocity { sog_mps, .. } => Some((o.time_us, sog_mps)),
        _ => None,
    };
    observations.iter().filter(of_talker).filter_map(speed).collect()
}

/// The whole second that an instant belongs to.
pub(crate) fn second(time_us: i64) -> i64 {
    (time_us + US_PER_S / 2).div_euclid(US_PER_S)
}

/// The first usable fix of each second that has one.
fn usable_seconds(fixes: &[Fix]) -> impl Iterator<Item = &Fix> {
    let mut last = None;
    fixes.iter().filter(move |fix| {
        let is_new = fix.flag.is_usable() && last != Some(second(fix.time_us));
        if is_new {
            last = Some(second(fix.time_us));
        }
        is_new
    })
}

fn apart_remark(first: &Source, other: &Source) -> Option<String> {
    let mut theirs = usable_seconds(&other.fixes).peekable();
    let mut apart_m: Vec<f64> = Vec::new();
    for ours in usable_seconds(&first.fixes) {
        while theirs.next_if(|fix| second(fix.time_us) < second(ours.time_us)).is_some() {}
        if let Some(fix) = theirs.next_if(|fix| second(fix.time_us) == second(ours.time_us)) {
            apart_m.push(step_m(ours.at, fix.at));
        }
    }
    let half = apart_m.len() / 2;
    let median_m = if apart_m.is_empty() {
        return None;
    } else {
        *apart_m.select_nth_unstable_by(half, f64::total_cmp).1
    };
    let (used, left) = (name(first.talker), name(other.talker));
    Some(format!(
        "Two receivers give positions: {used} is used, {left} lies {median_m:.0} m from it (median)."
    ))
}

/// Adds the fixes of another source where the usable ones leave a silence; gives how many.
fn fill(fixes: &mut Vec<Fix>, others: &[Fix]) -> usize {
    let times: Vec<i64> = fixes.iter().filter(|fix| fix.flag.is_usable()).map(|fix| fix.time_us).collect();
    let interval_s = median_interval_s(&times).unwrap_or_default();
    let silent_us = (SILENT_S.max(SILENT_INTERVALS * interval_s) * US_PER_S as f64) as i64;
    let reach_us = silent_us / 2;
    let mut next = 0;
    let is_in_silence = |fix: &&Fix| {
        while times.get(next).is_some_and(|&time_us| time_us <= fix.time_us) {
            next += 1;
        }
        let before = next.checked_sub(1).map(|before| times[before]);
        let after = times.get(next).copied();
        let is_silent = before.zip(after).is_none_or(|(before, after)| after - before > silent_us);
        // not right beside the chosen source: its last position stands for a while
        let clear_us = [before.map(|b| fix.time_us - b), after.map(|a| a - fix.time_us)];
        is_silent && clear_us.into_iter().flatten().all(|clear_us| clear_us > reach_us.min(10 * US_PER_S))
    };
    let filling: Vec<Fix> =
        others.iter().filter(|fix| fix.flag.is_usable()).filter(is_in_silence).copied().collect();
    if !filling.is_empty() {
        fixes.extend_from_slice(&filling);
        fixes.sort_by_key(|fix| fix.time_us);
    }
    filling.len()
}

#[cfg(test)]
mod tests {
    use super::*;
    use waterseam_units::LatLon;
    use waterseam_units::geodesy::direct;

    const ORIGIN: LatLon = LatLon { lat_deg: 46.2, lon_deg: -29.4 };

    fn fixes(talker: Talker, from: FixKind, seconds: std::ops::Range<i64>, east_m: f64) -> Vec<Observation> {
        let at = |s: i64| direct(direct(ORIGIN, 0.0, s as f64), 90.0, east_m);
        seconds
            .map(|s| Observation { time_us: s * US_PER_S, talker, value: Value::Fix { at: at(s), from } })
            .collect()
    }

    fn choose_from(parts: &[Vec<Observation>]) -> Positions {
        let mut observations = parts.concat();
        observations.sort_by_key(|o| o.time_us);
        choose(&observations, &Settings::default())
    }

    #[test]
    fn rmc_is_preferred_among_sources_that_are_as_good() {
        let chosen = choose_from(&[
            fixes(*b"GP", FixKind::Gll, 0..1000, 5.0),
            fixes(*b"GP", FixKind::Rmc, 0..950, 0.0),
        ]);
        assert_eq!(chosen.fixes[500].at, direct(ORIGIN, 0.0, 500.0));
        assert!(chosen.remarks.is_empty(), "one receiver needs no remark");
    }

    #[test]
    fn a_second_receiver_is_named_with_its_distance() {
        let chosen = choose_from(&[
            fixes(*b"GP", FixKind::Rmc, 0..1000, 0.0),
            fixes(*b"II", FixKind::Rmc, 0..990, 12.0),
        ]);
        assert_eq!(chosen.fixes.len(), 1000);
        assert!(chosen.remarks[0].contains("GP is used, II lies 12 m"), "{:?}", chosen.remarks);
    }

    #[test]
    fn another_receiver_is_used_only_where_the_first_is_silent() {
        let chosen = choose_from(&[
            fixes(*b"GP", FixKind::Rmc, 0..1000, 0.0),
            fixes(*b"GP", FixKind::Rmc, 1040..2000, 0.0),
            fixes(*b"GP", FixKind::Rmc, 2300..3000, 0.0),
            fixes(*b"II", FixKind::Rmc, 900..2600, 12.0),
        ]);
        let theirs: Vec<i64> =
            chosen.fixes.iter().filter(|f| f.talker == *b"II").map(|f| f.time_us / US_PER_S).collect();
        assert_eq!(theirs, (2010..2290).collect::<Vec<_>>());
        assert!(chosen.fixes.is_sorted_by_key(|f| f.time_us));
        assert!(chosen.remarks.iter().any(|r| r.contains("Where GP gave no position, II is used (280")));
    }

    #[test]
    fn a_receiver_that_is_lost_most_of_the_time_is_not_chosen() {
        let mut lost = fixes(*b"GN", FixKind::Rmc, 0..1000, 0.0);
        for (i, observation) in lost.iter_mut().enumerate().filter(|(i, _)| i % 3 > 0) {
            let at = direct(ORIGIN, i as f64, 40_000.0);
            observation.value = Value::Fix { at, from: FixKind::Rmc };
        }
        let chosen = choose_from(&[lost, fixes(*b"GP", FixKind::Gll, 0..900, 0.0)]);
        assert_eq!(chosen.fixes[0].talker, *b"GP");
    }
}
