//! How does the tension of a line change from its lower end to its upper end?
//!
//! The tension is kept as its horizontal and vertical parts. So written, the
//! equations of [`cable`](crate::cable) stay bounded where the tension vanishes, and need no sine:
//!
//! ```text
//! dH/ds = F c²|c| + R s²|s|,   dV/ds = w + F |c|c s - R |s|s c,   c = H/T, s = V/T
//! ```

use crate::cable::critical_angle_deg;

/// Forces on a metre of line, N/m.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Pull {
    /// Weight in water.
    pub weight: f64,
    /// Drag of a line across the stream.
    pub normal: f64,
    /// Drag of a line along the stream.
    pub tangential: f64,
}

/// A place on the line.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct State {
    /// Tension, horizontal and vertical, N.
    pub tension: [f64; 2],
    /// Above the lower end and ahead of it, m.
    pub position: [f64; 2],
}

impl State {
    /// Tension, N.
    pub fn tension_n(&self) -> f64 {
        let [horizontal_n, vertical_n] = self.tension;
        (horizontal_n * horizontal_n + vertical_n * vertical_n).sqrt()
    }
}

/// Error allowed in a step, relative to the tension (to the length of the step, for depth).
const STEP_TOLERANCE: f64 = 2e-6;
/// A line that lies nearly flat is shallow: its vertical tension must be good to this part of the whole.
const FLAT_LINE: f64 = 0.01;
/// Steps after which a line is given up; ordinary lines take ten to twenty, one with hardly any end load a
/// few hundred.
const STEPS_MAX: usize = 20_000;
/// End loads below this part of the line's own forces are nothing beside them.
const NO_TENSION: f64 = 1e-7;

/// The state at the upper end of `length_m` of line, from the state at its lower end.
///
/// `None` only where the step control does not come to an end within its step limit.
pub(crate) fn march(lower: State, length_m: f64, pull: &Pull) -> Option<State> {
    if length_m == 0.0 {
        return Some(lower);
    }
    let scale_n_per_m = pull.weight.abs() + pull.normal + pull.tangential;
    if lower.tension_n() <= NO_TENSION * scale_n_per_m * length_m {
        return Some(straight(lower, length_m, pull));
    }
    let (mut state, mut slope, mut along_m) = (lower, slope_at(lower.tension, pull), 0.0);
    // the first step turns the line by a third of a radian at most
    let mut step_m = if scale_n_per_m == 0.0 { length_m } else { 0.3 * lower.tension_n() / scale_n_per_m };
    for _ in 0..STEPS_MAX {
        let left_m = length_m - along_m;
        if left_m <= 1e-12 * length_m {
            return Some(state);
        }
        let h = step_m.min(left_m);
        let (next, next_slope, error) = step(&state, &slope, h, pull);
        if error <= 1.0 {
            (state, slope, along_m) = (next, next_slope, along_m + h);
        }
        // fifth-order pair: the error of a step goes with h⁵; 0.9, 0.2 and 5 are the customary guards
        step_m = h * (0.9 * error.powf(-0.2)).clamp(0.2, 5.0);
    }
    None
}

/// A line that begins without tension lies straight at its critical angle, and the tension grows from
/// nothing.
fn straight(lower: State, length_m: f64, pull: &Pull) -> State {
    let angle_deg = critical_angle_deg(pull.weight, pull.normal);
    let (sin, cos) = angle_deg.to_radians().sin_cos();
    let tension_n = (pull.weight * sin + pull.tangential * cos * cos) * length_m;
    let [depth_m, layback_m] = lower.position;
    State {
        tension: [tension_n * cos, tension_n * sin],
        position: [depth_m + length_m * sin, layback_m + length_m * cos],
    }
}

/// What changes along the line: tension `[H, V]` and position `[depth, layback]`.
#[derive(Clone, Copy)]
struct Slope {
    tension: [f64; 2],
    position: [f64; 2],
}

