//! Where in a probe log do casts and towed stretches lie?
//!
//! A probe on a downrigger cable hangs at one depth for long and passes through the water when its line is set
//! or reset; a probe that is lowered by hand goes down and comes up. Both leave legs of falling or rising depth.

use std::ops::Range;

use crate::bins::{bin, is_finite};
use crate::lag::without_lag;
use crate::{Bin, Profile, Sample, Settings};

/// Fewer bins make no profile.
const LEAST_BINS: usize = 4;
/// Samples this long before and after a leg are taken in as well, s: they hold its shallow and deep end.
const ENDS_S: f64 = 30.0;

/// Profiles of a probe log, in time order.
///
/// Every pass through at least [`Settings::least_span_m`] within [`Settings::longest_s`] is a cast; a way down and
/// the way up beside it make one profile where both fit into that time, so that a slow thermistor's errors cancel,
/// as far as [`Settings::lag_s`] does not take them out.
/// What lies between casts is cut into stretches of an hour or so ([`Settings::stretch_s`]), and a stretch whose
/// samples together span enough makes a profile too. A time gap ([`Settings::gap_s`]) ends either.
///
/// Samples may come in any order; those that are not finite are passed over.
pub fn profiles(samples: &[Sample], settings: &Settings) -> Vec<Profile> {
    let mut sorted: Vec<Sample> = samples.iter().filter(|s| is_finite(s)).copied().collect();
    sorted.sort_by(|a, b| a.time_s.total_cmp(&b.time_s));
    let mut found = Vec::new();
    for unbroken in sorted.chunk_by(|a, b| b.time_s - a.time_s <= settings.gap_s) {
        let casts = casts(unbroken, settings);
        let ends = casts.iter().map(|c| c.start).chain([unbroken.len()]);
        let starts = [0].into_iter().chain(casts.iter().map(|c| c.end));
        for (from, to) in starts.zip(ends) {
            found.extend(stretches(&unbroken[from.min(to)..to], settings));
        }
        // towed data change slowly, and a lag is no more than noise to them
        let quick = if settings.lag_s > 0.0 { &without_lag(unbroken, settings) } else { unbroken };
        found.extend(
            casts.into_iter().filter_map(|cast| profile(&quick[with_ends(unbroken, cast)], settings)),
        );
    }
    found.sort_by(|a, b| a.time_s.total_cmp(&b.time_s));
    found
}

/// The profile of samples in time order, `None` where they do not span enough.
fn profile(samples: &[Sample], settings: &Settings) -> Option<Profile> {
    let (first, last) = (samples.first()?, samples.last()?);
    let bins = bin(samples, settings);
    let enough = LEAST_BINS <= bins.len() && settings.least_span_m <= span_m(&bins) + settings.bin_m;
    enough.then_some(Profile { time_s: 0.5 * (first.time_s + last.time_s), bins })
}

fn span_m(bins: &[Bin]) -> f64 {
    bins.last().map_or(0.0, |last| last.depth_m - bins[0].depth_m)
}

/// Casts in unbroken samples, in time order, as ranges of rows; neighbours share at most their turning point.
fn casts(samples: &[Sample], settings: &Settings) -> Vec<Range<usize>> {
    let ways = pairs(samples, &passes(samples, settings), settings);
    ways.into_iter().map(|(one, other)| one.start..other.unwrap_or(one).end).collect()
}

/// Passes through enough water, in time order.
pub(crate) fn passes(samples: &[Sample], settings: &Settings) -> Vec<Range<usize>> {
    let mut passes = Vec::new();
    for leg in legs(samples, settings.turn_m) {
        quick_passes(samples, leg, settings, &mut passes);
    }
    passes
}

/// Passes, each with the way back beside it where both fit into the time of a cast.
pub(crate) fn pairs(
    samples: &[Sample],
    passes: &[Range<usize>],
    settings: &Settings,
) -> Vec<(Range<usize>, Option<Range<usize>>)> {
    let goes_down = |pass: &Range<usize>| samples[pass.start].depth_m < samples[pass.end - 1].depth_m;
    let mut pairs = Vec::new();
    let mut rest = passes;
    while let [pass, later @ ..] = rest {
        let partner = later.first().filter(|next| {
            goes_down(pass) != goes_down(next)
                && duration_s(samples, pass.start..next.end) <= settings.longest_s
        });
        pairs.push((pass.clone(), partner.cloned()));
        rest = if partner.is_some() { &later[1..] } else { later };
    }
    pairs
}

