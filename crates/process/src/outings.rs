//! What did every trip of a logbook do, cell by cell, and where did it get its bites?

use jiff::civil::Date;
use waterseam_hotspots::{Bite, Visit};
use waterseam_tables::{Error, Logbook, TripReader, bites, breaks, cell_visits, effort, track, trips};

use crate::cell_visits::cell_visits;

/// One trip as the layers over many years see it: no second of its track, no minute of its effort.
#[derive(Clone, Debug, PartialEq)]
pub struct Outing {
    /// The trip.
    pub trip_id: String,
    /// Its day in the boat's time zone.
    pub day: Date,
    /// What it did in each cell.
    pub cells: Vec<cell_visits::Row>,
    /// Its bites.
    pub bites: Vec<bites::Row>,
}

/// The trips of a logbook in the order of their ids. Of a trip that was written before there was a table
/// `cell_visits`, the cells are worked out from its track, effort and breaks.
///
/// # Errors
/// Where a table of the logbook is damaged.
pub fn outings(logbook: &Logbook) -> Result<Vec<Outing>, Error> {
    logbook.trips()?.into_iter().map(outing).collect()
}

/// The same as the crate `hotspots` takes it; trips are numbered in the order of the outings.
pub fn visits_and_bites(outings: &[Outing]) -> (Vec<Visit>, Vec<Bite>) {
    let numbered = || outings.iter().enumerate();
    let visits = numbered().flat_map(|(trip, outing)| {
        outing.cells.iter().map(move |row| Visit {
            trip,
            day: outing.day,
            cell: row.cell,
            rod_hours: row.rod_hours,
            run_m: row.run_m,
            breaks: u32::try_from(row.breaks).unwrap_or_default(),
            surface_temp_c: row.surface_temp_c,
        })
    });
    let bites = numbered().flat_map(|(trip, outing)| {
        outing.bites.iter().map(move |row| Bite {
            trip,
            day: outing.day,
            cell: row.cell,
            species: row.species.clone(),
            depth_m: row.depth_m,
            temp_at_depth_c: row.temp_at_depth_c,
            surface_temp_c: row.surface_temp_c,
        })
    });
    (visits.collect(), bites.collect())
}

fn outing(mut trip: TripReader) -> Result<Outing, Error> {
    let cells = match trip.rows::<cell_visits::Row>()? {
        Some(cells) => cells,
        None => worked_out(&mut trip)?,
    };
    let rows = trip.rows::<trips::Row>()?.unwrap_or_default();
    let [row] = rows.as_slice() else { return Err(Error::NotOneTrip { found: rows.len() }) };
    let bites = trip.rows::<bites::Row>()?.unwrap_or_default();
    Ok(Outing { trip_id: trip.trip_id().to_owned(), day: row.day(), cells, bites })
}

fn worked_out(trip: &mut TripReader) -> Result<Vec<cell_visits::Row>, Error> {
    let track = trip.rows::<track::Row>()?.unwrap_or_default();
    let effort = trip.rows::<effort::Row>()?.unwrap_or_default();
    let breaks = trip.rows::<breaks::Row>()?.unwrap_or_default();
    Ok(cell_visits(trip.trip_id(), &track, &effort, &breaks))
}
