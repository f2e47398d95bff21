//! Which offset is it, to the second, and do the parts of the log agree?

use crate::Settings;
use crate::blocks::{Block, Part};
use crate::curve::Curve;
use crate::look::{Effective, Look, REACH_S};
use crate::reference::Reference;

/// How many blocks must scatter as they should not before their scatter counts as much as the likelihood.
const PRIOR_BLOCKS: f64 = 4.0;
/// Rounds in which the best offset and the noise about it find one another.
const ROUNDS: usize = 2;
/// A block speaks where the boat's record explains it so much better than nothing does, as a difference of log-likelihoods:
/// chance does not reach it at the best of some thousand lags.
const SPEAKS: f64 = 9.0;
/// A block that knows the offset worse than this says nothing, s.
const INFORMATIVE_S: f64 = 8.0;

/// What a close look at a lag found.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Fine {
    /// Offset in the middle of the segment, s.
    pub offset_s: f64,
    /// Its standard error, without the lags of the sensors, s.
    pub se_s: f64,
    /// What the sensors may shift it by, s.
    pub lag_error_s: f64,
    /// Growth of the offset for each second.
    pub drift: f64,
    /// Whether two halves, made of every other block, know the offset and agree on it, and speed and temperature too.
    pub agrees: bool,
    /// Whether the best offset lies inside of the look.
    pub inside: bool,
}

/// Blocks seen closely about an offset.
pub(crate) struct Close<'a> {
    looks: Vec<Look<'a>>,
    /// Effective observations of each block.
    pub n: Vec<Effective>,
    /// Blocks in which the boat's record explains more than chance does.
    speaks: Vec<bool>,
    first_s: f64,
}

/// Close looks at some blocks, each made once.
pub(crate) struct Closes<'a> {
    blocks: &'a [Block],
    reference: &'a Reference,
    made: Vec<(f64, Close<'a>)>,
}

impl<'a> Closes<'a> {
    pub fn new(blocks: &'a [Block], reference: &'a Reference) -> Self {
        Self { blocks, reference, made: Vec::new() }
    }

    /// The one about an offset.
    pub fn about(&mut self, about_s: f64) -> &Close<'a> {
        let known = self.made.iter().position(|(made_s, _)| *made_s == about_s).unwrap_or_else(|| {
            self.made.push((about_s, Close::new(self.blocks, self.reference, about_s)));
            self.made.len() - 1
        });
        &self.made[known].1
    }
}

/// What a block says on its own.
#[derive(Clone, Copy)]
#[expect(clippy::struct_field_names, reason = "all are seconds")]
struct Said {
    /// Its middle from that of the segment, s.
    middle_s: f64,
    /// From what all blocks of its kind say, s.
    apart_s: f64,
    sd_s: f64,
}

/// What all blocks of a kind say.
struct Voice {
    offset_s: f64,
    sd_s: f64,
    lag_error_s: f64,
    inside: bool,
    said: Vec<Said>,
}

impl<'a> Close<'a> {
    /// Looks closely about an offset. The effective observations are measured where all blocks together are best.
    pub fn new(blocks: &'a [Block], reference: &Reference, about_s: f64) -> Self {
        let mut looks: Vec<Look> = blocks.iter().map(|block| Look::new(block, reference, about_s)).collect();
        let first = |look: &Look| 0.3 * look.len() as f64;
        let mut n: Vec<Effective> =
            looks.iter().map(|look| Effective { series: first(look), offset: first(look) }).collect();
        let best = |looks: &[Look], n: &[Effective]| {
            let mut whole = vec![0.0; 2 * REACH_S + 1];
            looks.iter().zip(n).for_each(|(look, n)| look.add(*n, &mut whole));
            highest(&whole)
        };
        let mut at = best(&looks, &n);
        for _ in 0..ROUNDS {
            for look in &mut looks {
                look.whiten(reference, at);
            }
            n = looks.iter().map(|look| look.effective(at)).collect();
            let before = std::mem::replace(&mut at, best(&looks, &n));
            if at == before {
                break;
            }
        }
        let speaks = looks.iter().zip(&n).map(|(look, n)| look.gain(n.series, at) > SPEAKS).collect();
        Self { looks, n, speaks, first_s: about_s - REACH_S as f64 }
    }

