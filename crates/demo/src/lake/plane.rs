//! Where is a point of the lake, in metres east and north of the harbour, and where is it from a line?

use serde::{Deserialize, Serialize};
use waterseam_units::angle::{east_north, length_direction};
use waterseam_units::{LatLon, LocalFrame};

/// Alder Harbour.
pub const HARBOUR: LatLon = LatLon { lat_deg: 46.2, lon_deg: -29.4 };

/// A point in metres east and north of [`HARBOUR`].
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Point {
    /// East of the harbour, m.
    pub east_m: f64,
    /// North of the harbour, m.
    pub north_m: f64,
}

impl Point {
    /// The point at a position.
    pub fn at(position: LatLon) -> Self {
        let (east_m, north_m) = LocalFrame::new(HARBOUR).to_local(position);
        Self { east_m, north_m }
    }

    /// The position of the point.
    pub fn position(self) -> LatLon {
        LocalFrame::new(HARBOUR).to_position(self.east_m, self.north_m)
    }

    pub(crate) fn moved(self, toward_deg: f64, distance_m: f64) -> Self {
        let (east, north) = east_north(distance_m, toward_deg);
        Self { east_m: self.east_m + east, north_m: self.north_m + north }
    }

    pub(crate) fn between(self, other: Self, share: f64) -> Self {
        Self {
            east_m: self.east_m + share * (other.east_m - self.east_m),
            north_m: self.north_m + share * (other.north_m - self.north_m),
        }
    }

    pub(crate) fn distance_m(self, to: Self) -> f64 {
        (to.east_m - self.east_m).hypot(to.north_m - self.north_m)
    }

    /// Direction toward another point; north where the two are the same.
    pub(crate) fn bearing_deg(self, to: Self) -> f64 {
        length_direction(to.east_m - self.east_m, to.north_m - self.north_m).1.unwrap_or(0.0)
    }
}

/// A straight or gently bent line across the lake. It has a direction, and so a left and a right side.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Line {
    /// A point of the line.
    pub through: Point,
    /// Direction of the line at that point, degrees true.
    pub along_deg: f64,
    /// Curvature, 1/m; positive bends toward the right.
    pub bend_per_m: f64,
}

impl Line {
    /// Distance along the line's direction and across the line, m; across is positive on the right.
    ///
    /// Across is exact on the line and has slope one there; off the line it is a parabola's, which is a distance as
    /// long as the bend stays gentle.
    pub fn along_across_m(&self, point: Point) -> (f64, f64) {
        let (sin, cos) = self.along_deg.to_radians().sin_cos();
        let (east, north) = (point.east_m - self.through.east_m, point.north_m - self.through.north_m);
        let along = east * sin + north * cos;
        let right = east * cos - north * sin;
        let slope = self.bend_per_m * along;
        (along, (right - 0.5 * slope * along) / slope.hypot(1.0))
    }

    /// Direction square to the line, toward its right side, degrees true, beside a point.
    pub fn right_deg(&self, point: Point) -> f64 {
        let slope = self.bend_per_m * self.along_across_m(point).0;
        self.along_deg + slope.atan().to_degrees() + 90.0
    }
}

/// The S-shaped share from -1 to 1 of a change whose 10 % to 90 % takes `width_m`.
///
/// `tanh(x/w)` passes from 10 % to 90 % over `2 w atanh(0.8)`.
pub(crate) fn s_curve(across_m: f64, width_m: f64) -> f64 {
    (across_m * 2.0 * TENTH_TO_NINETIETH / width_m).tanh()
}

/// atanh(0.8)
pub(crate) const TENTH_TO_NINETIETH: f64 = 1.098_612_288_668_109_8;

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn a_line_north_has_the_east_on_its_right() {
        let line = Line { through: Point::default(), along_deg: 0.0, bend_per_m: 0.0 };
        let (along, across) = line.along_across_m(Point { east_m: 30.0, north_m: 40.0 });
        assert!((along - 40.0).abs() < 1e-9 && (across - 30.0).abs() < 1e-9);
        assert_eq!(line.right_deg(Point::default()), 90.0);
    }

    #[test]
    fn eighty_percent_of_the_change_within_the_width() {
        assert!((s_curve(50.0, 100.0) - 0.8).abs() < 1e-12);
        assert!((s_curve(-50.0, 100.0) + 0.8).abs() < 1e-12);
    }

    proptest! {
        #[test]
        fn across_has_slope_one_on_a_bent_line(along in -4000.0..4000.0f64, direction in 0.0..360.0f64) {
            let line = Line { through: Point::default(), along_deg: direction, bend_per_m: 1.0 / 12_000.0 };
            let beside = 0.5 * line.bend_per_m * along * along;
            let on = Point::default().moved(direction, along).moved(direction + 90.0, beside);
            prop_assert!(line.along_across_m(on).1.abs() < 1e-6);
            let off = on.moved(line.right_deg(on), 10.0);
            prop_assert!((line.along_across_m(off).1 - 10.0).abs() < 0.02);
        }
    }
}
