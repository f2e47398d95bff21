use proptest::prelude::*;
use waterseam_logs::{DepthReference, FixKind, North, Observation, Value, WindReference};
use waterseam_units::angle::{turn_deg, wrap_deg};
use waterseam_units::geodesy::{direct, distance_m};
use waterseam_units::time::US_PER_S;
use waterseam_units::{Flag, LatLon};

use super::*;
use crate::track::{Activity, TransducerDepth};
use crate::{cell, declination_deg};

const PORT: LatLon = LatLon { lat_deg: 46.2, lon_deg: -29.4 };
/// 2026-06-14T04:00:00Z.
const START_S: i64 = 1_781_409_600;

fn observation(second: f64, value: Value) -> Observation {
    let time_us = START_S * US_PER_S + (second * 1e6).round() as i64;
    Observation { time_us, talker: *b"GP", source: 0, value }
}

fn fix(second: f64, at: LatLon) -> Observation {
    observation(second, Value::Fix { at, from: FixKind::Rmc })
}

/// A boat with the speed and course of each second: her position at the start of each.
fn sail(way: impl Fn(usize) -> (f64, f64), seconds: usize) -> Vec<LatLon> {
    let mut at = vec![PORT];
    for second in 1..seconds {
        let (speed_mps, course_deg) = way(second - 1);
        at.push(direct(at[second - 1], course_deg, speed_mps));
    }
    at
}

fn one_trip(observations: Vec<Observation>, settings: &Settings) -> Trip {
    let batch = trips(observations, settings);
    assert_eq!(batch.trips.len(), 1);
    batch.trips.into_iter().next().unwrap()
}

#[test]
fn a_straight_track_is_what_was_sailed() {
    let truth = sail(|_| (1.1, 37.0), 3600);
    let observations = truth.iter().enumerate().map(|(s, &at)| fix(s as f64, at)).collect();
    let Trip { track, .. } = one_trip(observations, &Settings::default());
    assert_eq!(track.len(), 3600);
    for row in (0..3600).step_by(100) {
        assert_eq!(track.time_us[row], (START_S + row as i64) * US_PER_S);
        assert!((track.distance_m[row] - distance_m(PORT, truth[row])).abs() < 0.05);
        assert!((track.sog_mps[row].unwrap() - 1.1).abs() < 0.01);
        assert!(turn_deg(track.cog_deg[row].unwrap(), 37.0).abs() < 0.5);
        assert_eq!(track.activity[row], Activity::Troll);
        assert_eq!(track.cell[row], cell(truth[row]));
    }
    assert!(track.position_qc.iter().all(|&flag| flag == Flag::Pass));
    let columns =
        [track.lat_deg.len(), track.stw_mps.len(), track.heading_deg.len(), track.water_depth_m.len()];
    assert_eq!(columns, [3600; 4]);
    assert_eq!(
        track.probe_depth_m.len() + track.wind_from_deg.len() + track.sun_elevation_deg.len(),
        3 * 3600
    );
    assert!(track.surface_temp_qc.iter().all(|&flag| flag == Flag::Missing));
}

#[test]
fn a_turning_track_is_as_long_as_its_turns() {
    // circles of 60 m radius at 1.2 m/s
    let turn_deg_per_s = (1.2f64 / 60.0).to_degrees();
    let truth = sail(|s| (1.2, wrap_deg(s as f64 * turn_deg_per_s)), 3600);
    let observations = truth.iter().enumerate().map(|(s, &at)| fix(s as f64, at)).collect();
    let Trip { track, .. } = one_trip(observations, &Settings::default());
    let sailed_m = 1.2 * 3599.0;
    assert!((track.distance_m[3599] - sailed_m).abs() < 0.003 * sailed_m, "{}", track.distance_m[3599]);
}

