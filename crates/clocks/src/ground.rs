//! What does the evidence say about a stretch of the log that ran on one clock?

use std::ops::Range;

use crate::blocks::{Block, blocks};
use crate::curve::Curve;
use crate::fine::{Closes, Fine};
use crate::reference::Reference;
use crate::resets::{Verdict, judge};
use crate::scan::{STEP_S, Scan, gain_by_chance, scan};
use crate::segments::spells;
use crate::{Evidence, Grade, LineEvent, Sample, Settings, lines};

/// Lags this close to where the gear log puts a segment are looked at again, s.
const NEAR_LINES_S: f64 = 240.0;
/// Most times that a stretch is cut in two.
const CUTS_DEEP: usize = 5;
/// What a piece of a cut log must stand out by more than the whole, as a difference of log-likelihoods: a cut is chosen, and
/// a short piece finds a place that fits more easily.
const PIECE_MARGIN: f64 = 4.0;
/// What the standard error is multiplied by where no second stretch of the log bears the offset out. Found on simulated
/// trips: a front that the thermocline comes up under looks like one that is somewhere else.
const ALONE: f64 = 4.0;
/// Looks until the scan and the close look agree on the best lag.
const LOOKS: usize = 3;

/// What was found about a stretch.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Found {
    pub grade: Grade,
    pub evidence: Evidence,
    /// Offset at `at_s` on the log's own clock, s.
    pub offset_s: f64,
    pub at_s: f64,
    pub drift: f64,
    pub se_s: f64,
}

/// A stretch of the log and what was found about it.
#[derive(Clone, Debug)]
pub(crate) struct Piece {
    pub samples: Range<usize>,
    pub found: Option<Found>,
}

/// The series of a stretch, laid over the boat's at every lag.
struct Look {
    /// Positions, else speed and temperature together.
    blocks: Vec<Block>,
    scan: Scan,
    /// Number of spells.
    spells: usize,
    /// Middle of the stretch on the log's own clock.
    at_s: f64,
}

/// What speed and temperature, or positions, say.
struct Series {
    found: Found,
    /// What the silences hid.
    verdict: Verdict,
}

pub(crate) struct Ground<'a> {
    pub reference: &'a Reference,
    pub lines: &'a [LineEvent],
    pub settings: &'a Settings,
}

pub(crate) fn middle_s(segment: &[Sample]) -> f64 {
    0.5 * (segment[0].time_s + segment[segment.len() - 1].time_s)
}

