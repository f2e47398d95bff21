//! Where are the mixed layer, the thermocline and the water that the fish prefer?

use crate::density::{density_kg_m3, temp_of_max_density_c};
use crate::gradient::{Line, Node, Steepest, lines, noise_sd, slope_between, steepest};
use crate::interpolate::{crossing_m, temp_at};
use crate::mixed_fit::mixed_layer_fit_m;
use crate::preferred::preferred_band;
use crate::{Bin, Layers, Profile, Settings};

/// Below this much above the temperature of maximum density, °C, density tells nothing: fresh water between 2 and
/// 6 °C differs by less than 0.05 kg/m³, so there the temperature gradient is looked at.
const DENSITY_BLIND_C: f64 = 2.0;
/// The mixed-layer threshold is at least this many standard deviations of a bin's noise.
const THRESHOLD_SD: f64 = 4.0;

/// Layers of a profile in water of a practical salinity (0 for fresh water); `preferred` is the coldest and the
/// warmest temperature that the target species likes, °C.
///
/// The thermocline lies where density rises fastest (TEOS-10), or where temperature changes fastest in water near
/// its greatest density; it ends where that gradient has fallen to [`Settings::layer_edge_fraction`] of its peak.
/// There is none where the profile spans less than [`Settings::least_range_c`], where the steepest three metres stay
/// below [`Settings::least_gradient_c_per_m`] or are lost in noise, or where it is steepest at an end of the profile and may be
/// steeper outside. Preferred water that goes on beyond the sampled depths has no top or no bottom.
pub fn layers(
    profile: &Profile,
    preferred: Option<(f64, f64)>,
    salinity: f64,
    settings: &Settings,
) -> Layers {
    let bins = &profile.bins;
    let Some((top, deepest)) = bins.first().zip(bins.last()) else { return Layers::default() };
    let surface = (top.depth_m <= settings.surface_m).then_some(top);
    let mut layers = Layers {
        surface_temp_c: surface.map(|bin| bin.temp_c),
        mixed_layer_depth_m: surface.and_then(|_| mixed_layer(profile, settings)),
        deepest_sampled_m: deepest.depth_m,
        ..Layers::default()
    };
    let densest_c = temp_of_max_density_c(salinity, 0.0);
    if let Some((peak, steepest)) = thermocline(bins, salinity, densest_c, settings) {
        layers.thermocline_depth_m = Some(peak.depth_m);
        layers.thermocline_top_m = peak.top_m;
        layers.thermocline_bottom_m = peak.bottom_m;
        layers.thermocline_gradient_c_per_m = Some(steepest.per_m);
        layers.mixed_layer_fit_m =
            surface.and_then(|_| mixed_layer_fit_m(&nodes(bins, |bin| bin.temp_c), &steepest, settings));
    }
    if let Some((coldest_c, warmest_c)) = preferred {
        (layers.preferred_top_m, layers.preferred_bottom_m) = preferred_band(bins, coldest_c, warmest_c);
    }
    layers
}

/// The depths in [`Layers`] that have a standard error: of the thermocline and of the ends of the preferred temperatures, m.
///
/// `densest_c` is the temperature at which the water is heaviest, °C.
pub(crate) fn depths_m(
    bins: &[Bin],
    preferred: Option<(f64, f64)>,
    salinity: f64,
    densest_c: f64,
    settings: &Settings,
) -> [Option<f64>; 3] {
    let thermocline = thermocline(bins, salinity, densest_c, settings);
    let (top_m, bottom_m) =
        preferred.map_or((None, None), |(coldest_c, warmest_c)| preferred_band(bins, coldest_c, warmest_c));
    [thermocline.map(|(peak, _)| peak.depth_m), top_m, bottom_m]
}

/// Depth below a reference depth at which the temperature first differs from that at the reference by `threshold_c`
/// either way, m, linear between bins.
///
/// The threshold method of de Boyer Montégut et al. (2004), J. Geophys. Res. 109, C12003. `None` where the reference
/// depth was not sampled or the threshold is never reached.
pub fn mixed_layer_depth_m(profile: &Profile, reference_m: f64, threshold_c: f64) -> Option<f64> {
    let reference_c = temp_at(profile, reference_m)?;
    let bins = &profile.bins;
    let first = bins.partition_point(|b| b.depth_m <= reference_m);
    let reference = Bin { depth_m: reference_m, temp_c: reference_c, ..*bins.get(first)? };
    let mut upper = reference;
    for &lower in &bins[first..] {
        let reached = [reference_c - threshold_c, reference_c + threshold_c]
            .into_iter()
            .find_map(|temp_c| crossing_m(&upper, &lower, temp_c));
        if reached.is_some() {
            return reached;
        }
        upper = lower;
    }
    None
}

fn mixed_layer(profile: &Profile, settings: &Settings) -> Option<f64> {
    let reference_m = settings.mixed_layer_reference_m.max(profile.bins.first()?.depth_m);
    let noise_c = noise_sd(&nodes(&profile.bins, |bin| bin.temp_c));
    mixed_layer_depth_m(profile, reference_m, settings.mixed_layer_threshold_c.max(THRESHOLD_SD * noise_c))
}

/// The thermocline and its line of the steepest temperature gradient.
fn thermocline(bins: &[Bin], salinity: f64, densest_c: f64, settings: &Settings) -> Option<(Steepest, Line)> {
    let (coldest_c, warmest_c) =
        bins.iter().fold((f64::MAX, f64::MIN), |(low, high), b| (low.min(b.temp_c), high.max(b.temp_c)));
    if warmest_c - coldest_c < settings.least_range_c {
        return None;
    }
    let part = settings.layer_edge_fraction;
    let temps = nodes(bins, |bin| bin.temp_c);
    let is_strong =
        |peak: &Steepest| slope_between(&temps, peak.layer_m).abs() >= settings.least_gradient_c_per_m;
    let with_gradient = |peak: Steepest| Some((peak, steepest_between(&temps, &peak)?));
    if warmest_c < densest_c + DENSITY_BLIND_C {
        // whichever way the temperature changes faster
        let ways = [nodes(bins, |bin| -bin.temp_c), temps.clone()];
        let both =
            ways.iter().filter_map(|way| steepest(way, part)).filter(is_strong).filter_map(with_gradient);
        both.max_by(|a, b| a.1.per_m.abs().total_cmp(&b.1.per_m.abs()))
    } else {
        // all at surface pressure: that water is heavier below for being pressed is no layer
        let densities = nodes(bins, |bin| density_kg_m3(bin.temp_c, salinity, 0.0));
        steepest(&densities, part).filter(is_strong).and_then(with_gradient)
    }
}

/// Line of the steepest temperature gradient, of either sign, within a thermocline.
fn steepest_between(temps: &[Node], peak: &Steepest) -> Option<Line> {
    let (top_m, bottom_m) = (peak.top_m.unwrap_or(f64::MIN), peak.bottom_m.unwrap_or(f64::MAX));
    lines(temps, peak.points)
        .filter(|line| (top_m..=bottom_m).contains(&line.depth_m))
        .max_by(|a, b| a.per_m.abs().total_cmp(&b.per_m.abs()))
}

fn nodes(bins: &[Bin], value: impl Fn(&Bin) -> f64) -> Vec<Node> {
    bins.iter().map(|bin| Node { depth_m: bin.depth_m, value: value(bin) }).collect()
}

#[cfg(test)]
#[path = "layers_tests.rs"]
mod tests;
