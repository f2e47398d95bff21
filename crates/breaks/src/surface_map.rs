//! How warm was the surface around the track, and where can that be said at all?
//!
//! Block means along the track are mapped by [objective analysis](crate::objective_analysis) onto a grid of local
//! metres. Each cell has its error; a cell that the track tells too little about is blank.

mod blocks;
mod scales;
mod shapes;
mod tiles;

#[cfg(test)]
mod tests;

use std::ops::Range;

pub use self::shapes::Isotherm;
use self::tiles::Tiles;
use crate::covariance::Covariance;
use crate::objective_analysis::{Mean, ObjectiveAnalysis, Observation};

/// How a [`SurfaceMap`] is drawn.
#[derive(Clone, Debug, PartialEq)]
pub struct SurfaceMapSettings {
    /// Least size of the blocks of track that are averaged, m.
    ///
    /// Default 50 m: forty seconds of trolling, so that a sensor's scatter averages out and a break keeps its width.
    pub least_block_m: f64,
    /// Most blocks; blocks grow until there are no more.
    ///
    /// Default 500: a matrix of that size is factored in some 30 ms, and the cost grows with its third power.
    pub greatest_blocks: usize,
    /// Least size of the cells of the grid, m.
    ///
    /// Default 100 m: two blocks.
    pub least_cell_m: f64,
    /// Most cells of the grid; cells grow until there are no more.
    ///
    /// Default 20,000: 14 km by 14 km in cells of 100 m.
    pub greatest_cells: usize,
    /// Greatest error of a cell that is not blank, as a part of the standard deviation of the water's temperature.
    ///
    /// Default 0.5: a quarter of the variance is not known there (common practice, no source).
    pub greatest_error: f64,
    /// Difference between neighbouring isotherms, °C.
    ///
    /// Default 0.5 °C: about 1 °F, the least step of a break.
    pub isotherm_interval_c: f64,
    /// Least gradient of an edge, °C/km.
    ///
    /// Default 1 °C/km: the least step of a break over half a kilometre, five times what is ordinary.
    pub least_gradient_c_per_km: f64,
}

impl Default for SurfaceMapSettings {
    fn default() -> Self {
        Self {
            least_block_m: 50.0,
            greatest_blocks: 500,
            least_cell_m: 100.0,
            greatest_cells: 20_000,
            greatest_error: 0.5,
            isotherm_interval_c: 0.5,
            least_gradient_c_per_km: 1.0,
        }
    }
}

/// Surface temperature on a grid, with its error.
#[derive(Clone, Debug, PartialEq)]
pub struct SurfaceMap {
    /// East of the centre of the first cell, m, on the axes of the observations.
    pub west_m: f64,
    /// North of the centre of the first cell, m.
    pub south_m: f64,
    /// Distance between the centres of neighbouring cells, m.
    pub cell_m: f64,
    /// Cells from west to east.
    pub nx: usize,
    /// Cells from south to north.
    pub ny: usize,
    /// Temperature of each cell, °C, row by row from the south, each row from the west; `None` where it is blank.
    pub temp_c: Vec<Option<f64>>,
    /// Standard error of that temperature, °C.
    pub error_c: Vec<Option<f64>>,
    /// The covariance that was estimated and used.
    pub covariance: Covariance,
    /// What differs between block means at one place, variance, °C²: scatter, eddies smaller than a block, and the
    /// hours between two passes.
    pub noise_variance_c2: f64,
    /// Difference between neighbouring isotherms, °C.
    isotherm_interval_c: f64,
    /// Least gradient of an edge, °C/km.
    least_gradient_c_per_km: f64,
}

impl SurfaceMap {
    /// East and north of the centre of a cell, m.
    pub fn centre_m(&self, index: usize) -> (f64, f64) {
        let (column, row) = (index % self.nx, index / self.nx);
        (self.west_m + column as f64 * self.cell_m, self.south_m + row as f64 * self.cell_m)
    }

