//! How does a break line lie and move, and where is it at another time?
//!
//! A line is a gentle parabola across its own direction that moves across itself at an even speed:
//!
//! ```text
//! across(along, t) = offset + turn · along + bend · along² + drift · (t - middle)
//! ```
//!
//! The four are estimated from the crossings by least squares with normal priors (Bayesian linear regression): two
//! passes do not determine a drift, and then it stays near none and its error says so.

use nalgebra::{Matrix4, Vector4};
use waterseam_units::angle::{length_direction, turn_deg, wrap_deg};
use waterseam_units::{LatLon, LocalFrame};

/// How far a front wanders off a parabola, standard deviation, m: its small meanders (common practice, no source).
const MEANDER_M: f64 = 25.0;
/// How fast fronts move across themselves, standard deviation, m/s: some hundred metres an hour, a part of the
/// currents that carry them (common practice, no source).
const DRIFT_MPS: f64 = 0.05;
/// How much lines bend, standard deviation of half the curvature, 1/m: radii of 10 km and more are usual (common
/// practice, no source).
const BEND_PER_M: f64 = 5e-5;
/// What lies this many standard deviations off is not ordinary.
const EXTREME: f64 = 2.5;
/// Slope against the direction of the first guess, standard deviation.
const SLOPE: f64 = 1.0;
/// Longest piece of the line between two vertices, m.
const VERTEX_EVERY_M: f64 = 250.0;

/// Places in the row of parameters: offset, turn, bend, drift.
const TURN: usize = 1;
const DRIFT: usize = 3;

/// A place of the line at a time.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Sighting {
    pub east_m: f64,
    pub north_m: f64,
    pub time_s: f64,
    /// Standard error across the line, m.
    pub se_m: f64,
}

/// A line that moves.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Course {
    origin: LatLon,
    /// East and north of the middle, m, on the axes about `origin`.
    middle_m: (f64, f64),
    /// Unit vector along the first guess of the line, east and north; across is to its right.
    along: (f64, f64),
    /// Ends of the line along that vector, m from the middle.
    ends_m: (f64, f64),
    middle_s: f64,
    estimate: [f64; 4],
    covariance: [[f64; 4]; 4],
}

impl Course {
    /// The line through some sightings, given in the order along it; `None` where they are all at one place.
    pub(crate) fn new(sightings: &[Sighting], origin: LatLon) -> Option<Self> {
        let n = sightings.len() as f64;
        let mean = |of: fn(&Sighting) -> f64| sightings.iter().map(of).sum::<f64>() / n;
        let (east_m, north_m, middle_s) = (mean(|s| s.east_m), mean(|s| s.north_m), mean(|s| s.time_s));
        let along = direction(sightings, east_m, north_m)?;
        let rows: Vec<(Vector4<f64>, f64, f64)> = sightings
            .iter()
            .map(|s| {
                let (e, n) = (s.east_m - east_m, s.north_m - north_m);
                let along_m = e * along.0 + n * along.1;
                let across_m = e * along.1 - n * along.0;
                let row = Vector4::new(1.0, along_m, along_m * along_m, s.time_s - middle_s);
                (row, across_m, 1.0 / (s.se_m.powi(2) + MEANDER_M.powi(2)))
            })
            .collect();
        let mut normal = Matrix4::from_diagonal(&Vector4::new(
            0.0,
            SLOPE.powi(-2),
            BEND_PER_M.powi(-2),
            DRIFT_MPS.powi(-2),
        ));
        let mut right = Vector4::zeros();
        for (row, across_m, weight) in &rows {
            normal += *weight * row * row.transpose();
            right += *weight * *across_m * row;
        }
        let covariance = scaled_inverse(&normal)?;
        let estimate = covariance * right;
        let alongs = || rows.iter().map(|(row, ..)| row[1]);
        Some(Self {
            origin,
            middle_m: (east_m, north_m),
            along,
            ends_m: (alongs().fold(f64::INFINITY, f64::min), alongs().fold(f64::NEG_INFINITY, f64::max)),
            middle_s,
            estimate: estimate.into(),
            covariance: std::array::from_fn(|i| std::array::from_fn(|j| covariance[(i, j)])),
        })
    }

