//! How does the tension of a line change from its lower end to its upper end?
//!
//! The tension is kept as its horizontal and vertical parts. So written, the
//! equations of [`cable`](crate::cable) stay bounded where the tension vanishes, and need no sine:
//!
//! ```text
//! dH/ds = F c²|c| + R s²|s|,   dV/ds = w + F |c|c s - R |s|s c,   c = H/T, s = V/T
//! ```
//!
//! Several lines are marched side by side: one line alone waits for its square roots most of the time.

use crate::cable::critical_angle_deg;
use crate::stream::Water;

/// Lengths of line, one beside the other.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Lengths<const N: usize> {
    /// Length, m.
    pub length_m: [f64; N],
    /// Weight in water, N/m.
    pub weight: [f64; N],
    /// Drag of a line across the stream over the dynamic pressure, m.
    pub normal_m: [f64; N],
    /// Drag of a line along the stream over the dynamic pressure, m.
    pub tangential_m: [f64; N],
}

/// A place on each line.
#[derive(Clone, Copy, Debug)]
pub(crate) struct State<const N: usize> {
    /// Tension, horizontal, N.
    pub horizontal_n: [f64; N],
    /// Tension, vertical, N.
    pub vertical_n: [f64; N],
    /// Above the lower end, m.
    pub height_m: [f64; N],
    /// Ahead of the lower end, m.
    pub ahead_m: [f64; N],
}

impl<const N: usize> Default for State<N> {
    fn default() -> Self {
        let zero = [0.0; N];
        Self { horizontal_n: zero, vertical_n: zero, height_m: zero, ahead_m: zero }
    }
}

impl<const N: usize> State<N> {
    /// Tension, N.
    pub fn tension_n(&self, lane: usize) -> f64 {
        let (h, v) = (self.horizontal_n[lane], self.vertical_n[lane]);
        (h * h + v * v).sqrt()
    }
}

impl<const N: usize> Lengths<N> {
    /// Forces on the whole of a line at a pressure, N, whatever its direction.
    fn own_n(&self, lane: usize, pressure_pa: f64) -> f64 {
        let drag_m = self.normal_m[lane] + self.tangential_m[lane];
        self.length_m[lane] * (self.weight[lane].abs() + pressure_pa * drag_m)
    }
}

/// Error allowed in a step, relative to the tension (to the length of the step, for depth): depths come out
/// good to 1e-6 of themselves.
pub(crate) const FINE: f64 = 1e-6;
/// The same for depths whose standard error is wanted beside them: good to 2e-5 of themselves.
pub(crate) const QUICK: f64 = 2e-5;
/// A line that lies nearly flat is shallow: its vertical tension must be good to this part of the whole.
const FLAT_LINE: f64 = 0.01;
/// Steps after which a line is given up; ordinary lines take ten to twenty, one with hardly any end load a
/// few hundred.
const STEPS_MAX: usize = 20_000;
/// End loads below this part of the line's own forces are nothing beside them.
const NO_TENSION: f64 = 1e-7;
/// Where the stream is sheared, a line without end load lies straight for this part of its length.
const SLACK_END: f64 = 1e-6;

/// The states at the upper ends, from those at the lower ends.
///
/// `None` only where numbers overflow, or the step control does not come to an end within its step limit.
pub(crate) fn march<const N: usize>(
    lower: State<N>,
    lines: &Lengths<N>,
    water: &impl Water<N>,
    tolerance: f64,
) -> Option<State<N>> {
    let mut march = March::new(lower, lines, water, tolerance);
    while march.left > LEFT_MIN {
        march.next()?;
    }
    Some(march.at)
}

/// How much of one line stands below a height above its lower end, as a share of its length, and the state
/// there; the whole where it does not reach that high.
pub(crate) fn climb(
    lower: State<1>,
    line: &Lengths<1>,
    water: &impl Water<1>,
    height_m: f64,
) -> Option<(State<1>, f64)> {
    let mut march = March::new(lower, line, water, FINE);
    while march.left > LEFT_MIN {
        let (below, below_left) = ((march.at, march.slope), march.left);
        march.next()?;
        if march.at.height_m[0] >= height_m {
            let (mut low, mut high) = (0.0, below_left - march.left);
            let mut part = high;
            // Newton on the height within the step, kept between its ends
            for _ in 0..CLIMB_STEPS {
                let (at, slope, _) = step(&below.0, &below.1, part, line, water);
                let over_m = at.height_m[0] - height_m;
                if over_m > 0.0 {
                    high = part;
                } else {
                    low = part;
                }
                march.at = at;
                march.left = below_left - part;
                let newton = part - over_m / slope.height_m[0];
                if over_m.abs() <= CLIMB_M || high - low <= CLIMB_M * part {
                    break;
                }
                part = if newton > low && newton < high { newton } else { 0.5 * (low + high) };
            }
            break;
        }
    }
    Some((march.at, 1.0 - march.left))
}

