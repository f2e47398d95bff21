//! Which isotherms are followed along the way of the probe, and where does their depth change?

use waterseam_breaks::{IsothermCrossing, IsothermDepths};
use waterseam_column::{Layers, Pass, Profile, Sample};
use waterseam_logs::boat::BoatFile;
use waterseam_track::Track;
use waterseam_units::convert::{c_from_f, f_from_c};
use waterseam_units::{LatLon, UnitSystem};

use crate::{place, settings};

/// Isotherms closer than this to one that is followed show nothing more, °C.
const APART_C: f64 = 1.0;

/// Steps in the depth of the isotherm in the middle of the trip's thermocline and of those between which the target species are
/// sought, with their places, in order of time.
pub fn steps(
    track: &Track,
    samples: &[Sample],
    profiles: &[Profile],
    layers: &[Layers],
    boat: &BoatFile,
) -> Vec<(IsothermCrossing, LatLon)> {
    let column = waterseam_column::Settings::default();
    let followed: Vec<Followed> = temps_c(profiles, layers, boat)
        .into_iter()
        .map(|temp_c| Followed::new(temp_c, &waterseam_column::passes(samples, temp_c, &column), track))
        .collect();
    let depths: Vec<IsothermDepths> = followed.iter().map(Followed::depths).collect();
    let mut found: Vec<(IsothermCrossing, LatLon)> =
        waterseam_breaks::find_isotherm_steps(&depths, &settings::breaks(boat))
            .into_iter()
            .filter_map(|step| Some((step, place::at(track, place::instant(track, step.time_s))?)))
            .collect();
    found.sort_by(|(a, _), (b, _)| a.time_s.total_cmp(&b.time_s));
    found
}

/// Temperatures of the isotherms, in whole degrees of the captain's units, that of the thermocline first.
fn temps_c(profiles: &[Profile], layers: &[Layers], boat: &BoatFile) -> Vec<f64> {
    let mut temps_c: Vec<f64> = Vec::new();
    let middle_c = waterseam_column::thermocline_temp_c(profiles, layers);
    let preferred = middle_c.and(settings::preferred_c(boat));
    for temp_c in
        middle_c.into_iter().chain(preferred.into_iter().flat_map(|(low_c, high_c)| [low_c, high_c]))
    {
        let temp_c = whole_degrees(temp_c, boat.units);
        if temps_c.iter().all(|other| (other - temp_c).abs() >= APART_C) {
            temps_c.push(temp_c);
        }
    }
    temps_c
}

fn whole_degrees(temp_c: f64, units: UnitSystem) -> f64 {
    if units == UnitSystem::Imperial { c_from_f(f_from_c(temp_c).round()) } else { temp_c.round() }
}

/// An isotherm along the track.
struct Followed {
    temp_c: f64,
    time_s: Vec<f64>,
    distance_m: Vec<f64>,
    depth_m: Vec<f64>,
}

/// A pass whose depth is less sure than this says nothing of a step of some metres, m.
const GREATEST_PASS_SE_M: f64 = 1.0;

impl Followed {
    fn new(temp_c: f64, passes: &[Pass], track: &Track) -> Self {
        let (mut time_s, mut distance_m, mut depth_m) = (Vec::new(), Vec::new(), Vec::new());
        for pass in passes.iter().filter(|pass| pass.depth_se_m <= GREATEST_PASS_SE_M) {
            // what was logged before the track began or after it ended has no place
            let Some(run_m) = place::run_m(track, place::instant(track, pass.time_s)) else { continue };
            time_s.push(pass.time_s);
            distance_m.push(run_m);
            depth_m.push(pass.depth_m);
        }
        Self { temp_c, time_s, distance_m, depth_m }
    }

    fn depths(&self) -> IsothermDepths<'_> {
        IsothermDepths {
            temp_c: self.temp_c,
            time_s: &self.time_s,
            distance_m: &self.distance_m,
            depth_m: &self.depth_m,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn isotherms_are_named_in_whole_degrees_of_the_captain() {
        assert!((f_from_c(whole_degrees(12.9, UnitSystem::Imperial)) - 55.0).abs() < 1e-9);
        assert_eq!(whole_degrees(12.9, UnitSystem::Metric), 13.0);
    }
}