#[test]
fn a_jump_fails_and_adds_no_distance() {
    let truth = sail(|_| (1.5, 90.0), 1200);
    let jump = |s: usize, at: LatLon| if (500..503).contains(&s) { direct(at, 10.0, 2500.0) } else { at };
    let observations = truth.iter().enumerate().map(|(s, &at)| fix(s as f64, jump(s, at))).collect();
    let Trip { track, remarks, .. } = one_trip(observations, &Settings::default());
    let failed: Vec<usize> = (0..1200).filter(|&row| track.position_qc[row] == Flag::Fail).collect();
    assert_eq!(failed, [500, 501, 502]);
    assert!((track.distance_m[1199] - 1.5 * 1199.0).abs() < 0.5, "{}", track.distance_m[1199]);
    assert!(track.distance_m.is_sorted());
    assert!(remarks[0].starts_with("3 of 1200 positions"), "{remarks:?}");
}

#[test]
fn midnight_is_a_second_like_any_other() {
    let midnight_s = (START_S / 86_400 + 1) * 86_400 - START_S;
    let truth = sail(|_| (2.0, 0.0), 400);
    let at = |(s, &at): (usize, &LatLon)| fix((midnight_s - 200 + s as i64) as f64, at);
    let Trip { track, .. } = one_trip(truth.iter().enumerate().map(at).collect(), &Settings::default());
    assert_eq!(track.len(), 400);
    assert!(track.time_us.windows(2).all(|pair| pair[1] - pair[0] == US_PER_S));
}

#[test]
fn gaps_and_the_home_port_cut_trips_and_every_observation_is_accounted_for() {
    // out and back, an hour at the berth, out and back; then five hours nothing, and another hour out
    let out_and_back = |s: usize| if s % 5400 < 2700 { (2.0, 0.0) } else { (2.0, 180.0) };
    let way =
        |s: usize| if (5400..9000).contains(&s) { (0.0, 0.0) } else { out_and_back(s.max(3600) - 3600) };
    let truth = sail(|s| if s < 5400 { out_and_back(s) } else { way(s) }, 14_400);
    let mut observations: Vec<Observation> =
        truth.iter().enumerate().map(|(s, &at)| fix(s as f64, at)).collect();
    let later = (0..3600).map(|s| fix(f64::from(s) + 33_000.0, direct(PORT, 0.0, 4000.0 + f64::from(s))));
    observations.extend(later);
    let probe = Value::Probe { depth_m: 12.0, temp_c: Some(8.0), speed_mps: None };
    observations.push(observation(20_000.0, probe));
    observations.push(observation(-60.0, probe));
    observations.push(observation(100.0, probe));
    let settings = Settings { home_port: Some(PORT), ..Settings::default() };
    let batch = trips(observations.clone(), &settings);
    let spans: Vec<(i64, i64)> = batch
        .trips
        .iter()
        .map(|trip| (trip.track.time_us[0] / US_PER_S - START_S, trip.track.len() as i64))
        .collect();
    assert_eq!(spans.len(), 3, "{spans:?}");
    assert!((spans[1].0 - 7200).abs() < 60, "{spans:?}");
    assert_eq!((spans[0].0, spans[0].1 + spans[1].1, spans[2]), (0, 14_400, (33_000, 3600)));
    assert_eq!((batch.trips[0].probe.len(), batch.outside), (1, 2));
}

#[test]
fn nothing_and_a_single_position_are_no_trip() {
    assert_eq!(trips(vec![], &Settings::default()), Batch::default());
    let single = vec![fix(0.0, PORT), fix(0.2, PORT), observation(0.0, Value::WaterTemp { temp_c: 12.0 })];
    assert_eq!(trips(single, &Settings::default()), Batch { trips: vec![], outside: 3 });
}

#[test]
fn samples_are_averaged_into_their_row_and_never_carried_over() {
    let mut observations: Vec<Observation> =
        (0..60).map(|s| fix(f64::from(s), direct(PORT, 0.0, f64::from(s)))).collect();
    for (second, temp_c) in [(9.6, 11.9), (10.4, 12.1), (20.0, 14.0)] {
        observations.push(observation(second, Value::WaterTemp { temp_c }));
    }
    for (second, heading_deg) in [(9.9, 358.0), (10.1, 4.0)] {
        observations.push(observation(second, Value::Heading { heading_deg, north: North::True }));
    }
    let Trip { track, .. } = one_trip(observations, &Settings::default());
    assert_eq!(track.surface_temp_c[9..12], [None, Some(12.0), None]);
    assert_eq!(track.surface_temp_c[19..22], [None, Some(14.0), None]);
    assert!((track.heading_deg[10].unwrap() - 1.0).abs() < 1e-9);
    assert_eq!(track.heading_deg[11], None);
}

