//! How long does a layer take over a hundred million minutes of effort?
//!
//! ```text
//! scale generate POOL ROWS     writes an invented pool of about so many minutes of effort
//! scale sample POOL            writes one so small that it can lie beside a test
//! scale layer POOL             reads one, and prints how much a layer at resolution 7 by months holds, and the seconds
//! scale places POOL            prints that layer as CSV
//! ```
//! Ten boats fish ten years, 6,000 rod-minutes a trip: from a harbour the boat walks over neighbouring cells, each for a few
//! minutes, with ten rods. Everything follows from the number of rows; cells are made up by their index alone.

#![expect(clippy::print_stdout, reason = "an example prints")]

use std::fs::{File, create_dir_all, write};
use std::path::{Path, PathBuf};
use std::time::Instant;

use jiff::civil::Date;
use parquet::arrow::ArrowWriter;
use parquet::basic::{Compression, ZstdLevel};
use parquet::file::properties::WriterProperties;
use waterseam_tables::{PlaceCounts, Table, bites, cell_visits, effort, places, read_pool, trips};

type Done = Result<(), Box<dyn std::error::Error>>;

/// How much is fished.
#[derive(Clone, Copy)]
struct Fleet {
    boats: usize,
    years: usize,
    trips_a_year: usize,
    minutes_a_trip: usize,
}

const RODS: usize = 10;
const RESOLUTION: u8 = 7;
const ROWS_A_FILE: usize = 2_000_000;
/// Of each rod.
const BITES_A_MINUTE: f64 = 0.0016;
const DAY_US: i64 = 86_400_000_000;
const MINUTE_US: i64 = 60_000_000;
/// 2016-01-01T00:00:00Z.
const START_US: i64 = 1_451_606_400_000_000;
/// A cell of resolution 9 in open ocean; its finest six digits are counted through.
const CELL: u64 = 0x0891_a6ba_d5b3_ffff;

fn main() -> Done {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let words: Vec<&str> = arguments.iter().map(String::as_str).collect();
    match words.as_slice() {
        ["generate", pool, rows] => {
            let fleet = Fleet { boats: 10, years: 10, trips_a_year: 0, minutes_a_trip: 600 };
            let rows: usize = rows.parse()?;
            let rows_of_all = RODS * fleet.minutes_a_trip * fleet.boats * fleet.years;
            generate(Path::new(pool), Fleet { trips_a_year: rows.div_ceil(rows_of_all).max(1), ..fleet })
        }
        ["sample", pool] => {
            generate(Path::new(pool), Fleet { boats: 2, years: 3, trips_a_year: 3, minutes_a_trip: 40 })
        }
        ["places", pool] => print_places(Path::new(pool)),
        ["layer", pool] => layer(Path::new(pool)),
        _ => Err("scale generate POOL ROWS, sample POOL, layer POOL or places POOL".into()),
    }
}

/// Month of a day.
fn month(day: Date) -> String {
    format!("{:02}", day.month())
}

fn print_places(pool: &Path) -> Done {
    let text = |value: Option<f64>| value.map(|value| value.to_string()).unwrap_or_default();
    println!(
        "cell,part,species,fished_us,rod_hours,run_mm,breaks,trips,years,bites,years_with_bites,rate_raw,\
         bite_depth_m,bite_temp_c,bite_surface_temp_c"
    );
    for place in places(&read_pool(pool)?, RESOLUTION, month) {
        let PlaceCounts { cell, part, species, sums, trips, years, bites, .. } = &place;
        println!(
            "{cell},{part},{species},{},{},{},{},{trips},{years},{bites},{},{},{},{},{}",
            sums.fished_us,
            sums.rod_hours(),
            sums.run_mm,
            sums.breaks,
            place.years_with_bites,
            text(place.rate_raw),
            text(place.bite_depth_m),
            text(place.bite_temp_c),
            text(place.bite_surface_temp_c)
        );
    }
    Ok(())
}

fn layer(pool: &Path) -> Done {
    let start = Instant::now();
    let rows = read_pool(pool)?;
    let read_s = start.elapsed().as_secs_f64();
    let found = places(&rows, RESOLUTION, month);
    let hours: f64 =
        found.iter().filter(|place| place.species == "*").map(|place| place.sums.rod_hours()).sum();
    println!(
        "{} trips, {} visits, {} bites, {} places, {hours:.3} rod-hours",
        rows.trips.len(),
        rows.visits.len(),
        rows.bites.len(),
        found.len()
    );
    println!("seconds {:.3} (of these reading {read_s:.3})", start.elapsed().as_secs_f64());
    Ok(())
}