/// A rest of the line that is nothing beside the whole.
const LEFT_MIN: f64 = 1e-12;
/// A height is met when it is met to this, m.
const CLIMB_M: f64 = 1e-9;
/// Newton meets it in three or four.
const CLIMB_STEPS: usize = 60;

/// A march under way; lengths are shares of each line's own.
struct March<'a, const N: usize, W> {
    lines: &'a Lengths<N>,
    water: &'a W,
    tolerance: f64,
    at: State<N>,
    slope: State<N>,
    left: f64,
    step: f64,
    steps: usize,
}

impl<'a, const N: usize, W: Water<N>> March<'a, N, W> {
    fn new(lower: State<N>, lines: &'a Lengths<N>, water: &'a W, tolerance: f64) -> Self {
        let (mut at, mut left, mut step) = (lower, 1.0, 1.0f64);
        let mut slack = 0;
        let pressures_pa = water.pressures_pa(&lower.height_m);
        for (lane, &pressure_pa) in pressures_pa.iter().enumerate() {
            let own_n = lines.own_n(lane, pressure_pa);
            let tension_n = lower.tension_n(lane);
            slack += usize::from(tension_n <= NO_TENSION * own_n);
            if own_n > 0.0 {
                // the first step turns the line by a third of a radian at most
                step = step.min(0.3 * tension_n / own_n);
            }
        }
        if slack > 0 {
            // with all lines slack in uniform water they are straight to the top; else for so little that
            // those with tension may begin behind it
            let share = if slack == N && !water.has_corners() { 1.0 } else { SLACK_END };
            for (lane, &pressure_pa) in pressures_pa.iter().enumerate() {
                straight(&mut at, lane, share, lines, pressure_pa);
            }
            left -= share;
            step = SLACK_END;
        }
        let slope = slope(&at, lines, water);
        Self { lines, water, tolerance, at, slope, left, step, steps: 0 }
    }

    /// The next step that is good enough.
    fn next(&mut self) -> Option<()> {
        while self.steps < STEPS_MAX {
            self.steps += 1;
            let h = self.step.min(self.left).min(self.smooth());
            let (next, next_slope, error) = step(&self.at, &self.slope, h, self.lines, self.water);
            let error = error / self.tolerance;
            if error.is_nan() {
                return None;
            }
            // fifth-order pair: the error of a step goes with h⁵; 0.9, 0.2 and 5 are the customary guards
            self.step = h * (0.9 * error.powf(-0.2)).clamp(0.2, 5.0);
            if error <= 1.0 {
                (self.at, self.slope, self.left) = (next, next_slope, self.left - h);
                return Some(());
            }
        }
        None
    }

    /// The step up to the next corner of the stream on the first line. The others are much like it, and pass it little sooner or later.
    fn smooth(&self) -> f64 {
        let rise_m = self.slope.height_m[0];
        self.water.smooth_m(self.at.height_m[0], rise_m >= 0.0) / rise_m.abs()
    }
}

/// A line that begins without tension lies straight at its critical angle, and the tension grows from
/// nothing; nothing is done to one that begins with tension.
fn straight<const N: usize>(
    at: &mut State<N>,
    lane: usize,
    share: f64,
    lines: &Lengths<N>,
    pressure_pa: f64,
) {
    let (length_m, weight) = (share * lines.length_m[lane], lines.weight[lane]);
    let normal = pressure_pa * lines.normal_m[lane];
    if at.tension_n(lane) > NO_TENSION * lines.own_n(lane, pressure_pa) {
        return;
    }
    let (sin, cos) = critical_angle_deg(weight, normal).to_radians().sin_cos();
    let tension_n = (weight * sin + pressure_pa * lines.tangential_m[lane] * cos * cos) * length_m;
    at.horizontal_n[lane] += tension_n * cos;
    at.vertical_n[lane] += tension_n * sin;
    at.height_m[lane] += length_m * sin;
    at.ahead_m[lane] += length_m * cos;
}

