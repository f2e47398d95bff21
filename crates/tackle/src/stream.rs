//! How fast does the water pass the line at each depth?

/// The water that the line is towed through, moving at one speed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stream {
    /// Speed through the water, m/s.
    pub speed_mps: f64,
    /// Density, kg/m³.
    pub density_kg_per_m3: f64,
}

/// Water that passes the line faster or slower at depth: the speed lies on straight lines between points.
///
/// Above the first point and below the last one the speed is that of the point.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sheared<'a> {
    /// Depth below the surface, m, and speed of the water past the line, m/s; depths rise from point to point.
    pub points: &'a [(f64, f64)],
    /// Density, kg/m³.
    pub density_kg_per_m3: f64,
}

/// The dynamic pressure `0.5 rho U²` along lines that are marched side by side from their lower ends.
pub(crate) trait Water<const N: usize> {
    /// Pressure on each line at a height above its lower end, Pa.
    fn pressures_pa(&self, heights_m: &[f64; N]) -> [f64; N];

    /// Whether the pressure changes along a line.
    fn has_corners(&self) -> bool {
        false
    }

    /// How far above a height on the first line, or below it where `rises` is false, the pressure has no corner, m.
    fn smooth_m(&self, _height_m: f64, _rises: bool) -> f64 {
        f64::INFINITY
    }
}

/// One pressure along each line, Pa.
pub(crate) struct Uniform<const N: usize>(pub [f64; N]);

impl<const N: usize> Water<N> for Uniform<N> {
    #[inline]
    fn pressures_pa(&self, _heights_m: &[f64; N]) -> [f64; N] {
        self.0
    }
}

/// A sheared stream as lines see it whose lower ends are at some depths; past each the water may go a little faster.
pub(crate) struct Below<'h, const N: usize> {
    pub hinges: &'h Hinges,
    pub lower_ends_m: [f64; N],
    pub more_mps: [f64; N],
}

impl<const N: usize> Water<N> for Below<'_, N> {
    #[inline]
    fn pressures_pa(&self, heights_m: &[f64; N]) -> [f64; N] {
        let mut speeds_mps = [self.hinges.top_mps; N];
        for &(corner_m, bend_per_s) in &self.hinges.bends {
            for lane in 0..N {
                let below_m = self.lower_ends_m[lane] - heights_m[lane] - corner_m;
                speeds_mps[lane] += bend_per_s * if below_m > 0.0 { below_m } else { 0.0 };
            }
        }
        let mut pressures_pa = [0.0; N];
        for lane in 0..N {
            let speed_mps = speeds_mps[lane] + self.more_mps[lane];
            let speed_mps = if speed_mps > 0.0 { speed_mps } else { 0.0 };
            pressures_pa[lane] = self.hinges.half_density * speed_mps * speed_mps;
        }
        pressures_pa
    }

    fn has_corners(&self) -> bool {
        true
    }

    fn smooth_m(&self, height_m: f64, rises: bool) -> f64 {
        let depth_m = self.lower_ends_m[0] - height_m;
        // on a corner the next one counts
        let away_m = |corner_m: f64| if rises { depth_m - corner_m } else { corner_m - depth_m };
        let ahead = self.hinges.bends.iter().map(|&(corner_m, _)| away_m(corner_m));
        ahead.filter(|&m| m > CORNER_M).fold(f64::INFINITY, f64::min) + CORNER_M / 2.0
    }
}

/// A sheared stream as a sum of bends, which many lines at once are quick to add up.
pub(crate) struct Hinges {
    /// Half the density, kg/m³.
    half_density: f64,
    /// Speed above the first corner, m/s.
    top_mps: f64,
    /// Depth of each corner, m, and by how much the speed's slope with depth changes there, 1/s.
    bends: Vec<(f64, f64)>,
}

