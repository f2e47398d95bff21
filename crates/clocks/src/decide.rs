//! What is to be added to the clock of each segment, and is that sure enough to do it?

use std::ops::Range;

use crate::ground::{Found, Ground, Piece, middle_s};
use crate::reference::Reference;
use crate::segments::{Boundary, goes_on, segments};
use crate::{Aligned, Boat, Evidence, Grade, LineEvent, Sample, Settings};

/// A segment that went on without a break begins this close to the end of the one before, s.
const GOES_ON_S: f64 = 60.0;
/// No continuity is better than this as a clock, s.
const CONTINUITY_SE_S: f64 = 20.0;
/// No bound on an offset.
const ANYWHERE: (f64, f64) = (f64::NEG_INFINITY, f64::INFINITY);

/// Lines up a log with the boat's record.
///
/// One entry for each segment of the log, in the order of the file. Nothing is certain that the evidence does not single
/// out: see [`Grade`].
///
/// # Units
/// All times s; the boat's since any epoch, the log's since the same one by its own clock.
pub fn align(log: &[Sample], boat: &Boat, lines: &[LineEvent], settings: &Settings) -> Vec<Aligned> {
    let segments = joined(segments(log, settings));
    let unknown = |(samples, _): &(Range<usize>, Boundary)| Aligned {
        samples: samples.clone(),
        grade: Grade::Ambiguous,
        evidence: None,
        offset_s: 0.0,
        drift: 0.0,
        at_s: middle_s(&log[samples.clone()]),
        se_s: f64::INFINITY,
    };
    let Some(reference) = Reference::new(boat, log, settings) else {
        return segments.iter().map(unknown).collect();
    };
    let ground = Ground { reference: &reference, lines, settings };
    let of_segment = |(samples, boundary): (Range<usize>, Boundary)| {
        let pieces = ground.pieces(log, &samples, ANYWHERE, 0).into_iter();
        // within a segment only silences part the pieces
        pieces.enumerate().map(move |(at, piece)| (piece, if at == 0 { boundary } else { Boundary::Silence }))
    };
    let (pieces, boundaries): (Vec<Piece>, Vec<Boundary>) = segments.into_iter().flat_map(of_segment).unzip();
    let segments: Vec<(Range<usize>, Boundary)> =
        pieces.iter().map(|piece| piece.samples.clone()).zip(boundaries).collect();
    let mut aligned: Vec<Aligned> = segments.iter().map(unknown).collect();
    for (place, piece) in aligned.iter_mut().zip(&pieces) {
        piece.found.iter().for_each(|found| found.write(place));
    }
    // what neighbours leave room for
    for at in 0..segments.len() {
        if aligned[at].grade != Grade::Ambiguous {
            continue;
        }
        let Some(room) = room(log, &segments, &aligned, at) else { continue };
        let samples = &segments[at].0;
        let known =
            |piece: Piece| piece.found.filter(|f| f.grade != Grade::Ambiguous && piece.samples == *samples);
        let found = ground.pieces(log, samples, room, 1).into_iter().find_map(known);
        let width_s = room.1 - room.0;
        let continued = (width_s <= 2.0 * GOES_ON_S).then(|| Found {
            grade: Grade::About,
            evidence: Evidence::Continuity,
            // a probe that went on took its next sample soon, not at the end of what would be possible
            offset_s: room.0 + 0.25 * width_s,
            at_s: middle_s(&log[samples.clone()]),
            drift: 0.0,
            se_s: (width_s / 12.0_f64.sqrt()).max(CONTINUITY_SE_S),
        });
        found.or(continued).iter().for_each(|found| found.write(&mut aligned[at]));
    }
    aligned
}

impl Found {
    fn write(&self, to: &mut Aligned) {
        to.grade = self.grade;
        to.evidence = Some(self.evidence);
        if self.grade != Grade::Ambiguous {
            (to.offset_s, to.at_s, to.drift, to.se_s) = (self.offset_s, self.at_s, self.drift, self.se_s);
        }
    }
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

#[cfg(test)]
mod tests {
    use waterseam_units::{LatLon, LocalFrame};

    use super::*;

    const START_S: f64 = 1.78e9;
    const HOURS: f64 = 4.0;

    /// Four hours of zigzag at 1.2 m/s.
    fn boat() -> Boat {
        let frame = LocalFrame::new(LatLon { lat_deg: 46.2, lon_deg: -29.4 });
        let place = |t: f64| {
            let leg = (t / 1500.0).floor();
            let along = t - 1500.0 * leg;
            let north_m = if leg % 2.0 == 0.0 { 1.2 * along } else { 1.2 * (1500.0 - along) };
            frame.to_position(0.6 * t, north_m)
        };
        let times = (0..(3600.0 * HOURS) as usize).map(|t| t as f64);
        Boat { fixes: times.map(|t| (START_S + t, place(t))).collect(), ..Boat::default() }
    }

    /// A log with positions on a clock that is behind, every five seconds of the second and third hour.
    fn log(boat: &Boat, behind_s: impl Fn(f64) -> f64) -> Vec<Sample> {
        let sample = |&(t, at): &(f64, LatLon)| Sample {
            time_s: t - behind_s(t - START_S),
            depth_m: 12.0,
            at: Some(at),
            ..Sample::default()
        };
        boat.fixes[3600..10_800].iter().step_by(5).map(sample).collect()
    }

    #[test]
    fn positions_tell_the_offset() {
        let boat = boat();
        let log = log(&boat, |_| 5.0 * 3600.0 - 7.0);
        let [only] = &align(&log, &boat, &[], &Settings::default())[..] else { panic!("one segment") };
        assert_eq!((only.grade, only.evidence), (Grade::Certain, Some(Evidence::Positions)));
        assert!((only.offset_s - (5.0 * 3600.0 - 7.0)).abs() < 0.5, "{only:?}");
    }

    #[test]
    fn a_clock_that_was_set_back_makes_two_segments() {
        let boat = boat();
        let log = log(&boat, |t| if t < 7000.0 { 30.0 } else { 3630.0 });
        let aligned = align(&log, &boat, &[], &Settings::default());
        let offsets: Vec<f64> = aligned.iter().map(|segment| segment.offset_s.round()).collect();
        assert_eq!(offsets, [30.0, 3630.0]);
        assert!(aligned.iter().all(|segment| segment.grade == Grade::Certain), "{aligned:?}");
        assert_eq!(aligned[0].samples.end, aligned[1].samples.start);
    }

    #[test]
    fn without_a_record_nothing_is_known() {
        let log = log(&boat(), |_| 0.0);
        let aligned = align(&log, &Boat::default(), &[], &Settings::default());
        assert!(aligned.iter().all(|segment| segment.grade == Grade::Ambiguous && !segment.is_off()));
    }
}
