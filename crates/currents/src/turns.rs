//! How do the velocities over ground and through the water change together, if log and compass lag by so much?

use std::ops::Range;

use multiversion::multiversion;
use nalgebra::{SMatrix, SVector};

use crate::align::{Cursor, Readings, Velocities};
use crate::{Settings, Velocity};

/// Rows mostly lie this far apart, s.
pub(crate) const ROW_S: f64 = 1.0;
/// A change is what is left after the mean over this long to either side, s: a turn is shorter.
const MEAN_SIDE_S: f64 = 30.0;
/// The change of the velocity through the water is taken over so many rows' seconds to either side.
const SLOPE_SIDE_ROWS: isize = 1;
/// No row is looked for further from another than so many rows' seconds.
const FURTHEST_ROWS: isize = 2;
/// Rows in pieces of this length are taken for independent of one another, s: a turn takes no longer.
const PIECE_S: f64 = 240.0;

/// Normal equations of the lag, of the log's scale and of the compass's constant error.
pub(crate) type Normal = SMatrix<f64, 3, 3>;
pub(crate) type Right = SVector<f64, 3>;

/// What is compared at a row, toward east and north: velocity over ground less that through the water, by how much the
/// latter changes in a second, and the latter itself; last 1, or, where something of it is not known, all of them 0.
const COLUMNS: usize = 7;
const KNOWN: usize = 6;
type Columns = [Vec<f64>; COLUMNS];

/// Sums of products over a piece: of the slope with itself, with the velocity and with that a quarter turned, of the
/// velocity with itself, and of the three with what is off.
const PRODUCTS: usize = 7;
/// Rows that are summed side by side.
const LANES: usize = 4;
type Products = [[f64; LANES]; PRODUCTS];

/// Rows that follow one another in one piece, and so do those that their means are over.
struct Stretch {
    rows: Range<usize>,
    /// Those of the mean about the first of them.
    about: Range<usize>,
    starts_piece: bool,
}

/// Changes of a trip, for one lag after the other.
pub(crate) struct Turns<'a> {
    time_s: &'a [f64],
    readings: &'a Readings,
    settings: &'a Settings,
    ground: Velocities,
    /// Rows that have others at every row's distance up to the furthest, one after the other.
    even: Vec<Range<usize>>,
    stretches: Vec<Stretch>,
    /// The lag that `water` is of.
    lag_s: Option<f64>,
    water: Velocities,
    changes: Columns,
    /// Sums of them before each row, and of all.
    sums: Columns,
    pieces: Vec<(Normal, Right)>,
}

impl<'a> Turns<'a> {
    pub fn new(
        time_s: &'a [f64],
        readings: &'a Readings,
        ground: &[Option<Velocity>],
        settings: &'a Settings,
    ) -> Self {
        let mut columns = Velocities::default().map(|_| vec![0.0; time_s.len()]);
        for (row, velocity) in ground.iter().enumerate().take(time_s.len()) {
            if let Some(velocity) = velocity {
                (columns[0][row], columns[1][row]) = (velocity.east_mps, velocity.north_mps);
                columns[2][row] = 1.0;
            }
        }
        Self {
            time_s,
            readings,
            settings,
            ground: columns,
            even: even(time_s),
            stretches: stretches(time_s),
            lag_s: None,
            water: Velocities::default(),
            changes: [(); COLUMNS].map(|()| vec![0.0; time_s.len()]),
            sums: [(); COLUMNS].map(|()| vec![0.0; time_s.len() + 1]),
            pieces: Vec::new(),
        }
    }

    /// The equations of each piece of the trip in which something is known, for a lag and so many rows' seconds more.
    pub fn equations(&mut self, lag_s: f64, more_rows: isize) -> &[(Normal, Right)] {
        if self.lag_s != Some(lag_s) {
            self.readings.waters(self.time_s, lag_s, self.settings, &mut self.water);
            self.lag_s = Some(lag_s);
        }
        self.compare(lag_s, more_rows);
        self.sum_up();
        self.pieces.clear();
        let (mut products, mut known) = (Products::default(), 0.0);
        for stretch in &self.stretches {
            if stretch.starts_piece && known > 0.0 {
                self.pieces.push(equations(&std::mem::take(&mut products)));
                known = 0.0;
            }
            let Range { start, end } = stretch.rows;
            known += self.sums[KNOWN][end] - self.sums[KNOWN][start];
            let rows = end - start;
            let about = &stretch.about;
            add_products(
                self.changes.each_ref().map(|column| &column[start..end]),
                self.sums.each_ref().map(|column| &column[about.start..about.start + rows]),
                self.sums.each_ref().map(|column| &column[about.end..about.end + rows]),
                &mut products,
            );
        }
        if known > 0.0 {
            self.pieces.push(equations(&products));
        }
        &self.pieces
    }

