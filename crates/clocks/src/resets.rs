//! May the clock have been set while the probe was silent?
//!
//! Nothing in a log tells of a clock that was set between two rows which lie minutes apart anyway. What comes behind such a
//! silence has to speak for the same offset on its own. How strongly it does is a ratio of likelihoods (Kass & Raftery
//! 1995, Journal of the American Statistical Association 90:773-795): the mean over all offsets that the clock may have
//! been set to, over the one that the rest of the log is at. A mean is small although one other offset among thousands
//! fits as well, as it should be: that one had to be hit.

use std::ops::Range;

use crate::scan::STEP_S;

/// Offsets closer than this are the same answer to the look at all lags, s.
const SAME_S: f64 = 16.0;
/// A clock that is set is set to another one's time, or falls back to where its battery left it: the first is a matter of
/// minutes, the second of anything. Each has half of the odds.
const MINUTES_S: f64 = 600.0;
/// Logarithm of the ratio at which a silence hid nothing: one in a thousand, before it is considered that clocks are
/// hardly ever set in the water.
const HID_NOTHING: f64 = -6.9;
/// Logarithm of the ratio at which a clock was set: one in a hundred thousand that it was not.
const WAS_SET: f64 = 11.5;

/// Below this from the highest, a likelihood adds nothing to a sum of thousands that the sum could hold: e⁻⁴⁶ is 1e-20.
const NEGLIGIBLE: f64 = -46.0;

/// What the stretches between silences say about one offset for all of them.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) enum Verdict {
    /// These speak for it on both sides of each silence among them; of the others it is assumed. Empty: of none.
    Proven(Range<usize>),
    /// They contradict each other: the clock was set before this one.
    Set(usize),
}

/// Judges the silences before each but the first of `spells`, log-likelihoods over all lags, with the offset at the cell
/// `here`.
pub(crate) fn judge(spells: &[Vec<f64>], here: usize) -> Verdict {
    let add =
        |sum: &mut Vec<f64>, spell: &[f64]| sum.iter_mut().zip(spell).for_each(|(sum, value)| *sum += value);
    let mut sides = vec![[0.0; 2]; spells.len()];
    let mut best = vec![[0.0; 2]; spells.len()];
    for side in 0..2 {
        let mut sum = vec![0.0; spells.first().map_or(0, Vec::len)];
        let order: Vec<usize> =
            if side == 0 { (0..spells.len()).collect() } else { (0..spells.len()).rev().collect() };
        for spell in order {
            add(&mut sum, &spells[spell]);
            // what lies before a silence is known once the last stretch before it is added
            let silence = if side == 0 { spell + 1 } else { spell };
            if let Some(place) = sides.get_mut(silence).filter(|_| silence > 0) {
                place[side] = ratio(&sum, here);
                best[silence][side] = highest(&sum);
            }
        }
    }
    let silences = 1..spells.len();
    let contradicts = |silence: &usize| sides[*silence].iter().any(|ratio| *ratio > WAS_SET);
    if silences.clone().any(|silence| contradicts(&silence)) {
        let both = |silence: &usize| best[*silence].iter().sum::<f64>();
        let set = silences.max_by(|a, b| both(a).total_cmp(&both(b)));
        return Verdict::Set(set.unwrap_or(0));
    }
    let first = silences.clone().filter(|&s| sides[s][0] > HID_NOTHING).max().unwrap_or(0);
    let end = silences.clone().filter(|&s| sides[s][1] > HID_NOTHING).min().unwrap_or(spells.len());
    Verdict::Proven(first..end.max(first))
}

fn highest(values: &[f64]) -> f64 {
    values.iter().copied().fold(f64::NEG_INFINITY, f64::max)
}

/// Logarithm of the mean likelihood of the other lags over that of `here`; the larger one of near and of far ones.
fn ratio(sum: &[f64], here: usize) -> f64 {
    let cells = |seconds: f64| (seconds / STEP_S) as usize;
    let same = here.saturating_sub(cells(SAME_S))..(here + cells(SAME_S) + 1).min(sum.len());
    let own = highest(&sum[same]);
    // lags on both sides of `here`, further than one distance and up to another
    let mean = |further: usize, up_to: usize| {
        let before = here.saturating_sub(up_to)..here.saturating_sub(further).min(sum.len());
        let behind = (here + further + 1).min(sum.len())..here.saturating_add(up_to + 1).min(sum.len());
        let sides =
            [&sum[before.start.min(before.end)..before.end], &sum[behind.start.min(behind.end)..behind.end]];
        let n = sides[0].len() + sides[1].len();
        let most = highest(sides[0]).max(highest(sides[1]));
        let counts = |value: &&f64| **value - most > NEGLIGIBLE;
        let whole: f64 =
            sides.iter().copied().flatten().filter(counts).map(|value| (value - most).exp()).sum();
        if n == 0 { f64::NEG_INFINITY } else { most + (whole / n as f64).ln() }
    };
    let near = mean(cells(SAME_S), cells(MINUTES_S));
    let far = mean(cells(MINUTES_S), sum.len());
    near.max(far) - own
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A flat likelihood with a peak at a lag.
    fn peak(at: usize, height: f64) -> Vec<f64> {
        (0..2000).map(|lag: usize| if lag.abs_diff(at) < 2 { height } else { 0.0 }).collect()
    }

    #[test]
    fn stretches_that_speak_for_the_same_offset_prove_the_silences_between_them() {
        let spells = [peak(0, 0.0), peak(700, 20.0), peak(0, 0.0), peak(700, 20.0), peak(0, 0.0)];
        assert_eq!(judge(&spells, 700), Verdict::Proven(1..4));
    }

    #[test]
    fn what_says_nothing_proves_nothing() {
        let Verdict::Proven(proven) = judge(&[peak(0, 0.0), peak(0, 0.0)], 700) else { panic!("set") };
        assert!(proven.is_empty());
    }

    #[test]
    fn a_set_clock_is_found() {
        let spells = [peak(700, 40.0), peak(700, 20.0), peak(300, 40.0), peak(300, 40.0)];
        assert_eq!(judge(&spells, 300), Verdict::Set(2));
    }

    #[test]
    fn one_stretch_needs_no_proof() {
        assert_eq!(judge(&[peak(700, 20.0)], 700), Verdict::Proven(0..1));
    }
}
