//! What does a series of the boat look like at the samples of a stretch, second after second of offset?
//!
//! A filter over samples that lie evenly takes the same seconds of the boat's series before each of them, and a second
//! of offset later it takes what it took for a neighbour. So the series is filtered once for all samples that lie alike, and the
//! offsets are read off; a sample that lies like no other has a filtered series of its own, as long as the look.

use std::sync::Arc;

use multiversion::multiversion;

use crate::look::REACH_S;
use crate::reference::Series;

/// Offsets of a look.
pub(crate) const OFFSETS: usize = 2 * REACH_S + 1;
/// Offsets that are summed side by side: those of a look are whole lots of them and one.
const LANES: usize = 32;
/// Offsets further apart share too few samples for what the one needs to follow from the other.
const STEP_MOST: usize = 16;
/// So many ways to lie are followed at once: a log that writes every 0.4 s has five.
const WAYS: usize = 6;

/// Where samples lie on the boat's record at the first offset of a look: whole seconds, and what is left of one.
#[derive(Clone, Debug, Default)]
pub(crate) struct Places {
    second: Vec<i64>,
    part: Vec<f64>,
    /// How many steps of whole seconds, each as long as the others, lead to the sample.
    even: Vec<usize>,
}

impl Places {
    /// Of times since the start of the record, s.
    pub fn new(times_s: impl Iterator<Item = f64>) -> Self {
        let (second, part): (Vec<i64>, Vec<f64>) = times_s.map(|t| (t.floor() as i64, t - t.floor())).unzip();
        let mut even = Vec::with_capacity(second.len());
        let mut last = (0, 0);
        for at in 0..second.len() {
            let step = at.checked_sub(1).filter(|before| part[*before] == part[at]);
            last = step.map_or((0, 0), |before| {
                let step = second[at] - second[before];
                (step, if last.1 > 0 && last.0 == step { last.1 + 1 } else { 1 })
            });
            even.push(last.1);
        }
        Self { second, part, even }
    }

    /// Whether the samples up to and with `a` lie from one another as those up to and with `b` do.
    fn are_alike(&self, a: usize, b: usize, order: usize) -> bool {
        let step = |at: usize, back: usize| self.second[at] - self.second[at - back];
        if order > 1 && self.even[a].min(self.even[b]) >= order - 1 {
            return self.part[a] == self.part[b] && step(a, 1) == step(b, 1);
        }
        (0..order).all(|back| self.part[a - back] == self.part[b - back] && step(a, back) == step(b, back))
    }
}

/// Samples that lie alike, one not long after the other.
struct Run {
    /// One of them.
    sample: usize,
    first: i64,
    last: i64,
}

/// A series of the boat at the samples, filtered, at every offset of a look.
#[derive(Clone, Debug, Default)]
pub(crate) struct Shifted {
    filtered: Vec<f64>,
    /// Where in `filtered` each sample begins that has as many before it as the filter has weights.
    at: Arc<[usize]>,
}

impl Shifted {
    /// Of several series at the same samples. `about_their_level`: less the level of each, as far as the filter lets it through.
    pub fn of_each(all: &[&Series], places: &Places, filter: &[f64], about_their_level: bool) -> Vec<Self> {
        let order = filter.len();
        let mut runs: Vec<Run> = Vec::new();
        let mut recent: Vec<usize> = Vec::new();
        let mut run_of: Vec<(usize, usize)> = Vec::with_capacity(places.second.len());
        for sample in order - 1..places.second.len() {
            let second = places.second[sample];
            let goes_on = |&&run: &&usize| {
                let Run { sample: like, first, last } = runs[run];
                first <= second && second - last <= OFFSETS as i64 && places.are_alike(like, sample, order)
            };
            let run = recent.iter().rev().find(goes_on).copied().unwrap_or_else(|| {
                runs.push(Run { sample, first: second, last: second });
                if recent.len() == WAYS {
                    recent.remove(0);
                }
                recent.push(runs.len() - 1);
                runs.len() - 1
            });
            runs[run].last = runs[run].last.max(second);
            run_of.push((run, (second - runs[run].first) as usize));
        }
        let length = |run: &Run| (run.last - run.first) as usize + OFFSETS;
        let mut whole = 0;
        let starts: Vec<usize> = runs
            .iter()
            .map(|run| {
                whole += length(run);
                whole - length(run)
            })
            .collect();
        let at: Arc<[usize]> = run_of.into_iter().map(|(run, seconds)| starts[run] + seconds).collect();
        let filtered = |series: &Series| {
            let level =
                if about_their_level { level(series, places) * filter.iter().sum::<f64>() } else { 0.0 };
            let mut filtered = vec![-level; whole];
            for (run, start) in runs.iter().zip(&starts) {
                let filtered = &mut filtered[*start..start + length(run)];
                for (back, weight) in filter.iter().enumerate() {
                    let sample = run.sample - back;
                    let from = run.first + places.second[sample] - places.second[run.sample];
                    add(&series.smooth, from, places.part[sample], *weight, filtered);
                }
            }
            filtered
        };
        all.iter().map(|series| Self { filtered: filtered(series), at: at.clone() }).collect()
    }