impl Hinges {
    pub fn new(stream: Sheared<'_>) -> Self {
        let mut slope_before = 0.0;
        let after = |row: usize| {
            let ((d0, u0), &(d1, u1)) = (stream.points[row], stream.points.get(row + 1)?);
            Some((u1 - u0) / (d1 - d0))
        };
        let mut bends = Vec::with_capacity(stream.points.len());
        for (row, &(corner_m, _)) in stream.points.iter().enumerate() {
            let slope = after(row).unwrap_or(0.0);
            bends.push((corner_m, slope - slope_before));
            slope_before = slope;
        }
        Self {
            half_density: 0.5 * stream.density_kg_per_m3,
            top_mps: stream.points.first().map_or(0.0, |point| point.1),
            bends,
        }
    }
}

/// A corner of the profile that is nearer than this has been passed, m.
const CORNER_M: f64 = 1e-6;

impl Stream {
    /// Dynamic pressure `0.5 rho U²`, Pa; `None` where it is not a physical one.
    pub(crate) fn pressure_pa(self) -> Option<f64> {
        pressure_pa(self.speed_mps, self.density_kg_per_m3)
    }
}

fn pressure_pa(speed_mps: f64, density_kg_per_m3: f64) -> Option<f64> {
    let pressure_pa = 0.5 * density_kg_per_m3 * speed_mps * speed_mps;
    (pressure_pa.is_finite() && speed_mps >= 0.0 && density_kg_per_m3 > 0.0).then_some(pressure_pa)
}

impl Sheared<'_> {
    /// Speed at a depth, m/s. Zero without points.
    pub fn speed_mps(&self, depth_m: f64) -> f64 {
        let below = self.points.partition_point(|&(corner_m, _)| corner_m <= depth_m);
        match (below.checked_sub(1).map(|above| self.points[above]), self.points.get(below)) {
            (Some((d0, u0)), Some(&(d1, u1))) => u0 + (u1 - u0) * (depth_m - d0) / (d1 - d0),
            (Some((_, speed_mps)), None) | (None, Some(&(_, speed_mps))) => speed_mps,
            (None, None) => 0.0,
        }
    }

    /// Whether depths rise and nothing is negative or infinite.
    pub(crate) fn is_physical(&self) -> bool {
        let deeper = self.points.windows(2).all(|pair| pair[0].0 < pair[1].0);
        let good = |&(depth_m, speed_mps): &(f64, f64)| {
            depth_m.is_finite() && pressure_pa(speed_mps, self.density_kg_per_m3).is_some()
        };
        deeper && !self.points.is_empty() && self.points.iter().all(good)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const POINTS: [(f64, f64); 3] = [(0.0, 1.0), (10.0, 0.5), (20.0, 0.9)];

    #[test]
    fn speeds_lie_on_straight_lines() {
        let stream = Sheared { points: &POINTS, density_kg_per_m3: 1000.0 };
        for (depth_m, speed_mps) in
            [(-2.0, 1.0), (0.0, 1.0), (5.0, 0.75), (10.0, 0.5), (15.0, 0.7), (99.0, 0.9)]
        {
            assert!((stream.speed_mps(depth_m) - speed_mps).abs() < 1e-15, "{depth_m} m");
        }
    }

    #[test]
    fn corners_are_seen_ahead() {
        let stream = Sheared { points: &POINTS, density_kg_per_m3: 1000.0 };
        let hinges = Hinges::new(stream);
        let below = Below { hinges: &hinges, lower_ends_m: [15.0], more_mps: [0.0] };
        for height_m in [-90.0, -3.0, 0.0, 4.0, 5.0, 12.0, 15.0, 40.0] {
            let want_pa = 500.0 * stream.speed_mps(15.0 - height_m).powi(2);
            assert!((below.pressures_pa(&[height_m])[0] - want_pa).abs() < 1e-10, "{height_m} m");
        }
        assert!((below.smooth_m(0.0, true) - 5.0).abs() < 1e-5);
        assert!((below.smooth_m(0.0, false) - 5.0).abs() < 1e-5);
        assert!((below.smooth_m(5.0, true) - 10.0).abs() < 1e-5);
        assert_eq!(below.smooth_m(16.0, true), f64::INFINITY);
    }
}
