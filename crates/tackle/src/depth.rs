//! How deep does a lure run on this setup at this speed?

use std::array;

use waterseam_logs::LineMethod;

use crate::cable::{Shape, depths, shape, sheared_depths, sheared_shape};
use crate::diver;
use crate::factors::{Differences, FACTORS, Factors, priors};
use crate::refusal::Refusal;
use crate::rig::{Rig, rig};
use crate::setup::{Setup, Tow};
use crate::spell::DepthSource;
use crate::stream::{Sheared, Stream};
use crate::tackle::Tackle;

/// A running depth.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Depth {
    /// Depth of the lure, m.
    pub depth_m: f64,
    /// Standard error, m.
    pub depth_se_m: f64,
    /// Where it comes from.
    pub source: DepthSource,
}

/// Standard error that no depth goes below: swell, rod tips, the lure above or below its weight (common
/// practice, no source), m.
const FLOOR_SE_M: f64 = 0.5;
/// Relative standard error of a noted depth (common practice, no source).
const NOTED_SE: f64 = 0.05;

/// Standard error of a depth that someone noted, m.
pub fn noted_se_m(depth_m: f64) -> f64 {
    FLOOR_SE_M.hypot(NOTED_SE * depth_m)
}

impl Tackle {
    /// Running depth of the lure (of a downrigger's weight), with its standard error and where it comes from.
    ///
    /// A noted depth comes first (`recorded`), then a downrigger's counter with the blow-back of its wire
    /// (`counter`), a diver's table (`table`), then the shape of the line (`model`). Depths that the captain
    /// observed shift all but the first, and shrink their errors.
    ///
    /// # Standard error
    /// A noted depth: 0.5 m and 5 %. Else 0.5 m and the change of depth for one standard error of the speed and of
    /// each thing that is not known of such a line, in quadrature: on a downrigger its drag (25 %, which is half of
    /// the blow-back), of a diver its table (10 %), else line out (5 %), weight and drag of the line (15 %), drag
    /// of a weight (30 %), weight (its double) and drag (half as much again) of the lure. All are common practice,
    /// no source.
    ///
    /// # Errors
    /// Where nothing says how deep it runs.
    pub fn depth(&self, setup: &Setup<'_>, tow: &Tow<'_>) -> Result<Depth, Refusal> {
        if let Some(depth_m) = setup.depth_m.filter(|v| v.is_finite() && *v >= 0.0) {
            return Ok(Depth { depth_m, depth_se_m: noted_se_m(depth_m), source: DepthSource::Recorded });
        }
        let method = setup.method.ok_or(Refusal::NoMethod)?;
        let posterior = self.posterior(method);
        let slopes = self.slopes(setup, method, tow, &posterior.mean, 1.0)?;
        let variance_m2 = posterior.variance_m2(method, &slopes.by_factor) + slopes.by_speed_m.powi(2);
        Ok(Depth {
            depth_m: slopes.depth_m.max(0.0),
            depth_se_m: (variance_m2 + FLOOR_SE_M * FLOOR_SE_M).sqrt(),
            source: match method {
                LineMethod::Downrigger => DepthSource::Counter,
                LineMethod::Diver => DepthSource::Table,
                _ => DepthSource::Model,
            },
        })
    }

    /// The shape of the line; of a downrigger that of its wire. The angle from the vertical where the wire meets the
    /// water is the blow-back angle.
    ///
    /// # Errors
    /// Where the setup does not say enough, and for a diver.
    pub fn shape(&self, setup: &Setup<'_>, tow: &Tow<'_>) -> Result<Shape, Refusal> {
        let method = setup.method.ok_or(Refusal::NoMethod)?;
        check(setup, tow)?;
        let factors = Factors::at(method, &self.posterior(method).mean);
        let sections = rig(setup, method, tow.density_kg_per_m3, &factors)?;
        tow.shape(&sections).ok_or(Refusal::NotANumber)
    }

