//! What is to be added to the clock of each segment, and is that sure enough to do it?

use std::ops::Range;

use crate::blocks::{Block, Part, blocks};
use crate::curve::Curve;
use crate::fine::{Fine, fine};
use crate::reference::Reference;
use crate::scan::{STEP_S, Scan, scan};
use crate::segments::{Boundary, goes_on, segments};
use crate::{Aligned, Boat, Evidence, Grade, LineEvent, Sample, Settings, lines};

/// A segment that went on without a break begins this close to the end of the one before, s.
const GOES_ON_S: f64 = 60.0;
/// No continuity is better than this as a clock, s.
const CONTINUITY_SE_S: f64 = 20.0;
/// No bound on an offset.
const ANYWHERE: (f64, f64) = (f64::NEG_INFINITY, f64::INFINITY);
/// Most segments that a log is cut into: a clock that is set more often is broken.
const SEGMENTS_MAX: usize = 40;
/// Lags this close to where the gear log puts a segment are looked at again, s.
const NEAR_LINES_S: f64 = 240.0;

/// Lines up a log with the boat's record.
///
/// One entry for each segment of the log, in the order of the file. Nothing is certain that the evidence does not single
/// out: see [`Grade`].
///
/// # Units
/// All times s; the boat's since any epoch, the log's since the same one by its own clock.
pub fn align(log: &[Sample], boat: &Boat, lines: &[LineEvent], settings: &Settings) -> Vec<Aligned> {
    let unknown = |samples: &Range<usize>| Aligned {
        samples: samples.clone(),
        grade: Grade::Ambiguous,
        evidence: None,
        offset_s: 0.0,
        drift: 0.0,
        at_s: middle_s(&log[samples.clone()]),
        se_s: f64::INFINITY,
    };
    let mut segments = joined(segments(log, settings));
    let Some(reference) = Reference::new(boat) else {
        return segments.iter().map(|(samples, _)| unknown(samples)).collect();
    };
    let ground = Ground { reference: &reference, lines, settings };
    let mut aligned: Vec<Aligned> = Vec::new();
    while let Some((samples, boundary)) = segments.get(aligned.len()).cloned() {
        let segment = &log[samples.clone()];
        let found = ground.segment(segment, ANYWHERE);
        if let Some(cut) = found.and_then(|found| found.cut).filter(|_| segments.len() < SEGMENTS_MAX) {
            // its parts speak for different offsets: each is looked at on its own
            let at = samples.start + cut;
            let place = aligned.len();
            segments[place] = (samples.start..at, boundary);
            segments.insert(place + 1, (at..samples.end, Boundary::Silence));
            continue;
        }
        let mut place = unknown(&samples);
        if let Some(found) = found {
            found.write(&mut place);
        }
        aligned.push(place);
    }
    // what neighbours leave room for
    for at in 0..segments.len() {
        if aligned[at].grade != Grade::Ambiguous {
            continue;
        }
        let Some(room) = room(log, &segments, &aligned, at) else { continue };
        let segment = &log[segments[at].0.clone()];
        let found = ground.segment(segment, room).filter(|found| found.grade != Grade::Ambiguous);
        let width_s = room.1 - room.0;
        let continued = (width_s <= 2.0 * GOES_ON_S).then(|| Found {
            grade: Grade::About,
            evidence: Evidence::Continuity,
            // a probe that went on took its next sample soon, not at the end of what would be possible
            offset_s: room.0 + 0.25 * width_s,
            drift: 0.0,
            se_s: (width_s / 12.0_f64.sqrt()).max(CONTINUITY_SE_S),
            cut: None,
        });
        if let Some(found) = found.or(continued) {
            found.write(&mut aligned[at]);
        }
    }
    aligned
}

/// Segments with those joined that only a silence parts.
fn joined(segments: Vec<(Range<usize>, Boundary)>) -> Vec<(Range<usize>, Boundary)> {
    let mut joined: Vec<(Range<usize>, Boundary)> = Vec::new();
    for (samples, boundary) in segments {
        match joined.last_mut() {
            Some(last) if boundary == Boundary::Silence => last.0.end = samples.end,
            _ => joined.push((samples, boundary)),
        }
    }
    joined
}

