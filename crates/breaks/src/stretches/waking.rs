//! When does a sensor that was silent read the water again?
//!
//! Switched on, or out of the air, it comes to the water's temperature as a first-order lag does: fastest at once, then
//! ever slower. A break that is sailed into begins slowly.

use super::Cell;

/// Silence after which a sensor may have been off or dry, s.
const SILENCE_S: f64 = 60.0;
/// Length of the means that are compared, s: over that a sensor's scatter averages out.
const BLOCK_S: f64 = 20.0;
/// Least change from the first mean to the second of a sensor that wakes up, °C: half a degree a minute.
const FIRST_CHANGE_C: f64 = 0.15;
/// It is awake when a mean differs from the next by less, °C.
const LAST_CHANGE_C: f64 = 0.03;
/// Longest time that it takes, s: the settling of a slow sensor (time constant of two minutes) from ten degrees to a tenth.
const LONGEST_S: f64 = 600.0;

/// Drops the readings of a sensor that wakes up at the start or after a silence.
pub(super) fn awake(samples: &[Cell]) -> Vec<Cell> {
    let pieces = samples.chunk_by(|a, b| b.time_s - a.time_s < SILENCE_S);
    pieces.flat_map(|piece| &piece[first_awake(piece)..]).copied().collect()
}

/// First sample of a piece at which the sensor reads the water.
fn first_awake(piece: &[Cell]) -> usize {
    let Some(first) = piece.first() else { return 0 };
    let block_of = |sample: &Cell| ((sample.time_s - first.time_s) / BLOCK_S).floor();
    let young = &piece[..piece.partition_point(|s| s.time_s - first.time_s < LONGEST_S)];
    let blocks: Vec<&[Cell]> = young.chunk_by(|a, b| block_of(a) == block_of(b)).collect();
    let means: Vec<f64> =
        blocks.iter().map(|b| b.iter().map(|s| s.value).sum::<f64>() / b.len() as f64).collect();
    let changes: Vec<f64> = means.windows(2).map(|pair| pair[1] - pair[0]).collect();
    let Some(&first_change_c) = changes.first() else { return 0 };
    let toward = first_change_c.signum();
    let settled =
        changes.iter().position(|change_c| change_c * toward < LAST_CHANGE_C).unwrap_or(changes.len());
    let slows = changes[..settled].iter().enumerate().all(|(i, change_c)| {
        // scatter may make one larger than the one before, and none as large as the first
        i == 0 || change_c * toward < 0.9 * first_change_c.abs()
    });
    if first_change_c.abs() < FIRST_CHANGE_C || settled < 2 || !slows {
        return 0;
    }
    // the last mean before it settled still moves
    blocks[..=settled.min(blocks.len() - 1)].iter().map(|block| block.len()).sum()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn piece(value: impl Fn(f64) -> f64) -> Vec<Cell> {
        (0..900)
            .map(f64::from)
            .map(|t| Cell {
                distance_m: 1.2 * t,
                time_s: t,
                value: value(t) + 0.05 * (12.9 * t).sin(),
                samples: 1.0,
            })
            .collect()
    }

    #[test]
    fn a_sensor_that_settles_is_left_out_until_it_has() {
        for (from_c, time_s) in [(4.0, 60.0), (-3.0, 60.0), (8.0, 30.0)] {
            let piece = piece(|t| 12.0 + from_c * (-t / time_s).exp());
            let left = awake(&piece);
            let worst_c = left.iter().map(|s| (s.value - 12.0).abs()).fold(0.0, f64::max);
            assert!(worst_c < 0.2 && left.len() > 500, "{worst_c} °C in {} of {}", left.len(), piece.len());
        }
    }

    #[test]
    fn water_that_changes_is_kept() {
        let front = piece(|t| 12.0 + 1.5 * ((t - 150.0) / 40.0).tanh());
        assert_eq!(awake(&front), front);
        let even = piece(|_| 12.0);
        assert_eq!(awake(&even), even);
        let slope = piece(|t| 12.0 + 0.004 * t);
        assert_eq!(awake(&slope), slope);
        assert!(awake(&[]).is_empty());
    }
}