#[test]
fn instruments_come_out_in_si_and_from_the_surface() {
    let mut observations: Vec<Observation> = Vec::new();
    for s in 0..120 {
        let second = f64::from(s);
        observations.push(fix(second, direct(PORT, 90.0, 5.0 * second)));
        observations.push(observation(second, Value::GroundVelocity { sog_mps: 5.0, cog_deg: Some(90.0) }));
        observations.push(observation(second, Value::Heading { heading_deg: 88.0, north: North::Magnetic }));
        observations.push(observation(second, Value::WaterSpeed { stw_mps: 4.8, across_mps: None }));
        let depth = Value::WaterDepth {
            depth_m: 30.0 + 0.1 * second,
            reference: DepthReference::Transducer,
            offset_m: None,
        };
        observations.push(observation(second, depth));
        // a wind of 5 m/s from ahead is what she makes herself, in a calm
        let bow_deg = wrap_deg(90.0 - 88.0 - declination_deg(START_S * US_PER_S, PORT));
        let reference = WindReference::Apparent;
        observations.push(observation(second, Value::Wind { speed_mps: 5.0, from_deg: bow_deg, reference }));
    }
    let settings = Settings { transducer_depth_m: Some(0.6), ..Settings::default() };
    let Trip { track, remarks, .. } = one_trip(observations, &settings);
    let declination = declination_deg(START_S * US_PER_S, PORT);
    assert!((track.heading_deg[60].unwrap() - (88.0 + declination)).abs() < 0.02);
    assert!((track.water_depth_m[60].unwrap() - 36.6).abs() < 1e-9);
    assert_eq!(track.stw_mps[60], Some(4.8));
    assert!(track.wind_speed_mps[60].unwrap() < 0.01);
    assert!(track.water_depth_qc.iter().all(|&flag| flag == Flag::Pass));
    assert!(remarks.is_empty(), "{remarks:?}");
}

#[test]
fn two_speed_logs_are_kept_apart_and_either_can_be_used() {
    let of_second = |s: i64| {
        let by = |source, stw_mps, across_mps| Observation {
            source,
            ..observation(s as f64, Value::WaterSpeed { stw_mps, across_mps })
        };
        let mut all = vec![fix(s as f64, direct(PORT, 90.0, 5.0 * s as f64)), by(0, 4.8, None)];
        // the second log is silent at first, and so gave fewer readings
        all.extend((s >= 20).then(|| by(1, 5.2, Some(-0.3))));
        all
    };
    let mut trip = one_trip((0..120).flat_map(of_second).collect(), &Settings::default());
    assert_eq!((trip.track.stw_mps[60], trip.track.stw_across_mps[60]), (Some(4.8), None));
    let [other] = &trip.other_speed_logs[..] else { panic!("{:?}", trip.other_speed_logs) };
    assert_eq!((other.stw_mps[10], other.stw_mps[60]), (None, Some(5.2)));
    let tallies = |trip: &Trip| trip.quality.iter().find(|q| q.stream == "stw").unwrap().clone();
    let first = tallies(&trip);
    trip.use_speed_log(0);
    assert_eq!((trip.track.stw_mps[60], trip.track.stw_across_mps[60]), (Some(5.2), Some(-0.3)));
    assert_ne!(tallies(&trip), first);
    trip.use_speed_log(0);
    assert_eq!(tallies(&trip), first);
}

