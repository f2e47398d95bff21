//! Which fixes of a receiver are where the boat was?
//!
//! The QARTOD tests in the plane. Location: a place on the earth, not 0° N 0° E, where receivers are that have no
//! fix, and, where the captain says how far the boat goes, not farther from the home port. Flat line: a position that stays while the receiver says that the boat moves. Rate of change: a step
//! that the boat cannot make. Spike: a fix off the middle of its neighbours by more than a turn explains. A fix
//! that a test finds fails, and the tests after it do not see it.

use waterseam_units::geodesy::distance_m;
use waterseam_units::time::{US_PER_S, seconds_between};
use waterseam_units::{Flag, LatLon};

use crate::distance::{is_within, is_within_box, step_m};
use crate::qartod::{self, median_interval_s};
use crate::quality::{StreamQuality, Tally, Test};
use crate::series::Series;
use crate::settings::Settings;
use crate::steady::Sender;

/// A receiver writes the same position while it should have moved this far: frozen, m. Ten times the 0.001′ in
/// which many receivers write.
const FROZEN_M: f64 = 20.0;
/// A speed below this may be noise of a receiver at rest, m/s.
const MOVING_MPS: f64 = 0.5;
/// A speed stands for the time around it no further than this, µs.
const SPEED_REACH_US: i64 = 2_500_000;

/// A stretch of fixes elsewhere is a fault when it is shorter than twice this, s; a step to a place where the
/// receiver stays longer is taken as true, and only its length is not counted.
const LASTING_S: f64 = 300.0;
/// The same in fixes, for receivers that are seldom read.
const LASTING_FIXES: f64 = 10.0;
/// So many stretches may lie between two that belong together.
const STRETCHES_BACK: usize = 8;

/// The spike test looks at neighbours this near in time, s; further apart a boat may do anything.
const SPIKE_WITHIN_S: f64 = 10.0;
/// Hardest turn or stop of a boat, m/s² (from memory; a third of gravity).
const ACCELERATION_MPS2: f64 = 3.0;
/// Receivers stamp a fix up to this late, s.
const STAMP_ERROR_S: f64 = 1.0;

/// A position of one receiver.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Fix {
    pub time_us: i64,
    pub sender: Sender,
    pub at: LatLon,
    pub flag: Flag,
    /// The test that failed it.
    pub failed_by: Option<Test>,
}

impl Fix {
    /// A fix that no test has seen.
    pub fn new(time_us: i64, sender: Sender, at: LatLon) -> Self {
        Self { time_us, sender, at, flag: Flag::NotEvaluated, failed_by: None }
    }

    fn fail(&mut self, test: Test) {
        if self.flag != Flag::Fail {
            (self.flag, self.failed_by) = (Flag::Fail, Some(test));
        }
    }
}

/// What the tests said about some fixes. A test sees the fixes that those before it left.
pub(crate) fn quality(fixes: &[Fix], settings: &Settings) -> StreamQuality {
    let times: Vec<i64> = fixes.iter().map(|fix| fix.time_us).collect();
    let gaps = Tally::of(Test::Gap, &qartod::gap(&times, settings.position_gap_s));
    let mut left = fixes.len();
    let tally = |test: Test| {
        let failed = fixes.iter().filter(|fix| fix.failed_by == Some(test)).count();
        left -= failed;
        Tally { test, passed: left, not_evaluated: 0, suspect: 0, failed }
    };
    let tests = [Test::Location, Test::FlatLine, Test::RateOfChange, Test::Spike].map(tally);
    StreamQuality { stream: "position", tests: [gaps].into_iter().chain(tests).collect() }
}

/// How far apart two positions of one boat can be after a time, given their noise, m.
pub(crate) fn reach_m(time_us: i64, settings: &Settings) -> f64 {
    settings.position_noise_m + settings.max_speed_mps * time_us as f64 / US_PER_S as f64
}

