//! How did the water of one trip move, by which of her speed logs, and how wrong were log and compass?

use waterseam_currents::{
    Basis, Calibration, Carried, Currents, Known, Method, Motion, Record, Settings, Velocity, Window,
};
use waterseam_track::{Track, Trip};
use waterseam_units::LatLon;
use waterseam_units::angle::{turn_deg, wrap_deg};
use waterseam_units::geodesy::DegreeLengths;

use crate::place;
use crate::water::good;

/// The second log is used where its currents are this much surer: a sender of fewer readings has other faults.
const SURER_PART: f64 = 0.8;
/// Log and compass of this trip alone differ from those of the earlier ones when some term does by this many standard
/// errors of the difference: by luck in one trip of a thousand, for eight terms.
const CHANGED_SE: f64 = 4.0;

/// What is known of log and compass from earlier trips of the boat.
#[derive(Clone, Debug, PartialEq)]
pub struct Earlier {
    /// All of it, as the last of them left it.
    pub carried: Carried,
    /// Trips that it rests on.
    pub trips: i64,
}

/// What one speed log says.
#[derive(Clone, Debug, PartialEq)]
pub struct Tried {
    /// Its name.
    pub name: String,
    /// Whether the track now holds it.
    pub is_used: bool,
    /// Log and compass.
    pub calibration: Option<Calibration>,
    /// Trips that the calibration rests on.
    pub trips: i64,
    /// Whether the earlier trips were left aside because they do not agree with this one.
    pub is_changed: bool,
    /// True speed over reading at the median reading.
    pub factor: Option<Known>,
    /// Mean current and the standard error of its components, m/s; of a log that nothing calibrates as it reads.
    pub mean: Option<(Velocity, f64)>,
}

/// Currents of a trip.
#[derive(Clone, Debug, Default)]
pub struct Found {
    /// By the log that is used.
    pub currents: Currents,
    /// Every log, the one that is used first.
    pub tried: Vec<Tried>,
}

impl Found {
    /// What the next trip of the boat may rest on.
    pub fn carry(&self) -> Option<Earlier> {
        let used = self.tried.first()?;
        let carried = used.calibration.as_ref()?.carried.clone();
        Some(Earlier { carried, trips: used.trips })
    }
}

/// Currents by each speed log; the surer one comes into the track.
pub fn find(trip: &mut Trip, earlier: Option<&Earlier>) -> Found {
    let mut best = by_log(&trip.track, trip.speed_log.clone(), earlier);
    let mut tried = Vec::new();
    for other in 0..trip.other_speed_logs.len() {
        let found = by_other(trip, other, earlier);
        if is_surer(&found, &best) {
            trip.use_speed_log(other);
            tried.push(std::mem::replace(&mut best, found).1);
        } else {
            tried.push(found.1);
        }
    }
    let (currents, mut used) = best;
    used.is_used = true;
    let has_log = trip.speed_log.is_some();
    Found { currents, tried: has_log.then_some(used).into_iter().chain(tried).collect() }
}

type OfLog = (Currents, Tried);

/// A log that is not in the track goes in for the time of the estimate.
fn by_other(trip: &mut Trip, other: usize, earlier: Option<&Earlier>) -> OfLog {
    trip.use_speed_log(other);
    let found = by_log(&trip.track, trip.speed_log.clone(), earlier);
    trip.use_speed_log(other);
    found
}

/// A calibrated log comes before one that is not, and one that gives a current before one that gives none.
fn is_surer(one: &OfLog, than: &OfLog) -> bool {
    let grade = |(_, log): &OfLog| (log.mean.is_some(), log.calibration.is_some());
    match (one.1.mean, than.1.mean) {
        (Some((_, se)), Some((_, than_se))) if grade(one) == grade(than) => se < SURER_PART * than_se,
        _ => grade(one) > grade(than),
    }
}

fn by_log(track: &Track, name: Option<String>, earlier: Option<&Earlier>) -> OfLog {
    let settings = Settings::default();
    let reading_mps = median(track.stw_mps.iter().copied().flatten().filter(|&mps| mps > 0.0));
    // without a reading there is no scale to compare
    let of = |earlier: &Earlier| {
        Calibration::of(&earlier.carried, reading_mps.unwrap_or(1.0), Basis::EarlierTrips, &settings)
    };
    let prior = earlier.map(of);
    let columns = Columns::new(track);
    let record = Record::new(columns.motion(track), &settings);
    let alone = prior.as_ref().and_then(|_| record.calibration(None));
    let both = prior.as_ref().zip(alone.as_ref()).zip(reading_mps);
    let is_changed = both.is_some_and(|((prior, alone), reading_mps)| differ(prior, alone, reading_mps));
    let prior = prior.filter(|_| !is_changed);
    let found = record.estimate(prior.as_ref());
    let before = earlier.filter(|_| prior.is_some()).map_or(0, |earlier| earlier.trips);
    let trips = match found.calibration.as_ref().map(|calibration| calibration.basis) {
        None => 0,
        Some(Basis::ThisTrip) => 1,
        Some(Basis::EarlierTrips) => before,
        Some(Basis::Both) => before + 1,
    };
    let factor =
        found.calibration.as_ref().zip(reading_mps).map(|(calibration, mps)| calibration.factor(mps));
    let tried = Tried {
        name: name.unwrap_or_default(),
        is_used: false,
        calibration: found.calibration.clone(),
        trips,
        is_changed,
        factor,
        mean: by_this_log(track, &found),
    };
    (found, tried)
}

