//! What did a boat with any sensor record on a day, and what did the program make of it?

use std::ops::Range;

use waterseam_breaks::{Kind, Looks, PlacedCrossing, Series, Settings, WashSettings};
use waterseam_demo::lake::Point;
use waterseam_demo::truth::{CrossingTruth, TripTruth};
use waterseam_demo::{Handling, Knobs, Scenario};
use waterseam_track::{Activity, Track};
use waterseam_units::{LatLon, LocalFrame};

use crate::rivals::{Cells, Rival};
use crate::score::Found;
use crate::scored_days::{Chance, over_seeds, read};

/// What kind of day.
#[derive(Clone, Copy, Debug)]
pub enum Weather {
    /// One to four breaks, warming up to 2 °C.
    Breaks,
    /// The same, and the breaks move by up to 0.05 m/s.
    Drift,
    /// Nothing happens.
    Flat,
    /// No break, the surface warms by 1 °C to 2 °C.
    Warming,
    /// No break, the surface slopes by 0.1 °C/km to 0.4 °C/km.
    Slope,
    /// No break, three clouds cool the surface by 0.2 °C to 0.6 °C.
    Clouds,
    /// No break, a day that warms by 1 °C to 2 °C; she stops, goes astern and circles, and her screw brings up water that
    /// is 0.6 °C to 1.5 °C colder.
    Stops,
    /// The same with one to four breaks.
    StopsAndBreaks,
    /// No break, a slope as in `Slope`, warming up to 2 °C; changes of speed under a lag of 20 s to 40 s of which nobody
    /// knows.
    Speeds,
    /// No break; three hours at anchor on a day that warms by 2 °C.
    Anchor,
}

/// Which true breaks are scored.
#[derive(Clone, Copy)]
pub struct Wanted {
    /// Least absolute step, °C.
    pub step_c: f64,
}

/// Flattest crossing that is scored, degrees.
const LEAST_ANGLE_DEG: f64 = 15.0;
/// Broadest crossing that is scored, m along the track.
const GREATEST_WIDTH_M: f64 = 1_500.0;
/// Two true crossings closer than this along the track (a turn on the front) cannot be told apart, m.
const SEPARATE_M: f64 = 300.0;

impl Wanted {
    pub fn counts(self, truth: &CrossingTruth) -> bool {
        truth.step_c.abs() >= self.step_c
            && truth.angle_deg >= LEAST_ANGLE_DEG
            && truth.width_m <= GREATEST_WIDTH_M
            && truth.nearest_other_m.is_none_or(|m| m >= SEPARATE_M)
    }
}

/// A day, its truth and what was found.
pub struct Day {
    pub truth: TripTruth,
    pub found: Vec<Found>,
    /// Time and distance of the samples that a rival gets.
    time_us: Vec<i64>,
    distance_m: Vec<f64>,
    places: Vec<LatLon>,
    cells: Cells,
    pub crossings: Vec<PlacedCrossing>,
    /// Zero of the clock of the crossings.
    pub zero_us: i64,
}

impl Day {
    pub fn km(&self) -> f64 {
        self.truth.distance_m / 1_000.0
    }

    /// What a rival finds in the same readings.
    pub fn rival(&self, rival: Rival) -> Vec<Found> {
        let at = |distance_m: f64| {
            let after = self.distance_m.partition_point(|&d| d < distance_m);
            after.min(self.distance_m.len() - 1)
        };
        self.cells
            .breaks(rival)
            .into_iter()
            .map(|(distance_m, step_c)| Found {
                time_us: self.time_us[at(distance_m)],
                at: self.places[at(distance_m)],
                step_c,
                width_m: 0.0,
                centre_se_m: 0.0,
                step_se_c: 0.0,
            })
            .collect()
    }

    /// Whether a place lies in the water of a front.
    pub fn is_in_front(&self, at: LatLon, time_us: i64) -> bool {
        let lake = &self.truth.lake;
        let time_s = lake.time_s(time_us);
        lake.fronts.iter().any(|front| front.distance_m(Point::at(at), time_s).abs() < front.width_m)
    }
}

/// Days of seeds.
pub fn days(seeds: Range<u64>, weather: Weather) -> Vec<Day> {
    over_seeds(seeds, |seed| day(seed, weather))
}

