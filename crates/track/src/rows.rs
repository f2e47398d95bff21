//! Which samples belong to which row?

use std::ops::Range;

use waterseam_units::angle::turn_deg;
use waterseam_units::time::US_PER_S;
use waterseam_units::{Flag, LatLon};

use crate::position::Fix;
use crate::receivers::second;

/// A row owns no more than this to either side of its second, µs.
const REACH_US: i64 = 2_500_000;

/// A whole second with its position.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Row {
    pub time_us: i64,
    pub at: LatLon,
    pub flag: Flag,
}

/// One row for each second, rounded, that has a fix: at the mean of its usable fixes, or, where all failed, at
/// the first of them.
pub(crate) fn rows(fixes: &[Fix]) -> Vec<Row> {
    let row = |fixes: &[Fix]| {
        let first = fixes.iter().find(|fix| fix.flag.is_usable()).unwrap_or(&fixes[0]);
        if fixes.len() == 1 {
            // adding nothing turns a negative zero, as the mean below does
            let at = LatLon { lat_deg: first.at.lat_deg + 0.0, lon_deg: first.at.lon_deg + 0.0 };
            return Row { time_us: second(first.time_us) * US_PER_S, at, flag: first.flag };
        }
        let usable = || fixes.iter().filter(|fix| fix.flag.is_usable());
        let n = usable().count().max(1) as f64;
        // offsets from the first, so that longitudes on both sides of 180 have their mean there
        let north: f64 = usable().map(|fix| fix.at.lat_deg - first.at.lat_deg).sum();
        let east: f64 = usable().map(|fix| turn_deg(first.at.lon_deg, fix.at.lon_deg)).sum();
        let lon_deg = first.at.lon_deg + east / n;
        let lon_deg = if lon_deg.abs() > 180.0 { turn_deg(0.0, lon_deg) } else { lon_deg };
        let at = LatLon { lat_deg: first.at.lat_deg + north / n, lon_deg };
        Row { time_us: second(first.time_us) * US_PER_S, at, flag: first.flag }
    };
    fixes.chunk_by(|a, b| second(a.time_us) == second(b.time_us)).map(row).collect()
}

/// From when to before when each row owns the samples: halfway to its neighbours, at most [`REACH_US`].
pub(crate) fn windows(rows: &[Row]) -> Vec<Range<i64>> {
    let mut start = i64::MIN;
    let next = rows.iter().skip(1).map(Some).chain([None]);
    let window = |(row, next): (&Row, Option<&Row>)| {
        let end = next.map_or(i64::MAX, |next| i64::midpoint(row.time_us, next.time_us));
        let window = start.max(row.time_us - REACH_US)..end.min(row.time_us + REACH_US);
        start = end;
        window
    };
    rows.iter().zip(next).map(window).collect()
}

/// The samples of each window, by their times. Windows and samples are in time order.
pub(crate) fn owned<'a>(
    windows: &'a [Range<i64>],
    time_us: &'a [i64],
) -> impl Iterator<Item = Range<usize>> + 'a {
    let mut next = 0;
    let mut upto = move |limit_us: i64| {
        while time_us.get(next).is_some_and(|&time_us| time_us < limit_us) {
            next += 1;
        }
        next
    };
    windows.iter().map(move |window| upto(window.start)..upto(window.end))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn fix(time_us: i64, lon_deg: f64, flag: Flag) -> Fix {
        Fix { flag, ..Fix::new(time_us, crate::steady::Sender::default(), LatLon { lat_deg: 46.2, lon_deg }) }
    }

    #[test]
    fn a_row_is_the_mean_of_its_good_fixes() {
        let fixes = [
            fix(9_600_000, -29.4, Flag::Fail),
            fix(9_700_000, 179.999, Flag::Pass),
            fix(10_400_000, -179.999, Flag::Pass),
            fix(12_000_000, 5.0, Flag::Fail),
        ];
        let rows = rows(&fixes);
        assert_eq!(rows.len(), 2);
        assert_eq!((rows[0].time_us, rows[0].flag), (10_000_000, Flag::Pass));
        assert!((rows[0].at.lon_deg.abs() - 180.0).abs() < 1e-9, "{:?}", rows[0].at);
        assert_eq!((rows[1].at.lon_deg, rows[1].flag), (5.0, Flag::Fail));
    }

    #[test]
    fn rows_share_the_time_between_them_and_reach_no_further() {
        let fixes = [0, 1_000_000, 4_000_000, 60_000_000].map(|time_us| fix(time_us, 0.5, Flag::Pass));
        let windows = windows(&rows(&fixes));
        assert_eq!(
            windows,
            [-2_500_000..500_000, 500_000..2_500_000, 2_500_000..6_500_000, 57_500_000..62_500_000]
        );
        let samples = [-3_000_000, 499_999, 500_000, 2_499_999, 6_500_000, 57_500_000];
        assert_eq!(owned(&windows, &samples).collect::<Vec<_>>(), [1..2, 2..4, 4..4, 5..6]);
    }
}
