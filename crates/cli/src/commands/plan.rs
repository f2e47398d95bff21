//! `plan`: where to set lines first on a day, for the plotter, with a float plan to leave ashore.

use std::path::PathBuf;

use anyhow::Context;
use waterseam_hotspots::{Near, SeasonPart, places};
use waterseam_logs::boat::BoatFile;
use waterseam_logs::quantity::{self, Dimension};
use waterseam_process::hotspots::{Years, expected};
use waterseam_process::outings::outings;
use waterseam_process::plan::reaching;
use waterseam_report::{Plan, Plotter, Stop, Style};
use waterseam_tables::{Logbook, trips};
use waterseam_units::convert::{M_PER_MI, M_PER_NMI, MPS_PER_MPH};
use waterseam_units::{LatLon, UnitSystem};

use super::hotspots::{date, temperature};
use super::{shown, write_whole};
use crate::args::PlanArgs;
use crate::output::{Output, Status, WrongUsage};

/// Speed at which a boat of this kind runs, 20 mph (common practice, no source), m/s.
const RUNNING_MPS: f64 = 20.0 * MPS_PER_MPH;
/// Speed at which lines are pulled, 2.3 mph (common practice, no source), m/s.
const TROLLING_MPS: f64 = 2.3 * MPS_PER_MPH;

/// Writes the waypoints and the float plan, and prints the plan.
///
/// # Errors
/// Where the logbook does not exist or is damaged, an argument makes no sense, or a file cannot be written.
pub fn run(args: &PlanArgs, out: &mut Output) -> anyhow::Result<Status> {
    let logbook = Logbook::open(&args.logbook)?;
    let rows: Vec<trips::Row> = logbook.read_table(None)?;
    let Some(last) = rows.last() else {
        out.warn("the logbook holds no trip");
        return Ok(Status::Failed);
    };
    let style = Style::of_trip(last, args.units);
    let units = style.units;
    let (boat, _) = super::boat(args.boat.as_deref(), &[])?;
    let day = date(&args.date)?;
    let said_c = args.surface_temp.as_deref().map(|text| temperature(text, units)).transpose()?;
    let speed = |option: &str, text: Option<&str>, usual: f64| match text {
        None => Ok(usual),
        Some(text) => quantity::amount(text, Dimension::Speed, units)
            .filter(|mps| (0.1..=60.0).contains(mps))
            .ok_or_else(|| {
                wrong(&format!("{option}: found '{text}'; write {}", Dimension::Speed.examples()))
            }),
    };
    let running_mps = speed("--run-speed", args.run_speed.as_deref(), RUNNING_MPS)?;
    let trolling_mps = speed("--troll-speed", args.troll_speed.as_deref(), TROLLING_MPS)?;
    let from = match &args.from {
        Some(text) => Some(position(text)?),
        None => boat.home_port,
    };
    let within_m = args.within.as_deref().map(|text| distance(text, units)).transpose()?;
    if within_m.is_some() && from.is_none() {
        return Err(wrong("--within needs a port: write --from LAT,LON, or name a boat file with home_port"));
    }
    let years = Years::of(&outings(&logbook)?);
    let species = args.species.as_deref().map(str::to_lowercase);
    if let Some(name) = species.as_ref().filter(|name| !years.species().contains(name)) {
        return Err(wrong(&format!("--species: too few bites of '{name}' to tell of")));
    }
    let near = Near { from, within_m };
    let chosen = [args.season_part, SeasonPart::All].into_iter().find_map(|division| {
        let model = years.model(args.resolution, division, species.as_deref());
        let starts = places(&expected(&model, day, said_c), &near, args.places);
        (!starts.is_empty()).then_some((division, model, starts))
    });
    let (division, usual_c, starts) = match chosen {
        Some((division, model, starts)) => (division, model.usual_temp_c(division.number(day)), starts),
        None => (args.season_part, None, Vec::new()),
    };
    if division != args.season_part {
        out.warn(
            "nothing was fished in that part of the season within that distance: the whole year is taken",
        );
    }
    let part = division.of(day);
    let layer = years.rows(args.resolution, division, species.as_deref());
    let row = |cell: u64| layer.iter().find(|row| row.cell == cell && row.season_part == part).cloned();
    let stop = |start| stop(&boat, trolling_mps, start, row(start.expected.cell));
    let stops: Vec<Stop<'_>> = starts.into_iter().map(stop).collect();
    let at = from.or_else(|| stops.first().map(|stop| stop.start.expected.at));
    let light = at.map(|at| waterseam_track::daylight(day, &style.zone, at)).unwrap_or_default();
    let plan = Plan {
        boat: &last.boat,
        day,
        part: &part,
        zone: style.zone.clone(),
        from,
        within_m,
        stops,
        light_us: [light.dawn_us, light.sunrise_us, light.sunset_us, light.dusk_us],
        surface_temp_c: said_c.or(usual_c),
        is_temp_said: said_c.is_some(),
        running_mps,
        trolling_mps,
        units,
    };
    if plan.stops.is_empty() {
        out.result(&waterseam_report::plan(&plan))?;
        out.warn("no place to name, so no file is written");
        return Ok(Status::Failed);
    }
    let plotter = Plotter { has_short_names: args.short_names, takes_a_route: false };
    let float_plan = float_plan_path(&args.out);
    for (path, text) in [
        (&args.out, waterseam_report::plan_gpx(&plan, plotter)),
        (&float_plan, waterseam_report::float_plan(&plan)),
    ] {
        write_whole(path, text.as_bytes()).with_context(|| format!("cannot write {}", shown(path)))?;
    }
    out.result(&waterseam_report::plan(&plan))?;
    out.say(&format!("waypoints in {}, float plan in {}", shown(&args.out), shown(&float_plan)));
    Ok(Status::Done)
}

