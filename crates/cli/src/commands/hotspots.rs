//! `hotspots`: builds the layer of many trips and tells its best places.

use std::collections::BTreeSet;

use anyhow::Context;
use jiff::civil::Date;
use waterseam_hotspots::{Near, places};
use waterseam_logs::quantity::{self, Dimension};
use waterseam_process::hotspots::{ALL_SPECIES, Years, expected};
use waterseam_process::outings::outings;
use waterseam_report::{CAUTIONS, Conditional, Layer, Style};
use waterseam_tables::{
    LayerId, Logbook, LogbookWriter, geoparquet, hotspots, read_answers, read_pool, trips,
};
use waterseam_units::UnitSystem;

use super::{shown, write_whole};
use crate::args::{Format, HotspotsArgs};
use crate::output::{Output, Status, WrongUsage};

/// Places that are named where a surface temperature is given.
const NAMED: usize = 5;

/// What a layer is made of.
struct Trips {
    years: Years,
    /// Of every trip.
    days: Vec<Date>,
    units: UnitSystem,
}

/// Makes the layer of a logbook, a pool or an engine's answers, keeps it as the table `hotspots` and prints it in words.
///
/// # Errors
/// Where what it is to be made of does not exist, is in use or damaged, or an argument makes no sense.
pub fn run(args: &HotspotsArgs, out: &mut Output) -> anyhow::Result<Status> {
    let layer = LayerId { resolution: args.resolution, division: args.season_part.word().to_owned() };
    if let Some(root) = &args.logbook {
        // a writer makes a logbook where there is none
        drop(Logbook::open(root)?);
        let writer = LogbookWriter::open_or_create(root)?;
        let trips: Vec<trips::Row> = writer.logbook().read_table(None)?;
        let Some(last) = trips.last() else {
            out.warn("the logbook holds no trip");
            return Ok(Status::Failed);
        };
        let outings = outings(writer.logbook())?;
        let trips = Trips {
            years: Years::of(&outings),
            days: outings.iter().map(|outing| outing.day).collect(),
            units: Style::of_trip(last, args.units).units,
        };
        return told(args, &trips, out, |rows| Ok(writer.write_hotspots(&layer, rows).map(drop)?));
    }
    let rows = match (&args.pool, &args.answers) {
        (Some(pool), _) => read_pool(pool)?,
        (None, Some(answers)) => read_answers(answers)?,
        (None, None) => return Err(WrongUsage("--logbook, --pool or --answers is needed".to_owned()).into()),
    };
    if rows.trips.is_empty() {
        out.warn("the pool holds no trip");
        return Ok(Status::Failed);
    }
    let mut days: Vec<Date> = rows.trips.iter().map(|trip| trip.day).collect();
    days.sort_unstable();
    let trips = Trips { years: Years::of_pool(&rows), days, units: args.units.unwrap_or_default() };
    drop(rows);
    told(args, &trips, out, |rows| {
        let Some(path) = &args.out else { return Ok(()) };
        let bytes = geoparquet(rows, &CAUTIONS.join(" "))?;
        write_whole(path, &bytes).with_context(|| format!("cannot write {}", shown(path)))
    })
}

fn told(
    args: &HotspotsArgs,
    trips: &Trips,
    out: &mut Output,
    keep: impl FnOnce(&[hotspots::Row]) -> anyhow::Result<()>,
) -> anyhow::Result<Status> {
    let Trips { years, days, units } = trips;
    let surface_temp_c = args.surface_temp.as_deref().map(|text| temperature(text, *units)).transpose()?;
    let species = args.species.as_deref().map(str::to_lowercase);
    if let Some(name) = species.as_ref().filter(|name| !years.species().contains(name)) {
        let known = years.species();
        let known = if known.is_empty() { "none".to_owned() } else { known.join(", ") };
        return Err(WrongUsage(format!(
            "--species: too few bites of '{name}' to tell of; there are enough of {known}"
        ))
        .into());
    }
    let rows = years.layer(args.resolution, args.season_part);
    keep(&rows)?;
    let told = species.as_deref().unwrap_or(ALL_SPECIES);
    let text = match args.format {
        Format::Text => {
            let mut text = String::new();
            if args.surface_temp.is_some() {
                text = conditional(args, trips, species.as_deref(), surface_temp_c)? + "\n";
            }
            text + &waterseam_report::hotspots(&Layer {
                rows: &rows,
                species: told,
                division: args.season_part.word(),
                trips: days.len(),
                years: days.iter().map(|day| day.year()).collect::<BTreeSet<_>>().len(),
                units: *units,
            })
        }
        Format::Json => {
            let of =
                rows.iter().filter(|row| row.species == told).map(json).collect::<Result<Vec<_>, _>>()?;
            let object = serde_json::json!({ "hotspots": of, "cautions": CAUTIONS });
            format!("{}\n", serde_json::to_string_pretty(&object)?)
        }
    };
    out.result(&text)?;
    Ok(Status::Done)
}

fn conditional(
    args: &HotspotsArgs,
    trips: &Trips,
    species: Option<&str>,
    surface_temp_c: Option<f64>,
) -> anyhow::Result<String> {
    let Trips { years, days, units } = trips;
    let day = match (&args.date, days.last()) {
        (Some(text), _) => date(text)?,
        (None, Some(last)) => *last,
        (None, None) => return Ok(String::new()),
    };
    let model = years.model(args.resolution, args.season_part, species);
    let starts = places(&expected(&model, day, surface_temp_c), &Near::default(), NAMED);
    let part = args.season_part.number(day);
    let skill = years.skill(args.resolution, args.season_part, species);
    Ok(waterseam_report::expected(&Conditional {
        surface_temp_c,
        usual_temp_c: model.usual_temp_c(part),
        factor: surface_temp_c.map_or(1.0, |temp_c| model.factor(part, temp_c)),
        part: &args.season_part.name(part),
        starts: &starts,
        skill: skill.as_ref(),
        units: *units,
    }))
}

/// A row as in the table, without its shape. A cell is written as H3 writes it: no program reads all numbers of 64 bits.
fn json(row: &hotspots::Row) -> serde_json::Result<serde_json::Value> {
    let mut value = serde_json::to_value(row)?;
    if let Some(object) = value.as_object_mut() {
        object.remove("geometry");
        object.insert("cell".to_owned(), format!("{:x}", row.cell).into());
    }
    Ok(value)
}

/// A day as it is written in ISO 8601.
pub(super) fn date(text: &str) -> anyhow::Result<Date> {
    text.parse()
        .map_err(|_| WrongUsage(format!("--date: found '{text}'; write a day like 2026-07-18")).into())
}

/// A temperature with a unit, or in the units of the text.
pub(super) fn temperature(text: &str, units: UnitSystem) -> anyhow::Result<f64> {
    let found = quantity::amount(text, Dimension::Temperature, units).filter(|c| (-2.0..=40.0).contains(c));
    let wrong =
        || WrongUsage(format!("--surface-temp: found '{text}'; write {}", Dimension::Temperature.examples()));
    found.ok_or_else(|| wrong().into())
}
