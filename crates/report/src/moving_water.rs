//! What the summary says of water that moves: the current, its edges, log and compass, and speed at the lures.

use waterseam_tables::{TripTables, calibrations, current_edges, currents, lure_speeds};
use waterseam_units::angle::length_direction;
use waterseam_units::show::compass_point;

use crate::summary::Style;
use crate::words::{clock, count, place};

/// Edges that are shown.
const EDGES: usize = 3;
/// What differs from zero, or from another, by fewer of its standard errors is not told from it.
const TOLD_SE: f64 = 2.0;
/// An instrument's report is compared with the window that is nearest in time, no further than this, µs.
const SAME_TIME_US: i64 = 300_000_000;
/// Speed logs whose currents differ by less agree, m/s: a tenth of a knot.
const LOGS_AGREE_MPS: f64 = 0.05;
/// A log that is wrong by less is right, part.
const LOG_RIGHT: f64 = 0.01;
/// A compass that is wrong by less is right, degrees.
const DEVIATION_RIGHT_DEG: f64 = 1.0;
/// Courses for which the speed over ground is known less surely are left to the table, m/s: they were not run.
const COURSE_SURE_MPS: f64 = 0.1;
/// No speed is told as surer than a tenth of a knot, m/s.
const LEAST_SPEED_MPS: f64 = 0.05;
/// Depths of the probe that are told of.
const DEPTHS: usize = 2;

/// The current and its edges, and what they rest on.
pub(crate) fn current(tables: &TripTables, style: &Style) -> Vec<String> {
    let (reported, own): (Vec<&currents::Row>, Vec<_>) =
        tables.currents.iter().partition(|row| row.method == "reported");
    let mut out = match (&own[..], &reported[..]) {
        ([], []) => vec!["not known; Data below says why".to_owned()],
        ([], reported) => vec![format!("{} as an instrument reported", mean_words(reported, style))],
        (own, _) => vec![format!("{}{}", mean_words(own, style), by_what(own))],
    };
    out.extend(edges(tables, &own, style));
    if !own.is_empty() {
        out.extend(report_differs(&own, &reported, style));
    }
    out.extend(instruments(&tables.calibrations, style));
    out
}

/// Mean vector of windows and its error, m/s.
fn mean(rows: &[&currents::Row]) -> (f64, f64, f64) {
    let mean =
        |f: fn(&currents::Row) -> f64| rows.iter().map(|row| f(row)).sum::<f64>() / rows.len().max(1) as f64;
    (mean(|r| r.east_mps), mean(|r| r.north_mps), mean(|r| r.east_se_mps.hypot(r.north_se_mps)))
}

fn mean_words(rows: &[&currents::Row], style: &Style) -> String {
    let (east, north, error) = mean(rows);
    let (drift, set) = length_direction(east, north);
    if drift < TOLD_SE * error {
        return format!(
            "mean too weak to tell from zero (under {})",
            style.units.slow_speed(TOLD_SE * error)
        );
    }
    format!(
        "mean {} toward the {} (give or take {})",
        style.units.slow_speed(drift),
        compass_point(set.unwrap_or_default()),
        style.units.slow_speed(error)
    )
}

fn by_what(rows: &[&currents::Row]) -> &'static str {
    match rows.first().map(|row| row.method.as_str()) {
        Some("course_circle") => ", from the courses run, without a compass",
        Some("reciprocal_legs") => ", from legs there and back, without a speed log",
        _ => "",
    }
}

fn edges(tables: &TripTables, own: &[&currents::Row], style: &Style) -> Vec<String> {
    let (.., error) = mean(own);
    let told: Vec<&current_edges::Row> =
        tables.current_edges.iter().filter(|row| row.change_mps > TOLD_SE * error).collect();
    let line = |row: &&current_edges::Row| {
        format!(
            "  {}  {}  edge of {}",
            clock(row.time, style),
            place(row.lat, row.lon),
            edge_words(row, style)
        )
    };
    let mut out: Vec<String> = told.iter().take(EDGES).map(line).collect();
    if told.len() > out.len() {
        out.push(format!("  and {} more (table current_edges)", told.len() - out.len()));
    }
    out
}

/// `0.60 mph in 480 ft, with the thermal break`: by how much the current changes there.
pub(crate) fn edge_words(row: &current_edges::Row, style: &Style) -> String {
    format!(
        "{} in {}{}",
        style.units.slow_speed(row.change_mps),
        style.units.short_distance(row.width_m),
        if row.break_id.is_some() { ", with the thermal break" } else { "" },
    )
}

