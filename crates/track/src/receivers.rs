//! Which receiver's positions make the track?
//!
//! Two receivers lie metres apart, and one receiver writes its position into several kinds of sentence. One of these
//! sources, a sender with a kind of sentence, is used for the whole batch; another one only where it is silent.

use std::cmp::Reverse;
use std::collections::BTreeMap;

use waterseam_logs::{FixKind, Observation, Value};
use waterseam_units::LatLon;
use waterseam_units::time::{US_PER_S, seconds_between};

use crate::distance::step_m;
use crate::keyed::Keyed;
use crate::position::{Fix, screen};
use crate::qartod::median_interval_s;
use crate::readings::KINDS;
use crate::series::Series;
use crate::settings::Settings;
use crate::steady::{Sender, name};

/// Sources with this share of the most usable seconds are as good as the best; of those the better kind counts.
const AS_GOOD: f64 = 0.9;
/// A source is rough when its positions lie this many times as far off the middle of their neighbours as those of the
/// smoothest source that writes as often …
const ROUGH: f64 = 2.0;
/// … and by more than this on top, m: the step of 0.001′ in which many receivers write is nobody's fault.
const ROUGH_M: f64 = 1.0;
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

/// Chooses among the receivers of a batch. `observations` are in time order, `logs` the names of their sources.
///
/// The source with most usable seconds wins; among sources that are nearly as good one that is not rough, and of those
/// RMC comes first, which brings velocity, then GGA, GNS, GLL and rows of a table.
pub(crate) fn choose(observations: &[Observation], logs: &[String], settings: &Settings) -> Positions {
    let sources = ranked(observations, settings);
    let Some((first, others)) = sources.split_first() else { return Positions::default() };
    let mut fixes = first.fixes.clone();
    let mut named = vec![first.sender];
    let mut remarks = Vec::new();
    for other in others {
        // one receiver has several kinds of sentence and is named once
        if !named.contains(&other.sender) {
            named.push(other.sender);
            remarks.extend(apart_remark(first, other, logs));
        }
    }
    for other in others {
        let filled = fill(&mut fixes, &other.fixes);
        if filled > 0 && other.sender != first.sender {
            let (used, silent) = (name(other.sender, logs), name(first.sender, logs));
            remarks.push(format!("Where {silent} gave no position, {used} is used ({filled} positions)."));
        }
    }
    if fixes.len() > first.fixes.len() {
        let speeds = speeds(observations);
        screen(&mut fixes, &speeds, settings);
    }
    Positions { fixes, remarks }
}

struct Source {
    sender: Sender,
    kind: FixKind,
    fixes: Vec<Fix>,
    usable_s: usize,
    /// Middle distance of a position from the middle of its neighbours, m, and the interval at which that was seen, s.
    roughness: Option<(f64, i64)>,
    is_rough: bool,
}

/// The sources, the best first.
fn ranked(observations: &[Observation], settings: &Settings) -> Vec<Source> {
    let mut by_source: Keyed<(Sender, FixKind), Vec<Fix>> = Keyed::new();
    let mut speeds_of: Keyed<Sender, Series> = Keyed::new();
    let expected = observations.len() / KINDS;
    let fresh = || Vec::with_capacity(expected);
    for observation in observations {
        let sender = Sender { source: observation.source, talker: observation.talker };
        match observation.value {
            Value::Fix { at, from } => {
                by_source.of((sender, from), fresh).push(Fix::new(observation.time_us, sender, at));
            }
            Value::GroundVelocity { sog_mps, .. } => {
                speeds_of.of(sender, || Series::with_capacity(expected)).push(observation.time_us, sog_mps);
            }
            _ => {}
        }
    }
    let mut by_source = by_source.into_vec();
    by_source.sort_by_key(|(key, _)| *key);
    let silent = Series::default();
    let judge = |((sender, kind), mut fixes): ((Sender, FixKind), Vec<Fix>)| {
        let speeds = speeds_of.iter().find(|(of, _)| *of == sender).map_or(&silent, |(_, speeds)| speeds);
        screen(&mut fixes, speeds, settings);
        let usable_s = usable_seconds(&fixes).count();
        Source { sender, kind, fixes, usable_s, roughness: None, is_rough: false }
    };
    let mut sources: Vec<Source> = by_source.into_iter().map(judge).collect();
    let most = sources.iter().map(|source| source.usable_s).max().unwrap_or_default() as f64;
    let falls_short = |source: &Source| (source.usable_s as f64) < AS_GOOD * most;
    if sources.iter().any(|source| source.sender != sources[0].sender) {
        for source in sources.iter_mut().filter(|source| !falls_short(source)) {
            source.roughness = roughness(&source.fixes);
        }
        mark_rough(&mut sources);
    }
    sources.sort_by_key(|source| {
        let kind = if falls_short(source) { None } else { Some(source.kind) };
        let usable = Reverse(source.usable_s);
        (falls_short(source), source.is_rough, kind, usable, source.kind, source.sender)
    });
    sources
}

fn mark_rough(sources: &mut [Source]) {
    let mut smoothest: BTreeMap<i64, f64> = BTreeMap::new();
    for (rough_m, interval_s) in sources.iter().filter_map(|source| source.roughness) {
        let least = smoothest.entry(interval_s).or_insert(rough_m);
        *least = least.min(rough_m);
    }
    for source in sources {
        source.is_rough = source.roughness.is_some_and(|(rough_m, interval_s)| {
            smoothest.get(&interval_s).is_some_and(|least| rough_m > (ROUGH * least).max(least + ROUGH_M))
        });
    }
}

