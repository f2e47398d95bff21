//! Which few observations stand for the many samples along a track?

use super::SurfaceMapSettings;
use crate::objective_analysis::Observation;

/// Ratio of one block size tried to the next.
const BLOCK_GROWTH: f64 = 1.25;

/// Means of the samples over blocks of track, no more than the settings allow.
pub(super) fn block_means(samples: &[(f64, f64, f64)], settings: &SurfaceMapSettings) -> Vec<Observation> {
    let samples: Vec<Observation> = samples
        .iter()
        .map(|&(east_m, north_m, temp_c)| Observation { east_m, north_m, temp_c })
        .filter(|s| s.east_m.is_finite() && s.north_m.is_finite() && s.temp_c.is_finite())
        .collect();
    let mut block_m = settings.least_block_m;
    loop {
        let blocks = means(&samples, block_m);
        // blocks of any size end where even the whole trip is one; a limit of none is a limit of one
        if blocks.len() <= settings.greatest_blocks.max(1) || !block_m.is_normal() {
            return blocks;
        }
        block_m *= BLOCK_GROWTH;
    }
}

/// A block ends where the boat is `block_m` from where it began: however long it lay there, it is one place.
fn means(samples: &[Observation], block_m: f64) -> Vec<Observation> {
    let square_m2 = block_m.powi(2);
    let mut blocks = Vec::new();
    let mut from = 0;
    for to in 1..=samples.len() {
        let first = &samples[from];
        let is_whole = samples.get(to).is_none_or(|s| {
            (s.east_m - first.east_m).powi(2) + (s.north_m - first.north_m).powi(2) >= square_m2
        });
        if is_whole {
            blocks.push(mean(&samples[from..to]));
            from = to;
        }
    }
    blocks
}

fn mean(samples: &[Observation]) -> Observation {
    let mean_of =
        |value: fn(&Observation) -> f64| samples.iter().map(value).sum::<f64>() / samples.len() as f64;
    Observation {
        east_m: mean_of(|s| s.east_m),
        north_m: mean_of(|s| s.north_m),
        temp_c: mean_of(|s| s.temp_c),
    }
}
