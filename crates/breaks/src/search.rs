//! Where along a track do values change from one level to another?
//!
//! Forward and backward selection of smooth steps. Candidates at all scales are fitted, strongest first; what a
//! break explains is taken off, and the rest is searched again, so that a weak break beside a strong one is found
//! and none is found twice. Then every break is fitted again beside the others and must stand the test anew, under
//! a noise that is estimated from what all breaks together leave.

use statrs::distribution::{ChiSquared, ContinuousCDF};

use crate::candidates::{self, Candidate};
use crate::false_discovery::benjamini_hochberg;
use crate::noise::{self, Noise};
use crate::profile::{Background, Problem, Profile, Start, WIDTH_PER_SCALE};
use crate::stretches::{Cell, Stretch, Track};
use crate::wanted::{Values, Wanted};

/// Narrowest scale that is searched, m, with a sample a second at trolling speed.
const LEAST_SCALE_M: f64 = 30.0;
/// Greatest scale that is searched, in greatest widths: the sides of the broadest break must be seen.
const SCALES_PER_WIDTH: f64 = 1.5;
/// Ratio of one scale to the next.
const SCALE_RATIO: f64 = 2.0;
/// Sample spacings to either side that a step can be told from: the greatest width follows the sampling.
const SPACINGS_PER_WIDTH: f64 = 5.0;
/// Part of the least step that the contrast at the best scale reaches at least. A step as broad as the scale
/// shows 0.6 of itself; the rest is for noise.
const CANDIDATE_CONTRAST: f64 = 0.5;
/// Length over which the trip's slopes are ordinary, m: over more, slopes average out.
const BACKGROUND_SLOPE_M: f64 = 1_000.0;
/// Steps of a sensor's reading that a break must exceed.
const LEAST_QUANTA: f64 = 1.5;
/// Widths on either side of the centre that must have data: there the step is 96 % done.
const SIDES_PER_WIDTH: f64 = 0.75;
/// Half length of the fitted window in widths: the levels on both sides are seen over twice the width.
const WINDOW_PER_WIDTH: f64 = 2.5;
/// Least half length of the fitted window, m.
const LEAST_WINDOW_M: f64 = 150.0;
/// Cells in half a window: finer ones cost time and show nothing more.
const CELLS_PER_WINDOW: f64 = 60.0;
/// Searches of the whole track, each under the noise that is left by the breaks of those before.
const PASSES: usize = 2;
/// Searches of what earlier breaks leave.
const ROUNDS: usize = 3;
/// Part of the needed gain that the best of the starts has at least: they lie so close together that from there a
/// fit does not treble it.
const STARTING_GAIN: f64 = 0.3;
/// Greatest chance of a step from noise, corrected for the places searched, at which it is kept until the whole trip
/// is known: a trip of thirty breaks bears out one at thirty times the chance of a lone one.
const SEARCHED_P_VALUE: f64 = 0.3;
/// Parameters of a step: height, centre, width.
const STEP_PARAMETERS: f64 = 3.0;

/// A step that holds, in the unit of the values.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Step {
    pub time_s: f64,
    pub distance_m: f64,
    pub before: f64,
    pub after: f64,
    /// From 10 % to 90 %, m.
    pub width_m: f64,
    /// Steepest slope along the track, absolute, a kilometre.
    pub steepest_per_km: f64,
    pub centre_se_m: f64,
    pub height_se: f64,
    pub p_value: f64,
    pub gap_m: f64,
}

