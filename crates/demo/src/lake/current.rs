//! How does the water move?

use serde::{Deserialize, Serialize};
use waterseam_units::angle::east_north;

use super::plane::{Line, Point, s_curve};

/// Current: the same everywhere, but for an edge, weaker below the thermocline.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Current {
    /// Toward east, m/s, away from the edge the mean of both sides.
    pub east_mps: f64,
    /// Toward north, m/s.
    pub north_mps: f64,
    /// Share of it that is left below the thermocline.
    pub deep_share: f64,
    /// An edge between two waters, where there is one.
    pub edge: Option<Edge>,
}

/// Line across which the current changes.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Edge {
    /// Middle of the change.
    pub line: Line,
    /// Change of the component along the line, right side minus left side, m/s.
    pub along_change_mps: f64,
    /// Change of the component toward the right, right side minus left side, m/s. Negative: the waters meet.
    pub across_change_mps: f64,
    /// From 10 % to 90 % of the change, square to the line, m.
    pub width_m: f64,
}

impl Current {
    /// Velocity at the surface, east and north, m/s.
    pub fn surface_mps(&self, point: Point) -> (f64, f64) {
        let (east, north) = self.edge.map_or((0.0, 0.0), |edge| {
            let share = 0.5 * s_curve(edge.line.along_across_m(point).1, edge.width_m);
            let (east, north) = edge.change_mps();
            (share * east, share * north)
        });
        (self.east_mps + east, self.north_mps + north)
    }

    /// Velocity at a depth, east and north, m/s.
    pub fn at_depth_mps(&self, point: Point, depth_m: f64, thermocline_depth_m: f64) -> (f64, f64) {
        let (east, north) = self.surface_mps(point);
        let below = 0.5 * (1.0 + s_curve(depth_m - thermocline_depth_m, SHEAR_THICKNESS_M));
        let share = 1.0 - (1.0 - self.deep_share) * below;
        (share * east, share * north)
    }
}

/// Thickness of the layer in which the current weakens, m.
const SHEAR_THICKNESS_M: f64 = 6.0;

impl Edge {
    /// Right side minus left side, east and north, m/s.
    pub fn change_mps(&self) -> (f64, f64) {
        let along = east_north(self.along_change_mps, self.line.along_deg);
        let across = east_north(self.across_change_mps, self.line.along_deg + 90.0);
        (along.0 + across.0, along.1 + across.1)
    }
}