/// Where an instrument's set and drift are not what log, compass and track say.
fn report_differs(own: &[&currents::Row], reported: &[&currents::Row], style: &Style) -> Option<String> {
    let beside = |report: &&&currents::Row| {
        let nearest = own.iter().min_by_key(|row| (row.time - report.time).abs())?;
        ((nearest.time - report.time).abs() <= SAME_TIME_US).then_some(*nearest)
    };
    let pairs: Vec<(&currents::Row, &currents::Row)> =
        reported.iter().filter_map(|report| Some((*report, beside(&report)?))).collect();
    if pairs.is_empty() {
        return None;
    }
    let apart = |(a, b): &(&currents::Row, &currents::Row)| {
        let (east, north) = (a.east_mps - b.east_mps, a.north_mps - b.north_mps);
        let se = [a.east_se_mps, a.north_se_mps, b.east_se_mps, b.north_se_mps];
        let size = east.hypot(north);
        (size, size > TOLD_SE * se.into_iter().fold(0.0, f64::hypot))
    };
    let differ: Vec<_> = pairs.iter().filter(|pair| apart(pair).1).collect();
    let Some((report, _)) = differ.iter().max_by(|a, b| apart(a).0.total_cmp(&apart(b).0)) else {
        return Some(format!(
            "the set and drift that an instrument reported agree with it ({})",
            count(pairs.len(), "window", "windows")
        ));
    };
    Some(format!(
        "the set and drift that an instrument reported differ from it in {} of {}, most at {}: it said {} toward the {}",
        differ.len(),
        count(pairs.len(), "window", "windows"),
        clock(report.time, style),
        style.units.slow_speed(report.drift_mps),
        compass_point(report.set_deg.unwrap_or_default()),
    ))
}

/// How log and compass are wrong, and what another log would say.
fn instruments(rows: &[calibrations::Row], style: &Style) -> Vec<String> {
    let Some(used) = rows.iter().find(|row| row.is_used) else { return Vec::new() };
    let mut out: Vec<String> = calibration(used).into_iter().collect();
    if used.is_changed {
        out.push(
            "log and compass are not as on earlier trips: something was changed, and those are not used"
                .to_owned(),
        );
    }
    let current = |row: &calibrations::Row| Some((row.mean_east_mps?, row.mean_north_mps?));
    let words = |(east, north): (f64, f64)| {
        let (drift, set) = length_direction(east, north);
        format!("{} toward {:.0}°", style.units.slow_speed(drift), set.unwrap_or_default())
    };
    for other in rows.iter().filter(|row| !row.is_used) {
        out.push(match (current(used), current(other)) {
            (Some(a), Some(b)) if (a.0 - b.0).hypot(a.1 - b.1) < LOGS_AGREE_MPS => {
                format!("speed logs {} (used) and {} agree", used.speed_log, other.speed_log)
            }
            (Some(a), Some(b)) => format!(
                "speed logs disagree: the mean current is {} by {} (used) and {} by {}",
                words(a),
                used.speed_log,
                words(b),
                other.speed_log
            ),
            (_, Some(b)) => {
                format!("speed log {} is used; {} gives {}", used.speed_log, other.speed_log, words(b))
            }
            (_, None) => {
                format!("speed log {} is used; {} gives no current", used.speed_log, other.speed_log)
            }
        });
    }
    out
}

fn calibration(row: &calibrations::Row) -> Option<String> {
    let log = row.log_factor.zip(row.log_factor_se).map(|(factor, se)| {
        // of the log's reading against the truth
        let (high, se) = (factor.recip() - 1.0, se / (factor * factor));
        let give = (100.0 * se).max(0.1);
        match high {
            high if high.abs() < (TOLD_SE * se).max(LOG_RIGHT) => {
                format!("the speed log is right to {:.0} %", (100.0 * TOLD_SE * se).max(1.0))
            }
            high => format!(
                "the speed log reads {:.0} % {} (give or take {give:.1} %)",
                100.0 * high.abs(),
                if high > 0.0 { "high" } else { "low" }
            ),
        }
    });
    let compass = row.deviation_a_deg.zip(row.deviation_a_se_deg).map(|(a, se)| {
        let by_heading = [
            row.deviation_b_deg.zip(row.deviation_b_se_deg),
            row.deviation_c_deg.zip(row.deviation_c_se_deg),
            row.deviation_d_deg.zip(row.deviation_d_se_deg),
            row.deviation_e_deg.zip(row.deviation_e_se_deg),
        ];
        let turns = by_heading
            .into_iter()
            .flatten()
            .any(|(value, se)| value.abs() > (TOLD_SE * se).max(DEVIATION_RIGHT_DEG));
        let more = if turns { ", more or less by heading (table calibrations)" } else { "" };
        if a.abs() < (TOLD_SE * se).max(DEVIATION_RIGHT_DEG) {
            format!("the compass is right to {:.0}°{more}", (TOLD_SE * se).max(1.0))
        } else {
            let way = if a > 0.0 { "low" } else { "high" };
            format!("the compass reads {:.1}° {way} (give or take {:.1}°){more}", a.abs(), se.max(0.1))
        }
    });
    let earlier = |n: i64| count(n.max(0) as usize, "earlier trip", "earlier trips");
    let from = match row.source.as_deref() {
        Some("both") => format!(", from this trip and {}", earlier(row.trips_used - 1)),
        Some("earlier_trips") => format!(", from {}", earlier(row.trips_used)),
        _ => ", from this trip's courses".to_owned(),
    };
    let parts: Vec<String> = log.into_iter().chain(compass).collect();
    (!parts.is_empty()).then(|| format!("{}{from}", parts.join("; ")))
}

