//! Which breaks did the track cross?

use crate::search::{Step, steps};
use crate::settings::Settings;
use crate::types::{Crossing, Kind, Series};
use crate::wanted::Values;

/// Temperature at which fresh water at the surface is densest, °C (TEOS-10, as computed by gsw 3.6.23: 3.979).
const MAX_DENSITY_C: f64 = 3.98;

/// Finds the thermal breaks that a track crossed, in the order in which it crossed them.
///
/// `series` holds good samples only: what a quality test has failed is left out by the caller.
///
/// # Method
/// Samples are averaged in distance cells; the noise of the sensor and the unevenness of the water are estimated
/// from differences at many lags; places where the two sides differ are sought at scales from 30 m to
/// 1.5 km; at each a smooth step is fitted by generalised least squares ([`fit`](crate::fit) says which) and
/// compared with a background that only slopes. A break is reported where the gain is beyond what noise gives
/// anywhere along the track (likelihood ratio, three degrees of freedom; the rate of false discoveries among the
/// breaks of the trip is controlled with [`benjamini_hochberg`](crate::benjamini_hochberg) over all places searched), the step is high enough and no broader than [`Settings`] says, and both of its sides were seen.
///
/// # Limits
/// No break is claimed narrower than the spacing of the samples at its centre, and none across a long gap. A change
/// at the very place of a stop is a break only where the day cannot have made it.
pub fn find(series: Series, settings: &Settings) -> Vec<Crossing> {
    let Series { time_s, distance_m, temp_c } = series;
    let steps = steps(Values { time_s, distance_m, value: temp_c }, &settings.at_the_surface());
    steps.iter().map(|step| crossing(step, settings.fresh)).collect()
}

fn crossing(step: &Step, fresh: bool) -> Crossing {
    let (low_c, high_c) = (step.before.min(step.after), step.before.max(step.after));
    let bar = fresh && low_c < MAX_DENSITY_C && MAX_DENSITY_C < high_c;
    Crossing {
        time_s: step.time_s,
        distance_m: step.distance_m,
        temp_before_c: step.before,
        temp_after_c: step.after,
        step_c: step.after - step.before,
        width_m: step.width_m,
        gradient_c_per_km: step.steepest_per_km,
        centre_se_m: step.centre_se_m,
        step_se_c: step.height_se,
        p_value: step.p_value,
        gap_m: step.gap_m,
        kind: if bar { Kind::ThermalBar } else { Kind::ThermalBreak },
    }
}