fn stop(
    boat: &BoatFile,
    trolling_mps: f64,
    start: waterseam_hotspots::Start,
    row: Option<waterseam_tables::hotspots::Row>,
) -> Stop<'_> {
    let depth_m = row.as_ref().and_then(|row| row.bite_depth_m);
    let (lines, too_short) =
        depth_m.map_or_else(Default::default, |depth_m| reaching(boat, trolling_mps, depth_m));
    Stop {
        start,
        row,
        lines: lines.into_iter().map(|line| (line.setup, line.depth_m)).collect(),
        too_short,
        has_lines: !(boat.spread.is_empty() && boat.tackle.is_empty()),
    }
}

/// Beside the waypoints: `start.gpx` and `start.float-plan.txt`.
fn float_plan_path(gpx: &std::path::Path) -> PathBuf {
    gpx.with_extension("float-plan.txt")
}

/// `46.2,-29.4`.
fn position(text: &str) -> anyhow::Result<LatLon> {
    let at = text
        .split_once(',')
        .and_then(|(lat, lon)| LatLon::new(lat.trim().parse().ok()?, lon.trim().parse().ok()?));
    at.ok_or_else(|| {
        wrong(&format!("--from: found '{text}'; write latitude and longitude in degrees, like 46.2,-29.4"))
    })
}

/// A distance in miles, kilometres or nautical miles; without a unit in that of the text.
fn distance(text: &str, units: UnitSystem) -> anyhow::Result<f64> {
    let number_ends = text.find(|c: char| !(c.is_ascii_digit() || c == '.')).unwrap_or(text.len());
    let (number, unit) = text.split_at(number_ends);
    let m_per_unit = match (unit.trim(), units) {
        ("mi", _) | ("", UnitSystem::Imperial) => Some(M_PER_MI),
        ("nmi" | "nm", _) | ("", UnitSystem::Marine) => Some(M_PER_NMI),
        ("km", _) | ("", UnitSystem::Metric) => Some(1000.0),
        _ => None,
    };
    let distance_m = m_per_unit.and_then(|m| Some(number.parse::<f64>().ok()? * m)).filter(|m| *m > 0.0);
    distance_m.ok_or_else(|| {
        wrong(&format!("--within: found '{text}'; write a distance like \"12 mi\", \"10 nmi\" or \"20 km\""))
    })
}

fn wrong(text: &str) -> anyhow::Error {
    WrongUsage(text.to_owned()).into()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn distances_and_positions() {
        assert_eq!(distance("12 km", UnitSystem::Imperial).ok(), Some(12_000.0));
        assert_eq!(distance("2nmi", UnitSystem::Imperial).ok(), Some(3704.0));
        assert_eq!(distance("10", UnitSystem::Metric).ok(), Some(10_000.0));
        assert!(
            ["", "far", "-3 km", "3 parsec", "0"]
                .iter()
                .all(|text| distance(text, UnitSystem::Metric).is_err())
        );
        assert!(position("46.2, -29.4").is_ok());
        assert!(["46.2", "96.2,0", "a,b", ""].iter().all(|text| position(text).is_err()));
        assert_eq!(
            float_plan_path(std::path::Path::new("a/start.gpx")),
            std::path::Path::new("a/start.float-plan.txt")
        );
    }
}
