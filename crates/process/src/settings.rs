//! What does the boat file mean for each crate?

use waterseam_logs::boat::BoatFile;

/// Fresh water for the thermal bar: brackish water up to here is still densest close to 4 °C (at 2 g/kg the
/// temperature of maximum density is 3.6 °C, TEOS-10).
const FRESH_UP_TO_PSU: f64 = 2.0;

/// Settings of the track.
pub fn track(boat: &BoatFile) -> waterseam_track::Settings {
    let defaults = waterseam_track::Settings::default();
    waterseam_track::Settings {
        gap_s: boat.trip_gap_s,
        home_port: boat.home_port,
        trolling_speed_mps: boat
            .trolling_speed_mps
            .map_or(defaults.trolling_speed_mps.clone(), |(low, high)| low..=high),
        surface_temp_offset_c: boat.surface_temp_offset_c,
        surface_temp_lag_s: boat.surface_temp_lag_s,
        transducer_depth_m: boat.transducer_depth_m,
        ..defaults
    }
}

/// Settings of the break finder.
pub fn breaks(boat: &BoatFile) -> waterseam_breaks::Settings {
    let defaults = waterseam_breaks::Settings::default();
    waterseam_breaks::Settings {
        least_step_c: boat.break_least_step_c.unwrap_or(defaults.least_step_c),
        greatest_width_m: boat.break_greatest_width_m.unwrap_or(defaults.greatest_width_m),
        lag_s: boat.surface_temp_lag_s,
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
