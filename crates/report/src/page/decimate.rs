//! Which points of a long series does the eye need?

/// Indices of the points of a line without which it would move by more than `tolerance` (Douglas & Peucker 1973,
/// Cartographica 10(2), 112-122, doi 10.3138/FM57-6770-U75U-7727); always its two ends.
pub(crate) fn simplify(points: &[(f64, f64)], tolerance: f64) -> Vec<usize> {
    let n = points.len();
    if n < 3 {
        return (0..n).collect();
    }
    let mut keep = vec![false; n];
    (keep[0], keep[n - 1]) = (true, true);
    let mut open = vec![(0, n - 1)];
    while let Some((from, to)) = open.pop() {
        let off2 = off2(points[from], points[to]);
        let (mut most, mut farthest) = (tolerance * tolerance, None);
        for (i, &point) in points.iter().enumerate().take(to).skip(from + 1) {
            let distance2 = off2(point);
            if distance2 > most {
                (most, farthest) = (distance2, Some(i));
            }
        }
        if let Some(i) = farthest {
            keep[i] = true;
            open.push((from, i));
            open.push((i, to));
        }
    }
    (0..n).filter(|&i| keep[i]).collect()
}

/// Square of the distance of a point from the piece of line between two others.
fn off2(from: (f64, f64), to: (f64, f64)) -> impl Fn((f64, f64)) -> f64 {
    let (dx, dy) = (to.0 - from.0, to.1 - from.1);
    let length2 = dx * dx + dy * dy;
    let per_length2 = if length2 > 0.0 { 1.0 / length2 } else { 0.0 };
    move |point| {
        let (x, y) = (point.0 - from.0, point.1 - from.1);
        let along = ((x * dx + y * dy) * per_length2).clamp(0.0, 1.0);
        let (x, y) = (x - along * dx, y - along * dy);
        x * x + y * y
    }
}

/// Points of a curve, one column of pixels after the other: in each the first, the lowest, the highest and the last,
/// so that no spike is lost. `x` must not fall.
pub(crate) fn min_max(points: &[(f64, f64)]) -> Vec<(f64, f64)> {
    let mut kept = Vec::new();
    for column in points.chunk_by(|a, b| a.0.floor() == b.0.floor()) {
        let least = (0..column.len()).min_by(|&a, &b| column[a].1.total_cmp(&column[b].1));
        let most = (0..column.len()).max_by(|&a, &b| column[a].1.total_cmp(&column[b].1));
        let mut which = [0, least.unwrap_or(0), most.unwrap_or(0), column.len() - 1];
        which.sort_unstable();
        kept.extend((0..4).filter(|&k| k == 0 || which[k] > which[k - 1]).map(|k| column[which[k]]));
    }
    kept
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn a_straight_line_needs_its_ends() {
        let line: Vec<(f64, f64)> = (0..1000).map(|i| (f64::from(i), 2.0 * f64::from(i))).collect();
        assert_eq!(simplify(&line, 0.1), [0, 999]);
        assert_eq!(simplify(&line[..1], 0.1), [0]);
        assert!(simplify(&[], 0.1).is_empty());
    }

    #[test]
    fn a_spike_survives() {
        let mut curve: Vec<(f64, f64)> = (0..1000).map(|i| (f64::from(i) * 0.01, 5.0)).collect();
        curve[503].1 = 9.0;
        curve[707].1 = -3.0;
        let kept = min_max(&curve);
        assert!(kept.len() <= 40, "{}", kept.len());
        assert!(kept.contains(&curve[503]) && kept.contains(&curve[707]));
        assert_eq!((kept[0], kept[kept.len() - 1]), (curve[0], curve[999]));
    }

    proptest! {
        #[test]
        fn no_point_is_farther_off_than_the_tolerance(
            points in prop::collection::vec((-50f64..50.0, -50f64..50.0), 2..60),
        ) {
            let kept = simplify(&points, 3.0);
            prop_assert!(kept.is_sorted() && kept[0] == 0 && kept[kept.len() - 1] == points.len() - 1);
            for pair in kept.windows(2) {
                for i in pair[0]..=pair[1] {
                    prop_assert!(off2(points[pair[0]], points[pair[1]])(points[i]).sqrt() <= 3.0 + 1e-9);
                }
            }
        }
    }
}
