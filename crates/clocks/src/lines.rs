//! When did the probe go into the water and come out, and which lines of the gear log did so then?

use crate::curve::Curve;
use crate::segments::interval_s;
use crate::{LineEvent, Sample};

/// What the gear log's minutes are off by, s (standard deviation): read to the minute and written down when there is a
/// hand free. Common practice, no source.
const NOTED_S: f64 = 40.0;
/// Further from a line than so many of these, its density is nothing beside [`UNNOTED`], of however many lines: e⁻⁵⁰ is
/// 2e-22.
const NEGLIGIBLE_SD: f64 = 10.0;
/// Share of the probe's ups and downs that nobody noted.
const UNNOTED: f64 = 0.2;
/// Deeper than this the probe is down, m.
const DOWN_M: f64 = 1.5;
/// No gear log is better than this as a clock, s.
const BEST_SE_S: f64 = 15.0;
/// Least share of the ups and downs of each half of a log that the gear log must know.
const MATCHED_SHARE: f64 = 0.6;
/// Fewest ups and downs that make a pattern.
const EVENTS_MIN: usize = 6;
/// Offsets further apart are different answers, s.
pub(crate) const APART_S: f64 = 180.0;

/// The curve of the rod that fits best.
pub(crate) struct Fit {
    pub curve: Curve,
    events: Vec<(f64, bool)>,
    rod: usize,
}

/// Compares the ups and downs of a segment with each rod's at the offsets of `grid`.
pub(crate) fn fit(
    segment: &[Sample],
    lines: &[LineEvent],
    grid: &Curve,
    allowed: &[bool],
    boat_s: (f64, f64),
) -> Option<Fit> {
    let events = ups_and_downs(segment);
    if events.len() < EVENTS_MIN {
        return None;
    }
    let n_rods = 1 + lines.iter().map(|line| line.rod).max()?;
    let mut best: Option<(f64, Fit)> = None;
    for rod in 0..n_rods {
        let [ins, outs] = [true, false].map(|goes_in| Density::new(lines, rod, goes_in, boat_s, grid.step_s));
        let (Some(ins), Some(outs)) = (ins, outs) else { continue };
        let mut values = vec![0.0; grid.values.len()];
        for &(t, goes_in) in &events {
            if goes_in { &ins } else { &outs }.add(t + grid.first_s, &mut values);
        }
        let closed = values.iter_mut().zip(allowed).filter(|(_, allowed)| !**allowed);
        closed.for_each(|(value, _)| *value = f64::NEG_INFINITY);
        let curve = Curve { values, ..grid.clone() };
        let height = curve.values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        if best.as_ref().is_none_or(|(other, _)| height > *other) {
            best = Some((height, Fit { curve, events: events.clone(), rod }));
        }
    }
    best.map(|(_, fit)| fit)
}

impl Fit {
    /// Offset and standard error about a peak.
    pub fn refined(&self, lines: &[LineEvent], offset_s: f64) -> Option<(f64, f64)> {
        let apart = |&(t, goes_in): &(f64, bool)| {
            let own = lines.iter().filter(|line| line.rod == self.rod && line.goes_in == goes_in);
            let nearest =
                own.map(|line| line.time_s - t - offset_s).min_by(|a, b| a.abs().total_cmp(&b.abs()));
            nearest.filter(|apart| apart.abs() < 3.0 * NOTED_S)
        };
        let apart: Vec<Option<f64>> = self.events.iter().map(apart).collect();
        // a clock that was set unseen leaves one end of the log without its lines
        let (first, last) = apart.split_at(apart.len() / 2);
        let is_matched =
            |half: &[Option<f64>]| half.iter().flatten().count() as f64 >= MATCHED_SHARE * half.len() as f64;
        let apart: Vec<f64> = apart.iter().copied().flatten().collect();
        if !is_matched(first) || !is_matched(last) || apart.len() < EVENTS_MIN / 2 {
            return None;
        }
        let n = apart.len() as f64;
        let mean_s = apart.iter().sum::<f64>() / n;
        let variance = apart.iter().map(|a| (a - mean_s).powi(2)).sum::<f64>() / (n - 1.0);
        Some((offset_s + mean_s, (variance / n).sqrt().hypot(BEST_SE_S)))
    }
}

/// Logarithm of the density of a rod's events over that of events at any time, on a grid.
struct Density {
    first_s: f64,
    step_s: f64,
    values: Vec<f64>,
}

impl Density {
    fn new(
        lines: &[LineEvent],
        rod: usize,
        goes_in: bool,
        (from_s, to_s): (f64, f64),
        step_s: f64,
    ) -> Option<Self> {
        let own: Vec<f64> =
            lines.iter().filter(|l| l.rod == rod && l.goes_in == goes_in).map(|l| l.time_s).collect();
        if own.len() < 2 {
            return None;
        }
        let whole_s = to_s - from_s;
        let scale = (1.0 - UNNOTED) * whole_s / (own.len() as f64 * NOTED_S * std::f64::consts::TAU.sqrt());
        let n = (whole_s / step_s) as usize + 1;
        let mut near = vec![0.0; n];
        for line in own {
            let cell_of = |time_s: f64| ((time_s - from_s) / step_s) as usize;
            let reach_s = NEGLIGIBLE_SD * NOTED_S;
            let end = (cell_of(line + reach_s) + 2).min(n);
            for (cell, near) in near.iter_mut().enumerate().take(end).skip(cell_of(line - reach_s)) {
                let apart = (from_s + cell as f64 * step_s - line) / NOTED_S;
                if apart.abs() < NEGLIGIBLE_SD {
                    *near += (-0.5 * apart * apart).exp();
                }
            }
        }
        let unnoted = UNNOTED.ln();
        let value = |near: f64| if near > 0.0 { (UNNOTED + scale * near).ln() } else { unnoted };
        Some(Self { first_s: from_s, step_s, values: near.into_iter().map(value).collect() })
    }

    /// Adds the values at a time and every step of the grid after it.
    fn add(&self, time_s: f64, to: &mut [f64]) {
        let first = ((time_s - self.first_s) / self.step_s + 0.5).floor() as i64;
        let before = ((-first).max(0) as usize).min(to.len());
        let (ahead, rest) = to.split_at_mut(before);
        let own = self.values.get(first.max(0) as usize..).unwrap_or_default();
        let (inside, behind) = rest.split_at_mut(own.len().min(rest.len()));
        inside.iter_mut().zip(own).for_each(|(to, value)| *to += value);
        ahead.iter_mut().chain(behind).for_each(|to| *to += UNNOTED.ln());
    }
}

/// Times on the own clock at which the probe went down (true) or came up (false). Only those with the water line in
/// sight count: a log that begins or ends at depth says nothing.
fn ups_and_downs(segment: &[Sample]) -> Vec<(f64, bool)> {
    let silence_s = (5.0 * interval_s(segment)).max(20.0);
    let mut events = Vec::new();
    for pair in segment.windows(2) {
        let [before, after] = [pair[0].depth_m > DOWN_M, pair[1].depth_m > DOWN_M];
        let silent = pair[1].time_s - pair[0].time_s > silence_s;
        match (before, after, silent) {
            (false, true, false) => events.push((pair[0].time_s, true)),
            (true, false, false) => events.push((pair[1].time_s, false)),
            _ => {}
        }
    }
    events
}
