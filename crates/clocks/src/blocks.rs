//! Which stretches of the log can be compared with the boat's record, and what else moves them?

use std::ops::Range;

use crate::reference::{Reference, Series};
use crate::segments::silence_s;
use crate::{Evidence, Sample, Settings};

/// A stretch of the log that has one level, trend and dependence on depth.
#[derive(Clone, Debug)]
pub(crate) struct Block {
    pub part: Part,
    /// Of which of the stretches between two silences it is.
    pub spell: usize,
    /// Own clock, s.
    pub time_s: Vec<f64>,
    /// What was measured.
    pub y: Vec<f64>,
    /// Columns that may explain it beside the boat's record.
    pub nuisance: Vec<Vec<f64>>,
}

/// What is compared.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Part {
    /// East or north, as they are.
    Place(usize),
    /// Speed through the water at the probe, with speed and course over ground.
    Speed,
    /// Temperature, with that at the hull.
    Temp,
}

/// Longest block, s. One level and a bent trend hold for less than an hour of trolling.
const LONGEST_S: f64 = 2400.0;
/// Shortest block, s, and fewest samples: less says nothing after its level and trend are taken off.
const SHORTEST_S: f64 = 180.0;
const SAMPLES_MIN: usize = 20;
/// A probe at one depth stays within this of it, m.
const ONE_DEPTH_M: f64 = 1.0;
/// Most regressors of a block.
pub(crate) const MOST: usize = 3;
/// Depths that vary less carry no dependence on depth, m.
const DEPTH_VARIES_M: f64 = 0.02;

impl Part {
    /// Series of the boat that explain it.
    pub fn regressors(self, reference: &Reference) -> Vec<&Series> {
        match self {
            Self::Place(axis) => vec![&reference.place[axis]],
            Self::Speed => reference.speed.iter().collect(),
            Self::Temp => vec![&reference.temp],
        }
    }

    pub fn n_regressors(self) -> usize {
        if self == Self::Speed { 3 } else { 1 }
    }

    /// Whether it is the boat's own series, so that nothing is fitted.
    pub fn is_same(&self) -> bool {
        matches!(self, Self::Place(_))
    }

    /// The evidence that it is.
    pub fn evidence(self) -> Evidence {
        match self {
            Self::Place(_) => Evidence::Positions,
            Self::Speed => Evidence::Speed,
            Self::Temp => Evidence::Temperature,
        }
    }

    /// What the instruments may shift it by, s.
    pub fn lag_error_s(self, settings: &Settings) -> f64 {
        match self {
            Self::Place(_) => 0.2,
            Self::Speed => settings.speed_lag_error_s,
            Self::Temp => settings.hull_lag_error_s.hypot(settings.probe_lag_error_s),
        }
    }

    /// No agreement is better than this, in the unit of the series: 5 m of two receivers, 0.01 m/s and 0.02 °C of
    /// instruments that write tenths.
    pub fn floor(self) -> f64 {
        match self {
            Self::Place(_) => 5.0,
            Self::Speed => 0.01,
            Self::Temp => 0.02,
        }
    }
}

impl Block {
    /// First and last of the cells that its samples lie in.
    pub fn ends(&self, cell: impl Fn(f64) -> usize) -> (usize, usize) {
        let cells = || self.time_s.iter().map(|&t| cell(t));
        (cells().min().unwrap_or(0), cells().max().unwrap_or(0))
    }
}

/// The blocks of a segment for one kind of evidence. `spells` are its stretches between two silences.
pub(crate) fn blocks(
    segment: &[Sample],
    spells: &[Range<usize>],
    evidence: Evidence,
    reference: &Reference,
) -> Vec<Block> {
    let value = |sample: &Sample, axis: usize| match evidence {
        Evidence::Positions => {
            let (east_m, north_m) = reference.frame.as_ref()?.to_local(sample.at?);
            Some(if axis == 0 { east_m } else { north_m })
        }
        Evidence::Speed => sample.speed_mps,
        _ => sample.temp_c,
    };
    let silence_s = silence_s(segment);
    let one_depth = evidence == Evidence::Temperature;
    let mut found = Vec::new();
    for (spell, samples) in spells.iter().enumerate() {
        let with_value: Vec<&Sample> =
            segment[samples.clone()].iter().filter(|sample| value(sample, 0).is_some()).collect();
        let mut from = 0;
        let mut depth_sum = 0.0;
        for at in 0..=with_value.len() {
            let ends = at > from
                && with_value.get(at).is_none_or(|sample| {
                    let last = with_value[at - 1];
                    let mean_m = depth_sum / (at - from) as f64;
                    sample.time_s - last.time_s > silence_s
                        || sample.time_s - with_value[from].time_s > LONGEST_S
                        || (one_depth && (sample.depth_m - mean_m).abs() > ONE_DEPTH_M)
                });
            if ends {
                let stretch = &with_value[from..at];
                let long = stretch[stretch.len() - 1].time_s - stretch[0].time_s >= SHORTEST_S;
                if stretch.len() >= SAMPLES_MIN && long {
                    found.extend(of_stretch(stretch, spell, evidence, &value));
                }
                (from, depth_sum) = (at, 0.0);
            }
            depth_sum += with_value.get(at).map_or(0.0, |sample| sample.depth_m);
        }
    }
    found
}

