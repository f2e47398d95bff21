//! Breaks in recordings of real boats and ships: what is there is found, and faults of sensors are none.
//!
//! Source of the recordings and of what is in them: `README.md` beside this file.

#![expect(clippy::unwrap_used, reason = "a test ends at the first thing that is not as it should be")]

use std::path::{Path, PathBuf};

use waterseam_breaks::{Crossing, Series, Settings, find};
use waterseam_logs::boat::BoatFile;
use waterseam_logs::{Collected, Observation, Value};
use waterseam_track::{Activity, Trip};
use waterseam_units::LatLon;
use waterseam_units::geodesy::distance_m;

fn path(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tests/recordings").join(name)
}

fn trips(name: &str) -> Vec<Trip> {
    let observations = observations(&[name], &BoatFile::default());
    waterseam_track::trips(observations, &waterseam_track::Settings::default()).trips
}

fn observations(names: &[&str], boat: &BoatFile) -> Vec<Observation> {
    let mut collected = Collected::default();
    for name in names {
        for member in waterseam_logs::members(&path(name)).unwrap() {
            member.read(boat, &mut collected).unwrap();
        }
    }
    collected.observations
}

fn breaks_of(trip: &Trip) -> Vec<Crossing> {
    let track = &trip.track;
    let rows: Vec<usize> = (0..track.len())
        .filter(|&row| track.surface_temp_qc[row].is_usable() && track.position_qc[row].is_usable())
        .filter(|&row| track.activity[row] != Activity::Stopped && track.surface_temp_c[row].is_some())
        .collect();
    let time_s: Vec<f64> =
        rows.iter().map(|&row| (track.time_us[row] - track.time_us[0]) as f64 / 1e6).collect();
    let distance_m: Vec<f64> = rows.iter().map(|&row| track.distance_m[row]).collect();
    let temp_c: Vec<f64> = rows.iter().filter_map(|&row| track.surface_temp_c[row]).collect();
    find(Series { time_s: &time_s, distance_m: &distance_m, temp_c: &temp_c }, &Settings::default())
}

#[test]
fn a_step_of_the_sensor_is_no_break() {
    let trips = trips("lake-geneva-2008-05-28.nmea.gz");
    let km: f64 = trips.iter().filter_map(|trip| trip.track.distance_m.last()).sum::<f64>() / 1_000.0;
    assert!((5.5..7.5).contains(&km), "{km} km");
    for trip in &trips {
        assert!(breaks_of(trip).is_empty(), "{:?}", breaks_of(trip));
    }
}

#[test]
fn a_sensor_that_flips_is_said_to_and_makes_no_break() {
    let trips = trips("lake-geneva-2014-06-11.nmea.gz");
    assert!(trips.iter().flat_map(|trip| &trip.remarks).any(|remark| remark.contains("jumps up and down")));
    let flags = || trips.iter().flat_map(|trip| &trip.track.surface_temp_qc);
    let doubtful = flags().filter(|flag| !flag.is_usable()).count();
    assert!(doubtful * 2 > flags().count(), "only {doubtful} readings are flagged");
    for trip in &trips {
        assert!(breaks_of(trip).is_empty(), "{:?}", breaks_of(trip));
    }
}

#[test]
fn an_intake_that_is_flushed_makes_no_break() {
    let boat = BoatFile::from_toml("[columns]\n\"1\" = \"surface_temp_c\"\n", "waterseam.toml").unwrap();
    let names = ["gnss_cnav-2018-12-06.log.gz", "tsg_sbe45_fwd-2018-12-06.log.gz"];
    let observations = observations(&names, &boat);
    let warmest = observations.iter().filter_map(|o| match o.value {
        Value::WaterTemp { temp_c } => Some(temp_c),
        _ => None,
    });
    assert!(warmest.fold(f64::MIN, f64::max) > 20.0, "the tank was filled from the tap");
    let found = waterseam_track::trips(observations, &waterseam_track::Settings::default());
    assert!(found.outside > 200, "{} readings came at times without a position", found.outside);
    let [trip] = &found.trips[..] else { panic!("{} trips", found.trips.len()) };
    let sea = trip.track.surface_temp_c.iter().flatten().copied().fold(f64::MIN, f64::max);
    assert!(sea < 9.5, "{sea} degrees");
    assert!(breaks_of(trip).is_empty(), "{:?}", breaks_of(trip));
}

