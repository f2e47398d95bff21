//! Where on a grid is one temperature, and where does it change most?
//!
//! Isotherms by marching squares (Lorensen & Cline 1987 in two dimensions, from memory); edges as the maxima of the
//! gradient along its own direction (the second step of Canny 1986, from memory). Nothing is said beside a cell that
//! is blank.

use std::collections::BTreeMap;

/// Values on a grid of square cells, row by row; `None` where a cell is blank.
#[derive(Clone, Copy, Debug)]
pub struct Grid<'a> {
    /// Cells of a row.
    pub columns: usize,
    /// Value of each cell.
    pub values: &'a [Option<f64>],
}

/// Fewest cells of an edge.
const LEAST_EDGE_CELLS: usize = 4;

/// A cell in which the gradient is greatest along its own direction.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Steepest {
    /// Index of the cell.
    pub cell: usize,
    /// Gradient, a cell.
    pub gradient: f64,
    /// Part of it along the row, a cell.
    pub along_row: f64,
    /// Part of it from row to row, a cell.
    pub across_rows: f64,
}

/// A place on the grid: column and row, in cells, with the centre of the first cell at zero.
pub type Place = (f64, f64);

/// An edge of the grid between the centres of two neighbouring cells: the first cell, and whether the second lies
/// in the next row.
type Edge = (usize, bool);

