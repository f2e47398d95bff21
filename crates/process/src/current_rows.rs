//! Currents, their edges, and what they rest on, as rows of the tables.

use waterseam_breaks::PlacedCrossing;
use waterseam_currents::{Calibration, Edge, Known, Settings, Velocity};
use waterseam_tables::{Shared, calibrations, current_edges, currents};
use waterseam_track::{ReportedCurrent, Track, Trip};
use waterseam_units::angle::{east_north, length_direction};
use waterseam_units::geodesy::distance_m;
use waterseam_units::{LatLon, LocalFrame};

use crate::currents::{Earlier, Found, Tried};
use crate::lure::{self, Deep};
use crate::place;
use crate::rows::id;
use crate::water::Water;

/// Reported currents are averaged over this long, µs.
const REPORTED_WINDOW_US: i64 = 300_000_000;
/// A thermal break this close to an edge of the current lies on it, m: a receiver and two widths.
const ON_EDGE_M: f64 = 200.0;

/// Current windows: as they were estimated, and as an instrument reported them.
pub fn currents(trip_id: &str, trip: &Trip, found: &Found, deep: &[Deep]) -> Vec<currents::Row> {
    let (track, trip_id) = (&trip.track, Shared::from(trip_id));
    let row = |time_us: i64, distance_m: f64, current: Velocity, se_mps: (f64, f64), method: &str| {
        let at = place::at(track, time_us)?;
        let (drift_mps, set_deg) = length_direction(current.east_mps, current.north_mps);
        Some(currents::Row {
            trip_id: trip_id.clone(),
            time: time_us,
            lat: at.lat_deg,
            lon: at.lon_deg,
            distance_m,
            set_deg,
            drift_mps,
            east_mps: current.east_mps,
            north_mps: current.north_mps,
            east_se_mps: se_mps.0,
            north_se_mps: se_mps.1,
            method: method.to_owned(),
            probe_speed_mps: None,
            probe_depth_m: None,
            probe_minus_log_mps: None,
            probe_minus_log_se_mps: None,
        })
    };
    let estimated = found.currents.windows.iter().filter_map(|w| {
        let current = Velocity { east_mps: w.east_mps, north_mps: w.north_mps };
        let errors = (w.east_se_mps, w.north_se_mps);
        let plain = row(place::instant(track, w.time_s), w.distance_m, current, errors, w.method.word())?;
        let probe = lure::in_window(deep, found, w.time_s);
        let minus_log = probe.and_then(|probe| probe.minus_log);
        Some(currents::Row {
            probe_speed_mps: probe.map(|probe| probe.probe_mps),
            probe_depth_m: probe.map(|probe| probe.depth_m),
            probe_minus_log_mps: minus_log.map(|minus| minus.value),
            probe_minus_log_se_mps: minus_log.map(|minus| minus.se),
            ..plain
        })
    });
    let of_window = |a: &ReportedCurrent, b: &ReportedCurrent| {
        a.time_us / REPORTED_WINDOW_US == b.time_us / REPORTED_WINDOW_US
    };
    let reported = trip.reported_currents.chunk_by(of_window).filter_map(|window| {
        let (current, se_mps) = reported(track, window);
        let time_us = window[window.len() / 2].time_us;
        let distance_m = track.distance_m[track.nearest_row(time_us)?];
        row(time_us, distance_m, current, se_mps, "reported")
    });
    let mut rows: Vec<currents::Row> = estimated.chain(reported).collect();
    rows.sort_by(|a, b| (a.time, &a.method).cmp(&(b.time, &b.method)));
    rows
}

/// Mean of an instrument's own numbers and its error: their scatter, for they are smoothed inside the instrument, so that
/// dividing by their count would pretend to know more; and what a raw log and a raw compass, on which they rest, may be
/// wrong by at the speed of the boat.
fn reported(track: &Track, window: &[ReportedCurrent]) -> (Velocity, (f64, f64)) {
    let vectors: Vec<(f64, f64)> = window.iter().map(|c| east_north(c.drift_mps, c.set_deg)).collect();
    let settings = Settings::default();
    let raw_part = settings.raw_scale_se.hypot(settings.raw_heading_se_deg.to_radians());
    let speed_mps = window
        .iter()
        .filter_map(|c| track.nearest_row(c.time_us))
        .filter_map(|row| track.stw_mps[row].or(track.sog_mps[row]))
        .fold(0.0, f64::max);
    let (east_mps, east_sd) = mean_and_scatter(vectors.iter().map(|v| v.0));
    let (north_mps, north_sd) = mean_and_scatter(vectors.iter().map(|v| v.1));
    let with_raw = |sd: f64| sd.hypot(raw_part * speed_mps);
    (Velocity { east_mps, north_mps }, (with_raw(east_sd), with_raw(north_sd)))
}

