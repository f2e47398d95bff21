//! Which pieces of the track can be searched as one, and what was measured along them?
//!
//! A step in distance is only a step in the water where the boat moved and the sensor spoke all along. So the
//! track is cut at long gaps, lone spikes, readings of a sensor that wakes up and the samples of a stopped boat are dropped, and the rest is averaged
//! in distance cells. What warmed during a stop is left to the noise model, which sees the time between two cells.

mod waking;

use crate::wanted::{Values, Wanted};

/// A sample, or the mean of the samples in one distance cell.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Cell {
    pub distance_m: f64,
    pub time_s: f64,
    pub value: f64,
    /// Samples in the mean.
    pub samples: f64,
}

/// A piece of the track without long gaps.
#[derive(Clone, Debug)]
pub(crate) struct Stretch {
    pub samples: Vec<Cell>,
    pub cells: Vec<Cell>,
}

/// The stretches of a track, with the usual spacing of its samples.
#[derive(Clone, Debug)]
pub(crate) struct Track {
    pub stretches: Vec<Stretch>,
    /// Median distance between samples of the moving boat, m.
    pub spacing_m: f64,
}

/// Speed under which a boat is stopped, m/s: less than the slowest drift with a wind (common practice, no source).
const STOPPED_MPS: f64 = 0.15;
/// Time over which a stop is told, s: longer than it takes to pass a wave, short beside any stop that matters.
const STOP_S: f64 = 60.0;
/// Longest gap in sample spacings where samples lie far apart: one or two of them lost are no gap.
const SPACINGS_PER_GAP: f64 = 4.0;
/// Longest time between neighbouring samples, in usual ones, that is no gap.
const SAMPLES_PER_GAP: f64 = 3.0;
/// Samples on either side of a sample that it is compared with to tell a spike; spikes are up to this long.
const SPIKE_SAMPLES: usize = 3;
/// Least height of a spike in median absolute deviations of its neighbours.
const SPIKE_DEVIATIONS: f64 = 6.0;

impl Track {
    /// Cuts a series into stretches and averages them in cells. Samples that are no finite numbers are passed over.
    pub fn new(values: Values, wanted: &Wanted) -> Self {
        let plain = without_spikes(&finite_samples(values), wanted.ordinary.spike);
        let heard = if wanted.ordinary.wakes { waking::awake(&plain) } else { plain };
        let samples = moving(&away_from_gaps(&heard, wanted.lag_s));
        let mut spacings: Vec<f64> = samples.windows(2).map(|w| w[1].distance_m - w[0].distance_m).collect();
        let spacing_m = median(&mut spacings);
        let greatest_gap_m = wanted.greatest_gap_m.max(SPACINGS_PER_GAP * spacing_m);

        let stretches = samples
            .chunk_by(|a, b| {
                b.distance_m - a.distance_m <= greatest_gap_m && b.time_s - a.time_s <= wanted.greatest_gap_s
            })
            .map(|samples| Stretch { samples: samples.to_vec(), cells: average(samples, wanted.cell_m) })
            .collect();
        Self { stretches, spacing_m }
    }

    /// The track with something taken off each value, by stretch and distance.
    pub fn less(&self, off: impl Fn(usize, f64) -> f64) -> Self {
        let mut left = self.clone();
        for (i, stretch) in left.stretches.iter_mut().enumerate() {
            for cell in stretch.samples.iter_mut().chain(&mut stretch.cells) {
                cell.value -= off(i, cell.distance_m);
            }
        }
        left
    }

    /// Length of all stretches, m.
    pub fn length_m(&self) -> f64 {
        self.stretches.iter().map(Stretch::length_m).sum()
    }
}

impl Stretch {
    /// Distance from the first cell to the last, m.
    pub fn length_m(&self) -> f64 {
        match (self.cells.first(), self.cells.last()) {
            (Some(first), Some(last)) => last.distance_m - first.distance_m,
            _ => 0.0,
        }
    }

    /// The cells between two distances, averaged further so that neighbours lie at least `cell_m` apart.
    pub fn window(&self, from_m: f64, to_m: f64, cell_m: f64) -> Vec<Cell> {
        let first = self.cells.partition_point(|c| c.distance_m < from_m);
        let last = self.cells.partition_point(|c| c.distance_m <= to_m);
        average(&self.cells[first..last.max(first)], cell_m)
    }