impl Grid<'_> {
    fn rows(&self) -> usize {
        self.values.len().checked_div(self.columns).unwrap_or(0)
    }

    fn at(&self, column: usize, row: usize) -> Option<f64> {
        self.values[row * self.columns + column]
    }

    /// For each of some levels, lowest first, the lines along which the value is that level, each at least two places
    /// long. A closed one ends where it begins.
    pub fn isotherms(&self, levels: &[f64]) -> Vec<Vec<Vec<Place>>> {
        let mut pieces: Vec<Vec<[Edge; 2]>> = vec![Vec::new(); levels.len()];
        for first in (1..self.rows()).flat_map(|row| (row - 1) * self.columns..row * self.columns - 1) {
            let corners =
                [first, first + 1, first + self.columns + 1, first + self.columns].map(|i| self.values[i]);
            let [Some(a), Some(b), Some(c), Some(d)] = corners else { continue };
            // few squares are cut by any level, and those by few
            let passed = |value: f64| levels.partition_point(|&level| level <= value);
            for level in passed(a.min(b).min(c.min(d)))..passed(a.max(b).max(c.max(d))) {
                self.cut(first, [a, b, c, d], levels[level], &mut pieces[level]);
            }
        }
        let lines = |(pieces, &level): (&Vec<[Edge; 2]>, &f64)| {
            let places = |edges: Vec<Edge>| {
                edges.into_iter().map(|edge| self.place(edge, level)).collect::<Vec<Place>>()
            };
            joined(pieces).into_iter().map(places).collect()
        };
        pieces.iter().zip(levels).map(lines).collect()
    }

    /// Adds the pieces of an isotherm in the square between four centres: southwest, southeast, northeast, northwest.
    fn cut(&self, first: usize, corners: [f64; 4], level: f64, pieces: &mut Vec<[Edge; 2]>) {
        let [south, east, north, west]: [Edge; 4] =
            [(first, false), (first + 1, true), (first + self.columns, false), (first, true)];
        let over = corners.map(|value| value >= level);
        let is_cut = [over[0] != over[1], over[1] != over[2], over[2] != over[3], over[3] != over[0]];
        match is_cut {
            [true, true, false, false] => pieces.push([south, east]),
            [true, false, true, false] => pieces.push([south, north]),
            [true, false, false, true] => pieces.push([south, west]),
            [false, true, true, false] => pieces.push([east, north]),
            [false, true, false, true] => pieces.push([east, west]),
            [false, false, true, true] => pieces.push([north, west]),
            // a saddle: the mean says which two corners hang together
            [true, true, true, true] => {
                let [a, b, c, d] = corners;
                if (0.25 * (a + b + c + d) >= level) == over[0] {
                    pieces.extend([[south, east], [north, west]]);
                } else {
                    pieces.extend([[south, west], [east, north]]);
                }
            }
            _ => {}
        }
    }

    /// Where a side is cut, on a straight line between its ends.
    fn place(&self, (cell, is_across): Edge, level: f64) -> Place {
        let (column, row) = (cell % self.columns, cell / self.columns);
        let other = if is_across { cell + self.columns } else { cell + 1 };
        let part = match (self.values[cell], self.values[other]) {
            (Some(a), Some(b)) if a != b => (level - a) / (b - a),
            _ => 0.5,
        };
        let (column, row) = (column as f64, row as f64);
        if is_across { (column, row + part) } else { (column + part, row) }
    }

    /// Cells in which the gradient is at least `least_gradient` a cell and greatest along its own direction, and
    /// which lie beside others of that kind: fewer than four together are noise.
    pub fn steepest(&self, least_gradient: f64) -> Vec<Steepest> {
        let gradients: Vec<Option<(f64, f64)>> =
            (0..self.values.len()).map(|cell| self.gradient(cell)).collect();
        let size =
            |column: usize, row: usize| gradients[row * self.columns + column].map(|(x, y)| x.hypot(y));
        let is_top = |cell: usize| {
            let (along_row, across_rows) = gradients[cell]?;
            let gradient = along_row.hypot(across_rows);
            let (column, row) = ((cell % self.columns) as f64, (cell / self.columns) as f64);
            let ahead = between(size, column + along_row / gradient, row + across_rows / gradient)?;
            let behind = between(size, column - along_row / gradient, row - across_rows / gradient)?;
            let is_top = gradient >= least_gradient && gradient > behind && gradient >= ahead;
            is_top.then_some(Steepest { cell, gradient, along_row, across_rows })
        };
        // gradients of the outermost cells are not known, and their neighbours cannot be told from them
        let inner = |cell: &usize| {
            let (column, row) = (cell % self.columns, cell / self.columns);
            (2..self.columns.saturating_sub(2)).contains(&column)
                && (2..self.rows().saturating_sub(2)).contains(&row)
        };
        let tops: Vec<Steepest> = (0..self.values.len()).filter(inner).filter_map(is_top).collect();
        let sizes = self.sizes(&tops);
        tops.into_iter()
            .zip(sizes)
            .filter(|(_, size)| *size >= LEAST_EDGE_CELLS)
            .map(|(top, _)| top)
            .collect()
    }

    /// How many of the cells hang together with each, itself included, over sides and corners.
    fn sizes(&self, tops: &[Steepest]) -> Vec<usize> {
        let index: BTreeMap<usize, usize> = tops.iter().enumerate().map(|(i, top)| (top.cell, i)).collect();
        let mut sizes = vec![0; tops.len()];
        for start in 0..tops.len() {
            if sizes[start] > 0 {
                continue;
            }
            let (mut together, mut next) = (vec![start], 0);
            sizes[start] = 1;
            while let Some(&here) = together.get(next) {
                next += 1;
                let cell = tops[here].cell;
                // the outermost cells are no tops, so that neighbours do not wrap around
                let beside =
                    [cell - self.columns, cell, cell + self.columns].map(|row| [row - 1, row, row + 1]);
                for other in beside.iter().flatten().filter_map(|cell| index.get(cell)) {
                    if sizes[*other] == 0 {
                        sizes[*other] = 1;
                        together.push(*other);
                    }
                }
            }
            for &member in &together {
                sizes[member] = together.len();
            }
        }
        sizes
    }

    /// Slope of the plane that fits a cell and its eight neighbours best; `None` where one of them is blank.
    pub(crate) fn gradient(&self, cell: usize) -> Option<(f64, f64)> {
        let (column, row) = (cell % self.columns, cell / self.columns);
        if column == 0 || row == 0 || column + 1 >= self.columns || row + 1 >= self.rows() {
            return None;
        }
        let (mut along_row, mut across_rows) = (0.0, 0.0);
        for down in 0..3 {
            for right in 0..3 {
                let value = self.at(column + right - 1, row + down - 1)?;
                along_row += (right as f64 - 1.0) * value / 6.0;
                across_rows += (down as f64 - 1.0) * value / 6.0;
            }
        }
        Some((along_row, across_rows))
    }
}

/// Bilinear between four cells; `None` where one of them has no value.
fn between(value: impl Fn(usize, usize) -> Option<f64>, column: f64, row: f64) -> Option<f64> {
    let (left, below) = (column.floor(), row.floor());
    let (right_part, up_part) = (column - left, row - below);
    let (left, below) = (left as usize, below as usize);
    let mut sum = 0.0;
    for (c, part_c) in [(left, 1.0 - right_part), (left + 1, right_part)] {
        for (r, part_r) in [(below, 1.0 - up_part), (below + 1, up_part)] {
            if part_c * part_r > 0.0 {
                sum += part_c * part_r * value(c, r)?;
            }
        }
    }
    Some(sum)
}