#[test]
fn a_set_from_magnetic_north_gets_the_declination() {
    let reported = |s: i32, north| {
        observation(f64::from(s), Value::ReportedCurrent { set_deg: 359.0, north, drift_mps: 0.3 })
    };
    let mut observations: Vec<_> =
        (0..60).map(|s| fix(f64::from(s), direct(PORT, 90.0, 5.0 * f64::from(s)))).collect();
    observations.extend([reported(20, North::Magnetic), reported(30, North::True)]);
    let sets: Vec<f64> =
        one_trip(observations, &Settings::default()).reported_currents.iter().map(|c| c.set_deg).collect();
    let turned = wrap_deg(359.0 + declination_deg(START_S * US_PER_S, PORT));
    assert!((sets[0] - turned).abs() < 0.02 && sets[1] == 359.0, "{sets:?}");
}

/// Depth of the water and of the transducer, and what is remarked, of a sounder that shows 30 m below its transducer.
fn sounded(reference: DepthReference, offset_m: Option<f64>, settings: &Settings) -> (f64, Trip) {
    let depth = Value::WaterDepth { depth_m: 30.0 + offset_m.unwrap_or(0.0), reference, offset_m };
    let seconds = (0..60).map(f64::from);
    let observations = seconds
        .flat_map(|second| [fix(second, direct(PORT, 90.0, 5.0 * second)), observation(second, depth)]);
    let trip = one_trip(observations.collect(), settings);
    (trip.track.water_depth_m[30].unwrap(), trip)
}

#[test]
fn the_stated_depth_of_the_transducer_comes_before_that_of_the_sounder() {
    use DepthReference::{Keel, Surface, Transducer};
    let unstated = Settings::default();
    let stated = Settings { transducer_depth_m: Some(0.6), ..Settings::default() };
    let of = |depth_m, is_stated| Some(TransducerDepth { depth_m, is_stated });
    for (reference, offset_m, settings, depth_m, transducer, remarked) in [
        (
            Surface,
            Some(1.0),
            &stated,
            30.6,
            of(0.6, true),
            Some("the sounder 1.00 m: the boat file's is used"),
        ),
        (Surface, Some(0.6), &stated, 30.6, of(0.6, true), None),
        (Keel, Some(-1.0), &stated, 30.6, of(0.6, true), None),
        (Transducer, None, &stated, 30.6, of(0.6, true), None),
        (Surface, None, &stated, 30.0, None, None),
        (Surface, Some(1.0), &unstated, 31.0, of(1.0, false), None),
        (Transducer, None, &unstated, 30.0, None, Some("counts from the transducer")),
        (Keel, Some(-1.0), &unstated, 29.0, None, Some("counts from the keel")),
    ] {
        let (got_m, trip) = sounded(reference, offset_m, settings);
        assert!((got_m - depth_m).abs() < 1e-9, "{reference:?} {offset_m:?}: {got_m}");
        assert_eq!(trip.transducer_depth, transducer, "{reference:?} {offset_m:?}");
        let said = trip.remarks.join(" ");
        assert!(remarked.map_or(said.is_empty(), |remark| said.contains(remark)), "{said}");
    }
}

#[test]
fn a_hull_sensor_that_changes_between_two_levels_is_not_used() {
    let mut observations: Vec<Observation> = Vec::new();
    for s in 0..3600 {
        observations.push(fix(f64::from(s), direct(PORT, 90.0, 1.5 * f64::from(s))));
        let level = if s * s % 7 < 2 { 20.0 } else { 16.5 };
        let temp_c = if s == 0 { 0.0 } else { level };
        observations.push(observation(f64::from(s), Value::WaterTemp { temp_c }));
    }
    let Trip { track, remarks, .. } = one_trip(observations, &Settings::default());
    assert!(track.surface_temp_qc.iter().all(|&flag| !flag.is_usable()));
    assert!(remarks.iter().any(|r| r.contains("up and down by 3.5 °C")), "{remarks:?}");
}

