//! How far may the layers of a profile lie from where they were found?

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};

use crate::density::temp_of_max_density_c;
use crate::gradient::{Line, Node};
use crate::interpolate::BIN_GAP_M;
use crate::layers::depths_m;
use crate::stats::median;
use crate::{Bin, Profile, Settings};

/// Times that a profile is drawn anew: a standard error is then known to a tenth.
const DRAWS: usize = 100;
/// Any seed; always the same, so that a profile always has the same errors.
const SEED: u64 = 4;
/// A depth that fewer draws than this part find again has no standard error: it may as well not be there.
const FOUND_AGAIN: f64 = 0.5;
/// Bins on either side that a profile is smoothed over before it is drawn anew.
const SMOOTH_BINS: usize = 3;
/// Samples of a bin that count as independent at most: those of a probe that hangs share its sway and the water's.
const INDEPENDENT: usize = 4;
/// Bins on either side that make the slope at a bin.
const SLOPE_BINS: usize = 2;
/// A lone sample lies this part of a bin's height off its middle, on average; so far the bin is moved toward the next one.
/// Bins that lie further apart move by less, and the noise of theirs is taken for more than it is.
const MOVED_PART: f64 = 0.25;
/// Neighbouring fours of bins share three: their squares count as this many times fewer (correlations −15/20, 6/20
/// and −1/20 of third differences of independent noise, squared, on both sides).
const OVERLAP: f64 = 2.31;
/// Fewer degrees of freedom are not counted with: Student's t has no variance below.
const LEAST_FREEDOM: f64 = 2.0;
/// Steps of the fit of the noise; it settles within three or four.
const STEPS: usize = 8;
/// Median of a chi-squared variable with one degree of freedom.
const CHI2_MEDIAN: f64 = 0.454_936_423_119_572;
/// Normal standard deviations between the 5 % and the 95 % quantile.
const SD_IN_90: f64 = 3.289_707_253_902_945;
/// No noise of a temperature is taken for less, °C: the last digit of a good logger (common practice, no source).
const LEAST_NOISE_C: f64 = 0.005;

/// Standard errors of the depths in [`Layers`](crate::Layers), from the scatter of the profile's bins; `None` where there is no depth
/// or where noise would as soon hide it.
///
/// A probe that is wrong as a whole, in depth or temperature, and water that differs elsewhere are not in them.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct LayerErrors {
    /// Of the depth of the thermocline, m.
    pub thermocline_depth_se_m: Option<f64>,
    /// Of the top of the preferred temperatures, m.
    pub preferred_top_se_m: Option<f64>,
    /// Of their bottom, m.
    pub preferred_bottom_se_m: Option<f64>,
}

/// Standard errors of [`layers`](crate::layers()) with the same arguments.
///
/// A parametric bootstrap (Efron & Tibshirani 1993, An Introduction to the Bootstrap, chapter 6): the noise of the bins
/// is measured, the profile, smoothed, drawn anew with it a hundred times, and each draw searched like the profile itself. (Were it
/// not smoothed, a draw would have its noise twice, the search would take wider windows, and its depths would scatter less.) The
/// standard error is that of a normal distribution with the draws' 90 % interval, so that the few draws in which
/// another layer is the steepest do not count for more than they are. Where water hardly changes with depth, the same
/// noise moves an isotherm further.
pub fn layer_errors(
    profile: &Profile,
    preferred: Option<(f64, f64)>,
    salinity: f64,
    settings: &Settings,
) -> LayerErrors {
    let densest_c = temp_of_max_density_c(salinity, 0.0);
    let depths = |bins: &[Bin]| depths_m(bins, preferred, salinity, densest_c, settings);
    let found = depths(&profile.bins);
    let noise_c = noise_c(&profile.bins, settings);
    let mut rng = ChaCha8Rng::seed_from_u64(SEED);
    let smooth = smoothed(&profile.bins);
    let mut again = smooth.clone();
    let mut drawn = || {
        let errors_c: Vec<f64> = noise_c
            .iter()
            .map(|sd_c| sd_c * Distribution::<f64>::sample(&StandardNormal, &mut rng))
            .collect();
        for (k, (bin, smooth)) in again.iter_mut().zip(&smooth).enumerate() {
            let neighbour = if rng.random() { k.checked_sub(1) } else { Some(k + 1) };
            let next_c = neighbour.and_then(|next| errors_c.get(next)).unwrap_or(&errors_c[k]);
            bin.temp_c = smooth.temp_c + errors_c[k] + moved_part(bin) * (next_c - errors_c[k]);
        }
        depths(&again)
    };
    // where nothing was found no draw is asked for
    if found == [None; 3] {
        return LayerErrors::default();
    }
    let draws: Vec<[Option<f64>; 3]> = (0..DRAWS).map(|_| drawn()).collect();
    let se_m = |which: usize| {
        found[which]?;
        spread(draws.iter().filter_map(|draw| draw[which]).collect())
    };
    LayerErrors {
        thermocline_depth_se_m: se_m(0),
        preferred_top_se_m: se_m(1),
        preferred_bottom_se_m: se_m(2),
    }
}

