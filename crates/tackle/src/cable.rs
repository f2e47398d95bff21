//! What shape does a line take that is towed through the water?
//!
//! Steady, two-dimensional, inextensible line. With `s` along the line from its lower end, `phi` the angle
//! above the horizontal, `T` the tension, `w` the weight in water per metre:
//!
//! ```text
//! dT/ds     = w sin(phi) + F cos(phi)|cos(phi)|        F = 0.5 rho Ct pi d U²   along the line
//! T dphi/ds = w cos(phi) - R sin(phi)|sin(phi)|        R = 0.5 rho Cn d U²      across the line
//! dz/ds = sin(phi),  dx/ds = cos(phi)
//! ```
//!
//! The force balance of classical towed-cable theory: L. Pode, Tables for computing the equilibrium
//! configuration of a flexible cable in a uniform stream, David Taylor Model Basin Report 687, 1951 (cited
//! from memory). The tangential drag acts on the wetted perimeter `pi d`; the products with an absolute
//! value let a floating line lie at an angle below the horizontal, where the squares of the papers would
//! not.

use std::f64::consts::PI;

use crate::march::{FINE, Lengths, QUICK, State, climb, march};
use crate::stream::{Below, Hinges, Sheared, Stream, Uniform, Water};

/// A line in the water.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Line {
    /// Diameter, m.
    pub diameter_m: f64,
    /// Weight in water per metre, N/m; negative where the line floats.
    pub weight_n_per_m: f64,
    /// Drag coefficient across the line, on `d`.
    pub normal_drag: f64,
    /// Drag coefficient along the line, on `pi d`.
    pub tangential_drag: f64,
}

/// Something that hangs on the line.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Load {
    /// Weight in water, N; negative where it floats.
    pub weight_n: f64,
    /// Drag coefficient times frontal area, m².
    pub drag_area_m2: f64,
}

/// A length of one kind of line, with the load at its lower end.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Section {
    /// The line.
    pub line: Line,
    /// Length in the water, m.
    pub length_m: f64,
    /// What hangs where the section begins, at its lower end.
    pub load: Load,
}

/// The shape of a towed line.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Shape {
    /// Depth of the lower end below the upper end, m.
    pub depth_m: f64,
    /// Distance of the lower end behind the upper end, m.
    pub layback_m: f64,
    /// Tension at the upper end, N.
    pub top_tension_n: f64,
    /// Angle above the horizontal at the upper end, degrees.
    pub top_angle_deg: f64,
}

/// The shape of a line of one or more sections, listed from the lower end (the lure) to the surface.
///
/// `None` where an input is not a finite number, a length, diameter, drag or the speed is negative, or the
/// density is not positive, and where forces are too large for numbers.
///
/// # Method
/// The equations of this module as components of the tension, marched from the lower end with an
/// adaptive fifth-order Runge–Kutta pair. Against closed forms and an independent integration the depth is
/// good to 1e-6 and 1e-4 of itself (`tests/reference/towed_line.rs`).
///
/// # Limits
/// The water moves at one speed at every depth ([`sheared_shape`] lifts that); the line does not stretch,
/// strum or reach the bottom.
///
/// # Example
/// ```
/// use waterseam_tackle::{Line, Load, Section, Stream, shape};
/// let line = Line { diameter_m: 0.00045, weight_n_per_m: 0.00025, normal_drag: 1.2, tangential_drag: 0.01 };
/// let lure = Load { weight_n: 0.05, drag_area_m2: 0.0006 };
/// let stream = Stream { speed_mps: 1.0, density_kg_per_m3: 1000.0 };
/// let shape = shape(&[Section { line, length_m: 40.0, load: lure }], stream).unwrap();
/// assert!((shape.depth_m - 2.62).abs() < 0.01);
/// ```
pub fn shape(sections: &[Section], stream: Stream) -> Option<Shape> {
    let pressure_pa = stream.pressure_pa()?;
    if !sections.iter().all(is_physical) {
        return None;
    }
    Shape::of(&top(sections.iter().map(|section| [section]), &Uniform([pressure_pa]), FINE)?)
}

/// The shape of a line in a stream whose speed changes with depth, as [`shape`] gives it for one speed.
///
/// # Method
/// The depth of the lower end decides in which water the line stands, and the line decides the depth: it is
/// sought with secants, kept between depths that are too small and too great. Where the water is so much slower below that several depths hold themselves, it is one of
/// them.
pub fn sheared_shape(sections: &[Section], stream: Sheared<'_>) -> Option<Shape> {
    if !stream.is_physical() || !sections.iter().all(is_physical) {
        return None;
    }
    settled(sections, &Hinges::new(stream))
}