    /// The scalar product of a column with the samples at every offset.
    pub fn along(&self, column: &[f64]) -> [f64; OFFSETS] {
        products(column, &self.at, &self.filtered)
    }

    /// The scalar product of the samples with those of a series that lies alike, at every offset.
    pub fn with(&self, other: &Self) -> [f64; OFFSETS] {
        let both: Vec<f64> = self.filtered.iter().zip(&other.filtered).map(|(a, b)| a * b).collect();
        self.sums_of(&both)
    }

    /// The sum of the samples at every offset.
    pub fn sums(&self) -> [f64; OFFSETS] {
        self.sums_of(&self.filtered)
    }

    /// The sum, at every offset, of values that begin where the samples do.
    ///
    /// Where samples follow one another at one distance, those at an offset greater by that are the same but for one at either end.
    fn sums_of(&self, values: &[f64]) -> [f64; OFFSETS] {
        let middle = self.at.len() / 2;
        let step =
            self.at.get(middle).zip(self.at.get(middle.saturating_sub(1))).map_or(0, |(b, a)| b.abs_diff(*a));
        let rows: Vec<(usize, usize)> =
            self.at.chunk_by(|a, b| a + step == *b).map(|row| (row[0], row[row.len() - 1])).collect();
        if step == 0 || step > STEP_MOST || 2 * rows.len() > self.at.len() {
            return products(&vec![1.0; self.at.len()], &self.at, values);
        }
        let mut sums = [0.0; OFFSETS];
        for offset in 0..step {
            sums[offset] = self.at.iter().map(|at| values[at + offset]).sum();
        }
        for offset in step..OFFSETS {
            let change =
                |(first, last): &(usize, usize)| values[last + offset] - values[first + offset - step];
            sums[offset] = sums[offset - step] + rows.iter().map(change).sum::<f64>();
        }
        sums
    }

    /// The samples at an offset.
    pub fn read(&self, offset: usize, to: &mut Vec<f64>) {
        to.clear();
        to.extend(self.at.iter().map(|at| self.filtered[at + offset]));
    }
}

/// The scalar product of a column with values that begin for each of its rows where `at` says, and so much further on.
#[multiversion(targets("x86_64+avx+avx2"))]
fn products(column: &[f64], at: &[usize], values: &[f64]) -> [f64; OFFSETS] {
    let mut products = [0.0; OFFSETS];
    let (lots, last) = products.as_chunks_mut::<LANES>();
    for (lot, products) in lots.iter_mut().enumerate() {
        // a few sums that stay in registers
        let mut sums = [0.0; LANES];
        for (y, at) in column.iter().zip(at) {
            let Some(x) = values[at + lot * LANES..].first_chunk::<LANES>() else { continue };
            for lane in 0..LANES {
                sums[lane] += y * x[lane];
            }
        }
        *products = sums;
    }
    let done = OFFSETS - last.len();
    for (offset, sum) in last.iter_mut().enumerate() {
        *sum = column.iter().zip(at).map(|(y, at)| y * values[at + done + offset]).sum();
    }
    products
}

/// The boat's series in the middle of the samples.
fn level(series: &Series, places: &Places) -> f64 {
    let middle = places.second.get(places.second.len() / 2).copied().unwrap_or_default();
    series.smooth[(middle.max(0) as usize).min(series.smooth.len() - 1)]
}