fn generate(pool: &Path, fleet: Fleet) -> Done {
    create_dir_all(pool)?;
    write(pool.join("pool.toml"), "format_version = 2\n")?;
    for boat in 0..fleet.boats {
        for year in 0..fleet.years {
            let folder = |table: &str| {
                pool.join(table).join(format!("boat=boat-{boat}")).join(format!("year={}", 2016 + year))
            };
            let mut written = Year::default();
            for n in 0..fleet.trips_a_year {
                written.trip(fleet, boat, year, n);
                if written.effort.len() + RODS * fleet.minutes_a_trip > ROWS_A_FILE {
                    written.put_effort(&folder("effort"))?;
                }
            }
            written.put_effort(&folder("effort"))?;
            put(&folder("trips"), 0, &written.trips)?;
            put(&folder("bites"), 0, &written.bites)?;
            put(&folder("cell_visits"), 0, &written.visits)?;
        }
    }
    Ok(())
}

/// A different number for each seed: splitmix64 (Steele, Lea & Flood 2014, from memory).
fn mixed(seed: u64) -> u64 {
    let mut z = seed.wrapping_mul(0x9e37_79b9_7f4a_7c15);
    z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    z ^ (z >> 31)
}

/// A number from 0 to 1.
fn part(seed: u64) -> f64 {
    (mixed(seed) >> 11) as f64 / (1_u64 << 53) as f64
}

/// A measured value has so many steps a unit.
fn rounded(value: f64, steps: f64) -> f64 {
    (value * steps).round() / steps
}

#[derive(Default)]
struct Year {
    trips: Vec<trips::Row>,
    bites: Vec<bites::Row>,
    visits: Vec<cell_visits::Row>,
    effort: Vec<effort::Row>,
    files: usize,
}

impl Year {
    fn trip(&mut self, fleet: Fleet, boat: usize, year: usize, n: usize) {
        let seed = ((boat * fleet.years + year) * 1_000_000 + n) as u64 * 100_000;
        let day = 100 + n * 200 / fleet.trips_a_year;
        let start_us = START_US + (year as i64 * 365 + day as i64) * DAY_US + 6 * 60 * MINUTE_US;
        let date = waterseam_units::time::timestamp(start_us).to_string()[..10].to_owned();
        let trip_id = format!("{}T0600{n:04}Z", date.replace('-', ""));
        // six octal digits stand for the place on the lake: the harbour, and steps of at most one at the finest
        let mut place = [4, 4, 2, 3, 5, 1];
        let mut visit = cell_visits::Row {
            trip_id: trip_id.clone(),
            cell: 0,
            rod_hours: 0.0,
            run_m: 0.0,
            breaks: 0,
            surface_temp_c: None,
        };
        for minute in 0..fleet.minutes_a_trip {
            let chance = seed + minute as u64 * 100;
            if minute % 4 == 0 {
                let digit = if minute % 32 == 0 { 3 + (mixed(chance) % 2) as usize } else { 5 };
                place[digit] = (mixed(chance + 1) % 7) as u8;
                if visit.cell != 0 {
                    self.visits.push(visit.clone());
                }
                visit.cell = cell(place);
                visit.run_m = rounded(280.0 * part(chance + 2), 1e3);
                visit.breaks = i64::from(part(chance + 3) < 0.02);
            }
            let temp_c = rounded(8.0 + 10.0 * part(visit.cell) + 0.2 * part(chance + 4), 100.0);
            for rod in 0..RODS {
                let own = chance + 10 + rod as u64 * 5;
                let time = start_us + minute as i64 * MINUTE_US;
                let depth_m = rounded(8.0 + 5.0 * rod as f64 + 0.5 * part(own), 100.0);
                let spell_id = format!("{trip_id}-{}", rod + RODS * (minute / 120));
                if part(own + 1) < BITES_A_MINUTE {
                    self.bites.push(bite(&trip_id, &spell_id, time, visit.cell, depth_m, temp_c, own));
                }
                self.effort.push(effort::Row {
                    trip_id: trip_id.as_str().into(),
                    time,
                    lat: 46.2 + 0.2 * part(visit.cell) + 1e-4 * minute as f64 / 60.0,
                    lon: -29.4 + 0.2 * part(visit.cell + 1) + 1e-4 * minute as f64 / 60.0,
                    cell: visit.cell,
                    spell_id,
                    // a line goes down or comes up within one minute in sixty
                    rod_hours: if part(own + 2) < 1.0 / 60.0 { part(own + 3) / 60.0 } else { 1.0 / 60.0 },
                    depth_m: Some(depth_m),
                    temp_at_depth_c: Some(rounded(temp_c - 0.1 * depth_m, 100.0)),
                    surface_temp_c: (part(chance + 5) > 0.02).then_some(temp_c),
                    stw_mps: Some(rounded(0.9 + 0.3 * part(chance + 6), 100.0)),
                    lure_speed_mps: None,
                    break_distance_m: None,
                    break_side: None,
                    above_thermocline_m: None,
                    sun_elevation_deg: rounded(40.0 * (minute as f64 / 190.0).sin(), 1e3),
                });
            }
        }
        self.visits.push(visit);
        // a cell that the boat came back to is one visit
        let own =
            self.visits.iter().rposition(|visit| visit.trip_id != trip_id).map_or(0, |before| before + 1);
        let mut mine = self.visits.split_off(own);
        mine.sort_by_key(|visit| visit.cell);
        mine.dedup_by(|next, kept| {
            let is_same = next.cell == kept.cell;
            if is_same {
                kept.run_m = rounded(kept.run_m + next.run_m, 1e3);
                kept.breaks += next.breaks;
            }
            is_same
        });
        self.visits.extend(mine);
        self.trips.push(trip_row(fleet, trip_id, boat, start_us, date));
    }

