//! The water along the track and down as rows of the tables.

use waterseam_column::{Field, SectionSettings};
use waterseam_tables::{Shared, sections};
use waterseam_track::Track;

use crate::place;
use crate::rows::id;
use crate::stored;

/// Cells of all sections, column by column, shallow to deep.
pub fn sections(trip_id: &str, track: &Track, field: &Field) -> Vec<sections::Row> {
    let way: Vec<(f64, f64)> =
        place::seconds(track).into_iter().zip(track.distance_m.iter().copied()).collect();
    let found = waterseam_column::sections(field, &way, &SectionSettings::default());
    let trip_id = Shared::from(trip_id);
    let [undulating, between_casts] = ["undulating", "between_casts"].map(Shared::from);
    let mut rows = Vec::new();
    for (index, section) in found.iter().enumerate() {
        let section_id = Shared::from(&*id(&trip_id, "section", index));
        for (column, water) in section.columns.iter().enumerate() {
            let time = place::instant(track, water.time_s);
            let Some(at) = place::at(track, time).map(stored::place) else { continue };
            rows.extend(section.levels_m.iter().zip(&water.temps).map(|(&depth_m, temp)| sections::Row {
                trip_id: trip_id.clone(),
                section_id: section_id.clone(),
                column: column as i64,
                time,
                lat: at.lat_deg,
                lon: at.lon_deg,
                distance_m: stored::way_m(water.distance_m),
                depth_m,
                temp_c: temp.map(|temp| stored::temp_c(temp.temp_c)),
                temp_se_c: temp.map(|temp| stored::temp_c(temp.se_c)),
                method: if water.is_undulating { &undulating } else { &between_casts }.clone(),
            }));
        }
    }
    rows
}
