//! Where do the pages of a logbook lie, and which of them belong there?

use std::fs::{self, File};
use std::io::Read;
use std::path::{Path, PathBuf};

use anyhow::Context;
use waterseam_hotspots::{TripCounts, half_months};
use waterseam_report::{OtherTrips, PAGE_MARK, PageOfTrip, Produced, Season, Style};
use waterseam_tables::{Logbook, TripTables, trips};
use waterseam_units::UnitSystem;
use waterseam_units::time::utc_year;

use super::{shown, write_whole};

/// The first page of the folder.
pub const INDEX: &str = "index.html";

/// `LOGBOOK-report` beside the logbook: a folder of tables stays one.
pub fn default_folder(logbook: &Path) -> PathBuf {
    // `.` has no name of its own
    let logbook = if logbook.file_name().is_some() {
        logbook.to_owned()
    } else {
        logbook.canonicalize().unwrap_or_else(|_| logbook.to_owned())
    };
    match logbook.file_name() {
        Some(name) => {
            let mut name = name.to_owned();
            name.push("-report");
            logbook.with_file_name(name)
        }
        None => logbook.join("report"),
    }
}

/// Writes the page of one trip, with what the boat's other trips make of its rates, and gives its path.
///
/// # Errors
/// Where it cannot be written.
pub fn write_trip(
    tables: &TripTables,
    others: &OtherTrips,
    folder: &Path,
    units: Option<UnitSystem>,
) -> anyhow::Result<PathBuf> {
    let trip_id = tables.trips.first().map_or("", |trip| trip.trip_id.as_str());
    let path = folder.join(waterseam_report::trip_file(trip_id));
    write(&path, &waterseam_report::trip_page(tables, others, &Style::of(tables, units)))?;
    Ok(path)
}

/// Writes the page of a season and gives its path.
///
/// # Errors
/// Where the logbook is damaged or the page cannot be written.
pub fn write_season(
    logbook: &Logbook,
    year: i16,
    folder: &Path,
    units: Option<UnitSystem>,
) -> anyhow::Result<PathBuf> {
    let trips: Vec<trips::Row> = logbook.read_table(Some(year))?;
    let Some(last) = trips.last() else { anyhow::bail!("the logbook holds no trip of {year}") };
    let style = Style::of_trip(last, units);
    let rates = waterseam_process::season::rates(logbook, Some(year))?;
    let counts: Vec<TripCounts> = trips
        .iter()
        .map(|trip| TripCounts {
            day: trip.day(),
            bites: trip.bites.max(0) as u64,
            rod_hours: trip.rod_hours,
        })
        .collect();
    let season = Season {
        year,
        trips: &with_pages(trips, folder),
        produced: Produced {
            bands: &rates.bands,
            tackle_rates: &rates.tackle_rates,
            break_sides: &rates.break_sides,
        },
        parts: &half_months(&counts),
        bites: &logbook.read_table(Some(year))?,
    };
    let path = folder.join(waterseam_report::season_file(year));
    write(&path, &waterseam_report::season_page(&season, &style))?;
    Ok(path)
}

/// Writes the page of every layer of places that the logbook holds and gives their paths.
///
/// # Errors
/// Where the logbook is damaged or a page cannot be written.
pub fn write_places(
    logbook: &Logbook,
    folder: &Path,
    units: Option<UnitSystem>,
) -> anyhow::Result<Vec<PathBuf>> {
    let trips: Vec<trips::Row> = logbook.read_table(None)?;
    let Some(last) = trips.last() else { return Ok(Vec::new()) };
    let style = Style::of_trip(last, units);
    let mut paths = Vec::new();
    for layer in logbook.layers()? {
        let Some(rows) = logbook.hotspots(&layer)? else { continue };
        let path = folder.join(waterseam_report::places_file(layer.resolution, &layer.division));
        write(&path, &waterseam_report::places_page(&rows, &layer.division, &style))?;
        paths.push(path);
    }
    Ok(paths)
}

