//! Which cells of a map are worked out together?
//!
//! Square tiles, with a post at each of their corners, in the middle of each side and in their own, that neighbours share:
//!
//! ```text
//! ●───────●───────●───────●───────●
//! │ · · · · · · · · │ · · · · · · · · │     ● post, of which all blocks are asked
//! ●       ●       ●       ●       ●     · cell, of which posts and the blocks near by are asked
//! ```

use multiversion::multiversion;
use nalgebra::DMatrix;

use super::SurfaceMap;
use crate::objective_analysis::{ObjectiveAnalysis, Observation, Post};

/// Cells along a side of a tile.
///
/// With these numbers an error is at most a 5,000th of the water's standard deviation larger than that from all blocks
/// (tested). Of 579,000 cells of 2,000 made-up maps it was a 10,400th at most, where legs lay 600 m to 900 m apart; of
/// 27,700 cells of ten invented trips a 90,000th.
const TILE_CELLS: usize = 8;
/// Cells from a post to the next.
const POST_CELLS: usize = TILE_CELLS / 2;
/// Blocks up to this far from a tile are near, in lengths of its side: all of them, for one left out that lies nearer than
/// posts are apart tells what posts cannot.
const NEAR_TILES: f64 = 1.0;
/// Where more are near, all blocks are asked of all cells: that costs as much.
const MOST_NEAR: usize = 160;

/// Temperature and standard error, °C, of the cells of all tiles that were asked about.
pub(super) struct Tiles<'a> {
    analysis: &'a ObjectiveAnalysis,
    blocks: &'a [Observation],
    misfits: &'a [f64],
    /// Tiles from west to east.
    columns: usize,
    posts: Vec<Option<Post>>,
    known: Vec<Option<Vec<(f64, f64)>>>,
}

impl<'a> Tiles<'a> {
    /// The tiles of a blank map.
    pub(super) fn new(
        map: &SurfaceMap,
        analysis: &'a ObjectiveAnalysis,
        blocks: &'a [Observation],
        misfits: &'a [f64],
    ) -> Self {
        let (columns, rows) = (map.nx.div_ceil(TILE_CELLS), map.ny.div_ceil(TILE_CELLS));
        Self {
            analysis,
            blocks,
            misfits,
            columns,
            posts: vec![None; (2 * columns + 1) * (2 * rows + 1)],
            known: vec![None; columns * rows],
        }
    }

    /// Works out the tiles of some cells.
    pub(super) fn ask(&mut self, map: &SurfaceMap, cells: &[usize]) {
        let mut asked: Vec<usize> = cells
            .iter()
            .map(|&cell| self.of_cell(map, cell).0)
            .filter(|&tile| self.known[tile].is_none())
            .collect();
        asked.sort_unstable();
        asked.dedup();
        let asked: Vec<(usize, Option<Vec<usize>>)> =
            asked.into_iter().map(|tile| (tile, self.near(map, tile))).collect();
        let uncrowded = asked.iter().filter(|(_, near)| near.is_some());
        let mut posts: Vec<usize> = uncrowded
            .flat_map(|(tile, _)| self.posts_of(*tile))
            .filter(|&post| self.posts[post].is_none())
            .collect();
        posts.sort_unstable();
        posts.dedup();
        let places_m: Vec<(f64, f64)> = posts.iter().map(|&post| self.post_m(map, post)).collect();
        for (post, known) in posts.into_iter().zip(self.analysis.posts(&places_m)) {
            self.posts[post] = Some(known);
        }
        for (tile, near) in asked {
            self.known[tile] = Some(self.worked_out(map, tile, near.as_deref()));
        }
    }

    /// Temperature and standard error of a cell, °C; `None` where it was not asked about.
    pub(super) fn at(&self, map: &SurfaceMap, cell: usize) -> Option<(f64, f64)> {
        let (tile, in_tile) = self.of_cell(map, cell);
        self.known[tile].as_ref().map(|cells| cells[in_tile])
    }

    /// The tile of a cell, and which of its cells that is.
    fn of_cell(&self, map: &SurfaceMap, cell: usize) -> (usize, usize) {
        let (column, row) = (cell % map.nx, cell / map.nx);
        let tile = row / TILE_CELLS * self.columns + column / TILE_CELLS;
        (tile, row % TILE_CELLS * TILE_CELLS + column % TILE_CELLS)
    }

    /// Column and row of the first cell of a tile.
    fn first_cell(&self, tile: usize) -> (usize, usize) {
        (tile % self.columns * TILE_CELLS, tile / self.columns * TILE_CELLS)
    }