    /// Time at a distance, s: between the two cells around it.
    pub fn time_at(&self, distance_m: f64) -> Option<f64> {
        let after = self.cells.partition_point(|c| c.distance_m < distance_m);
        let b = self.cells.get(after).or(self.cells.last())?;
        let a = &self.cells[after.saturating_sub(1)];
        let span_m = b.distance_m - a.distance_m;
        let part = if span_m > 0.0 { (distance_m - a.distance_m) / span_m } else { 0.0 };
        Some(a.time_s + part.clamp(0.0, 1.0) * (b.time_s - a.time_s))
    }

    /// Longest distance between neighbouring cells from one distance to another, the cells around both with them, m.
    pub fn longest_gap_m(&self, from_m: f64, to_m: f64) -> f64 {
        let first = self.cells.partition_point(|c| c.distance_m < from_m).saturating_sub(1);
        let last = (self.cells.partition_point(|c| c.distance_m <= to_m) + 1).min(self.cells.len());
        let pairs = self.cells[first.min(last)..last].windows(2);
        pairs.map(|pair| pair[1].distance_m - pair[0].distance_m).fold(0.0, f64::max)
    }

    /// Distance between the two cells around a place, m.
    pub fn spacing_at_m(&self, distance_m: f64) -> f64 {
        let after =
            self.cells.partition_point(|c| c.distance_m < distance_m).clamp(1, self.cells.len().max(2) - 1);
        match (self.cells.get(after - 1), self.cells.get(after)) {
            (Some(a), Some(b)) => b.distance_m - a.distance_m,
            _ => 0.0,
        }
    }
}

fn finite_samples(values: Values) -> Vec<Cell> {
    let rows = values.time_s.iter().zip(values.distance_m).zip(values.value);
    let samples =
        rows.map(|((&time_s, &distance_m), &value)| Cell { distance_m, time_s, value, samples: 1.0 });
    let are_finite = |s: &Cell| s.distance_m.is_finite() && s.time_s.is_finite() && s.value.is_finite();
    most_of(values.value.len(), samples.filter(are_finite))
}

/// Samples of which nearly `n` are left: room is made for them once.
fn most_of(n: usize, samples: impl Iterator<Item = Cell>) -> Vec<Cell> {
    let mut left = Vec::with_capacity(n);
    left.extend(samples);
    left
}

/// Drops samples within half a lag of a gap that is as long.
///
/// There the slope that took out the lag was fitted to one side alone, and its noise is several times as large.
fn away_from_gaps(samples: &[Cell], lag_s: f64) -> Vec<Cell> {
    let reach_s = 0.5 * lag_s;
    let mut intervals: Vec<f64> = samples.windows(2).map(|w| w[1].time_s - w[0].time_s).collect();
    let gap_s = reach_s.max(SAMPLES_PER_GAP * median(&mut intervals));
    let heard = samples.chunk_by(|a, b| b.time_s - a.time_s <= gap_s).flat_map(|piece| {
        let (from_s, to_s) = (piece[0].time_s + reach_s, piece[piece.len() - 1].time_s - reach_s);
        piece.iter().filter(move |s| reach_s <= 0.0 || (from_s <= s.time_s && s.time_s <= to_s)).copied()
    });
    most_of(samples.len(), heard)
}

/// Drops samples that stand out from a running median.
///
/// On a rising or falling run the median is the middle sample itself, so that a front is no spike however steep.
fn without_spikes(samples: &[Cell], least: f64) -> Vec<Cell> {
    let is_spike = |i: usize| {
        // at the ends as many neighbours as in the middle, else a spike there is the majority
        let first = i.saturating_sub(SPIKE_SAMPLES).min(samples.len().saturating_sub(2 * SPIKE_SAMPLES + 1));
        let around = &samples[first..(first + 2 * SPIKE_SAMPLES + 1).min(samples.len())];
        let value = samples[i].value;
        // most samples leave here: nothing around them differs much
        if around.iter().all(|s| (s.value - value).abs() < least) {
            return false;
        }
        let mut values: Vec<f64> = around.iter().map(|s| s.value).collect();
        let middle = median(&mut values);
        for value in &mut values {
            *value = (*value - middle).abs();
        }
        let deviation = median(&mut values);
        (value - middle).abs() > least.max(SPIKE_DEVIATIONS * deviation)
    };
    most_of(samples.len(), (0..samples.len()).filter(|&i| !is_spike(i)).map(|i| samples[i]))
}

/// The upper median; 0 of nothing.
pub(crate) fn median(values: &mut [f64]) -> f64 {
    let middle = values.len() / 2;
    if values.is_empty() { 0.0 } else { *values.select_nth_unstable_by(middle, f64::total_cmp).1 }
}

