//! Which cells of a map are worked out together?
//!
//! Square tiles, with a post at each of their corners, in the middle of each side and in their own, that neighbours share;
//! in a tile those quarters that are asked about:
//!
//! ```text
//! ●───────●───────●───────●───────●
//! │ · · · · · · · · │ · · · · · · · · │     ● post, of which all blocks are asked
//! ●       ●       ●       ●       ●     · cell, of which posts and the blocks near by are asked
//! ```

use multiversion::multiversion;
use nalgebra::DMatrix;

use super::SurfaceMap;
use crate::covariance::{LANES, Lanes};
use crate::objective_analysis::{Among, ObjectiveAnalysis, Observation, Post};

/// Cells along a side of a quarter, from a post to the next.
///
/// With these numbers an error is at most a 5,000th of the water's standard deviation larger than that from all blocks
/// (tested). Of 579,000 cells of 2,000 made-up maps it was a 10,400th at most, where legs lay 600 m to 900 m apart; of
/// 27,700 cells of ten invented trips a 90,000th.
const QUARTER_CELLS: usize = 4;
/// Quarters along a side of a tile.
const TILE_QUARTERS: usize = 2;
/// Blocks up to this far from a tile are near, in cells: all of them, for one left out that lies nearer than posts are
/// apart tells what posts cannot.
const NEAR_CELLS: f64 = 8.0;
/// Where more are near, all blocks are asked of all cells: that costs as much.
const MOST_NEAR: usize = 160;

const _: () = assert!(QUARTER_CELLS * QUARTER_CELLS == LANES);

/// Temperature and standard error, °C, of the cells of all quarters that were asked about.
pub(super) struct Tiles<'a> {
    analysis: &'a ObjectiveAnalysis,
    blocks: &'a [Observation],
    misfits: &'a [f64],
    /// Tiles from west to east.
    columns: usize,
    posts: Vec<Option<Post>>,
    /// By tile, row by row.
    asked_of: Vec<Option<AskedOf>>,
    /// By quarter, row by row.
    known: Vec<Option<[(f64, f64); LANES]>>,
}

/// What the cells of a tile are asked of.
enum AskedOf {
    /// All blocks.
    All,
    /// Its posts and the blocks near by.
    Among(Among),
}

impl<'a> Tiles<'a> {
    /// The tiles of a blank map.
    pub(super) fn new(
        map: &SurfaceMap,
        analysis: &'a ObjectiveAnalysis,
        blocks: &'a [Observation],
        misfits: &'a [f64],
    ) -> Self {
        let tiles = |cells: usize| cells.div_ceil(TILE_QUARTERS * QUARTER_CELLS);
        let (columns, rows) = (tiles(map.nx), tiles(map.ny));
        Self {
            analysis,
            blocks,
            misfits,
            columns,
            posts: vec![None; (TILE_QUARTERS * columns + 1) * (TILE_QUARTERS * rows + 1)],
            asked_of: (0..columns * rows).map(|_| None).collect(),
            known: vec![None; TILE_QUARTERS * columns * TILE_QUARTERS * rows],
        }
    }

    /// Works out the quarters of some cells.
    pub(super) fn ask(&mut self, map: &SurfaceMap, cells: &[usize]) {
        let mut asked: Vec<(usize, usize)> = cells
            .iter()
            .map(|&cell| self.of_cell(map, cell).0)
            .filter(|&quarter| self.known[quarter].is_none())
            .map(|quarter| (self.tile_of(quarter), quarter))
            .collect();
        asked.sort_unstable();
        asked.dedup();
        let tiles = asked.chunk_by(|a, b| a.0 == b.0).map(|of_tile| of_tile[0].0);
        self.open(map, &tiles.collect::<Vec<_>>());
        let mut to_blocks_c2 = vec![[0.0; LANES]; self.blocks.len()];
        for (tile, quarter) in asked {
            self.known[quarter] = Some(self.worked_out(map, tile, quarter, &mut to_blocks_c2));
        }
    }

    /// Makes ready those of some tiles that are asked about for the first time.
    fn open(&mut self, map: &SurfaceMap, tiles: &[usize]) {
        let new = tiles.iter().filter(|&&tile| self.asked_of[tile].is_none());
        let new: Vec<(usize, Option<Vec<usize>>)> = new.map(|&tile| (tile, self.near(map, tile))).collect();
        let uncrowded = new.iter().filter(|(_, near)| near.is_some());
        let mut posts: Vec<usize> = uncrowded
            .flat_map(|&(tile, _)| self.posts_of(tile))
            .filter(|&post| self.posts[post].is_none())
            .collect();
        posts.sort_unstable();
        posts.dedup();
        let places_m: Vec<(f64, f64)> = posts.iter().map(|&post| self.post_m(map, post)).collect();
        for (post, known) in posts.into_iter().zip(self.analysis.posts(&places_m)) {
            self.posts[post] = Some(known);
        }
        for (tile, near) in new {
            let among = near.and_then(|near| self.analysis.among(&self.known_posts(tile), near));
            self.asked_of[tile] = Some(among.map_or(AskedOf::All, AskedOf::Among));
        }
    }

    /// Those of a tile's posts that are known: all, where its cells are asked of them.
    fn known_posts(&self, tile: usize) -> Vec<&Post> {
        self.posts_of(tile).iter().filter_map(|&post| self.posts[post].as_ref()).collect()
    }

    /// Temperature and standard error of a cell, °C; `None` where it was not asked about.
    pub(super) fn at(&self, map: &SurfaceMap, cell: usize) -> Option<(f64, f64)> {
        let (quarter, in_quarter) = self.of_cell(map, cell);
        self.known[quarter].as_ref().map(|cells| cells[in_quarter])
    }

