//! Which hexagon holds a cell, which lie around it, and where is it?
//!
//! H3 cells (<https://h3geo.org>) through the crate `h3o`.

use h3o::{CellIndex, LatLng, Resolution};
use waterseam_units::LatLon;

/// Finest resolution of what a trip leaves behind.
pub const FINEST: u8 = 9;

/// The cell of a position; `None` where it is no position, or no resolution.
pub fn of(at: LatLon, resolution: u8) -> Option<u64> {
    let at = LatLng::new(at.lat_deg, at.lon_deg).ok()?;
    Some(at.to_cell(Resolution::try_from(resolution).ok()?).into())
}

/// The cell of a coarser resolution that holds a cell; `None` where it is no cell, or already coarser.
pub fn parent(cell: u64, resolution: u8) -> Option<u64> {
    let resolution = Resolution::try_from(resolution).ok()?;
    CellIndex::try_from(cell).ok()?.parent(resolution).map(u64::from)
}

/// The cells at each distance in steps, from the cell itself (0) outward; nothing where it is no cell.
pub fn rings(cell: u64, steps: u32) -> Vec<Vec<u64>> {
    let Ok(cell) = CellIndex::try_from(cell) else { return Vec::new() };
    let mut rings = vec![Vec::new(); steps as usize + 1];
    for (around, distance) in cell.grid_disk_distances_safe(steps) {
        rings[distance as usize].push(u64::from(around));
    }
    for ring in &mut rings {
        ring.sort_unstable();
    }
    rings
}

/// Centre of a cell; `None` where it is no cell.
pub fn centre(cell: u64) -> Option<LatLon> {
    let at = LatLng::from(CellIndex::try_from(cell).ok()?);
    LatLon::new(at.lat(), at.lng())
}

/// How wide the cells of a resolution are on average, from side to side, m; 0 where there is no such resolution.
pub fn width_m(resolution: u8) -> f64 {
    Resolution::try_from(resolution).map_or(0.0, |resolution| 3_f64.sqrt() * resolution.edge_length_m())
}

/// Corners of a cell, counter-clockwise, the first not repeated; nothing where it is no cell.
pub fn corners(cell: u64) -> Vec<LatLon> {
    let Ok(cell) = CellIndex::try_from(cell) else { return Vec::new() };
    cell.boundary().iter().filter_map(|corner| LatLon::new(corner.lat(), corner.lng())).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_no_cell_has_nothing() {
        assert_eq!(parent(0, 7), None);
        assert!(rings(0, 2).is_empty() && corners(0).is_empty());
        assert_eq!(centre(u64::MAX), None);
    }

    #[test]
    fn a_cell_lies_in_its_parent() {
        let cell = 0x0892_74e7_9c8b_ffff;
        let parent = parent(cell, 7).unwrap();
        assert_eq!(parent, super::parent(parent, 7).unwrap());
        let rings = rings(parent, 2);
        assert_eq!(rings.iter().map(Vec::len).collect::<Vec<_>>(), [1, 6, 12]);
        assert_eq!(corners(parent).len(), 6);
    }
}
