//! Where does the mean of a series change, if every change costs a penalty?
//!
//! PELT (Killick, Fearnhead & Eckley 2012) with the cost of a shifting mean: the exact minimum, over all cuts into
//! segments, of the squared deviations from the segments' means plus a penalty for each segment. Not the finder's
//! method: what it is compared with.

/// A place where the last segment may begin.
struct Start {
    at: usize,
    /// From this end on, the last segment is never better begun here.
    useless_from: usize,
}

/// First samples of all segments but the first, for segments of at least `least_samples` samples.
pub fn change_points(values: &[f64], penalty: f64, least_samples: usize) -> Vec<usize> {
    let cost = Cost::new(values);
    // least cost of the samples before each end, and where its last segment begins
    let mut least = vec![f64::INFINITY; values.len() + 1];
    let mut begins = vec![0; values.len() + 1];
    least[0] = 0.0;
    let mut starts: Vec<Start> = Vec::new();
    for end in least_samples..=values.len() {
        let newest = end - least_samples;
        if least[newest].is_finite() {
            starts.push(Start { at: newest, useless_from: usize::MAX });
        }
        starts.retain(|start| end < start.useless_from);
        for start in &starts {
            let total = least[start.at] + cost.of(start.at, end) + penalty;
            if total < least[end] {
                (least[end], begins[end]) = (total, start.at);
            }
        }
        for start in &mut starts {
            // a cut at this end is no worse; it is allowed once a whole segment fits behind it
            if least[start.at] + cost.of(start.at, end) >= least[end] {
                start.useless_from = start.useless_from.min(end + least_samples);
            }
        }
    }
    let mut changes = Vec::new();
    let mut end = values.len();
    while begins[end] > 0 {
        end = begins[end];
        changes.push(end);
    }
    changes.reverse();
    changes
}

/// Squared deviations from the mean of any run of values, from running sums.
struct Cost {
    sums: Vec<f64>,
    squares: Vec<f64>,
}

impl Cost {
    fn new(values: &[f64]) -> Self {
        // around their mean, so that squares do not cancel
        let mean = values.iter().sum::<f64>() / values.len().max(1) as f64;
        let running = |value: fn(f64) -> f64| {
            let sums = values.iter().scan(0.0, |sum, v| {
                *sum += value(v - mean);
                Some(*sum)
            });
            std::iter::once(0.0).chain(sums).collect()
        };
        Self { sums: running(|v| v), squares: running(|v| v * v) }
    }

    fn of(&self, from: usize, to: usize) -> f64 {
        let sum = self.sums[to] - self.sums[from];
        self.squares[to] - self.squares[from] - sum * sum / (to - from) as f64
    }
}
