//! How much line reaches a depth?

use waterseam_logs::LineMethod;

use crate::cable::{REACHED_M, reaching};
use crate::depth::check;
use crate::diver;
use crate::factors::Factors;
use crate::materials::{COLOR_M, usual_leader_m};
use crate::refusal::Refusal;
use crate::rig::rig;
use crate::setup::{Setup, Tow};
use crate::stream::{Below, Hinges, Sheared, Stream, Uniform};
use crate::tackle::Tackle;

/// More line than this is on no reel (common practice, no source), m.
const LINE_MAX_M: f64 = 300.0;
/// A full core has ten colours (common practice, no source).
const FULL_CORE_COLORS: f64 = 10.0;

impl Tackle {
    /// The setup with as much line out as reaches a depth (m), whatever it had out and was noted to run at. With
    /// cored line it is the colours that are sought, up to those of the setup (ten where it does not say), and
    /// then the backing.
    ///
    /// # Errors
    /// Where the depth is not reached, not with the most line that the setup is worth letting out, or the setup does not
    /// say enough.
    pub fn reach<'a>(&self, setup: &Setup<'a>, tow: &Tow<'_>, depth_m: f64) -> Result<Setup<'a>, Refusal> {
        let reached = self.reach_with_any(setup, tow, depth_m);
        let needed_m = match &reached {
            Ok(reached) => reached.line_out_m,
            Err(Refusal::TooDeep { line_out_m, .. }) => Some(*line_out_m),
            Err(_) => None,
        };
        match setup.longest_m {
            Some(longest_m) if needed_m.is_some_and(|needed_m| needed_m > longest_m) => {
                let deepest_m = self.depth(&let_out(setup, longest_m), tow)?.depth_m;
                Err(Refusal::TooDeep { deepest_m, line_out_m: longest_m })
            }
            _ => reached,
        }
    }

    fn reach_with_any<'a>(
        &self,
        setup: &Setup<'a>,
        tow: &Tow<'_>,
        depth_m: f64,
    ) -> Result<Setup<'a>, Refusal> {
        let method = setup.method.ok_or(Refusal::NoMethod)?;
        check(setup, tow)?;
        if !depth_m.is_finite() || depth_m <= 0.0 {
            return Err(Refusal::NotANumber);
        }
        let factors = Factors::at(method, &self.posterior(method).mean);
        if method == LineMethod::Diver {
            let line_out_m =
                diver::line_out_m(&self.divers, setup.rod, depth_m / factors.table, tow.stw_mps)?;
            return Ok(Setup { line_out_m: Some(line_out_m), depth_m: None, ..*setup });
        }
        let whole = Setup {
            line_out_m: Some(LINE_MAX_M),
            colors: (method == LineMethod::Leadcore).then(|| setup.colors.unwrap_or(FULL_CORE_COLORS)),
            depth_m: None,
            ..*setup
        };
        let sections = rig(&whole, method, tow.density_kg_per_m3, &factors)?;
        let (let_out_m, shape) = if tow.below.is_empty() {
            let stream = Stream { speed_mps: tow.stw_mps, density_kg_per_m3: tow.density_kg_per_m3 };
            reaching(&sections, &Uniform([stream.pressure_pa().ok_or(Refusal::NotANumber)?]), depth_m)
        } else {
            let points = tow.profile();
            let stream = Sheared { points: &points, density_kg_per_m3: tow.density_kg_per_m3 };
            if !stream.is_physical() {
                return Err(Refusal::NotANumber);
            }
            let hinges = Hinges::new(stream);
            let water = Below { hinges: &hinges, lower_ends_m: [depth_m], more_mps: [0.0] };
            reaching(&sections, &water, depth_m)
        }
        .ok_or(Refusal::NotANumber)?;
        let line_out_m = let_out_m / factors.line_out;
        if shape.depth_m < depth_m - REACHED_M {
            return Err(Refusal::TooDeep { deepest_m: shape.depth_m, line_out_m });
        }
        let ahead_m = match method {
            LineMethod::Leadcore | LineMethod::ClipWeight | LineMethod::KeelWeight => {
                setup.leader_m.or(usual_leader_m(method)).unwrap_or(0.0)
            }
            // of a wire the leader may be all that is out; a downrigger's does not count
            _ => 0.0,
        };
        if line_out_m <= ahead_m && ahead_m > 0.0 {
            // only the leader is out: the weight or the core is still aboard
            let bare = Setup { method: Some(LineMethod::FlatLine), line_out_m: Some(ahead_m), ..whole };
            let shallowest_m = self.shape(&bare, tow)?.depth_m;
            return Err(Refusal::TooShallow { shallowest_m });
        }
        let colors = whole.colors.map(|colors| colors.min((line_out_m - ahead_m) / COLOR_M));
        Ok(Setup { line_out_m: Some(line_out_m), colors, ..whole })
    }
}

/// A setup with so much line out: of a core the colours before the backing.
fn let_out<'a>(setup: &Setup<'a>, line_out_m: f64) -> Setup<'a> {
    let leader_m = setup.leader_m.or(setup.method.and_then(usual_leader_m)).unwrap_or(0.0);
    let colors = (setup.method == Some(LineMethod::Leadcore)).then(|| {
        let out = ((line_out_m - leader_m) / COLOR_M).max(0.0);
        setup.colors.unwrap_or(FULL_CORE_COLORS).min(out)
    });
    Setup { line_out_m: Some(line_out_m), colors, depth_m: None, ..*setup }
}

#[cfg(test)]
#[path = "reach_tests.rs"]
mod tests;
