//! Shapes of lines.

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
    let floating = shape(&[Section { line, length_m: 20.0, load: Load::default() }], stream(0.8)).unwrap();
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
        let hinges = Hinges::new(stream);
        let water = Below { hinges: &hinges, lower_ends_m: [shape.depth_m], more_mps: [0.0] };
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
    fn lines_side_by_side_settle_where_each_settles_alone(
        length_m in 5f64..100.0, speeds in prop::collection::vec(0.6f64..1.6, 1..5), weight_n in 0.02f64..40.0,
    ) {
        let section = |weight_n| Section { line: MONO, length_m, load: Load { weight_n, ..LURE } };
        let points: Vec<_> = speeds.iter().enumerate().map(|(n, u)| (8.0 * n as f64, *u)).collect();
        let stream = Sheared { points: &points, density_kg_per_m3: 1000.0 };
        let lines = [weight_n, 1.01 * weight_n].map(|weight_n| [section(weight_n)]);
        let [one_m, other_m] = sheared_depths(&lines, stream, [0.0, 0.0]).expect("depths");
        let alone_m = sheared_shape(&lines[0], stream).expect("a shape").depth_m;
        prop_assert!((one_m - alone_m).abs() < 1e-4 * alone_m, "{one_m} {alone_m}");
        prop_assert!(other_m >= one_m, "{other_m} {one_m}");
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