    /// The offset by some blocks; `None` where there are none. `at_s` is the middle of the segment on its own clock.
    pub fn fine(&self, is_one: impl Fn(&Block) -> bool, at_s: f64, settings: &Settings) -> Option<Fine> {
        let kinds: [fn(&Part) -> bool; 3] =
            [Part::is_same, |part| *part == Part::Speed, |part| *part == Part::Temp];
        let voices: Vec<Voice> = kinds
            .into_iter()
            .filter_map(|kind| self.voice(|block| kind(&block.part) && is_one(block), at_s, settings))
            .collect();
        let weight = |voice: &Voice| 1.0 / (voice.sd_s.powi(2) + voice.lag_error_s.powi(2));
        let whole: f64 = voices.iter().map(weight).sum();
        if whole <= 0.0 {
            return None;
        }
        let mean = |of: &dyn Fn(&Voice) -> f64| {
            voices.iter().map(|voice| weight(voice) * of(voice)).sum::<f64>() / whole
        };
        let offset_s = mean(&|voice| voice.offset_s);
        let sd_s =
            voices.iter().map(|voice| (weight(voice) * voice.sd_s / whole).powi(2)).sum::<f64>().sqrt();
        let apart_s = voices
            .iter()
            .map(|voice| (voice.offset_s - offset_s).abs() / weight(voice).sqrt().recip().max(0.2))
            .fold(0.0, f64::max);
        let said: Vec<Said> = voices.iter().flat_map(|voice| voice.said.iter().copied()).collect();
        let (drift, drift_sd, centre_s) = drift(&said, 1e-6 * settings.drift_sd_ppm);
        let chi2: f64 = said
            .iter()
            .map(|s| ((s.apart_s - drift * (s.middle_s - centre_s)) / s.sd_s.hypot(0.1)).powi(2))
            .sum();
        // scatter of the blocks, with the likelihood's own word for as many as PRIOR_BLOCKS
        let surplus = (chi2 + PRIOR_BLOCKS) / (said.len().saturating_sub(1) as f64 + PRIOR_BLOCKS);
        let half_s = self
            .looks
            .iter()
            .filter(|look| is_one(look.block))
            .map(|look| (look.middle_s - at_s).abs())
            .fold(0.0, f64::max);
        Some(Fine {
            offset_s: offset_s - drift * centre_s,
            se_s: (sd_s * sd_s * surplus + (drift_sd * half_s).powi(2)).sqrt(),
            lag_error_s: mean(&|voice| voice.lag_error_s),
            drift,
            agrees: apart_s <= 3.0 && halves_agree(&said, settings.certain_s),
            inside: voices.iter().all(|voice| voice.inside),
        })
    }

    /// What the blocks of one kind say.
    fn voice(&self, is_one: impl Fn(&Block) -> bool, at_s: f64, settings: &Settings) -> Option<Voice> {
        let curve = |values| Curve { first_s: self.first_s, step_s: 1.0, values };
        let own = || {
            let speaking = self.looks.iter().zip(&self.n).zip(&self.speaks).filter(|(_, speaks)| **speaks);
            speaking.map(|(look, _)| look).filter(|(look, _)| is_one(look.block))
        };
        let part = own().next()?.0.block.part;
        let mut whole = vec![0.0; 2 * REACH_S + 1];
        own().for_each(|(look, n)| look.add(*n, &mut whole));
        let best = highest(&whole);
        let (offset_s, sd_s) = curve(whole).moments();
        let said = own()
            .map(|(look, n)| {
                let mut own = vec![0.0; 2 * REACH_S + 1];
                look.add(*n, &mut own);
                let (mean_s, sd_s) = curve(own).moments();
                Said { middle_s: look.middle_s - at_s, apart_s: mean_s - offset_s, sd_s }
            })
            .filter(|said| said.sd_s < INFORMATIVE_S)
            .collect();
        let inside = best > 2 && best + 2 < 2 * REACH_S;
        Some(Voice { offset_s, sd_s, lag_error_s: part.lag_error_s(settings), inside, said })
    }
}

fn highest(values: &[f64]) -> usize {
    (0..values.len()).max_by(|a, b| values[*a].total_cmp(&values[*b])).unwrap_or_default()
}

/// Drift, its standard error and the weighted middle of what the blocks say, with a prior of mean 0 on the drift.
fn drift(said: &[Said], prior: f64) -> (f64, f64, f64) {
    let weight = |s: &Said| 1.0 / (s.sd_s * s.sd_s + 0.1);
    let whole: f64 = said.iter().map(weight).sum();
    if whole <= 0.0 {
        return (0.0, prior, 0.0);
    }
    let mean = |of: &dyn Fn(&Said) -> f64| said.iter().map(|s| weight(s) * of(s)).sum::<f64>() / whole;
    let (x_mean, apart_mean) = (mean(&|s| s.middle_s), mean(&|s| s.apart_s));
    let spread: f64 = said.iter().map(|s| weight(s) * (s.middle_s - x_mean).powi(2)).sum();
    let product: f64 =
        said.iter().map(|s| weight(s) * (s.middle_s - x_mean) * (s.apart_s - apart_mean)).sum();
    let precision = spread + 1.0 / (prior * prior);
    (product / precision, precision.sqrt().recip(), x_mean)
}

/// Whether two halves of the blocks, each about as well informed as the other, know the offset and agree.
fn halves_agree(said: &[Said], within_s: f64) -> bool {
    let mut said = said.to_vec();
    said.sort_by(|a, b| a.sd_s.total_cmp(&b.sd_s));
    // sums of weights and of weighted offsets
    let mut halves = [(0.0, 0.0); 2];
    for said in said {
        let weight = 1.0 / (said.sd_s * said.sd_s + 0.1);
        let half = usize::from(halves[1].0 < halves[0].0);
        halves[half] = (halves[half].0 + weight, halves[half].1 + weight * said.apart_s);
    }
    let [a, b] = halves;
    let variance = 1.0 / a.0 + 1.0 / b.0;
    let known = [a, b].iter().all(|half| half.0 > 0.0 && half.0.sqrt().recip() <= within_s);
    known && (a.1 / a.0 - b.1 / b.0).abs() <= 3.0 * variance.sqrt()
}