/// Flags the fixes of one receiver, in time order. `speeds` are its speeds over ground, m/s.
pub(crate) fn screen(fixes: &mut [Fix], speeds: &Series, settings: &Settings) {
    let waters = settings.home_port.zip(settings.farthest_from_home_m);
    for fix in fixes.iter_mut() {
        let is_nowhere = fix.at.lat_deg == 0.0 && fix.at.lon_deg == 0.0;
        let on_earth = LatLon::new(fix.at.lat_deg, fix.at.lon_deg).is_some();
        let is_far = || waters.is_some_and(|(home, farthest_m)| distance_m(home, fix.at) > farthest_m);
        if is_nowhere || !on_earth || is_far() {
            fix.fail(Test::Location);
        } else {
            (fix.flag, fix.failed_by) = (Flag::Pass, None);
        }
    }
    fail_frozen(fixes, speeds);
    // where each is beside the one before no other test finds anything
    let usable = fixes.iter().filter(|fix| fix.flag.is_usable());
    if usable.is_sorted_by(|from, to| is_beside(from, to, settings)) {
        return;
    }
    fail_unreachable(fixes, settings);
    fail_spikes(fixes, settings);
}

fn fail_frozen(fixes: &mut [Fix], speeds: &Series) {
    let speed_at = |time_us: i64| {
        let after = speeds.time_us.partition_point(|&t| t < time_us);
        [after.checked_sub(1), (after < speeds.len()).then_some(after)]
            .into_iter()
            .flatten()
            .map(|sample| ((speeds.time_us[sample] - time_us).abs(), speeds.values[sample]))
            .filter(|&(apart_us, speed)| apart_us <= SPEED_REACH_US && speed >= MOVING_MPS)
            .min_by_key(|&(apart_us, _)| apart_us)
            .map_or(0.0, |(_, speed)| speed)
    };
    let mut first = 0; // of the equal positions
    let mut failed_to = 0;
    let mut missed_m = 0.0;
    for row in 1..fixes.len() {
        if fixes[row].at != fixes[first].at {
            (first, missed_m) = (row, 0.0);
            continue;
        }
        let seconds = seconds_between(fixes[row - 1].time_us, fixes[row].time_us);
        missed_m += speed_at(fixes[row].time_us) * seconds.min(2.0 * SPEED_REACH_US as f64 / US_PER_S as f64);
        if missed_m > FROZEN_M {
            for fix in &mut fixes[failed_to.max(first + 1)..=row] {
                fix.fail(Test::FlatLine);
            }
            failed_to = row + 1;
        }
    }
}

/// Fails the fixes that are on no way that the boat can have gone.
///
/// The fixes are divided into stretches wherever a step is out of reach. Of all sequences of stretches the one
/// with most fixes stays, where a step between stretches that is out of reach costs [`LASTING_S`] of fixes.
fn fail_unreachable(fixes: &mut [Fix], settings: &Settings) {
    let is_way = |from: &Fix, to: &Fix| {
        is_beside(from, to, settings)
            || is_within(from.at, to.at, reach_m(to.time_us - from.time_us, settings))
    };
    if fixes.iter().filter(|fix| fix.flag.is_usable()).is_sorted_by(|from, to| is_way(from, to)) {
        return;
    }
    let usable: Vec<usize> = (0..fixes.len()).filter(|&row| fixes[row].flag.is_usable()).collect();
    let reaches = |from: usize, to: usize| is_way(&fixes[from], &fixes[to]);
    let stretches: Vec<&[usize]> = usable.chunk_by(|&a, &b| reaches(a, b)).collect();
    let times: Vec<i64> = usable.iter().map(|&row| fixes[row].time_us).collect();
    let interval_s = median_interval_s(&times).filter(|&interval_s| interval_s > 0.0).unwrap_or(1.0);
    let cost = (LASTING_S / interval_s).max(LASTING_FIXES);

    // best sequence that ends with each stretch: its fixes less its costs, and the stretch before
    let mut best: Vec<(f64, Option<usize>)> = Vec::with_capacity(stretches.len());
    let mut best_so_far: Option<usize> = None;
    for (s, stretch) in stretches.iter().enumerate() {
        let near = (s.saturating_sub(STRETCHES_BACK)..s).filter(|&b| {
            let last = stretches[b][stretches[b].len() - 1];
            reaches(last, stretch[0])
        });
        let far = best_so_far.map(|b| (best[b].0 - cost, Some(b)));
        let ways = near.map(|b| (best[b].0, Some(b))).chain(far).chain([(0.0, None)]);
        let (score, before) = ways.fold((f64::MIN, None), |a, b| if b.0 > a.0 { b } else { a });
        best.push((score + stretch.len() as f64, before));
        if best_so_far.is_none_or(|b| best[b].0 < best[s].0) {
            best_so_far = Some(s);
        }
    }
    let mut kept = vec![false; stretches.len()];
    let mut at = best_so_far;
    while let Some(stretch) = at {
        kept[stretch] = true;
        at = best[stretch].1;
    }
    let lost = stretches.iter().zip(kept).filter(|(_, kept)| !kept).flat_map(|(stretch, _)| stretch.iter());
    for row in lost.copied().collect::<Vec<_>>() {
        fixes[row].fail(Test::RateOfChange);
    }
}

