//! What do the QARTOD tests together say about a series at its own rate, and what is left of it a row?

use std::borrow::Cow;
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
pub(crate) struct Samples<T> {
    pub time_us: Vec<i64>,
    pub values: Vec<T>,
}

/// Readings that are one number each.
pub(crate) type Series = Samples<f64>;

impl<T> Samples<T> {
    pub fn with_capacity(n: usize) -> Self {
        Self { time_us: Vec::with_capacity(n), values: Vec::with_capacity(n) }
    }

    pub fn len(&self) -> usize {
        self.values.len()
    }

    pub fn push(&mut self, time_us: i64, value: T) {
        self.time_us.push(time_us);
        self.values.push(value);
    }

    /// One number of each reading.
    pub fn series(&self, of: impl Fn(&T) -> f64) -> Series {
        Series { time_us: self.time_us.clone(), values: self.values.iter().map(of).collect() }
    }
}

impl<T> FromIterator<(i64, T)> for Samples<T> {
    fn from_iter<I: IntoIterator<Item = (i64, T)>>(samples: I) -> Self {
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
    let mut flags = qartod::gross_range(&series.values, &limits.suspect, &limits.fail);
    let gaps = qartod::gap(&series.time_us, limits.gap_s);
    let mut tests = vec![Tally::of(Test::Gap, &gaps), Tally::of(Test::GrossRange, &flags)];

    let not_failed = |flag: Flag| flag != Flag::Fail;
    let mut mark = |flags: &mut [Flag], left: &Left, test: Test, found: &[Flag]| {
        // a pass changes no flag but one that no test has judged, and the first test judges all
        let tally = Tally::of(test, found);
        if tally.passed < found.len() {
            for (place, &flag) in found.iter().enumerate().filter(|&(_, &flag)| flag != Flag::Pass) {
                let sample = left.sample(place);
                flags[sample] = flags[sample].and(flag);
            }
        }
        tests.push(tally);
    };

    let measured: Vec<f64> = series.values.iter().map(|&value| measure(value)).collect();
    let mut left = Left::all(&series.time_us, &measured);
    left.renew(&flags, not_failed);
    let spikes = spikes_alone(&left.values, limits);
    mark(&mut flags, &left, Test::Spike, &spikes);

    left.renew(&flags, Flag::is_usable);
    let (suspect_per_s, fail_per_s) = (limits.rate_suspect_per_s, limits.rate_fail_per_s);
    // no two samples count as less than a second apart: a smaller step is no rate above the limits
    let is_slow = |pair: &[f64]| (pair[1] - pair[0]).abs() <= suspect_per_s.min(fail_per_s);
    let rates = if qartod::all(left.values.windows(2).map(is_slow)) {
        vec![Flag::Pass; left.values.len()]
    } else {
        qartod::rate_of_change(&spread(&left.time_us), &left.values, suspect_per_s, fail_per_s)
    };
    mark(&mut flags, &left, Test::RateOfChange, &rates);

    left.renew(&flags, not_failed);
    let (suspect_s, fail_s) = (limits.flat_suspect_s, limits.flat_fail_s);
    let flat = qartod::flat_line(&left.time_us, &left.values, suspect_s, fail_s, limits.flat_tolerance);
    mark(&mut flags, &left, Test::FlatLine, &flat);

    left.renew(&flags, not_failed);
    let window = Window { period_s: limits.attenuated_s, least_s: ATTENUATED_SHARE * limits.attenuated_s };
    let (suspect, fail) = (limits.attenuated_suspect, limits.attenuated_fail);
    let kind = Spread::StandardDeviation;
    let faded = qartod::attenuated_signal(&left.time_us, &left.values, window, kind, suspect, fail);
    mark(&mut flags, &left, Test::AttenuatedSignal, &faded);
    Judged { flags, tests }
}

/// The samples that a test sees.
struct Left<'a> {
    all: (&'a [i64], &'a [f64]),
    /// Which they are; `None` where they are all.
    samples: Option<Vec<usize>>,
    time_us: Cow<'a, [i64]>,
    /// On the scale on which they are judged.
    values: Cow<'a, [f64]>,
}

impl<'a> Left<'a> {
    fn all(time_us: &'a [i64], values: &'a [f64]) -> Self {
        Self { all: (time_us, values), samples: None, time_us: time_us.into(), values: values.into() }
    }

    fn sample(&self, place: usize) -> usize {
        self.samples.as_ref().map_or(place, |samples| samples[place])
    }

