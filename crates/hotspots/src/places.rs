//! Where are lines to be set first?

use waterseam_units::LatLon;
use waterseam_units::geodesy::distance_m;

use crate::cells;
use crate::conditional::Expected;

/// Where the boat leaves from, and how far she may run.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Near {
    /// Port.
    pub from: Option<LatLon>,
    /// Farthest place, m in a straight line.
    pub within_m: Option<f64>,
}

/// A place to start.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Start {
    /// What is to be expected there.
    pub expected: Expected,
    /// From the port in a straight line, m.
    pub distance_m: Option<f64>,
}

/// The best places for a day, at most `most`, the best first: by the rate to be expected, which is shrunk, so that a place of which little is known is
/// not first by luck. No two are neighbours: the second place is for when the first gives nothing.
pub fn places(expected: &[Expected], near: &Near, most: usize) -> Vec<Start> {
    let distance = |at: LatLon| near.from.map(|from| distance_m(from, at));
    let mut starts: Vec<Start> =
        expected.iter().map(|&expected| Start { expected, distance_m: distance(expected.at) }).collect();
    starts.retain(|start| match (start.distance_m, near.within_m) {
        (Some(distance_m), Some(within_m)) => distance_m <= within_m,
        _ => true,
    });
    starts.sort_by(|a, b| {
        let (a, b) = (&a.expected, &b.expected);
        b.rate.total_cmp(&a.rate).then(a.cell.cmp(&b.cell))
    });
    let mut chosen: Vec<Start> = Vec::new();
    for start in starts {
        if chosen.len() == most {
            break;
        }
        let beside = cells::rings(start.expected.cell, 1).concat();
        if !chosen.iter().any(|other| beside.contains(&other.expected.cell)) {
            chosen.push(start);
        }
    }
    chosen
}

#[cfg(test)]
mod tests {
    use super::*;

    fn expected(cell: u64, rate: f64) -> Expected {
        let at = cells::centre(cell).unwrap();
        Expected { cell, at, rate, low: 0.5 * rate, high: 2.0 * rate, times_average: rate }
    }

    #[test]
    fn the_best_that_are_near_and_apart() {
        let middle = cells::of(LatLon { lat_deg: 46.2, lon_deg: -29.4 }, 7).unwrap();
        let rings = cells::rings(middle, 3);
        let all = [
            expected(middle, 3.0),
            expected(rings[1][0], 2.9),
            expected(rings[3][0], 2.0),
            expected(rings[3][9], 1.0),
        ];
        let rates = |near: &Near, most| -> Vec<f64> {
            places(&all, near, most).iter().map(|start| start.expected.rate).collect()
        };
        assert_eq!(rates(&Near::default(), 2), [3.0, 2.0]);
        assert_eq!(rates(&Near::default(), 9), [3.0, 2.0, 1.0]);
        let near = Near { from: Some(all[0].at), within_m: Some(1000.0) };
        assert_eq!(rates(&near, 9), [3.0]);
        assert!(places(&[], &near, 3).is_empty());
    }
}