/// Rows between turning points: the depth comes back by less than `turn_m` within a leg.
pub(crate) fn legs(samples: &[Sample], turn_m: f64) -> Vec<Range<usize>> {
    let depth = |row: usize| samples[row].depth_m;
    let mut turns = Vec::new();
    // 1 going down, -1 going up, 0 not known yet
    let mut sense = 0.0;
    let (mut shallowest, mut deepest) = (0, 0);
    for row in 0..samples.len() {
        if depth(row) < depth(shallowest) {
            shallowest = row;
        }
        if depth(row) > depth(deepest) {
            deepest = row;
        }
        if sense <= 0.0 && depth(row) - depth(shallowest) >= turn_m {
            turns.push(shallowest);
            (sense, deepest) = (1.0, row);
        } else if sense >= 0.0 && depth(deepest) - depth(row) >= turn_m {
            turns.push(deepest);
            (sense, shallowest) = (-1.0, row);
        }
    }
    if sense != 0.0 {
        turns.push(if sense > 0.0 { deepest } else { shallowest });
    }
    turns.windows(2).map(|pair| pair[0]..pair[1] + 1).collect()
}

/// The passes of a leg that span enough in time: the one that spans most first, then what is left on either side.
fn quick_passes(samples: &[Sample], leg: Range<usize>, settings: &Settings, found: &mut Vec<Range<usize>>) {
    let Some(pass) = widest_pass(samples, leg.clone(), settings.longest_s) else { return };
    let span_m = (samples[pass.end - 1].depth_m - samples[pass.start].depth_m).abs();
    if span_m < settings.least_span_m {
        return;
    }
    let pass = without_holds(samples, pass, 0.5 * settings.turn_m);
    quick_passes(samples, leg.start..pass.start, settings, found);
    found.push(pass.clone());
    quick_passes(samples, pass.end..leg.end, settings, found);
}

/// The rows at most `longest_s` apart between which the depth changes most.
fn widest_pass(samples: &[Sample], leg: Range<usize>, longest_s: f64) -> Option<Range<usize>> {
    let mut end = leg.start;
    let mut widest: Option<(f64, Range<usize>)> = None;
    for start in leg.clone() {
        while end < leg.end && duration_s(samples, start..end + 1) <= longest_s {
            end += 1;
        }
        let last = end.max(start + 1) - 1;
        let change_m = (samples[last].depth_m - samples[start].depth_m).abs();
        if widest.as_ref().is_none_or(|(most_m, _)| *most_m < change_m) {
            widest = Some((change_m, start..last + 1));
        }
    }
    widest.map(|(_, range)| range)
}

/// A pass from the last row near its first depth to the first row near its last depth.
fn without_holds(samples: &[Sample], pass: Range<usize>, near_m: f64) -> Range<usize> {
    let (first_m, last_m) = (samples[pass.start].depth_m, samples[pass.end - 1].depth_m);
    let start = pass.clone().rev().find(|&row| (samples[row].depth_m - first_m).abs() <= near_m);
    let start = start.unwrap_or(pass.start);
    let end = (start..pass.end).find(|&row| (samples[row].depth_m - last_m).abs() <= near_m);
    start..end.unwrap_or(pass.end - 1) + 1
}

/// A cast with the rows shortly before and after it.
fn with_ends(samples: &[Sample], cast: Range<usize>) -> Range<usize> {
    let (from_s, to_s) = (samples[cast.start].time_s - ENDS_S, samples[cast.end - 1].time_s + ENDS_S);
    samples.partition_point(|s| s.time_s < from_s)..samples.partition_point(|s| s.time_s <= to_s)
}

/// Profiles of the towed data between two casts.
fn stretches(samples: &[Sample], settings: &Settings) -> Vec<Profile> {
    let mut found = Vec::new();
    let mut rest = samples;
    while let Some(first) = rest.first() {
        let within = |longest_s: f64| rest.partition_point(|s| s.time_s - first.time_s <= longest_s);
        let lengths = [within(settings.stretch_s), within(1.5 * settings.stretch_s)];
        let stretch = lengths.into_iter().find_map(|n| Some((n, profile(&rest[..n], settings)?)));
        rest = &rest[stretch.as_ref().map_or(lengths[0], |(n, _)| *n)..];
        found.extend(stretch.map(|(_, profile)| profile));
    }
    found
}

fn duration_s(samples: &[Sample], rows: Range<usize>) -> f64 {
    samples[rows.end - 1].time_s - samples[rows.start].time_s
}

#[cfg(test)]
#[path = "casts_tests.rs"]
mod tests;
