//! What is the temperature of a profile at a depth, and at what depth is a temperature?

use crate::{Bin, Profile};

/// Above the shallowest bin of a profile its temperature holds for this much further up, m.
pub(crate) const ABOVE_TOP_M: f64 = 1.0;
/// Between bins further apart than this nobody measured, m.
pub(crate) const BIN_GAP_M: f64 = 5.0;
/// A profile speaks for this long before and after itself, s: in 90 minutes a thermocline moves by a few metres
/// (common practice, no source).
pub const PROFILE_SPEAKS_FOR_S: f64 = 5400.0;

/// Temperature of a profile at a depth, °C, linear between bins.
///
/// `None` outside the sampled depths (up to a metre above the shallowest bin is allowed) and between bins more than
/// 5 m apart.
pub fn temp_at(profile: &Profile, depth_m: f64) -> Option<f64> {
    let bins = &profile.bins;
    let below = bins.partition_point(|b| b.depth_m < depth_m);
    let lower = bins.get(below)?;
    if lower.depth_m == depth_m {
        return Some(lower.temp_c);
    }
    match below.checked_sub(1) {
        None => (lower.depth_m - depth_m <= ABOVE_TOP_M).then_some(lower.temp_c),
        Some(above) => {
            let upper = &bins[above];
            let apart_m = lower.depth_m - upper.depth_m;
            let part = (depth_m - upper.depth_m) / apart_m;
            (apart_m <= BIN_GAP_M).then_some(upper.temp_c + part * (lower.temp_c - upper.temp_c))
        }
    }
}

/// Depth at which a profile first reaches a temperature from the surface down, m, linear between bins.
pub fn isotherm_depth_m(profile: &Profile, temp_c: f64) -> Option<f64> {
    first_reach_m(&profile.bins, temp_c)
}

/// Depth at which bins first reach a temperature, m.
pub(crate) fn first_reach_m(bins: &[Bin], temp_c: f64) -> Option<f64> {
    let first = bins.first()?;
    if first.temp_c == temp_c {
        return Some(first.depth_m);
    }
    bins.windows(2).find_map(|pair| crossing_m(&pair[0], &pair[1], temp_c))
}

/// Depth between two bins at which a temperature is reached, the upper bin excluded.
pub(crate) fn crossing_m(upper: &Bin, lower: &Bin, temp_c: f64) -> Option<f64> {
    let (from_c, to_c) = (upper.temp_c - temp_c, lower.temp_c - temp_c);
    let reaches = from_c * to_c < 0.0 || (to_c == 0.0 && from_c != 0.0);
    let near = lower.depth_m - upper.depth_m <= BIN_GAP_M;
    (reaches && near).then(|| upper.depth_m + (lower.depth_m - upper.depth_m) * from_c / (from_c - to_c))
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;
    use waterseam_units::Flag;

    use super::*;

    fn profile(time_s: f64, points: &[(f64, f64)]) -> Profile {
        let bin = |&(depth_m, temp_c)| Bin { depth_m, temp_c, temp_qc: Flag::Pass, samples: 1 };
        Profile { time_s, bins: points.iter().map(bin).collect() }
    }

    #[test]
    fn nothing_outside_the_sampled_depths() {
        let p = profile(0.0, &[(1.0, 18.0), (2.0, 16.0), (10.0, 8.0)]);
        assert_eq!(temp_at(&p, 0.0), Some(18.0));
        assert_eq!(temp_at(&p, 1.5), Some(17.0));
        assert_eq!(temp_at(&p, 10.0), Some(8.0));
        assert_eq!(temp_at(&p, 10.1), None);
        assert_eq!(temp_at(&p, 5.0), None, "8 m between the bins");
        assert_eq!(isotherm_depth_m(&p, 12.0), None);
        assert_eq!(temp_at(&profile(0.0, &[(3.0, 18.0)]), 1.5), None);
        assert_eq!(temp_at(&profile(0.0, &[]), 1.0), None);
    }

    proptest! {
        #[test]
        fn an_isotherm_has_its_temperature(temps in prop::collection::vec(0f64..25.0, 2..40), t in 0f64..25.0) {
            let points: Vec<(f64, f64)> = temps.iter().enumerate().map(|(i, &c)| (i as f64, c)).collect();
            let p = profile(0.0, &points);
            let (low, high) = temps.iter().fold((f64::MAX, f64::MIN), |(l, h), &c| (l.min(c), h.max(c)));
            match isotherm_depth_m(&p, t) {
                Some(depth_m) => prop_assert!((temp_at(&p, depth_m).unwrap() - t).abs() < 1e-9),
                None => prop_assert!(t < low || high < t),
            }
        }
    }
}
