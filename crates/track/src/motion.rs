//! How fast does the boat go over ground, and where to?

use std::ops::Range;

use waterseam_units::LocalFrame;
use waterseam_units::angle::{length_direction, mean_direction_deg};
use waterseam_units::time::{US_PER_S, seconds_between};

use crate::rows::Row;
use crate::series::mean;

/// Positions are differentiated over this time to either side, s: over 10 s in all a scatter of 1 m is an error
/// of 0.14 m/s.
const BASELINE_S: f64 = 5.0;
/// The neighbours of a row that is alone in that time may be this far, s.
const BASELINE_MAX_S: f64 = 300.0;
/// A way made good below this gives no course, m: its direction would be that of the noise.
const COURSE_M: f64 = 5.0;

/// Speed and course over ground, a value for each row.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Motion {
    pub sog_mps: Vec<Option<f64>>,
    pub cog_deg: Vec<Option<f64>>,
}

/// Velocity of each row: the mean of the receiver's (speeds as numbers, courses as unit vectors), and where it gave
/// none, from the usable positions about the row.
pub(crate) fn motion(
    rows: &[Row],
    owned: impl Iterator<Item = Range<usize>>,
    velocities: &[(f64, Option<f64>)],
) -> Motion {
    let usable: Vec<usize> = (0..rows.len()).filter(|&row| rows[row].flag.is_usable()).collect();
    let none = || Vec::with_capacity(rows.len());
    let mut motion = Motion { sog_mps: none(), cog_deg: none() };
    for (row, samples) in owned.enumerate() {
        let samples = &velocities[samples];
        let reported = mean(samples.iter().map(|&(sog_mps, _)| sog_mps));
        let derived = || {
            differentiated(rows, &usable, row)
                .map_or((None, None), |(sog_mps, cog_deg)| (Some(sog_mps), cog_deg))
        };
        let (sog_mps, cog_deg) = if reported.is_some() {
            let course = mean_direction_deg(samples.iter().filter_map(|&(_, cog_deg)| cog_deg));
            (reported, course.or_else(|| derived().1))
        } else {
            derived()
        };
        motion.sog_mps.push(sog_mps);
        motion.cog_deg.push(cog_deg);
    }
    motion
}

/// Speed and course between the outermost usable rows of the baseline about a row.
fn differentiated(rows: &[Row], usable: &[usize], row: usize) -> Option<(f64, Option<f64>)> {
    let time_us = rows[row].time_us;
    let from_us = |seconds: f64| time_us + (seconds * US_PER_S as f64) as i64;
    let before = usable.partition_point(|&r| rows[r].time_us < from_us(-BASELINE_S));
    let after = usable.partition_point(|&r| rows[r].time_us <= from_us(BASELINE_S));
    let here = usable.partition_point(|&r| rows[r].time_us < time_us);
    let here_end = usable.partition_point(|&r| rows[r].time_us <= time_us);
    // alone on one side: the next one there
    let first = if before < here { before } else { here.saturating_sub(1) };
    let last = if after > here_end { after - 1 } else { here_end.min(usable.len().checked_sub(1)?) };
    let near = |place: usize| seconds_between(rows[usable[place]].time_us, time_us).abs() <= BASELINE_MAX_S;
    let first = if near(first) { first } else { here };
    let last = if near(last) { last } else { here_end.checked_sub(1)? };
    if first >= last {
        return None;
    }
    let (from, to) = (rows[usable[first]], rows[usable[last]]);
    let (east_m, north_m) = LocalFrame::new(from.at).to_local(to.at);
    let (way_m, course) = length_direction(east_m, north_m);
    let seconds = seconds_between(from.time_us, to.time_us);
    Some((way_m / seconds, course.filter(|_| way_m >= COURSE_M)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use waterseam_units::angle::turn_deg;
    use waterseam_units::geodesy::direct;
    use waterseam_units::{Flag, LatLon};

    const ORIGIN: LatLon = LatLon { lat_deg: 46.2, lon_deg: -29.4 };

    fn row(second: i64, course: f64, speed: f64) -> Row {
        let at = direct(ORIGIN, course, second as f64 * speed);
        Row { time_us: second * US_PER_S, at, flag: Flag::Pass }
    }

    fn derived(rows: &[Row]) -> Motion {
        motion(rows, rows.iter().map(|_| 0..0), &[])
    }

    #[test]
    fn positions_give_speed_and_course_where_the_receiver_is_silent() {
        let mut rows: Vec<Row> = (0..60).map(|s| row(s, 70.0, 2.0)).collect();
        rows[30].at = direct(rows[30].at, 0.0, 500.0);
        rows[30].flag = Flag::Fail;
        let got = derived(&rows);
        for r in 0..60 {
            assert!((got.sog_mps[r].unwrap() - 2.0).abs() < 0.01, "{r}: {:?}", got.sog_mps[r]);
            assert!((got.cog_deg[r].unwrap() - 70.0).abs() < 0.1, "{r}: {:?}", got.cog_deg[r]);
        }
    }

    #[test]
    fn rows_minutes_apart_use_their_neighbours_and_lonely_rows_have_no_speed() {
        let rows: Vec<Row> = [0, 180, 360, 4000].into_iter().map(|s| row(s, 200.0, 8.0)).collect();
        let got = derived(&rows);
        assert!(got.sog_mps[..3].iter().all(|s| (s.unwrap() - 8.0).abs() < 0.05), "{:?}", got.sog_mps);
        assert_eq!(got.sog_mps[3], None);
        assert_eq!(derived(&rows[..1]).sog_mps, [None]);
    }

    #[test]
    fn the_receiver_counts_before_positions_and_noise_has_no_course() {
        let rows: Vec<Row> = (0..4).map(|s| row(s, 0.0, 0.1)).collect();
        let velocities = [(1.0, Some(350.0)), (3.0, Some(10.0)), (2.0, None)];
        let got = motion(&rows, [0..2, 2..3, 3..3, 3..3].into_iter(), &velocities);
        assert_eq!(got.sog_mps[..2], [Some(2.0), Some(2.0)]);
        let course = got.cog_deg[0].unwrap();
        assert!(turn_deg(0.0, course).abs() < 1e-9);
        assert_eq!(got.cog_deg[1..], [None, None, None]);
        assert!((got.sog_mps[3].unwrap() - 0.1).abs() < 1e-3);
    }
}