/// The steps along a track, in its order.
///
/// # Method
/// Samples are averaged in distance cells; the noise of the instrument and the unevenness of the water are estimated
/// from differences at many lags; places where the two sides differ are sought at scales from 30 m to
/// 1.5 km; at each a smooth step is fitted by generalised least squares ([`fit`](crate::fit) says which) and
/// compared with a background that only slopes. A step holds where the gain is beyond what noise gives
/// anywhere along the track (likelihood ratio, three degrees of freedom; the rate of false discoveries among the
/// steps of the trip is controlled with [`benjamini_hochberg`] over all places searched), it is high enough and no
/// broader than wanted, and both of its sides were seen.
pub(crate) fn steps(values: Values, wanted: &Wanted) -> Vec<Step> {
    let track = Track::new(values, wanted);
    let quantum = noise::quantum_of(&track);
    let mut left = track.clone();
    let mut fronts: Vec<Vec<Profile>> = vec![Vec::new(); track.stretches.len()];
    // strong breaks pass for noise as long as they are not taken off, and hide the weak ones
    for _ in 0..PASSES {
        let noise = Noise::estimate(&left, quantum, wanted);
        let limits = Limits::new(&track, &noise, wanted);
        for (stretch, fronts) in track.stretches.iter().zip(&mut fronts) {
            Search { stretch, noise: &noise, limits: &limits }.forward(fronts);
        }
        if fronts.iter().all(Vec::is_empty) {
            // the next search would be this one
            return Vec::new();
        }
        left = track.less(|stretch, distance_m| fronts[stretch].iter().map(|f| f.step_at(distance_m)).sum());
    }

    let noise = Noise::estimate(&left, quantum, wanted);
    let mut limits = Limits::new(&track, &noise, wanted);
    limits.usual_squares =
        limits.scales_m.iter().map(|&scale_m| usual_square(&left, scale_m, &noise, wanted)).collect();
    for (stretch, fronts) in track.stretches.iter().zip(&mut fronts) {
        Search { stretch, noise: &noise, limits: &limits }.backward(fronts);
    }
    // those that the trip as a whole does not bear out go, and the others are fitted again without them
    limits.least_evidence = limits.evidence_borne_out(fronts.iter().flatten(), wanted.greatest_p_value);
    for (stretch, fronts) in track.stretches.iter().zip(&mut fronts) {
        if fronts.iter().any(|front| front.evidence < limits.least_evidence) {
            Search { stretch, noise: &noise, limits: &limits }.backward(fronts);
        }
    }
    let mut p_values = limits.adjusted(fronts.iter().flatten()).into_iter();
    let mut steps = Vec::new();
    for (stretch, fronts) in track.stretches.iter().zip(&fronts) {
        let search = Search { stretch, noise: &noise, limits: &limits };
        for (i, p_value) in (0..fronts.len()).zip(&mut p_values) {
            steps.extend(search.step(fronts, i, p_value));
        }
    }
    steps
}

/// What a step must be to count on this track.
struct Limits {
    least_step: f64,
    greatest_width_m: f64,
    /// Least evidence of a break.
    least_evidence: f64,
    /// Lengths of track compared, m, finest first.
    scales_m: Vec<f64>,
    /// By how much contrasts of each scale are smaller than the noise model says, in variances: at most one.
    usual_squares: Vec<f64>,
    /// Places searched, over all scales.
    places: f64,
    /// Gain of a fit's best start under which the fit itself cannot pass the test.
    least_gain: f64,
    cell_m: f64,
}

impl Limits {
    fn new(track: &Track, noise: &Noise, wanted: &Wanted) -> Self {
        let greatest_width_m = wanted.greatest_width_m.max(SPACINGS_PER_WIDTH * track.spacing_m);
        let greatest_scale_m = SCALES_PER_WIDTH * greatest_width_m;
        let first_m = LEAST_SCALE_M.max(3.0 * track.spacing_m).min(greatest_scale_m);
        let scales_m: Vec<f64> = std::iter::successors(Some(first_m), |scale_m| Some(SCALE_RATIO * scale_m))
            .take_while(|&scale_m| scale_m < greatest_scale_m)
            .chain([greatest_scale_m])
            .collect();
        let places = scales_m.iter().map(|scale_m| track.length_m() / scale_m).sum::<f64>().max(1.0);
        Self {
            least_step: wanted.least_step.max(LEAST_QUANTA * noise.quantum),
            greatest_width_m,
            least_evidence: least_evidence(places, SEARCHED_P_VALUE.max(wanted.greatest_p_value)),
            usual_squares: vec![1.0; scales_m.len()],
            scales_m,
            least_gain: STARTING_GAIN * 2.0 * (places / SEARCHED_P_VALUE).max(1.0).ln(),
            places,
            cell_m: wanted.cell_m,
        }
    }

    /// By how much the variance of a step of some width is smaller than the noise model says.
    fn usual_square(&self, width_m: f64) -> f64 {
        let scale = self.scales_m.partition_point(|&scale_m| scale_m < width_m);
        self.usual_squares[scale.min(self.usual_squares.len() - 1)]
    }

