//! How does an invented logbook of raw files get on a disk?
//!
//! ```text
//! DIR/waterseam.toml
//! DIR/2026-05-03/LOG00123.TXT  probe_0503.csv  bites.csv  gear.csv
//! DIR/truth.json
//! ```

use std::fs;
use std::io;
use std::path::Path;

use jiff::civil::Date;

use crate::boat_file::boat_file;
use crate::dice::{Dice, Stream};
use crate::scenario::{Knobs, Scenario};
use crate::trip::{DemoTrip, trip, trip_with};
use crate::truth::{TripTruth, Truth};

/// Seed of the committed sample logs.
pub const SAMPLE_SEED: u64 = 3;
/// Last year of an invented series of years.
const LAST_YEAR: i16 = 2026;
/// Days of the season, 1 May to 30 September.
const SEASON_DAYS: i64 = 153;
/// May days before this one (from 1 May) are days of the thermal bar.
const SPRING_DAYS: i64 = 18;

/// Writes the three sample trips below `dir`, and their truth to a file elsewhere.
///
/// # Errors
/// What the disk says.
pub fn write_samples(dir: &Path, truth_file: &Path, seed: u64) -> io::Result<Truth> {
    fs::create_dir_all(dir)?;
    fs::write(dir.join("waterseam.toml"), boat_file())?;
    let scenarios = [Scenario::SpringThermalBar, Scenario::SummerBreak, Scenario::FlatDay];
    let trips = scenarios.into_iter().map(|scenario| write_trip(dir, trip(seed, scenario)));
    let truth = Truth { seed, trips: trips.collect::<io::Result<_>>()? };
    write_truth(truth_file, &truth)?;
    Ok(truth)
}

/// Writes `n_trips` invented trips below `dir`, spread over the seasons of `n_years` years, with the boat file and the
/// truth (`truth.json`). `knobs` hold for every trip, but for its day.
///
/// # Errors
/// What the disk says; [`io::ErrorKind::InvalidInput`] for no years, or for more trips than the seasons have days.
pub fn write(dir: &Path, n_trips: usize, n_years: usize, seed: u64, knobs: &Knobs) -> io::Result<Truth> {
    let days = calendar(n_trips, n_years, seed)?;
    fs::create_dir_all(dir)?;
    fs::write(dir.join("waterseam.toml"), boat_file())?;
    let trips = days.into_iter().map(|Planned { seed, scenario, date }| {
        write_trip(dir, trip_with(seed, scenario, &Knobs { date: Some(date), ..knobs.clone() }))
    });
    let truth = Truth { seed, trips: trips.collect::<io::Result<_>>()? };
    write_truth(&dir.join("truth.json"), &truth)?;
    Ok(truth)
}

fn write_trip(dir: &Path, trip: DemoTrip) -> io::Result<TripTruth> {
    let folder = dir.join(&trip.truth.date);
    fs::create_dir_all(&folder)?;
    for file in &trip.files {
        fs::write(folder.join(&file.name), &file.bytes)?;
    }
    Ok(trip.truth)
}

fn write_truth(file: &Path, truth: &Truth) -> io::Result<()> {
    if let Some(folder) = file.parent() {
        fs::create_dir_all(folder)?;
    }
    let mut text = serde_json::to_string_pretty(truth)?;
    text.push('\n');
    fs::write(file, text)
}

/// A trip of the calendar.
struct Planned {
    seed: u64,
    scenario: Scenario,
    date: Date,
}

/// Days of all trips, in order, no two on one day.
fn calendar(n_trips: usize, n_years: usize, seed: u64) -> io::Result<Vec<Planned>> {
    let refuse = |why: String| Err(io::Error::new(io::ErrorKind::InvalidInput, why));
    let room = n_years.saturating_mul(SEASON_DAYS as usize);
    if n_years == 0 || n_years > 1000 {
        return refuse(format!("{n_years} years asked for: 1 to 1000 are possible"));
    }
    if n_trips > room {
        return refuse(format!(
            "{n_trips} trips asked for: {n_years} seasons have {room} days, one trip a day"
        ));
    }
    let mut dice = Dice::new(seed, Stream::Calendar);
    let trips = (0..n_trips).map(|i| {
        // trip i has its own stretch of the seasons laid end to end, and takes a day of it
        let (from, until) = (i * room / n_trips, (i + 1) * room / n_trips);
        let day = dice.whole(from as u64, until as u64 - 1) as i64;
        let (year, day) = (day / SEASON_DAYS, day % SEASON_DAYS);
        let year = LAST_YEAR - n_years as i16 + 1 + year as i16;
        let first_of_may = Date::constant(year, 5, 1);
        let date = first_of_may.checked_add(jiff::Span::new().days(day)).unwrap_or(first_of_may);
        let scenario = match dice.whole(0, 9) {
            _ if day < SPRING_DAYS => Scenario::SpringThermalBar,
            0 | 1 => Scenario::FlatDay,
            2 | 3 => Scenario::SummerBreak,
            _ => Scenario::Random,
        };
        Planned { seed: dice.seed(), scenario, date }
    });
    Ok(trips.collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_calendar_keeps_to_the_seasons() {
        let days = calendar(60, 3, 9).unwrap();
        assert_eq!(days.len(), 60);
        assert!(days.windows(2).all(|pair| pair[0].date < pair[1].date));
        assert!(days.iter().all(|day| (5..=9).contains(&day.date.month())));
        let years: Vec<i16> = [0, 30, 59].map(|i| days[i].date.year()).to_vec();
        assert_eq!(years, [2024, 2025, 2026]);
    }

    #[test]
    fn a_full_season_fits_and_one_more_does_not() {
        assert_eq!(calendar(153, 1, 1).unwrap().len(), 153);
        let refused = calendar(154, 1, 1).err().unwrap();
        assert_eq!(refused.kind(), io::ErrorKind::InvalidInput);
        assert!(calendar(1, 0, 1).is_err());
    }
}
