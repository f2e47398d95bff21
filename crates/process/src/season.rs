//! What did the rods produce over many trips, by the tables of the logbook?

use std::collections::BTreeMap;

use waterseam_bites::{EffortRow, Fished, PlacedBite, Side};
use waterseam_tables::{Error, Logbook, bites, effort, rod_spells};
use waterseam_tackle::Spell;
use waterseam_units::LatLon;

use crate::rates::{self, Rates};

/// Bands, sides of breaks, lures and rods over the trips of a year (`None`: of all years). In the rows the year, or `all`, stands for the trip.
///
/// # Errors
/// Where a table of the logbook is damaged.
pub fn rates(logbook: &Logbook, year: Option<i16>) -> Result<Rates, Error> {
    let trips = trips(logbook, year)?;
    let fished: Vec<Fished> = trips.values().map(Trip::fished).collect();
    let name = year.map_or_else(|| "all".to_owned(), |year| year.to_string());
    Ok(rates::rates(&name, &fished))
}

/// The fishing of the trips of a year (`None`: of all years) by their ids.
pub(crate) fn trips(logbook: &Logbook, year: Option<i16>) -> Result<BTreeMap<String, Trip>, Error> {
    let mut trips: BTreeMap<String, Trip> = BTreeMap::new();
    for row in logbook.read_table::<rod_spells::Row>(year)? {
        let trip = trips.entry(row.trip_id.clone()).or_default();
        trip.ids.insert(row.spell_id.clone(), trip.spells.len());
        trip.spells.push(spell(row));
    }
    for row in logbook.read_table::<effort::Row>(year)? {
        let trip = trips.entry((*row.trip_id).to_owned()).or_default();
        trip.effort.extend(trip.ids.get(&row.spell_id).map(|&spell| minute(&row, spell)));
    }
    for row in logbook.read_table::<bites::Row>(year)? {
        let trip = trips.entry(row.trip_id.clone()).or_default();
        let spell = row.spell_id.as_ref().and_then(|id| trip.ids.get(id)).copied();
        trip.bites.push(bite(row, spell));
    }
    Ok(trips)
}

/// The fishing of one trip.
#[derive(Default)]
pub(crate) struct Trip {
    /// Indices of the spells by their ids.
    ids: BTreeMap<String, usize>,
    spells: Vec<Spell>,
    effort: Vec<EffortRow>,
    bites: Vec<PlacedBite>,
}

impl Trip {
    pub fn fished(&self) -> Fished<'_> {
        Fished { spells: &self.spells, effort: &self.effort, bites: &self.bites }
    }
}

/// A spell as far as rates ask for it: whose, and with what.
fn spell(row: rod_spells::Row) -> Spell {
    Spell {
        rod: row.rod,
        start_us: row.time_in,
        end_us: row.time_out,
        method: None,
        line_out_m: row.line_out_m,
        weight_kg: row.weight_kg,
        lure: row.lure,
        running_depth_m: row.running_depth_m,
        running_depth_se_m: row.running_depth_se_m,
        depth_source: None,
        assumed: row.assumed,
    }
}

fn minute(row: &effort::Row, spell: usize) -> EffortRow {
    EffortRow {
        time_us: row.time,
        at: LatLon { lat_deg: row.lat, lon_deg: row.lon },
        cell: row.cell,
        spell,
        rod_hours: row.rod_hours,
        depth_m: row.depth_m,
        temp_at_depth_c: row.temp_at_depth_c,
        surface_temp_c: row.surface_temp_c,
        stw_mps: row.stw_mps,
        lure_speed_mps: row.lure_speed_mps,
        break_distance_m: row.break_distance_m,
        break_side: side(row.break_side.as_deref()),
        above_thermocline_m: row.above_thermocline_m,
        sun_elevation_deg: row.sun_elevation_deg,
    }
}

/// A bite as far as rates ask for it: when, what, and in which water.
fn bite(row: bites::Row, spell: Option<usize>) -> PlacedBite {
    PlacedBite {
        note_index: 0,
        time_us: row.time,
        time_se_s: row.time_se_s.unwrap_or_default(),
        at: LatLon { lat_deg: row.lat, lon_deg: row.lon },
        species: row.species,
        outcome: None,
        weight_kg: row.weight_kg,
        length_m: row.length_m,
        rod: row.rod,
        spell,
        lure: row.lure,
        depth_m: row.depth_m,
        depth_se_m: row.depth_se_m,
        depth_source: None,
        temp_at_depth_c: row.temp_at_depth_c,
        temp_at_depth_se_c: row.temp_at_depth_se_c,
        surface_temp_c: row.surface_temp_c,
        water_depth_m: row.water_depth_m,
        sog_mps: row.sog_mps,
        stw_mps: row.stw_mps,
        lure_speed_mps: row.lure_speed_mps,
        set_deg: row.set_deg,
        drift_mps: row.drift_mps,
        break_distance_m: row.break_distance_m,
        break_side: side(row.break_side.as_deref()),
        above_thermocline_m: row.above_thermocline_m,
        sun_elevation_deg: row.sun_elevation_deg,
        cell: row.cell,
        note: row.note,
    }
}

fn side(word: Option<&str>) -> Option<Side> {
    [Side::Warm, Side::Cold].into_iter().find(|side| Some(side.word()) == word)
}