/// Bins on their least-squares parabola through those around them, as far as no gap divides them.
fn smoothed(bins: &[Bin]) -> Vec<Bin> {
    let near = |a: &Bin, b: &Bin| (a.depth_m - b.depth_m).abs() <= BIN_GAP_M;
    (0..bins.len())
        .map(|k| {
            let above = bins[..k].iter().rev().take(SMOOTH_BINS).take_while(|b| near(b, &bins[k])).count();
            let below = bins[k + 1..].iter().take(SMOOTH_BINS).take_while(|b| near(b, &bins[k])).count();
            // as many on either side, so that a slope moves nothing
            let reach = above.min(below);
            let around = &bins[k - reach..=k + reach];
            if reach < 2 { bins[k] } else { Bin { temp_c: on_parabola(around, bins[k].depth_m), ..bins[k] } }
        })
        .collect()
}

/// Value at a depth of the least-squares parabola through bins.
fn on_parabola(bins: &[Bin], depth_m: f64) -> f64 {
    let n = bins.len() as f64;
    let mean = |of: &dyn Fn(f64, f64) -> f64| {
        bins.iter().map(|bin| of(bin.depth_m - depth_m, bin.temp_c)).sum::<f64>() / n
    };
    // orthogonal polynomials on these depths: 1, x - x̄, and the quadratic left after both
    let x_mean = mean(&|x, _| x);
    let spread = mean(&|x, _| (x - x_mean).powi(2));
    let skew = mean(&|x, _| (x - x_mean).powi(3)) / spread;
    let quadratic = |x: f64| (x - x_mean).powi(2) - skew * (x - x_mean) - spread;
    let slope = mean(&|x, temp_c| (x - x_mean) * temp_c) / spread;
    let bend = mean(&|x, temp_c| quadratic(x) * temp_c) / mean(&|x, _| quadratic(x).powi(2));
    mean(&|_, temp_c| temp_c) - slope * x_mean + bend * quadratic(0.0)
}

/// Standard deviation of a normal distribution with the 90 % interval of the values.
fn spread(mut values: Vec<f64>) -> Option<f64> {
    if (values.len() as f64) < FOUND_AGAIN * DRAWS as f64 {
        return None;
    }
    values.sort_by(f64::total_cmp);
    let quantile = |part: f64| values[(part * (values.len() - 1) as f64).round() as usize];
    Some((quantile(0.95) - quantile(0.05)) / SD_IN_90)
}

/// Standard deviation of each bin's noise, °C.
///
/// That is before a bin is moved to its middle on the line to a neighbour, which evens the noise out.
/// A sample is wrong in its temperature, and in its depth, which counts for more the faster the water changes there.
/// Both are measured together: by how far four neighbouring bins lie off a parabola, against their slope.
fn noise_c(bins: &[Bin], settings: &Settings) -> Vec<f64> {
    let off: Vec<Off> = bins.windows(4).filter_map(Off::of).collect();
    let noise = Noise::of(&off, settings);
    (0..bins.len())
        .map(|k| {
            let near = &bins[k.saturating_sub(SLOPE_BINS)..(k + SLOPE_BINS + 1).min(bins.len())];
            let slope = slope(near);
            noise.widening(slope) * (noise.variance(slope) / independent(&bins[k])).sqrt()
        })
        .collect()
}