/// The samples of the moving boat: more than [`STOPPED_MPS`] over the [`STOP_S`] before or after.
fn moving(samples: &[Cell]) -> Vec<Cell> {
    let mut is_stopped = vec![false; samples.len()];
    let (mut end, mut marked_to) = (0, 0);
    for start in 0..samples.len() {
        while end < samples.len() && samples[end].time_s - samples[start].time_s < STOP_S {
            end += 1;
        }
        let (a, Some(b)) = (&samples[start], samples.get(end)) else { break };
        if b.distance_m - a.distance_m < STOPPED_MPS * (b.time_s - a.time_s) {
            is_stopped[start.max(marked_to)..=end].fill(true);
            marked_to = end + 1;
        }
    }
    let moving = samples.iter().zip(is_stopped).filter(|(_, is_stopped)| !is_stopped);
    most_of(samples.len(), moving.map(|(sample, _)| *sample))
}

/// Means of neighbouring cells, each mean spanning less than `cell_m`.
fn average(cells: &[Cell], cell_m: f64) -> Vec<Cell> {
    let mut means: Vec<Cell> = Vec::new();
    let mut start_m = f64::NEG_INFINITY;
    for cell in cells {
        match means.last_mut() {
            Some(mean) if cell.distance_m - start_m < cell_m => {
                let samples = mean.samples + cell.samples;
                let share = cell.samples / samples;
                mean.distance_m += share * (cell.distance_m - mean.distance_m);
                mean.time_s += share * (cell.time_s - mean.time_s);
                mean.value += share * (cell.value - mean.value);
                mean.samples = samples;
            }
            _ => {
                start_m = cell.distance_m;
                means.push(*cell);
            }
        }
    }
    means
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::settings::Settings;

    fn track(time_s: &[f64], distance_m: &[f64], value: &[f64]) -> Track {
        Track::new(Values { time_s, distance_m, value }, &Settings::default().at_the_surface())
    }

    fn steady(n: usize) -> (Vec<f64>, Vec<f64>) {
        ((0..n).map(|i| i as f64).collect(), (0..n).map(|i| 1.2 * i as f64).collect())
    }

    #[test]
    fn a_spike_goes_and_a_sharp_front_stays() {
        let (time_s, distance_m) = steady(40);
        let mut value: Vec<f64> = (0..40).map(|i| if i < 20 { 12.0 } else { 15.0 }).collect();
        value[8] = 4.0;
        value[9] = 4.1;
        let track = track(&time_s, &distance_m, &value);
        assert_eq!(track.stretches.len(), 1);
        assert_eq!(track.stretches[0].samples.len(), 38);
    }

    #[test]
    fn a_stop_is_left_out_and_a_long_gap_cuts_the_track() {
        let (time_s, mut distance_m) = steady(4_000);
        for (i, d) in distance_m.iter_mut().enumerate() {
            *d -= 1.2 * (i as f64 - 1_000.0).clamp(0.0, 1_500.0);
            *d += if i >= 3_500 { 1_200.0 } else { 0.0 };
        }
        let track = track(&time_s, &distance_m, &vec![10.0; 4_000]);
        assert_eq!(track.stretches.len(), 2);
        let used: usize = track.stretches.iter().map(|s| s.samples.len()).sum();
        // 1,500 s of stop, and what is moved through in a few seconds on either side
        assert!((2_480..=2_500).contains(&used), "{used}");
    }

    #[test]
    fn beside_a_gap_a_corrected_sensor_is_not_heard() {
        let (mut time_s, distance_m) = steady(400);
        for t in &mut time_s[200..] {
            *t += 60.0;
        }
        let values = Values { time_s: &time_s, distance_m: &distance_m, value: &[10.0; 400] };
        let settings = Settings { lag_s: 20.0, ..Settings::default() };
        let track = Track::new(values, &settings.at_the_surface());
        let used: usize = track.stretches.iter().map(|s| s.samples.len()).sum();
        assert_eq!(used, 400 - 4 * 10);
    }

    #[test]
    fn nothing_and_nonsense_do_no_harm() {
        assert!(track(&[], &[], &[]).stretches.is_empty());
        let track = track(&[0.0, 1.0, 2.0], &[0.0, f64::NAN, 2.0], &[f64::INFINITY, 3.0, 4.0]);
        assert_eq!(track.stretches[0].samples.len(), 1);
    }
}