    /// Vertices of the line at a time, on the clock of its crossings, brought forward or back by its drift.
    pub fn at(&self, time_s: f64) -> Vec<LatLon> {
        let frame = LocalFrame::new(self.origin);
        let (from_m, to_m) = self.ends_m;
        let pieces = ((to_m - from_m) / VERTEX_EVERY_M).ceil().max(1.0);
        (0..=pieces as usize)
            .map(|i| {
                let along_m = from_m + (to_m - from_m) * i as f64 / pieces;
                let (east_m, north_m) = self.place_m(along_m, self.across_m(along_m, time_s));
                frame.to_position(east_m, north_m)
            })
            .collect()
    }

    /// Standard error of the line's place across itself at its middle and a time, m, meanders included.
    pub fn across_se_m(&self, time_s: f64) -> f64 {
        self.se([1.0, 0.0, 0.0, time_s - self.middle_s]).hypot(MEANDER_M)
    }

    /// Direction along the line at its middle, degrees true; its other direction is as good.
    pub fn direction_deg(&self) -> f64 {
        let slope = self.estimate[TURN];
        let (east, north) = (self.along.0 + slope * self.along.1, self.along.1 - slope * self.along.0);
        wrap_deg(length_direction(east, north).1.unwrap_or_default())
    }

    /// Direction across the line at its middle that lies nearest to another direction, degrees true.
    pub(crate) fn side_deg(&self, toward_deg: f64) -> f64 {
        let right_deg = self.direction_deg() + 90.0;
        wrap_deg(if turn_deg(right_deg, toward_deg).abs() < 90.0 { right_deg } else { right_deg + 180.0 })
    }

    /// Standard error of that direction, degrees.
    pub fn direction_se_deg(&self) -> f64 {
        (self.covariance[TURN][TURN].sqrt() / (1.0 + self.estimate[TURN].powi(2))).to_degrees()
    }

    /// Speed across the line, m/s, positive to the right of [`direction_deg`](Self::direction_deg).
    pub fn drift_mps(&self) -> f64 {
        self.estimate[DRIFT] / self.estimate[TURN].hypot(1.0)
    }

    /// Standard error of the drift, m/s.
    pub fn drift_se_mps(&self) -> f64 {
        self.covariance[DRIFT][DRIFT].sqrt() / self.estimate[TURN].hypot(1.0)
    }

    /// Whether the crossings say anything of the drift: its error is half of what it is without them.
    pub fn drift_is_seen(&self) -> bool {
        self.covariance[DRIFT][DRIFT].sqrt() <= 0.5 * DRIFT_MPS
    }

    /// Place along the line, m, and distance from it in standard errors of a sighting.
    pub(crate) fn along_off(&self, sighting: &Sighting) -> (f64, f64) {
        let (e, n) = (sighting.east_m - self.middle_m.0, sighting.north_m - self.middle_m.1);
        let (along_m, across_m) = (e * self.along.0 + n * self.along.1, e * self.along.1 - n * self.along.0);
        let off_m = across_m - self.across_m(along_m, sighting.time_s);
        (along_m, off_m / MEANDER_M.hypot(sighting.se_m))
    }

    /// How far bend and drift are from what is usual: sum of squares in standard deviations.
    pub(crate) fn unlikely(&self) -> f64 {
        let [_, _, bend, drift] = self.estimate;
        (bend / BEND_PER_M).powi(2) + (drift / DRIFT_MPS).powi(2)
    }

    /// Whether it bends and drifts no more than lines do.
    pub(crate) fn is_ordinary(&self) -> bool {
        let [_, _, bend, drift] = self.estimate;
        bend.abs() <= EXTREME * BEND_PER_M && drift.abs() <= EXTREME * DRIFT_MPS
    }

    fn across_m(&self, along_m: f64, time_s: f64) -> f64 {
        let [offset, turn, bend, drift] = self.estimate;
        offset + turn * along_m + bend * along_m * along_m + drift * (time_s - self.middle_s)
    }

