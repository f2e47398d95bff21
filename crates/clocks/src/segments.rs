//! Where in a log may its clock have been set?

use std::ops::Range;

use crate::{Sample, Settings};

/// How a segment begins.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Boundary {
    /// It is the first.
    Start,
    /// The clock went backward: it was set.
    Backward,
    /// The clock went forward while the probe hung at one depth: it was set, or the probe paused.
    Forward,
    /// The probe was silent for long, as it is out of the water; nothing says that its clock was set.
    Silence,
}

/// A clock may be read a little out of order by a logger that writes in bursts, s.
const OUT_OF_ORDER_S: f64 = 1.5;
/// Deeper than this on both sides of a silence, the probe did not come up in it, m.
const DEEP_M: f64 = 2.0;
/// Depths on both sides of a silence that are the same, m.
const SAME_DEPTH_M: f64 = 2.0;
/// Sample intervals that are no silence.
const INTERVALS: f64 = 4.0;
/// A shorter silence is none, s.
const SILENCE_S: f64 = 20.0;

/// Stretches of the log in which its clock ran undisturbed, as far as the log alone can tell, with how each begins.
pub fn segments(log: &[Sample], settings: &Settings) -> Vec<(Range<usize>, Boundary)> {
    let silence_s = silence_s(log);
    let mut found: Vec<(Range<usize>, Boundary)> = Vec::new();
    let mut begins = Boundary::Start;
    let mut start = 0;
    for (at, pair) in log.windows(2).enumerate() {
        let step_s = pair[1].time_s - pair[0].time_s;
        let deep = pair.iter().all(|sample| sample.depth_m > DEEP_M)
            && (pair[1].depth_m - pair[0].depth_m).abs() < SAME_DEPTH_M;
        let next = if step_s < -OUT_OF_ORDER_S {
            Boundary::Backward
        } else if step_s > settings.long_gap_s && !deep {
            Boundary::Silence
        } else if deep && step_s > silence_s {
            Boundary::Forward
        } else {
            continue;
        };
        found.push((start..at + 1, begins));
        (start, begins) = (at + 1, next);
    }
    if start < log.len() {
        found.push((start..log.len(), begins));
    }
    found
}

/// Whether the probe hung at one depth when the clock was set: it logged on without a break worth the name.
pub(crate) fn goes_on(log: &[Sample], at: usize) -> bool {
    let Some(before) = at.checked_sub(1).map(|before| log[before]) else { return false };
    let after = log[at];
    before.depth_m > DEEP_M
        && (before.depth_m - after.depth_m).abs() < SAME_DEPTH_M
        && before.temp_c.zip(after.temp_c).is_none_or(|(a, b)| (a - b).abs() < 0.5)
}

/// A longer step of the clock than this is a silence, s: the probe was out of the water, or the clock was set.
pub(crate) fn silence_s(log: &[Sample]) -> f64 {
    (INTERVALS * interval_s(log)).max(SILENCE_S)
}

/// The stretches of a segment between its silences.
pub(crate) fn spells(segment: &[Sample]) -> Vec<Range<usize>> {
    let silence_s = silence_s(segment);
    let mut from = 0;
    let mut spells = Vec::new();
    for at in 1..=segment.len() {
        if segment.get(at).is_none_or(|sample| sample.time_s - segment[at - 1].time_s > silence_s) {
            spells.push(from..at);
            from = at;
        }
    }
    spells
}

/// The usual time between samples, s: the median of the steps forward.
pub(crate) fn interval_s(log: &[Sample]) -> f64 {
    let mut steps: Vec<f64> =
        log.windows(2).map(|pair| pair[1].time_s - pair[0].time_s).filter(|&step| step > 0.0).collect();
    if steps.is_empty() {
        return 1.0;
    }
    let middle = steps.len() / 2;
    *steps.select_nth_unstable_by(middle, f64::total_cmp).1
}
