//! What does a boat file say?

use jiff::tz::TimeZone;
use toml::de::DeTable;
use waterseam_units::LatLon;

use super::entry::{Entry, Section, Source};
use super::error::{BoatFileError, Suggestion};
use super::quality::quality;
use super::{BoatFile, PreferredRange};
use crate::quantity::Dimension;
use crate::table::vocabulary;

const TOP: [&str; 20] = [
    "boat",
    "home_port",
    "time_zone",
    "units",
    "water",
    "salinity",
    "marks",
    "date_order",
    "species",
    "spread",
    "tackle",
    "divers",
    "observed_depths",
    "longest_line",
    "columns",
    "clocks",
    "sensors",
    "trips",
    "breaks",
    "quality",
];

impl BoatFile {
    /// Reads the text of a boat file. A key that is left out keeps its default.
    ///
    /// # Errors
    /// The first thing that is wrong, with file, line, key, what was found and what would be right. An unknown
    /// key is wrong: a misspelt key that silently did nothing would be worse.
    pub fn from_toml(text: &str, file_name: &str) -> Result<Self, BoatFileError> {
        let source = Source { file_name, text };
        let document = DeTable::parse(text).map_err(|error| BoatFileError::Syntax {
            file_name: file_name.to_owned(),
            line: source.line(error.span().map_or(0, |span| span.start)),
            problem: error.message().to_owned(),
        })?;
        let top = Section::new(source, "", document.get_ref());
        top.only(&TOP)?;
        let mut boat = Self::default();
        general(&top, &mut boat)?;
        species(&top, &mut boat)?;
        super::tackle::read(&top, &mut boat)?;
        columns(&top, &mut boat)?;
        super::clocks::read(&top, &mut boat)?;
        sensors(&top, &mut boat)?;
        trips(&top, &mut boat)?;
        breaks(&top, &mut boat)?;
        quality(&top, &mut boat)?;
        Ok(boat)
    }
}

fn general(top: &Section<'_>, boat: &mut BoatFile) -> Result<(), BoatFileError> {
    if let Some(entry) = top.get("boat") {
        entry.text("the boat's name, like \"Kittiwake\"")?.clone_into(&mut boat.boat);
    }
    if let Some(entry) = top.get("units") {
        let right = "\"imperial\", \"metric\" or \"marine\"";
        boat.units = entry.text(right)?.parse().map_err(|_| entry.wrong(right))?;
    }
    if let Some(entry) = top.get("home_port") {
        let right = "[latitude, longitude] in degrees, north and east positive, like [46.2, -29.4]";
        let [lat, lon] = entry.pair(right)?;
        let at =
            LatLon::new(lat.number(-90.0..90.0, "a latitude")?, lon.number(-180.0..180.0, "a longitude")?);
        boat.home_port = Some(at.ok_or_else(|| entry.wrong(right))?);
    }
    if let Some(entry) = top.get("time_zone") {
        let right = "a name of the IANA time zone list, like \"America/Toronto\" or \"UTC\"";
        boat.time_zone = TimeZone::get(entry.text(right)?).map_err(|_| entry.wrong(right))?;
        boat.time_zone_stated = true;
    }
    if let Some(entry) = top.get("salinity") {
        boat.salinity_psu = entry.number(0.0..42.0, "the practical salinity, like 32.5")?;
    }
    if let Some(entry) = top.get("water") {
        let right = "\"fresh\", or leave it out and write salinity = 32.5";
        if entry.text(right)? != "fresh" || boat.salinity_psu != 0.0 {
            return Err(entry.wrong(right));
        }
    }
    if let Some(entry) = top.get("marks") {
        boat.marks_are_bites = either(&entry, "bites", "marks")?;
    }
    if let Some(entry) = top.get("date_order") {
        boat.day_first = Some(either(&entry, "day-first", "month-first")?);
    }
    Ok(())
}

/// Whether the first of two words stands there.
fn either(entry: &Entry<'_>, yes: &str, no: &str) -> Result<bool, BoatFileError> {
    let right = format!("\"{yes}\" or \"{no}\"");
    match entry.text(&right)? {
        word if word == yes => Ok(true),
        word if word == no => Ok(false),
        _ => Err(entry.wrong(right)),
    }
}

fn species(top: &Section<'_>, boat: &mut BoatFile) -> Result<(), BoatFileError> {
    let right = "a table for each species, like [species.coho] with preferred = [50, 57]";
    let Some(all) = top.get("species") else { return Ok(()) };
    for (name, entry) in all.table(right)?.entries() {
        let section = entry.table(right)?;
        section.only(&["preferred"])?;
        let right = "[lowest, highest] temperature, like [50, 57] or [\"10 °C\", \"14 °C\"]";
        let preferred =
            section.get("preferred").ok_or_else(|| entry.wrong("preferred = [lowest, highest]"))?;
        let [low, high] = preferred.pair(right)?;
        let low_c = low.quantity(Dimension::Temperature, boat.units)?;
        let high_c = high.quantity(Dimension::Temperature, boat.units)?;
        // water is liquid from -2 °C; 40 °C is warmer than any lake that holds trout or salmon
        if !(-2.0 <= low_c && low_c < high_c && high_c <= 40.0) {
            let unit = boat.units.temp_unit();
            return Err(preferred.wrong(format!("{right}; plain numbers are {unit} here")));
        }
        boat.species.insert(name.trim().to_lowercase(), PreferredRange { low_c, high_c });
    }
    Ok(())
}