/// Mean and standard deviation.
fn mean_and_scatter(values: impl Iterator<Item = f64> + Clone) -> (f64, f64) {
    let n = values.clone().count() as f64;
    let mean = values.clone().sum::<f64>() / n;
    let variance = values.map(|v| (v - mean).powi(2)).sum::<f64>() / n;
    (mean, variance.sqrt())
}

/// Current edges.
pub fn current_edges(trip_id: &str, track: &Track, water: &Water) -> Vec<current_edges::Row> {
    let edges = water.currents.edges.iter().enumerate();
    edges.filter_map(|(index, edge)| current_edge(trip_id, track, water, index, edge)).collect()
}

fn current_edge(
    trip_id: &str,
    track: &Track,
    water: &Water,
    index: usize,
    edge: &Edge,
) -> Option<current_edges::Row> {
    let time = place::instant(track, edge.time_s);
    let at = place::at(track, time)?;
    Some(current_edges::Row {
        trip_id: trip_id.to_owned(),
        edge_id: id(trip_id, "edge", index),
        time,
        lat: at.lat_deg,
        lon: at.lon_deg,
        distance_m: edge.distance_m,
        east_change_mps: edge.east_change_mps,
        north_change_mps: edge.north_change_mps,
        change_mps: edge.change_mps,
        width_m: edge.width_m,
        convergence_per_s: edge.convergence_per_s,
        p_value: edge.p_value,
        shear_per_s: Some(edge.shear_per_s),
        break_id: break_on(at, water).map(|crossing| id(trip_id, "break", crossing)),
    })
}

/// The crossing of a thermal break that lies on an edge: the nearest within reach, or the nearest of the nearest break
/// line that passes within reach.
fn break_on(at: LatLon, water: &Water) -> Option<usize> {
    let away_m = |&crossing: &usize| to_line_m(at, water.crossings[crossing].way());
    let nearest =
        |crossings: &mut dyn Iterator<Item = usize>| crossings.min_by(|a, b| away_m(a).total_cmp(&away_m(b)));
    let is_sure = |placed: &PlacedCrossing| placed.crossing.kind != waterseam_breaks::Kind::MaybeShadow;
    let sure = (0..water.crossings.len()).filter(|&crossing| is_sure(&water.crossings[crossing]));
    let crossing = nearest(&mut sure.into_iter()).filter(|crossing| away_m(crossing) <= ON_EDGE_M);
    crossing.or_else(|| {
        let line = water
            .lines
            .iter()
            .map(|line| (line, to_line_m(at, &line.vertices)))
            .filter(|(_, away_m)| *away_m <= ON_EDGE_M)
            .min_by(|a, b| a.1.total_cmp(&b.1))?
            .0;
        nearest(&mut line.crossings.iter().copied())
    })
}

/// Distance from a place to a line of places, or to one place, m.
fn to_line_m(at: LatLon, vertices: &[LatLon]) -> f64 {
    if let [only] = vertices {
        return distance_m(at, *only);
    }
    let frame = LocalFrame::new(at);
    let places: Vec<(f64, f64)> = vertices.iter().map(|&vertex| frame.to_local(vertex)).collect();
    let to_piece = |pair: &[(f64, f64)]| {
        let ((x, y), (dx, dy)) = (pair[0], (pair[1].0 - pair[0].0, pair[1].1 - pair[0].1));
        let square = (dx * dx + dy * dy).max(f64::MIN_POSITIVE);
        let part = (-(x * dx + y * dy) / square).clamp(0.0, 1.0);
        (x + part * dx).hypot(y + part * dy)
    };
    places.windows(2).map(to_piece).fold(f64::MAX, f64::min)
}

/// Speed logs and compass.
pub fn calibrations(trip_id: &str, found: &Found) -> Vec<calibrations::Row> {
    found.tried.iter().map(|log| calibration(trip_id, log)).collect()
}

