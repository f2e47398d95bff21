//! What does the script need to say what was at a point of the track?

use jiff::tz::TimeZone;
use serde_json::{Value, json};
use waterseam_units::time::timestamp;

use super::along::Along;
use super::map::Projection;
use super::measure::Measure;
use super::seconds::Second;

/// Points of the track that the pointer can find, at most.
const POINTS: usize = 2_400;

/// Columns of whole numbers, each the difference from the one before; a missing value is `null`.
pub(crate) fn samples(along: &Along, to: &Projection, zone: &TimeZone) -> Value {
    let every = along.rows().len().div_ceil(POINTS).max(1);
    let rows: Vec<&Second> = along.rows().iter().step_by(every).collect();
    let places: Vec<(f64, f64)> = rows.iter().map(|row| to.at(row.at.lat_deg, row.at.lon_deg)).collect();
    let column = |value: &dyn Fn(usize) -> Option<f64>| -> Value {
        let mut last = 0;
        let differences = (0..rows.len()).map(|i| {
            let now = value(i).map(|value| value.round() as i64)?;
            let step = now - last;
            last = now;
            Some(step)
        });
        json!(differences.collect::<Vec<Option<i64>>>())
    };
    // the clock on the boat: seconds since 1970 as if her zone were UTC
    let clock = |i: usize| {
        let instant = timestamp(rows[i].time);
        Some((instant.as_second() + i64::from(zone.to_offset(instant).seconds())) as f64)
    };
    json!({
        "clock_s": column(&clock),
        "x": column(&|i| Some(10.0 * places[i].0)),
        "y": column(&|i| Some(10.0 * places[i].1)),
        "along": column(&|i| Some(10.0 * along.x(rows[i].distance_m))),
        "distance_m": column(&|i| Some(rows[i].distance_m)),
        "temp_cc": column(&|i| rows[i].surface_c.map(|t| 100.0 * t)),
        "depth_dm": column(&|i| rows[i].water_depth_m.map(|m| 10.0 * m)),
        "speed_cmps": column(&|i| rows[i].speed_mps.map(|v| 100.0 * v)),
        "units": {
            "temp": Measure::Temp.json(),
            "depth": Measure::Depth.json(),
            "speed": Measure::Speed.json(),
            "distance": Measure::Distance.json(),
        },
        "map": to.json(),
    })
}
