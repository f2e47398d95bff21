//! Where along the track, and over how much of it, does the current change from one value to another?

use crate::Velocity;

/// Centres that are tried across the points.
const CENTRES: usize = 60;
/// Widths that are tried, each this much wider than the one before.
const WIDER: f64 = 1.25;
/// At least this many points lie on either side of a centre.
const LEAST_POINTS: usize = 5;

/// A current that goes from one value to another along a straight ramp.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Ramp {
    pub centre_m: f64,
    /// From the beginning of the ramp to its end.
    pub width_m: f64,
    /// After minus before.
    pub change: Velocity,
    /// Sum of the squared residuals, m²/s².
    pub left_mps2: f64,
}

/// The ramp that fits points (distance, current) best by least squares, over a grid of centres and widths.
pub(crate) fn fit_ramp(points: &[(f64, Velocity)], least_width_m: f64, most_width_m: f64) -> Option<Ramp> {
    let inner = points.get(LEAST_POINTS..points.len().checked_sub(LEAST_POINTS)?)?;
    let ((from_m, _), (to_m, _)) = (inner.first()?, inner.last()?);
    let widths =
        std::iter::successors(Some(least_width_m), |w| Some(w * WIDER)).take_while(|w| *w <= most_width_m);
    let centres = (0..=CENTRES).map(|i| from_m + (to_m - from_m) * i as f64 / CENTRES as f64);
    let grid = widths.flat_map(|width_m| centres.clone().map(move |centre_m| (centre_m, width_m)));
    grid.filter_map(|(centre_m, width_m)| ramp(points, centre_m, width_m))
        .min_by(|a, b| a.left_mps2.total_cmp(&b.left_mps2))
}

/// The best ramp of a given centre and width.
fn ramp(points: &[(f64, Velocity)], centre_m: f64, width_m: f64) -> Option<Ramp> {
    let part = |distance_m: f64| ((distance_m - centre_m) / width_m + 0.5).clamp(0.0, 1.0);
    let n = points.len() as f64;
    let part_mean = points.iter().map(|&(d, _)| part(d)).sum::<f64>() / n;
    let mean = points.iter().map(|&(_, v)| v).sum::<Velocity>() * n.recip();
    let spread = points.iter().map(|&(d, _)| (part(d) - part_mean).powi(2)).sum::<f64>();
    if spread <= 0.0 {
        return None;
    }
    let change =
        points.iter().map(|&(d, v)| (v - mean) * (part(d) - part_mean)).sum::<Velocity>() * spread.recip();
    let left = points.iter().map(|&(d, v)| v - mean - change * (part(d) - part_mean)).map(|r| r.dot(r)).sum();
    Some(Ramp { centre_m, width_m, change, left_mps2: left })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_clean_ramp_is_found() {
        let current = |d: f64| Velocity::toward(0.4, 60.0) * ((d - 300.0) / 57.0 + 0.5).clamp(0.0, 1.0);
        let points: Vec<(f64, Velocity)> = (0..500).map(f64::from).map(|d| (d, current(d))).collect();
        let got = fit_ramp(&points, 5.0, 400.0).unwrap();
        assert!((got.centre_m - 300.0).abs() < 6.0 && (40.0..80.0).contains(&got.width_m), "{got:?}");
        assert!((got.change - Velocity::toward(0.4, 60.0)).speed_mps() < 0.01);
        assert_eq!(fit_ramp(&points[..8], 5.0, 400.0), None);
    }
}
