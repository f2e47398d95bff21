//! `hotspots`: builds the layer of many trips and tells its best places.

use jiff::civil::Date;
use waterseam_hotspots::{Near, places};
use waterseam_logs::quantity::{self, Dimension};
use waterseam_process::hotspots::{ALL_SPECIES, Years, expected};
use waterseam_process::outings::outings;
use waterseam_report::{Conditional, Layer, Style};
use waterseam_tables::{LayerId, LogbookWriter, hotspots, trips};

use crate::args::{Format, HotspotsArgs};
use crate::output::{Output, Status, WrongUsage};

/// Places that are named where a surface temperature is given.
const NAMED: usize = 5;

/// Writes the table `hotspots` and prints it in words.
///
/// # Errors
/// Where the logbook does not exist, is in use or damaged, or an argument makes no sense.
pub fn run(args: &HotspotsArgs, out: &mut Output) -> anyhow::Result<Status> {
    // a writer makes a logbook where there is none
    drop(waterseam_tables::Logbook::open(&args.logbook)?);
    let writer = LogbookWriter::open_or_create(&args.logbook)?;
    let rows: Vec<trips::Row> = writer.logbook().read_table(None)?;
    let Some(last) = rows.last() else {
        out.warn("the logbook holds no trip");
        return Ok(Status::Failed);
    };
    let style = Style::of_trip(last, args.units);
    let surface_temp_c =
        args.surface_temp.as_deref().map(|text| temperature(text, style.units)).transpose()?;
    let outings = outings(writer.logbook())?;
    let years = Years::of(&outings);
    let species = args.species.as_deref().map(str::to_lowercase);
    if let Some(name) = species.as_ref().filter(|name| !years.species().contains(name)) {
        let known = years.species();
        let known = if known.is_empty() { "none".to_owned() } else { known.join(", ") };
        return Err(WrongUsage(format!(
            "--species: too few bites of '{name}' to tell of; the logbook has {known}"
        ))
        .into());
    }
    let rows = years.layer(args.resolution, args.season_part);
    let layer = LayerId { resolution: args.resolution, division: args.season_part.word().to_owned() };
    writer.write_hotspots(&layer, &rows)?;
    let told = species.as_deref().unwrap_or(ALL_SPECIES);
    let days: Vec<Date> = outings.iter().map(|outing| outing.day).collect();
    let text = match args.format {
        Format::Text => {
            let mut text = String::new();
            if args.surface_temp.is_some() {
                text = conditional(args, &years, species.as_deref(), surface_temp_c, &days, &style)? + "\n";
            }
            text + &waterseam_report::hotspots(&Layer {
                rows: &rows,
                species: told,
                division: args.season_part.word(),
                trips: outings.len(),
                years: days.iter().map(|day| day.year()).collect::<std::collections::BTreeSet<_>>().len(),
                units: style.units,
            })
        }
        Format::Json => {
            let of =
                rows.iter().filter(|row| row.species == told).map(json).collect::<Result<Vec<_>, _>>()?;
            let object = serde_json::json!({ "hotspots": of, "cautions": waterseam_report::CAUTIONS });
            format!("{}\n", serde_json::to_string_pretty(&object)?)
        }
    };
    out.result(&text)?;
    Ok(Status::Done)
}

fn conditional(
    args: &HotspotsArgs,
    years: &Years,
    species: Option<&str>,
    surface_temp_c: Option<f64>,
    days: &[Date],
    style: &Style,
) -> anyhow::Result<String> {
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
        units: style.units,
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
pub(super) fn temperature(text: &str, units: waterseam_units::UnitSystem) -> anyhow::Result<f64> {
    let found = quantity::amount(text, Dimension::Temperature, units).filter(|c| (-2.0..=40.0).contains(c));
    let wrong =
        || WrongUsage(format!("--surface-temp: found '{text}'; write {}", Dimension::Temperature.examples()));
    found.ok_or_else(|| wrong().into())
}
