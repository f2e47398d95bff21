//! What do the methods find that one would try first, at their best?
//!
//! A threshold on the gradient, and changes of the mean by [PELT](super::pelt). Both get medians of distance cells,
//! so that spikes and the boat's speed do not trouble them, and are tuned on trips of their own for the best F1, by whoever scores them.

use super::pelt;

/// Size of the cells, m.
const CELL_M: f64 = 20.0;
/// Fewest cells between two changes of the mean.
const LEAST_CELLS: usize = 2;
/// Penalties tried, in variances of the noise times the logarithm of the number of cells: a theorist's 3, and more,
/// as water is no staircase.
const PENALTIES: [f64; 6] = [3.0, 10.0, 30.0, 100.0, 300.0, 1_000.0];

/// A method with its tuning.
#[derive(Clone, Copy, Debug)]
pub enum Rival {
    /// Means over a length before and behind differ by a step; the greatest difference of a run is the break.
    Gradient { length_m: f64, least_step_c: f64 },
    /// Changes of the mean at a penalty in variances of the noise times the logarithm of the cells; those of one
    /// sign within a length are one break; breaks are a step and more.
    ChangePoints { penalty: f64, join_m: f64, least_step_c: f64 },
}

/// Every tuning that is tried.
pub fn gradients() -> Vec<Rival> {
    let lengths_m = [60.0, 100.0, 160.0, 240.0, 340.0, 480.0, 680.0, 960.0];
    with_steps(&lengths_m.map(|length_m| Rival::Gradient { length_m, least_step_c: 0.0 }))
}

/// Every tuning that is tried.
pub fn change_points() -> Vec<Rival> {
    let of = |penalty| {
        [50.0, 150.0, 300.0, 500.0, 800.0].map(|join_m| Rival::ChangePoints {
            penalty,
            join_m,
            least_step_c: 0.0,
        })
    };
    with_steps(&PENALTIES.map(of).concat())
}

fn with_steps(rivals: &[Rival]) -> Vec<Rival> {
    let steps_c = [0.3, 0.35, 0.4, 0.45, 0.5, 0.55, 0.6, 0.7];
    let with = |rival: Rival, step_c: f64| match rival {
        Rival::Gradient { length_m, .. } => Rival::Gradient { length_m, least_step_c: step_c },
        Rival::ChangePoints { penalty, join_m, .. } => {
            Rival::ChangePoints { penalty, join_m, least_step_c: step_c }
        }
    };
    rivals.iter().flat_map(|&rival| steps_c.map(|step_c| with(rival, step_c))).collect()
}

/// Medians of distance cells along a track.
pub struct Cells {
    distance_m: Vec<f64>,
    temp_c: Vec<f64>,
    /// Of each penalty: the same for all tunings that share it.
    changes: Vec<Vec<usize>>,
}

impl Cells {
    /// Of samples in the order of the track.
    pub fn new(distances_m: &[f64], temps_c: &[f64]) -> Self {
        let (mut distance_m, mut temp_c) = (Vec::new(), Vec::new());
        let samples: Vec<(f64, f64)> = distances_m.iter().copied().zip(temps_c.iter().copied()).collect();
        for cell in samples.chunk_by(|a, b| (a.0 / CELL_M).floor() == (b.0 / CELL_M).floor()) {
            distance_m.push(cell.iter().map(|s| s.0).sum::<f64>() / cell.len() as f64);
            temp_c.push(median(&mut cell.iter().map(|s| s.1).collect::<Vec<_>>()));
        }
        let mut differences_c: Vec<f64> = temp_c.windows(2).map(|w| (w[1] - w[0]).abs()).collect();
        // of a normal difference of two; a sensor that rounds may leave none
        let noise_c = (1.4826 * median(&mut differences_c) / 2_f64.sqrt()).max(0.02);
        let unit_c2 = noise_c * noise_c * (temp_c.len() as f64).ln();
        let changes = PENALTIES.map(|p| pelt::change_points(&temp_c, p * unit_c2, LEAST_CELLS)).to_vec();
        Self { distance_m, temp_c, changes }
    }

    /// Distance along the track, m, and step, °C, of each break that a method finds.
    pub fn breaks(&self, rival: Rival) -> Vec<(f64, f64)> {
        match rival {
            Rival::Gradient { length_m, least_step_c } => self.gradients(length_m, least_step_c),
            Rival::ChangePoints { penalty, join_m, least_step_c } => {
                self.change_points(penalty, join_m, least_step_c)
            }
        }
    }

    fn mean_c(&self, cells: std::ops::Range<usize>) -> f64 {
        let n = cells.len() as f64;
        self.temp_c[cells].iter().sum::<f64>() / n
    }

    fn gradients(&self, length_m: f64, least_step_c: f64) -> Vec<(f64, f64)> {
        let half = (length_m / CELL_M).round() as usize;
        let steps: Vec<(usize, f64)> = (half..self.temp_c.len().saturating_sub(half))
            .map(|i| (i, self.mean_c(i..i + half) - self.mean_c(i - half..i)))
            .collect();
        steps
            .chunk_by(|a, b| {
                a.1.abs() >= least_step_c && b.1.abs() >= least_step_c && (a.1 > 0.0) == (b.1 > 0.0)
            })
            .filter_map(|run| run.iter().max_by(|a, b| a.1.abs().total_cmp(&b.1.abs())))
            .filter(|(_, step_c)| step_c.abs() >= least_step_c)
            .map(|&(i, step_c)| (0.5 * (self.distance_m[i - 1] + self.distance_m[i]), step_c))
            .collect()
    }

    fn change_points(&self, penalty: f64, join_m: f64, least_step_c: f64) -> Vec<(f64, f64)> {
        let which = PENALTIES.iter().position(|&p| p == penalty).expect("one of the penalties");
        let changes = &self.changes[which];
        let ends: Vec<usize> = [&[0], &changes[..], &[self.temp_c.len()]].concat();
        let levels_c: Vec<f64> = ends.windows(2).map(|w| self.mean_c(w[0]..w[1])).collect();
        let steps: Vec<(f64, f64)> = changes
            .iter()
            .zip(levels_c.windows(2))
            .map(|(&i, levels_c)| {
                (0.5 * (self.distance_m[i - 1] + self.distance_m[i]), levels_c[1] - levels_c[0])
            })
            .collect();
        steps
            .chunk_by(|a, b| b.0 - a.0 <= join_m && (a.1 > 0.0) == (b.1 > 0.0))
            .map(|run| {
                let step_c: f64 = run.iter().map(|s| s.1).sum();
                (run.iter().map(|s| s.0 * s.1).sum::<f64>() / step_c, step_c)
            })
            .filter(|c| c.1.abs() >= least_step_c)
            .collect()
    }
}

/// The upper median; 0 of nothing.
fn median(values: &mut [f64]) -> f64 {
    values.sort_by(f64::total_cmp);
    values.get(values.len() / 2).copied().unwrap_or(0.0)
}
