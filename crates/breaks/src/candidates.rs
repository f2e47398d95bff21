//! Where along a stretch do the two sides differ enough to look for a break there?
//!
//! A matched filter for a step: mean over one length of track after a place minus mean over the same length before
//! it, at several lengths, from prefix sums. The cost is the number of cells times the number of scales.

use crate::noise::Noise;
use crate::stretches::{Cell, median};

/// A place that deserves a fit.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Candidate {
    pub centre_m: f64,
    /// Length of track on either side that was compared, m.
    pub scale_m: f64,
    /// Contrast in standard deviations of the noise at that scale.
    pub strength: f64,
}

/// Least contrast that deserves a fit, in standard deviations of the noise.
const LEAST_STRENGTH: f64 = 3.5;
/// Fewest cells on either side.
const LEAST_CELLS: usize = 3;

/// Places where the contrast at one scale is highest among its neighbours.
pub(crate) fn at_scale(cells: &[Cell], scale_m: f64, least_contrast: f64, noise: &Noise) -> Vec<Candidate> {
    let mut found = Vec::new();
    // the highest place of the run of like contrasts that is being walked through, with its sign
    let mut run: Option<(Candidate, bool)> = None;
    contrasts(cells, scale_m, |centre_m, contrast| {
        let high = contrast.filter(|c| c.difference.abs() >= least_contrast);
        let here = high.and_then(|c| {
            let strength = c.strength(scale_m, noise);
            (strength >= LEAST_STRENGTH)
                .then_some((Candidate { centre_m, scale_m, strength }, c.difference > 0.0))
        });
        run = match (run, here) {
            (Some((best, sign)), Some((other, other_sign))) if sign == other_sign => {
                Some((if other.strength > best.strength { other } else { best }, sign))
            }
            (ended, here) => {
                found.extend(ended.map(|(best, _)| best));
                here
            }
        };
    });
    found.extend(run.map(|(best, _)| best));
    found
}

/// Usual square of the contrast at one scale, in variances of the noise, over stretches from which the breaks were
/// taken: one where the noise is what its model says. `None` where too few contrasts tell.
pub(crate) fn usual_square<'a>(
    stretches: impl Iterator<Item = &'a [Cell]>,
    scale_m: f64,
    noise: &Noise,
) -> Option<f64> {
    /// Fewest contrasts that share no cell.
    const LEAST_CONTRASTS: usize = 20;
    /// Median of the square of a normal value.
    const MEDIAN_SQUARE: f64 = 0.4549;
    let mut squares = Vec::new();
    for cells in stretches {
        let mut next_m = f64::NEG_INFINITY;
        contrasts(cells, scale_m, |centre_m, contrast| {
            if let Some(contrast) = contrast.filter(|_| centre_m >= next_m) {
                squares.push(contrast.strength(scale_m, noise).powi(2));
                next_m = centre_m + 2.0 * scale_m;
            }
        });
    }
    (squares.len() >= LEAST_CONTRASTS).then(|| median(&mut squares) / MEDIAN_SQUARE)
}

/// A difference between two neighbouring means.
struct Contrast {
    difference: f64,
    /// Time between the middles of both means, s.
    span_s: f64,
    /// Samples in the lesser of both.
    samples: f64,
}

impl Contrast {
    /// In standard deviations of the noise.
    fn strength(&self, scale_m: f64, noise: &Noise) -> f64 {
        self.difference.abs() / noise.contrast_variance(scale_m, self.span_s, self.samples).sqrt()
    }
}

/// Gives the contrast at every place between two cells to `each`; `None` where a side has too few cells.
fn contrasts(cells: &[Cell], scale_m: f64, mut each: impl FnMut(f64, Option<Contrast>)) {
    let mut sums = vec![0.0; cells.len() + 1];
    for (i, cell) in cells.iter().enumerate() {
        sums[i + 1] = sums[i] + cell.value;
    }
    let samples_a_cell = cells.iter().map(|c| c.samples).sum::<f64>() / cells.len().max(1) as f64;
    let (mut from, mut to) = (0, 0);
    for i in 1..cells.len() {
        let centre_m = 0.5 * (cells[i - 1].distance_m + cells[i].distance_m);
        while cells[from].distance_m < centre_m - scale_m {
            from += 1;
        }
        while to < cells.len() && cells[to].distance_m <= centre_m + scale_m {
            to += 1;
        }
        let (before, after) = (i.saturating_sub(from), to.saturating_sub(i));
        let is_told = before >= LEAST_CELLS && after >= LEAST_CELLS;
        let contrast = is_told.then(|| {
            let difference = (sums[to] - sums[i]) / after as f64 - (sums[i] - sums[from]) / before as f64;
            let span_s = 0.5 * (cells[to - 1].time_s - cells[from].time_s);
            let samples = before.min(after) as f64 * samples_a_cell;
            Contrast { difference, span_s, samples }
        });
        each(centre_m, contrast);
    }
}