    /// The depth at some differences from the round figures, and how it changes with each and with the speed:
    /// by a whole standard error of the speed, and by `step` standard errors of each factor, per standard error.
    pub(crate) fn slopes(
        &self,
        setup: &Setup<'_>,
        method: LineMethod,
        tow: &Tow<'_>,
        at: &Differences,
        step: f64,
    ) -> Result<Slopes, Refusal> {
        check(setup, tow)?;
        let vary = |lane: usize| {
            let mut differences = *at;
            // the first lane is as noted, the second has another speed
            if let Some(prior) = lane.checked_sub(2).and_then(|n| priors(method).get(n)) {
                differences[prior.factor as usize] += step;
            }
            Factors::at(method, &differences)
        };
        let varied = 2 + priors(method).len();
        if method == LineMethod::Diver {
            let table_m = |stw_mps: f64| diver::depth_m(&self.divers, setup.rod, setup.line_out_m, stw_mps);
            let depth_m = table_m(tow.stw_mps)?;
            // where a table ends, nothing says how the depth goes on
            let faster_m = table_m(tow.stw_mps + tow.stw_se_mps).unwrap_or(depth_m);
            let (factor, more) = (vary(0).table, vary(2).table);
            return Ok(Slopes::of(method, &[factor * depth_m, factor * faster_m, more * depth_m], step));
        }
        let line = |lane: usize| {
            let lane = if lane < varied { lane } else { 0 };
            rig(setup, method, tow.density_kg_per_m3, &vary(lane))
        };
        // the fewer side by side, the faster
        let slopes = if varied <= 4 {
            let lines = [line(0)?, line(1)?, line(2)?, line(3)?];
            tow.depths_m(&lines).map(|depths_m| Slopes::of(method, &depths_m, step))
        } else {
            let lines = [line(0)?, line(1)?, line(2)?, line(3)?, line(4)?, line(5)?, line(6)?, line(7)?];
            tow.depths_m(&lines).map(|depths_m| Slopes::of(method, &depths_m, step))
        };
        slopes.ok_or(Refusal::NotANumber)
    }
}

/// A depth and how it changes, m.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Slopes {
    /// Depth, m.
    pub depth_m: f64,
    /// By one standard error of the speed, m.
    pub by_speed_m: f64,
    /// By one standard error of each factor, each in m.
    pub by_factor: Differences,
}

impl Slopes {
    /// From the depth as noted, at another speed, and for each factor of the method.
    fn of(method: LineMethod, depths_m: &[f64], step: f64) -> Self {
        let depth_m = depths_m[0];
        let mut by_factor = [0.0; FACTORS];
        for (prior, varied_m) in priors(method).iter().zip(&depths_m[2..]) {
            by_factor[prior.factor as usize] = (varied_m - depth_m) / step;
        }
        Self { depth_m, by_speed_m: depths_m[1] - depth_m, by_factor }
    }
}

impl Tow<'_> {
    /// Depths and speeds from the surface down.
    pub(crate) fn profile(&self) -> Vec<(f64, f64)> {
        std::iter::once((0.0, self.stw_mps)).chain(self.below.iter().copied()).collect()
    }

    fn stream(&self, more_mps: f64) -> Stream {
        let speed_mps = (self.stw_mps + more_mps).max(0.0);
        Stream { speed_mps, density_kg_per_m3: self.density_kg_per_m3 }
    }

    fn shape(&self, rig: &Rig) -> Option<Shape> {
        if self.below.is_empty() {
            return shape(rig, self.stream(0.0));
        }
        let (points, density_kg_per_m3) = (self.profile(), self.density_kg_per_m3);
        sheared_shape(rig, Sheared { points: &points, density_kg_per_m3 })
    }

    /// Depths of lines side by side, of which the second is towed faster by the standard error of the speed.
    fn depths_m<const N: usize>(&self, lines: &[Rig; N]) -> Option<[f64; N]> {
        let more_mps = array::from_fn(|lane| if lane == 1 { self.stw_se_mps } else { 0.0 });
        if self.below.is_empty() {
            let [same_pa, faster_pa] = [0.0, self.stw_se_mps].map(|more| self.stream(more).pressure_pa());
            let (same_pa, faster_pa) = (same_pa?, faster_pa?);
            return depths(lines, array::from_fn(|lane| if lane == 1 { faster_pa } else { same_pa }));
        }
        let (points, density_kg_per_m3) = (self.profile(), self.density_kg_per_m3);
        sheared_depths(lines, Sheared { points: &points, density_kg_per_m3 }, more_mps)
    }
}

/// Whether every number is one.
pub(crate) fn check(setup: &Setup<'_>, tow: &Tow<'_>) -> Result<(), Refusal> {
    let numbers = [setup.line_out_m, setup.colors, setup.weight_kg, setup.leader_m];
    let towed = [tow.stw_mps, tow.stw_se_mps].map(f64::is_finite) == [true; 2];
    let good = numbers.into_iter().flatten().all(|v| v.is_finite() && v >= 0.0);
    if good && towed { Ok(()) } else { Err(Refusal::NotANumber) }
}

#[cfg(test)]
#[path = "depth_tests.rs"]
mod tests;