    /// The cell that a place of the grid lies in.
    fn cell_at(&self, (east_m, north_m): (f64, f64)) -> usize {
        let index = |from_m: f64, n: usize| ((from_m / self.cell_m).round().max(0.0) as usize).min(n - 1);
        index(north_m - self.south_m, self.ny) * self.nx + index(east_m - self.west_m, self.nx)
    }

    /// A cell and those beside it.
    fn around(&self, cell: usize) -> impl Iterator<Item = usize> + use<> {
        let (nx, ny) = (self.nx, self.ny);
        let (column, row) = (cell % nx, cell / nx);
        let rows = row.saturating_sub(1)..=(row + 1).min(ny - 1);
        rows.flat_map(move |row| {
            (column.saturating_sub(1)..=(column + 1).min(nx - 1)).map(move |column| row * nx + column)
        })
    }
}

/// Fewest blocks from which covariance scales are estimated (common practice in geostatistics: thirty pairs for
/// each of several distances, from memory).
const LEAST_BLOCKS: usize = 30;

/// Least size of blocks and cells that settings can ask for, m: the scatter of a receiver.
const LEAST_SIZE_M: f64 = 1.0;
/// Fewest cells that settings can allow: the corners of a grid.
const LEAST_CELLS: usize = 4;
/// Pieces of track left out in turn, in lengths of the covariance: gaps such as those between passes.
const PIECE_LENGTHS: [f64; 3] = [0.25, 0.5, 1.0];

/// Maps the surface temperature of one trip from `(east_m, north_m, temp_c)` in the order of the track.
///
/// # Method
/// Samples are averaged in blocks along the track. Shape, length and variance of the covariance and the variance of
/// the noise are those of greatest marginal likelihood on a coarse grid; the mean is estimated with the field. The
/// errors are those of the analysis (a cell's from the blocks near by and from what a few posts know of all others, which
/// is as good), raised where the track contradicts them: pieces of it, from a quarter of a length of the covariance to a
/// whole one, are left out in turn and estimated from the rest. A cell is blank where its error exceeds [`greatest_error`](SurfaceMapSettings::greatest_error) of the standard
/// deviation of the water, or where no chain of cells that are not blank leads to it from the track.
///
/// `None` where there are too few blocks to say how the water varies, or where it does not vary. Samples that are no
/// finite numbers are passed over.
///
/// # Limits
/// One map stands for all the hours of the trip: what the day warmed between two passes is noise to it. The
/// covariance is the same everywhere, so that errors are too great in even water and too small beside a break that
/// lies within 30° of the legs and is narrower than they are apart: there, in simulation, up to twice what is stated.
pub fn surface_map(observations: &[(f64, f64, f64)], settings: &SurfaceMapSettings) -> Option<SurfaceMap> {
    // sizes of nothing would never end
    let settings = &SurfaceMapSettings {
        least_block_m: settings.least_block_m.max(LEAST_SIZE_M),
        least_cell_m: settings.least_cell_m.max(LEAST_SIZE_M),
        greatest_cells: settings.greatest_cells.max(LEAST_CELLS),
        ..*settings
    };
    let blocks = blocks::block_means(observations, settings);
    if blocks.len() < LEAST_BLOCKS {
        return None;
    }
    let (covariance, noise_variance_c2) = scales::estimate(&blocks, settings.least_block_m)?;
    let analysis = ObjectiveAnalysis::new(&blocks, covariance, noise_variance_c2, Mean::Estimated)?;

    let partitions = PIECE_LENGTHS.map(|part| pieces(&blocks, part * covariance.length_m));
    let misfits = analysis.left_out_misfits(&partitions);
    let mut map = blank(&blocks, covariance, noise_variance_c2, settings);
    let greatest_error_c = settings.greatest_error * covariance.variance_c2.sqrt();
    let mut tiles = Tiles::new(&map, &analysis, &blocks, &misfits);
    // outward from the track, until too little is known: most of the grid is never asked about
    let mut was_reached = vec![false; map.temp_c.len()];
    let mut reached: Vec<usize> =
        blocks.iter().flat_map(|b| map.around(map.cell_at((b.east_m, b.north_m)))).collect();
    while !reached.is_empty() {
        tiles.ask(&map, &reached);
        let mut beyond = Vec::new();
        while let Some(cell) = reached.pop() {
            let Some((temp_c, error_c)) = tiles.at(&map, cell) else {
                beyond.push(cell);
                continue;
            };
            if !std::mem::replace(&mut was_reached[cell], true) && error_c <= greatest_error_c {
                map.temp_c[cell] = Some(temp_c);
                map.error_c[cell] = Some(error_c);
                reached.extend(map.around(cell));
            }
        }
        reached = beyond;
    }
    Some(map)
}

