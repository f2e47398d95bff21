//! Where does the water change fastest with depth, as surely as the noise of the bins allows?

use crate::interpolate::BIN_GAP_M;
use crate::stats::median;

/// The steepest stretch of this height is looked for first, m: a step of a few decimetres somewhere else is no layer
/// that a fish would notice.
const LAYER_M: f64 = 3.0;
/// The window widens until the steepest gradient stands out of its standard error by this factor.
///
/// Near its peak a gradient falls off with the square of the distance, so that a ratio of 16 places the peak within
/// a quarter of the layer's width.
const STANDS_OUT: f64 = 16.0;
/// A gradient that stands out less than this, in the widest window, is noise.
const SIGNIFICANT: f64 = 5.0;
/// Windows never grow wider, m: a layer a few metres thick would drown.
const WINDOW_MAX_M: f64 = 4.0;
/// Normal standard deviations in a median of absolute values.
const SD_PER_MEDIAN_ABS: f64 = 1.482_602_218_505_602;
/// The part of the peak down to which a parabola is laid through gradients from noisy bins.
const TOP_PART: f64 = 0.6;

/// A value at a depth: density or temperature of a bin.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Node {
    pub depth_m: f64,
    pub value: f64,
}

/// The steepest rise of a value with depth.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Steepest {
    pub depth_m: f64,
    /// Upper and lower end of the steepest stretch of [`LAYER_M`], in which the peak lies.
    pub layer_m: (f64, f64),
    /// Where the rise above the peak reaches the asked part of it.
    pub top_m: Option<f64>,
    /// The same below the peak.
    pub bottom_m: Option<f64>,
    /// Nodes over which a slope was taken.
    pub points: usize,
}

/// The steepest rise of `nodes` with depth, `None` where it does not stand out of the noise or lies at an end of the
/// nodes, where it may go on outside.
///
/// The steepest three metres are found first and the peak within them. Two neighbouring nodes make a gradient where
/// they are good enough, more where they scatter. With two, the depth is the weighted estimate of Read et al. (2011),
/// Environ. Model. Softw. 26, 1325–1336; where the spacing is unequal, both of its slopes are taken over the width of
/// the steepest interval.
pub(crate) fn steepest(nodes: &[Node], edge_part: f64) -> Option<Steepest> {
    let layer_m = steepest_layer(nodes)?;
    let noise = noise_sd(nodes);
    let mut best = None;
    for points in 2..nodes.len() {
        let Some((at, peak)) = peak(nodes, points, layer_m) else { break };
        if points > 2 && peak.span_m > WINDOW_MAX_M {
            break;
        }
        let stands_out = peak.per_m / (noise * peak.se_per_sd);
        best = Some((peak, at, stands_out, points));
        if stands_out >= STANDS_OUT {
            break;
        }
    }
    let (peak, at, stands_out, points) = best?;
    let sure = peak.per_m > 0.0 && stands_out >= SIGNIFICANT && peak.span_m <= BIN_GAP_M;
    if !sure || at == 0 || at + points == nodes.len() {
        return None;
    }
    let rises = rises(nodes, points);
    let level = edge_part * rises[at].per_m;
    Some(Steepest {
        depth_m: peak_m(nodes, &rises, at, points),
        layer_m,
        top_m: reaches_m(rises[..=at].iter().rev(), level),
        bottom_m: reaches_m(rises[at..].iter(), level),
        points,
    })
}

/// Ends of the stretch of at least [`LAYER_M`] with the steepest least-squares slope.
fn steepest_layer(nodes: &[Node]) -> Option<(f64, f64)> {
    let stretch = |from: usize| {
        let last = (from..nodes.len()).find(|&to| nodes[to].depth_m - nodes[from].depth_m >= LAYER_M)?;
        Some(&nodes[from..=last])
    };
    let stretches = (0..nodes.len()).filter_map(stretch).map(|stretch| (Rise::of(stretch).per_m, stretch));
    let (_, steepest) = stretches.max_by(|a, b| a.0.total_cmp(&b.0))?;
    Some((steepest[0].depth_m, steepest[steepest.len() - 1].depth_m))
}

/// Least-squares lines through every `points` neighbouring nodes, shallow to deep.
pub(crate) fn lines(nodes: &[Node], points: usize) -> impl Iterator<Item = Line> {
    nodes.windows(points).map(Line::through)
}

/// A straight line through nodes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Line {
    /// Mean depth of the nodes.
    pub depth_m: f64,
    /// Value there.
    pub value: f64,
    /// Rise with depth.
    pub per_m: f64,
}

impl Line {
    /// Least-squares line through nodes at two depths at least.
    pub fn through(nodes: &[Node]) -> Self {
        let n = nodes.len() as f64;
        let value = nodes.iter().map(|p| p.value).sum::<f64>() / n;
        let Rise { depth_m, per_m, .. } = Rise::of(nodes);
        Self { depth_m, value, per_m }
    }