fn of_stretch(
    stretch: &[&Sample],
    spell: usize,
    evidence: Evidence,
    value: &impl Fn(&Sample, usize) -> Option<f64>,
) -> Vec<Block> {
    let parts: &[Part] = match evidence {
        Evidence::Positions => &[Part::Place(0), Part::Place(1)],
        Evidence::Speed => &[Part::Speed],
        _ => &[Part::Temp],
    };
    let time_s: Vec<f64> = stretch.iter().map(|sample| sample.time_s).collect();
    let n = time_s.len();
    let half_s = 0.5 * (time_s[n - 1] - time_s[0]);
    let middle_s = time_s[0] + half_s;
    let trend = |power: i32| time_s.iter().map(|t| ((t - middle_s) / half_s).powi(power)).collect::<Vec<_>>();
    let nuisance = match parts[0] {
        Part::Place(_) => Vec::new(),
        Part::Speed => vec![trend(0)],
        Part::Temp => {
            let mean_m = stretch.iter().map(|sample| sample.depth_m).sum::<f64>() / n as f64;
            let depth: Vec<f64> = stretch.iter().map(|sample| sample.depth_m - mean_m).collect();
            let varies = depth.iter().map(|d| d * d).sum::<f64>() > n as f64 * DEPTH_VARIES_M.powi(2);
            let mut columns = vec![trend(0), trend(1), trend(2)];
            columns.extend(varies.then_some(depth));
            columns
        }
    };
    let block = |(axis, &part): (usize, &Part)| Block {
        part,
        spell,
        time_s: time_s.clone(),
        y: stretch.iter().filter_map(|sample| value(sample, axis)).collect(),
        nuisance: nuisance.clone(),
    };
    parts.iter().enumerate().map(block).collect()
}

/// An orthonormal basis of the columns (modified Gram-Schmidt); what depends on others is left out.
pub(crate) fn orthonormal(columns: &[Vec<f64>]) -> Vec<Vec<f64>> {
    let mut basis: Vec<Vec<f64>> = Vec::new();
    for column in columns {
        let whole = dot(column, column);
        let mut left = column.clone();
        for q in &basis {
            take_off(&mut left, q);
        }
        let rest = dot(&left, &left);
        if rest > 1e-8 * whole && rest > 0.0 {
            let length = rest.sqrt();
            for value in &mut left {
                *value /= length;
            }
            basis.push(left);
        }
    }
    basis
}

/// Takes off `y` what lies along the unit vector `q`.
pub(crate) fn take_off(y: &mut [f64], q: &[f64]) {
    let along = dot(y, q);
    y.iter_mut().zip(q).for_each(|(y, q)| *y -= along * q);
}

/// Scalar product, summed in lanes that do not wait for one another.
pub(crate) fn dot(a: &[f64], b: &[f64]) -> f64 {
    const LANES: usize = 8;
    let mut sums = [0.0; LANES];
    let (a, a_rest) = a.as_chunks::<LANES>();
    let (b, b_rest) = b.as_chunks::<LANES>();
    for (a, b) in a.iter().zip(b) {
        for lane in 0..LANES {
            sums[lane] += a[lane] * b[lane];
        }
    }
    let rest: f64 = a_rest.iter().zip(b_rest).map(|(a, b)| a * b).sum();
    sums.iter().sum::<f64>() + rest
}

/// How much of the squares of `y` a regression explains, with `a` the products of `y` with the regressors and `g` those of
/// the regressors among themselves (row by row), both after the nuisance was taken off. Nothing where the first
/// regressor would have to go the other way.
pub(crate) fn explained(a: &[f64], g: &[f64]) -> f64 {
    let gains = gains(a, g).filter(|gains| gains[0] > 0.0);
    gains.map_or(0.0, |gains| a.iter().zip(gains).map(|(a, gain)| a * gain).sum())
}

/// The gains of a regression, one for each of `a`; none where it has no solution.
pub(crate) fn gains(a: &[f64], g: &[f64]) -> Option<[f64; MOST]> {
    let n = a.len();
    // a boat that keeps her course for the whole block leaves regressors without a span
    let ridge = 1e-6 * (0..n).map(|i| g[i * n + i]).sum::<f64>() + 1e-12;
    // Cholesky: G + ridge = L L', forward L z = a, backward L' gains = z
    let mut l = [[0.0_f64; MOST]; MOST];
    let mut z = [0.0; MOST];
    for i in 0..n {
        for j in 0..=i {
            let rest = g[i * n + j] - (0..j).map(|k| l[i][k] * l[j][k]).sum::<f64>();
            if i == j {
                let pivot = rest + ridge;
                if pivot <= 0.0 {
                    return None;
                }
                l[i][i] = pivot.sqrt();
            } else {
                l[i][j] = rest / l[j][j];
            }
        }
        z[i] = (a[i] - (0..i).map(|k| l[i][k] * z[k]).sum::<f64>()) / l[i][i];
    }
    let mut gains = [0.0; MOST];
    for i in (0..n).rev() {
        gains[i] = (z[i] - (i + 1..n).map(|k| l[k][i] * gains[k]).sum::<f64>()) / l[i][i];
    }
    Some(gains)
}