/// Readings at a ship's intake.
#[derive(Default)]
struct Intake {
    time_s: Vec<f64>,
    distance_m: Vec<f64>,
    temp_c: Vec<f64>,
    places: Vec<LatLon>,
    salinity: Vec<Option<f64>>,
}

impl Intake {
    fn read(name: &str) -> Self {
        let text = std::fs::read_to_string(path(name)).unwrap();
        let body: String = text.lines().filter(|l| !l.starts_with('#')).flat_map(|l| [l, "\n"]).collect();
        let mut intake = Self::default();
        for row in csv::Reader::from_reader(body.as_bytes()).records().map(Result::unwrap) {
            let number = |column: usize| row[column].parse::<f64>().ok();
            let (Some(lat), Some(lon), Some(temp_c)) = (number(1), number(2), number(4)) else { continue };
            let at = LatLon::new(lat, lon).unwrap();
            let moved_m = intake.places.last().map_or(0.0, |&last| distance_m(last, at));
            let instant: jiff::Timestamp = row[0].parse().unwrap();
            intake.time_s.push(instant.as_second() as f64);
            intake.distance_m.push(intake.distance_m.last().unwrap_or(&0.0) + moved_m);
            intake.temp_c.push(temp_c);
            intake.places.push(at);
            intake.salinity.push(number(3));
        }
        intake
    }

    fn breaks(&self) -> Vec<Crossing> {
        let series = Series { time_s: &self.time_s, distance_m: &self.distance_m, temp_c: &self.temp_c };
        find(series, &Settings { fresh: false, ..Settings::default() })
    }

    /// The break nearest to a place, and how many samples away it lies.
    fn nearest(&self, breaks: &[Crossing], at: LatLon) -> (Crossing, usize) {
        let sample = |c: &Crossing| self.distance_m.partition_point(|&d| d < c.distance_m);
        let off_m = |&i: &usize| distance_m(self.places[i], at);
        let wanted = (0..self.places.len()).min_by(|a, b| off_m(a).total_cmp(&off_m(b))).unwrap();
        let found = breaks.iter().min_by_key(|c| sample(c).abs_diff(wanted)).unwrap();
        (*found, sample(found).abs_diff(wanted))
    }
}

#[test]
fn the_strongest_step_of_a_passage_is_found_within_a_sample() {
    let intake = Intake::read("Tokyo_2_751.csv");
    assert!(intake.time_s.len() > 6_000);
    let breaks = intake.breaks();
    let (found, samples) = intake.nearest(&breaks, LatLon { lat_deg: 41.723, lon_deg: 142.527 });
    println!("{} breaks in {:.0} km; {found:?}", breaks.len(), intake.distance_m.last().unwrap() / 1e3);
    assert!(samples <= 1, "{samples} samples off: {found:?}");
    assert!((found.step_c + 3.39).abs() < 0.7, "{found:?}");
    // a sample every kilometre or two: no break is claimed narrower than that
    assert!(breaks.iter().all(|b| b.gap_m > 0.0 && b.width_m >= 0.5 * b.gap_m));
}

#[test]
fn a_line_that_is_blanked_makes_no_break() {
    let intake = Intake::read("Thompson_9_740.csv");
    let breaks = intake.breaks();
    let (found, samples) = intake.nearest(&breaks, LatLon { lat_deg: 48.45, lon_deg: -125.09 });
    println!("{} breaks in {:.0} km; {found:?}", breaks.len(), intake.distance_m.last().unwrap() / 1e3);
    assert!(samples <= 1, "{samples} samples off: {found:?}");
    assert!((found.step_c - 2.90).abs() < 0.6, "{found:?}");
    let blanked: Vec<usize> =
        (0..intake.salinity.len()).filter(|&i| intake.salinity[i].is_some_and(|s| s < 1.0)).collect();
    assert!(blanked.len() >= 20, "only {} readings of the blanked line", blanked.len());
    for b in &breaks {
        let sample = intake.distance_m.partition_point(|&d| d < b.distance_m);
        assert!(blanked.iter().all(|i| i.abs_diff(sample) > 2), "{b:?}");
    }
}