/// The mean current, where the log has a part in it.
fn by_this_log(track: &Track, found: &Currents) -> Option<(Velocity, f64)> {
    if found.windows.iter().any(|window| window.method == Method::ReciprocalLegs) {
        return None;
    }
    let (current, se_mps) = mean(&found.windows)?;
    let read = if found.calibration.is_none() { as_read(track) } else { None };
    Some((read.unwrap_or(current), se_mps))
}

/// Whether two calibrations cannot be of the same instruments. The scales are compared at a reading: one may be told with an
/// offset, the other without.
fn differ(a: &Calibration, b: &Calibration, reading_mps: f64) -> bool {
    let terms = |calibration: &Calibration| {
        let Calibration { log_scale, log_offset_mps, deviation_deg, .. } = calibration;
        let factor = log_scale.map(|_| calibration.factor(reading_mps));
        [factor, *log_offset_mps].into_iter().chain(*deviation_deg).collect::<Vec<_>>()
    };
    terms(a).into_iter().zip(terms(b)).any(|pair| match pair {
        (Some(a), Some(b)) => (a.value - b.value).abs() > CHANGED_SE * a.se.hypot(b.se),
        _ => false,
    })
}

/// Mean current of windows and the mean standard error of its components, m/s; `None` without a window.
pub fn mean(windows: &[Window]) -> Option<(Velocity, f64)> {
    if windows.is_empty() {
        return None;
    }
    let part = (windows.len() as f64).recip();
    let vector = |w: &Window| Velocity { east_mps: w.east_mps, north_mps: w.north_mps };
    let se_mps: f64 =
        windows.iter().map(|w| (0.5 * (w.east_se_mps.powi(2) + w.north_se_mps.powi(2))).sqrt()).sum();
    Some((windows.iter().map(vector).sum::<Velocity>() * part, se_mps * part))
}

/// Mean of ground minus water where everything was measured and the log turned.
fn as_read(track: &Track) -> Option<Velocity> {
    let (stw_mps, direction_deg) = water_as_read(track);
    let sog_mps = good(&track.sog_mps, &track.sog_qc);
    let current = |row: usize| {
        let stw_mps = stw_mps[row].filter(|&mps| mps >= Settings::default().least_stw_mps)?;
        let (sog_mps, cog_deg) = (sog_mps[row]?, track.cog_deg[row]?);
        Some(waterseam_currents::ground_minus_water(sog_mps, cog_deg, stw_mps, direction_deg[row]?))
    };
    let currents: Vec<Velocity> = (0..track.len()).filter_map(current).collect();
    (!currents.is_empty())
        .then(|| currents.iter().copied().sum::<Velocity>() * (currents.len() as f64).recip())
}

/// Columns of the motion that a track does not hold itself.
struct Columns {
    time_s: Vec<f64>,
    east_m: Vec<Option<f64>>,
    north_m: Vec<Option<f64>>,
    sog_mps: Vec<Option<f64>>,
    stw_mps: Vec<Option<f64>>,
    heading_deg: Vec<Option<f64>>,
}

impl Columns {
    fn new(track: &Track) -> Self {
        let (east_m, north_m) = positions_m(track);
        let (stw_mps, heading_deg) = water_as_read(track);
        let sog_mps = good(&track.sog_mps, &track.sog_qc);
        Self { time_s: place::seconds(track), east_m, north_m, sog_mps, stw_mps, heading_deg }
    }

    fn motion<'a>(&'a self, track: &'a Track) -> Motion<'a> {
        Motion {
            time_s: &self.time_s,
            distance_m: &track.distance_m,
            east_m: &self.east_m,
            north_m: &self.north_m,
            sog_mps: &self.sog_mps,
            cog_deg: &track.cog_deg,
            stw_mps: &self.stw_mps,
            heading_deg: &self.heading_deg,
            wind_speed_mps: &track.wind_speed_mps,
            wind_from_deg: &track.wind_from_deg,
        }
    }
}

