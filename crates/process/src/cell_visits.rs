//! What did a trip do in each cell that it came through?
//!
//! From the rows of the tables, so that a trip of an older logbook gives the same as one that is processed today.

use std::collections::BTreeMap;

use waterseam_tables::{breaks, cell_visits, effort, track};
use waterseam_units::time::US_PER_S;
use waterseam_units::{Flag, LatLon, LocalFrame, PlaceSums};

/// What was run while the position was silent for longer than this belongs to no cell, s: a boat under way may have
/// been kilometres off the straight line by then.
const SILENT_S: i64 = 600;
/// A step between two positions in different cells is cut into pieces of at most this, m: a quarter of a cell's edge,
/// which is 200 m on average (H3 resolution 9).
const PIECE_M: f64 = 50.0;

/// One row for each cell in which the trip ran, fished or crossed a break, in order of the cell.
///
/// Sums are of whole microseconds, millimetres and millionths of a degree: whatever the order, the same sum.
pub fn cell_visits(
    trip_id: &str,
    track: &[track::Row],
    effort: &[effort::Row],
    breaks: &[breaks::Row],
) -> Vec<cell_visits::Row> {
    let mut cells: BTreeMap<u64, PlaceSums> = BTreeMap::new();
    run(track, |cell, way_m| cells.entry(cell).or_default().run(way_m));
    for row in effort {
        cells.entry(row.cell).or_default().fish(row.rod_hours, row.surface_temp_c);
    }
    for row in breaks.iter().filter(|row| row.depth_m.is_none() && row.kind != MAYBE_SHADOW) {
        let cell = waterseam_track::cell(LatLon { lat_deg: row.lat, lon_deg: row.lon });
        cells.entry(cell).or_default().cross(1);
    }
    cells.into_iter().map(|(cell, sums)| row(trip_id, cell, sums)).collect()
}

/// Word of the table `breaks` for what may be no break.
const MAYBE_SHADOW: &str = "maybe_shadow";

fn row(trip_id: &str, cell: u64, sums: PlaceSums) -> cell_visits::Row {
    cell_visits::Row {
        trip_id: trip_id.to_owned(),
        cell,
        rod_hours: sums.rod_hours(),
        run_m: sums.run_m(),
        breaks: sums.breaks,
        surface_temp_c: sums.surface_temp_c(),
    }
}

/// Gives each cell of the track the way that was run in it, m; a cell that the boat lay in gets 0.
fn run(track: &[track::Row], mut add: impl FnMut(u64, f64)) {
    let is_usable =
        |row: &&track::Row| Flag::from_code(row.position_qc).is_some_and(waterseam_units::Flag::is_usable);
    let mut before: Option<&track::Row> = None;
    for row in track.iter().filter(is_usable) {
        add(row.cell, 0.0);
        if let Some(before) = before.filter(|before| row.time - before.time <= SILENT_S * US_PER_S) {
            step(before, row, &mut add);
        }
        before = Some(row);
    }
}

