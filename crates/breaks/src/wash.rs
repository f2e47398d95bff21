//! Which readings are of water that the boat has mixed herself?
//!
//! Ahead the hull sensor reads water that the boat has not touched. Astern, at rest, in a burst of throttle from rest and in a
//! turn as tight as herself it lies in what her screw has brought up, a degree colder on a sunny day: a patch of some
//! boat lengths with a step on either side, that is no break.
//!
//! ```text
//!   ahead ──────▶ stops ◀── astern   lies   burst ──────▶ ahead
//!   read          ├──────────── left out ──────────┤ clear │ read
//! ```

use std::ops::Range;

use waterseam_units::angle::turn_deg;

/// What the boat did in each row of her track: slices of equal length, time increasing.
#[derive(Clone, Copy, Debug)]
pub struct Handling<'a> {
    /// Seconds since any epoch, increasing.
    pub time_s: &'a [f64],
    /// Distance along the track, m, never decreasing.
    pub distance_m: &'a [f64],
    /// Speed over ground, m/s.
    pub sog_mps: &'a [Option<f64>],
    /// Course over ground, degrees true.
    pub cog_deg: &'a [Option<f64>],
    /// Speed through the water, m/s.
    pub stw_mps: &'a [Option<f64>],
    /// Heading, degrees true.
    pub heading_deg: &'a [Option<f64>],
    /// Whether she is known to lie still.
    pub is_stopped: &'a [bool],
}

/// Thresholds of [`own_water`].
#[derive(Clone, Debug, PartialEq)]
pub struct WashSettings {
    /// Speed over ground under which a boat has no way on, m/s.
    ///
    /// Default 0.3: half of the slowest trolling (common practice, no source), above the noise of a receiver's speed.
    pub no_way_mps: f64,
    /// Speed over ground that a current alone can give her, m/s: up to there a speed log that reads nothing is believed.
    ///
    /// Default 0.7: a strong current of a big lake or an open coast (common practice, no source).
    pub greatest_current_mps: f64,
    /// Least angle between course and heading of a boat that goes astern, degrees.
    ///
    /// Default 120: a beam current does not turn the course of a boat with way on so far.
    pub astern_deg: f64,
    /// Radius of a turn at which she comes back into her own wash, m.
    ///
    /// Default 15: two lengths of a boat of 7 to 8 m (common practice, no source).
    pub tight_radius_m: f64,
    /// She is clear of it when she has gone so far ahead, m …
    ///
    /// Default 40: five lengths (common practice, no source).
    pub clear_m: f64,
    /// … and so long, s.
    ///
    /// Default 45: a hull sensor in its pocket has then forgotten most of it (common practice, no source).
    pub clear_s: f64,
}

impl Default for WashSettings {
    fn default() -> Self {
        Self {
            no_way_mps: 0.3,
            greatest_current_mps: 0.7,
            astern_deg: 120.0,
            tight_radius_m: 15.0,
            clear_m: 40.0,
            clear_s: 45.0,
        }
    }
}

/// Speeds and courses are judged over this time, s: longer than a wave.
const SMOOTH_S: f64 = 8.0;
/// Turn that shows a tight one, degrees: a sixth of a circle.
const TURN_DEG: f64 = 60.0;
/// A boat that takes longer for it hardly moves, s.
const TURN_S: f64 = 60.0;
/// Speed over ground from which a speed log that reads nothing is taken to be stuck, m/s.
const LOG_SPEAKS_MPS: f64 = 1.0;

/// For each row whether the hull sensor lies in water that the boat has mixed, or cannot yet be clear of it.
///
/// What is not known (no heading, no speed log) is no reason to leave a row out.
///
/// # Panics
/// When the slices are not of equal length.
pub fn own_water(handling: &Handling, settings: &WashSettings) -> Vec<bool> {
    let n = handling.time_s.len();
    let columns = [handling.sog_mps, handling.cog_deg, handling.stw_mps, handling.heading_deg];
    assert!(columns.iter().all(|column| column.len() == n));
    assert!(handling.distance_m.len() == n && handling.is_stopped.len() == n);
    let mut mixes = handling.without_way(settings);
    handling.mark_tight_turns(settings, &mut mixes);
    // until she is clear
    let mut last: Option<usize> = None;
    let mut own = Vec::with_capacity(n);
    for (row, mixes) in mixes.into_iter().enumerate() {
        last = if mixes { Some(row) } else { last };
        own.push(last.is_some_and(|last| {
            handling.distance_m[row] - handling.distance_m[last] < settings.clear_m
                || handling.time_s[row] - handling.time_s[last] < settings.clear_s
        }));
    }
    own
}