/// Current along a track, its edges, and how log and compass err, where an earlier calibration of the boat may help.
pub fn currents(track: &Track, earlier: Option<&Calibration>) -> Currents {
    Record::new(Columns::new(track).motion(track), &Settings::default()).estimate(earlier)
}

fn water_as_read(track: &Track) -> (Vec<Option<f64>>, Vec<Option<f64>>) {
    let along_mps = good(&track.stw_mps, &track.stw_qc);
    through_water(&along_mps, &track.stw_across_mps, &good(&track.heading_deg, &track.heading_qc))
}

/// Speed and direction through the water: of a log with two axes both count, and the boat goes where both together
/// point, not where her bow does.
fn through_water(
    along_mps: &[Option<f64>],
    across_mps: &[Option<f64>],
    heading_deg: &[Option<f64>],
) -> (Vec<Option<f64>>, Vec<Option<f64>>) {
    let row = |row: usize| match (along_mps[row], across_mps[row], heading_deg[row]) {
        (Some(along), Some(across), heading) if along > 0.0 => {
            let off_deg = across.atan2(along).to_degrees();
            (Some(along.hypot(across)), heading.map(|heading| wrap_deg(heading + off_deg)))
        }
        (along, _, heading) => (along, heading),
    };
    (0..along_mps.len()).map(row).unzip()
}

/// Usable positions toward east and north of the first, m: the way from one to the next summed up, so that a degree of
/// longitude is as long as it is where the boat is.
fn positions_m(track: &Track) -> (Vec<Option<f64>>, Vec<Option<f64>>) {
    let mut last: Option<(LatLon, (f64, f64))> = None;
    let mut lengths = DegreeLengths::default();
    let mut place = |row: usize| {
        let at = track.at(row);
        let (east_m, north_m) = last.map_or((0.0, 0.0), |(from, (east_m, north_m))| {
            let (m_per_deg_east, m_per_deg_north) = lengths.at(from.lat_deg);
            let east_deg = turn_deg(from.lon_deg, at.lon_deg);
            (east_m + east_deg * m_per_deg_east, north_m + (at.lat_deg - from.lat_deg) * m_per_deg_north)
        });
        last = Some((at, (east_m, north_m)));
        (east_m, north_m)
    };
    (0..track.len()).map(|row| track.position_qc[row].is_usable().then(|| place(row)).unzip()).unzip()
}

/// Median, `None` of nothing.
pub fn median(values: impl Iterator<Item = f64>) -> Option<f64> {
    let mut values: Vec<f64> = values.collect();
    let middle = values.len() / 2;
    (!values.is_empty()).then(|| *values.select_nth_unstable_by(middle, f64::total_cmp).1)
}

#[cfg(test)]
mod tests {
    use super::*;
    use waterseam_track::SpeedLog;
    use waterseam_units::{Flag, LocalFrame};

    #[test]
    fn a_log_with_two_axes_points_where_the_boat_goes() {
        let (speed, direction) = through_water(
            &[Some(3.0), Some(3.0), Some(3.0), None, Some(-1.0)],
            &[Some(3.0), Some(-3.0), None, Some(1.0), Some(0.2)],
            &[Some(350.0), None, Some(10.0), Some(20.0), Some(30.0)],
        );
        assert!((speed[0].unwrap() - 18f64.sqrt()).abs() < 1e-12 && speed[1] == speed[0]);
        assert!((direction[0].unwrap() - 35.0).abs() < 1e-9);
        assert_eq!(direction[1..], [None, Some(10.0), Some(20.0), Some(30.0)]);
        assert_eq!(speed[2..], [Some(3.0), None, Some(-1.0)]);
    }

