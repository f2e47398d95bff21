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
        step_se_m: step.height_se,
        p_value: (step.p_value * isotherms).min(1.0),
        gap_m: step.gap_m,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Passes every 80 s at 1.1 m/s, with a wave of 0.3 m, through an isotherm at a depth of each metre of the track.
    fn found(passes: u32, depth_m: impl Fn(f64) -> f64, isotherms_c: &[f64]) -> Vec<IsothermCrossing> {
        let time_s: Vec<f64> = (0..passes).map(|i| 80.0 * f64::from(i)).collect();
        let distance_m: Vec<f64> = time_s.iter().map(|t| 1.1 * t).collect();
        let depth_m: Vec<f64> =
            distance_m.iter().zip(&time_s).map(|(&x, t)| depth_m(x) + 0.3 * (t / 70.0).sin()).collect();
        let depths = |&temp_c: &f64| IsothermDepths {
            temp_c,
            time_s: &time_s,
            distance_m: &distance_m,
            depth_m: &depth_m,
        };
        find_isotherm_steps(&isotherms_c.iter().map(depths).collect::<Vec<_>>(), &Settings::default())
    }

    fn front(x: f64) -> f64 {
        12.0 + 2.5 * ((x - 4_000.0) / 80.0).tanh()
    }

    #[test]
    fn a_front_is_found_in_each_isotherm_that_it_moves() {
        let one = found(120, front, &[12.0]);
        let [step] = &one[..] else { panic!("{one:?}") };
        assert!((step.step_m - 5.0).abs() < 0.5 && (step.distance_m - 4_000.0).abs() < 60.0, "{step:?}");
        assert!(step.gap_m >= 80.0 && step.width_m >= step.gap_m, "{step:?}");
        let two = found(120, front, &[12.0, 9.0]);
        assert_eq!(two.iter().map(|step| step.isotherm_c).collect::<Vec<_>>(), [12.0, 9.0]);
        assert!(two[0].p_value > step.p_value, "more was searched");
    }

    #[test]
    fn waves_a_slope_and_few_passes_are_no_front() {
        assert_eq!(found(120, |_| 12.0, &[12.0]), []);
        assert_eq!(found(120, |x| 12.0 + 0.8e-3 * x, &[12.0]), []);
        assert_eq!(found(25, |x| front(x + 3_000.0), &[12.0]), [], "how it wanders is not known");
        assert_eq!(find_isotherm_steps(&[], &Settings::default()), []);
    }
}