/// Writes the index anew, and takes away the pages of what the logbook no longer holds: trips, seasons, layers of places.
///
/// # Errors
/// Where the logbook is damaged or a file cannot be written or removed.
pub fn write_index(logbook: &Logbook, folder: &Path, units: Option<UnitSystem>) -> anyhow::Result<()> {
    let trips: Vec<trips::Row> = logbook.read_table(None)?;
    let mut seasons: Vec<i16> = trips.iter().map(|trip| utc_year(trip.time_start)).collect();
    seasons.dedup();
    let layers = logbook.layers()?;
    let places: Vec<String> =
        layers.iter().map(|layer| waterseam_report::places_file(layer.resolution, &layer.division)).collect();
    let mut ours: Vec<String> = trips.iter().map(|trip| waterseam_report::trip_file(&trip.trip_id)).collect();
    ours.extend(seasons.iter().map(|year| waterseam_report::season_file(*year)));
    ours.extend(places.iter().cloned());
    ours.extend((!trips.is_empty()).then(|| INDEX.to_owned()));
    remove_strangers(&ours, folder)?;
    let Some(last) = trips.last() else { return Ok(()) };
    let style = Style::of_trip(last, units);
    seasons.retain(|year| folder.join(waterseam_report::season_file(*year)).exists());
    let titles = layers
        .iter()
        .map(|layer| format!("by {}, resolution {}", layer.division.replace('-', " "), layer.resolution));
    let places: Vec<(String, String)> =
        places.into_iter().zip(titles).filter(|(file, _)| folder.join(file).exists()).collect();
    write(
        &folder.join(INDEX),
        &waterseam_report::index_page(&with_pages(trips, folder), &seasons, &places, &style),
    )
}

/// Brings the pages of a folder to a logbook from which trips have gone: the page of each goes, and the seasons of the years and the index are
/// written anew. False where the folder holds no pages.
///
/// # Errors
/// Where the logbook is damaged or a file cannot be written or removed.
pub fn follow(logbook: &Logbook, folder: &Path) -> anyhow::Result<bool> {
    if !says_it_is_one(&folder.join(INDEX)) {
        return Ok(false);
    }
    let trips: Vec<trips::Row> = logbook.read_table(None)?;
    let mut years: Vec<i16> = trips.iter().map(|trip| utc_year(trip.time_start)).collect();
    years.dedup();
    for year in years.into_iter().filter(|year| folder.join(waterseam_report::season_file(*year)).exists()) {
        write_season(logbook, year, folder, None)?;
    }
    write_index(logbook, folder, None)?;
    Ok(true)
}

/// Trips with the names of those pages that are in the folder.
fn with_pages(trips: Vec<trips::Row>, folder: &Path) -> Vec<PageOfTrip> {
    let page = |trip: trips::Row| {
        let file = waterseam_report::trip_file(&trip.trip_id);
        PageOfTrip { file: folder.join(&file).exists().then_some(file), trip }
    };
    trips.into_iter().map(page).collect()
}

/// Removes pages that are not among `ours`: only files that have the name of such a page and say that they are one.
fn remove_strangers(ours: &[String], folder: &Path) -> anyhow::Result<()> {
    for entry in fs::read_dir(folder).into_iter().flatten().flatten() {
        let name = entry.file_name();
        let name = name.to_string_lossy();
        let is_page = name.ends_with(".html")
            && ["trip-", "season-", "places-"].iter().any(|kind| name.starts_with(kind));
        let is_stranger = (is_page || name == INDEX) && !ours.iter().any(|own| *own == name);
        if is_stranger && says_it_is_one(&entry.path()) {
            let path = entry.path();
            fs::remove_file(&path).with_context(|| format!("cannot remove {}", shown(&path)))?;
        }
    }
    Ok(())
}

fn says_it_is_one(path: &Path) -> bool {
    const HEAD_BYTES: u64 = 2048;
    let mut head = Vec::new();
    let read = File::open(path).and_then(|file| file.take(HEAD_BYTES).read_to_end(&mut head));
    read.is_ok() && String::from_utf8_lossy(&head).contains(PAGE_MARK)
}

fn write(path: &Path, text: &str) -> anyhow::Result<()> {
    let made = path.parent().map_or(Ok(()), fs::create_dir_all);
    made.and_then(|()| write_whole(path, text.as_bytes()))
        .with_context(|| format!("cannot write {}", shown(path)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_folder_lies_beside_the_logbook() {
        assert_eq!(default_folder(Path::new("a/demo-logbook/")), Path::new("a/demo-logbook-report"));
        assert_eq!(default_folder(Path::new("demo-logbook")), Path::new("demo-logbook-report"));
        assert!(default_folder(Path::new(".")).file_name().is_some_and(|name| name != "-report"));
    }
}