    /// Makes the columns of changes.
    fn compare(&mut self, lag_s: f64, more_rows: isize) {
        let mut cursors = [-SLOPE_SIDE_ROWS, 0, SLOPE_SIDE_ROWS].map(|side| (side, self.readings.cursors()));
        let mut done = 0;
        for at in 0..self.even.len() {
            let even = self.even[at].clone();
            for row in done..even.start {
                self.compare_row(row, lag_s, more_rows, &mut cursors);
            }
            done = even.end;
            let ground = self.ground.each_ref().map(|column| &column[even.clone()]);
            let water = cursors.each_ref().map(|(side, _)| {
                let from = even.start.saturating_add_signed(side + more_rows);
                self.water.each_ref().map(|column| &column[from..from + even.len()])
            });
            compare_rows(ground, water, self.changes.each_mut().map(|column| &mut column[even.clone()]));
        }
        for row in done..self.time_s.len() {
            self.compare_row(row, lag_s, more_rows, &mut cursors);
        }
    }

    /// The same for a row whose neighbours are not where they mostly are.
    fn compare_row(
        &mut self,
        row: usize,
        lag_s: f64,
        more_rows: isize,
        cursors: &mut [(isize, (Cursor, Cursor)); 3],
    ) {
        let water = cursors.each_mut().map(|(side, cursors)| {
            let rows = *side + more_rows;
            let wanted_s = self.time_s[row] + rows as f64 * ROW_S;
            let beside =
                row.checked_add_signed(rows).filter(|&other| self.time_s.get(other) == Some(&wanted_s));
            let [east, north, known] = match beside {
                Some(beside) => self.water.each_ref().map(|column| column[beside]),
                None => self
                    .readings
                    .water(cursors, wanted_s + lag_s, self.settings)
                    .map_or([0.0; 3], |Velocity { east_mps, north_mps }| [east_mps, north_mps, 1.0]),
            };
            [[east], [north], [known]]
        });
        let ground = self.ground.each_ref().map(|column| &column[row..=row]);
        let water = water.each_ref().map(|columns| columns.each_ref().map(|value| &value[..]));
        compare_rows(ground, water, self.changes.each_mut().map(|column| &mut column[row..=row]));
    }

    fn sum_up(&mut self) {
        let mut sum = [0.0; COLUMNS];
        let n = self.time_s.len();
        let changes = self.changes.each_ref().map(|column| &column[..n]);
        let sums = self.sums.each_mut().map(|column| &mut column[1..=n]);
        for row in 0..n {
            for column in 0..COLUMNS {
                sum[column] += changes[column][row];
                sums[column][row] = sum[column];
            }
        }
    }
}

/// Rows from which all others up to the furthest lie at the times that rows mostly do.
fn even(time_s: &[f64]) -> Vec<Range<usize>> {
    let furthest = FURTHEST_ROWS as usize;
    let inner = |run: Range<usize>| run.start + furthest..run.end.saturating_sub(furthest);
    side_by_side(time_s).into_iter().map(inner).filter(|rows| !rows.is_empty()).collect()
}

/// Times that follow one another as rows mostly do.
pub(crate) fn side_by_side(time_s: &[f64]) -> Vec<Range<usize>> {
    let mut from = 0;
    let runs = time_s.chunk_by(|before_s, after_s| before_s + ROW_S == *after_s);
    runs.map(|run| {
        from += run.len();
        from - run.len()..from
    })
    .collect()
}

fn stretches(time_s: &[f64]) -> Vec<Stretch> {
    let mut stretches: Vec<Stretch> = Vec::new();
    let (mut from, mut to) = (0, 0);
    let mut piece_s = f64::NAN..f64::NAN;
    for (row, &row_s) in time_s.iter().enumerate() {
        while to < time_s.len() && time_s[to] <= row_s + MEAN_SIDE_S {
            to += 1;
        }
        while from < to && time_s[from] < row_s - MEAN_SIDE_S {
            from += 1;
        }
        let starts_piece = !piece_s.contains(&row_s);
        if starts_piece {
            let first_s = (row_s / PIECE_S).floor() * PIECE_S;
            piece_s = first_s..first_s + PIECE_S;
        }
        match stretches.last_mut() {
            Some(Stretch { rows, about, .. })
                if !starts_piece && about.start + rows.len() == from && about.end + rows.len() == to =>
            {
                rows.end += 1;
            }
            _ => stretches.push(Stretch { rows: row..row + 1, about: from..to, starts_piece }),
        }
    }
    stretches
}

