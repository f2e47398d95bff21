//! What does a captain know of his own tackle?

use waterseam_logs::LineMethod;
use waterseam_logs::boat::{DiverTable, ObservedDepth};

use crate::calibrate::{Posterior, Seen, calibrated};
use crate::depth::Depth;
use crate::setup::{Setup, Tow};

/// Tables of divers, and what observed depths tell of lines. `Default`: neither.
#[derive(Clone, Debug, Default)]
pub struct Tackle {
    pub(crate) divers: Vec<DiverTable>,
    pub(crate) posteriors: [Posterior; LineMethod::ALL.len()],
    seen: Vec<Seen>,
}

impl Tackle {
    /// The tackle of a boat, with depths that were seen in water of a density (kg/m³).
    pub fn new(divers: &[DiverTable], observed: &[ObservedDepth], density_kg_per_m3: f64) -> Self {
        let plain = Self { divers: divers.to_vec(), ..Self::default() };
        let mut tackle = plain.clone();
        tackle.seen = observed.iter().map(|seen| Seen::by(&plain, seen, density_kg_per_m3)).collect();
        for method in LineMethod::ALL {
            let of_method: Vec<&ObservedDepth> =
                observed.iter().filter(|o| o.setup.method == method).collect();
            tackle.posteriors[method as usize] = calibrated(&plain, method, &of_method, density_kg_per_m3);
        }
        tackle
    }

    /// The same as [`Tackle::depth`], without the reason why nothing says it.
    pub fn running_depth(&self, setup: &Setup<'_>, tow: &Tow<'_>) -> Option<Depth> {
        self.depth(setup, tow).ok()
    }

    /// What became of each observed depth, in their order.
    pub fn seen(&self) -> &[Seen] {
        &self.seen
    }

    /// Number of observed depths that tell of lines of a method.
    pub fn observed(&self, method: LineMethod) -> usize {
        self.posteriors[method as usize].observed
    }

    pub(crate) fn posterior(&self, method: LineMethod) -> &Posterior {
        &self.posteriors[method as usize]
    }
}