/// Offsets that the segments before and after leave to one, lowest and highest; `None` without such a neighbour.
fn room(
    log: &[Sample],
    segments: &[(Range<usize>, Boundary)],
    aligned: &[Aligned],
    at: usize,
) -> Option<(f64, f64)> {
    let samples = &segments[at].0;
    let known = |at: usize| aligned.get(at).filter(|a| a.grade != Grade::Ambiguous);
    let before = at.checked_sub(1).and_then(known);
    let after = known(at + 1);
    let (first_s, last_s) = (log[samples.start].time_s, log[samples.end - 1].time_s);
    let lowest = before.map(|b| (b.gps_s(log[samples.start - 1].time_s) - first_s, 3.0 * b.se_s));
    let highest = after.map(|a| (a.gps_s(log[samples.end].time_s) - last_s, 3.0 * a.se_s));
    let mut room = (
        lowest.map_or(f64::NEG_INFINITY, |(offset, slack)| offset - slack),
        highest.map_or(f64::INFINITY, |(offset, slack)| offset + slack),
    );
    // a clock that was set while the probe hung at one depth
    if let Some((offset, slack)) = lowest.filter(|_| segments[at].1 == Boundary::Backward)
        && goes_on(log, samples.start)
    {
        room.1 = room.1.min(offset + slack + GOES_ON_S);
    }
    let next = segments.get(at + 1).is_some_and(|next| next.1 == Boundary::Backward);
    if let Some((offset, slack)) = highest.filter(|_| next)
        && goes_on(log, samples.end)
    {
        room.0 = room.0.max(offset - slack - GOES_ON_S);
    }
    (before.is_some() || after.is_some()).then_some(room)
}

fn middle_s(segment: &[Sample]) -> f64 {
    0.5 * (segment[0].time_s + segment[segment.len() - 1].time_s)
}

/// What was found about a segment.
#[derive(Clone, Copy, Debug)]
struct Found {
    grade: Grade,
    evidence: Evidence,
    offset_s: f64,
    drift: f64,
    se_s: f64,
    /// Sample of the segment from which on it speaks for another offset than before.
    cut: Option<usize>,
}

impl Found {
    fn write(self, to: &mut Aligned) {
        to.grade = self.grade;
        to.evidence = Some(self.evidence);
        if self.grade != Grade::Ambiguous {
            (to.offset_s, to.drift, to.se_s) = (self.offset_s, self.drift, self.se_s);
        }
    }
}

struct Ground<'a> {
    reference: &'a Reference,
    lines: &'a [LineEvent],
    settings: &'a Settings,
}

