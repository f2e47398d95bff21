//! Where does the boat pass from one moving water into another?

use std::cell::OnceCell;
use std::ops::Range;

use crate::calibrate::{Fit, length_s};
use crate::model::{Slopes, TERMS, Terms, water, water_and_slopes};
use crate::ramp::{Ramp, fit_ramp};
use crate::stats::median;
use crate::steady::Row;
use crate::{Edge, Settings, Velocity};

/// The means before and after a place are taken over each of these times, s. At trolling speed the shortest spans the
/// width of a sharp edge and the longest averages a hundred metres of fog away.
const SIDES_S: [f64; 3] = [60.0, 120.0, 240.0];
/// Places that are tried, s apart.
const EVERY_S: f64 = 5.0;
/// A side counts where this part of it was steady.
const LEAST_STEADY: f64 = 0.6;
/// Median of the squared length of a vector of two standard normal components (chi square, two degrees of freedom).
const MEDIAN_SQUARE: f64 = 2.0 * std::f64::consts::LN_2;
/// Water velocities that differ by less than this part are one course.
const SAME_COURSE: f64 = 0.3;
/// The shortest width that rows a second apart resolve, m.
const LEAST_WIDTH_M: f64 = 5.0;

/// Edges in time order.
///
/// Mean currents before and after each place are compared at several scales. Their difference is measured against
/// its own ordinary size on this trip (median, so that edges do not count) and against what log and compass errors make
/// of a turn between the two: leeway and the errors of log and compass turn with the boat and look like an edge. The chance of it is that of a chi square with two degrees of freedom, corrected for
/// the number of places (Šidák). The most certain place comes first, and no later one may look across it.
pub(crate) fn edges(rows: &[Row], fit: &Fit, settings: &Settings) -> Vec<Edge> {
    let series = Series::new(rows, fit);
    let n_places: f64 = SIDES_S.iter().map(|side_s| 2.0 * (series.steady_s / side_s).max(1.0)).sum();
    let least_square = least_square(settings.p_max, n_places);
    let mut places: Vec<(f64, Place)> = Vec::new();
    for side_s in SIDES_S {
        let places_at = series.places(side_s);
        let white_mps2 = 2.0 * fit.noise_mps2 * settings.mean_s / side_s;
        let ordinary_mps2 = ordinary_square(&places_at).max(white_mps2);
        places.extend(places_at.into_iter().filter_map(|place| {
            let noise_mps2 = ordinary_mps2 * fit.noise_factor(place.stw_mps);
            let left_over = if place.is_turn() { settings.turn_part } else { settings.left_over_part };
            let alike_mps2 = noise_mps2 + left_over.powi(2) * place.water_change.dot(place.water_change);
            // what is open of log and compass only makes a change less certain
            if place.change.dot(place.change) < least_square * alike_mps2 {
                return None;
            }
            let (east, both, north) = fit.spread_of(&series.slopes(&place));
            let square = square(place.change, (east + alike_mps2, both, north + alike_mps2));
            (square >= least_square).then_some((square, place))
        }));
    }
    places.sort_by(|a, b| b.0.total_cmp(&a.0));
    let mut found: Vec<Edge> = Vec::new();
    for (square, place) in places {
        let p_value = sidak((-0.5 * square).exp(), n_places);
        if place.change.speed_mps() < settings.least_change_mps
            || found.iter().any(|edge| place.looks_across(edge))
        {
            continue;
        }
        if let Some(edge) = series.edge(&place, &found, p_value, settings) {
            found.push(edge);
        }
    }
    found.retain(|edge| edge.change_mps >= settings.least_change_mps && edge.width_m <= settings.widest_m);
    found.sort_by(|a, b| a.time_s.total_cmp(&b.time_s));
    found
}

