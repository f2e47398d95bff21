//! What stands out on a map: lines of equal temperature, and edges.

use super::{SurfaceMap, SurfaceMapSettings};
use crate::grid::Grid;

/// A line of equal temperature.
#[derive(Clone, Debug, PartialEq)]
pub struct Isotherm {
    /// Its temperature, °C.
    pub temp_c: f64,
    /// Places along it, east and north, m, on the axes of the map.
    pub places_m: Vec<(f64, f64)>,
}

/// Rise over an edge, two cells to either side, in standard errors of the map: less may be the map's own.
const LEAST_ERRORS: f64 = 2.0;
/// Cells over which that rise is taken.
const RISE_CELLS: f64 = 2.0;
/// Shortest isotherm, in cells: a ring around one cell says nothing.
const LEAST_CELLS: f64 = 3.0;

impl SurfaceMap {
    fn grid(&self) -> Grid<'_> {
        Grid { columns: self.nx, values: &self.temp_c }
    }

    /// Isotherms at every whole multiple of the interval of the settings, coldest first; none over blank cells.
    pub fn isotherms(&self) -> Vec<Isotherm> {
        let temps = || self.temp_c.iter().flatten();
        let coldest_c = temps().fold(f64::INFINITY, |least, t| least.min(*t));
        let warmest_c = temps().fold(f64::NEG_INFINITY, |greatest, t| greatest.max(*t));
        let interval_c = self.isotherm_interval_c;
        let levels = (coldest_c / interval_c).ceil() as i64..=(warmest_c / interval_c).floor() as i64;
        let levels_c: Vec<f64> = levels.map(|level| level as f64 * interval_c).collect();
        self.grid()
            .isotherms(&levels_c)
            .into_iter()
            .zip(levels_c)
            .flat_map(|(lines, temp_c)| lines.into_iter().map(move |line| (temp_c, line)))
            .filter(|(_, line)| {
                let length: f64 = line.windows(2).map(|w| (w[1].0 - w[0].0).hypot(w[1].1 - w[0].1)).sum();
                length >= LEAST_CELLS
            })
            .map(|(temp_c, line)| Isotherm {
                temp_c,
                places_m: line
                    .into_iter()
                    .map(|(column, row)| {
                        (self.west_m + column * self.cell_m, self.south_m + row * self.cell_m)
                    })
                    .collect(),
            })
            .collect()
    }

    /// Gradient of each cell, °C/km; `None` beside a blank one.
    pub fn gradients_c_per_km(&self) -> Vec<Option<f64>> {
        let per_km = 1_000.0 / self.cell_m;
        let grid = self.grid();
        (0..self.temp_c.len())
            .map(|cell| {
                grid.gradient(cell).map(|(along_row, across_rows)| per_km * along_row.hypot(across_rows))
            })
            .collect()
    }

    /// Cells in which the gradient is greatest along its own direction, as steep as the settings ask and more than the
    /// error of the map can make it; in rising order.
    pub fn edges(&self) -> Vec<usize> {
        let least = self.least_gradient_c_per_km * self.cell_m / 1_000.0;
        let is_sure = |cell: usize, gradient_c: f64| {
            self.error_c[cell].is_some_and(|error_c| 2.0 * RISE_CELLS * gradient_c >= LEAST_ERRORS * error_c)
        };
        let steepest = self.grid().steepest(least);
        steepest.iter().filter(|s| is_sure(s.cell, s.gradient)).map(|s| s.cell).collect()
    }
}

impl SurfaceMapSettings {
    /// The interval between isotherms, never so small that their number has no end.
    pub(super) fn interval_c(&self) -> f64 {
        const LEAST_INTERVAL_C: f64 = 0.05;
        self.isotherm_interval_c.max(LEAST_INTERVAL_C)
    }
}