/// Pieces of the track, as ranges of blocks, each at least `length_m` long but for the last.
fn pieces(blocks: &[Observation], length_m: f64) -> Vec<Range<usize>> {
    let mut pieces = Vec::new();
    let (mut from, mut so_far_m) = (0, 0.0);
    for to in 1..=blocks.len() {
        let way_m = blocks.get(to).map_or(f64::INFINITY, |next| {
            (next.east_m - blocks[to - 1].east_m).hypot(next.north_m - blocks[to - 1].north_m)
        });
        so_far_m += way_m;
        if so_far_m >= length_m {
            pieces.push(from..to);
            (from, so_far_m) = (to, 0.0);
        }
    }
    pieces
}

/// A grid over all blocks and the water beside them that they may tell about, blank.
fn blank(
    blocks: &[Observation],
    covariance: Covariance,
    noise_variance_c2: f64,
    settings: &SurfaceMapSettings,
) -> SurfaceMap {
    let range = |value: fn(&Observation) -> f64| {
        let values = || blocks.iter().map(value);
        (values().fold(f64::INFINITY, f64::min), values().fold(f64::NEG_INFINITY, f64::max))
    };
    let (west_m, east_m) = range(|b| b.east_m);
    let (south_m, north_m) = range(|b| b.north_m);
    let reach_m = reach_m(&covariance, settings);
    let cells = |from_m: f64, to_m: f64, cell_m: f64| ((to_m - from_m + 2.0 * reach_m) / cell_m).ceil() + 1.0;
    let mut cell_m = settings.least_cell_m;
    while cells(west_m, east_m, cell_m) * cells(south_m, north_m, cell_m) > settings.greatest_cells as f64 {
        cell_m *= CELL_GROWTH;
    }
    let nx = cells(west_m, east_m, cell_m) as usize;
    let ny = cells(south_m, north_m, cell_m) as usize;
    SurfaceMap {
        west_m: west_m - reach_m,
        south_m: south_m - reach_m,
        cell_m,
        nx,
        ny,
        temp_c: vec![None; nx * ny],
        error_c: vec![None; nx * ny],
        covariance,
        noise_variance_c2,
        isotherm_interval_c: settings.interval_c(),
        least_gradient_c_per_km: settings.least_gradient_c_per_km,
    }
}

/// Ratio of one cell size tried to the next.
const CELL_GROWTH: f64 = 1.25;

/// How far the grid reaches beyond the blocks, m: twice as far as one block without error could tell enough, as
/// several tell more.
fn reach_m(covariance: &Covariance, settings: &SurfaceMapSettings) -> f64 {
    // the squared correlation with a block is the part of the variance that it explains
    let least = (1.0 - settings.greatest_error.clamp(0.0, 1.0).powi(2)).sqrt() * covariance.variance_c2;
    let mut reach_m = settings.least_cell_m;
    while reach_m < covariance.length_m && covariance.at(0.5 * reach_m) > least {
        reach_m += settings.least_cell_m;
    }
    reach_m
}
