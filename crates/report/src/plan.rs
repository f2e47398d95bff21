//! Where to set lines first on a day: for the captain, for the plotter, and for whoever waits ashore.

use std::fmt::Write;

use jiff::civil::Date;
use jiff::tz::TimeZone;
use waterseam_hotspots::Start;
use waterseam_tables::hotspots::Row;
use waterseam_tackle::{Refusal, Setup};
use waterseam_units::geodesy::inverse;
use waterseam_units::show::{compass_point, degrees_minutes};
use waterseam_units::{LatLon, UnitSystem, time};

use crate::cautions::CAUTIONS;
use crate::gpx::{Document, Plotter, Waypoint};
use crate::hotspots::{evidence, part_words};
use crate::running_depth::{out_words, refusal};
use crate::summary::{section, wrap};
use crate::words::{depth_range, duration, list};

/// Farther from port than this no telephone is to be counted on (common practice, no source), m.
const PHONE_REACHES_M: f64 = 8000.0;
/// Water in which a body fails within minutes to an hour (common practice, no source), °C.
const COLD_C: f64 = 15.0;
/// Letters of a line of the float plan.
const WIDTH: usize = 78;

/// A plan for a day.
#[derive(Clone, Debug)]
pub struct Plan<'a> {
    /// The boat.
    pub boat: &'a str,
    /// The day.
    pub day: Date,
    /// The part of the season that it was made from, in a word.
    pub part: &'a str,
    /// Zone of clock times.
    pub zone: TimeZone,
    /// Port.
    pub from: Option<LatLon>,
    /// Farthest place that was looked at, m.
    pub within_m: Option<f64>,
    /// Places, the best first.
    pub stops: Vec<Stop<'a>>,
    /// Start of civil twilight, sunrise, sunset, end of civil twilight, µs since 1970 UTC.
    pub light_us: [Option<i64>; 4],
    /// Surface temperature that was said, else the usual one, °C.
    pub surface_temp_c: Option<f64>,
    /// Whether it was said.
    pub is_temp_said: bool,
    /// Running speed that times are worked out with, m/s.
    pub running_mps: f64,
    /// Trolling speed that lines are worked out with, m/s.
    pub trolling_mps: f64,
    /// Units of the text.
    pub units: UnitSystem,
}