/// The way from one position to the next, by the cells of the straight line between.
fn step(from: &track::Row, to: &track::Row, add: &mut impl FnMut(u64, f64)) {
    let way_m = to.distance_m - from.distance_m;
    if from.cell == to.cell {
        add(from.cell, way_m);
        return;
    }
    let frame = LocalFrame::new(LatLon { lat_deg: from.lat, lon_deg: from.lon });
    let (east_m, north_m) = frame.to_local(LatLon { lat_deg: to.lat, lon_deg: to.lon });
    let pieces = (east_m.hypot(north_m) / PIECE_M).ceil().max(1.0);
    for piece in 0..pieces as usize {
        let part = (piece as f64 + 0.5) / pieces;
        add(waterseam_track::cell(frame.to_position(east_m * part, north_m * part)), way_m / pieces);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const LAT: f64 = 46.2;
    const LON: f64 = -29.4;

    fn at(east_m: f64) -> LatLon {
        LocalFrame::new(LatLon { lat_deg: LAT, lon_deg: LON }).to_position(east_m, 0.0)
    }

    /// A boat that runs east at 5 m/s, with a position every so many seconds.
    fn track(seconds: usize, every_s: usize) -> Vec<track::Row> {
        let row = |second: usize| {
            let distance_m = 5.0 * second as f64;
            let place = at(distance_m);
            track::Row {
                trip_id: "t".into(),
                time: second as i64 * US_PER_S,
                lat: place.lat_deg,
                lon: place.lon_deg,
                position_qc: Flag::Pass.code(),
                distance_m,
                sog_mps: None,
                cog_deg: None,
                stw_mps: None,
                stw_across_mps: None,
                heading_deg: None,
                water_depth_m: None,
                water_depth_qc: Flag::Missing.code(),
                surface_temp_c: None,
                surface_temp_raw_c: None,
                surface_temp_qc: Flag::Missing.code(),
                sog_qc: None,
                stw_qc: None,
                heading_qc: None,
                probe_depth_m: None,
                probe_temp_c: None,
                probe_temp_qc: Flag::Missing.code(),
                probe_speed_mps: None,
                wind_speed_mps: None,
                wind_from_deg: None,
                activity: "run".into(),
                sun_elevation_deg: 0.0,
                cell: waterseam_track::cell(place),
            }
        };
        (0..=seconds).step_by(every_s).map(row).collect()
    }

    fn minute(cell: u64, rod_hours: f64, surface_temp_c: Option<f64>) -> effort::Row {
        effort::Row {
            trip_id: "t".into(),
            time: 0,
            lat: LAT,
            lon: LON,
            cell,
            spell_id: "t-spell-1".to_owned(),
            rod_hours,
            depth_m: None,
            temp_at_depth_c: None,
            surface_temp_c,
            stw_mps: None,
            lure_speed_mps: None,
            break_distance_m: None,
            break_side: None,
            above_thermocline_m: None,
            sun_elevation_deg: 0.0,
        }
    }

    #[test]
    fn the_way_is_shared_out_whole() {
        let fine = cell_visits("t", &track(600, 1), &[], &[]);
        let coarse = cell_visits("t", &track(600, 60), &[], &[]);
        for visits in [&fine, &coarse] {
            let run_m: f64 = visits.iter().map(|row| row.run_m).sum();
            assert!((run_m - 3_000.0).abs() < 0.1, "{run_m}");
            assert!(visits.iter().all(|row| row.rod_hours == 0.0 && row.surface_temp_c.is_none()));
        }
        // 3 km through hexagons that are 0.35 km to 0.4 km across; a position a minute leaves none out
        let cells = |visits: &[cell_visits::Row]| visits.iter().map(|row| row.cell).collect::<Vec<_>>();
        assert!((8..=16).contains(&fine.len()), "{}", fine.len());
        assert_eq!(cells(&fine), cells(&coarse));
        for (fine, coarse) in fine.iter().zip(&coarse) {
            assert!((fine.run_m - coarse.run_m).abs() <= 2.0 * PIECE_M, "{fine:?} {coarse:?}");
        }
    }

    #[test]
    fn a_long_silence_belongs_to_no_cell() {
        let rows = track(1_202, 601);
        let visits = cell_visits("t", &rows, &[], &[]);
        assert_eq!(visits.len(), 3);
        assert!(visits.iter().all(|row| row.run_m == 0.0));
    }

    #[test]
    fn temperature_is_the_mean_over_the_rod_hours() {
        let effort = [
            minute(7, 0.01, Some(10.0)),
            minute(7, 0.03, Some(14.0)),
            minute(7, 0.05, None),
            minute(8, 0.02, None),
        ];
        let visits = cell_visits("t", &[], &effort, &[]);
        assert_eq!(visits.len(), 2);
        assert!((visits[0].rod_hours - 0.09).abs() < 1e-12);
        assert_eq!(visits[0].surface_temp_c, Some(13.0));
        assert_eq!(visits[1].surface_temp_c, None);
        let mut turned = effort.to_vec();
        turned.reverse();
        assert_eq!(cell_visits("t", &[], &turned, &[]), visits);
    }
}
