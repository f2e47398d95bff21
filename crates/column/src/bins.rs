//! What temperature do the samples say at each depth?

use waterseam_units::Flag;

use crate::interpolate::BIN_GAP_M;
use crate::stats::{median, robust_sd};
use crate::{Bin, Sample, Settings};

/// A sample this many robust standard deviations from its bin's median is left out of the mean.
const OUTLIER_SD: f64 = 3.0;
/// But never one this close, °C: sensors that count in tenths have bins without any scatter.
const OUTLIER_LEAST_C: f64 = 0.15;
/// Scatter is not judged from fewer samples.
const LEAST_FOR_SCATTER: usize = 3;

/// Samples to depth bins, shallow to deep, none empty.
///
/// A bin is centred on a multiple of [`Settings::bin_m`]. Its temperature is the mean without outliers, moved from
/// the mean depth of its samples to the middle of the bin on the line to the neighbour on that side. Samples that
/// are not finite are passed over.
pub fn bin(samples: &[Sample], settings: &Settings) -> Vec<Bin> {
    let mut sorted: Vec<&Sample> = samples.iter().filter(|s| is_finite(s)).collect();
    sorted.sort_by(|a, b| a.depth_m.total_cmp(&b.depth_m));
    let index = |s: &Sample| (s.depth_m / settings.bin_m).round();
    let groups: Vec<Group> = sorted
        .chunk_by(|a, b| index(a) == index(b))
        .map(|group| Group::new(index(group[0]) * settings.bin_m, group))
        .collect();
    (0..groups.len())
        .map(|k| {
            let group = &groups[k];
            let above = k.checked_sub(1).and_then(|above| group.slope_to(&groups[above], settings.bin_m));
            let below = groups.get(k + 1).and_then(|below| group.slope_to(below, settings.bin_m));
            let shift_m = group.middle_m - group.depth_m;
            let slope = if shift_m < 0.0 { above.or(below) } else { below.or(above) }.unwrap_or(0.0);
            Bin {
                depth_m: group.middle_m,
                temp_c: group.temp_c + slope * shift_m,
                temp_qc: group.flag(above, below, settings),
                samples: group.samples.len(),
            }
        })
        .collect()
}

pub(crate) fn is_finite(sample: &Sample) -> bool {
    sample.time_s.is_finite() && sample.depth_m.is_finite() && sample.temp_c.is_finite()
}

/// The samples of one bin, and the means of those that are no outliers.
struct Group<'a> {
    samples: &'a [&'a Sample],
    middle_m: f64,
    depth_m: f64,
    temp_c: f64,
}

impl<'a> Group<'a> {
    fn new(middle_m: f64, samples: &'a [&'a Sample]) -> Self {
        let temps: Vec<f64> = samples.iter().map(|s| s.temp_c).collect();
        let centre_c = median(&temps);
        let reach_c = (OUTLIER_SD * robust_sd(&temps)).max(OUTLIER_LEAST_C);
        let kept = || samples.iter().filter(|s| (s.temp_c - centre_c).abs() <= reach_c);
        let n = kept().count();
        if n == 0 {
            // two samples far apart: neither lies near their median
            let depth_m = samples.iter().map(|s| s.depth_m).sum::<f64>() / samples.len() as f64;
            return Self { samples, middle_m, depth_m, temp_c: centre_c };
        }
        let depth_m = kept().map(|s| s.depth_m).sum::<f64>() / n as f64;
        let temp_c = kept().map(|s| s.temp_c).sum::<f64>() / n as f64;
        Self { samples, middle_m, depth_m, temp_c }
    }

    /// Slope to the samples of a neighbouring bin, °C/m; `None` where they lie so close that it would be noise, or
    /// so far away that nobody measured between.
    fn slope_to(&self, other: &Self, bin_m: f64) -> Option<f64> {
        let apart_m = (other.depth_m - self.depth_m).abs();
        let measured = 0.5 * bin_m <= apart_m && apart_m <= BIN_GAP_M;
        measured.then(|| (other.temp_c - self.temp_c) / (other.depth_m - self.depth_m))
    }

    fn flag(&self, above: Option<f64>, below: Option<f64>, settings: &Settings) -> Flag {
        if self.samples.len() < LEAST_FOR_SCATTER {
            return Flag::NotEvaluated;
        }
        let slope = match (above, below) {
            (Some(a), Some(b)) => 0.5 * (a + b),
            (one, other) => one.or(other).unwrap_or(0.0),
        };
        let residuals: Vec<f64> =
            self.samples.iter().map(|s| s.temp_c - slope * (s.depth_m - self.depth_m)).collect();
        if robust_sd(&residuals) > settings.scatter_max_c { Flag::Suspect } else { Flag::Pass }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sample(depth_m: f64, temp_c: f64) -> Sample {
        Sample { time_s: 0.0, depth_m, temp_c }
    }

    #[test]
    fn a_straight_line_is_kept_wherever_the_samples_fall() {
        let samples: Vec<Sample> =
            (0..40).map(|i| 0.3 + 0.37 * f64::from(i)).map(|z| sample(z, 20.0 - z)).collect();
        for bin in bin(&samples, &Settings::default()) {
            assert!((bin.temp_c - (20.0 - bin.depth_m)).abs() < 1e-9, "{bin:?}");
        }
    }

    #[test]
    fn one_wild_sample_does_not_move_a_bin() {
        let mut samples: Vec<Sample> = (0..9).map(|i| sample(4.0, 10.0 + 0.01 * f64::from(i))).collect();
        samples.push(sample(4.0, 25.0));
        let bins = bin(&samples, &Settings::default());
        assert_eq!(bins.len(), 1);
        assert!((bins[0].temp_c - 10.04).abs() < 1e-9);
        assert_eq!((bins[0].samples, bins[0].temp_qc), (10, Flag::Pass));
    }

    #[test]
    fn scatter_is_suspect_and_a_lone_sample_is_not_judged() {
        let bins = bin(
            &[sample(3.0, 5.0), sample(3.0, 9.0), sample(3.0, 13.0), sample(6.0, 8.0), sample(f64::NAN, 1.0)],
            &Settings::default(),
        );
        assert_eq!(bins.iter().map(|b| b.temp_qc).collect::<Vec<_>>(), [Flag::Suspect, Flag::NotEvaluated]);
    }
}
