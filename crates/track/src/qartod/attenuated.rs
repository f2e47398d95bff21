//! Does a series still move as the water does, or has its signal faded?

use std::collections::VecDeque;

use waterseam_units::Flag;
use waterseam_units::time::US_PER_S;

use super::median_interval_s;

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
    values: &[Option<f64>],
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
    let mut kept = Kept::new(values.iter().flatten().next().copied().unwrap_or_default());
    // no spread is below nothing: then it only matters how many samples a window has
    let is_judged = suspect > 0.0 || fail > 0.0;
    let mut judge = |(&time_us, &value): (&i64, &Option<f64>)| {
        kept.forget(time_us.saturating_sub(period_us));
        let Some(value) = value else { return Flag::Missing };
        kept.take(time_us, value, is_judged);
        if kept.samples.len() < least {
            return Flag::NotEvaluated;
        }
        if !is_judged {
            return Flag::Pass;
        }
        let spread = match spread {
            Spread::StandardDeviation => kept.standard_deviation(),
            Spread::Range => kept.range(),
        };
        match () {
            () if spread < fail => Flag::Fail,
            () if spread < suspect => Flag::Suspect,
            () => Flag::Pass,
        }
    };
    time_us.iter().zip(values).map(&mut judge).collect()
}

/// The samples of a window, with what makes its spread known at once.
struct Kept {
    samples: VecDeque<(i64, f64)>,
    /// Falling values, and rising ones: the first of each is the extreme of the window.
    largest: VecDeque<(i64, f64)>,
    smallest: VecDeque<(i64, f64)>,
    /// Sums of the differences from `origin`, and of their squares.
    origin: f64,
    sum: f64,
    squares: f64,
}

impl Kept {
    fn new(origin: f64) -> Self {
        let (samples, largest, smallest) = (VecDeque::new(), VecDeque::new(), VecDeque::new());
        Self { samples, largest, smallest, origin, sum: 0.0, squares: 0.0 }
    }

    /// Takes a sample in; what makes a spread of it only where one `is_asked`.
    fn take(&mut self, time_us: i64, value: f64, is_asked: bool) {
        self.samples.push_back((time_us, value));
        if !is_asked {
            return;
        }
        while self.largest.pop_back_if(|&mut (_, kept)| kept <= value).is_some() {}
        while self.smallest.pop_back_if(|&mut (_, kept)| kept >= value).is_some() {}
        self.largest.push_back((time_us, value));
        self.smallest.push_back((time_us, value));
        self.add(value, 1.0);
    }

    /// Drops the samples up to an instant.
    fn forget(&mut self, to_us: i64) {
        while let Some((_, value)) = self.samples.pop_front_if(|&mut (time_us, _)| time_us <= to_us) {
            self.add(value, -1.0);
        }
        while self.largest.pop_front_if(|&mut (time_us, _)| time_us <= to_us).is_some() {}
        while self.smallest.pop_front_if(|&mut (time_us, _)| time_us <= to_us).is_some() {}
        if self.samples.is_empty() {
            (self.sum, self.squares) = (0.0, 0.0);
        }
    }

    fn add(&mut self, value: f64, sign: f64) {
        let from_origin = value - self.origin;
        self.sum += sign * from_origin;
        self.squares += sign * from_origin * from_origin;
    }

    fn range(&self) -> f64 {
        self.largest.front().zip(self.smallest.front()).map_or(0.0, |(high, low)| high.1 - low.1)
    }

    fn standard_deviation(&self) -> f64 {
        if self.range() == 0.0 {
            return 0.0;
        }
        let n = self.samples.len() as f64;
        let mean = self.sum / n;
        (self.squares / n - mean * mean).max(0.0).sqrt()
    }
}
