//! What do the QARTOD tests together say about a series at its own rate, and what is left of it a row?

use std::ops::Range;

use waterseam_units::Flag;
use waterseam_units::time::US_PER_S;

use crate::qartod::{self, Spread, Window};
use crate::quality::{Tally, Test};
use crate::settings::Limits;

/// Samples that are closer in time are taken as a second apart when their rate of change is judged: a
/// sensor's own step, or its noise, over a tenth of a second is no rate.
const SHORTEST_STEP_US: i64 = US_PER_S;

/// A window of the attenuated-signal test speaks when it holds this share of the samples of a whole one.
const ATTENUATED_SHARE: f64 = 0.8;

/// Readings of one quantity in time order.
#[derive(Clone, Debug, Default)]
pub(crate) struct Series {
    pub time_us: Vec<i64>,
    pub values: Vec<f64>,
}

impl Series {
    pub fn len(&self) -> usize {
        self.values.len()
    }

    pub fn push(&mut self, time_us: i64, value: f64) {
        self.time_us.push(time_us);
        self.values.push(value);
    }
}

impl FromIterator<(i64, f64)> for Series {
    fn from_iter<T: IntoIterator<Item = (i64, f64)>>(samples: T) -> Self {
        let (time_us, values) = samples.into_iter().unzip();
        Self { time_us, values }
    }
}

/// The flags of a series and what each test said.
pub(crate) struct Judged {
    pub flags: Vec<Flag>,
    pub tests: Vec<Tally>,
}

/// One flag for each sample: range, spike, rate of change, flat line and attenuated signal, in the way that
/// [`Limits`] says. `measure` is the scale on which all but the range are judged.
pub(crate) fn judged(series: &Series, limits: &Limits, measure: impl Fn(f64) -> f64) -> Judged {
    let raw: Vec<Option<f64>> = series.values.iter().copied().map(Some).collect();
    let mut flags = qartod::gross_range(&raw, &limits.suspect, &limits.fail);
    let gaps = qartod::gap(&series.time_us, limits.gap_s);
    let mut tests = vec![Tally::of(Test::Gap, &gaps), Tally::of(Test::GrossRange, &flags)];

    let not_failed: fn(Flag) -> bool = |flag| flag != Flag::Fail;
    let mut mark = |flags: &mut [Flag], left: &Left, test: Test, found: &[Flag]| {
        // a pass changes no flag but one that no test has judged, and the first test judges all
        for (&sample, &flag) in left.samples.iter().zip(found).filter(|&(_, &flag)| flag != Flag::Pass) {
            flags[sample] = flags[sample].and(flag);
        }
        tests.push(Tally::of(test, found));
    };

    let mut left = Left::default();
    left.renew(series, &flags, not_failed, &measure);
    let spikes = spikes_alone(&left.values, limits);
    mark(&mut flags, &left, Test::Spike, &spikes);

    left.renew(series, &flags, Flag::is_usable, &measure);
    let apart_us = spread(&left.time_us);
    let (suspect_per_s, fail_per_s) = (limits.rate_suspect_per_s, limits.rate_fail_per_s);
    let rates = qartod::rate_of_change(&apart_us, &left.values, suspect_per_s, fail_per_s);
    mark(&mut flags, &left, Test::RateOfChange, &rates);

    left.renew(series, &flags, not_failed, &measure);
    let (suspect_s, fail_s) = (limits.flat_suspect_s, limits.flat_fail_s);
    let flat = qartod::flat_line(&left.time_us, &left.values, suspect_s, fail_s, limits.flat_tolerance);
    mark(&mut flags, &left, Test::FlatLine, &flat);

    left.renew(series, &flags, not_failed, &measure);
    let window = Window { period_s: limits.attenuated_s, least_s: ATTENUATED_SHARE * limits.attenuated_s };
    let (suspect, fail) = (limits.attenuated_suspect, limits.attenuated_fail);
    let kind = Spread::StandardDeviation;
    let faded = qartod::attenuated_signal(&left.time_us, &left.values, window, kind, suspect, fail);
    mark(&mut flags, &left, Test::AttenuatedSignal, &faded);
    Judged { flags, tests }
}