/// Squared length of a change in units of its spread (east-east, east-north, north-north).
fn square(change: Velocity, (east, both, north): (f64, f64, f64)) -> f64 {
    let (e, n) = (change.east_mps, change.north_mps);
    (e * e * north - 2.0 * e * n * both + n * n * east) / (east * north - both * both)
}

/// Chance of at least one such among `n` independent places.
fn sidak(p: f64, n: f64) -> f64 {
    -(n * (-p).ln_1p()).exp_m1()
}

/// The square whose chance among `n` places is `p`: the reverse of [`sidak`].
fn least_square(p: f64, n: f64) -> f64 {
    -2.0 * (-((-p).ln_1p() / n).exp_m1()).ln()
}

/// Ordinary variance of one component of the change where the course does not change.
fn ordinary_square(places: &[Place]) -> f64 {
    let squares = |is_one: fn(&&Place) -> bool| -> Vec<f64> {
        places.iter().filter(is_one).map(|p| p.change.dot(p.change)).collect()
    };
    let same = squares(|place| !place.is_turn());
    let of = if same.is_empty() { squares(|_| true) } else { same };
    median(&of) / MEDIAN_SQUARE
}

/// Change of the mean current at a place.
#[derive(Clone, Debug)]
struct Place {
    time_s: f64,
    side_s: f64,
    /// Rows on the two sides.
    before: Range<usize>,
    after: Range<usize>,
    change: Velocity,
    water_change: Velocity,
    /// The faster of the two sides.
    stw_mps: f64,
}

impl Place {
    fn is_turn(&self) -> bool {
        self.water_change.dot(self.water_change) > (SAME_COURSE * self.stw_mps).powi(2)
    }

    fn looks_across(&self, edge: &Edge) -> bool {
        (self.time_s - edge.time_s).abs() < self.side_s
    }
}

/// The current row by row, with running sums.
struct Series<'a> {
    rows: &'a [Row],
    current: Vec<Velocity>,
    current_sums: Vec<Velocity>,
    water_sums: Vec<Velocity>,
    ground_sums: Vec<Velocity>,
    terms: Terms,
    /// Made for the first place that needs them: many trips have none.
    slope_sums: OnceCell<Vec<Slopes>>,
    steady_s: f64,
    row_s: f64,
}

impl<'a> Series<'a> {
    fn new(rows: &'a [Row], fit: &Fit) -> Self {
        let sums = || {
            let mut sums = Vec::with_capacity(rows.len() + 1);
            sums.push(Velocity::default());
            sums
        };
        let mut series = Self {
            rows,
            current: Vec::with_capacity(rows.len()),
            current_sums: sums(),
            water_sums: sums(),
            ground_sums: sums(),
            terms: fit.terms,
            slope_sums: OnceCell::new(),
            steady_s: length_s(rows),
            row_s: median(&rows.windows(2).map(|pair| pair[1].time_s - pair[0].time_s).collect::<Vec<_>>()),
        };
        for (i, row) in rows.iter().enumerate() {
            let water = water(&fit.terms, &row.reading);
            let current = row.ground - water;
            series.current.push(current);
            series.current_sums.push(series.current_sums[i] + current);
            series.water_sums.push(series.water_sums[i] + water);
            series.ground_sums.push(series.ground_sums[i] + row.ground);
        }
        series
    }

    fn summed_slopes(&self) -> Vec<Slopes> {
        let none = [Velocity::default(); TERMS];
        let mut sum = none;
        let add = |row: &Row| {
            let slopes = water_and_slopes(&self.terms, &row.reading).1;
            sum = std::array::from_fn(|k| sum[k] + slopes[k]);
            sum
        };
        std::iter::once(none).chain(self.rows.iter().map(add)).collect()
    }

    /// Rows from one time up to, not including, another.
    fn between(&self, from_s: f64, to_s: f64) -> Range<usize> {
        self.rows.partition_point(|r| r.time_s < from_s)..self.rows.partition_point(|r| r.time_s < to_s)
    }

