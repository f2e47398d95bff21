//! By how much does the sensor in the hull read too high or too low? The probe passes it on its way down and up.

use waterseam_units::Flag;

use crate::track::{Activity, Trip};

/// The probe beside the hull: no deeper than this, m. Below, the sun's warmth is not mixed down on calm days.
const SURFACE_M: f64 = 1.5;
/// A hull reading no further from the probe's in time than this, s.
const TOGETHER_S: f64 = 5.0;
/// Probe samples at the surface closer than this are one pass, s.
const PASS_S: i64 = 120;
/// Fewest passes of an estimate: fewer have no median that one wrong pass could not make.
const LEAST_PASSES: usize = 3;
/// The water within [`SURFACE_M`] is not of one temperature to better than this, nor is the probe, °C (common
/// practice, no source). No number of passes takes it away.
const ALIKE_C: f64 = 0.04;
/// Standard deviation over the median absolute deviation of normal errors.
const SD_PER_MAD: f64 = 1.482_602_218_505_602;
/// Standard error of a median over that of a mean, normal errors: √(π/2).
const MEDIAN_SE: f64 = 1.253_314_137_315_500_3;

/// What the probe says about the sensor in the hull.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct HullBias {
    /// Hull minus probe, °C.
    pub bias_c: f64,
    /// Standard error, °C.
    pub se_c: f64,
    /// Passes of the probe through the surface that it rests on.
    pub passes: usize,
}

/// Estimates the bias of the hull sensor as it was read, against the probe.
///
/// `None` where the probe passed the surface less than three times while the boat trolled.
///
/// # Method
/// Of each pass of the probe through the upper 1.5 m at trolling speed the median difference, of these
/// the median: a probe that is still warm from the deck, or a clock that is seconds off, sways a pass and not the trip.
/// The standard error is that of a median of normal errors, from the median absolute deviation, never below
/// [`ALIKE_C`].
pub fn hull_bias(trip: &Trip) -> Option<HullBias> {
    let track = &trip.track;
    let hull_c = usable(&track.surface_temp_raw_c, &track.surface_temp_qc);
    let differences = trip.probe.iter().filter_map(|sample| {
        let temp_c = sample.temp_c.filter(|_| sample.temp_qc.is_usable() && sample.depth_m <= SURFACE_M)?;
        let row = track.nearest_row(sample.time_us)?;
        let hull_c = track.nearest_value(&hull_c, sample.time_us, TOGETHER_S)?;
        (track.activity[row] == Activity::Troll).then_some((sample.time_us, hull_c - temp_c))
    });
    let differences: Vec<(i64, f64)> = differences.collect();
    let passes = differences.chunk_by(|a, b| b.0 - a.0 <= PASS_S * 1_000_000);
    let passes: Vec<f64> = passes.filter_map(|pass| median(pass.iter().map(|&(_, c)| c))).collect();
    if passes.len() < LEAST_PASSES {
        return None;
    }
    let bias_c = median(passes.iter().copied())?;
    let mad_c = median(passes.iter().map(|c| (c - bias_c).abs()))?;
    let scatter_c = MEDIAN_SE * SD_PER_MAD * mad_c / (passes.len() as f64).sqrt();
    Some(HullBias { bias_c, se_c: scatter_c.hypot(ALIKE_C), passes: passes.len() })
}

fn usable(values: &[Option<f64>], flags: &[Flag]) -> Vec<Option<f64>> {
    values.iter().zip(flags).map(|(value, flag)| value.filter(|_| flag.is_usable())).collect()
}

fn median(values: impl Iterator<Item = f64>) -> Option<f64> {
    let mut values: Vec<f64> = values.collect();
    values.sort_by(f64::total_cmp);
    let upper = *values.get(values.len() / 2)?;
    Some(if values.len() % 2 == 1 { upper } else { f64::midpoint(values[values.len() / 2 - 1], upper) })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::track::{ProbeSample, Track};

    /// An hour at trolling speed over water of 12 °C; the probe comes up every ten minutes.
    fn trip(hull_c: impl Fn(i64) -> f64, probe_c: impl Fn(i64) -> f64, activity: Activity) -> Trip {
        let seconds = 0..3_600i64;
        let sample = |s: i64| ProbeSample {
            time_us: s * 1_000_000,
            depth_m: if s % 600 < 9 { 1.0 } else { 15.0 },
            temp_c: Some(if s % 600 < 9 { probe_c(s) } else { 6.0 }),
            temp_qc: Flag::Pass,
            speed_mps: None,
        };
        let track = Track {
            time_us: seconds.clone().map(|s| s * 1_000_000).collect(),
            surface_temp_raw_c: seconds.clone().map(|s| Some(hull_c(s))).collect(),
            surface_temp_qc: vec![Flag::Pass; 3_600],
            activity: vec![activity; 3_600],
            ..Track::default()
        };
        Trip { track, probe: seconds.step_by(3).map(sample).collect(), ..Trip::default() }
    }

    #[test]
    fn the_median_of_the_passes_is_the_bias() {
        // the third time the probe lay in the sun before it went down
        let probe_c = |s: i64| if s / 600 == 2 { 19.0 } else { 12.0 + 0.01 * (s / 600) as f64 };
        let got = hull_bias(&trip(|_| 12.5, probe_c, Activity::Troll)).unwrap();
        assert_eq!(got.passes, 6);
        assert!((got.bias_c - 0.47).abs() < 0.02 && got.se_c < 0.06, "{got:?}");
    }

    #[test]
    fn nothing_is_said_at_a_run_or_without_passes() {
        assert_eq!(hull_bias(&trip(|_| 12.5, |_| 12.0, Activity::Run)), None);
        assert_eq!(hull_bias(&Trip::default()), None);
    }
}