    /// P-values of breaks, adjusted for the places searched and for how many breaks there are.
    fn adjusted<'a>(&self, fronts: impl Iterator<Item = &'a Profile>) -> Vec<f64> {
        let chances: Vec<f64> = fronts.map(|front| chance(front.evidence)).collect();
        benjamini_hochberg(&chances, self.places)
    }

    /// The least evidence of the breaks whose adjusted p-values are small enough; infinite where none is.
    fn evidence_borne_out<'a>(
        &self,
        fronts: impl Iterator<Item = &'a Profile> + Clone,
        greatest_p_value: f64,
    ) -> f64 {
        let adjusted = self.adjusted(fronts.clone());
        fronts
            .zip(adjusted)
            .filter(|(_, p_value)| *p_value <= greatest_p_value)
            .map(|(front, _)| front.evidence)
            .fold(f64::INFINITY, f64::min)
    }
}

/// By how much contrasts of a scale are smaller than the noise model says. The correlated part of the model is strongest
/// over long times; what correcting for a lag leaves is correlated, too, and weakest there.
fn usual_square(left: &Track, scale_m: f64, noise: &Noise, wanted: &Wanted) -> f64 {
    let cells = left.stretches.iter().map(|stretch| &stretch.cells[..]);
    candidates::usual_square(cells, scale_m, noise)
        .map_or(1.0, |square| square.clamp(wanted.ordinary.least_square, 1.0))
}

/// Chance of as much evidence from noise at one place.
fn chance(evidence: f64) -> f64 {
    ChiSquared::new(STEP_PARAMETERS).map_or(1.0, |chi| chi.sf(evidence))
}

/// Evidence that noise reaches with a given chance at any of some places.
fn least_evidence(places: f64, p_value: f64) -> f64 {
    ChiSquared::new(STEP_PARAMETERS).map_or(f64::INFINITY, |chi| chi.inverse_cdf(1.0 - p_value / places))
}

/// The search of one stretch.
struct Search<'a> {
    stretch: &'a Stretch,
    noise: &'a Noise,
    limits: &'a Limits,
}

