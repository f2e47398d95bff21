//! From the trips of a logbook to what may be told of them without giving a spot away.

use waterseam_hotspots::{SharingSettings, cells, shared};
use waterseam_tables::{shared_places, wkb};

use crate::hotspots::ALL_SPECIES;
use crate::outings::{Outing, visits_and_bites};

/// The rows that may be told.
pub fn shared_places(outings: &[Outing], settings: &SharingSettings) -> Vec<shared_places::Row> {
    let species = settings.species.as_deref().unwrap_or(ALL_SPECIES);
    let (visits, bites) = visits_and_bites(outings);
    let told = shared(&visits, &bites, settings);
    told.into_iter()
        .map(|place| shared_places::Row {
            cell: place.cell,
            resolution: settings.blur.resolution(),
            geometry: wkb::area(&cells::corners(place.cell)),
            season_part: place.season_part,
            species: species.to_owned(),
            trips: place.trips as i64,
            years: place.years as i64,
            rod_hours: place.rod_hours,
            bites: place.bites as i64,
            rate: place.rate,
            bite_depth_m: place.depth_m,
            bite_temp_c: place.temp_c,
            bite_surface_temp_c: place.surface_temp_c,
        })
        .collect()
}
