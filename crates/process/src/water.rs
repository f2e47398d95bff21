//! What does the water of one trip look like: breaks, currents, layers?

use waterseam_breaks::{
    BreakLine, Crossing, Handling, IsothermCrossing, Looks, PlacedCrossing, Series, SurfaceMap, Towed,
    WashSettings,
};
use waterseam_column::{Field, FieldSettings, Lag, LayerErrors, Layers, Profile, Sample};
use waterseam_currents::Currents;
use waterseam_logs::boat::BoatFile;
use waterseam_track::{Activity, Track, Trip};
use waterseam_units::{Flag, LatLon, LocalFrame};

use crate::{isotherms, place, settings};

/// Break crossings, break lines, currents, profiles and layers of one trip. Times are seconds since the
/// track's first row.
#[derive(Clone, Debug, Default)]
pub struct Water {
    /// Crossings in order of time, with their places.
    pub crossings: Vec<PlacedCrossing>,
    /// Lines; they refer to `crossings` by index.
    pub lines: Vec<BreakLine>,
    /// Crossings at a towed probe, with their depth, m, in order of time.
    pub deep_crossings: Vec<(PlacedCrossing, f64)>,
    /// Currents and their edges.
    pub currents: Currents,
    /// Profiles in order of time.
    pub profiles: Vec<Profile>,
    /// Layers of each profile.
    pub layers: Vec<Layers>,
    /// Standard errors of the layers of each profile.
    pub layer_errors: Vec<LayerErrors>,
    /// What a cast is, and the lag that is taken out of it.
    pub column_settings: waterseam_column::Settings,
    /// Lag of the probe's thermometer, and whether it is taken out of the profiles.
    pub probe_lag: Option<(Lag, bool)>,
    /// Steps in the depth of isotherms, with their places, in order of time.
    pub isotherm_steps: Vec<(IsothermCrossing, LatLon)>,
}

/// Half-window in which the course at a crossing is taken, s.
const COURSE_HALF_WINDOW_US: i64 = 60_000_000;

/// Analyses the water of one trip whose break crossings and currents are known.
pub fn analyse(trip: &Trip, crossings: Vec<PlacedCrossing>, currents: Currents, boat: &BoatFile) -> Water {
    let lines = waterseam_breaks::lines(&crossings, &settings::breaks(boat));
    let samples = samples(trip);
    let column_settings = waterseam_column::Settings::default();
    let probe_lag = waterseam_column::thermometer_lag(&samples, &column_settings);
    let sure_lag_s = probe_lag.filter(|lag| lag.is_sure(&column_settings)).map_or(0.0, |lag| lag.lag_s);
    let column_settings = waterseam_column::Settings { lag_s: sure_lag_s, ..column_settings };
    let profiles = waterseam_column::profiles(&samples, &column_settings);
    let (layers, layer_errors) = layers(&profiles, boat, &column_settings);
    let isotherm_steps = isotherms::steps(&trip.track, &samples, &profiles, &layers, boat);
    let deep_crossings = deep_crossings(&trip.track, boat);
    Water {
        crossings,
        lines,
        deep_crossings,
        currents,
        profiles,
        layers,
        layer_errors,
        column_settings,
        probe_lag: probe_lag.map(|lag| (lag, sure_lag_s > 0.0)),
        isotherm_steps,
    }
}

/// Rows whose surface temperature tells of the water, whatever it is corrected for: at rest the hull sensor reads the dock,
/// and astern and soon after water that the hull and the screw have mixed.
pub fn usable(track: &Track) -> Vec<usize> {
    let handling = Handling {
        time_s: &place::seconds(track),
        distance_m: &track.distance_m,
        sog_mps: &good(&track.sog_mps, &track.sog_qc),
        cog_deg: &track.cog_deg,
        stw_mps: &good(&track.stw_mps, &track.stw_qc),
        heading_deg: &good(&track.heading_deg, &track.heading_qc),
        is_stopped: &track.activity.iter().map(|&a| a == Activity::Stopped).collect::<Vec<bool>>(),
    };
    let own_water = waterseam_breaks::own_water(&handling, &WashSettings::default());
    (0..track.len())
        .filter(|&row| {
            track.position_qc[row].is_usable() && track.surface_temp_qc[row].is_usable() && !own_water[row]
        })
        .filter(|&row| track.surface_temp_c[row].is_some())
        .collect()
}

/// Surface temperatures of [`usable`] rows, °C.
fn surface_temps<'a>(track: &'a Track, usable: &'a [usize]) -> impl Iterator<Item = (usize, f64)> + 'a {
    usable.iter().filter_map(|&row| Some((row, track.surface_temp_c[row]?)))
}

/// The values that did not fail.
pub(crate) fn good(values: &[Option<f64>], flags: &[Flag]) -> Vec<Option<f64>> {
    values.iter().zip(flags).map(|(value, flag)| value.filter(|_| flag.is_usable())).collect()
}