/// What changes along the lines, over the share of each.
#[inline]
fn slope<const N: usize>(at: &State<N>, lines: &Lengths<N>, water: &impl Water<N>) -> State<N> {
    let mut slope = State::default();
    let pressures_pa = water.pressures_pa(&at.height_m);
    for (lane, &pressure_pa) in pressures_pa.iter().enumerate() {
        let (horizontal_n, vertical_n) = (at.horizontal_n[lane], at.vertical_n[lane]);
        let tension_n = (horizontal_n * horizontal_n + vertical_n * vertical_n).sqrt();
        let per_n = if tension_n > 0.0 { 1.0 / tension_n } else { 0.0 };
        let (cos, sin) = (horizontal_n * per_n, vertical_n * per_n);
        let along = pressure_pa * lines.tangential_m[lane] * cos * cos.abs();
        let across = pressure_pa * lines.normal_m[lane] * sin * sin.abs();
        let length_m = lines.length_m[lane];
        slope.horizontal_n[lane] = length_m * (along * cos + across * sin);
        slope.vertical_n[lane] = length_m * (lines.weight[lane] + along * sin - across * cos);
        slope.height_m[lane] = length_m * sin;
        slope.ahead_m[lane] = length_m * cos;
    }
    slope
}

/// One step of the pair of Dormand and Prince, 5(4) (J. Comput. Appl. Math. 6 (1980) 19–26; coefficients
/// from memory, confirmed by the reference cases): the new states, their slopes, and the worst error.
fn step<const N: usize>(
    at: &State<N>,
    k1: &State<N>,
    h: f64,
    lines: &Lengths<N>,
    water: &impl Water<N>,
) -> (State<N>, State<N>, f64) {
    const A2: [f64; 1] = [1.0 / 5.0];
    const A3: [f64; 2] = [3.0 / 40.0, 9.0 / 40.0];
    const A4: [f64; 3] = [44.0 / 45.0, -56.0 / 15.0, 32.0 / 9.0];
    const A5: [f64; 4] = [19372.0 / 6561.0, -25360.0 / 2187.0, 64448.0 / 6561.0, -212.0 / 729.0];
    const A6: [f64; 5] = [9017.0 / 3168.0, -355.0 / 33.0, 46732.0 / 5247.0, 49.0 / 176.0, -5103.0 / 18656.0];
    // the second slope has no part in the step or its error
    const B: [f64; 5] = [35.0 / 384.0, 500.0 / 1113.0, 125.0 / 192.0, -2187.0 / 6784.0, 11.0 / 84.0];
    const E: [f64; 6] =
        [71.0 / 57600.0, -71.0 / 16695.0, 71.0 / 1920.0, -17253.0 / 339_200.0, 22.0 / 525.0, -1.0 / 40.0];
    let k2 = slope(&advance(at, h, [k1], &A2), lines, water);
    let k3 = slope(&advance(at, h, [k1, &k2], &A3), lines, water);
    let k4 = slope(&advance(at, h, [k1, &k2, &k3], &A4), lines, water);
    let k5 = slope(&advance(at, h, [k1, &k2, &k3, &k4], &A5), lines, water);
    let k6 = slope(&advance(at, h, [k1, &k2, &k3, &k4, &k5], &A6), lines, water);
    let next = advance(at, h, [k1, &k3, &k4, &k5, &k6], &B);
    let k7 = slope(&next, lines, water);
    let wrong = advance(&State::default(), h, [k1, &k3, &k4, &k5, &k6, &k7], &E);
    let mut worst = 0.0;
    for lane in 0..N {
        let squared_n2 = |at: &State<N>| at.horizontal_n[lane].powi(2) + at.vertical_n[lane].powi(2);
        let tension_n = squared_n2(&next).max(squared_n2(at)).sqrt().max(f64::MIN_POSITIVE);
        let rise_m = k7.height_m[lane].abs().max(FLAT_LINE * lines.length_m[lane]).max(f64::MIN_POSITIVE);
        let errors = [
            wrong.horizontal_n[lane].abs() / tension_n,
            wrong.vertical_n[lane].abs() / next.vertical_n[lane].abs().max(FLAT_LINE * tension_n),
            wrong.height_m[lane].abs() / (h * rise_m),
        ];
        for error in errors {
            // a NaN must come out
            worst = if error > worst || error.is_nan() { error } else { worst };
        }
    }
    (next, k7, worst)
}

#[inline]
fn advance<const N: usize, const K: usize>(
    from: &State<N>,
    h: f64,
    slopes: [&State<N>; K],
    weights: &[f64; K],
) -> State<N> {
    let mut to = *from;
    for lane in 0..N {
        let [mut horizontal, mut vertical, mut height, mut ahead] = [0.0; 4];
        for (slope, weight) in slopes.iter().zip(weights) {
            horizontal += weight * slope.horizontal_n[lane];
            vertical += weight * slope.vertical_n[lane];
            height += weight * slope.height_m[lane];
            ahead += weight * slope.ahead_m[lane];
        }
        to.horizontal_n[lane] += h * horizontal;
        to.vertical_n[lane] += h * vertical;
        to.height_m[lane] += h * height;
        to.ahead_m[lane] += h * ahead;
    }
    to
}