/// Median distance of the usable positions from the middle of their neighbours, m, with the interval in whole seconds.
fn roughness(fixes: &[Fix]) -> Option<(f64, i64)> {
    let seconds: Vec<&Fix> = usable_seconds(fixes).collect();
    let times: Vec<i64> = seconds.iter().map(|fix| fix.time_us).collect();
    let interval_s = median_interval_s(&times)?.round().max(1.0);
    let off = |three: &[&Fix]| {
        let even = |a: &Fix, b: &Fix| (seconds_between(a.time_us, b.time_us) - interval_s).abs() < 0.5;
        let [before, here, after] = three else { return None };
        let is_even = even(before, here) && even(here, after);
        let across = (before.at.lon_deg - after.at.lon_deg).abs() > 1.0;
        let middle = LatLon {
            lat_deg: f64::midpoint(before.at.lat_deg, after.at.lat_deg),
            lon_deg: f64::midpoint(before.at.lon_deg, after.at.lon_deg),
        };
        (is_even && !across).then(|| step_m(middle, here.at))
    };
    let mut off_m: Vec<f64> = seconds.windows(3).filter_map(off).collect();
    Some((median(&mut off_m)?, interval_s as i64))
}

fn median(values: &mut [f64]) -> Option<f64> {
    let half = values.len() / 2;
    (!values.is_empty()).then(|| *values.select_nth_unstable_by(half, f64::total_cmp).1)
}

/// Speeds over ground of all senders.
fn speeds(observations: &[Observation]) -> Series {
    let speed = |o: &Observation| match o.value {
        Value::GroundVelocity { sog_mps, .. } => Some((o.time_us, sog_mps)),
        _ => None,
    };
    observations.iter().filter_map(speed).collect()
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

fn apart_remark(first: &Source, other: &Source, logs: &[String]) -> Option<String> {
    let mut theirs = usable_seconds(&other.fixes).peekable();
    let mut apart_m: Vec<f64> = Vec::new();
    for ours in usable_seconds(&first.fixes) {
        while theirs.next_if(|fix| second(fix.time_us) < second(ours.time_us)).is_some() {}
        if let Some(fix) = theirs.next_if(|fix| second(fix.time_us) == second(ours.time_us)) {
            apart_m.push(step_m(ours.at, fix.at));
        }
    }
    let apart_m = median(&mut apart_m)?;
    let (used, left) = (name(first.sender, logs), name(other.sender, logs));
    let (n, m) = (first.usable_s, other.usable_s);
    let why = match (first.roughness, other.roughness) {
        (Some((smooth_m, _)), Some((rough_m, _))) if other.is_rough => {
            format!(
                "its positions scatter by {smooth_m:.1} m from one to the next, those of {left} by {rough_m:.1} m"
            )
        }
        _ if (m as f64) < AS_GOOD * n as f64 => format!("it has {n} good seconds, {left} {m}"),
        _ if first.kind != other.kind => {
            format!("it has {n} good seconds, {left} {m}, and its kind of sentence says more")
        }
        _ => format!("it has {n} good seconds, {left} {m}"),
    };
    Some(format!("Two receivers give positions, {apart_m:.0} m apart (median): {used} is used, for {why}."))
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

    fn fixes(talker: [u8; 2], from: FixKind, seconds: std::ops::Range<i64>, east_m: f64) -> Vec<Observation> {
        let at = |s: i64| direct(direct(ORIGIN, 0.0, s as f64), 90.0, east_m);
        seconds
            .map(|s| Observation {
                time_us: s * US_PER_S,
                talker,
                source: 0,
                value: Value::Fix { at: at(s), from },
            })
            .collect()
    }

    fn choose_from(parts: &[Vec<Observation>]) -> Positions {
        let mut observations = parts.concat();
        observations.sort_by_key(|o| o.time_us);
        choose(&observations, &[], &Settings::default())
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
        assert_eq!(
            chosen.remarks,
            [
                "Two receivers give positions, 12 m apart (median): GP is used, for it has 1000 good seconds, II 990."
            ]
        );
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
            chosen.fixes.iter().filter(|f| f.sender.talker == *b"II").map(|f| f.time_us / US_PER_S).collect();
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
        assert_eq!(chosen.fixes[0].sender.talker, *b"GP");
    }

    #[test]
    fn of_two_good_receivers_the_smooth_one_is_used() {
        // II wanders by metres from second to second, and has a little more of them
        let mut rough = fixes(*b"II", FixKind::Rmc, 0..1000, 0.0);
        for (i, observation) in rough.iter_mut().enumerate() {
            let at = direct(direct(ORIGIN, 0.0, i as f64), 90.0, [0.0, 5.0, -4.0, 2.0, -5.0][i % 5]);
            observation.value = Value::Fix { at, from: FixKind::Rmc };
        }
        let chosen = choose_from(&[rough, fixes(*b"GP", FixKind::Gga, 0..980, 0.0)]);
        assert_eq!(chosen.fixes[0].sender.talker, *b"GP");
        assert!(chosen.remarks[0].contains("those of II by 6.5 m"), "{:?}", chosen.remarks);
    }

    #[test]
    fn two_receivers_of_one_talker_in_two_logs_are_two() {
        let mut other = fixes(*b"GP", FixKind::Rmc, 0..900, 12.0);
        for observation in &mut other {
            observation.source = 1;
        }
        let mut observations = [fixes(*b"GP", FixKind::Rmc, 0..1000, 0.0), other].concat();
        observations.sort_by_key(|o| o.time_us);
        let logs = ["bow.txt", "stern.txt"].map(str::to_owned);
        let chosen = choose(&observations, &logs, &Settings::default());
        assert_eq!(chosen.fixes.len(), 1000);
        let remark = &chosen.remarks[0];
        assert!(
            remark.contains("GP of bow.txt is used, for it has 1000 good seconds, GP of stern.txt 900"),
            "{remark}"
        );
    }
}
