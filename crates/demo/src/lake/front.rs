//! What does a thermal break look like in the surface temperature?

use serde::{Deserialize, Serialize};

use super::plane::{Line, Point, TENTH_TO_NINETIETH, s_curve};

/// Warm water beside cold along a line: an S-shaped step, which may fade at its ends and move across itself.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Front {
    /// Middle of the step at [`LINE_AT_S`]. The warm side is on the right.
    pub line: Line,
    /// Warm minus cold, °C.
    pub step_c: f64,
    /// From 10 % to 90 % of the step, square to the line, m.
    pub width_m: f64,
    /// Half the length, m; `None`: right across the lake.
    pub half_length_m: Option<f64>,
    /// Speed toward the warm side, m/s.
    #[serde(default, skip_serializing_if = "is_zero")]
    pub drift_mps: f64,
    /// By how much the thermocline lies deeper on the warm side than on the cold one, m.
    #[serde(default, skip_serializing_if = "is_zero")]
    pub deepens_m: f64,
}

/// Seconds since local midnight at which a front lies on its line.
pub const LINE_AT_S: f64 = 10.0 * 3600.0;

#[expect(clippy::trivially_copy_pass_by_ref, reason = "asked for so by serde")]
fn is_zero(value: &f64) -> bool {
    *value == 0.0
}

/// Length over which a front fades at its end, as the scale of a tanh, m. Long, so that the end is no break itself.
const FADE_M: f64 = 1_200.0;

impl Front {
    /// Middle of the step at a time since local midnight.
    pub fn line_at(&self, time_s: f64) -> Line {
        if self.drift_mps == 0.0 {
            return self.line;
        }
        let moved_m = self.drift_mps * (time_s - LINE_AT_S);
        Line { through: self.line.through.moved(self.line.along_deg + 90.0, moved_m), ..self.line }
    }

    /// What the front adds to the surface temperature at a time since local midnight, from -step/2 to +step/2, °C.
    pub fn anomaly_c(&self, point: Point, time_s: f64) -> f64 {
        let (along_m, across_m) = self.line_at(time_s).along_across_m(point);
        0.5 * self.step_c * self.strength(along_m) * s_curve(across_m, self.width_m)
    }

    /// By how much the thermocline lies deeper for the front at a time since local midnight, from minus to plus half of
    /// [`Front::deepens_m`], m.
    pub fn deeper_m(&self, point: Point, time_s: f64) -> f64 {
        let (along_m, across_m) = self.line_at(time_s).along_across_m(point);
        0.5 * self.deepens_m * self.strength(along_m) * s_curve(across_m, self.width_m)
    }

    /// The whole step where a point lies along the front, °C.
    pub fn step_at_c(&self, point: Point, time_s: f64) -> f64 {
        self.step_c * self.strength(self.line_at(time_s).along_across_m(point).0)
    }

    /// Width along a track that crosses at an angle, m.
    pub fn width_along_track_m(&self, angle_deg: f64) -> f64 {
        self.width_m / angle_deg.to_radians().sin().abs()
    }

    /// Distance from the middle of the front, m, positive on the warm side.
    pub fn distance_m(&self, point: Point, time_s: f64) -> f64 {
        let (along_m, across_m) = self.line_at(time_s).along_across_m(point);
        let beyond_m = self.half_length_m.map_or(0.0, |half| (along_m.abs() - half).max(0.0));
        across_m.signum() * across_m.hypot(beyond_m)
    }

    /// Steepest gradient, °C/km.
    pub fn gradient_c_per_km(&self) -> f64 {
        1000.0 * self.step_c * TENTH_TO_NINETIETH / self.width_m
    }

    /// The whole of [`Front::deepens_m`] at a distance along the front, m.
    pub(super) fn deepens_at_m(&self, along_m: f64) -> f64 {
        self.deepens_m * self.strength(along_m)
    }

    fn strength(&self, along_m: f64) -> f64 {
        self.half_length_m.map_or(1.0, |half| {
            0.5 * (((along_m + half) / FADE_M).tanh() - ((along_m - half) / FADE_M).tanh())
        })
    }
}