    fn places(&self, side_s: f64) -> Vec<Place> {
        let Some((first, last)) = self.rows.first().zip(self.rows.last()) else { return Vec::new() };
        let n = ((last.time_s - first.time_s) / EVERY_S) as usize;
        // first rows not before the beginning, the middle and the end of a place, all three going on with it
        let mut rows = [0; 3];
        let at = |i: usize| {
            let time_s = first.time_s + EVERY_S * i as f64;
            for (row, from_s) in rows.iter_mut().zip([time_s - side_s, time_s, time_s + side_s]) {
                while self.rows.get(*row).is_some_and(|r| r.time_s < from_s) {
                    *row += 1;
                }
            }
            self.place(time_s, side_s, rows[0]..rows[1], rows[1]..rows[2])
        };
        (0..=n).filter_map(at).collect()
    }

    fn place(&self, time_s: f64, side_s: f64, before: Range<usize>, after: Range<usize>) -> Option<Place> {
        let least = LEAST_STEADY * side_s / self.row_s;
        if (before.len() as f64) < least || (after.len() as f64) < least {
            return None;
        }
        let (water_before, water_after) = (mean(&self.water_sums, &before), mean(&self.water_sums, &after));
        Some(Place {
            time_s,
            side_s,
            change: mean(&self.current_sums, &after) - mean(&self.current_sums, &before),
            water_change: water_after - water_before,
            stw_mps: water_before.speed_mps().max(water_after.speed_mps()),
            before,
            after,
        })
    }

    /// How the change of the velocity through the water at a place depends on log and compass.
    fn slopes(&self, place: &Place) -> Slopes {
        let sums = self.slope_sums.get_or_init(|| self.summed_slopes());
        let mean = |k: usize, rows: &Range<usize>| {
            (sums[rows.end][k] - sums[rows.start][k]) * (rows.len() as f64).recip()
        };
        std::array::from_fn(|k| mean(k, &place.after) - mean(k, &place.before))
    }

    /// The edge at a place: a ramp laid through the current about it, up to the neighbouring edges.
    fn edge(&self, place: &Place, found: &[Edge], p_value: f64, settings: &Settings) -> Option<Edge> {
        let reach_s = place.side_s.max(SIDES_S[1]);
        let after_last =
            found.iter().map(|e| e.time_s).filter(|&t| t < place.time_s).fold(f64::MIN, f64::max);
        let before_next =
            found.iter().map(|e| e.time_s).filter(|&t| t > place.time_s).fold(f64::MAX, f64::min);
        let about =
            self.between((place.time_s - reach_s).max(after_last), (place.time_s + reach_s).min(before_next));
        let rows = &self.rows[about.clone()];
        let points: Vec<(f64, Velocity)> =
            rows.iter().map(|r| r.distance_m).zip(self.current[about.clone()].iter().copied()).collect();
        let Ramp { centre_m, width_m, change, .. } =
            fit_ramp(&points, LEAST_WIDTH_M, 2.0 * settings.widest_m)?;
        let centre = rows
            .iter()
            .min_by(|a, b| (a.distance_m - centre_m).abs().total_cmp(&(b.distance_m - centre_m).abs()))?;
        let ground = mean(&self.ground_sums, &about);
        let along = ground * ground.speed_mps().max(f64::MIN_POSITIVE).recip();
        Some(Edge {
            time_s: centre.time_s,
            distance_m: centre_m,
            east_change_mps: change.east_mps,
            north_change_mps: change.north_mps,
            change_mps: change.speed_mps(),
            width_m,
            convergence_per_s: -change.dot(along) / width_m,
            shear_per_s: change.dot(along.quarter_clockwise()) / width_m,
            p_value,
        })
    }
}

/// Mean of rows, by running sums.
fn mean(sums: &[Velocity], rows: &Range<usize>) -> Velocity {
    (sums[rows.end] - sums[rows.start]) * (rows.len() as f64).recip()
}