impl Ground<'_> {
    /// What the evidence says about a segment whose offset lies in `room`.
    fn segment(&self, segment: &[Sample], room: (f64, f64)) -> Option<Found> {
        let empty = scan(segment, &[], self.reference, self.settings);
        let grid = self.grid(segment, &empty);
        let within = |at: usize, low: f64, high: f64| low <= grid.offset_s(at) && grid.offset_s(at) <= high;
        let in_room: Vec<bool> = (0..empty.allowed.len())
            .map(|at| empty.allowed[at] && within(at, room.0 - STEP_S, room.1 + STEP_S))
            .collect();
        let believed = self.settings.offset_max_s;
        let near: Vec<bool> =
            in_room.iter().enumerate().map(|(at, is)| *is && within(at, -believed, believed)).collect();
        let allowed = if near.contains(&true) { near } else { in_room };
        if !allowed.contains(&true) {
            return None;
        }
        let mut found: Vec<Found> = [Evidence::Positions, Evidence::Speed, Evidence::Temperature]
            .into_iter()
            .filter_map(|evidence| self.by_series(segment, evidence, &allowed))
            .collect();
        let known = |f: &Found| f.grade != Grade::Ambiguous;
        if !found.iter().any(|f| f.grade == Grade::Certain) {
            let by_lines = self.by_lines(segment, &grid, &allowed);
            if let Some(lines) = by_lines.filter(|_| !found.iter().any(known)) {
                let near: Vec<bool> = (0..allowed.len())
                    .map(|at| {
                        let apart_s = (grid.offset_s(at) - lines.offset_s).abs();
                        allowed[at] && apart_s <= NEAR_LINES_S
                    })
                    .collect();
                let again = [Evidence::Speed, Evidence::Temperature]
                    .into_iter()
                    .filter_map(|evidence| self.by_series(segment, evidence, &near))
                    // the gear log is a witness, no proof
                    .map(|f| Found { grade: f.grade.max(Grade::About), ..f });
                found.extend(again.filter(known));
            }
            found.extend(by_lines);
        }
        let best =
            found.iter().copied().min_by(|a, b| a.grade.cmp(&b.grade).then(a.se_s.total_cmp(&b.se_s)))?;
        // witnesses that contradict each other prove nothing
        let contradicts =
            |f: &Found| known(f) && (f.offset_s - best.offset_s).abs() > 3.0 * f.se_s.hypot(best.se_s) + 1.0;
        let grade = if found.iter().any(contradicts) { Grade::Ambiguous } else { best.grade };
        let cut = if known(&best) { None } else { found.iter().find_map(|f| f.cut) };
        Some(Found { grade, cut, ..best })
    }

    fn grid(&self, segment: &[Sample], scan: &Scan) -> Curve {
        let n_lags = scan.allowed.len();
        Curve {
            first_s: scan.first_s,
            step_s: STEP_S,
            values: vec![0.0; if segment.is_empty() { 0 } else { n_lags }],
        }
    }

    fn by_series(&self, segment: &[Sample], evidence: Evidence, allowed: &[bool]) -> Option<Found> {
        let settings = self.settings;
        let blocks = blocks(segment, evidence, self.reference);
        if blocks.is_empty() {
            return None;
        }
        let scan = scan(segment, &blocks, self.reference, settings);
        let at_s = middle_s(segment);
        let mut n = scan.n.clone();
        let mut look: Option<(Fine, f64, f64)> = None;
        for _ in 0..3 {
            let total = scan.total(&n);
            let peak = total.peak(allowed, settings.rival_s)?;
            if let Some((_, at, _)) = &look
                && *at == peak.offset_s
            {
                look = look.map(|(fine, at, _)| (fine, at, peak.margin));
                break;
            }
            let close = fine(&blocks, self.reference, peak.offset_s, at_s, settings);
            // the scan counts cells, the close look samples: both speak of the same effective observations
            n = close.n.iter().zip(&scan.n).map(|(fine, scan)| fine.min(2.0 * scan)).collect();
            look = Some((close, peak.offset_s, peak.margin));
        }
        let (fine, _, margin) = look?;
        let gain = scan.gain(&n, fine.offset_s);
        let n_allowed = allowed.iter().filter(|a| **a).count() as f64;
        let by_chance = scan.gain_by_chance(&blocks) + n_allowed.ln();
        let stands_out = blocks[0].part.is_same() || gain > by_chance + 0.5 * settings.rival_margin;
        let unique = margin >= settings.rival_margin && fine.inside && stands_out;
        let (shift_s, lag_error_s) = self.lags(&blocks);
        let se_s = fine.se_s.hypot(lag_error_s);
        let certain = settings.certain_sigmas * fine.se_s + lag_error_s <= settings.certain_s;
        let cut =
            scan.contradiction(&n, fine.offset_s, allowed).filter(|(lost, _)| *lost > settings.rival_margin);
        let cut = cut.and_then(|(_, block)| cut_before(segment, &blocks[block - 1], &blocks[block]));
        let unique = unique && cut.is_none();
        let grade = if unique && fine.halves_agree && certain {
            Grade::Certain
        } else if unique && se_s <= settings.about_s {
            Grade::About
        } else {
            Grade::Ambiguous
        };
        Some(Found { grade, evidence, offset_s: fine.offset_s + shift_s, drift: fine.drift, se_s, cut })
    }

    /// What the sensors' lags add to an offset, and the error of that, s.
    fn lags(&self, blocks: &[Block]) -> (f64, f64) {
        let s = self.settings;
        match blocks[0].part {
            Part::Place(_) => (0.0, 0.2),
            Part::Speed => (0.0, s.speed_lag_error_s),
            // hull: T(t - hull lag), probe: T(t - probe lag)
            Part::Temp => (s.probe_lag_s - s.hull_lag_s, s.hull_lag_error_s.hypot(s.probe_lag_error_s)),
        }
    }

    fn by_lines(&self, segment: &[Sample], grid: &Curve, allowed: &[bool]) -> Option<Found> {
        let start_s = self.reference.start_s;
        let boat_s = (start_s, start_s + self.reference.len() as f64);
        let fit = lines::fit(segment, self.lines, grid, allowed, boat_s)?;
        let peak = fit.curve.peak(allowed, lines::APART_S)?;
        let (offset_s, se_s) = fit.refined(self.lines, peak.offset_s)?;
        let known = peak.margin >= self.settings.rival_margin && se_s <= self.settings.about_s;
        let grade = if known { Grade::About } else { Grade::Ambiguous };
        Some(Found { grade, evidence: Evidence::Lines, offset_s, drift: 0.0, se_s, cut: None })
    }
}

/// The sample behind the longest silence between two blocks.
fn cut_before(segment: &[Sample], before: &Block, after: &Block) -> Option<usize> {
    let from_s = *before.time_s.last()?;
    let to_s = *after.time_s.first()?;
    let step = |at: &usize| segment[*at].time_s - segment[*at - 1].time_s;
    let between = |at: &usize| segment[*at - 1].time_s >= from_s && segment[*at].time_s <= to_s;
    (1..segment.len()).filter(between).max_by(|a, b| step(a).total_cmp(&step(b)))
}
