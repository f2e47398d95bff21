//! How deep is the surface layer mixed, by the best of several ways to tell?
//!
//! Each way is right in some water and wrong in other: a threshold in a slow decline, a line fit under a warm film, the steepest
//! gradient in a staircase. Holte & Talley take them all and choose by what kind of profile it is.

use crate::gradient::{Line, Node, noise_sd};
use crate::{Bin, Profile};

/// Thresholds of the candidates and of the choice among them.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct HolteTalley {
    /// Depth that the mixed layer is compared with, m. Default 1; theirs 10 is the sea's, whose top is stirred by waves.
    pub reference_m: f64,
    /// Departure from the temperature there at the base of the mixed layer, °C. Default 0.2, theirs.
    pub threshold_c: f64,
    /// Gradient at the base of the mixed layer, °C/m. Default 0.005, theirs; more where bins scatter.
    pub gradient_c_per_m: f64,
    /// Candidates closer than this agree, m. Default 2.5: theirs is 25 with mixed layers of a hundred metres and a reference of 10.
    pub near_m: f64,
    /// A temperature maximum and the steepest warming with depth within this of each other are one intrusion, m. Default 10; theirs 100.
    pub intrusion_m: f64,
    /// The line through the mixed layer may leave this part of the squared error of all lines from the top. Default 1e-10, theirs; more
    /// where bins scatter.
    pub fit_error: f64,
    /// Below the line fit the temperature is compared over at least this height, m. Default 2; theirs is two samples.
    pub across_m: f64,
    /// Cooling across the line fit from which a profile is like summer's, °C. Default 0.5, theirs.
    pub summer_c: f64,
    /// Warming across it from which it is, too, °C. Default 0.25, theirs.
    pub inverse_c: f64,
    /// Standard deviations of the bins' noise that no threshold is below. Default 5: two bins differ by as much once in two thousand times.
    /// Theirs is 0: their profiles are smooth.
    pub noise_sd: f64,
}

impl Default for HolteTalley {
    fn default() -> Self {
        Self {
            reference_m: 1.0,
            near_m: 2.5,
            intrusion_m: 10.0,
            across_m: 2.0,
            noise_sd: 5.0,
            ..Self::AS_PUBLISHED
        }
    }
}

impl HolteTalley {
    /// As published, for profiles of the ocean.
    pub const AS_PUBLISHED: Self = Self {
        reference_m: 10.0,
        threshold_c: 0.2,
        gradient_c_per_m: 0.005,
        near_m: 25.0,
        intrusion_m: 100.0,
        fit_error: 1e-10,
        across_m: 0.0,
        summer_c: 0.5,
        inverse_c: 0.25,
        noise_sd: 0.0,
    };
}

/// A way to tell the depth of the mixed layer.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum MixedBy {
    /// The temperature departs from that of the reference depth by a threshold.
    Threshold,
    /// The gradient exceeds a threshold; where it never does, it is steepest.
    Gradient,
    /// The lines through the mixed layer and through the thermocline meet.
    LineFit,
    /// The water is warmest.
    Warmest,
    /// Warmer water lies in below: the upper of the warmest and the fastest warming with depth.
    Intrusion,
}

impl MixedBy {
    /// The word in the tables.
    pub fn word(self) -> &'static str {
        match self {
            Self::Threshold => "threshold",
            Self::Gradient => "gradient",
            Self::LineFit => "line_fit",
            Self::Warmest => "warmest",
            Self::Intrusion => "intrusion",
        }
    }
}

/// What each way says, m.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MixedCandidates {
    /// By the threshold; the lower end of the profile where it is not reached.
    pub threshold_m: f64,
    /// By the gradient.
    pub gradient_m: f64,
    /// By the lines.
    pub line_fit_m: f64,
    /// Where it is warmest.
    pub warmest_m: f64,
    /// The intrusion; the upper end of the profile where there is none.
    pub intrusion_m: f64,
    /// Cooling across the line fit, °C.
    pub across_c: f64,
}

/// The mixed layer that was chosen.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MixedLayer {
    /// Its depth, m.
    pub depth_m: f64,
    /// By which way.
    pub by: MixedBy,
    /// Whether the profile is like summer's: strongly layered below the line fit.
    pub is_summer: bool,
}

/// The mixed layer's bins may lie this part of the noise that is no threshold off their line (root mean square).
const RESIDUAL_PART: f64 = 0.3;
/// Gradients of fewer samples than this say nothing.
const LEAST_NODES: usize = 6;

