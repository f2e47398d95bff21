//! Where do the lines through the mixed layer and through the thermocline meet?

use crate::Settings;
use crate::gradient::{Line, Node, noise_sd};

/// A line through fewer bins says nothing of a layer.
const LEAST_BINS: usize = 3;
/// The mixed layer's bins may lie this many standard deviations of their noise off its line (root mean square).
const RESIDUAL_SD: f64 = 1.5;

/// Depth at which the line through the mixed layer meets the tangent of the thermocline at its steepest, m.
///
/// The line fit (`MLTFIT`) of Holte & Talley (2009), J. Atmos. Oceanic Technol. 26, 1920–1939, for temperature. Theirs
/// starts at 10 m and takes the longest line whose squared error is below 1e-10 of the profile's; ours starts at the
/// top, as lakes need, and takes the longest whose residuals are no more than the noise of the bins, or than
/// [`Settings::mixed_fit_residual_c`]. Their further candidates (thresholds, extremes of the gradient) and the choice
/// among them, which rests on limits found for floats in the ocean, are not made.
///
/// `None` where no line holds over three bins, or where it had to be drawn so far below them that it changes by more
/// than [`Settings::layer_edge_fraction`] of what lies between it and the middle of the thermocline: a warm film of an
/// afternoon lies above the thermocline, and the two lines belong to different layers.
pub(crate) fn mixed_layer_fit_m(temps: &[Node], thermocline: &Line, settings: &Settings) -> Option<f64> {
    let above = &temps[..temps.partition_point(|node| node.depth_m < thermocline.depth_m)];
    let residual_c = settings.mixed_fit_residual_c.max(RESIDUAL_SD * noise_sd(temps));
    let (mixed, bins) = (LEAST_BINS..=above.len())
        .rev()
        .map(|n| (Line::through(&above[..n]), &above[..n]))
        .find(|(line, bins)| line.rms(bins) <= residual_c)?;
    let last = bins.last()?;
    let meets_m = mixed.meets_m(thermocline)?;
    let drawn_c = mixed.per_m * (meets_m - last.depth_m).max(0.0);
    let between_c = mixed.at(last.depth_m) - thermocline.value;
    let is_near = drawn_c.abs() <= settings.layer_edge_fraction * between_c.abs();
    let is_above = (temps[0].depth_m..=thermocline.depth_m).contains(&meets_m);
    (is_near && is_above).then_some(meets_m)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn nodes(value: impl Fn(f64) -> f64) -> Vec<Node> {
        (0..80).map(|i| 0.5 * f64::from(i)).map(|depth_m| Node { depth_m, value: value(depth_m) }).collect()
    }

    proptest! {
        #[test]
        fn two_straight_lines_meet_where_they_meet(
            corner_m in 3.0f64..25.0, warm_c in 12.0f64..24.0, lean in -0.01f64..0.01, steep in 0.5f64..4.0,
        ) {
            let temps = nodes(|z| warm_c + lean * z.min(corner_m) - steep * (z - corner_m).max(0.0));
            let below: Vec<Node> = temps.iter().copied().filter(|n| n.depth_m > corner_m + 1.0).take(4).collect();
            let got = mixed_layer_fit_m(&temps, &Line::through(&below), &Settings::default());
            // one bin below the corner may still lie near enough to the line
            prop_assert!((got.unwrap() - corner_m).abs() < 0.1, "{got:?} {corner_m}");
        }
    }

    #[test]
    fn a_warm_film_is_no_mixed_layer_of_the_thermocline_far_below() {
        let film = |z: f64| 3.0 * (1.0 - z / 1.5).max(0.0);
        let temps = nodes(|z| 18.0 + film(z) - 6.0 * (1.0 + ((z - 20.0) / 2.0).tanh()));
        let steepest = Line { depth_m: 20.0, value: 12.0, per_m: -3.0 };
        assert_eq!(mixed_layer_fit_m(&temps, &steepest, &Settings::default()), None);
        assert_eq!(mixed_layer_fit_m(&[], &steepest, &Settings::default()), None);
    }
}