    /// Value at a depth.
    pub fn at(&self, depth_m: f64) -> f64 {
        self.value + self.per_m * (depth_m - self.depth_m)
    }

    /// Root mean square distance of nodes from the line.
    pub fn rms(&self, nodes: &[Node]) -> f64 {
        let off = |p: &Node| (p.value - self.at(p.depth_m)).powi(2);
        (nodes.iter().map(off).sum::<f64>() / nodes.len() as f64).sqrt()
    }

    /// Depth at which two lines meet, `None` where they are parallel.
    pub fn meets_m(&self, other: &Self) -> Option<f64> {
        let closing = self.per_m - other.per_m;
        let apart = other.at(0.0) - self.at(0.0);
        (closing != 0.0).then_some(apart / closing)
    }
}

/// Least-squares slope of the nodes between two depths.
pub(crate) fn slope_between(nodes: &[Node], (upper_m, lower_m): (f64, f64)) -> f64 {
    let within = |depth_m: f64| (upper_m..=lower_m).contains(&depth_m);
    Rise::of(&nodes.iter().copied().filter(|node| within(node.depth_m)).collect::<Vec<_>>()).per_m
}

/// Standard deviation of independent noise in the nodes, from how far each lies off the line through its neighbours.
///
/// Most of a profile is nearly straight at the distance of a bin; the median passes over the rest.
pub(crate) fn noise_sd(nodes: &[Node]) -> f64 {
    let off: Vec<f64> = nodes
        .windows(3)
        .map(|w| {
            let part = (w[1].depth_m - w[0].depth_m) / (w[2].depth_m - w[0].depth_m);
            let line = w[0].value + part * (w[2].value - w[0].value);
            (w[1].value - line).abs() / (1.0 + part * part + (1.0 - part) * (1.0 - part)).sqrt()
        })
        .collect();
    SD_PER_MEDIAN_ABS * median(&off)
}

/// Slope of neighbouring nodes: how much the value rises a metre.
#[derive(Clone, Copy, Debug)]
struct Rise {
    depth_m: f64,
    per_m: f64,
    span_m: f64,
    /// Standard error of `per_m` for nodes with a standard deviation of 1.
    se_per_sd: f64,
}

impl Rise {
    /// Least-squares line through nodes.
    fn of(nodes: &[Node]) -> Self {
        let n = nodes.len() as f64;
        let depth_m = nodes.iter().map(|p| p.depth_m).sum::<f64>() / n;
        let value = nodes.iter().map(|p| p.value).sum::<f64>() / n;
        let spread = nodes.iter().map(|p| (p.depth_m - depth_m).powi(2)).sum::<f64>();
        let product = nodes.iter().map(|p| (p.depth_m - depth_m) * (p.value - value)).sum::<f64>();
        let span_m = nodes[nodes.len() - 1].depth_m - nodes[0].depth_m;
        Self { depth_m, per_m: product / spread, span_m, se_per_sd: spread.sqrt().recip() }
    }
}

/// Slopes of every `points` neighbouring nodes.
fn rises(nodes: &[Node], points: usize) -> Vec<Rise> {
    nodes.windows(points).map(Rise::of).collect()
}

/// The steepest slope of `points` neighbouring nodes between two depths, and its first node.
fn peak(nodes: &[Node], points: usize, (upper_m, lower_m): (f64, f64)) -> Option<(usize, Rise)> {
    // slopes lie between their ends
    let windows = nodes.windows(points).enumerate().skip_while(|(_, own)| own[points - 1].depth_m < upper_m);
    let near = windows.take_while(|(_, own)| own[0].depth_m <= lower_m);
    let rises = near.map(|(at, own)| (at, Rise::of(own)));
    let within = rises.filter(|(_, rise)| (upper_m..=lower_m).contains(&rise.depth_m));
    within.max_by(|a, b| a.1.per_m.total_cmp(&b.1.per_m))
}

/// Depth of the steepest rise.
///
/// Two nodes to a gradient: within the steepest interval, weighted by how much the gradient falls off on either side
/// (Read et al. 2011). More: vertex of the least-squares parabola through all gradients near the peak's height.
fn peak_m(nodes: &[Node], rises: &[Rise], at: usize, points: usize) -> f64 {
    let height = rises[at].per_m;
    if points == 2 {
        let (above, below) = (height - rises[at - 1].per_m, height - rises[at + 1].per_m);
        // the peak of the steepest stretch may have a steeper neighbour outside it
        let part = if above + below > 0.0 { (above / (above + below)).clamp(0.0, 1.0) } else { 0.5 };
        return nodes[at].depth_m + part * rises[at].span_m;
    }
    let high = |rise: &&Rise| rise.per_m >= TOP_PART * height;
    let above = rises[..at].iter().rev().take_while(high).count().max(1);
    let below = rises[at + 1..].iter().take_while(high).count().max(1);
    let near = &rises[at - above..=at + below];
    let middle_m = rises[at].depth_m;
    let points: Vec<(f64, f64)> = near.iter().map(|rise| (rise.depth_m - middle_m, rise.per_m)).collect();
    parabola_vertex(&points).map_or(middle_m, |offset_m| {
        (middle_m + offset_m).clamp(near[0].depth_m, near[near.len() - 1].depth_m)
    })
}

