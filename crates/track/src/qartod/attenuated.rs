//! Does a series still move as the water does, or has its signal faded?

use std::collections::VecDeque;

use waterseam_units::Flag;
use waterseam_units::time::US_PER_S;

use super::{Sample, all, median_interval_s, present};

/// How the liveliness of a window is measured.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Spread {
    /// Standard deviation with the divisor n.
    StandardDeviation,
    /// Largest minus smallest.
    Range,
}

/// The time that is looked back on, s.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Window {
    /// Length: samples after `t - period_s` up to `t`.
    pub period_s: f64,
    /// A window is judged when it holds as many samples as fit into this at the median interval.
    pub least_s: f64,
}

/// Attenuated signal: the spread of the window that ends at a sample is below `fail`, else below `suspect`.
///
/// A window with too few samples is not evaluated. Missing samples are passed over. (The reference
/// implementation does not evaluate the range of a window in which a sample is missing; here it does.)
///
/// # Panics
/// When the two slices differ in length.
pub fn attenuated_signal(
    time_us: &[i64],
    values: &[impl Sample],
    window: Window,
    spread: Spread,
    suspect: f64,
    fail: f64,
) -> Vec<Flag> {
    assert_eq!(time_us.len(), values.len(), "a time for each value");
    let least = median_interval_s(time_us)
        .filter(|&interval_s| interval_s > 0.0)
        .map_or(1, |interval_s| (window.least_s / interval_s) as usize)
        .max(1);
    let period_us = (window.period_s * US_PER_S as f64) as i64;
    // no spread is below nothing: then it only matters how many samples a window has
    if suspect <= 0.0 && fail <= 0.0 {
        return enough(time_us, values, period_us, least);
    }
    let mut kept = Kept::new(time_us, values, spread);
    let judge = |(row, (&time_us, &value)): (usize, (&i64, &_))| {
        kept.forget(row, time_us.saturating_sub(period_us));
        let Some(value) = present(value) else { return Flag::Missing };
        kept.take(time_us, value);
        if kept.n < least {
            return Flag::NotEvaluated;
        }
        let spread = kept.spread();
        match () {
            () if spread < fail => Flag::Fail,
            () if spread < suspect => Flag::Suspect,
            () => Flag::Pass,
        }
    };
    time_us.iter().zip(values).enumerate().map(judge).collect()
}

/// Passes the samples whose window holds at least as many.
fn enough(time_us: &[i64], values: &[impl Sample], period_us: i64, least: usize) -> Vec<Flag> {
    if values.iter().all(|&value| present(value).is_some()) && time_us.is_sorted() {
        // the window holds as many when the one so far back lies in it
        let back = least - 1;
        let begin = back.min(values.len());
        let mut flags = vec![Flag::NotEvaluated; begin];
        let is_within =
            |&from_us: &i64, &time_us: &i64| (back == 0) | (from_us > time_us.saturating_sub(period_us));
        let whole = || time_us.iter().zip(&time_us[begin..]);
        if all(whole().map(|(from_us, time_us)| is_within(from_us, time_us))) {
            flags.resize(values.len(), Flag::Pass);
            return flags;
        }
        let judge = |(from_us, time_us)| {
            if is_within(from_us, time_us) { Flag::Pass } else { Flag::NotEvaluated }
        };
        flags.extend(whole().map(judge));
        return flags;
    }
    let (mut first, mut n) = (0, 0);
    let is_there = |row: usize| present(values[row]).is_some();
    let judge = |(row, &time): (usize, &i64)| {
        let to_us = time.saturating_sub(period_us);
        while first < row && time_us[first] <= to_us {
            n -= usize::from(is_there(first));
            first += 1;
        }
        n += usize::from(is_there(row));
        match () {
            () if !is_there(row) => Flag::Missing,
            () if n < least => Flag::NotEvaluated,
            () => Flag::Pass,
        }
    };
    time_us.iter().enumerate().map(judge).collect()
}

/// The samples of a window, with what makes its spread known at once.
struct Kept<'a, V> {
    time_us: &'a [i64],
    values: &'a [V],
    spread: Spread,
    /// The first sample of the window; it ends with the last one that was taken.
    first: usize,
    /// Samples of the window that are not missing.
    n: usize,
    /// Falling values, and rising ones: the first of each is the extreme of the window.
    largest: VecDeque<(i64, f64)>,
    smallest: VecDeque<(i64, f64)>,
    /// How many samples up to the last one have its value, and that value.
    alike: (usize, f64),
    /// Sums of the differences from `origin`, and of their squares.
    origin: f64,
    sum: f64,
    squares: f64,
}

impl<'a, V: Sample> Kept<'a, V> {
    fn new(time_us: &'a [i64], values: &'a [V], spread: Spread) -> Self {
        let origin = values.iter().find_map(|&value| present(value)).unwrap_or_default();
        let (largest, smallest) = (VecDeque::new(), VecDeque::new());
        let (alike, sum, squares) = ((0, origin), 0.0, 0.0);
        Self { time_us, values, spread, first: 0, n: 0, largest, smallest, alike, origin, sum, squares }
    }

    fn take(&mut self, time_us: i64, value: f64) {
        self.n += 1;
        match self.spread {
            Spread::StandardDeviation => {
                let (n, last) = self.alike;
                self.alike = (if value == last { n + 1 } else { 1 }, value);
                self.add(value, 1.0);
            }
            Spread::Range => {
                while self.largest.pop_back_if(|&mut (_, kept)| kept <= value).is_some() {}
                while self.smallest.pop_back_if(|&mut (_, kept)| kept >= value).is_some() {}
                self.largest.push_back((time_us, value));
                self.smallest.push_back((time_us, value));
            }
        }
    }

    /// Drops the samples before a row up to an instant.
    fn forget(&mut self, row: usize, to_us: i64) {
        while self.first < row && self.time_us[self.first] <= to_us {
            if let Some(value) = present(self.values[self.first]) {
                self.n -= 1;
                self.add(value, -1.0);
            }
            self.first += 1;
        }
        while self.largest.pop_front_if(|&mut (time_us, _)| time_us <= to_us).is_some() {}
        while self.smallest.pop_front_if(|&mut (time_us, _)| time_us <= to_us).is_some() {}
        if self.n == 0 {
            (self.sum, self.squares) = (0.0, 0.0);
        }
    }

    fn add(&mut self, value: f64, sign: f64) {
        let from_origin = value - self.origin;
        self.sum += sign * from_origin;
        self.squares += sign * from_origin * from_origin;
    }

    fn spread(&self) -> f64 {
        match self.spread {
            Spread::StandardDeviation => self.standard_deviation(),
            Spread::Range => self.range(),
        }
    }

    fn range(&self) -> f64 {
        self.largest.front().zip(self.smallest.front()).map_or(0.0, |(high, low)| high.1 - low.1)
    }

    fn standard_deviation(&self) -> f64 {
        // of values that are all the same the sums say nearly nothing, and not nothing
        if self.alike.0 >= self.n {
            return 0.0;
        }
        let n = self.n as f64;
        let mean = self.sum / n;
        (self.squares / n - mean * mean).max(0.0).sqrt()
    }
}
