//! Where does the depth of an isotherm change along the track?
//!
//! Under a front the thermocline tilts or stands at another depth on either side. Seen by a probe that goes up and down
//! through it, the depth of an isotherm is a value along the track like any other, and its steps are sought as those of the
//! temperature at the surface are.
//!
//! ```text
//!  depth        probe up and down, passes (o) through the 12 °C isotherm
//!   10 m ──o───o──o───o──╮
//!                         ╲            step_m = after - before = +6
//!   16 m                   ╰──o───o──o───o──
//! ```

use crate::search::{Step, steps};
use crate::settings::Settings;
use crate::wanted::Values;

/// Depths of one isotherm along a track: slices of equal length, time increasing.
#[derive(Clone, Copy, Debug)]
pub struct IsothermDepths<'a> {
    /// Its temperature, °C.
    pub temp_c: f64,
    /// Seconds since any epoch, increasing.
    pub time_s: &'a [f64],
    /// Distance along the track, m, never decreasing.
    pub distance_m: &'a [f64],
    /// Depth of the isotherm, m.
    pub depth_m: &'a [f64],
}

/// A step in the depth of an isotherm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct IsothermCrossing {
    /// Temperature of the isotherm, °C.
    pub isotherm_c: f64,
    /// Time at the centre, seconds on the clock of the passes.
    pub time_s: f64,
    /// Distance along the track at the centre, m.
    pub distance_m: f64,
    /// Depth before it, m.
    pub depth_before_m: f64,
    /// Depth after it, m.
    pub depth_after_m: f64,
    /// After minus before, m; positive where it goes down.
    pub step_m: f64,
    /// Along the track from 10 % to 90 % of the step, m; no less than the way between the passes about it.
    pub width_m: f64,
    /// Standard error of the centre, m.
    pub centre_se_m: f64,
    /// Standard error of the step, m.
    pub step_se_m: f64,
    /// Chance of such a step from waves and the probe's noise alone, adjusted for the places and isotherms searched and the
    /// steps found.
    pub p_value: f64,
    /// Longest way between passes within the step, m: where it is most of the width, the step lies between two passes and
    /// is no broader than that.
    pub gap_m: f64,
}

/// Steps in the depths of isotherms, by isotherm in the order given, each in the order of the track.
///
/// # Limits
/// Nothing is sought where passes lie too far apart in time or are too few ([`Settings`]). One front shows in each isotherm
/// that it moves.
pub fn find_isotherm_steps(isotherms: &[IsothermDepths], settings: &Settings) -> Vec<IsothermCrossing> {
    let searched = || isotherms.iter().filter(|isotherm| isotherm.depth_m.len() >= settings.least_passes);
    let mut wanted = settings.of_isotherms();
    // the isotherms of a trip rise and sink together, so that this is more than enough
    let n = searched().count() as f64;
    wanted.greatest_p_value /= n.max(1.0);
    searched()
        .flat_map(|isotherm| {
            let IsothermDepths { temp_c, time_s, distance_m, depth_m } = *isotherm;
            let found = steps(Values { time_s, distance_m, value: depth_m }, &wanted);
            found.into_iter().map(move |step| crossing(temp_c, &step, n))
        })
        .collect()
}

fn crossing(isotherm_c: f64, step: &Step, isotherms: f64) -> IsothermCrossing {
    IsothermCrossing {
        isotherm_c,
        time_s: step.time_s,
        distance_m: step.distance_m,
        depth_before_m: step.before,
        depth_after_m: step.after,
        step_m: step.after - step.before,
        width_m: step.width_m,
        centre_se_m: step.centre_se_m,
        step_se_m: step.step_se,
        p_value: (step.p_value * isotherms).min(1.0),
        gap_m: step.gap_m,
    }
}