/// Pieces that share an edge, as chains of edges: open ones first, then rings, each kind in the order of the grid.
fn joined(pieces: &[[Edge; 2]]) -> Vec<Vec<Edge>> {
    let mut sides: Vec<(Edge, usize)> =
        pieces.iter().enumerate().flat_map(|(i, piece)| piece.map(|edge| (edge, i))).collect();
    sides.sort_unstable();
    let beside = |edge: Edge| {
        let from = sides.partition_point(|side| side.0 < edge);
        sides[from..].iter().take_while(move |side| side.0 == edge).map(|side| side.1)
    };
    let alone = sides.chunk_by(|a, b| a.0 == b.0).filter(|same| same.len() == 1);
    let ends = alone.map(|same| (same[0].1, same[0].0));
    let anywhere = pieces.iter().enumerate().map(|(i, piece)| (i, piece[0]));
    let mut is_used = vec![false; pieces.len()];
    let mut chains = Vec::new();
    for (start, from) in ends.chain(anywhere) {
        let (mut chain, mut at) = (vec![from], Some(start).filter(|&start| !is_used[start]));
        while let Some(here) = at {
            is_used[here] = true;
            let [a, b] = pieces[here];
            let next = if chain.last() == Some(&a) { b } else { a };
            chain.push(next);
            at = beside(next).find(|&other| !is_used[other]);
        }
        if chain.len() > 1 {
            chains.push(chain);
        }
    }
    chains
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn values(columns: usize, rows: usize, value: impl Fn(f64, f64) -> f64) -> Vec<Option<f64>> {
        (0..columns * rows).map(|i| Some(value((i % columns) as f64, (i / columns) as f64))).collect()
    }

    #[test]
    fn a_cone_has_a_ring_around_it() {
        let values = values(41, 41, |x, y| (x - 20.0).hypot(y - 20.0));
        let lines = Grid { columns: 41, values: &values }.isotherms(&[10.0]).remove(0);
        assert_eq!(lines.len(), 1);
        assert_eq!(lines[0].first(), lines[0].last());
        for (x, y) in &lines[0] {
            assert!(((x - 20.0).hypot(y - 20.0) - 10.0).abs() < 0.05);
        }
        let length: f64 = lines[0].windows(2).map(|w| (w[1].0 - w[0].0).hypot(w[1].1 - w[0].1)).sum();
        assert!((length - 20.0 * std::f64::consts::PI).abs() < 0.5, "{length}");
    }

    #[test]
    fn a_blank_cell_cuts_a_line() {
        let mut values = values(21, 11, |_, y| y);
        values[5 * 21 + 10] = None;
        let lines = Grid { columns: 21, values: &values }.isotherms(&[4.5]).remove(0);
        assert_eq!(lines.len(), 2);
        assert!(lines.iter().flatten().all(|(_, y)| (y - 4.5).abs() < 1e-12));
    }

    #[test]
    fn the_middle_of_a_step_is_steepest() {
        let values = values(40, 20, |x, _| (x - 17.0).tanh());
        let found = Grid { columns: 40, values: &values }.steepest(0.2);
        assert_eq!(found.len(), 16);
        assert!(found.iter().all(|s| s.cell % 40 == 17 && s.along_row > 0.0 && s.across_rows.abs() < 1e-12));
    }

    proptest! {
        #[test]
        fn every_line_lies_on_its_level(
            values in prop::collection::vec(prop::option::weighted(0.9, 0f64..4.0), 0..120),
            columns in 1usize..12,
        ) {
            let whole = values.len() / columns * columns;
            let values = &values[..whole];
            let grid = Grid { columns, values };
            for line in grid.isotherms(&[2.0]).remove(0) {
                prop_assert!(line.len() >= 2);
                for (x, y) in line {
                    prop_assert!(x.fract() == 0.0 || y.fract() == 0.0);
                    prop_assert!(x >= 0.0 && y >= 0.0 && x <= columns as f64 - 1.0);
                }
            }
            prop_assert!(grid.steepest(0.0).iter().all(|s| s.gradient.is_finite()));
        }
    }
}