impl Handling<'_> {
    /// Rows in which she has no way ahead: at rest or astern.
    fn without_way(&self, settings: &WashSettings) -> Vec<bool> {
        let log_speaks = self.log_speaks(settings);
        let astern: Vec<Option<bool>> = self
            .heading_deg
            .iter()
            .zip(self.cog_deg)
            .map(|(heading_deg, cog_deg)| {
                Some(turn_deg((*heading_deg)?, (*cog_deg)?).abs() >= settings.astern_deg)
            })
            .collect();
        let of = |column: &[Option<f64>], rows: Range<usize>| mean(column[rows].iter().copied().flatten());
        let makes_way = |row: usize| {
            self.sog_mps[row].is_some_and(|sog| sog >= settings.no_way_mps.max(settings.greatest_current_mps))
                && astern[row] != Some(true)
                && !self.is_stopped[row]
        };
        let mut window = Window::new(self.time_s);
        // rows that make way, up to this one and without a break
        let mut making_way = 0..0;
        (0..self.time_s.len())
            .map(|row| {
                let rows = window.about(row, 0.5 * SMOOTH_S);
                for row in making_way.end..rows.end {
                    let start = if makes_way(row) { making_way.start } else { row + 1 };
                    making_way = start..row + 1;
                }
                // nearly all are: then the means need not be worked out
                if making_way.start <= rows.start {
                    return false;
                }
                let Some(sog_mps) = of(self.sog_mps, rows.clone()) else { return self.is_stopped[row] };
                let is_at_rest = sog_mps < settings.no_way_mps
                    || (log_speaks
                        && sog_mps < settings.greatest_current_mps
                        && of(self.stw_mps, rows.clone()).is_some_and(|stw| stw < settings.no_way_mps));
                // a course over ground at rest is chance
                let is_astern = || {
                    let known = astern[rows.clone()].iter().flatten();
                    2 * known.clone().filter(|&&is_astern| is_astern).count() > known.count()
                };
                self.is_stopped[row] || is_at_rest || is_astern()
            })
            .collect()
    }

    /// Whether the speed log shows that the boat moves when she does.
    fn log_speaks(&self, settings: &WashSettings) -> bool {
        let moving = self.sog_mps.iter().zip(self.stw_mps).filter_map(|(sog, stw)| {
            sog.filter(|&sog| sog >= LOG_SPEAKS_MPS).and(*stw).map(|stw| stw >= settings.no_way_mps)
        });
        let (mut speaks, mut all) = (0, 0);
        for shows in moving {
            all += 1;
            speaks += usize::from(shows);
        }
        2 * speaks > all
    }

    /// Marks the rows of turns that are as tight as the boat.
    fn mark_tight_turns(&self, settings: &WashSettings, mixes: &mut [bool]) {
        let arc_m = settings.tight_radius_m * TURN_DEG.to_radians();
        // a course over ground at rest is chance
        let looks_deg = |row: usize| {
            self.heading_deg[row].or_else(|| {
                self.cog_deg[row].filter(|_| self.sog_mps[row].is_some_and(|sog| sog >= settings.no_way_mps))
            })
        };
        let mut first = 0;
        let mut marked_to = 0;
        for row in 0..mixes.len() {
            let is_far = |first: usize| {
                self.distance_m[row] - self.distance_m[first] > arc_m
                    || self.time_s[row] - self.time_s[first] > TURN_S
            };
            while is_far(first) {
                first += 1;
            }
            let Some(now_deg) = looks_deg(row) else { continue };
            let then_deg = (first..row).find_map(looks_deg);
            if then_deg.is_some_and(|then_deg| turn_deg(then_deg, now_deg).abs() >= TURN_DEG) {
                mixes[first.max(marked_to)..=row].fill(true);
                marked_to = row + 1;
            }
        }
    }
}

/// A window in time that moves forward with its rows.
struct Window<'a> {
    time_s: &'a [f64],
    rows: Range<usize>,
}

impl<'a> Window<'a> {
    fn new(time_s: &'a [f64]) -> Self {
        Self { time_s, rows: 0..0 }
    }

    /// Rows within a time to either side of a row.
    fn about(&mut self, row: usize, reach_s: f64) -> Range<usize> {
        let now_s = self.time_s[row];
        while self.time_s[self.rows.start] < now_s - reach_s {
            self.rows.start += 1;
        }
        while self.time_s.get(self.rows.end).is_some_and(|&time_s| time_s <= now_s + reach_s) {
            self.rows.end += 1;
        }
        self.rows.clone()
    }
}