fn slope_at([horizontal_n, vertical_n]: [f64; 2], pull: &Pull) -> Slope {
    let tension_n = (horizontal_n * horizontal_n + vertical_n * vertical_n).sqrt();
    if tension_n == 0.0 {
        return Slope { tension: [0.0, pull.weight], position: [0.0; 2] };
    }
    let per_n = tension_n.recip();
    let (cos, sin) = (horizontal_n * per_n, vertical_n * per_n);
    let along = pull.tangential * cos * cos.abs();
    let across = pull.normal * sin * sin.abs();
    Slope {
        tension: [along * cos + across * sin, pull.weight + along * sin - across * cos],
        position: [sin, cos],
    }
}

/// One step of the pair of Dormand and Prince, 5(4) (J. Comput. Appl. Math. 6 (1980) 19–26; coefficients
/// from memory, confirmed by the reference cases): the new state, its slope, and the error over what is
/// allowed.
fn step(state: &State, k1: &Slope, h: f64, pull: &Pull) -> (State, Slope, f64) {
    const A2: [f64; 1] = [1.0 / 5.0];
    const A3: [f64; 2] = [3.0 / 40.0, 9.0 / 40.0];
    const A4: [f64; 3] = [44.0 / 45.0, -56.0 / 15.0, 32.0 / 9.0];
    const A5: [f64; 4] = [19372.0 / 6561.0, -25360.0 / 2187.0, 64448.0 / 6561.0, -212.0 / 729.0];
    const A6: [f64; 5] = [9017.0 / 3168.0, -355.0 / 33.0, 46732.0 / 5247.0, 49.0 / 176.0, -5103.0 / 18656.0];
    // the second slope has no part in the step or its error
    const B: [f64; 5] = [35.0 / 384.0, 500.0 / 1113.0, 125.0 / 192.0, -2187.0 / 6784.0, 11.0 / 84.0];
    const E: [f64; 6] =
        [71.0 / 57600.0, -71.0 / 16695.0, 71.0 / 1920.0, -17253.0 / 339_200.0, 22.0 / 525.0, -1.0 / 40.0];
    let k2 = slope_at(advance(state.tension, h, [k1], &A2), pull);
    let k3 = slope_at(advance(state.tension, h, [k1, &k2], &A3), pull);
    let k4 = slope_at(advance(state.tension, h, [k1, &k2, &k3], &A4), pull);
    let k5 = slope_at(advance(state.tension, h, [k1, &k2, &k3, &k4], &A5), pull);
    let k6 = slope_at(advance(state.tension, h, [k1, &k2, &k3, &k4, &k5], &A6), pull);
    let five = [k1, &k3, &k4, &k5, &k6];
    let next =
        State { tension: advance(state.tension, h, five, &B), position: shift(state.position, h, five, &B) };
    let k7 = slope_at(next.tension, pull);
    let six = [k1, &k3, &k4, &k5, &k6, &k7];
    let tension_error = advance([0.0; 2], h, six, &E);
    let [depth_error_m, _] = shift([0.0; 2], h, six, &E);
    let tension_n = next.tension_n().max(state.tension_n()).max(f64::MIN_POSITIVE);
    let worst = [
        tension_error[0].abs() / tension_n,
        tension_error[1].abs() / next.tension[1].abs().max(FLAT_LINE * tension_n),
        depth_error_m.abs() / (h * k7.position[0].abs().max(FLAT_LINE)),
    ];
    (next, k7, worst.into_iter().fold(0.0, f64::max) / STEP_TOLERANCE)
}

fn advance<const N: usize>(from: [f64; 2], h: f64, slopes: [&Slope; N], weights: &[f64; N]) -> [f64; 2] {
    let mut sum = [0.0; 2];
    for (slope, weight) in slopes.iter().zip(weights) {
        sum[0] += weight * slope.tension[0];
        sum[1] += weight * slope.tension[1];
    }
    [from[0] + h * sum[0], from[1] + h * sum[1]]
}

fn shift<const N: usize>(from: [f64; 2], h: f64, slopes: [&Slope; N], weights: &[f64; N]) -> [f64; 2] {
    let mut sum = [0.0; 2];
    for (slope, weight) in slopes.iter().zip(weights) {
        sum[0] += weight * slope.position[0];
        sum[1] += weight * slope.position[1];
    }
    [from[0] + h * sum[0], from[1] + h * sum[1]]
}
