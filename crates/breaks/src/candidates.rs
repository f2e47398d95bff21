//! Where along a stretch do the two sides differ enough to look for a break there?
//!
//! A matched filter for a step: mean over one length of track after a place minus mean over the same length before
//! it, at several lengths, from prefix sums. The cost is the number of cells times the number of scales.

use crate::noise::Noise;
use crate::stretches::Cell;

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
pub(crate) fn at_scale(cells: &[Cell], scale_m: f64, least_contrast_c: f64, noise: &Noise) -> Vec<Candidate> {
    let mut sums = vec![0.0; cells.len() + 1];
    for (i, cell) in cells.iter().enumerate() {
        sums[i + 1] = sums[i] + cell.temp_c;
    }
    let samples_a_cell = cells.iter().map(|c| c.samples).sum::<f64>() / cells.len().max(1) as f64;
    let mut found = Vec::new();
    // the highest place of the run of like contrasts that is being walked through, with its sign
    let mut run: Option<(Candidate, bool)> = None;
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
        let mut here = None;
        if before >= LEAST_CELLS && after >= LEAST_CELLS {
            let contrast_c = (sums[to] - sums[i]) / after as f64 - (sums[i] - sums[from]) / before as f64;
            let span_s = 0.5 * (cells[to - 1].time_s - cells[from].time_s);
            let samples = before.min(after) as f64 * samples_a_cell;
            let strength = contrast_c.abs() / noise.contrast_variance(scale_m, span_s, samples).sqrt();
            if contrast_c.abs() >= least_contrast_c && strength >= LEAST_STRENGTH {
                here = Some((Candidate { centre_m, scale_m, strength }, contrast_c > 0.0));
            }
        }
        run = match (run, here) {
            (Some((best, sign)), Some((other, other_sign))) if sign == other_sign => {
                Some((if other.strength > best.strength { other } else { best }, sign))
            }
            (ended, here) => {
                found.extend(ended.map(|(best, _)| best));
                here
            }
        };
    }
    found.extend(run.map(|(best, _)| best));
    found
}
