//! Which tables does a logbook have?

pub mod bands;
pub mod bites;
pub mod break_lines;
pub mod break_sides;
pub mod breaks;
pub mod calibrations;
pub mod cell_visits;
pub mod current_edges;
pub mod currents;
pub mod effort;
pub mod hotspots;
pub mod isotherm_breaks;
pub mod isotherms;
pub mod layers;
pub mod lure_speeds;
pub mod profiles;
pub mod rod_spells;
pub mod sections;
pub mod set_aside;
pub mod shared_places;
pub mod sources;
pub mod surface_map;
pub mod tackle_rates;
pub mod track;
pub mod trips;