    fn place_m(&self, along_m: f64, across_m: f64) -> (f64, f64) {
        (
            self.middle_m.0 + along_m * self.along.0 + across_m * self.along.1,
            self.middle_m.1 + along_m * self.along.1 - across_m * self.along.0,
        )
    }

    fn se(&self, row: [f64; 4]) -> f64 {
        let variance: f64 =
            (0..4).map(|i| (0..4).map(|j| row[i] * self.covariance[i][j] * row[j]).sum::<f64>()).sum();
        variance.max(0.0).sqrt()
    }
}

/// Direction of the longest spread of the sightings, from the first to the last of them.
fn direction(sightings: &[Sighting], east_m: f64, north_m: f64) -> Option<(f64, f64)> {
    let (mut ee, mut en, mut nn) = (0.0, 0.0, 0.0);
    for s in sightings {
        let (e, n) = (s.east_m - east_m, s.north_m - north_m);
        (ee, en, nn) = (ee + e * e, en + e * n, nn + n * n);
    }
    let angle = 0.5 * (2.0 * en).atan2(ee - nn);
    let (first, last) = (sightings.first()?, sightings.last()?);
    let forward = (last.east_m - first.east_m) * angle.cos() + (last.north_m - first.north_m) * angle.sin();
    let sign = if forward < 0.0 { -1.0 } else { 1.0 };
    (ee + nn > 0.0).then(|| (sign * angle.cos(), sign * angle.sin()))
}

/// Inverse of a matrix whose rows differ by many powers of ten.
fn scaled_inverse(matrix: &Matrix4<f64>) -> Option<Matrix4<f64>> {
    let scale = Matrix4::from_diagonal(&matrix.diagonal().map(|v| v.sqrt().recip()));
    Some(scale * (scale * matrix * scale).cholesky()?.inverse() * scale)
}

#[cfg(test)]
mod tests {
    use super::*;

    const ORIGIN: LatLon = LatLon { lat_deg: 46.2, lon_deg: -29.4 };

    /// Passes over a line along 60° that moves toward 150° at some speed.
    fn passes(drift_mps: f64, n: u32) -> Vec<Sighting> {
        (0..n)
            .map(|i| {
                // out along the line, and back at other places
                let along_m =
                    if i < n / 2 { 1_000.0 * f64::from(i) } else { 1_000.0 * f64::from(n - i) - 500.0 };
                let time_s = 1_500.0 * f64::from(i);
                let (e, n) = waterseam_units::angle::east_north(along_m, 60.0);
                let (de, dn) = waterseam_units::angle::east_north(drift_mps * time_s, 150.0);
                Sighting { east_m: e + de, north_m: n + dn, time_s, se_m: 5.0 }
            })
            .collect()
    }

    #[test]
    fn a_line_that_moves_is_brought_forward() {
        let mut sightings = passes(0.04, 10);
        sightings.sort_by(|a, b| a.east_m.total_cmp(&b.east_m));
        let course = Course::new(&sightings, ORIGIN).unwrap();
        assert!((course.direction_deg() - 60.0).abs() < 1.0, "{}", course.direction_deg());
        assert!((course.drift_mps() - 0.04).abs() < 0.004, "{course:?}");
        assert!(course.drift_is_seen() && course.drift_se_mps() < 0.01);
        let frame = LocalFrame::new(ORIGIN);
        let later_s = 20_000.0;
        for at in course.at(later_s) {
            let (e, n) = frame.to_local(at);
            let (de, dn) = waterseam_units::angle::east_north(1.0, 150.0);
            assert!((e * de + n * dn - 0.04 * later_s).abs() < 60.0);
        }
    }

    #[test]
    fn two_passes_do_not_tell_a_drift() {
        let course = Course::new(&passes(0.04, 2), ORIGIN).unwrap();
        assert!(!course.drift_is_seen());
        assert!((course.drift_se_mps() - DRIFT_MPS).abs() < 0.01);
        assert!(Course::new(&passes(0.0, 1), ORIGIN).is_none());
    }
}