/// The samples that a test sees.
#[derive(Default)]
struct Left {
    samples: Vec<usize>,
    time_us: Vec<i64>,
    /// On the scale on which they are judged.
    values: Vec<Option<f64>>,
}

impl Left {
    /// Takes the samples whose flag is to be kept; mostly they are those of the test before.
    fn renew(
        &mut self,
        series: &Series,
        flags: &[Flag],
        keep: fn(Flag) -> bool,
        measure: impl Fn(f64) -> f64,
    ) {
        let kept = || (0..flags.len()).filter(|&sample| keep(flags[sample]));
        let are_all = self.samples.len() == flags.len() && flags.iter().all(|&flag| keep(flag));
        if are_all || kept().eq(self.samples.iter().copied()) {
            return;
        }
        self.samples = kept().collect();
        self.time_us = self.samples.iter().map(|&sample| series.time_us[sample]).collect();
        self.values = self.samples.iter().map(|&sample| Some(measure(series.values[sample]))).collect();
    }
}

/// Spikes without the good samples beside them: the test of the standard, and a distance above the same limit
/// from the median of the five samples about. The ends of the series, which the standard does not judge, are
/// suspect when they stand out from the median of the five nearest by more than the limit of failing.
fn spikes_alone(values: &[Option<f64>], limits: &Limits) -> Vec<Flag> {
    let n = values.len();
    let outstanding = |row: usize| {
        let first = row.saturating_sub(2).min(n.saturating_sub(5));
        let mut window: Vec<f64> = values[first..n.min(first + 5)].iter().copied().flatten().collect();
        let middle = window.len() / 2;
        let (_, &mut median, _) = window.select_nth_unstable_by(middle, f64::total_cmp);
        values[row].map_or(0.0, |value| (value - median).abs())
    };
    let judge = |(row, flag): (usize, Flag)| match flag {
        Flag::Fail if outstanding(row) > limits.spike_fail => Flag::Fail,
        Flag::Fail | Flag::Suspect if outstanding(row) > limits.spike_suspect => Flag::Suspect,
        Flag::NotEvaluated if n >= 5 && outstanding(row) > limits.spike_fail => Flag::Suspect,
        Flag::Fail | Flag::Suspect => Flag::Pass,
        flag => flag,
    };
    let found = qartod::spike(values, limits.spike_suspect, limits.spike_fail);
    found.into_iter().enumerate().map(judge).collect()
}

/// The times with at least [`SHORTEST_STEP_US`] between neighbours.
fn spread(time_us: &[i64]) -> Vec<i64> {
    let mut at_us = time_us.first().copied().unwrap_or_default();
    let mut apart = Vec::with_capacity(time_us.len());
    apart.extend(time_us.first());
    for pair in time_us.windows(2) {
        at_us += (pair[1] - pair[0]).max(SHORTEST_STEP_US);
        apart.push(at_us);
    }
    apart
}

/// Mean of the best samples of each row with their flag: of the usable ones, else of the suspect ones, else of
/// the failed ones.
pub(crate) fn best_means(
    rows: &[Range<usize>],
    series: &Series,
    flags: &[Flag],
) -> (Vec<Option<f64>>, Vec<Flag>) {
    let best = |row: &Range<usize>| {
        let grade = |sample: usize| if flags[sample].is_usable() { Flag::Pass } else { flags[sample] };
        let flag = row.clone().map(grade).min().unwrap_or(Flag::Missing);
        let samples = row.clone().filter(|&sample| grade(sample) == flag);
        (mean(samples.map(|sample| series.values[sample])), flag)
    };
    rows.iter().map(best).unzip()
}

/// Arithmetic mean, `None` of nothing.
pub(crate) fn mean(values: impl Iterator<Item = f64>) -> Option<f64> {
    let (sum, n) = values.fold((0.0, 0.0), |(sum, n), value| (sum + value, n + 1.0));
    (n > 0.0).then(|| sum / n)
}

#[cfg(test)]
#[path = "series_tests.rs"]
mod tests;
