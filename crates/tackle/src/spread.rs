//! Which lines run in a band at this speed, and what does a little more or less of it do?

use statrs::function::erf::erf;

use crate::depth::Depth;
use crate::refusal::Refusal;
use crate::setup::{Setup, Tow};
use crate::tackle::Tackle;

/// A line at a speed, and a little slower and faster.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Run {
    /// Depth at the speed.
    pub depth: Result<Depth, Refusal>,
    /// Depth when the boat is that much slower, m; `None` where nothing says it.
    pub slower_m: Option<f64>,
    /// Depth when the boat is that much faster, m; `None` where nothing says it.
    pub faster_m: Option<f64>,
}

impl Tackle {
    /// How a line runs at a speed, and at `step_mps` (m/s) less and more. A noted depth stays: nothing says how it
    /// changes.
    pub fn run(&self, setup: &Setup<'_>, tow: &Tow<'_>, step_mps: f64) -> Run {
        let below = |more_mps: f64| -> Vec<(f64, f64)> {
            tow.below.iter().map(|&(depth_m, mps)| (depth_m, (mps + more_mps).max(0.0))).collect()
        };
        let at = |more_mps: f64| {
            let stw_mps = (tow.stw_mps + more_mps).max(0.0);
            let changed = Tow { stw_mps, below: &below(more_mps), ..*tow };
            self.running_depth(setup, &changed).map(|depth| depth.depth_m)
        };
        Run { depth: self.depth(setup, tow), slower_m: at(-step_mps), faster_m: at(step_mps) }
    }
}

impl Depth {
    /// Chance that the lure runs between two depths, m.
    pub fn chance_between(&self, low_m: f64, high_m: f64) -> f64 {
        let below =
            |depth_m: f64| 0.5 * (1.0 + erf((depth_m - self.depth_m) / (self.depth_se_m * 2f64.sqrt())));
        below(high_m) - below(low_m)
    }
}
