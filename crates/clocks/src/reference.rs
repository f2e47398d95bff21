//! What did the boat record, second by second?

use multiversion::multiversion;
use waterseam_units::LocalFrame;

use crate::{Boat, Sample, Settings};

/// The boat's series on a grid of seconds. Silences are bridged by straight lines and masked.
#[derive(Clone, Debug, Default)]
pub(crate) struct Reference {
    /// GPS time of the first cell, s.
    pub start_s: f64,
    /// Temperature at the hull, °C.
    pub temp: Series,
    /// Speed over ground, m/s; its parts toward the course: cosine, sine.
    pub speed: [Series; 3],
    /// East and north of `frame`, m.
    pub place: [Series; 2],
    pub frame: Option<LocalFrame>,
}

/// One value a second, and whether it was measured.
#[derive(Clone, Debug, Default)]
pub(crate) struct Series {
    /// Smoothed for the look at all lags, but for positions.
    pub smooth: Vec<f64>,
    pub known: Vec<bool>,
}

/// Longest silence that a straight line bridges as if it were measured, s.
const BRIDGED_S: usize = 20;
/// Standard deviation of the weights that smooth temperature, and speed and course, for the look at all lags, s.
const SMOOTH_S: f64 = 8.0;
const SMOOTH_SPEED_S: f64 = 8.0;
/// Longest record that is laid out, s: more than a month is a fault of its dates.
const LONGEST_S: f64 = 31.0 * 86_400.0;

impl Reference {
    /// Lays the boat's record out as far as a log can be compared with it; `None` where it has no time. The hull's temperature is moved to where the probe with
    /// its own lag feels the same.
    pub fn new(boat: &Boat, log: &[Sample], settings: &Settings) -> Option<Self> {
        let firsts = [boat.fixes.first().map(|f| f.0), boat.velocity.first().map(|v| v.0)];
        let lasts = [boat.fixes.last().map(|f| f.0), boat.velocity.last().map(|v| v.0)];
        let start_s = firsts.into_iter().flatten().reduce(f64::min)?.floor();
        let end_s = lasts.into_iter().flatten().reduce(f64::max)?;
        if end_s - start_s > LONGEST_S {
            return None;
        }
        let n = (end_s - start_s) as usize + 1;
        let frame = boat.fixes.first().map(|&(_, at)| LocalFrame::new(at));
        let [sog] = Series::laid(boat.velocity.iter().map(|&(t, sog, _)| (t, [sog])), start_s, n);
        // where the boat was is asked by positions of the log, and by missing speeds; else only whether that is known
        let is_asked = sog.known.contains(&false) || log.iter().any(|sample| sample.at.is_some());
        let place = if let Some(frame) = frame.filter(|_| is_asked) {
            let local = boat.fixes.iter().map(|&(t, at)| {
                let (east_m, north_m) = frame.to_local(at);
                (t, [east_m, north_m])
            });
            Series::laid(local, start_s, n)
        } else {
            let (known, []) = laid(boat.fixes.iter().map(|&(t, _)| (t, [])), start_s, n);
            [known.clone(), known].map(|known| Series { smooth: vec![0.0; n], known })
        };
        // courses explain a speed and nothing else
        let has_speed = log.iter().any(|sample| sample.speed_mps.is_some());
        let courses = boat.velocity.iter().filter(|_| has_speed).filter_map(|&(t, sog, cog)| {
            let (sin, cos) = cog?.to_radians().sin_cos();
            // a boat that hardly moves has no course
            let weight = if sog > 0.2 { 1.0 } else { 0.0 };
            Some((t, [weight * cos, weight * sin]))
        });
        let [cos, sin] = Series::laid(courses, start_s, n);
        let speed = [sog, cos, sin].map(|series| series.smoothed(SMOOTH_SPEED_S));
        let later_s = settings.probe_lag_s - settings.hull_lag_s;
        let temps = without_spikes(&boat.temp).into_iter().map(|(t, temp_c)| (t + later_s, [temp_c]));
        let [temp] = Series::laid(temps, start_s, n).map(|series| series.smoothed(SMOOTH_S));
        Some(Self { start_s, temp, speed, place, frame })
    }

    pub fn len(&self) -> usize {
        self.place[0].smooth.len()
    }

    /// Speed over ground of a second, from the receiver, else from its positions.
    pub fn sog_mps(&self, second: usize) -> Option<f64> {
        if self.speed[0].known[second] {
            return Some(self.speed[0].smooth[second]);
        }
        let (from, to) = (second.saturating_sub(5), (second + 5).min(self.len() - 1));
        let known = self.place[0].known[from] && self.place[0].known[to];
        let part = |series: &Series| series.smooth[to] - series.smooth[from];
        (known && to > from).then(|| part(&self.place[0]).hypot(part(&self.place[1])) / (to - from) as f64)
    }
}

