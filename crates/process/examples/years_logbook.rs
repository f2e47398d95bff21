//! Writes a logbook of ten invented years, whose good places are known, to a folder: what `hotspots` is for.
//!
//! `cargo run --release -p waterseam-process --example years_logbook -- DIR [SEED]`
//!
//! Trips hold what the layers over many years read, and no more: no track, no effort by the minute.

use std::error::Error;
use std::path::Path;

use jiff::tz::TimeZone;
use waterseam_demo::lake::HARBOUR;
use waterseam_demo::years::{Years, YearsKnobs, years};
use waterseam_hotspots::cells;
use waterseam_tables::{LogbookWriter, TripTables, bites, cell_visits, trips};
use waterseam_units::time::timestamp;

const ZONE: &str = "Etc/GMT+2";
const FIVE_HOURS_US: i64 = 5 * 3_600_000_000;

fn main() -> Result<(), Box<dyn Error>> {
    let mut words = std::env::args().skip(1);
    let dir = words.next().ok_or("name the folder of the logbook")?;
    let seed: u64 = words.next().map_or(Ok(1), |word| word.parse())?;
    let years = years(seed, &YearsKnobs::default());
    let logbook = LogbookWriter::open_or_create(Path::new(&dir))?;
    let zone = TimeZone::get(ZONE)?;
    for trip in 0..years.trips.len() {
        logbook.write_trip(&tables(&years, trip, &zone)?)?;
    }
    Ok(())
}

fn tables(years: &Years, index: usize, zone: &TimeZone) -> Result<TripTables, Box<dyn Error>> {
    let day = years.trips[index].day;
    let time_start = zone.to_timestamp(day.at(6, 0, 0, 0))?.as_microsecond();
    let trip_id = timestamp(time_start).strftime("%Y%m%dT%H%M%SZ").to_string();
    let cell_visits: Vec<cell_visits::Row> = years
        .visits
        .iter()
        .filter(|visit| visit.trip == index)
        .map(|visit| cell_visits::Row {
            trip_id: trip_id.clone(),
            cell: visit.cell,
            rod_hours: visit.rod_hours,
            run_m: visit.run_m,
            breaks: i64::from(visit.breaks),
            surface_temp_c: visit.surface_temp_c,
        })
        .collect();
    let bites: Vec<bites::Row> = years
        .bites
        .iter()
        .filter(|bite| bite.trip == index)
        .enumerate()
        .map(|(n, bite)| {
            let at = cells::centre(bite.cell).unwrap_or(HARBOUR);
            bites::Row {
                trip_id: trip_id.clone(),
                bite_id: format!("{trip_id}-bite-{}", n + 1),
                time: time_start + FIVE_HOURS_US / 2,
                time_se_s: None,
                lat: at.lat_deg,
                lon: at.lon_deg,
                species: Some(bite.species.to_owned()),
                outcome: None,
                weight_kg: None,
                length_m: None,
                rod: None,
                spell_id: None,
                lure: None,
                depth_m: Some(bite.depth_m),
                depth_se_m: None,
                depth_source: None,
                temp_at_depth_c: Some(bite.temp_at_depth_c),
                temp_at_depth_se_c: None,
                surface_temp_c: Some(bite.surface_temp_c),
                water_depth_m: None,
                sog_mps: None,
                stw_mps: None,
                lure_speed_mps: None,
                set_deg: None,
                drift_mps: None,
                break_distance_m: None,
                break_side: None,
                above_thermocline_m: None,
                sun_elevation_deg: 0.0,
                cell: bite.cell,
                note: None,
            }
        })
        .collect();
    let rod_hours = cell_visits.iter().map(|row| row.rod_hours).sum();
    let trip = trips::Row {
        trip_id,
        boat: "Kittiwake".to_owned(),
        time_start,
        time_end: time_start + FIVE_HOURS_US,
        distance_m: cell_visits.iter().map(|row| row.run_m).sum(),
        trolling_s: 0.0,
        farthest_from_start_m: 0.0,
        bites: bites.len() as i64,
        rod_hours,
        surface_temp_min_c: None,
        surface_temp_max_c: None,
        program_version: env!("CARGO_PKG_VERSION").to_owned(),
        units: "imperial".to_owned(),
        time_zone: ZONE.to_owned(),
        effort_assumed: false,
        rate_per_rod_hour: None,
        rate_low: None,
        rate_high: None,
        remarks: "[\"An invented trip.\"]".to_owned(),
        hull_temp_bias_c: None,
        hull_temp_bias_se_c: None,
        hull_temp_bias_method: None,
        hull_temp_bias_applied: None,
        hull_temp_lag_s: None,
        hull_temp_lag_se_s: None,
        hull_temp_lag_method: None,
        hull_temp_lag_applied: None,
        transducer_depth_m: None,
        transducer_depth_method: None,
        quality: None,
        probe_lag_s: None,
        probe_lag_se_s: None,
        probe_lag_applied: None,
        local_date: Some(day.to_string()),
    };
    Ok(TripTables { trips: vec![trip], cell_visits, bites, ..TripTables::default() })
}