    fn posts_of(&self, tile: usize) -> [usize; 9] {
        let first = tile / self.columns * 2 * (2 * self.columns + 1) + tile % self.columns * 2;
        std::array::from_fn(|i| first + i / 3 * (2 * self.columns + 1) + i % 3)
    }

    /// East and north of a post, m: at the corners of cells, for those of a tile's sides lie on them.
    fn post_m(&self, map: &SurfaceMap, post: usize) -> (f64, f64) {
        let (column, row) = (post % (2 * self.columns + 1), post / (2 * self.columns + 1));
        let from_first = |index: usize| ((index * POST_CELLS) as f64 - 0.5) * map.cell_m;
        (map.west_m + from_first(column), map.south_m + from_first(row))
    }

    /// The blocks near a tile, in rising order; `None` where they are too many.
    fn near(&self, map: &SurfaceMap, tile: usize) -> Option<Vec<usize>> {
        let (column, row) = self.first_cell(tile);
        let side_m = TILE_CELLS as f64 * map.cell_m;
        let (west_m, south_m) = map.centre_m(row * map.nx + column);
        let off_m = |at_m: f64, from_m: f64| {
            let from_m = from_m - 0.5 * map.cell_m;
            (from_m - at_m).max(at_m - (from_m + side_m)).max(0.0)
        };
        let near: Vec<usize> = self
            .blocks
            .iter()
            .map(|block| off_m(block.east_m, west_m).powi(2) + off_m(block.north_m, south_m).powi(2))
            .zip(0..)
            .filter(|(off_m2, _)| *off_m2 < (NEAR_TILES * side_m).powi(2))
            .map(|(_, block)| block)
            .collect();
        (near.len() <= MOST_NEAR).then_some(near)
    }

    /// Temperature and standard error of the cells of a tile, °C. Some of them may lie beyond the map.
    fn worked_out(&self, map: &SurfaceMap, tile: usize, near: Option<&[usize]>) -> Vec<(f64, f64)> {
        let (column, row) = self.first_cell(tile);
        let (west_m, south_m) = map.centre_m(row * map.nx + column);
        let targets_m: Vec<(f64, f64)> = (0..TILE_CELLS * TILE_CELLS)
            .map(|cell| {
                let (column, row) = (cell % TILE_CELLS, cell / TILE_CELLS);
                (west_m + column as f64 * map.cell_m, south_m + row as f64 * map.cell_m)
            })
            .collect();
        let among = near.and_then(|near| {
            let posts: Option<Vec<&Post>> =
                self.posts_of(tile).iter().map(|&post| self.posts[post].as_ref()).collect();
            self.analysis.estimates_among(&targets_m, &posts?, near)
        });
        let (estimates, to_blocks_c2) = among.unwrap_or_else(|| self.analysis.estimates_from_all(&targets_m));
        let raised = raised(&to_blocks_c2, self.misfits, map.covariance.variance_c2);
        let with_error = estimates.iter().zip(raised);
        with_error
            .map(|(estimate, raised)| (estimate.temp_c, (estimate.error_variance_c2 * raised).sqrt()))
            .collect()
    }
}

/// By how much the error variance at each place is raised: the mean misfit of the blocks around it, each by the part
/// of the place's variance that it explains, and never less than one. One block that fits is taken for granted.
fn raised(to_blocks_c2: &DMatrix<f64>, misfits: &[f64], variance_c2: f64) -> Vec<f64> {
    let mut sums = vec![1.0; to_blocks_c2.nrows()];
    let mut weights = sums.clone();
    for (to_block_c2, misfit) in to_blocks_c2.column_iter().zip(misfits) {
        add_misfit(to_block_c2.as_slice(), variance_c2.recip(), *misfit, &mut sums, &mut weights);
    }
    sums.iter().zip(weights).map(|(sum, weight)| (sum / weight).max(1.0)).collect()
}

// wider lanes where the machine has them; each lane does the same on every machine
#[multiversion(targets("x86_64+avx+avx2"))]
fn add_misfit(to_block_c2: &[f64], per_c2: f64, misfit: f64, sums: &mut [f64], weights: &mut [f64]) {
    for ((to_block_c2, sum), weight) in to_block_c2.iter().zip(sums).zip(weights) {
        let correlation = to_block_c2 * per_c2;
        *sum += correlation * correlation * misfit;
        *weight += correlation * correlation;
    }
}