/// A place of the plan.
#[derive(Clone, Debug)]
pub struct Stop<'a> {
    /// Where, and what is to be expected.
    pub start: Start,
    /// What is known of it.
    pub row: Option<Row>,
    /// Lines that reach the middle of its bites, with the depth that they run at, m.
    pub lines: Vec<(Setup<'a>, f64)>,
    /// Lines that would reach it with more line than is worth letting out, by name, and why they do not.
    pub too_short: Vec<(&'a str, Refusal)>,
    /// Whether the boat file names any line.
    pub has_lines: bool,
}

/// The plan as text.
pub fn plan(plan: &Plan<'_>) -> String {
    let mut text =
        format!("Plan for {}, {}{}\n\n", plan.day.strftime("%A %-d %B %Y"), plan.boat, from_words(plan));
    section(&mut text, "Light", &[light_words(plan)]);
    section(&mut text, "Season", &[season_words(plan)]);
    let mut lines = Vec::new();
    for (n, stop) in plan.stops.iter().enumerate() {
        let at = stop.start.expected.at;
        lines.push(format!("{}  {}{}", n + 1, degrees_minutes(at), way_words(plan, stop)));
        lines.extend(stop_words(plan, stop).into_iter().map(|words| format!("     {words}")));
    }
    if plan.stops.is_empty() {
        lines.push(
            "no place was fished in that part of the season within that distance, so nothing can be said"
                .to_owned(),
        );
    }
    section(&mut text, "Places", &lines);
    section(&mut text, "Mind", &mind(plan));
    text
}

/// The plan as waypoints, each with its evidence and the cautions.
pub fn plan_gpx(plan: &Plan<'_>, plotter: Plotter) -> String {
    let mind = mind(plan).join(" ");
    let waypoints = plan.stops.iter().enumerate().map(|(n, stop)| Waypoint {
        at: stop.start.expected.at,
        time_us: None,
        name: format!("Start {}", n + 1),
        desc: format!("{}. {mind}", stop_words(plan, stop).join(". ")),
        kind: "place to start",
        short: "ST",
    });
    let document = Document {
        name: format!("Places to start, {}", plan.day),
        desc: format!("{}. {}. {mind}", light_words(plan), season_words(plan)),
        waypoints: waypoints.collect(),
        ..Document::default()
    };
    document.for_plotter(plotter).text()
}

/// Half a page to fill in and leave ashore.
pub fn float_plan(plan: &Plan<'_>) -> String {
    let mut text =
        format!("FLOAT PLAN  {}  (leave with someone ashore)\n\n", plan.day.strftime("%A %-d %B %Y"));
    let blank = |n: usize| "_".repeat(n);
    let _ = writeln!(text, "Boat: {}   Colour, length, registration: {}", plan.boat, blank(28));
    let _ = writeln!(text, "Skipper, phone: {}   People aboard: {}", blank(30), blank(10));
    let _ = writeln!(text, "Radio, call sign: {}   Life-jackets, flares, beacon: {}", blank(14), blank(14));
    let _ =
        writeln!(text, "Leaving: {}   Back by: {}   Boat in company: {}", blank(10), blank(10), blank(16));
    text.push_str("\nWhere\n");
    if let Some(from) = plan.from {
        let _ = writeln!(text, "  from  {}", degrees_minutes(from));
    }
    for (n, stop) in plan.stops.iter().enumerate() {
        let _ = writeln!(
            text,
            "  {}     {}{}",
            n + 1,
            degrees_minutes(stop.start.expected.at),
            way_words(plan, stop)
        );
    }
    let _ = writeln!(text, "\n{}", light_words(plan));
    let _ = writeln!(text, "\nNot back by {} and no word: call {}", blank(10), blank(30));
    text.push_str("and give them this page.\n\n");
    for caution in mind(plan) {
        for line in wrap(&caution, WIDTH) {
            let _ = writeln!(text, "{line}");
        }
    }
    text
}

fn from_words(plan: &Plan<'_>) -> String {
    let from = plan.from.map(|from| format!(", from {}", degrees_minutes(from)));
    let within = plan.within_m.map(|m| format!(", within {}", plan.units.distance(m)));
    [from, within].into_iter().flatten().collect()
}

fn light_words(plan: &Plan<'_>) -> String {
    let clock = |time_us: Option<i64>| {
        time_us.map_or_else(
            || "none".to_owned(),
            |us| time::timestamp(us).to_zoned_datetime(plan.zone.clone()).strftime("%H:%M").to_string(),
        )
    };
    let [dawn, sunrise, sunset, dusk] = plan.light_us.map(clock);
    let zone = plan.zone.iana_name().unwrap_or("UTC");
    format!(
        "first light {dawn}, sunrise {sunrise}, sunset {sunset}, last light {dusk} (civil twilight; {zone})"
    )
}

fn season_words(plan: &Plan<'_>) -> String {
    let part = part_words(plan.part);
    match plan.surface_temp_c {
        Some(temp_c) if plan.is_temp_said => format!("{part}, {} at the surface", plan.units.temp(temp_c)),
        Some(temp_c) => format!("{part}, in its usual water ({} at the surface)", plan.units.temp(temp_c)),
        None => part,
    }
}

/// How far, which way, how long.
fn way_words(plan: &Plan<'_>, stop: &Stop<'_>) -> String {
    let Some(from) = plan.from else { return String::new() };
    let (distance_m, azimuth_deg) = inverse(from, stop.start.expected.at);
    format!(
        "  {} {} of port in a straight line, {} at {}",
        plan.units.distance(distance_m),
        compass_point(azimuth_deg),
        duration(distance_m / plan.running_mps),
        plan.units.speed(plan.running_mps)
    )
}

fn stop_words(plan: &Plan<'_>, stop: &Stop<'_>) -> Vec<String> {
    let (units, expected) = (plan.units, &stop.start.expected);
    let mut parts = vec![format!(
        "{:.2} bites a rod-hour to be expected (90 % sure: {:.2} to {:.2}), {:.1} times the average",
        expected.rate, expected.low, expected.high, expected.times_average
    )];
    let Some(row) = &stop.row else { return parts };
    let kind = if row.hot { "hot" } else { "not surely twice the average" };
    parts.push(format!("{kind}: {}", evidence(row, units).join(", ")));
    let Some(depth_m) = row.bite_depth_m else {
        parts.push("no bite there has a depth, so none can be named".to_owned());
        return parts;
    };
    let (low_m, high_m) = (row.bite_depth_low_m.unwrap_or(depth_m), row.bite_depth_high_m.unwrap_or(depth_m));
    let lines: Vec<String> = stop
        .lines
        .iter()
        .map(|(setup, _)| format!("{} {}", setup.rod.unwrap_or("line"), out_words(setup, units)))
        .collect();
    parts.push(match (lines.is_empty(), stop.has_lines) {
        (false, _) => format!(
            "for {} set {} (running depths are estimates, at {})",
            depth_range(units, low_m, high_m),
            list(&lines),
            units.speed(plan.trolling_mps)
        ),
        (true, true) => format!("none of the boat file's lines reaches {}", units.depth(depth_m)),
        (true, false) => format!(
            "lines at {}; a boat file with [[spread]] or [[tackle]] says how much to let out",
            depth_range(units, low_m, high_m)
        ),
    });
    if !stop.too_short.is_empty() {
        let lines = stop.too_short.iter().map(|(name, why)| format!("{name} {}", refusal(*why, units)));
        parts.push(format!("too short for it: {}", list(&lines.collect::<Vec<_>>())));
    }
    parts
}

fn mind(plan: &Plan<'_>) -> Vec<String> {
    let mut cautions = Vec::new();
    let farthest_m = plan.stops.iter().filter_map(|stop| stop.start.distance_m).reduce(f64::max);
    if let Some(farthest_m) = farthest_m {
        let phone = if farthest_m > PHONE_REACHES_M { ": count on no telephone there" } else { "" };
        cautions.push(format!(
            "The farthest of these places is {} from port{phone}.",
            plan.units.distance(farthest_m)
        ));
    }
    if let Some(temp_c) = plan.surface_temp_c.filter(|temp_c| *temp_c < COLD_C) {
        cautions.push(format!(
            "Cold water, about {} at the surface: whoever goes in has little time.",
            plan.units.temp(temp_c)
        ));
    }
    cautions.extend(CAUTIONS.map(str::to_owned));
    cautions
}