fn calibration(trip_id: &str, log: &Tried) -> calibrations::Row {
    let known = log.calibration.as_ref();
    let of = |term: fn(&Calibration) -> Option<Known>| known.and_then(term);
    let (scale, offset) = (of(|c| c.log_scale), of(|c| c.log_offset_mps));
    let (leeway, lag) = (of(|c| c.leeway_part), of(|c| c.lag_s));
    let [a, b, c, d, e] = known.map_or([None; 5], |calibration| calibration.deviation_deg);
    let value = |known: Option<Known>| known.map(|known| known.value);
    let se = |known: Option<Known>| known.map(|known| known.se);
    calibrations::Row {
        trip_id: trip_id.to_owned(),
        speed_log: log.name.clone(),
        is_used: log.is_used,
        source: known.map(|calibration| calibration.basis.word().to_owned()),
        trips_used: log.trips,
        is_changed: log.is_changed,
        log_factor: value(log.factor),
        log_factor_se: se(log.factor),
        log_scale: value(scale),
        log_scale_se: se(scale),
        log_offset_mps: value(offset),
        log_offset_se_mps: se(offset),
        deviation_a_deg: value(a),
        deviation_a_se_deg: se(a),
        deviation_b_deg: value(b),
        deviation_b_se_deg: se(b),
        deviation_c_deg: value(c),
        deviation_c_se_deg: se(c),
        deviation_d_deg: value(d),
        deviation_d_se_deg: se(d),
        deviation_e_deg: value(e),
        deviation_e_se_deg: se(e),
        leeway_part: value(leeway),
        leeway_part_se: se(leeway),
        lag_s: value(lag),
        lag_se_s: se(lag),
        mean_east_mps: log.mean.map(|(current, _)| current.east_mps),
        mean_north_mps: log.mean.map(|(current, _)| current.north_mps),
        mean_se_mps: log.mean.map(|(_, se_mps)| se_mps),
        carried: known.map(|calibration| text_of(&calibration.carried.packed())),
    }
}

/// What a trip of the logbook left for later ones.
pub fn earlier(row: &calibrations::Row) -> Option<Earlier> {
    let numbers: Option<Vec<f64>> =
        row.carried.as_ref()?.split(',').map(|number| number.parse().ok()).collect();
    let carried = waterseam_currents::Carried::unpacked(&numbers?)?;
    row.is_used.then_some(Earlier { carried, trips: row.trips_used })
}

/// Shortest decimals that give back the same numbers.
fn text_of(numbers: &[f64]) -> String {
    let numbers: Vec<String> = numbers.iter().map(|number| format!("{number:e}")).collect();
    numbers.join(",")
}

#[cfg(test)]
mod tests {
    use super::*;
    use waterseam_breaks::{BreakLine, Crossing, Kind};

    const AT: LatLon = LatLon { lat_deg: 46.2, lon_deg: -29.4 };

    fn off(east_m: f64, north_m: f64) -> LatLon {
        LocalFrame::new(AT).to_position(east_m, north_m)
    }

    #[test]
    fn how_far_a_line_is() {
        let line = [off(-300.0, 100.0), off(300.0, 100.0), off(300.0, 500.0)];
        assert!((to_line_m(AT, &line) - 100.0).abs() < 0.1);
        assert!((to_line_m(off(500.0, 300.0), &line) - 200.0).abs() < 0.1);
        assert!((to_line_m(off(-340.0, 70.0), &line) - 50.0).abs() < 0.1);
        assert!((to_line_m(AT, &line[..1]) - 316.2).abs() < 0.1);
        assert_eq!(to_line_m(AT, &[]), f64::MAX);
    }

    #[test]
    fn numbers_that_are_carried_come_back_bit_by_bit() {
        let numbers = [1.0 / 3.0, -2.5e-17, 0.0, 6.02e23, f64::MIN_POSITIVE];
        let back: Vec<f64> = text_of(&numbers).split(',').map(|number| number.parse().unwrap()).collect();
        assert_eq!(back, numbers);
    }

    fn a_break(kind: Kind) -> Crossing {
        Crossing {
            time_s: 0.0,
            distance_m: 0.0,
            temp_before_c: 10.0,
            temp_after_c: 12.0,
            step_c: 2.0,
            width_m: 100.0,
            gradient_c_per_km: 20.0,
            centre_se_m: 5.0,
            step_se_c: 0.1,
            p_value: 0.001,
            gap_m: 0.0,
            kind,
        }
    }

    #[test]
    fn an_edge_lies_on_a_crossing_near_it_or_on_a_line_that_passes() {
        let crossing = |at, kind| PlacedCrossing::new(a_break(kind), at, 0.0);
        let line = |crossings: Vec<usize>| BreakLine {
            vertices: vec![off(-2_000.0, 150.0), off(2_000.0, 150.0)],
            crossings,
            step_c: 2.0,
            length_m: 4_000.0,
            warm_side_deg: 0.0,
            course: None,
        };
        let water = |crossings, lines| Water { crossings, lines, ..Water::default() };
        let far = crossing(off(1_500.0, 150.0), Kind::ThermalBreak);
        let near = crossing(off(120.0, 50.0), Kind::ThermalBreak);
        let shadow = crossing(off(10.0, 0.0), Kind::MaybeShadow);
        assert_eq!(break_on(AT, &water(vec![far.clone(), near], Vec::new())), Some(1));
        assert_eq!(break_on(AT, &water(vec![far.clone(), shadow.clone()], Vec::new())), None);
        assert_eq!(break_on(AT, &water(vec![far.clone(), shadow], vec![line(vec![0])])), Some(0));
        assert_eq!(break_on(off(0.0, -100.0), &water(vec![far], vec![line(vec![0])])), None);
    }
}