fn day(seed: u64, weather: Weather) -> Day {
    let mut chance = Chance(seed);
    let lag_s = chance.between(5.0, 40.0).round();
    let mut knobs = Knobs {
        hull_lag_s: lag_s,
        hull_noise_c: Some(chance.between(0.03, 0.10)),
        hull_quantum_c: [0.01, 0.05, 5.0 / 90.0, 0.1, 0.1][(chance.unit() * 5.0) as usize],
        spikes_per_hour: chance.between(0.0, 6.0),
        dropouts_per_hour: chance.between(0.0, 2.0),
        // the goals speak of 15°; the helm wanders
        least_crossing_deg: Some(18.0),
        steps_c: Some(Vec::new()),
        ..Knobs::default()
    };
    let scenario = if matches!(weather, Weather::Flat) { Scenario::FlatDay } else { Scenario::Random };
    match weather {
        Weather::Breaks | Weather::Drift | Weather::StopsAndBreaks => {
            if matches!(weather, Weather::Drift) {
                knobs.front_drift_mps = Some(0.05);
            }
            let n = 1 + (chance.unit() * 4.0) as usize;
            // weak ones as often as strong ones
            knobs.steps_c = Some((0..n).map(|_| 0.6 * (4.0_f64 / 0.6).powf(chance.unit())).collect());
        }
        Weather::Flat => knobs.diurnal_c = Some(0.0),
        Weather::Warming | Weather::Stops => knobs.diurnal_c = Some(chance.between(1.0, 2.0)),
        Weather::Slope => knobs.slope_c_per_km = Some(chance.between(0.1, 0.4)),
        Weather::Clouds => knobs.cloud_c = Some(chance.between(0.2, 0.6)),
        Weather::Speeds => {
            knobs.hull_lag_s = chance.between(20.0, 40.0).round();
            knobs.slope_c_per_km = Some(chance.between(0.1, 0.4));
            knobs.diurnal_c = Some(chance.between(0.0, 2.0));
        }
        Weather::Anchor => knobs.diurnal_c = Some(2.0),
    }
    knobs.handling = match weather {
        Weather::Stops | Weather::StopsAndBreaks => Some(Handling {
            stops_per_hour: 2.0,
            circles_per_hour: 1.0,
            wash_c: chance.between(0.6, 1.5),
            ..Handling::default()
        }),
        Weather::Speeds => Some(Handling { speed_changes_per_hour: 5.0, ..Handling::default() }),
        Weather::Anchor => Some(Handling { anchored_h: 3.0, ..Handling::default() }),
        _ => None,
    };
    let lag_s = if matches!(weather, Weather::Speeds) { 0.0 } else { lag_s };
    let demo = waterseam_demo::trip_with(seed, scenario, &knobs);
    let settings = waterseam_track::Settings { surface_temp_lag_s: lag_s, ..Default::default() };
    let track = read(&demo.files[..1], &settings).track;
    let own_water = own_water(&track);
    let is_good = |row: &usize| {
        track.surface_temp_qc[*row].is_usable()
            && track.position_qc[*row].is_usable()
            && !own_water[*row]
            && track.surface_temp_c[*row].is_some()
    };
    let good: Vec<usize> = (0..track.len()).filter(is_good).collect();
    let time_us: Vec<i64> = good.iter().map(|&row| track.time_us[row]).collect();
    let time_s: Vec<f64> = time_us.iter().map(|time_us| (time_us - time_us0(&track)) as f64 / 1e6).collect();
    let distance_m: Vec<f64> = good.iter().map(|&row| track.distance_m[row]).collect();
    let temp_c: Vec<f64> = good.iter().filter_map(|&row| track.surface_temp_c[row]).collect();
    let places: Vec<LatLon> = good.iter().map(|&row| track.at(row)).collect();
    let series = Series { time_s: &time_s, distance_m: &distance_m, temp_c: &temp_c };
    let crossings: Vec<PlacedCrossing> =
        waterseam_breaks::find(series, &Settings { lag_s, ..Settings::default() })
            .into_iter()
            .map(|crossing| {
                let after = time_s.partition_point(|&t| t < crossing.time_s).min(time_s.len() - 1);
                let (before, later) = (after.saturating_sub(60), (after + 60).min(time_s.len() - 1));
                let (_, course_deg) = waterseam_units::geodesy::inverse(places[before], places[later]);
                PlacedCrossing::new(crossing, places[after], course_deg)
            })
            .collect();
    let frame = LocalFrame::new(places[0]);
    let (east_m, north_m): (Vec<f64>, Vec<f64>) = places.iter().map(|&at| frame.to_local(at)).unzip();
    let sun_deg: Vec<f64> = good.iter().map(|&row| track.sun_elevation_deg[row]).collect();
    let looks = Looks { series, east_m: &east_m, north_m: &north_m, sun_deg: &sun_deg };
    let crossings = waterseam_breaks::without_shadows(&crossings, &looks, &Settings::default());
    let told = crossings.iter().filter(|placed| placed.crossing.kind != Kind::MaybeShadow);
    let found = told.map(|placed| Found::new(placed, time_us0(&track))).collect();
    let cells = Cells::new(&distance_m, &temp_c);
    Day { truth: demo.truth, found, time_us, distance_m, places, cells, crossings, zero_us: time_us0(&track) }
}

/// Rows of water that the boat has mixed herself, unless `WATERSEAM_WITHOUT_WASH` asks what the rule is worth: then
/// those at which she lay still.
fn own_water(track: &Track) -> Vec<bool> {
    let is_stopped: Vec<bool> = track.activity.iter().map(|&a| a == Activity::Stopped).collect();
    if std::env::var("WATERSEAM_WITHOUT_WASH").is_ok() {
        return is_stopped;
    }
    let handling = waterseam_breaks::Handling {
        time_s: &track.time_us.iter().map(|&t| (t - time_us0(track)) as f64 / 1e6).collect::<Vec<f64>>(),
        distance_m: &track.distance_m,
        sog_mps: &track.sog_mps,
        cog_deg: &track.cog_deg,
        stw_mps: &track.stw_mps,
        heading_deg: &track.heading_deg,
        is_stopped: &is_stopped,
    };
    waterseam_breaks::own_water(&handling, &WashSettings::default())
}

/// Zero of the clock of the crossings.
fn time_us0(track: &Track) -> i64 {
    track.time_us[0]
}
