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
use crate::stream::{Below, Sheared, Stream, Uniform, Water};

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
    Some(settled(sections, stream)?.0)
}

/// The shape of a line in a sheared stream, and by how much the depth of its lower end in still another water
/// comes out deeper for each metre that the line is put deeper.
fn settled(sections: &[Section], stream: Sheared<'_>) -> Option<(Shape, f64)> {
    let length_m: f64 = sections.iter().map(|section| section.length_m).sum();
    let at = |lower_end_m: f64| {
        let water = Below { stream, lower_end_m, more_mps: [0.0] };
        let shape = Shape::of(&top(sections.iter().map(|section| [section]), &water, FINE)?)?;
        Some((shape, shape.depth_m - lower_end_m))
    };
    // a line is never farther below or above its upper end than it is long
    let (mut low_m, mut high_m) = (-length_m - DEPTH_M, length_m + DEPTH_M);
    let (mut last_m, mut last_miss_m) = (0.0, at(0.0)?.1);
    let mut now_m = last_miss_m;
    let (mut found, mut gain) = (None, 0.0);
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
        if slope.is_finite() {
            gain = slope + 1.0;
        }
        found = Some((shape, gain));
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
/// Only the depth of the first is sought; how much deeper or shallower the others settle than where it is follows
/// from the slope there.
pub(crate) fn sheared_depths<const N: usize, const K: usize>(
    lines: &[[Section; K]; N],
    stream: Sheared<'_>,
    more_mps: [f64; N],
) -> Option<[f64; N]> {
    if !stream.is_physical() || !lines.iter().flatten().all(is_physical) {
        return None;
    }
    let (first, gain) = settled(&lines[0], stream)?;
    let water = Below { stream, lower_end_m: first.depth_m, more_mps };
    let beside_m = top(side_by_side(lines), &water, QUICK)?.height_m;
    // where the water is so much slower below that a line runs away from where it is, this is no more than a guess
    let follows = 1.0 / (1.0 - gain.min(GAIN_MAX));
    Some(beside_m.map(|depth_m| first.depth_m + (depth_m - beside_m[0]) * follows))
}

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
    for (lane, section) in sections.iter().enumerate() {
        let pressure_pa = water.pressure_pa(lane, state.height_m[lane]);
        state.horizontal_n[lane] += pressure_pa * section.load.drag_area_m2;
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
mod tests {
    use super::*;
    use proptest::prelude::*;

    const MONO: Line =
        Line { diameter_m: 4.5e-4, weight_n_per_m: 2.5e-4, normal_drag: 1.2, tangential_drag: 0.01 };
    const LURE: Load = Load { weight_n: 0.05, drag_area_m2: 6e-4 };

    fn stream(speed_mps: f64) -> Stream {
        Stream { speed_mps, density_kg_per_m3: 1000.0 }
    }

    #[test]
    fn nonsense_has_no_shape() {
        let good = Section { line: MONO, length_m: 10.0, load: LURE };
        assert!(shape(&[good], stream(1.0)).is_some());
        assert!(shape(&[good], stream(-1.0)).is_none());
        assert!(shape(&[good], stream(f64::NAN)).is_none());
        assert!(shape(&[Section { length_m: f64::INFINITY, ..good }], stream(1.0)).is_none());
        assert!(shape(&[Section { line: Line { diameter_m: -1.0, ..MONO }, ..good }], stream(1.0)).is_none());
    }

    #[test]
    fn a_line_at_rest_hangs_straight_down() {
        let still = shape(&[Section { line: MONO, length_m: 12.0, load: LURE }], stream(0.0)).unwrap();
        assert!((still.depth_m - 12.0).abs() < 1e-9 && still.layback_m.abs() < 1e-9);
        assert!((still.top_tension_n - (0.05 + 12.0 * 2.5e-4)).abs() < 1e-12);
    }

    #[test]
    fn a_line_without_end_load_lies_at_the_critical_angle() {
        let line = Line { tangential_drag: 0.0, weight_n_per_m: 0.02, ..MONO };
        let bare = shape(&[Section { line, length_m: 50.0, load: Load::default() }], stream(1.0)).unwrap();
        let angle = critical_angle_deg(0.02, 0.5 * 1000.0 * 1.2 * 4.5e-4);
        assert!((bare.top_angle_deg - angle).abs() < 1e-6);
        assert!((bare.depth_m - 50.0 * angle.to_radians().sin()).abs() < 1e-6);
    }

    #[test]
    fn a_floating_line_lies_above_its_upper_end() {
        let line = Line { weight_n_per_m: -0.001, ..MONO };
        let floating =
            shape(&[Section { line, length_m: 20.0, load: Load::default() }], stream(0.8)).unwrap();
        assert!(floating.depth_m < 0.0);
        assert!(critical_angle_deg(-0.001, 0.1) < 0.0);
    }

    proptest! {
        #[test]
        fn any_line_has_a_shape_within_its_length(
            length_m in 0f64..300.0, speed_mps in 0f64..4.0, diameter_m in 0f64..2e-3, w in -0.05f64..0.1,
            weight_n in -2f64..80.0, drag_area_m2 in 0f64..0.02, clip_n in 0f64..5.0, clip_at in 0f64..1.0,
        ) {
            let line = Line { diameter_m, weight_n_per_m: w, normal_drag: 1.2, tangential_drag: 0.01 };
            let clip = Load { weight_n: clip_n, drag_area_m2: 3e-4 };
            let sections = [
                Section { line, length_m: length_m * clip_at, load: Load { weight_n, drag_area_m2 } },
                Section { line, length_m: length_m * (1.0 - clip_at), load: clip },
            ];
            let shape = shape(&sections, stream(speed_mps)).expect("a shape");
            prop_assert!(shape.depth_m.hypot(shape.layback_m) <= length_m * (1.0 + 1e-6) + 1e-9);
            prop_assert!(shape.top_tension_n.is_finite() && shape.top_angle_deg.is_finite());
        }

        #[test]
        fn cutting_a_section_in_two_changes_nothing(
            length_m in 1f64..100.0, speed_mps in 0.3f64..2.5, cut in 0.01f64..0.99,
        ) {
            let whole = shape(&[Section { line: MONO, length_m, load: LURE }], stream(speed_mps)).unwrap();
            let halves = shape(&[
                Section { line: MONO, length_m: cut * length_m, load: LURE },
                Section { line: MONO, length_m: (1.0 - cut) * length_m, load: Load::default() },
            ], stream(speed_mps)).unwrap();
            prop_assert!((whole.depth_m - halves.depth_m).abs() < 1e-5 * whole.depth_m);
        }

        #[test]
        fn slower_runs_deeper(length_m in 5f64..100.0, speed_mps in 0.3f64..2.5) {
            let depth = |u| shape(&[Section { line: MONO, length_m, load: LURE }], stream(u)).unwrap().depth_m;
            prop_assert!(depth(speed_mps) > depth(speed_mps * 1.05));
        }

        #[test]
        fn any_line_in_any_stream_has_a_shape_within_its_length(
            length_m in 0f64..300.0, diameter_m in 0f64..2e-3, w in -0.05f64..0.1, weight_n in -2f64..80.0,
            drag_area_m2 in 0f64..0.02, speeds in prop::collection::vec(0f64..4.0, 1..6), apart_m in 0.01f64..20.0,
        ) {
            let line = Line { diameter_m, weight_n_per_m: w, normal_drag: 1.2, tangential_drag: 0.01 };
            let points: Vec<_> = speeds.iter().enumerate().map(|(n, u)| (apart_m * n as f64, *u)).collect();
            let section = Section { line, length_m, load: Load { weight_n, drag_area_m2 } };
            let stream = Sheared { points: &points, density_kg_per_m3: 1000.0 };
            let shape = sheared_shape(&[section], stream).expect("a shape");
            prop_assert!(shape.depth_m.hypot(shape.layback_m) <= length_m * (1.0 + 1e-6) + 1e-9);
            prop_assert!(shape.top_tension_n.is_finite() && shape.top_angle_deg.is_finite());
            // it hangs where it was put: marched from there it comes out there
            let water = Below { stream, lower_end_m: shape.depth_m, more_mps: [0.0] };
            let again = top([[&section]].into_iter(), &water, FINE).expect("a shape").height_m[0];
            prop_assert!((again - shape.depth_m).abs() <= 1e-3 * length_m + 1e-6, "{again} {}", shape.depth_m);
        }

        #[test]
        fn a_stream_without_shear_is_a_uniform_one(
            length_m in 1f64..100.0, speed_mps in 0.3f64..2.5, weight_n in 0.02f64..10.0,
        ) {
            let section = Section { line: MONO, length_m, load: Load { weight_n, ..LURE } };
            let uniform = shape(&[section], stream(speed_mps)).unwrap();
            let points = [(0.0, speed_mps), (7.0, speed_mps)];
            let sheared =
                sheared_shape(&[section], Sheared { points: &points, density_kg_per_m3: 1000.0 }).unwrap();
            prop_assert!((uniform.depth_m - sheared.depth_m).abs() < 3e-6 * uniform.depth_m);
        }

        #[test]
        fn water_that_is_slower_below_lets_lines_deeper(
            length_m in 5f64..100.0, speed_mps in 0.5f64..2.0, slower in 0.3f64..0.95, weight_n in 0.02f64..10.0,
        ) {
            let section = Section { line: MONO, length_m, load: Load { weight_n, ..LURE } };
            let depth_m = |points: &[(f64, f64)]| {
                sheared_shape(&[section], Sheared { points, density_kg_per_m3: 1000.0 }).unwrap().depth_m
            };
            let uniform_m = depth_m(&[(0.0, speed_mps)]);
            prop_assert!(depth_m(&[(0.0, speed_mps), (10.0, slower * speed_mps)]) > uniform_m);
            prop_assert!(depth_m(&[(0.0, speed_mps), (10.0, speed_mps / slower)]) < uniform_m);
        }

        #[test]
        fn as_much_line_as_reaches_a_depth_runs_there(
            length_m in 5f64..150.0, speed_mps in 0.3f64..2.5, part in 0.05f64..0.95, weight_n in 0.02f64..10.0,
        ) {
            let section = Section { line: MONO, length_m, load: Load { weight_n, ..LURE } };
            let pressure_pa = 500.0 * speed_mps * speed_mps;
            let want_m = part * shape(&[section], stream(speed_mps)).unwrap().depth_m;
            let (out_m, reached) = reaching(&[section], &Uniform([pressure_pa]), want_m).unwrap();
            let got = shape(&[Section { length_m: out_m, ..section }], stream(speed_mps)).unwrap();
            prop_assert!((got.depth_m - want_m).abs() < 3e-6 * want_m, "{} {want_m}", got.depth_m);
            prop_assert!((reached.depth_m - want_m).abs() < 1e-6);
        }

        #[test]
        fn lines_side_by_side_are_as_alone(
            length_m in 1f64..100.0, speed_mps in 0.3f64..2.5, w in 1e-4f64..0.02, weights in prop::array::uniform8(0.02f64..10.0),
        ) {
            let line = Line { weight_n_per_m: w, ..MONO };
            let lines = weights.map(|weight_n| [Section { line, length_m, load: Load { weight_n, ..LURE } }]);
            let together = depths(&lines, [500.0 * speed_mps * speed_mps; 8]).unwrap();
            for (section, depth_m) in lines.iter().zip(together) {
                let alone_m = shape(section, stream(speed_mps)).unwrap().depth_m;
                prop_assert!((alone_m - depth_m).abs() < 1e-4 * alone_m, "{alone_m} {depth_m}");
            }
        }

        #[test]
        fn numbers_of_any_size_give_a_shape_or_none(
            numbers in prop::array::uniform8(prop_oneof![Just(0.0), -1e300f64..1e300, -1e9f64..1e9, -1e-9f64..1e-9]),
        ) {
            let [length_m, speed_mps, diameter_m, w, normal_drag, tangential_drag, weight_n, drag_area_m2] = numbers;
            let line = Line {
                diameter_m: diameter_m.abs(), weight_n_per_m: w, normal_drag: normal_drag.abs(),
                tangential_drag: tangential_drag.abs(),
            };
            let load = Load { weight_n, drag_area_m2: drag_area_m2.abs() };
            if let Some(shape) = shape(&[Section { line, length_m: length_m.abs(), load }], stream(speed_mps.abs())) {
                prop_assert!(shape.depth_m.is_finite() && shape.layback_m.is_finite() && shape.top_angle_deg.is_finite());
            }
        }
    }
}