    /// Takes the samples whose flag is to be kept; mostly they are those of the test before.
    fn renew(&mut self, flags: &[Flag], keep: impl Fn(Flag) -> bool) {
        let (time_us, values) = self.all;
        // no early end, so that the machine looks at many flags at once
        if !flags.iter().fold(false, |some, &flag| some | !keep(flag)) {
            *self = Self::all(time_us, values);
            return;
        }
        let kept = || (0..flags.len()).filter(|&sample| keep(flags[sample]));
        if self.samples.as_ref().is_some_and(|samples| kept().eq(samples.iter().copied())) {
            return;
        }
        let samples: Vec<usize> = kept().collect();
        self.time_us = samples.iter().map(|&sample| time_us[sample]).collect();
        self.values = samples.iter().map(|&sample| values[sample]).collect();
        self.samples = Some(samples);
    }
}

/// Flags of spikes that are looked at together: most are good.
const TOGETHER: usize = 64;

/// Spikes without the good samples beside them: the test of the standard, and a distance above the same limit
/// from the median of the five samples about. The ends of the series, which the standard does not judge, are
/// suspect when they stand out from the median of the five nearest by more than the limit of failing.
fn spikes_alone(values: &[f64], limits: &Limits) -> Vec<Flag> {
    let n = values.len();
    let outstanding = |row: usize| {
        let first = row.saturating_sub(2).min(n.saturating_sub(5));
        let mut window = values[first..n.min(first + 5)].to_vec();
        let middle = window.len() / 2;
        let (_, &mut median, _) = window.select_nth_unstable_by(middle, f64::total_cmp);
        (values[row] - median).abs()
    };
    let judge = |row: usize, flag: Flag| match flag {
        Flag::Fail if outstanding(row) > limits.spike_fail => Flag::Fail,
        Flag::Fail | Flag::Suspect if outstanding(row) > limits.spike_suspect => Flag::Suspect,
        Flag::NotEvaluated if n >= 5 && outstanding(row) > limits.spike_fail => Flag::Suspect,
        Flag::Fail | Flag::Suspect => Flag::Pass,
        flag => flag,
    };
    let mut found = qartod::spike(values, limits.spike_suspect, limits.spike_fail);
    for (lot, flags) in found.chunks_mut(TOGETHER).enumerate() {
        if qartod::all(flags.iter().map(|&flag| flag == Flag::Pass)) {
            continue;
        }
        for (place, flag) in flags.iter_mut().enumerate().filter(|(_, flag)| **flag != Flag::Pass) {
            *flag = judge(lot * TOGETHER + place, *flag);
        }
    }
    found
}

/// The times with at least [`SHORTEST_STEP_US`] between neighbours.
fn spread(time_us: &[i64]) -> Cow<'_, [i64]> {
    if time_us.windows(2).all(|pair| pair[1] - pair[0] >= SHORTEST_STEP_US) {
        return time_us.into();
    }
    let mut at_us = time_us.first().copied().unwrap_or_default();
    let mut apart = Vec::with_capacity(time_us.len());
    apart.extend(time_us.first());
    for pair in time_us.windows(2) {
        at_us += (pair[1] - pair[0]).max(SHORTEST_STEP_US);
        apart.push(at_us);
    }
    apart.into()
}

/// Flag of the best samples of each row: of the usable ones, else of the suspect ones, else of the failed ones.
pub(crate) fn best_flags(rows: impl Iterator<Item = Range<usize>>, flags: &[Flag]) -> Vec<Flag> {
    rows.map(|row| best_flag(&flags[row])).collect()
}

fn best_flag(flags: &[Flag]) -> Flag {
    match *flags {
        [] => Flag::Missing,
        [flag] => grade(flag),
        [one, other] => grade(one).min(grade(other)),
        _ => flags.iter().copied().map(grade).min().unwrap_or(Flag::Missing),
    }
}

/// What is usable is as good as what passed.
fn grade(flag: Flag) -> Flag {
    if flag.is_usable() { Flag::Pass } else { flag }
}

/// Mean of the best samples of each row, with their flag.
pub(crate) fn best_means(
    rows: impl Iterator<Item = Range<usize>>,
    series: &Series,
    flags: &[Flag],
) -> (Vec<Option<f64>>, Vec<Flag>) {
    let best = |row: Range<usize>| {
        let (values, flags) = (&series.values[row.clone()], &flags[row]);
        // one sample is its own mean
        if let (&[value], &[flag]) = (values, flags) {
            return (Some(value + 0.0), grade(flag));
        }
        let best = best_flag(flags);
        let of_best = values.iter().zip(flags).filter(|&(_, &flag)| grade(flag) == best);
        (mean(of_best.map(|(&value, _)| value)), best)
    };
    rows.map(best).unzip()
}

/// Arithmetic mean, `None` of nothing.
pub(crate) fn mean(values: impl Iterator<Item = f64>) -> Option<f64> {
    let (sum, n) = values.fold((0.0, 0.0), |(sum, n), value| (sum + value, n + 1.0));
    (n > 0.0).then(|| sum / n)
}

#[cfg(test)]
#[path = "series_tests.rs"]
mod tests;