/// The shape of a line in a sheared stream.
fn settled(sections: &[Section], hinges: &Hinges) -> Option<Shape> {
    let length_m: f64 = sections.iter().map(|section| section.length_m).sum();
    let at = |lower_end_m: f64| {
        let water = Below { hinges, lower_ends_m: [lower_end_m], more_mps: [0.0] };
        let shape = Shape::of(&top(sections.iter().map(|section| [section]), &water, FINE)?)?;
        Some((shape, shape.depth_m - lower_end_m))
    };
    // a line is never farther below or above its upper end than it is long
    let (mut low_m, mut high_m) = (-length_m - DEPTH_M, length_m + DEPTH_M);
    let (mut last_m, mut last_miss_m) = (0.0, at(0.0)?.1);
    let mut now_m = last_miss_m;
    let mut found = None;
    for step in 1..=DEPTH_STEPS {
        if last_miss_m > 0.0 {
            low_m = low_m.max(last_m);
        } else {
            high_m = high_m.min(last_m);
        }
        if now_m <= low_m || now_m >= high_m || step % BISECT_EVERY == 0 {
            now_m = 0.5 * (low_m + high_m);
        }
        let (shape, miss_m) = at(now_m)?;
        let slope = (miss_m - last_miss_m) / (now_m - last_m);
        found = Some(shape);
        if miss_m.abs() <= DEPTH_M + DEPTH_REL * length_m || high_m - low_m <= DEPTH_M {
            break;
        }
        (last_m, last_miss_m) = (now_m, miss_m);
        now_m -= miss_m / slope;
    }
    found
}

/// The depth in a sheared stream is good to this, m, and to this part of the line's length.
const DEPTH_M: f64 = 1e-7;
const DEPTH_REL: f64 = 1e-7;
/// Three to six are needed.
const DEPTH_STEPS: usize = 200;
/// Secants that get nowhere are helped on by halves.
const BISECT_EVERY: usize = 6;

/// Depths of lines that differ in lengths, weights and drags only, each in water of its own dynamic pressure.
pub(crate) fn depths<const N: usize, const K: usize>(
    lines: &[[Section; K]; N],
    pressure_pa: [f64; N],
) -> Option<[f64; N]> {
    if !lines.iter().flatten().all(is_physical) {
        return None;
    }
    let depths_m = top(side_by_side(lines), &Uniform(pressure_pa), QUICK)?.height_m;
    depths_m.iter().all(|m| m.is_finite()).then_some(depths_m)
}

/// The same in a sheared stream that goes faster past each line by `more_mps`, m/s.
///
/// Only the depth of the first is sought, by Newton's method; how much deeper or shallower the others settle than where it is follows
/// from the slope there, which also takes out what the first is still off.
pub(crate) fn sheared_depths<const N: usize, const K: usize>(
    lines: &[[Section; K]; N],
    stream: Sheared<'_>,
    more_mps: [f64; N],
) -> Option<[f64; N]> {
    if !stream.is_physical() || !lines.iter().flatten().all(is_physical) {
        return None;
    }
    let hinges = Hinges::new(stream);
    let length_m: f64 = lines[0].iter().map(|section| section.length_m).sum();
    let (lower_end_m, gain) = settles_at(&lines[0], &hinges, length_m)?;
    let water = Below { hinges: &hinges, lower_ends_m: [lower_end_m; N], more_mps };
    let beside_m = top(side_by_side(lines), &water, QUICK)?.height_m;
    // where the water is so much slower below that a line runs away from where it is, this is no more than a guess
    let follows = 1.0 / (1.0 - gain.min(GAIN_MAX));
    let depths_m = beside_m.map(|depth_m| lower_end_m + (depth_m - lower_end_m) * follows);
    depths_m.iter().all(|m| m.is_finite()).then_some(depths_m)
}

/// Nearly where a line settles in a sheared stream, m, and by how much its lower end comes out deeper for each metre that it is put deeper.
fn settles_at<const K: usize>(sections: &[Section; K], hinges: &Hinges, length_m: f64) -> Option<(f64, f64)> {
    let beside_m = NEWTON_REL * length_m + DEPTH_M;
    let mut now_m = 0.0;
    for _ in 0..NEWTON_STEPS {
        // the same line twice: where it is put, and a little deeper
        let water = Below { hinges, lower_ends_m: [now_m, now_m + beside_m], more_mps: [0.0; 2] };
        let [got_m, deeper_m] = top(sections.iter().map(|s| [s; 2]), &water, QUICK)?.height_m;
        let gain = (deeper_m - got_m) / beside_m;
        let by_m = (got_m - now_m) / (1.0 - gain);
        if gain >= GAIN_MAX || !by_m.is_finite() {
            break;
        }
        if (got_m - now_m).abs() <= NEAR_REL * length_m + DEPTH_M {
            return Some((now_m + by_m, gain));
        }
        now_m = (now_m + by_m).clamp(-length_m, length_m);
    }
    // several depths may hold themselves: one of them is found by halves
    Some((settled(sections, hinges)?.depth_m, GAIN_MAX))
}

/// Slopes are taken over this part of the line's length.
const NEWTON_REL: f64 = 1e-4;
/// Newton's last step may be this part of the line's length: a further one would be the square of it.
const NEAR_REL: f64 = 5e-4;
/// Two or three are needed.
const NEWTON_STEPS: usize = 8;