/// Speed at the lures: what the water does at the depth of the probe and what that means over ground. Empty without a
/// probe.
pub(crate) fn lures(tables: &TripTables, style: &Style) -> Vec<String> {
    let mut depths: Vec<&[lure_speeds::Row]> =
        tables.lure_speeds.chunk_by(|a, b| a.depth_m == b.depth_m).collect();
    depths.sort_by_key(|rows| std::cmp::Reverse(rows[0].looks));
    depths.truncate(DEPTHS);
    if depths.is_empty() {
        let has_probe = tables.track.iter().any(|row| row.probe_depth_m.is_some());
        let has_speed = tables.track.iter().any(|row| row.probe_speed_mps.is_some());
        return match (has_probe, has_speed) {
            (true, false) => vec!["speed at the lures not known: the probe logged none".to_owned()],
            (true, true) => {
                vec!["speed at the lures not known: too little steady towing at one depth".to_owned()]
            }
            _ => Vec::new(),
        };
    }
    depths.into_iter().flat_map(|rows| at_depth(rows, style)).collect()
}

fn at_depth(rows: &[lure_speeds::Row], style: &Style) -> Vec<String> {
    let Some(row) = rows.first() else { return Vec::new() };
    let units = style.units;
    let (drift, set) = length_direction(row.east_mps, row.north_mps);
    let error = row.east_se_mps.hypot(row.north_se_mps);
    let there = if drift < TOLD_SE * error {
        format!("too weak to tell from zero (under {})", units.slow_speed(TOLD_SE * error))
    } else {
        format!(
            "{} toward the {} (give or take {})",
            units.slow_speed(drift),
            compass_point(set.unwrap_or_default()),
            units.slow_speed(error)
        )
    };
    let mut out =
        vec![format!("at {} the current is {there}{}", units.depth(row.depth_m), beside_log(row, style))];
    let speeds: Vec<(f64, f64, f64)> = rows
        .iter()
        .filter_map(|row| Some((row.sog_mps?, row.course_deg, row.sog_se_mps?)))
        .filter(|(.., se_mps)| *se_mps <= COURSE_SURE_MPS)
        .collect();
    let most = speeds.iter().max_by(|a, b| a.0.total_cmp(&b.0));
    let least = speeds.iter().min_by(|a, b| a.0.total_cmp(&b.0));
    if let (Some(most), Some(least)) = (most, least) {
        let error = most.2.max(least.2);
        let wanted = units.speed(row.probe_mps);
        out.push(if most.0 - least.0 < TOLD_SE * error {
            format!(
                "  for {wanted} on the probe: {} over ground on every course run, within {}",
                units.speed(0.5 * (most.0 + least.0)),
                units.speed((TOLD_SE * error).max(LEAST_SPEED_MPS))
            )
        } else {
            format!(
                "  for {wanted} on the probe: {} over ground going {}, {} going {} (give or take {})",
                units.speed(most.0),
                compass_point(most.1),
                units.speed(least.0),
                compass_point(least.1),
                units.speed(error.max(LEAST_SPEED_MPS))
            )
        });
    }
    out
}

/// `; the probe showed 0.20 mph less than the speed log`.
fn beside_log(row: &lure_speeds::Row, style: &Style) -> String {
    let known = row.probe_minus_log_mps.zip(row.probe_minus_log_se_mps);
    known.filter(|(minus, se)| minus.abs() > TOLD_SE * se).map_or(String::new(), |(minus, _)| {
        format!(
            "; the probe showed {} {} than the speed log on average",
            style.units.slow_speed(minus.abs()),
            if minus > 0.0 { "more" } else { "less" }
        )
    })
}