/// The changes of rows, from velocities over ground and from those through the water before them, at them and after them.
#[multiversion(targets("x86_64+avx+avx2"))]
fn compare_rows(ground: [&[f64]; 3], water: [[&[f64]; 3]; 3], to: [&mut [f64]; COLUMNS]) {
    let n = ground[0].len();
    let ground = ground.map(|column| &column[..n]);
    let [before, here, after] = water.map(|columns| columns.map(|column| &column[..n]));
    let [off_east, off_north, slope_east, slope_north, east, north, all_known] = to.map(|to| &mut to[..n]);
    let per_s = 0.5 / (SLOPE_SIDE_ROWS as f64 * ROW_S);
    for row in 0..n {
        let known = ground[2][row] * here[2][row] * before[2][row] * after[2][row];
        off_east[row] = (ground[0][row] - here[0][row]) * known;
        off_north[row] = (ground[1][row] - here[1][row]) * known;
        slope_east[row] = (after[0][row] - before[0][row]) * (per_s * known);
        slope_north[row] = (after[1][row] - before[1][row]) * (per_s * known);
        east[row] = here[0][row] * known;
        north[row] = here[1][row] * known;
        all_known[row] = known;
    }
}

/// Adds the products of rows without their moving means. `before` and `up_to` are the sums from and to which a row's mean is.
#[multiversion(targets("x86_64+avx+avx2"))]
fn add_products(
    values: [&[f64]; COLUMNS],
    before: [&[f64]; COLUMNS],
    up_to: [&[f64]; COLUMNS],
    to: &mut Products,
) {
    let rows = values[0].len();
    let (mut own, mut from, mut end) =
        ([[0.0; LANES]; COLUMNS], [[0.0; LANES]; COLUMNS], [[0.0; LANES]; COLUMNS]);
    let mut sums = *to;
    for row in (0..rows).step_by(LANES) {
        for column in 0..COLUMNS {
            if let Some(whole) = values[column][row..].first_chunk()
                && let Some(whole_before) = before[column][row..].first_chunk()
                && let Some(whole_up_to) = up_to[column][row..].first_chunk()
            {
                (own[column], from[column], end[column]) = (*whole, *whole_before, *whole_up_to);
            } else {
                // lanes without a row add nothing
                own[column] = [0.0; LANES];
                for at in row..rows {
                    own[column][at - row] = values[column][at];
                    (from[column][at - row], end[column][at - row]) = (before[column][at], up_to[column][at]);
                }
            }
        }
        let mut part = [0.0; LANES];
        for lane in 0..LANES {
            let known = end[KNOWN][lane] - from[KNOWN][lane];
            // where nothing is known nothing is summed
            part[lane] = 1.0 / if known > 1.0 { known } else { 1.0 };
        }
        for column in 0..KNOWN {
            for lane in 0..LANES {
                let mean = (end[column][lane] - from[column][lane]) * part[lane];
                own[column][lane] -= mean * own[KNOWN][lane];
            }
        }
        let [off_east, off_north, slope_east, slope_north, east, north, _] = &own;
        for lane in 0..LANES {
            let (off_east, off_north) = (off_east[lane], off_north[lane]);
            let (slope_east, slope_north) = (slope_east[lane], slope_north[lane]);
            let (east, north) = (east[lane], north[lane]);
            // a log that reads high lengthens the velocity, a compass that is off turns it: the two are square to each other
            let (turned_east, turned_north) = (north, -east);
            sums[0][lane] += slope_east * slope_east + slope_north * slope_north;
            sums[1][lane] += slope_east * east + slope_north * north;
            sums[2][lane] += slope_east * turned_east + slope_north * turned_north;
            sums[3][lane] += east * east + north * north;
            sums[4][lane] += slope_east * off_east + slope_north * off_north;
            sums[5][lane] += east * off_east + north * off_north;
            sums[6][lane] += turned_east * off_east + turned_north * off_north;
        }
    }
    *to = sums;
}