fn mean(values: impl Iterator<Item = f64>) -> Option<f64> {
    let (mut sum, mut n) = (0.0, 0);
    for value in values {
        sum += value;
        n += 1;
    }
    (n > 0).then(|| sum / f64::from(n))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A boat at a row a second: speed through the water, turned per second; a current toward north; heading and log or not.
    struct Boat {
        way: Vec<(f64, f64)>,
        current_mps: f64,
        heading: bool,
        log: bool,
    }

    impl Boat {
        fn of(parts: &[(usize, f64, f64)]) -> Self {
            let way = parts.iter().flat_map(|&(n, mps, deg)| std::iter::repeat_n((mps, deg), n)).collect();
            Self { way, current_mps: 0.0, heading: true, log: true }
        }

        /// Rows that are left out.
        fn own(&self) -> Vec<usize> {
            let (mut gone_m, mut heading_deg) = (0.0, 30.0_f64);
            let mut columns: [Vec<Option<f64>>; 4] = Default::default();
            let mut distance_m = Vec::new();
            for &(stw_mps, turned_deg) in &self.way {
                heading_deg += turned_deg;
                let (east, north) = waterseam_units::angle::east_north(stw_mps, heading_deg);
                let (sog, cog) = waterseam_units::angle::length_direction(east, north + self.current_mps);
                gone_m += sog;
                distance_m.push(gone_m);
                columns[0].push(Some(sog));
                columns[1].push(cog);
                columns[2].push(self.log.then_some(stw_mps.abs()));
                columns[3].push(self.heading.then_some(waterseam_units::angle::wrap_deg(heading_deg)));
            }
            let time_s: Vec<f64> = (0..self.way.len()).map(|i| i as f64).collect();
            let [sog, cog, stw, heading] = &columns;
            let handling = Handling {
                time_s: &time_s,
                distance_m: &distance_m,
                sog_mps: sog,
                cog_deg: cog,
                stw_mps: stw,
                heading_deg: heading,
                is_stopped: &vec![false; time_s.len()],
            };
            let own = own_water(&handling, &WashSettings::default());
            (0..own.len()).filter(|&row| own[row]).collect()
        }
    }

    #[test]
    fn a_boat_that_goes_ahead_reads_the_lake() {
        let trolls = Boat::of(&[(300, 1.1, 0.0), (36, 1.1, 2.5), (300, 2.2, 0.0), (200, 9.0, 0.3)]);
        assert_eq!(trolls.own(), []);
        assert_eq!(Boat { current_mps: -0.5, ..trolls }.own(), []);
    }

    #[test]
    fn a_stop_is_left_out_until_she_is_clear() {
        let own = Boat::of(&[(300, 1.2, 0.0), (60, 0.0, 0.0), (300, 1.2, 0.0)]).own();
        let (first, last) = (own[0], own[own.len() - 1]);
        assert!((298..=303).contains(&first) && (398..=410).contains(&last), "{first} to {last}");
        assert_eq!(own.len(), last + 1 - first);
    }

    #[test]
    fn at_rest_in_a_current() {
        let drifts =
            Boat { current_mps: 0.5, ..Boat::of(&[(300, 1.2, 0.0), (60, 0.0, 0.0), (300, 1.2, 0.0)]) };
        assert!(drifts.own().len() > 80);
        // without a log nobody can tell
        assert_eq!(Boat { log: false, heading: false, ..drifts }.own(), []);
    }

    #[test]
    fn sternway_is_told_by_course_and_heading() {
        let backs = Boat::of(&[(300, 1.2, 0.0), (30, -0.8, 0.0), (300, 1.2, 0.0)]);
        assert!(backs.own().len() > 60, "{:?}", backs.own());
        assert!(Boat { heading: false, ..backs }.own().len() > 60, "the course turns round on the spot");
    }

    #[test]
    fn a_tight_circle_leads_into_her_own_wash_and_a_wide_turn_does_not() {
        let circle = Boat::of(&[(300, 1.2, 0.0), (45, 1.2, 8.0), (300, 1.2, 0.0)]);
        assert!(circle.own().len() > 75, "{:?}", circle.own());
        assert!(Boat { heading: false, ..circle }.own().len() > 75, "the course tells it, too");
        assert_eq!(Boat::of(&[(300, 9.0, 0.0), (30, 9.0, 6.0), (300, 9.0, 0.0)]).own(), []);
    }

    #[test]
    fn a_log_that_is_stuck_says_nothing() {
        let stuck = Boat { log: false, ..Boat::of(&[(600, 0.6, 0.0), (600, 1.2, 0.0)]) };
        assert_eq!(stuck.own(), []);
        let n = 1_200;
        let handling = Handling {
            time_s: &(0..n).map(f64::from).collect::<Vec<_>>(),
            distance_m: &(0..n).map(|i| 0.6 * f64::from(i)).collect::<Vec<_>>(),
            sog_mps: &(0..n).map(|i| Some(if i < 600 { 0.6 } else { 1.2 })).collect::<Vec<_>>(),
            cog_deg: &vec![Some(30.0); n as usize],
            stw_mps: &vec![Some(0.0); n as usize],
            heading_deg: &vec![None; n as usize],
            is_stopped: &vec![false; n as usize],
        };
        assert!(own_water(&handling, &WashSettings::default()).iter().all(|own| !own));
    }

    #[test]
    fn nothing_known_and_no_rows() {
        let none = [None; 3];
        let handling = Handling {
            time_s: &[0.0, 1.0, 2.0],
            distance_m: &[0.0, 100.0, 200.0],
            sog_mps: &none,
            cog_deg: &none,
            stw_mps: &none,
            heading_deg: &none,
            is_stopped: &[true, false, false],
        };
        assert_eq!(own_water(&handling, &WashSettings::default()), [true, true, true]);
        let empty = Handling {
            time_s: &[],
            distance_m: &[],
            sog_mps: &[],
            cog_deg: &[],
            stw_mps: &[],
            heading_deg: &[],
            is_stopped: &[],
        };
        assert!(own_water(&empty, &WashSettings::default()).is_empty());
    }
}