/// Where the least-squares parabola through points has its maximum; `None` where it has none.
fn parabola_vertex(points: &[(f64, f64)]) -> Option<f64> {
    // discrete orthogonal polynomials: 1, x - x̄, and the quadratic left after both
    let n = points.len() as f64;
    let mean = |f: &dyn Fn(f64, f64) -> f64| points.iter().map(|&(x, y)| f(x, y)).sum::<f64>() / n;
    let x_mean = mean(&|x, _| x);
    let s2 = mean(&|x, _| (x - x_mean).powi(2));
    let skew = mean(&|x, _| (x - x_mean).powi(3)) / s2;
    let quadratic = |x: f64| (x - x_mean).powi(2) - skew * (x - x_mean) - s2;
    let linear_part = mean(&|x, y| (x - x_mean) * y) / s2;
    let quadratic_part = mean(&|x, y| quadratic(x) * y) / mean(&|x, _| quadratic(x).powi(2));
    (quadratic_part < 0.0).then(|| x_mean + 0.5 * (skew - linear_part / quadratic_part))
}

/// Depth at which gradients, taken outward from the peak, fall to a level.
fn reaches_m<'a>(outward: impl Iterator<Item = &'a Rise> + Clone, level: f64) -> Option<f64> {
    let pairs = outward.clone().zip(outward.skip(1));
    pairs.into_iter().find(|(_, outer)| outer.per_m <= level).map(|(inner, outer)| {
        inner.depth_m + (outer.depth_m - inner.depth_m) * (inner.per_m - level) / (inner.per_m - outer.per_m)
    })
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn nodes(spacing_m: f64, n: usize, value: impl Fn(f64) -> f64) -> Vec<Node> {
        (0..n).map(|i| i as f64 * spacing_m).map(|depth_m| Node { depth_m, value: value(depth_m) }).collect()
    }

    #[test]
    fn straight_lines_and_ends_have_no_peak() {
        assert_eq!(steepest(&[], 0.2), None);
        assert_eq!(steepest(&nodes(1.0, 20, |_| 4.0), 0.2), None);
        assert_eq!(steepest(&nodes(1.0, 20, |z| z * z), 0.2), None, "still rising at the bottom");
        assert_eq!(steepest(&nodes(1.0, 20, |z| -(z - 10.0).tanh()), 0.2), None, "falls");
    }

    #[test]
    fn edges_lie_where_a_tanh_layer_has_them() {
        // the slope of tanh(x) is a fifth of its peak where cosh(x)² = 5
        let found = steepest(&nodes(0.1, 400, |z| ((z - 20.0) / 3.0).tanh()), 0.2).unwrap();
        let half_m = 3.0 * 5f64.sqrt().acosh();
        assert!((found.depth_m - 20.0).abs() < 0.01);
        assert!((found.top_m.unwrap() - (20.0 - half_m)).abs() < 0.02);
        assert!((found.bottom_m.unwrap() - (20.0 + half_m)).abs() < 0.02);
    }

    proptest! {
        #[test]
        fn three_points_give_the_weighted_estimate(
            step in 0.2f64..2.0, above in 0.01f64..0.99, below in 0.01f64..0.99,
        ) {
            // Read et al. (2011), as in the table thermocline_truth.csv; peak gradient 1 between two nodes
            let values = [0.0, above * step, (above + 1.0) * step, (above + 1.0 + below) * step];
            let four = nodes(step, 4, |z| values[(z / step).round() as usize]);
            let (up, down) = (1.0 / (1.0 - above), 1.0 / (1.0 - below));
            let want = (2.0 * step * down + step * up) / (up + down);
            let got = peak_m(&four, &rises(&four, 2), 1, 2);
            prop_assert!((got - want).abs() < 1e-9, "{} {}", got, want);
        }

        #[test]
        fn noise_is_measured(sd in 0.01f64..1.0, seed in 0u64..1000) {
            use rand::SeedableRng;
            use rand_distr::{Distribution, Normal};
            let mut rng = rand_chacha::ChaCha8Rng::seed_from_u64(seed);
            let normal = Normal::new(0.0, sd).unwrap();
            let mut noisy = nodes(0.5, 400, |z| 20.0 - 0.3 * z);
            for node in &mut noisy {
                node.value += normal.sample(&mut rng);
            }
            let got = noise_sd(&noisy);
            prop_assert!((got / sd - 1.0).abs() < 0.35, "{} for {}", got, sd);
        }
    }
}