fn equations(products: &Products) -> (Normal, Right) {
    let [slope, by_length, by_turn, square, right @ ..] = products.map(|lanes| lanes.iter().sum::<f64>());
    let normal = Normal::new(
        slope, by_length, by_turn, //
        by_length, square, 0.0, //
        by_turn, 0.0, square,
    );
    (normal, Right::from(right))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Motion;

    /// Rows with holes, halves of seconds and things that are not known, against every row worked out alone.
    #[test]
    fn rows_side_by_side_are_as_if_each_was_worked_out_alone() {
        let seconds = (0..700).filter(|s| !(240..290).contains(s) && s % 83 != 7).map(f64::from);
        let time_s: Vec<f64> = seconds.chain((0..90).map(|half| 720.0 + f64::from(half) / 2.0)).collect();
        let heading =
            |t: f64| (80.0 * (t / 60.0).sin() + if t > 500.0 { 20.0 * t } else { 0.0 }).rem_euclid(360.0);
        let stw: Vec<Option<f64>> =
            time_s.iter().map(|t| (t % 31.0 != 3.0).then(|| 1.0 + 0.4 * (t / 45.0).sin())).collect();
        let shown: Vec<Option<f64>> = time_s.iter().map(|&t| (t % 47.0 != 5.0).then(|| heading(t))).collect();
        let motion = Motion {
            time_s: &time_s,
            distance_m: &time_s,
            stw_mps: &stw,
            heading_deg: &shown,
            ..Motion::default()
        };
        let ground: Vec<Option<Velocity>> = time_s
            .iter()
            .map(|&t| {
                (t % 59.0 != 9.0).then(|| Velocity::toward(1.3 + 0.1 * (t / 7.0).cos(), heading(t - 1.0)))
            })
            .collect();
        let settings = Settings::default();
        for times_differ in [false, true] {
            let readings =
                Readings::new(&Motion { heading_deg: if times_differ { &shown } else { &stw }, ..motion });
            let mut turns = Turns::new(&time_s, &readings, &ground, &settings);
            for (lag_s, more_rows) in [(0.0, 0), (0.37, 0), (0.37, -1), (0.37, 1), (-2.6, 0)] {
                let at_s = lag_s + more_rows as f64;
                let water = |t: f64| readings.water(&mut readings.cursors(), t + at_s, &settings);
                let row = |(&t, ground): (&f64, &Option<Velocity>)| {
                    let (before, here, after) = (water(t - 1.0)?, water(t)?, water(t + 1.0)?);
                    Some((t, [(*ground)? - here, (after - before) * 0.5, here]))
                };
                let rows: Vec<(f64, [Velocity; 3])> = time_s.iter().zip(&ground).filter_map(row).collect();
                let without_mean = |&(t, values): &(f64, [Velocity; 3])| {
                    let about =
                        || rows.iter().filter(|row| (row.0 - t).abs() <= MEAN_SIDE_S).map(|row| row.1);
                    let part = (about().count() as f64).recip();
                    let mean = |k: usize| about().map(|values| values[k]).sum::<Velocity>() * part;
                    (t, std::array::from_fn(|k| values[k] - mean(k)))
                };
                let left: Vec<(f64, [Velocity; 3])> = rows.iter().map(without_mean).collect();
                let want: Vec<(Normal, Right)> = left
                    .chunk_by(|a, b| (a.0 / PIECE_S).floor() == (b.0 / PIECE_S).floor())
                    .map(|piece| {
                        let sum = |of: &dyn Fn([Velocity; 3]) -> f64| {
                            piece.iter().map(|row| of(row.1)).sum::<f64>()
                        };
                        let own =
                            |values: [Velocity; 3]| [values[1], values[2], values[2].quarter_clockwise()];
                        let normal = Normal::from_fn(|i, j| sum(&|v| own(v)[i].dot(own(v)[j])));
                        (normal, Right::from_fn(|i, _| sum(&|v| own(v)[i].dot(v[0]))))
                    })
                    .collect();
                let got = turns.equations(lag_s, more_rows);
                assert!(got.len() == want.len() && got.len() >= 3, "{} {}", got.len(), want.len());
                for (got, want) in got.iter().zip(&want) {
                    assert!((got.0 - want.0).abs().max() < 1e-9 && (got.1 - want.1).abs().max() < 1e-9);
                }
            }
        }
    }
}