impl Ground<'_> {
    /// What the evidence says about samples whose offset lies in `room`. They are cut where the clock was set unseen, and
    /// where a part of them is proven and another is not. `cuts`: how often they were cut already.
    pub fn pieces(
        &self,
        log: &[Sample],
        samples: &Range<usize>,
        room: (f64, f64),
        cuts: usize,
    ) -> Vec<Piece> {
        let segment = &log[samples.clone()];
        let whole = |found| vec![Piece { samples: samples.clone(), found }];
        let spells = spells(segment);
        let cut = |spell: usize| self.cut(log, samples, samples.start + spells[spell].start, room, cuts);
        let look = self.look(segment, &spells);
        let Some((grid, allowed)) = self.lags(&look.scan, room) else {
            // nowhere is the boat's record long enough for all of it: was the clock set forward in the longest silence?
            let silence_s = |spell: &usize| {
                segment[spells[*spell].start].time_s - segment[spells[*spell].start - 1].time_s
            };
            let longest = (1..spells.len()).max_by(|a, b| silence_s(a).total_cmp(&silence_s(b)));
            return longest.and_then(cut).unwrap_or_else(|| whole(None));
        };
        let margin = self.settings.rival_margin + PIECE_MARGIN * cuts as f64;
        let mut closes = Closes::new(&look.blocks, self.reference);
        let series = self.by_series((&look, &mut closes), &allowed, margin);
        if let Some(Series { verdict: Verdict::Set(spell), .. }) = series
            && let Some(pieces) = cut(spell)
        {
            return pieces;
        }
        if let Some(Series { found, verdict: Verdict::Proven(proven) }) = &series
            && found.grade == Grade::Certain
        {
            let assumed = Found { grade: Grade::About, evidence: Evidence::Continuity, ..*found };
            let parts =
                [(0..proven.start, assumed), (proven.clone(), *found), (proven.end..spells.len(), assumed)];
            let piece = |(part, found): (Range<usize>, Found)| Piece {
                samples: samples.start + spells[part.start].start..samples.start + spells[part.end - 1].end,
                found: Some(found),
            };
            return parts.into_iter().filter(|(part, _)| !part.is_empty()).map(piece).collect();
        }
        whole(self.with_lines(
            segment,
            (&look, &mut closes),
            series.map(|series| series.found),
            &grid,
            &allowed,
        ))
    }

    /// What the evidence says about both sides of a cut; `None` where a side is left without an answer: such a cut is none
    /// that is known.
    fn cut(
        &self,
        log: &[Sample],
        samples: &Range<usize>,
        at: usize,
        room: (f64, f64),
        cuts: usize,
    ) -> Option<Vec<Piece>> {
        if cuts >= CUTS_DEEP {
            return None;
        }
        let sides = [samples.start..at, at..samples.end];
        let pieces: Vec<Piece> =
            sides.iter().flat_map(|side| self.pieces(log, side, room, cuts + 1)).collect();
        let known = |piece: &Piece| piece.found.is_some_and(|found| found.grade != Grade::Ambiguous);
        pieces.iter().all(known).then_some(pieces)
    }

    /// The series of a stretch at every lag.
    fn look(&self, segment: &[Sample], spells: &[Range<usize>]) -> Look {
        let of = |evidence| blocks(segment, spells, evidence, self.reference);
        let mut blocks = of(Evidence::Positions);
        if blocks.is_empty() {
            blocks = of(Evidence::Speed);
            blocks.extend(of(Evidence::Temperature));
        }
        let scan = scan(segment, &blocks, self.reference, self.settings);
        Look { blocks, scan, spells: spells.len(), at_s: middle_s(segment) }
    }

    /// All lags, and which of them the stretch can have.
    fn lags(&self, scan: &Scan, room: (f64, f64)) -> Option<(Curve, Vec<bool>)> {
        let grid = Curve { first_s: scan.first_s, step_s: STEP_S, values: vec![0.0; scan.allowed.len()] };
        let within = |at: usize, low: f64, high: f64| low <= grid.offset_s(at) && grid.offset_s(at) <= high;
        let in_room: Vec<bool> = (0..scan.allowed.len())
            .map(|at| scan.allowed[at] && within(at, room.0 - STEP_S, room.1 + STEP_S))
            .collect();
        let believed = self.settings.offset_max_s;
        let near: Vec<bool> =
            in_room.iter().enumerate().map(|(at, is)| *is && within(at, -believed, believed)).collect();
        let allowed = if near.contains(&true) { near } else { in_room };
        allowed.contains(&true).then_some((grid, allowed))
    }

    /// What the series did not settle, with the times of the lines as a further witness.
    fn with_lines(
        &self,
        segment: &[Sample],
        (look, closes): (&Look, &mut Closes),
        series: Option<Found>,
        grid: &Curve,
        allowed: &[bool],
    ) -> Option<Found> {
        let known = |found: &Found| found.grade != Grade::Ambiguous;
        let mut found: Vec<Found> = series.into_iter().collect();
        let by_lines = self.by_lines(segment, grid, allowed);
        if let Some(lines) = by_lines.filter(|_| !found.iter().any(known)) {
            let near: Vec<bool> = (0..allowed.len())
                .map(|at| allowed[at] && (grid.offset_s(at) - lines.offset_s).abs() <= NEAR_LINES_S)
                .collect();
            let again = self.by_series((look, closes), &near, self.settings.rival_margin);
            let again = again
                .filter(|series| matches!(series.verdict, Verdict::Proven(_)))
                .map(|series| series.found);
            // the gear log is a witness, no proof
            found.extend(again.filter(known).map(|f| Found { grade: f.grade.max(Grade::About), ..f }));
        }
        found.extend(by_lines);
        let best =
            found.iter().copied().min_by(|a, b| a.grade.cmp(&b.grade).then(a.se_s.total_cmp(&b.se_s)))?;
        // witnesses that contradict each other prove nothing
        let contradicts =
            |f: &Found| known(f) && (f.offset_s - best.offset_s).abs() > 3.0 * f.se_s.hypot(best.se_s) + 1.0;
        let grade = if found.iter().any(contradicts) { Grade::Ambiguous } else { best.grade };
        Some(Found { grade, ..best })
    }

    /// What positions say, else speed and temperature together.
    fn by_series(
        &self,
        (look, closes): (&Look, &mut Closes),
        allowed: &[bool],
        margin: f64,
    ) -> Option<Series> {
        let settings = self.settings;
        let Look { blocks, scan, spells, at_s } = look;
        let evidence = blocks.first()?.part.evidence();
        let mut n = scan.n.clone();
        let mut seen_s: Option<f64> = None;
        let mut peak = scan.total(&n, |_| true).peak(allowed, settings.rival_s)?;
        for _ in 0..LOOKS {
            if seen_s == Some(peak.offset_s) {
                break;
            }
            let close = closes.about(peak.offset_s);
            // the scan counts cells, the close look samples: both speak of the same effective observations
            n = close.n.iter().zip(&scan.n).map(|(fine, scan)| fine.series.min(2.0 * scan)).collect();
            seen_s = Some(peak.offset_s);
            peak = scan.total(&n, |_| true).peak(allowed, settings.rival_s)?;
        }
        let about_s = seen_s?;
        let close = closes.about(about_s);
        let by_spell: Vec<Vec<f64>> =
            (0..*spells).map(|spell| scan.total(&n, |block| blocks[block].spell == spell).values).collect();
        let verdict = judge(&by_spell, scan.cell(about_s));
        let is_unique = peak.margin >= margin && self.stands_out(scan, blocks, &n, about_s, allowed);
        let unknown = Found {
            grade: Grade::Ambiguous,
            evidence,
            offset_s: 0.0,
            at_s: *at_s,
            drift: 0.0,
            se_s: f64::INFINITY,
        };
        let is_proven =
            |block: &Block| matches!(&verdict, Verdict::Proven(spells) if spells.contains(&block.spell));
        let graded = |fine: Fine, proven: bool| {
            // one place in the log that nothing else bears out knows its error badly
            let alone = if fine.agrees { 1.0 } else { ALONE };
            let se_s = (alone * fine.se_s).hypot(fine.lag_error_s);
            let certain = settings.certain_sigmas * fine.se_s + fine.lag_error_s <= settings.certain_s;
            let is_unique = is_unique && fine.inside && matches!(verdict, Verdict::Proven(_));
            let grade = match () {
                () if is_unique && proven && fine.agrees && certain => Grade::Certain,
                () if is_unique && se_s <= settings.about_s => Grade::About,
                () => Grade::Ambiguous,
            };
            Found { grade, offset_s: fine.offset_s, drift: fine.drift, se_s, ..unknown }
        };
        let by_proven = close.fine(is_proven, *at_s, settings).map(|fine| graded(fine, true));
        let by_all = || close.fine(|_| true, *at_s, settings).map(|fine| graded(fine, false));
        let found =
            by_proven.filter(|found| found.grade == Grade::Certain).or_else(by_all).unwrap_or(unknown);
        Some(Series { found, verdict })
    }

    /// Whether an offset explains more than chance does at the best of so many lags.
    fn stands_out(&self, scan: &Scan, blocks: &[Block], n: &[f64], offset_s: f64, allowed: &[bool]) -> bool {
        let n_allowed = allowed.iter().filter(|a| **a).count() as f64;
        let by_chance = gain_by_chance(blocks) + n_allowed.ln();
        blocks[0].part.is_same() || scan.gain(n, offset_s) > by_chance + 0.5 * self.settings.rival_margin
    }

    fn by_lines(&self, segment: &[Sample], grid: &Curve, allowed: &[bool]) -> Option<Found> {
        let start_s = self.reference.start_s;
        let boat_s = (start_s, start_s + self.reference.len() as f64);
        let fit = lines::fit(segment, self.lines, grid, allowed, boat_s)?;
        let peak = fit.curve.peak(allowed, lines::APART_S)?;
        let (offset_s, se_s) = fit.refined(self.lines, peak.offset_s)?;
        let known = peak.margin >= self.settings.rival_margin && se_s <= self.settings.about_s;
        let grade = if known { Grade::About } else { Grade::Ambiguous };
        Some(Found { grade, evidence: Evidence::Lines, offset_s, at_s: middle_s(segment), drift: 0.0, se_s })
    }
}