/// Gains above this are taken for it: the depth hardly knows where it is.
const GAIN_MAX: f64 = 0.9;

fn side_by_side<const N: usize, const K: usize>(
    lines: &[[Section; K]; N],
) -> impl Iterator<Item = [&Section; N]> {
    (0..K).map(|k| std::array::from_fn(|lane| &lines[lane][k]))
}

/// How much line of these sections reaches down to a depth, m, and the shape of so much of it; the whole of
/// them and their shape where it does not reach. In a sheared stream the lower end is at that depth.
pub(crate) fn reaching(sections: &[Section], water: &impl Water<1>, depth_m: f64) -> Option<(f64, Shape)> {
    if !depth_m.is_finite() || !sections.iter().all(is_physical) {
        return None;
    }
    let (mut state, mut out_m) = (State::default(), 0.0);
    for section in sections {
        let lengths = hang([section], &mut state, water);
        if section.length_m == 0.0 {
            continue;
        }
        let share;
        (state, share) = climb(state, &lengths, water, depth_m)?;
        out_m += share * section.length_m;
        if state.height_m[0] >= depth_m - REACHED_M {
            break;
        }
    }
    Some((out_m, Shape::of(&state)?))
}

/// A depth is reached when it is reached to this, m.
pub(crate) const REACHED_M: f64 = 1e-6;

/// The upper ends of lines, from their sections beginning with the lowest.
fn top<'s, const N: usize>(
    sections: impl Iterator<Item = [&'s Section; N]>,
    water: &impl Water<N>,
    tolerance: f64,
) -> Option<State<N>> {
    let mut state = State::default();
    for sections in sections {
        let lengths = hang(sections, &mut state, water);
        if lengths.length_m.iter().any(|&m| m > 0.0) {
            state = march(state, &lengths, water, tolerance)?;
        }
    }
    Some(state)
}

/// Adds the loads of sections to the tension, and gives the lines above them.
fn hang<const N: usize>(sections: [&Section; N], state: &mut State<N>, water: &impl Water<N>) -> Lengths<N> {
    let pressures_pa = water.pressures_pa(&state.height_m);
    for (lane, section) in sections.iter().enumerate() {
        state.horizontal_n[lane] += pressures_pa[lane] * section.load.drag_area_m2;
        state.vertical_n[lane] += section.load.weight_n;
    }
    Lengths {
        length_m: sections.map(|section| section.length_m),
        weight: sections.map(|section| section.line.weight_n_per_m),
        normal_m: sections.map(|section| section.line.normal_drag * section.line.diameter_m),
        tangential_m: sections.map(|section| section.line.tangential_drag * PI * section.line.diameter_m),
    }
}

impl Shape {
    /// `None` where numbers overflowed.
    fn of(top: &State<1>) -> Option<Self> {
        let ([horizontal_n], [vertical_n]) = (top.horizontal_n, top.vertical_n);
        let shape = Self {
            depth_m: top.height_m[0],
            layback_m: top.ahead_m[0],
            top_tension_n: horizontal_n.hypot(vertical_n),
            top_angle_deg: vertical_n.atan2(horizontal_n).to_degrees(),
        };
        (shape.depth_m + shape.layback_m + shape.top_tension_n).is_finite().then_some(shape)
    }
}

/// The critical angle: where a heavy line without any end load lies straight, degrees above the horizontal.
///
/// `w cos(phi) = R sin²(phi)`, with `weight_n_per_m` = w in water and `normal_drag_n_per_m` = R, the drag
/// per metre of a line that stands across the stream (Pode 1951, from memory). A floating line lies below
/// the horizontal: negative. Zero for a line with neither weight nor drag.
pub fn critical_angle_deg(weight_n_per_m: f64, normal_drag_n_per_m: f64) -> f64 {
    let (w, r) = (weight_n_per_m, normal_drag_n_per_m);
    if w == 0.0 {
        return 0.0;
    }
    // the root (-|w| + sqrt(w² + 4R²)) / 2R, written so that nothing cancels and R may be 0
    let cos = 2.0 * r / (w.abs() + w.hypot(2.0 * r));
    // near the horizontal the sine keeps the digits that acos loses: R sin² = |w| cos
    let sin = if r > w.abs() { (w.abs() * cos / r).sqrt() } else { (1.0 - cos * cos).sqrt() };
    sin.atan2(cos).to_degrees().copysign(w)
}

fn is_physical(section: &Section) -> bool {
    let Section { line, length_m, load } = section;
    let not_negative =
        [*length_m, line.diameter_m, line.normal_drag, line.tangential_drag, load.drag_area_m2];
    not_negative.iter().all(|v| v.is_finite() && *v >= 0.0)
        && line.weight_n_per_m.is_finite()
        && load.weight_n.is_finite()
}

#[cfg(test)]
#[path = "cable_tests.rs"]
mod tests;
