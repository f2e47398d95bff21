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
    /// Pressure on line `lane` at a height above its lower end, Pa.
    fn pressure_pa(&self, lane: usize, height_m: f64) -> f64;

    /// Whether the pressure changes along a line.
    fn has_corners(&self) -> bool {
        false
    }

    /// How far above a height, or below it where `rises` is false, the pressure has no corner, m.
    fn smooth_m(&self, _height_m: f64, _rises: bool) -> f64 {
        f64::INFINITY
    }
}

/// One pressure along each line, Pa.
pub(crate) struct Uniform<const N: usize>(pub [f64; N]);

impl<const N: usize> Water<N> for Uniform<N> {
    #[inline]
    fn pressure_pa(&self, lane: usize, _height_m: f64) -> f64 {
        self.0[lane]
    }
}

/// A sheared stream as lines see it whose lower ends are at a depth; past each the water may go a little faster.
pub(crate) struct Below<'a, const N: usize> {
    pub stream: Sheared<'a>,
    pub lower_end_m: f64,
    pub more_mps: [f64; N],
}

impl<const N: usize> Water<N> for Below<'_, N> {
    fn pressure_pa(&self, lane: usize, height_m: f64) -> f64 {
        let speed_mps = (self.stream.speed_mps(self.lower_end_m - height_m) + self.more_mps[lane]).max(0.0);
        0.5 * self.stream.density_kg_per_m3 * speed_mps * speed_mps
    }

    fn has_corners(&self) -> bool {
        true
    }

    fn smooth_m(&self, height_m: f64, rises: bool) -> f64 {
        let depth_m = self.lower_end_m - height_m;
        // on a corner the next one counts
        let away_m = |corner_m: f64| if rises { depth_m - corner_m } else { corner_m - depth_m };
        let ahead = self.stream.points.iter().map(|&(corner_m, _)| away_m(corner_m));
        ahead.filter(|&m| m > CORNER_M).fold(f64::INFINITY, f64::min) + CORNER_M / 2.0
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
        let below = Below { stream, lower_end_m: 15.0, more_mps: [0.0] };
        assert!((below.smooth_m(0.0, true) - 5.0).abs() < 1e-5);
        assert!((below.smooth_m(0.0, false) - 5.0).abs() < 1e-5);
        assert!((below.smooth_m(5.0, true) - 10.0).abs() < 1e-5);
        assert_eq!(below.smooth_m(16.0, true), f64::INFINITY);
    }
}