    /// A boat whose log shows `1 / scale` of the truth and whose compass is `off_deg` low, in a current of 0.3 m/s toward
    /// east: ten minutes on each course.
    fn sailed(courses_deg: &[f64], scale: f64, off_deg: f64) -> Trip {
        const MINUTES: usize = 600;
        let n = MINUTES * courses_deg.len();
        let mut dice = 12_345_u64;
        // uniform in -1..1: the generator of Knuth's MMIX (from memory)
        let mut noise = || {
            dice = dice.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            (dice >> 11) as f64 / (1_u64 << 52) as f64 - 1.0
        };
        let mut at = LatLon { lat_deg: 46.2, lon_deg: -29.4 };
        let mut distance_m = 0.0;
        let mut track = Track::default();
        for second in 0..n {
            let heading_deg = courses_deg[second / MINUTES] + 3.0 * noise();
            let stw_mps = 1.2 + 0.2 * ((second / 200) % 2) as f64;
            let ground = Velocity::toward(stw_mps, heading_deg) + Velocity { east_mps: 0.3, north_mps: 0.0 };
            let (sog_mps, cog_deg) = ground.speed_direction();
            track.time_us.push(second as i64 * 1_000_000);
            track.lat_deg.push(at.lat_deg);
            track.lon_deg.push(at.lon_deg);
            track.position_qc.push(Flag::Pass);
            track.distance_m.push(distance_m);
            track.sog_mps.push(Some(sog_mps + 0.03 * noise()));
            track.sog_qc.push(Flag::Pass);
            track.cog_deg.push(cog_deg);
            track.stw_mps.push(Some(stw_mps / scale + 0.03 * noise()));
            track.stw_qc.push(Flag::Pass);
            track.stw_across_mps.push(None);
            track.heading_deg.push(Some(wrap_deg(heading_deg - off_deg + noise())));
            track.heading_qc.push(Flag::Pass);
            track.wind_speed_mps.push(None);
            track.wind_from_deg.push(None);
            at = LocalFrame::new(at).to_position(ground.east_mps, ground.north_mps);
            distance_m += sog_mps;
        }
        Trip { track, speed_log: Some("VW".to_owned()), ..Trip::default() }
    }

    const ALL_ROUND: [f64; 12] =
        [0.0, 180.0, 90.0, 270.0, 45.0, 225.0, 135.0, 315.0, 20.0, 200.0, 110.0, 290.0];

    fn off_mps(found: &Found) -> f64 {
        let (current, _) = found.tried[0].mean.unwrap();
        (current - Velocity { east_mps: 0.3, north_mps: 0.0 }).speed_mps()
    }

    #[test]
    fn one_course_is_enough_for_a_boat_whose_earlier_trips_had_many() {
        let first = find(&mut sailed(&ALL_ROUND, 1.08, 3.0), None);
        let earlier = first.carry().unwrap();
        assert_eq!(earlier.trips, 1);
        let mut later = sailed(&[60.0; 4], 1.08, 3.0);
        let alone = find(&mut later.clone(), None);
        assert!(alone.tried[0].calibration.is_none() && alone.carry().is_none());
        let found = find(&mut later, Some(&earlier));
        let used = &found.tried[0];
        assert_ne!(used.calibration.as_ref().unwrap().basis, Basis::ThisTrip, "{used:?}");
        assert!(!used.is_changed && off_mps(&found) < 0.05, "{used:?}");
        assert!(used.mean.unwrap().1 < 0.5 * alone.tried[0].mean.unwrap().1, "{used:?}");
    }

    #[test]
    fn two_trips_of_many_courses_count_together() {
        let earlier = find(&mut sailed(&ALL_ROUND, 1.08, 3.0), None).carry().unwrap();
        let found = find(&mut sailed(&ALL_ROUND, 1.08, 3.0), Some(&earlier));
        let used = &found.tried[0];
        assert_eq!((used.trips, used.is_changed), (2, false), "{used:?}");
        assert_eq!(used.calibration.as_ref().unwrap().basis, Basis::Both);
    }

    #[test]
    fn a_new_log_or_compass_is_noticed_and_the_earlier_trips_are_left_aside() {
        let earlier = find(&mut sailed(&ALL_ROUND, 1.08, 3.0), None).carry().unwrap();
        for (scale, off_deg) in [(0.95, 3.0), (1.08, -5.0)] {
            let found = find(&mut sailed(&ALL_ROUND, scale, off_deg), Some(&earlier));
            let used = &found.tried[0];
            assert_eq!((used.trips, used.is_changed), (1, true), "{used:?}");
            assert!((used.factor.unwrap().value - scale).abs() < 0.03, "{used:?}");
            assert!(off_mps(&found) < 0.05, "{used:?}");
        }
    }

    #[test]
    fn of_two_logs_the_one_that_turns_is_used() {
        let mut trip = sailed(&ALL_ROUND, 1.0, 0.0);
        let good = SpeedLog {
            name: "VD".to_owned(),
            stw_mps: trip.track.stw_mps.clone(),
            stw_qc: trip.track.stw_qc.clone(),
            stw_across_mps: trip.track.stw_across_mps.clone(),
            ..SpeedLog::default()
        };
        trip.track.stw_mps.fill(Some(0.0));
        trip.other_speed_logs.push(good.clone());
        let found = find(&mut trip, None);
        assert_eq!(trip.speed_log.as_deref(), Some("VD"));
        assert_eq!(trip.track.stw_mps, good.stw_mps);
        let [used, other] = &found.tried[..] else { panic!("{:?}", found.tried) };
        assert!(used.is_used && !other.is_used && other.mean.is_none() && other.name == "VW");
    }
}