fn fail_spikes(fixes: &mut [Fix], settings: &Settings) {
    let usable = || fixes.iter().filter(|fix| fix.flag.is_usable());
    let threes = usable().zip(usable().skip(1)).zip(usable().skip(2));
    // how far each fix is off the middle of its neighbours, as a multiple of what is allowed: most are not, and said only
    // where one is
    let off = threes.map(|((before, here), after)| excess(before, here, after, settings));
    let Some(first) = off.clone().position(|excess| excess > 0.0) else { return };
    let mut excess = vec![0.0; first + 1];
    excess.extend(off.skip(first));
    excess.push(0.0);
    let usable: Vec<usize> = (0..fixes.len()).filter(|&row| fixes[row].flag.is_usable()).collect();
    // a spike drags the middle of its neighbours along by half: only the furthest is at fault
    for place in 1..usable.len().saturating_sub(1) {
        let is_furthest = excess[place] >= excess[place - 1] && excess[place] >= excess[place + 1];
        if excess[place] > 1.0 && is_furthest {
            fixes[usable[place]].fail(Test::Spike);
        }
    }
}

/// Whether the noise alone explains how far two fixes, one not before the other, lie apart, as it does of most neighbours.
fn is_beside(from: &Fix, to: &Fix, settings: &Settings) -> bool {
    to.time_us >= from.time_us && is_within_box(from.at, to.at, settings.position_noise_m)
}

/// How far a fix is off the middle of its neighbours, as a multiple of what is allowed; 0 where that is within the noise.
fn excess(before: &Fix, here: &Fix, after: &Fix, settings: &Settings) -> f64 {
    // what lies beside both lies beside all that is between them
    if is_beside(before, here, settings) && is_beside(here, after, settings) {
        return 0.0;
    }
    let half_s = seconds_between(before.time_us, after.time_us) / 2.0;
    if half_s > SPIKE_WITHIN_S || half_s == 0.0 || (after.at.lon_deg - before.at.lon_deg).abs() > 1.0 {
        return 0.0;
    }
    let share = seconds_between(before.time_us, here.time_us) / (2.0 * half_s);
    let between = LatLon {
        lat_deg: before.at.lat_deg + share * (after.at.lat_deg - before.at.lat_deg),
        lon_deg: before.at.lon_deg + share * (after.at.lon_deg - before.at.lon_deg),
    };
    if is_within(between, here.at, settings.position_noise_m) {
        return 0.0;
    }
    let speed_mps = step_m(before.at, after.at) / (2.0 * half_s);
    let allowed_m =
        settings.position_noise_m + speed_mps * STAMP_ERROR_S + 0.5 * ACCELERATION_MPS2 * half_s * half_s;
    step_m(between, here.at) / allowed_m
}

#[cfg(test)]
#[path = "position_tests.rs"]
mod tests;
