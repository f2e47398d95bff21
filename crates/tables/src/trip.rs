//! What belongs to one trip, over all tables?

use crate::schema::TableSchema;
use crate::table::{BadValue, Table};
use crate::tables::{
    bands, bites, break_lines, break_sides, breaks, calibrations, cell_visits, current_edges, currents,
    effort, hotspots, isotherm_breaks, isotherms, layers, lure_speeds, profiles, rod_spells, sections,
    set_aside, sources, surface_map, tackle_rates, track, trips,
};

/// Something that gives the rows of each table in turn, whatever the table.
pub(crate) trait Rows {
    /// Why it could not.
    type Error;
    /// The rows of one table.
    fn rows<R: Table>(&mut self) -> Result<Vec<R>, Self::Error>;
}

/// Something that is done with each table in turn, whatever the table.
pub(crate) trait EachTable {
    /// Why it could not be done.
    type Error;
    /// Does it with one table.
    fn table<R: Table>(&mut self) -> Result<(), Self::Error>;
}

/// The list of the tables: everything that is done with all of them follows from it.
macro_rules! trip_tables {
    ($( $table:ident: $meaning:literal, )+) => {
        /// The rows of one trip in every table. `trips` has exactly one.
        #[derive(Clone, Debug, Default, PartialEq)]
        pub struct TripTables {
            $( #[doc = $meaning] pub $table: Vec<$table::Row>, )+
        }

        impl TripTables {
            /// Takes the rows of every table from one place.
            pub(crate) fn collect<S: Rows>(from: &mut S) -> Result<Self, S::Error> {
                Ok(Self { $( $table: from.rows::<$table::Row>()?, )+ })
            }

            /// Does something with every table, in the order of the contract.
            pub(crate) fn each<E: EachTable>(visit: &mut E) -> Result<(), E::Error> {
                $( visit.table::<$table::Row>()?; )+
                Ok(())
            }

            /// Every table as the bytes of its Parquet file, by name.
            pub(crate) fn files(&self) -> Result<Vec<(&'static str, Vec<u8>)>, BadValue> {
                Ok(vec![ $( (<$table::Row as Table>::NAME, crate::file::bytes(&self.$table)?), )+ ])
            }

            /// Trip ids of the rows of every table, by name of the table; rows that belong to no trip are left out.
            pub(crate) fn trip_ids(&self) -> impl Iterator<Item = (&'static str, &str)> {
                std::iter::empty()
                    $( .chain(self.$table.iter().filter_map(|row| Some((<$table::Row as Table>::NAME, row.trip_id()?)))) )+
            }
        }

        /// The schema of every table, in the order of the contract.
        pub const SCHEMAS: &[TableSchema] = &[ $( TableSchema::of::<$table::Row>(), )+ ];
    };
}

/// The schema of the layer of many trips, which is of no trip.
pub const HOTSPOTS: TableSchema = TableSchema::of::<hotspots::Row>();

/// Tables that were added to the newest format: trips from before are without.
pub(crate) const NEWER_TABLES: [&str; 9] = [
    surface_map::Row::NAME,
    isotherms::Row::NAME,
    tackle_rates::Row::NAME,
    break_sides::Row::NAME,
    isotherm_breaks::Row::NAME,
    calibrations::Row::NAME,
    lure_speeds::Row::NAME,
    cell_visits::Row::NAME,
    sections::Row::NAME,
];

trip_tables! {
    sources: "Files read.",
    set_aside: "Records that could not be used.",
    trips: "The trip.",
    track: "Seconds of the track.",
    breaks: "Crossings of thermal breaks.",
    break_lines: "Breaks joined from crossings.",
    surface_map: "Cells of the surface map.",
    isotherms: "Lines of equal temperature on it.",
    isotherm_breaks: "Steps in the depth of isotherms.",
    currents: "Currents along the track.",
    current_edges: "Crossings of current edges.",
    calibrations: "Speed logs and compass.",
    lure_speeds: "Speeds over ground for a speed at the lures.",
    profiles: "Depth bins of profiles.",
    layers: "Layers of each profile.",
    sections: "Cells of sections along the track and down.",
    rod_spells: "Rods with their lines in the water.",
    bites: "Bites.",
    effort: "Minutes of rod spells.",
    cell_visits: "Cells that the trip came through.",
    bands: "Bins of each factor.",
    tackle_rates: "Lures and rods, compared.",
    break_sides: "Warm and cold sides of the breaks, compared.",
}