    fn put_effort(&mut self, folder: &Path) -> Done {
        if !self.effort.is_empty() {
            self.effort.sort_by_key(|row| (row.cell, row.time));
            put(folder, self.files, &self.effort)?;
            self.files += 1;
            self.effort.clear();
        }
        Ok(())
    }
}

/// The cell whose six finest digits these are.
fn cell(place: [u8; 6]) -> u64 {
    let digits = place.iter().fold(0, |digits, digit| (digits << 3) | u64::from(*digit));
    (CELL & !(0o777_777 << 18)) | (digits << 18)
}

fn bite(
    trip_id: &str,
    spell_id: &str,
    time: i64,
    cell: u64,
    depth_m: f64,
    temp_c: f64,
    seed: u64,
) -> bites::Row {
    bites::Row {
        trip_id: trip_id.to_owned(),
        bite_id: format!("{spell_id}-{time}"),
        time,
        time_se_s: None,
        lat: 46.2,
        lon: -29.4,
        species: [Some("chinook"), Some("coho"), Some("lake trout"), None][(mixed(seed) % 4) as usize]
            .map(str::to_owned),
        outcome: Some("landed".to_owned()),
        weight_kg: None,
        length_m: None,
        rod: None,
        spell_id: Some(spell_id.to_owned()),
        lure: None,
        depth_m: Some(depth_m),
        depth_se_m: None,
        depth_source: Some("computed".to_owned()),
        temp_at_depth_c: Some(rounded(temp_c - 0.1 * depth_m, 100.0)),
        temp_at_depth_se_c: None,
        surface_temp_c: Some(temp_c),
        water_depth_m: None,
        sog_mps: None,
        stw_mps: None,
        lure_speed_mps: None,
        set_deg: None,
        drift_mps: None,
        break_distance_m: None,
        break_side: None,
        above_thermocline_m: None,
        sun_elevation_deg: 20.0,
        cell,
        note: None,
    }
}

fn trip_row(fleet: Fleet, trip_id: String, boat: usize, start_us: i64, date: String) -> trips::Row {
    trips::Row {
        trip_id,
        boat: format!("boat-{boat}"),
        time_start: start_us,
        time_end: start_us + fleet.minutes_a_trip as i64 * MINUTE_US,
        distance_m: 4e4,
        trolling_s: 60.0 * fleet.minutes_a_trip as f64,
        farthest_from_start_m: 2e4,
        bites: 0,
        rod_hours: (RODS * fleet.minutes_a_trip) as f64 / 60.0,
        surface_temp_min_c: None,
        surface_temp_max_c: None,
        program_version: "0.1.0".to_owned(),
        units: "metric".to_owned(),
        time_zone: "UTC".to_owned(),
        effort_assumed: false,
        rate_per_rod_hour: None,
        rate_low: None,
        rate_high: None,
        remarks: "[]".to_owned(),
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
        local_date: Some(date),
    }
}

/// Writes a file as `waterseam compact` does: row groups of 131,072 rows, and no column that a folder's name holds.
fn put<R: Table>(folder: &Path, number: usize, rows: &[R]) -> Done {
    create_dir_all(folder)?;
    let batch = R::to_batch(rows)?;
    let kept: Vec<usize> = (0..R::COLUMNS.len()).filter(|index| R::COLUMNS[*index].name != "boat").collect();
    let batch = batch.project(&kept)?;
    let properties = WriterProperties::builder()
        .set_compression(Compression::ZSTD(ZstdLevel::default()))
        .set_max_row_group_row_count(Some(1 << 17))
        .set_data_page_row_count_limit(1 << 13)
        .build();
    let file = File::create(PathBuf::from(folder).join(format!("part-{number}.parquet")))?;
    let mut writer = ArrowWriter::try_new(file, batch.schema(), Some(properties))?;
    writer.write(&batch)?;
    writer.close()?;
    Ok(())
}