/// How far four bins lie off a parabola.
struct Off {
    /// Square, in units of a sample's variance, °C².
    square_c2: f64,
    /// Slope of the bins, °C/m.
    slope: f64,
}

impl Off {
    /// From the third divided difference, which is zero for a parabola; `None` across a gap.
    fn of(four: &[Bin]) -> Option<Self> {
        let apart = |pair: &[Bin]| pair[1].depth_m - pair[0].depth_m;
        if four.windows(2).any(|pair| apart(pair) > BIN_GAP_M) {
            return None;
        }
        let weight = |bin: &Bin| {
            let others = four.iter().filter(|other| other.depth_m != bin.depth_m);
            others.map(|other| bin.depth_m - other.depth_m).product::<f64>().recip()
        };
        let weights: Vec<f64> = four.iter().map(weight).collect();
        let difference: f64 = four.iter().zip(&weights).map(|(bin, weight)| weight * bin.temp_c).sum();
        let variance = variance_after_moves(four, &weights);
        Some(Self { square_c2: difference * difference / variance, slope: slope(four) })
    }
}

/// Variance of a sample's temperature, °C², and of its depth, m², with their covariances.
#[derive(Clone, Copy)]
struct Noise {
    temp_c2: f64,
    depth_m2: f64,
    /// Variance of the first, covariance, variance of the second.
    covariance: Option<(f64, f64, f64)>,
}

impl Noise {
    /// Weighted least squares of the squares against the slopes' squares, the weights those of chi-squared variables.
    fn of(off: &[Off], settings: &Settings) -> Self {
        let least_c2 = LEAST_NOISE_C * LEAST_NOISE_C;
        let squares: Vec<f64> = off.iter().map(|o| o.square_c2).collect();
        let mut noise = Self {
            temp_c2: (median(&squares) / CHI2_MEDIAN).max(least_c2),
            depth_m2: settings.probe_depth_se_m.powi(2),
            covariance: None,
        };
        for _ in 0..STEPS {
            let (mut w, mut wx, mut wxx, mut wy, mut wxy) = (0.0, 0.0, 0.0, 0.0, 0.0);
            for Off { square_c2: y, slope } in off {
                let (x, weight) = (slope * slope, noise.variance(*slope).powi(-2));
                (w, wx, wxx) = (w + weight, wx + weight * x, wxx + weight * x * x);
                (wy, wxy) = (wy + weight * y, wxy + weight * x * y);
            }
            let determinant = w * wxx - wx * wx;
            if determinant <= 0.0 || wxx <= 0.0 {
                break;
            }
            let temp_c2 = ((wy * wxx - wx * wxy) / determinant).max(least_c2);
            let depth_m2 = ((wxy - temp_c2 * wx) / wxx).max(0.0);
            // a square of normal noise has twice its square as variance
            let of = |information: f64| 2.0 * OVERLAP * information / determinant;
            noise = Self { temp_c2, depth_m2, covariance: Some((of(wxx), of(-wx), of(w))) };
        }
        noise
    }

    fn variance(&self, slope: f64) -> f64 {
        self.temp_c2 + self.depth_m2 * slope * slope
    }

    /// How much wider a 90 % interval is for the noise being measured from few bins: Student's t, its degrees of freedom
    /// after Satterthwaite (1946), Biometrics Bulletin 2, 110–114, to the second order of the expansion of
    /// Cornish & Fisher (coefficients: Abramowitz & Stegun 1964, 26.7.5).
    fn widening(&self, slope: f64) -> f64 {
        let freedom = self.covariance.map_or(LEAST_FREEDOM, |(temp, both, depth)| {
            let x = slope * slope;
            let variance_of_variance = temp + 2.0 * both * x + depth * x * x;
            2.0 * self.variance(slope).powi(2) / variance_of_variance
        });
        let freedom = freedom.max(LEAST_FREEDOM);
        let z = 0.5 * SD_IN_90;
        let first = (z.powi(3) + z) / 4.0;
        let second = (5.0 * z.powi(5) + 16.0 * z.powi(3) + 3.0 * z) / 96.0;
        (z + first / freedom + second / (freedom * freedom)) / z
    }
}

