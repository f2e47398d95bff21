//! Hexagonal cells against the reference library.
//!
//! Source: `hex_cells.csv`, `hex_neighbours.csv`, `hex_distance.csv`: h3 (Python and C library) 4.5.0.

mod common;

use common::{close, table};
use h3o::{CellIndex, LatLng, Resolution};
use waterseam_track::cell;
use waterseam_units::LatLon;

fn index(text: &str) -> CellIndex {
    text.parse().unwrap_or_else(|e| panic!("{text}: {e}"))
}

#[test]
fn cells_of_points() {
    let mut at_our_resolution = 0;
    for row in table("hex_cells.csv") {
        let (case, lat, lon) = (row.text("id"), row.must("lat"), row.must("lon"));
        let want = index(row.text("cell"));
        let resolution = Resolution::try_from(row.must("res") as u8).unwrap();
        let got = LatLng::new(lat, lon).unwrap().to_cell(resolution);
        assert_eq!(got, want, "{case}");
        if let (Resolution::Nine, Some(at)) = (resolution, LatLon::new(lat, lon)) {
            assert_eq!(cell(at), u64::from(want), "{case}");
            at_our_resolution += 1;
        }
        let centre = LatLng::from(got);
        close(case, centre.lat(), row.must("centre_lat"), 1e-9);
        close(case, centre.lng(), row.must("centre_lon"), 1e-9);
        assert_eq!(got.is_pentagon(), row.must("is_pentagon") == 1.0, "{case}");
        if let Some(coarser) = resolution.pred() {
            assert_eq!(got.parent(coarser), Some(index(row.text("parent"))), "{case}");
        }
        close(case, got.area_m2(), row.must("area_m2"), 1e-6 * row.must("area_m2"));
        assert_eq!(got.boundary().len() as f64, row.must("n_vertices"), "{case}");
    }
    assert!(at_our_resolution >= 10, "only {at_our_resolution} rows at resolution 9");
}

#[test]
fn neighbours_of_cells() {
    for row in table("hex_neighbours.csv") {
        let cell = index(row.text("cell"));
        let mut want: Vec<CellIndex> = row.text("neighbours").split_whitespace().map(index).collect();
        assert_eq!(want.len() as f64, row.must("n"));
        let mut got: Vec<CellIndex> = cell.grid_disk(1);
        got.retain(|&other| other != cell);
        want.sort_unstable();
        got.sort_unstable();
        assert_eq!(got, want, "{cell}");
    }
}

#[test]
fn distances_between_cells() {
    for row in table("hex_distance.csv") {
        let (a, b) = (index(row.text("cell_a")), index(row.text("cell_b")));
        assert_eq!(f64::from(a.grid_distance(b).unwrap()), row.must("grid_distance"), "{a} {b}");
        assert_eq!(a.is_neighbor_with(b).unwrap(), row.must("neighbours") == 1.0, "{a} {b}");
        let disk: Vec<CellIndex> = a.grid_disk(2);
        assert_eq!(disk.len() as f64, row.must("disk2_size_a"), "{a}");
    }
}
