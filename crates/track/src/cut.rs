//! Where does one trip end and the next begin?

use std::ops::Range;

use waterseam_units::LatLon;
use waterseam_units::time::seconds_between;

use crate::distance::is_within;
use crate::position::Fix;
use crate::settings::Settings;

/// A boat that stays within this of one place has stopped there, m: her length, her lines and the wandering
/// of her fixes.
const STAY_M: f64 = 60.0;

/// The fixes of each trip: a trip starts and ends with a usable one.
///
/// Trips are cut where no usable position follows for `gap_s`, and in the middle of a stop in the home port
/// from which the boat goes out again. A stop is a stay at one place, or two fixes in the port with no position
/// between them, for `home_port_stop_s`. Several stops before the boat goes out are one: the longest.
pub(crate) fn trips(fixes: &[Fix], settings: &Settings) -> Vec<Range<usize>> {
    let usable: Vec<usize> = (0..fixes.len()).filter(|&row| fixes[row].flag.is_usable()).collect();
    let seconds = |a: usize, b: usize| seconds_between(fixes[a].time_us, fixes[b].time_us);
    let mut trips = Vec::new();
    for without_gap in usable.chunk_by(|&a, &b| seconds(a, b) < settings.gap_s) {
        let cuts = settings.home_port.map(|port| port_cuts(fixes, without_gap, port, settings));
        let mut start = 0;
        for end in cuts.unwrap_or_default().into_iter().chain([without_gap.len()]) {
            if let [first, .., last] = without_gap[start..end] {
                trips.push(first..last + 1);
            }
            start = end;
        }
    }
    trips
}

/// Places in `rows` at which a trip begins after a stop in the port.
fn port_cuts(fixes: &[Fix], rows: &[usize], port: LatLon, settings: &Settings) -> Vec<usize> {
    let mut cuts = Vec::new();
    let mut was_out = false;
    let mut anchor: Option<Fix> = None;
    let mut before: Option<Fix> = None;
    let mut longest: Option<(f64, i64)> = None; // stop in s, and the middle of it
    for &row in rows {
        let fix = fixes[row];
        if !is_within(port, fix.at, settings.home_port_radius_m) {
            if let Some((_, middle_us)) = longest.take() {
                cuts.push(rows.partition_point(|&row| fixes[row].time_us < middle_us));
            }
            (was_out, anchor, before) = (true, None, None);
            continue;
        }
        let stays = |since: &Fix| is_within(since.at, fix.at, STAY_M);
        let stay_from = *anchor.take_if(|since| stays(since)).get_or_insert(fix);
        anchor = Some(stay_from);
        for since in [Some(stay_from), before].into_iter().flatten() {
            let stop_s = seconds_between(since.time_us, fix.time_us);
            let is_longest = longest.is_none_or(|(longest_s, _)| stop_s > longest_s);
            if was_out && stop_s >= settings.home_port_stop_s && is_longest {
                longest = Some((stop_s, i64::midpoint(since.time_us, fix.time_us)));
            }
        }
        before = Some(fix);
    }
    cuts
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::steady::Sender;
    use waterseam_units::Flag;
    use waterseam_units::geodesy::direct;
    use waterseam_units::time::US_PER_S;

    const PORT: LatLon = LatLon { lat_deg: 46.2, lon_deg: -29.4 };

    /// Fixes every 10 s, at a distance north of the port for each time.
    fn track(distance_m: impl Fn(i64) -> Option<f64>, until_s: i64) -> Vec<Fix> {
        let fix = |s: i64| {
            let at = direct(PORT, 0.0, distance_m(s)?);
            Some(Fix { flag: Flag::Pass, ..Fix::new(s * US_PER_S, Sender::default(), at) })
        };
        (0..until_s).step_by(10).filter_map(fix).collect()
    }

    fn spans(fixes: &[Fix]) -> Vec<(i64, i64)> {
        let settings = Settings { home_port: Some(PORT), ..Settings::default() };
        let of = |rows: Range<usize>| (fixes[rows.start].time_us, fixes[rows.end - 1].time_us);
        let seconds = |(a, b)| (a / US_PER_S, b / US_PER_S);
        trips(fixes, &settings).into_iter().map(of).map(seconds).collect()
    }

    /// Out and back at 2 m/s in an hour, two hours in port, out and back again.
    fn two_outings(s: i64) -> f64 {
        let out = |s: i64| (1800 - (s - 1800).abs()).max(0) as f64 * 2.0;
        out(s - 3600) + out(s - 14_400)
    }

    #[test]
    fn a_stop_in_port_cuts_in_its_middle() {
        let fixes = track(|s| Some(two_outings(s)), 21_600);
        let got = spans(&fixes);
        assert_eq!(got.len(), 2, "{got:?}");
        // in port from 7200 to 14,400; the waits before the first outing and after the second cut nothing
        assert!((got[0].1 - 10_800).abs() < 60 && got[1].0 == got[0].1 + 10, "{got:?}");
        assert_eq!((got[0].0, got[1].1), (0, 21_590));
    }

    #[test]
    fn a_plotter_that_is_off_in_port_cuts_too() {
        let fixes = track(|s| (!(7050..14_500).contains(&s)).then(|| two_outings(s)), 21_600);
        assert_eq!(spans(&fixes), [(0, 7040), (14_500, 21_590)]);
    }

    #[test]
    fn passing_or_fishing_before_the_port_cuts_nothing() {
        // to and fro in the harbour mouth at 1 m/s for two hours
        let mouth = |s: i64| 200.0 + (150 - (s % 300 - 150).abs()) as f64;
        let fixes =
            track(|s| Some(if (7200..14_400).contains(&s) { mouth(s) } else { two_outings(s) }), 21_600);
        assert_eq!(spans(&fixes).len(), 1);
    }

    #[test]
    fn a_gap_cuts_and_a_single_fix_is_no_trip() {
        let out = |s: i64| (s < 1000 || s == 14_000 || s > 30_000).then_some(9000.0);
        assert_eq!(spans(&track(out, 31_000)), [(0, 990), (30_010, 30_990)]);
        assert!(spans(&track(|s| (s == 0).then_some(0.0), 100)).is_empty());
        assert!(spans(&[]).is_empty());
    }
}
