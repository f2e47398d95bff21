//! Where along the track, and over how much of it, does the current change from one value to another?

use crate::Velocity;

/// Centres that are tried across the points.
const CENTRES: usize = 60;
/// Widths that are tried, each this much wider than the one before.
const WIDER: f64 = 1.25;
/// At least this many points lie on either side of a centre.
const LEAST_POINTS: usize = 5;

/// Points whose parts of the change scatter less than this (sum of squares) are all on one part: the rest is rounding.
const LEAST_SPREAD: f64 = 1e-9;

/// A current that goes from one value to another along a straight ramp.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Ramp {
    pub centre_m: f64,
    /// From the beginning of the ramp to its end.
    pub width_m: f64,
    /// After minus before.
    pub change: Velocity,
}

/// The ramp that fits points (distance, current), in order of distance, best by least squares, over a grid of centres and
/// widths.
pub(crate) fn fit_ramp(points: &[(f64, Velocity)], least_width_m: f64, most_width_m: f64) -> Option<Ramp> {
    let inner = points.get(LEAST_POINTS..points.len().checked_sub(LEAST_POINTS)?)?;
    let ((from_m, _), (to_m, _)) = (inner.first()?, inner.last()?);
    let widths =
        std::iter::successors(Some(least_width_m), |w| Some(w * WIDER)).take_while(|w| *w <= most_width_m);
    let centres = (0..=CENTRES).map(|i| from_m + (to_m - from_m) * i as f64 / CENTRES as f64);
    let grid = widths.flat_map(|width_m| centres.clone().map(move |centre_m| (centre_m, width_m)));
    let sums = Sums::new(points);
    let told =
        grid.filter_map(|(centre_m, width_m)| Some((sums.told(centre_m, width_m)?, centre_m, width_m)));
    // of those that tell as much, the first
    let best = told.reduce(|best, other| if other.0 > best.0 { other } else { best });
    best.and_then(|(_, centre_m, width_m)| ramp(points, centre_m, width_m))
}

/// Running sums over the points, about the middle one, from which any ramp's fit follows.
struct Sums {
    /// Distances from that of the middle point, m.
    distance_m: Vec<f64>,
    origin_m: f64,
    /// Sums of distances, of their squares, of currents and of currents times distances, up to each point.
    up_to: Vec<(f64, f64, Velocity, Velocity)>,
}

impl Sums {
    fn new(points: &[(f64, Velocity)]) -> Self {
        let (origin_m, origin) = points[points.len() / 2];
        let mut sum = (0.0, 0.0, Velocity::default(), Velocity::default());
        let mut up_to = vec![sum];
        up_to.extend(points.iter().map(|&(distance_m, current)| {
            let (d, v) = (distance_m - origin_m, current - origin);
            sum = (sum.0 + d, sum.1 + d * d, sum.2 + v, sum.3 + v * d);
            sum
        }));
        Self { distance_m: points.iter().map(|&(d, _)| d - origin_m).collect(), origin_m, up_to }
    }

    /// What of the squared currents about their mean a ramp takes away, m²/s²; `None` where no point lies on a different part of
    /// it than the others.
    fn told(&self, centre_m: f64, width_m: f64) -> Option<f64> {
        let n = self.distance_m.len();
        let start_m = centre_m - self.origin_m - 0.5 * width_m;
        // points before the ramp have no part of the change, those behind it the whole, those on it a growing one
        let first = self.distance_m.partition_point(|d| *d <= start_m);
        let end = first + self.distance_m[first..].partition_point(|d| *d < start_m + width_m);
        let (before, behind, all) = (self.up_to[first], self.up_to[end], self.up_to[n]);
        let on = (end - first) as f64;
        let (d, d2) = (behind.0 - before.0, behind.1 - before.1);
        let (v, dv) = (behind.2 - before.2, behind.3 - before.3);
        let part = (d - start_m * on) / width_m + (n - end) as f64;
        let part2 =
            (d2 - 2.0 * start_m * d + start_m * start_m * on) / (width_m * width_m) + (n - end) as f64;
        let product = (dv - v * start_m) * width_m.recip() + (all.2 - behind.2);
        let spread = part2 - part * part / n as f64;
        let product = product - all.2 * (part / n as f64);
        (spread > LEAST_SPREAD).then(|| product.dot(product) / spread)
    }
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
    Some(Ramp { centre_m, width_m, change })
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

    #[test]
    fn running_sums_tell_what_the_points_tell() {
        let wander =
            |i: i32| Velocity { east_mps: (f64::from(i) * 0.7).sin(), north_mps: (f64::from(i) * 0.3).cos() };
        // uneven steps, and a boat that lies still for a while
        let distance =
            |i: i32| 20_000.0 + f64::from(i.min(90) + (i - 120).max(0)) * 1.3 + f64::from(i % 4) * 0.2;
        let points: Vec<(f64, Velocity)> = (0..240).map(|i| (distance(i), wander(i))).collect();
        let points = &points[..];
        let sums = Sums::new(points);
        let n = points.len() as f64;
        let mean = points.iter().map(|&(_, v)| v).sum::<Velocity>() * n.recip();
        let whole: f64 = points.iter().map(|&(_, v)| (v - mean).dot(v - mean)).sum();
        for centre_m in [20_010.0, 20_116.9, 20_117.0, 20_150.0, 20_268.0] {
            for width_m in [5.0, 31.0, 400.0] {
                let part = |d: f64| ((d - centre_m) / width_m + 0.5).clamp(0.0, 1.0);
                let part_mean = points.iter().map(|&(d, _)| part(d)).sum::<f64>() / n;
                let Ramp { change, .. } = ramp(points, centre_m, width_m).unwrap();
                let off = |&(d, v): &(f64, Velocity)| v - mean - change * (part(d) - part_mean);
                let left: f64 = points.iter().map(off).map(|off| off.dot(off)).sum();
                let told = sums.told(centre_m, width_m).unwrap();
                assert!(
                    (whole - left - told).abs() < 1e-9 * whole,
                    "{centre_m} {width_m}: {told} for {left} of {whole}"
                );
            }
        }
    }
}