    /// The quarter of a cell, and which of its cells that is.
    fn of_cell(&self, map: &SurfaceMap, cell: usize) -> (usize, usize) {
        let (column, row) = (cell % map.nx, cell / map.nx);
        let quarter = row / QUARTER_CELLS * TILE_QUARTERS * self.columns + column / QUARTER_CELLS;
        (quarter, row % QUARTER_CELLS * QUARTER_CELLS + column % QUARTER_CELLS)
    }

    /// Column and row of a quarter among quarters.
    fn place_of(&self, quarter: usize) -> (usize, usize) {
        (quarter % (TILE_QUARTERS * self.columns), quarter / (TILE_QUARTERS * self.columns))
    }

    fn tile_of(&self, quarter: usize) -> usize {
        let (column, row) = self.place_of(quarter);
        row / TILE_QUARTERS * self.columns + column / TILE_QUARTERS
    }

    fn posts_of(&self, tile: usize) -> [usize; 9] {
        let in_row = TILE_QUARTERS * self.columns + 1;
        let first = TILE_QUARTERS * (tile / self.columns * in_row + tile % self.columns);
        std::array::from_fn(|i| first + i / 3 * in_row + i % 3)
    }

    /// East and north of a post, m: at the corners of cells, for those of a tile's sides lie on them.
    fn post_m(&self, map: &SurfaceMap, post: usize) -> (f64, f64) {
        let in_row = TILE_QUARTERS * self.columns + 1;
        let from_first = |index: usize| ((index * QUARTER_CELLS) as f64 - 0.5) * map.cell_m;
        (map.west_m + from_first(post % in_row), map.south_m + from_first(post / in_row))
    }

    /// East and north of the centre of the first cell of a quarter, m.
    fn first_m(&self, map: &SurfaceMap, quarter: usize) -> (f64, f64) {
        let (column, row) = self.place_of(quarter);
        let from_first = |index: usize| (index * QUARTER_CELLS) as f64 * map.cell_m;
        (map.west_m + from_first(column), map.south_m + from_first(row))
    }

    /// The blocks near a tile, in rising order; `None` where they are too many.
    fn near(&self, map: &SurfaceMap, tile: usize) -> Option<Vec<usize>> {
        let half_m = 0.5 * (TILE_QUARTERS * QUARTER_CELLS) as f64 * map.cell_m;
        let middle_m =
            |from_m: f64, index: usize| from_m - 0.5 * map.cell_m + (2 * index + 1) as f64 * half_m;
        let east_m = middle_m(map.west_m, tile % self.columns);
        let north_m = middle_m(map.south_m, tile / self.columns);
        let off_m = |at_m: f64, middle_m: f64| ((at_m - middle_m).abs() - half_m).max(0.0);
        let near_m2 = (NEAR_CELLS * map.cell_m).powi(2);
        let is_near = |block: &Observation| {
            off_m(block.east_m, east_m).powi(2) + off_m(block.north_m, north_m).powi(2) < near_m2
        };
        let near = self.blocks.iter().zip(0..).filter(|(block, _)| is_near(block));
        let near: Vec<usize> = near.map(|(_, index)| index).collect();
        (near.len() <= MOST_NEAR).then_some(near)
    }

    /// Temperature and standard error of the cells of a quarter, °C. Some of them may lie beyond the map.
    fn worked_out(
        &self,
        map: &SurfaceMap,
        tile: usize,
        quarter: usize,
        to_blocks_c2: &mut [Lanes],
    ) -> [(f64, f64); LANES] {
        let (west_m, south_m) = self.first_m(map, quarter);
        let targets_m: [(f64, f64); LANES] = std::array::from_fn(|cell| {
            let (column, row) = (cell % QUARTER_CELLS, cell / QUARTER_CELLS);
            (west_m + column as f64 * map.cell_m, south_m + row as f64 * map.cell_m)
        });
        self.analysis.to_observations_c2(&targets_m, to_blocks_c2);
        let estimates = match &self.asked_of[tile] {
            Some(AskedOf::Among(among)) => {
                self.analysis.estimates_among(to_blocks_c2, among, &self.known_posts(tile))
            }
            Some(AskedOf::All) | None => self.analysis.estimates_from_all(&DMatrix::from_fn(
                to_blocks_c2.len(),
                LANES,
                |block, cell| to_blocks_c2[block][cell],
            )),
        };
        let raised = raised(to_blocks_c2, self.misfits, map.covariance.variance_c2);
        std::array::from_fn(|cell| {
            let estimate = &estimates[cell];
            (estimate.temp_c, (estimate.error_variance_c2 * raised[cell]).sqrt())
        })
    }
}

/// By how much the error variance at each place is raised: the mean misfit of the blocks around it, each by the part
/// of the place's variance that it explains, and never less than one. One block that fits is taken for granted.
// wider lanes where the machine has them; each lane does the same on every machine
#[multiversion(targets("x86_64+avx+avx2"))]
fn raised(to_blocks_c2: &[Lanes], misfits: &[f64], variance_c2: f64) -> Lanes {
    let per_c4 = variance_c2.powi(2).recip();
    let (mut sums, mut weights) = ([0.0; LANES], [0.0; LANES]);
    for (to_block_c2, misfit) in to_blocks_c2.iter().zip(misfits) {
        for k in 0..LANES {
            let explained = to_block_c2[k] * to_block_c2[k];
            sums[k] += explained * misfit;
            weights[k] += explained;
        }
    }
    std::array::from_fn(|k| ((1.0 + per_c4 * sums[k]) / (1.0 + per_c4 * weights[k])).max(1.0))
}
