//! What do the drawings need of each second of the track?
//!
//! A row of the track is long, and a page goes over all of them some twenty times: what is drawn is taken out once, where its quality lets it be
//! used.

use waterseam_tables::{TripTables, track};
use waterseam_units::{Flag, LatLon};

/// A second of the track.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Second {
    /// µs since 1970 (UTC).
    pub(crate) time: i64,
    pub(crate) at: LatLon,
    /// Along the track from the trip's start, m.
    pub(crate) distance_m: f64,
    /// Temperature at the hull.
    pub(crate) surface_c: Option<f64>,
    pub(crate) water_depth_m: Option<f64>,
    /// Speed as the summary tells it: through the water where a log gives it.
    pub(crate) speed_mps: Option<f64>,
    /// Depth and temperature of the probe.
    pub(crate) probe: Option<(f64, f64)>,
    /// Whether lines were in the water; where no rod is known, whether the boat trolled.
    pub(crate) is_fished: bool,
}

/// Those of a trip.
pub(crate) fn seconds(tables: &TripTables) -> Vec<Second> {
    let first_in = tables.rod_spells.iter().map(|spell| spell.time_in).min();
    let last_out = tables.rod_spells.iter().map(|spell| spell.time_out).max();
    let rods = first_in.zip(last_out).map(|(first_in, last_out)| first_in..=last_out);
    let second = |row: &track::Row| Second {
        time: row.time,
        at: LatLon { lat_deg: row.lat, lon_deg: row.lon },
        distance_m: row.distance_m,
        surface_c: row.surface_temp_c.filter(|_| is_usable(row.surface_temp_qc)),
        water_depth_m: row.water_depth_m.filter(|_| is_usable(row.water_depth_qc)),
        speed_mps: row.stw_mps.or(row.sog_mps),
        probe: row.probe_depth_m.zip(row.probe_temp_c).filter(|_| is_usable(row.probe_temp_qc)),
        is_fished: rods.as_ref().map_or_else(|| row.activity == "troll", |rods| rods.contains(&row.time)),
    };
    tables.track.iter().map(second).collect()
}

fn is_usable(code: u8) -> bool {
    Flag::from_code(code).is_some_and(Flag::is_usable)
}

/// The track from the first line in to the last line out.
pub(crate) fn fished(seconds: &[Second]) -> impl Iterator<Item = &Second> + Clone {
    seconds.iter().filter(|second| second.is_fished)
}

/// Lowest and highest of a value.
pub(crate) fn span(values: impl Iterator<Item = f64>) -> Option<(f64, f64)> {
    values.fold(None, |span, value| {
        Some(span.map_or((value, value), |(low, high): (f64, f64)| (low.min(value), high.max(value))))
    })
}
