//! How likely is each lag?

/// Log-likelihood over equally spaced offsets, up to a constant.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Curve {
    /// First offset, s.
    pub first_s: f64,
    /// Step, s.
    pub step_s: f64,
    pub values: Vec<f64>,
}

/// A peak in a curve.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Peak {
    pub offset_s: f64,
    /// Height above the best value further than a given distance away; infinite where there is none.
    pub margin: f64,
}

impl Curve {
    pub fn offset_s(&self, at: usize) -> f64 {
        self.first_s + at as f64 * self.step_s
    }

    /// The highest allowed value, and how far it stands above the best one further than `apart_s` from it.
    pub fn peak(&self, allowed: &[bool], apart_s: f64) -> Option<Peak> {
        let open = |&at: &usize| allowed[at];
        let by_value = |a: &usize, b: &usize| self.values[*a].total_cmp(&self.values[*b]);
        let best = (0..self.values.len()).filter(open).max_by(by_value)?;
        let apart = (apart_s / self.step_s).ceil() as usize;
        let rival = (0..self.values.len()).filter(open).filter(|at| at.abs_diff(best) > apart);
        let rival = rival.map(|at| self.values[at]).reduce(f64::max);
        let margin = rival.map_or(f64::INFINITY, |rival| self.values[best] - rival);
        Some(Peak { offset_s: self.offset_s(best), margin })
    }

    /// Mean and standard deviation of the offset, with the likelihood as its density.
    pub fn moments(&self) -> (f64, f64) {
        let highest = self.values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let (mut sum, mut first, mut second) = (0.0, 0.0, 0.0);
        for (at, value) in self.values.iter().enumerate() {
            let weight = (value - highest).exp();
            let offset_s = at as f64 * self.step_s;
            sum += weight;
            first += weight * offset_s;
            second += weight * offset_s * offset_s;
        }
        let mean = first / sum;
        // a grid cannot tell an offset better than a fraction of its step
        let variance = (second / sum - mean * mean).max(0.0) + (self.step_s / 12.0_f64.sqrt()).powi(2) / 4.0;
        (self.first_s + mean, variance.sqrt())
    }
}