fn columns(top: &Section<'_>, boat: &mut BoatFile) -> Result<(), BoatFileError> {
    let Some(all) = top.get("columns") else { return Ok(()) };
    for (heading, entry) in all.table("a table of \"heading\" = \"meaning\"")?.entries() {
        let right = "the meaning of the column, like \"temp_c\", \"depth_ft\", \"time\" or \"ignore\"";
        let meaning = entry.text(right)?;
        if !vocabulary::is_meaning(meaning) {
            let known = Suggestion::new(meaning, vocabulary::MEANINGS);
            let nearest =
                known.nearest.map_or_else(String::new, |nearest| format!(" (perhaps \"{nearest}\")"));
            return Err(entry.wrong(format!("one of {}{nearest}", vocabulary::MEANINGS.join(", "))));
        }
        boat.columns.insert(heading.trim().to_owned(), meaning.to_lowercase());
    }
    Ok(())
}

fn sensors(top: &Section<'_>, boat: &mut BoatFile) -> Result<(), BoatFileError> {
    let Some(entry) = top.get("sensors") else { return Ok(()) };
    let section = entry.table("a table [sensors]")?;
    section.only(&["surface_temp_offset", "surface_temp_lag_s", "transducer_depth", "keel_depth"])?;
    if let Some(entry) = section.get("surface_temp_offset") {
        let offset_c = entry.quantity(Dimension::TemperatureDifference, boat.units)?;
        boat.surface_temp_offset_c = Some(offset_c);
    }
    if let Some(entry) = section.get("surface_temp_lag_s") {
        boat.surface_temp_lag_s = Some(entry.number(0.0..600.0, "seconds")?);
    }
    if let Some(entry) = section.get("transducer_depth") {
        boat.transducer_depth_m = Some(entry.amount(Dimension::Depth, boat.units)?);
    }
    if let Some(entry) = section.get("keel_depth") {
        boat.keel_depth_m = Some(entry.amount(Dimension::Depth, boat.units)?);
    }
    Ok(())
}

fn trips(top: &Section<'_>, boat: &mut BoatFile) -> Result<(), BoatFileError> {
    let Some(entry) = top.get("trips") else { return Ok(()) };
    let section = entry.table("a table [trips]")?;
    section.only(&["gap_hours", "trolling_speed", "earliest"])?;
    if let Some(entry) = section.get("earliest") {
        let right = "the day before which there is no log of this boat, like \"2015-03-01\"";
        let date: jiff::civil::Date = entry.text(right)?.parse().map_err(|_| entry.wrong(right))?;
        let time = TimeZone::UTC.to_timestamp(date.at(0, 0, 0, 0)).map_err(|_| entry.wrong(right))?;
        boat.earliest_us = Some(time.as_microsecond());
    }
    if let Some(entry) = section.get("gap_hours") {
        boat.trip_gap_s = 3600.0 * entry.number(0.25..72.0, "hours")?;
    }
    if let Some(entry) = section.get("trolling_speed") {
        let right = "[slowest, fastest], like [\"1.5 mph\", \"3.5 mph\"]";
        let [low, high] = entry.pair(right)?;
        let low_mps = low.amount(Dimension::Speed, boat.units)?;
        let high_mps = high.amount(Dimension::Speed, boat.units)?;
        if low_mps >= high_mps {
            return Err(entry.wrong(right));
        }
        boat.trolling_speed_mps = Some((low_mps, high_mps));
    }
    Ok(())
}

fn breaks(top: &Section<'_>, boat: &mut BoatFile) -> Result<(), BoatFileError> {
    let Some(entry) = top.get("breaks") else { return Ok(()) };
    let section = entry.table("a table [breaks]")?;
    section.only(&["least_step", "least_depth_step", "greatest_width", "confidence"])?;
    if let Some(entry) = section.get("least_step") {
        boat.break_least_step_c = Some(entry.amount(Dimension::TemperatureDifference, boat.units)?);
    }
    if let Some(entry) = section.get("least_depth_step") {
        boat.break_least_depth_step_m = Some(entry.amount(Dimension::Depth, boat.units)?);
    }
    if let Some(entry) = section.get("greatest_width") {
        boat.break_greatest_width_m = Some(entry.amount(Dimension::Depth, boat.units)?);
    }
    if let Some(entry) = section.get("confidence") {
        boat.break_confidence_percent = Some(entry.number(50.0..99.9999, "percent")?);
    }
    Ok(())
}