/// Readings without those that stand out from the median of the five about them: single wrong readings.
fn without_spikes(readings: &[(f64, f64)]) -> Vec<(f64, f64)> {
    const OUTSTANDING_C: f64 = 0.8;
    let n = readings.len();
    let stands_out = |at: usize| {
        let first = at.saturating_sub(2).min(n.saturating_sub(5));
        let about = || readings[first..n.min(first + 5)].iter().map(|r| r.1);
        let (mut lowest, mut highest) = (f64::MAX, f64::MIN);
        for temp_c in about() {
            lowest = if temp_c < lowest { temp_c } else { lowest };
            highest = if temp_c > highest { temp_c } else { highest };
        }
        // no further from each other than that, none is so far from their median
        if highest - lowest <= OUTSTANDING_C {
            return false;
        }
        let mut window: Vec<f64> = about().collect();
        let middle = window.len() / 2;
        let median = *window.select_nth_unstable_by(middle, f64::total_cmp).1;
        (readings[at].1 - median).abs() > OUTSTANDING_C
    };
    (0..n).filter(|&at| !stands_out(at)).map(|at| readings[at]).collect()
}

/// Which seconds are known, and values that were read together second by second.
fn laid<const K: usize>(
    samples: impl Iterator<Item = (f64, [f64; K])>,
    start_s: f64,
    n: usize,
) -> (Vec<bool>, [Vec<f64>; K]) {
    let mut sums = vec![([0.0; K], 0.0); n];
    for (time_s, values) in samples {
        // the nearest second; a time before the first becomes it only within half a second
        let second = time_s - start_s + 0.5;
        if second >= 0.0 && (second as usize) < n {
            let (sum, count) = &mut sums[second as usize];
            for (sum, value) in sum.iter_mut().zip(values) {
                *sum += value;
            }
            *count += 1.0;
        }
    }
    let mut known = vec![false; n];
    let mut series: [Vec<f64>; K] = std::array::from_fn(|_| vec![0.0; n]);
    let mut last: Option<usize> = None;
    for (second, (sum, count)) in sums.iter().enumerate() {
        if *count == 0.0 {
            continue;
        }
        known[second] = true;
        let before = last.replace(second);
        for (values, sum) in series.iter_mut().zip(sum) {
            let to = sum / count;
            values[second] = to;
            let Some(before) = before else {
                values[..second].fill(to);
                continue;
            };
            let (gap, from) = (second - before, values[before]);
            for step in 1..gap {
                values[before + step] = from + (to - from) * step as f64 / gap as f64;
            }
        }
        if let Some(before) = before.filter(|before| second - before <= BRIDGED_S) {
            known[before + 1..second].fill(true);
        }
    }
    if let Some(last) = last {
        for values in &mut series {
            let value = values[last];
            values[last..].fill(value);
        }
    }
    (known, series)
}

impl Series {
    /// Series of values that were read together.
    fn laid<const K: usize>(
        samples: impl Iterator<Item = (f64, [f64; K])>,
        start_s: f64,
        n: usize,
    ) -> [Self; K] {
        let (known, series) = laid(samples, start_s, n);
        series.map(|smooth| Self { smooth, known: known.clone() })
    }

    /// Smoothed with Gaussian weights; a cell is still known where it was.
    fn smoothed(self, sd_s: f64) -> Self {
        // of what nobody gave there is nothing to be smoothed
        if !self.known.contains(&true) {
            return self;
        }
        let reach = (3.0 * sd_s).ceil() as usize;
        let weights: Vec<f64> = (0..=reach).map(|k| (-0.5 * (k as f64 / sd_s).powi(2)).exp()).collect();
        let n = self.smooth.len();
        let at_an_end = |at: usize| {
            let (from, to) = (at.saturating_sub(reach), (at + reach + 1).min(n));
            let (mut sum, mut norm) = (0.0, 0.0);
            for near in from..to {
                let weight = weights[near.abs_diff(at)];
                sum += weight * self.smooth[near];
                norm += weight;
            }
            sum / norm
        };
        // away from the ends all weights count, and several cells are summed side by side
        let both_sides: Vec<f64> = weights.iter().rev().chain(&weights[1..]).copied().collect();
        let norm: f64 = both_sides.iter().sum();
        let mut smooth: Vec<f64> = (0..reach.min(n)).map(at_an_end).collect();
        weighted(&self.smooth, &both_sides, norm, &mut smooth);
        smooth.extend((smooth.len()..n).map(at_an_end));
        Self { smooth, ..self }
    }
}

/// Adds the sums of every so many neighbouring values times their weights, over `norm`: many of them side by side.
#[multiversion(targets("x86_64+avx+avx2"))]
pub(crate) fn weighted(values: &[f64], weights: &[f64], norm: f64, to: &mut Vec<f64>) {
    const LANES: usize = 32;
    let n = (values.len() + 1).saturating_sub(weights.len());
    for about in values.windows(weights.len() + LANES - 1).step_by(LANES) {
        let mut sums = [0.0; LANES];
        for (weight, near) in weights.iter().zip(about.windows(LANES)) {
            for lane in 0..LANES {
                sums[lane] += weight * near[lane];
            }
        }
        to.extend(sums.map(|sum| sum / norm));
    }
    for about in values.windows(weights.len()).skip(n - n % LANES) {
        let sum = about.iter().zip(weights).fold(0.0, |sum, (near, weight)| sum + weight * near);
        to.push(sum / norm);
    }
}
