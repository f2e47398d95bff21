//! Which hexagon is a position in?

use h3o::{CellIndex, LatLng, Resolution};
use waterseam_units::{LatLon, LocalFrame};

/// The H3 cell of a position at resolution 9 (hexagons of about 0.1 km²).
///
/// A latitude or longitude that is not a finite number gives 0, which is no cell.
pub fn cell(at: LatLon) -> u64 {
    found(at).map_or(0, Into::into)
}

fn found(at: LatLon) -> Option<CellIndex> {
    LatLng::new(at.lat_deg, at.lon_deg).ok().map(|at| at.to_cell(Resolution::Nine))
}

/// So many cells are kept in mind: a boat that trolls goes to and fro over a few.
const RECENT: usize = 8;

/// The cells of positions of which most lie in the cell of the one before: a boat that trolls crosses one in minutes.
pub(crate) fn cells(positions: impl Iterator<Item = LatLon>) -> Vec<u64> {
    // the last one first
    let mut recent: Vec<Cell> = Vec::new();
    let of = |at: LatLon| {
        if let Some(known) = recent.iter().position(|cell| cell.surely_holds(at)) {
            // mostly it is the first
            if known > 0 {
                recent[..=known].rotate_right(1);
            }
            return recent[0].index;
        }
        let Some(found) = found(at) else { return 0 };
        let index = found.into();
        if let Some(known) = recent.iter().position(|cell| cell.index == index) {
            recent[..=known].rotate_right(1);
        } else if let Some(cell) = Cell::new(found) {
            recent.truncate(RECENT - 1);
            recent.insert(0, cell);
        }
        index
    };
    positions.map(of).collect()
}

/// A position this close to a side of its cell is looked up, m. The sides are taken for straight on a plane: they are arcs of
/// great circles, and over 200 m the two part by millimetres.
const MARGIN_M: f64 = 2.0;
/// Nearer to a pole the plane turns under the boat, degrees.
const LAT_DEG_MAX: f64 = 85.0;

/// A cell and its sides on the plane about its centre.
struct Cell {
    index: u64,
    frame: LocalFrame,
    /// For each side the outward unit vector across it, and how far it lies from the centre, m.
    sides: [((f64, f64), f64); 6],
}

impl Cell {
    /// `None` of a cell that is no hexagon (of the twelve pentagons, and of those on an edge of the icosahedron), or near a
    /// pole: it is looked up anew.
    fn new(index: CellIndex) -> Option<Self> {
        let boundary = index.boundary();
        let centre = LatLng::from(index);
        let at = |at: &LatLng| LatLon { lat_deg: at.lat(), lon_deg: at.lng() };
        let frame = LocalFrame::new(at(&centre));
        let corners: [(f64, f64); 6] =
            boundary.iter().map(|corner| frame.to_local(at(corner))).collect::<Vec<_>>().try_into().ok()?;
        let side = |i: usize| {
            let ((east_m, north_m), (next_east_m, next_north_m)) = (corners[i], corners[(i + 1) % 6]);
            let (along_m, up_m) = (next_east_m - east_m, next_north_m - north_m);
            let length_m = (along_m * along_m + up_m * up_m).sqrt();
            // corners go round against the clock: what lies outside is to the right
            let across = (up_m / length_m, -along_m / length_m);
            (across, across.0 * east_m + across.1 * north_m)
        };
        (centre.lat().abs() < LAT_DEG_MAX).then(|| Self {
            index: index.into(),
            frame,
            sides: [0, 1, 2, 3, 4, 5].map(side),
        })
    }

    fn surely_holds(&self, at: LatLon) -> bool {
        let (east_m, north_m) = self.frame.to_local(at);
        self.sides
            .iter()
            .all(|&((east, north), from_centre_m)| east * east_m + north * north_m < from_centre_m - MARGIN_M)
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;
    use waterseam_units::geodesy::direct;

    use super::*;

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(400))]

        /// A boat that winds through some cells, anywhere on the earth.
        #[test]
        fn the_cell_of_the_one_before_is_kept_only_inside_of_it(
            lat in -89.9f64..89.9, lon in -180f64..180.0, course in 0f64..360.0, step_m in 1f64..40.0,
        ) {
            let mut at = LatLon { lat_deg: lat, lon_deg: lon };
            let mut track = Vec::new();
            for step in 0..60 {
                track.push(at);
                at = direct(at, course + 15.0 * f64::from(step), step_m);
            }
            let want: Vec<u64> = track.iter().copied().map(cell).collect();
            prop_assert_eq!(cells(track.into_iter()), want);
        }
    }

    #[test]
    fn most_positions_of_a_slow_boat_are_not_looked_up() {
        let first = LatLon { lat_deg: 46.2, lon_deg: -29.4 };
        let centre = LatLng::from(found(first).unwrap());
        let centre = LatLon { lat_deg: centre.lat(), lon_deg: centre.lng() };
        let cell = Cell::new(found(first).unwrap()).unwrap();
        assert!((0..36).all(|i| cell.surely_holds(direct(centre, 10.0 * f64::from(i), 100.0))));
        assert!((0..36).all(|i| !cell.surely_holds(direct(centre, 10.0 * f64::from(i), 230.0))));
    }

    #[test]
    fn what_is_no_position_is_in_no_cell() {
        let nowhere = LatLon { lat_deg: f64::NAN, lon_deg: 0.0 };
        let here = LatLon { lat_deg: 46.2, lon_deg: -29.4 };
        assert_eq!(cells([here, nowhere, here].into_iter()), [cell(here), 0, cell(here)]);
    }
}
