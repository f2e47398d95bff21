//! Between which depths lies the water that the fish prefer?

use crate::Bin;
use crate::interpolate::{ABOVE_TOP_M, BIN_GAP_M};

/// Two stretches of preferred water that lie closer, m, are one: noise parts what the water does not.
const MERGE_M: f64 = 2.0;

/// Top and bottom, m, of the thickest stretch of water between two temperatures, linear between bins.
///
/// Both are `None` where no such water was sampled. One alone is `None` where the stretch goes on to the end of what
/// was sampled; a profile that starts within a metre of the surface reaches it.
pub(crate) fn preferred_band(bins: &[Bin], coldest_c: f64, warmest_c: f64) -> (Option<f64>, Option<f64>) {
    let mut bands: Vec<Band> = Vec::new();
    for sampled in bins.chunk_by(|a, b| b.depth_m - a.depth_m <= BIN_GAP_M) {
        let (first, last) = (sampled[0], sampled[sampled.len() - 1]);
        let mut own: Vec<Band> = Vec::new();
        for pair in sampled.windows(2) {
            let Some((from_m, to_m)) = part_between(&pair[0], &pair[1], coldest_c, warmest_c) else {
                continue;
            };
            match own.last_mut() {
                Some(before) if from_m - before.to_m <= MERGE_M => before.to_m = to_m,
                _ => own.push(Band { from_m, to_m, open_above: from_m == first.depth_m, open_below: false }),
            }
        }
        if let Some(band) = own.last_mut() {
            band.open_below = band.to_m == last.depth_m;
        }
        bands.extend(own);
    }
    let thickest = bands.into_iter().max_by(|a, b| (a.to_m - a.from_m).total_cmp(&(b.to_m - b.from_m)));
    let Some(band) = thickest else { return (None, None) };
    let top_m = match band.open_above {
        true if band.from_m <= ABOVE_TOP_M => Some(0.0),
        true => None,
        false => Some(band.from_m),
    };
    (top_m, (!band.open_below).then_some(band.to_m))
}

#[derive(Clone, Copy)]
struct Band {
    from_m: f64,
    to_m: f64,
    open_above: bool,
    open_below: bool,
}

/// The part of the line between two bins that lies between two temperatures.
fn part_between(upper: &Bin, lower: &Bin, coldest_c: f64, warmest_c: f64) -> Option<(f64, f64)> {
    let change_c = lower.temp_c - upper.temp_c;
    let (from, to) = if change_c == 0.0 {
        let inside = (coldest_c..=warmest_c).contains(&upper.temp_c);
        if inside { (0.0, 1.0) } else { return None }
    } else {
        let (a, b) = ((coldest_c - upper.temp_c) / change_c, (warmest_c - upper.temp_c) / change_c);
        (a.min(b).max(0.0), a.max(b).min(1.0))
    };
    let height_m = lower.depth_m - upper.depth_m;
    // the ends themselves, not a sum that rounds: the caller asks whether a band touches them
    let depth_m = |part: f64| if part == 1.0 { lower.depth_m } else { upper.depth_m + part * height_m };
    (from < to).then(|| (depth_m(from), depth_m(to)))
}

#[cfg(test)]
mod tests {
    use waterseam_units::Flag;

    use super::*;

    fn band(points: &[(f64, f64)], coldest_c: f64, warmest_c: f64) -> (Option<f64>, Option<f64>) {
        let bin = |&(depth_m, temp_c)| Bin { depth_m, temp_c, temp_qc: Flag::Pass, samples: 1 };
        preferred_band(&points.iter().map(bin).collect::<Vec<_>>(), coldest_c, warmest_c)
    }

    const CAST: [(f64, f64); 4] = [(1.0, 20.0), (5.0, 20.0), (9.0, 12.0), (13.0, 8.0)];

    #[test]
    fn between_two_isotherms() {
        assert_eq!(band(&CAST, 10.0, 14.0), (Some(8.0), Some(11.0)));
    }

    #[test]
    fn what_was_not_sampled_has_no_end() {
        assert_eq!(band(&CAST, 5.0, 14.0), (Some(8.0), None));
        assert_eq!(band(&CAST, 14.0, 25.0), (Some(0.0), Some(8.0)));
        assert_eq!(band(&CAST[2..], 10.0, 14.0), (None, Some(11.0)));
        assert_eq!(band(&CAST, 2.0, 4.0), (None, None));
        assert_eq!(band(&[(1.0, 12.0), (20.0, 12.0)], 10.0, 14.0), (None, None), "19 m between the bins");
        assert_eq!(band(&[], 10.0, 14.0), (None, None));
    }

    #[test]
    fn the_thickest_of_several() {
        let twice = [(0.0, 9.0), (1.0, 12.0), (2.0, 16.0), (6.0, 16.0), (10.0, 12.0), (14.0, 8.0)];
        assert_eq!(band(&twice, 10.0, 14.0), (Some(8.0), Some(12.0)));
    }
}