impl Search<'_> {
    /// Adds breaks until a round finds none, each round in what the breaks before it leave.
    fn forward(&self, fronts: &mut Vec<Profile>) {
        for _ in 0..ROUNDS {
            let before = fronts.len();
            for candidate in self.candidates(fronts) {
                // the contrast beside a break of this round is that break's own
                let is_taken =
                    |f: &Profile| (f.centre_m - candidate.centre_m).abs() < candidate.scale_m.max(f.width_m);
                if !fronts[before..].iter().any(is_taken) {
                    fronts.extend(self.fit_candidate(&candidate, fronts).filter(|front| self.holds(front)));
                }
            }
            if fronts.len() == before {
                break;
            }
            self.backward(fronts);
        }
    }

    /// Candidates at all scales in what some breaks leave, strongest first.
    fn candidates(&self, fronts: &[Profile]) -> Vec<Candidate> {
        let left = less(&self.stretch.cells, fronts);
        let least_contrast = CANDIDATE_CONTRAST * self.limits.least_step;
        let mut candidates: Vec<Candidate> = self
            .limits
            .scales_m
            .iter()
            .flat_map(|&scale_m| candidates::at_scale(&left, scale_m, least_contrast, self.noise))
            .collect();
        candidates.sort_by(|a, b| b.strength.total_cmp(&a.strength).then(a.centre_m.total_cmp(&b.centre_m)));
        candidates
    }

    fn fit_candidate(&self, candidate: &Candidate, others: &[Profile]) -> Option<Profile> {
        let scale_m = candidate.scale_m;
        let starts: Vec<Start> = [-0.4, -0.2, 0.0, 0.2, 0.4]
            .iter()
            .flat_map(|shift| [0.15, 0.4, 0.8, 1.5].map(|part| (shift, part)))
            .map(|(shift, part)| Start {
                centre_m: candidate.centre_m + shift * scale_m,
                width_m: part * scale_m,
            })
            .collect();
        let front = self.fit(&starts, WINDOW_PER_WIDTH * scale_m, others)?;
        let wandered_m = (front.centre_m - candidate.centre_m).abs();
        (wandered_m <= scale_m.max(front.width_m)).then(|| self.fit_again(&front, others))?
    }

    /// Fits a break anew from where it is, over a window that suits its width.
    fn fit_again(&self, front: &Profile, others: &[Profile]) -> Option<Profile> {
        let width_m = front.width_m.min(self.limits.greatest_width_m);
        let starts = [0.7, 1.0, 1.4].map(|part| Start { centre_m: front.centre_m, width_m: part * width_m });
        self.fit(&starts, WINDOW_PER_WIDTH * width_m, others)
    }

    fn fit(&self, starts: &[Start], window_m: f64, others: &[Profile]) -> Option<Profile> {
        let centre_m = starts.iter().map(|s| s.centre_m).sum::<f64>() / starts.len() as f64;
        let spacing_m = self.stretch.spacing_at_m(centre_m);
        let half_m = window_m.max(LEAST_WINDOW_M).max(6.0 * spacing_m);
        let cell_m = self.limits.cell_m.max(half_m / CELLS_PER_WINDOW);
        let cells = less(&self.stretch.window(centre_m - half_m, centre_m + half_m, cell_m), others);
        let problem = Problem {
            cells: &cells,
            noise: self.noise,
            noise_is_known: true,
            background: Background::Slope {
                sd_per_m: self.noise.slope_per_m * (BACKGROUND_SLOPE_M / half_m).min(1.0),
            },
            narrowest_m: cell_m.max(spacing_m),
            // broader than counts, so that a slope shows itself as one
            broadest_m: 3.0 * half_m.max(self.limits.greatest_width_m),
            least_gain: self.limits.least_gain,
        };
        problem.fit(starts)
    }

    /// Fits every break beside the others, and drops those that no longer hold, the weakest first.
    fn backward(&self, fronts: &mut Vec<Profile>) {
        fronts.sort_by(|a, b| a.evidence.total_cmp(&b.evidence));
        let mut i = 0;
        while i < fronts.len() {
            let front = fronts.remove(i);
            let again = self.fit_again(&front, fronts).filter(|again| {
                self.holds(again)
                    && !fronts.iter().any(|other| overlap(again, other) && again.evidence < other.evidence)
            });
            if let Some(again) = again {
                fronts.insert(i, again);
                i += 1;
            }
        }
        fronts.sort_by(|a, b| a.centre_m.total_cmp(&b.centre_m));
    }

    /// Whether a step counts as a break.
    fn holds(&self, front: &Profile) -> bool {
        let (Some(first), Some(last)) = (self.stretch.cells.first(), self.stretch.cells.last()) else {
            return false;
        };
        let side_m = SIDES_PER_WIDTH * front.width_m;
        front.step.abs() >= self.limits.least_step
            && front.width_m <= self.limits.greatest_width_m
            && front.centre_m - side_m >= first.distance_m
            && front.centre_m + side_m <= last.distance_m
            && front.evidence >= self.limits.least_evidence
    }

    fn step(&self, fronts: &[Profile], index: usize, p_value: f64) -> Option<Step> {
        let front = &fronts[index];
        let spacing_m = self.stretch.spacing_at_m(front.centre_m);
        let width_m = front.width_m.max(spacing_m);
        // within one spacing the centre may lie anywhere
        let unresolved_m = if front.width_m <= spacing_m { spacing_m / 12_f64.sqrt() } else { 0.0 };
        let half_step = 0.5 * front.step;
        // the level was fitted to what the other steps leave
        let others = fronts[..index].iter().chain(&fronts[index + 1..]);
        let level = front.level + others.map(|other| other.step_at(front.centre_m)).sum::<f64>();
        Some(Step {
            time_s: self.stretch.time_at(front.centre_m)?,
            distance_m: front.centre_m,
            before: level - half_step,
            after: level + half_step,
            width_m,
            steepest_per_km: 1000.0 * half_step.abs() * WIDTH_PER_SCALE / width_m,
            centre_se_m: front.centre_se_m.hypot(unresolved_m),
            height_se: front.step_se * self.limits.usual_square(width_m).sqrt(),
            p_value,
            gap_m: self.stretch.longest_gap_m(front.centre_m - 0.5 * width_m, front.centre_m + 0.5 * width_m),
        })
    }
}

/// Whether two steps lie so near each other that from 10 % to 90 % they are the same water.
fn overlap(a: &Profile, b: &Profile) -> bool {
    (a.centre_m - b.centre_m).abs() < 0.5 * (a.width_m + b.width_m)
}

/// Cells with the steps of some breaks taken off.
fn less(cells: &[Cell], fronts: &[Profile]) -> Vec<Cell> {
    let mut left = cells.to_vec();
    for front in fronts {
        for cell in &mut left {
            cell.value -= front.step_at(cell.distance_m);
        }
    }
    left
}