/// Adds a series times a weight, from so many seconds and a part of one on, between the seconds on straight lines. Beyond its
/// ends it stays as it is there.
fn add(series: &[f64], from: i64, part: f64, weight: f64, to: &mut [f64]) {
    let last = series.len() - 1;
    let before = ((-from).max(0) as usize).min(to.len());
    let start = (from.max(0) as usize).min(last);
    let (ahead, rest) = to.split_at_mut(before);
    let (inside, behind) = rest.split_at_mut((last - start).min(rest.len()));
    for to in ahead {
        *to += weight * series[0];
    }
    for (to, ends) in inside.iter_mut().zip(series[start..].windows(2)) {
        *to += weight * (ends[0] + part * (ends[1] - ends[0]));
    }
    for to in behind {
        *to += weight * series[last];
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The series at a time, and its filtered samples one by one.
    fn plainly(series: &Series, times_s: &[f64], filter: &[f64], offset: usize) -> Vec<f64> {
        let last = series.smooth.len() - 1;
        let value = |t: &f64| {
            let t = (t + offset as f64).clamp(0.0, last as f64);
            let before = (t as usize).min(last - 1);
            series.smooth[before] + (t - before as f64) * (series.smooth[before + 1] - series.smooth[before])
        };
        let values: Vec<f64> = times_s.iter().map(value).collect();
        let of = |past: &[f64]| past.iter().rev().zip(filter).map(|(v, w)| v * w).sum();
        values.windows(filter.len()).map(of).collect()
    }

    #[test]
    fn every_offset_is_as_if_it_were_worked_out_alone() {
        let smooth: Vec<f64> =
            (0..700).map(|s| (f64::from(s) / 31.0).sin() + 0.01 * f64::from(s % 7)).collect();
        let series = Series { smooth, ..Series::default() };
        let filter = [1.0, -0.6, 0.2, 0.05];
        let even = |step_s: f64, n: usize| (0..n).map(|i| step_s * i as f64 - 40.0).collect::<Vec<_>>();
        let mut gaps = even(5.0, 100);
        gaps.retain(|t| (*t as i64) % 7 != 3);
        let uneven: Vec<f64> = (0..80).map(|i| 3.0 * f64::from(i) + (f64::from(i) * 1.7).sin()).collect();
        let back = vec![10.0, 12.0, 11.0, 13.0, 400.0, 402.0, 404.0, 406.0, 408.0];
        // beyond both ends of the record, tenths, gaps, a clock out of order, times without any order, too few, none
        for times_s in [even(5.0, 170), even(0.4, 300), gaps, back, uneven, even(5.0, 3), Vec::new()] {
            let places = Places::new(times_s.iter().copied());
            let [shifted] = &Shifted::of_each(&[&series], &places, &filter, false)[..] else { panic!("one") };
            let mut got = Vec::new();
            for offset in 0..OFFSETS {
                shifted.read(offset, &mut got);
                let want = plainly(&series, &times_s, &filter, offset);
                assert_eq!(got.len(), want.len());
                let column: Vec<f64> = (0..got.len()).map(|i| (i as f64 / 9.0).cos()).collect();
                let product = |a: &[f64]| a.iter().zip(&want).map(|(a, b)| a * b).sum::<f64>();
                assert!((shifted.along(&column)[offset] - product(&column)).abs() < 1e-11);
                assert!((shifted.sums()[offset] - want.iter().sum::<f64>()).abs() < 1e-11);
                assert!((shifted.with(shifted)[offset] - product(&want)).abs() < 1e-10);
                for (got, want) in got.iter().zip(&want) {
                    assert!((got - want).abs() < 1e-12, "{got} for {want} of {times_s:?}");
                }
            }
        }
    }

    #[test]
    fn the_level_is_taken_off_as_the_filter_lets_it_through() {
        let series = Series { smooth: vec![12.5; 300], ..Series::default() };
        let places = Places::new((0..50).map(f64::from));
        let [shifted] = &Shifted::of_each(&[&series], &places, &[1.0, -0.4], true)[..] else { panic!("one") };
        let mut got = Vec::new();
        shifted.read(3, &mut got);
        assert!(got.len() == 49 && got.iter().all(|value| value.abs() < 1e-12), "{got:?}");
    }
}