/// Variance of a weighted sum of bins that were each moved toward one neighbour or the other, in that of a sample.
fn variance_after_moves(bins: &[Bin], weights: &[f64]) -> f64 {
    let last = bins.len() - 1;
    // what a bin gives to one neighbour, whichever: half of it on average, and as much either way
    let gives = |k: usize| 0.5 * weights[k] * moved_part(&bins[k]);
    let given = |from: Option<usize>| from.filter(|&k| k <= last).map_or(0.0, gives);
    (0..bins.len() + 2)
        .map(|outer| {
            // one bin beyond either end, taken to have as many samples as the end
            let own = outer.checked_sub(1).filter(|&k| k <= last);
            let kept = own.map_or(0.0, |k| weights[k] - 2.0 * gives(k));
            let (above, below) = (given(outer.checked_sub(2)), given(Some(outer)));
            let samples = independent(&bins[outer.saturating_sub(1).min(last)]);
            ((kept + above + below).powi(2) + above * above + below * below) / samples
        })
        .sum()
}

/// Part of the way to its neighbour that a bin was moved.
fn moved_part(bin: &Bin) -> f64 {
    MOVED_PART / independent(bin).sqrt()
}

fn independent(bin: &Bin) -> f64 {
    bin.samples.clamp(1, INDEPENDENT) as f64
}

/// Slope of neighbouring bins, °C/m; 0 for a single one.
fn slope(bins: &[Bin]) -> f64 {
    let nodes: Vec<Node> = bins.iter().map(|bin| Node { depth_m: bin.depth_m, value: bin.temp_c }).collect();
    if nodes.len() < 2 { 0.0 } else { Line::through(&nodes).per_m }
}

#[cfg(test)]
mod tests {
    use waterseam_units::Flag;

    use super::*;

    /// A layer of a half width, a bin each half metre, with so much of an invented noise.
    fn lake(half_width_m: f64, noise_c: f64) -> Profile {
        let mut rng = ChaCha8Rng::seed_from_u64(11);
        let bins = (0..80).map(|i| 0.5 * f64::from(i)).map(|depth_m| {
            let normal: f64 = StandardNormal.sample(&mut rng);
            let temp_c = 12.0 - 6.0 * ((depth_m - 15.0) / half_width_m).tanh() + noise_c * normal;
            Bin { depth_m, temp_c, temp_qc: Flag::Pass, samples: 1 }
        });
        Profile { time_s: 0.0, bins: bins.collect() }
    }

    fn errors(profile: &Profile) -> LayerErrors {
        layer_errors(profile, Some((10.0, 14.0)), 0.0, &Settings::default())
    }

    #[test]
    fn errors_grow_with_noise_and_where_the_water_changes_slowly() {
        let top_m = |half_width_m, noise_c| errors(&lake(half_width_m, noise_c)).preferred_top_se_m.unwrap();
        let (quiet, noisy, broad) = (top_m(3.0, 0.02), top_m(3.0, 0.2), top_m(6.0, 0.2));
        assert!(noisy > 4.0 * quiet, "{quiet} {noisy}");
        assert!(broad > 1.5 * noisy, "{noisy} {broad}");
    }

    #[test]
    fn the_same_profile_has_the_same_errors() {
        assert_eq!(errors(&lake(3.0, 0.1)), errors(&lake(3.0, 0.1)));
    }

    #[test]
    fn what_is_not_there_has_no_error() {
        let nothing = Profile { time_s: 0.0, bins: Vec::new() };
        assert_eq!(errors(&nothing), LayerErrors::default());
        let mixed = Profile { bins: lake(3.0, 0.0).bins.into_iter().take(16).collect(), ..nothing };
        assert_eq!(errors(&mixed), LayerErrors::default());
    }

    #[test]
    fn the_noise_of_the_bins_is_measured() {
        let noise = noise_c(&lake(6.0, 0.1).bins, &Settings::default());
        // these bins were not moved, so that their own noise is evened out less than is allowed for
        let middle = median(&noise);
        assert!((0.1..0.25).contains(&middle), "{middle}");
    }
}
