//! What does a track say about the current?

use waterseam_currents::{Calibration, Currents, Motion};
use waterseam_track::Track;
use waterseam_units::{LatLon, LocalFrame};

use crate::place;
use crate::water::good;

/// Current along a track, its edges, and how log and compass err, where an earlier calibration of the boat may help.
pub fn currents(track: &Track, earlier: Option<&Calibration>) -> Currents {
    let (east_m, north_m) = positions_m(track);
    let motion = Motion {
        time_s: &place::seconds(track),
        distance_m: &track.distance_m,
        east_m: &east_m,
        north_m: &north_m,
        sog_mps: &good(&track.sog_mps, &track.sog_qc),
        cog_deg: &track.cog_deg,
        stw_mps: &good(&track.stw_mps, &track.stw_qc),
        heading_deg: &good(&track.heading_deg, &track.heading_qc),
        wind_speed_mps: &track.wind_speed_mps,
        wind_from_deg: &track.wind_from_deg,
    };
    waterseam_currents::estimate(motion, earlier, &waterseam_currents::Settings::default())
}

/// Usable positions toward east and north of the first, m: the way from one to the next summed up, so that a degree of
/// longitude is as long as it is where the boat is.
fn positions_m(track: &Track) -> (Vec<Option<f64>>, Vec<Option<f64>>) {
    let mut last: Option<(LatLon, (f64, f64))> = None;
    let mut place = |row: usize| {
        let at = track.at(row);
        let (east_m, north_m) = last.map_or((0.0, 0.0), |(from, (east_m, north_m))| {
            let (east, north) = LocalFrame::new(from).to_local(at);
            (east_m + east, north_m + north)
        });
        last = Some((at, (east_m, north_m)));
        (east_m, north_m)
    };
    (0..track.len()).map(|row| track.position_qc[row].is_usable().then(|| place(row)).unzip()).unzip()
}