/// Depth of the mixed layer by temperature, and which way told it. `None` where there are too few bins below the reference
/// depth, or where the water is mixed to the lower end of the profile.
///
/// # Method
/// J. Holte & L. Talley (2009), A new algorithm for finding mixed layer depths with applications to Argo data and Subantarctic
/// Mode Water formation, J. Atmos. Oceanic Technol. 26, 1920–1939: the candidates of its section 3 and the choice by temperature of its
/// figures 8 (profiles like summer's) and 9 (like winter's). Checked against a program of others (`tests/reference/column.rs`).
pub fn mixed_layer(profile: &Profile, settings: &HolteTalley) -> Option<MixedLayer> {
    let nodes = below_reference(&profile.bins, settings.reference_m);
    let candidates = mixed_candidates_of(&nodes, settings)?;
    let is_summer = candidates.across_c > settings.summer_c || candidates.across_c < -settings.inverse_c;
    let top_m = nodes[0].depth_m;
    let (by, depth_m) =
        if is_summer { summer(&candidates, settings) } else { winter(&candidates, top_m, settings) };
    let is_told = depth_m < nodes[nodes.len() - 1].depth_m;
    is_told.then_some(MixedLayer { depth_m, by, is_summer })
}

/// What each way says of a profile.
pub fn mixed_candidates(profile: &Profile, settings: &HolteTalley) -> Option<MixedCandidates> {
    mixed_candidates_of(&below_reference(&profile.bins, settings.reference_m), settings)
}

/// Strongly layered: the line fit, unless a threshold or a maximum above it says that it went too deep.
fn summer(c: &MixedCandidates, settings: &HolteTalley) -> (MixedBy, f64) {
    if c.line_fit_m <= c.threshold_m {
        (MixedBy::LineFit, c.line_fit_m)
    } else if c.across_c >= 0.0 && c.warmest_m < c.threshold_m && c.warmest_m > settings.near_m {
        (MixedBy::Warmest, c.warmest_m)
    } else {
        (MixedBy::Threshold, c.threshold_m)
    }
}

/// Weakly layered: candidates that agree are believed before those that stand alone.
fn winter(c: &MixedCandidates, top_m: f64, settings: &HolteTalley) -> (MixedBy, f64) {
    let near = |a: f64, b: f64| (a - b).abs() < settings.near_m;
    let line_fit = (MixedBy::LineFit, c.line_fit_m);
    let not_below_threshold = |(by, depth_m): (MixedBy, f64)| {
        if depth_m > c.threshold_m { (MixedBy::Threshold, c.threshold_m) } else { (by, depth_m) }
    };
    if near(c.line_fit_m, c.threshold_m)
        && !near(c.intrusion_m, c.threshold_m)
        && c.line_fit_m < c.intrusion_m
    {
        return line_fit;
    }
    if c.intrusion_m > top_m + settings.near_m {
        let agree = [
            near(c.threshold_m, c.line_fit_m),
            near(c.threshold_m, c.intrusion_m),
            near(c.line_fit_m, c.intrusion_m),
        ];
        let most_agree = agree.into_iter().filter(|near| *near).count() > 1;
        return not_below_threshold(if most_agree { line_fit } else { (MixedBy::Intrusion, c.intrusion_m) });
    }
    if c.line_fit_m - c.threshold_m < settings.near_m {
        return line_fit;
    }
    not_below_threshold((MixedBy::Gradient, c.gradient_m))
}

/// From the bin that is nearest to the reference depth.
fn below_reference(bins: &[Bin], reference_m: f64) -> Vec<Node> {
    let off_m = |bin: &Bin| (bin.depth_m - reference_m).abs();
    let nearest =
        (0..bins.len()).min_by(|&a, &b| off_m(&bins[a]).total_cmp(&off_m(&bins[b]))).unwrap_or_default();
    bins[nearest..].iter().map(|bin| Node { depth_m: bin.depth_m, value: bin.temp_c }).collect()
}

