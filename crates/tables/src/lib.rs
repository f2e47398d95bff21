//! The logbook on disk: a folder of Parquet tables that any Parquet engine can read without this program.
//!
//! A column is declared once, in `tables/`; its Arrow field, metadata, range check and page in `schemas/` follow
//! from there. A trip is written with [`LogbookWriter::write_trip`], whole or not at all; the same rows give the
//! same bytes. [`verify()`] says what is damaged.

// the sample trip of the integration tests calls the crate by its name
#[cfg(test)]
extern crate self as waterseam_tables;

mod column;
mod commit;
mod disk;
mod domain;
mod encoding;
mod error;
mod file;
mod format;
mod gather;
mod geo;
mod layer;
mod layout;
mod lock;
mod logbook;
mod pool;
#[cfg(test)]
mod power_cut;
mod repair;
mod schema;
mod shared;
mod sums;
mod table;
mod tables;
#[cfg(test)]
mod tests;
mod trip;
mod verify;
pub mod wkb;

pub use column::{Column, Kind};
pub use domain::{Domain, Measure};
pub use error::Error;
pub use file::geoparquet;
pub use format::FORMAT_VERSION;
pub use layer::LayerId;
pub use logbook::{Logbook, LogbookWriter, Outcome, PackedTrip, TripReader, WithoutTrip};
pub use pool::{
    BoatYear, Compaction, PlaceCounts, PoolBite, PoolRows, PoolTrip, PoolVisit, Written, compact, parent,
    places, read_answers, read_pool,
};
pub use repair::Repair;
pub use schema::TableSchema;
pub use shared::Shared;
pub use table::{BadColumn, BadValue, ColumnFault, Table};
pub use tables::{
    bands, bites, break_lines, break_sides, breaks, calibrations, cell_visits, current_edges, currents,
    effort, hotspots, isotherm_breaks, isotherms, layers, lure_speeds, profiles, rod_spells, sections,
    set_aside, shared_places, sources, surface_map, tackle_rates, track, trips,
};
pub use trip::{HOTSPOTS, SCHEMAS, TripTables};
pub use verify::{Finding, Problem, verify};