/// Any observation, also of the kind that no reader should give.
fn any_observation() -> impl Strategy<Value = Observation> {
    let number = prop_oneof![
        8 => -500f64..500.0,
        1 => prop_oneof![Just(f64::NAN), Just(f64::INFINITY), Just(1e300), Just(0.0), Just(-1e-300)],
    ];
    let place = prop_oneof![
        6 => (46.1f64..46.3, -29.5f64..-29.3),
        1 => (-91f64..91.0, -181f64..181.0),
        1 => (Just(90.0), Just(180.0)),
    ]
    .prop_map(|(lat_deg, lon_deg)| LatLon { lat_deg, lon_deg });
    let value = (0..11u8, place, number.clone(), prop::option::of(number.clone()), number).prop_map(
        |(kind, at, a, maybe, b)| match kind {
            0..=2 => Value::Fix { at, from: [FixKind::Rmc, FixKind::Gll, FixKind::Row][usize::from(kind)] },
            3 => Value::GroundVelocity { sog_mps: a, cog_deg: maybe },
            4 => Value::WaterTemp { temp_c: a },
            5 => Value::WaterDepth { depth_m: a, reference: DepthReference::Keel, offset_m: maybe },
            6 => Value::WaterSpeed { stw_mps: a, across_mps: maybe },
            7 => Value::Heading { heading_deg: a, north: North::Magnetic },
            8 => Value::Wind { speed_mps: a, from_deg: b, reference: WindReference::Apparent },
            9 => Value::Mark { at },
            _ => Value::Probe { depth_m: a, temp_c: maybe, speed_mps: Some(b) },
        },
    );
    let time = prop_oneof![
        12 => START_S * US_PER_S..(START_S + 900) * US_PER_S,
        2 => START_S * US_PER_S..(START_S + 90_000) * US_PER_S,
        1 => any::<i64>(),
    ];
    let talker = prop_oneof![Just(*b"GP"), Just(*b"II"), Just(*b"--")];
    (time, talker, 0u16..2, value).prop_map(|(time_us, talker, source, value)| Observation {
        time_us,
        talker,
        source,
        value,
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    #[test]
    fn any_observations_give_sound_tracks(observations in prop::collection::vec(any_observation(), 0..400)) {
        let settings = Settings {
            home_port: Some(PORT), surface_temp_lag_s: 20.0, home_port_stop_s: 60.0, gap_s: 600.0,
            ..Settings::default()
        };
        let given = observations.len();
        let batch = trips(observations, &settings);
        prop_assert!(batch.outside <= given);
        for Trip { track, probe, .. } in &batch.trips {
            prop_assert!(track.len() >= 2);
            prop_assert!(track.time_us.windows(2).all(|pair| pair[0] < pair[1]));
            prop_assert!(track.distance_m.is_sorted());
            let columns = [
                &track.sog_mps, &track.cog_deg, &track.stw_mps, &track.heading_deg, &track.water_depth_m,
                &track.surface_temp_c, &track.surface_temp_raw_c, &track.probe_depth_m, &track.probe_temp_c,
                &track.probe_speed_mps, &track.wind_speed_mps, &track.wind_from_deg,
            ];
            for column in columns {
                prop_assert_eq!(column.len(), track.len());
                prop_assert!(column.iter().flatten().all(|value| value.is_finite()));
            }
            let certain = [&track.lat_deg, &track.lon_deg, &track.distance_m, &track.sun_elevation_deg];
            for column in certain {
                prop_assert_eq!(column.len(), track.len());
                prop_assert!(column.iter().all(|value| value.is_finite()));
            }
            prop_assert_eq!(track.activity.len(), track.len());
            prop_assert!(track.cell.iter().all(|&cell| cell != 0));
            prop_assert!(probe.is_sorted_by_key(|sample| sample.time_us));
        }
        for pair in batch.trips.windows(2) {
            prop_assert!(pair[0].track.time_us.last() < pair[1].track.time_us.first());
        }
    }

    #[test]
    fn the_order_of_the_files_does_not_matter(
        mut observations in prop::collection::vec(any_observation(), 0..300), key in any::<u64>(),
    ) {
        observations.sort_by_key(|o| o.time_us);
        observations.dedup_by_key(|o| o.time_us);
        // NaN is equal to nothing: compare what is printed
        let sorted = trips(observations.clone(), &Settings::default());
        observations.sort_by_key(|o| (o.time_us as u64).wrapping_mul(key | 1).rotate_left(17));
        let shuffled = trips(observations, &Settings::default());
        prop_assert_eq!(format!("{sorted:?}"), format!("{shuffled:?}"));
    }
}
