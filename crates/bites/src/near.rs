//! How far is the nearest thermal break, and on which side of it is this?
//!
//! A break is known where the boat crossed it (the centres of the crossings), along the way over which she followed a
//! front, and where crossings were joined to a line. The distance is the shortest to any of these, straight, in local metres.
//!
//! The side is found in this order:
//! 1. The nearest break was crossed just before or just after, with no other crossing between: then the
//!    track itself says which side this is, by the temperature before or after that crossing.
//! 2. The nearest is a break line: the side on which the line has its warm water.
//! 3. Otherwise the surface temperature, against the middle of the crossing's step.

use waterseam_breaks::{BreakLine, Crossing, Kind, PlacedCrossing};
use waterseam_units::angle::east_north;
use waterseam_units::{LatLon, LocalFrame};

/// The breaks of a trip.
#[derive(Clone, Copy, Debug)]
pub struct Breaks<'a> {
    /// The instant that is second 0 of the crossings, µs since 1970 UTC.
    pub zero_us: i64,
    /// Crossings in order of time.
    pub crossings: &'a [PlacedCrossing],
    /// Lines joined from them.
    pub lines: &'a [BreakLine],
}

/// Side of a break.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Side {
    /// Where the surface is warmer.
    Warm,
    /// Where it is colder.
    Cold,
}

impl Side {
    /// The word of the tables.
    pub fn word(self) -> &'static str {
        match self {
            Self::Warm => "warm",
            Self::Cold => "cold",
        }
    }

    fn warm_if(warm: bool) -> Self {
        if warm { Self::Warm } else { Self::Cold }
    }
}

/// The nearest break.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct NearBreak {
    /// Distance to it, m.
    pub distance_m: f64,
    /// Side of it, where that can be told.
    pub side: Option<Side>,
}

/// The break nearest to a position, for a boat that was there at a time and measured a surface temperature.
///
/// `None` where the trip has no breaks.
pub fn nearest_break(
    breaks: &Breaks,
    at: LatLon,
    time_us: i64,
    surface_temp_c: Option<f64>,
) -> Option<NearBreak> {
    let frame = LocalFrame::new(at);
    let crossings = breaks.crossings.iter().enumerate().filter(|(_, placed)| is_told(placed));
    let to_crossing = crossings.filter_map(|(index, placed)| {
        let (east_m, north_m) = nearest_point(&frame, placed.way())?;
        Some((east_m.hypot(north_m), index))
    });
    let to_line = breaks.lines.iter().filter_map(|line| Some((nearest_point(&frame, &line.vertices)?, line)));
    let crossing = to_crossing.min_by(|a, b| a.0.total_cmp(&b.0));
    let line = to_line.min_by(|(a, _), (b, _)| a.0.hypot(a.1).total_cmp(&b.0.hypot(b.1)));
    match (crossing, line) {
        (crossing, Some(((east_m, north_m), line)))
            if crossing
                .is_none_or(|(d, index)| east_m.hypot(north_m) < d || line.crossings.contains(&index)) =>
        {
            let (east, north) = east_north(1.0, line.warm_side_deg);
            // the position lies opposite to the direction of the nearest point
            let warm = -(east_m * east + north_m * north) > 0.0;
            let side = side_by_track(breaks, time_us, &line.crossings).unwrap_or(Side::warm_if(warm));
            Some(NearBreak { distance_m: east_m.hypot(north_m), side: Some(side) })
        }
        (Some((distance_m, index)), _) => {
            let by_temp = || {
                let Crossing { temp_before_c, temp_after_c, .. } = breaks.crossings[index].crossing;
                surface_temp_c.map(|temp_c| Side::warm_if(temp_c > 0.5 * (temp_before_c + temp_after_c)))
            };
            Some(NearBreak { distance_m, side: side_by_track(breaks, time_us, &[index]).or_else(by_temp) })
        }
        (None, _) => None,
    }
}

/// Whether a crossing is surely one of a break, and not perhaps the shadow of a cloud.
fn is_told(placed: &PlacedCrossing) -> bool {
    placed.crossing.kind != Kind::MaybeShadow
}

/// The side by the order along the track, if one of these crossings is the last before the time or the
/// first after.
fn side_by_track(breaks: &Breaks, time_us: i64, among: &[usize]) -> Option<Side> {
    let crossed_us = |index: usize| breaks.zero_us + (breaks.crossings[index].crossing.time_s * 1e6) as i64;
    let told = || (0..breaks.crossings.len()).filter(|&index| is_told(&breaks.crossings[index]));
    let next = told().find(|&index| crossed_us(index) > time_us);
    let last = told().take_while(|&index| crossed_us(index) <= time_us).last();
    let adjacent = [last, next].into_iter().flatten().filter(|index| among.contains(index));
    let index = adjacent.min_by_key(|&index| (crossed_us(index) - time_us).abs())?;
    let Crossing { step_c, kind, .. } = breaks.crossings[index].crossing;
    // who ran along a front was on both sides of it by turns
    let warmer_after = (kind != Kind::RunAlong).then_some(step_c > 0.0)?;
    Some(Side::warm_if(warmer_after == (Some(index) == last)))
}

/// The point of a way nearest to the frame's origin, east and north of it, m.
fn nearest_point(frame: &LocalFrame, way: &[LatLon]) -> Option<(f64, f64)> {
    let vertices: Vec<_> = way.iter().map(|&vertex| frame.to_local(vertex)).collect();
    let only = (vertices.len() == 1).then(|| vertices[0]);
    let points = vertices.windows(2).map(|pair| {
        let ((x, y), (dx, dy)) = (pair[0], (pair[1].0 - pair[0].0, pair[1].1 - pair[0].1));
        let length2 = dx * dx + dy * dy;
        let along = if length2 > 0.0 { (-(x * dx + y * dy) / length2).clamp(0.0, 1.0) } else { 0.0 };
        (x + along * dx, y + along * dy)
    });
    points.chain(only).min_by(|a, b| a.0.hypot(a.1).total_cmp(&b.0.hypot(b.1)))
}