/// The surface around the track, with the frame of its metres, from its [`usable`] rows.
pub fn map(track: &Track, usable: &[usize]) -> Option<(SurfaceMap, LocalFrame)> {
    let frame = LocalFrame::new(track.at(*usable.get(usable.len() / 2)?));
    let samples: Vec<(f64, f64, f64)> = surface_temps(track, usable)
        .map(|(row, temp_c)| {
            let (east_m, north_m) = frame.to_local(track.at(row));
            (east_m, north_m, temp_c)
        })
        .collect();
    let map = waterseam_breaks::surface_map(&samples, &waterseam_breaks::SurfaceMapSettings::default())?;
    Some((map, frame))
}

/// Crossings of the track as it is corrected now for a lag, in order of time, with their places, from its [`usable`] rows.
pub fn crossings(track: &Track, usable: &[usize], boat: &BoatFile, lag_s: f64) -> Vec<PlacedCrossing> {
    let Some(&first) = usable.first() else { return Vec::new() };
    let of = |value: &dyn Fn(usize) -> f64| usable.iter().map(|&row| value(row)).collect::<Vec<f64>>();
    let frame = LocalFrame::new(track.at(first));
    let (east_m, north_m): (Vec<f64>, Vec<f64>) =
        usable.iter().map(|&row| frame.to_local(track.at(row))).unzip();
    let looks = Looks {
        series: Series {
            time_s: &of(&|row| place::seconds_at(track, track.time_us[row])),
            distance_m: &of(&|row| track.distance_m[row]),
            temp_c: &surface_temps(track, usable).map(|(_, temp_c)| temp_c).collect::<Vec<f64>>(),
        },
        east_m: &east_m,
        north_m: &north_m,
        sun_deg: &of(&|row| track.sun_elevation_deg[row]),
    };
    let settings = waterseam_breaks::Settings { lag_s, ..settings::breaks(boat) };
    let found = waterseam_breaks::find(looks.series, &settings);
    let found: Vec<PlacedCrossing> = found.into_iter().filter_map(|c| placed(track, c)).collect();
    let found = waterseam_breaks::with_runs_along(&found);
    waterseam_breaks::without_shadows(&found, &looks, &settings)
}

fn placed(track: &Track, crossing: Crossing) -> Option<PlacedCrossing> {
    let time_us = place::instant(track, crossing.time_s);
    let from = place::at(track, time_us - COURSE_HALF_WINDOW_US)?;
    let to = place::at(track, time_us + COURSE_HALF_WINDOW_US)?;
    let (_, course_deg) = waterseam_units::geodesy::inverse(from, to);
    Some(PlacedCrossing::new(crossing, place::at(track, time_us)?, course_deg))
}

/// Breaks along the probe's way where it was towed.
fn deep_crossings(track: &Track, boat: &BoatFile) -> Vec<(PlacedCrossing, f64)> {
    let rows: Vec<(usize, f64, f64)> = (0..track.len())
        .filter(|&row| track.position_qc[row].is_usable() && track.activity[row] != Activity::Stopped)
        .filter_map(|row| Some((row, track.probe_depth_m[row]?, track.probe_temp_c[row]?)))
        .collect();
    let of = |value: &dyn Fn(&(usize, f64, f64)) -> f64| rows.iter().map(value).collect::<Vec<f64>>();
    let towed = Towed {
        time_s: &of(&|(row, ..)| place::seconds_at(track, track.time_us[*row])),
        distance_m: &of(&|(row, ..)| track.distance_m[*row]),
        depth_m: &of(&|(_, depth_m, _)| *depth_m),
        temp_c: &of(&|(.., temp_c)| *temp_c),
    };
    waterseam_breaks::find_towed(towed, &settings::breaks(boat))
        .into_iter()
        .filter_map(|deep| Some((placed(track, deep.crossing)?, deep.depth_m)))
        .collect()
}

/// Good samples of the probe, in order of time.
pub fn samples(trip: &Trip) -> Vec<Sample> {
    trip.probe
        .iter()
        .filter(|sample| sample.temp_qc.is_usable())
        .filter_map(|sample| {
            let time_s = place::seconds_at(&trip.track, sample.time_us);
            Some(Sample { time_s, depth_m: sample.depth_m, temp_c: sample.temp_c? })
        })
        .collect()
}

/// The water column along a trip, at any time and depth.
pub fn field(trip: &Trip, usable: &[usize], water: &Water) -> Field {
    let track = &trip.track;
    let surface: Vec<(f64, f64)> = surface_temps(track, usable)
        .map(|(row, temp_c)| (place::seconds_at(track, track.time_us[row]), temp_c))
        .collect();
    let probe = samples(trip);
    let read = water.profiles.clone();
    Field::of_profiles(&probe, read, &surface, &water.column_settings, &FieldSettings::default())
}

fn layers(
    profiles: &[Profile],
    boat: &BoatFile,
    settings: &waterseam_column::Settings,
) -> (Vec<Layers>, Vec<LayerErrors>) {
    let (preferred, salinity) = (settings::preferred_c(boat), boat.salinity_psu);
    let of = |profile: &Profile| {
        (
            waterseam_column::layers(profile, preferred, salinity, settings),
            waterseam_column::layer_errors(profile, preferred, salinity, settings),
        )
    };
    profiles.iter().map(of).unzip()
}