fn mixed_candidates_of(nodes: &[Node], settings: &HolteTalley) -> Option<MixedCandidates> {
    if nodes.len() < LEAST_NODES {
        return None;
    }
    let noise_c = settings.noise_sd * noise_sd(nodes);
    let gradients: Vec<f64> = nodes
        .windows(2)
        .map(|pair| (pair[1].value - pair[0].value) / (pair[1].depth_m - pair[0].depth_m))
        .collect();
    let line_fit_m = line_fit_m(nodes, &gradients, noise_c, settings)?;
    let warmest = (0..nodes.len()).max_by(|&a, &b| nodes[a].value.total_cmp(&nodes[b].value))?;
    // of water that is equally warm to its noise, the top counts
    let warmest = if nodes[warmest].value > nodes[0].value + noise_c { warmest } else { 0 };
    let warming = (1..gradients.len() - 1).max_by(|&a, &b| gradients[a].total_cmp(&gradients[b]))?;
    let (warmest_m, warming_m) = (nodes[warmest].depth_m, nodes[warming].depth_m);
    let is_intrusion = (warmest_m - warming_m).abs() < settings.intrusion_m;
    Some(MixedCandidates {
        threshold_m: threshold_m(nodes, settings.threshold_c.max(noise_c)),
        gradient_m: gradient_m(nodes, &gradients, noise_c, settings),
        line_fit_m,
        warmest_m,
        intrusion_m: if is_intrusion { warmest_m.min(warming_m) } else { nodes[0].depth_m },
        across_c: across_c(nodes, line_fit_m, settings),
    })
}

/// Where the temperature first differs from the first by a threshold, linear between nodes; the last node where it does not.
fn threshold_m(nodes: &[Node], threshold_c: f64) -> f64 {
    let off_c = |node: &Node| (node.value - nodes[0].value).abs();
    let reached = nodes.windows(2).find(|pair| off_c(&pair[1]) > threshold_c);
    reached.map_or(nodes[nodes.len() - 1].depth_m, |pair| {
        let wanted_c = nodes[0].value + threshold_c.copysign(pair[1].value - nodes[0].value);
        let part = (wanted_c - pair[0].value) / (pair[1].value - pair[0].value);
        pair[0].depth_m + part * (pair[1].depth_m - pair[0].depth_m)
    })
}

/// Where the gradient first exceeds its threshold, else where it is steepest.
fn gradient_m(nodes: &[Node], gradients: &[f64], noise_c: f64, settings: &HolteTalley) -> f64 {
    let apart_m = (nodes[nodes.len() - 1].depth_m - nodes[0].depth_m) / (nodes.len() - 1) as f64;
    let least = settings.gradient_c_per_m.max(2f64.sqrt() * noise_c / apart_m);
    let first = gradients.iter().position(|gradient| gradient.abs() > least);
    let steepest = || (0..gradients.len()).max_by(|&a, &b| gradients[a].abs().total_cmp(&gradients[b].abs()));
    nodes[first.or_else(steepest).unwrap_or_default()].depth_m
}

/// Where the longest line from the top that still holds meets the line through the ends of the steepest interval and the node above it.
fn line_fit_m(nodes: &[Node], gradients: &[f64], noise_c: f64, settings: &HolteTalley) -> Option<f64> {
    let squares: Vec<f64> =
        (2..nodes.len()).map(|n| Line::through(&nodes[..n]).rms(&nodes[..n]).powi(2) * n as f64).collect();
    let all: f64 = squares.iter().sum();
    // nodes that scatter leave as much whatever the line
    let allowed = |n: usize| (settings.fit_error * all).max((RESIDUAL_PART * noise_c).powi(2) * n as f64);
    let longest = (0..squares.len()).rev().find(|&k| squares[k] <= allowed(k + 2)).unwrap_or_default();
    let mixed = Line::through(&nodes[..longest + 2]);
    let inner = 1..gradients.len().checked_sub(1)?;
    let steepest = inner.max_by(|&a, &b| gradients[a].abs().total_cmp(&gradients[b].abs()))?;
    let thermocline = Line::through(&nodes[steepest - 1..steepest + 2]);
    let meets_m = mixed.meets_m(&thermocline).unwrap_or(nodes[steepest].depth_m);
    Some(meets_m.clamp(nodes[0].depth_m, nodes[nodes.len() - 1].depth_m))
}

/// By how much it cools from the node nearest to a depth to the second below it, or further where nodes are close.
fn across_c(nodes: &[Node], depth_m: f64, settings: &HolteTalley) -> f64 {
    let off_m = |k: usize| (nodes[k].depth_m - depth_m).abs();
    let nearest = (0..nodes.len()).min_by(|&a, &b| off_m(a).total_cmp(&off_m(b))).unwrap_or_default();
    let far_m = nodes[nearest].depth_m + settings.across_m;
    let second = nodes.partition_point(|node| node.depth_m < far_m).max(nearest + 2);
    nodes[nearest].value - nodes[second.min(nodes.len() - 1)].value
}
