//! What does the boat file mean for each crate?

use waterseam_logs::boat::{BoatFile, StreamLimits};
use waterseam_track::Limits;

/// Fresh water for the thermal bar: brackish water up to here is still densest close to 4 °C (at 2 g/kg the
/// temperature of maximum density is 3.6 °C, TEOS-10).
const FRESH_UP_TO_PSU: f64 = 2.0;

/// Settings of the track.
pub fn track(boat: &BoatFile) -> waterseam_track::Settings {
    let defaults = waterseam_track::Settings::default();
    let position = &boat.quality.position;
    let limits = |stream: &str, default: Limits| match boat.quality.streams.get(stream) {
        Some(said) => limits(said, default),
        None => default,
    };
    waterseam_track::Settings {
        gap_s: boat.trip_gap_s,
        home_port: boat.home_port,
        max_speed_mps: position.fastest_mps.unwrap_or(defaults.max_speed_mps),
        position_noise_m: position.noise_m.unwrap_or(defaults.position_noise_m),
        position_gap_s: position.gap_s.unwrap_or(defaults.position_gap_s),
        farthest_from_home_m: position.farthest_from_home_m,
        trolling_speed_mps: boat
            .trolling_speed_mps
            .map_or(defaults.trolling_speed_mps.clone(), |(low, high)| low..=high),
        surface_temp_offset_c: boat.surface_temp_offset_c.unwrap_or(0.0),
        surface_temp_lag_s: boat.surface_temp_lag_s.unwrap_or(0.0),
        transducer_depth_m: boat.transducer_depth_m,
        keel_depth_m: boat.keel_depth_m,
        surface_temp: limits("surface_temp", defaults.surface_temp),
        water_depth: limits("water_depth", defaults.water_depth),
        probe_temp: limits("probe_temp", defaults.probe_temp),
        probe_depth: limits("probe_depth", defaults.probe_depth),
        sog: limits("sog", defaults.sog),
        stw: limits("stw", defaults.stw),
        heading: limits("heading", defaults.heading),
        ..defaults
    }
}

/// The limits of a stream with what the captain says of them.
fn limits(said: &StreamLimits, default: Limits) -> Limits {
    let range = |said: Option<(f64, f64)>, default| said.map_or(default, |(low, high)| low..=high);
    let (spike_suspect, spike_fail) = said.spike.unwrap_or((default.spike_suspect, default.spike_fail));
    let (rate_suspect_per_s, rate_fail_per_s) =
        said.rate_per_s.unwrap_or((default.rate_suspect_per_s, default.rate_fail_per_s));
    let (flat_suspect_s, flat_fail_s) = said.flat_s.unwrap_or((default.flat_suspect_s, default.flat_fail_s));
    let (attenuated_suspect, attenuated_fail) =
        said.attenuated.unwrap_or((default.attenuated_suspect, default.attenuated_fail));
    Limits {
        suspect: range(said.suspect, default.suspect),
        fail: range(said.fail, default.fail),
        spike_suspect,
        spike_fail,
        rate_suspect_per_s,
        rate_fail_per_s,
        flat_suspect_s,
        flat_fail_s,
        flat_tolerance: said.flat_tolerance.unwrap_or(default.flat_tolerance),
        attenuated_s: said.attenuated_s.unwrap_or(default.attenuated_s),
        attenuated_suspect,
        attenuated_fail,
        gap_s: said.gap_s.unwrap_or(default.gap_s),
    }
}

/// What a stated lag may be wrong by, s: it is given in whole seconds.
const STATED_LAG_ERROR_S: f64 = 0.5;

/// Settings of the alignment of clocks.
pub fn clocks(boat: &BoatFile) -> waterseam_clocks::Settings {
    let defaults = waterseam_clocks::Settings::default();
    let stated = boat.surface_temp_lag_s.is_some();
    waterseam_clocks::Settings {
        hull_lag_s: boat.surface_temp_lag_s.unwrap_or(defaults.hull_lag_s),
        hull_lag_error_s: if stated { STATED_LAG_ERROR_S } else { defaults.hull_lag_error_s },
        ..defaults
    }
}

/// Settings of the break finder.
pub fn breaks(boat: &BoatFile) -> waterseam_breaks::Settings {
    let defaults = waterseam_breaks::Settings::default();
    waterseam_breaks::Settings {
        least_step_c: boat.break_least_step_c.unwrap_or(defaults.least_step_c),
        least_depth_step_m: boat.break_least_depth_step_m.unwrap_or(defaults.least_depth_step_m),
        greatest_width_m: boat.break_greatest_width_m.unwrap_or(defaults.greatest_width_m),
        greatest_p_value: boat
            .break_confidence_percent
            .map_or(defaults.greatest_p_value, |percent| 1.0 - 0.01 * percent),
        fresh: boat.salinity_psu <= FRESH_UP_TO_PSU,
        ..defaults
    }
}

/// Temperatures that the target species are sought in: from the coolest to the warmest that any of them likes.
pub fn preferred_c(boat: &BoatFile) -> Option<(f64, f64)> {
    let ranges = || boat.species.values();
    let low = ranges().map(|range| range.low_c).reduce(f64::min)?;
    let high = ranges().map(|range| range.high_c).reduce(f64::max)?;
    Some((low, high))
}

/// Temperature of the water in which depths were observed, where nobody says it: cold, as it is below, °C. Between
/// 0 °C and 20 °C the density changes by 0.2 %, which no line feels.
const OBSERVED_AT_C: f64 = 10.0;

/// Density of the boat's water where no trip says it, kg/m³.
pub fn density_kg_per_m3(boat: &BoatFile) -> f64 {
    waterseam_column::density_kg_m3(OBSERVED_AT_C, boat.salinity_psu, 0.0)
}

/// What the boat file says of the tackle.
pub fn tackle(boat: &BoatFile) -> waterseam_tackle::Tackle {
    waterseam_tackle::Tackle::new(&boat.divers, &boat.observed_depths, density_kg_per_m3(boat))
}
