//! Line out for a depth, and the depth of that line out.

use proptest::prelude::*;
use waterseam_logs::boat::DiverTable;
use waterseam_units::convert::{M_PER_FT, MPS_PER_MPH};

use super::*;
use crate::materials::LEADER_M;

fn diver() -> Tackle {
    let table = |mph: f64, rows: &[(f64, f64)]| DiverTable {
        name: "setting 2".to_owned(),
        rods: vec!["port diver".to_owned()],
        speed_mps: mph * MPS_PER_MPH,
        rows: rows.iter().map(|(out_ft, depth_ft)| (out_ft * M_PER_FT, depth_ft * M_PER_FT)).collect(),
    };
    let slow = table(2.0, &[(80.0, 32.0), (120.0, 46.0), (160.0, 60.0)]);
    let fast = table(2.6, &[(80.0, 30.0), (160.0, 54.0)]);
    Tackle::new(&[slow, fast], &[], 1000.0)
}

fn on(rod: &str, line_out_m: f64) -> Setup<'_> {
    Setup {
        rod: Some(rod),
        method: Some(LineMethod::Diver),
        line_out_m: Some(line_out_m),
        ..Setup::default()
    }
}

#[test]
fn a_diver_runs_by_its_table_and_nowhere_beside_it() {
    let tackle = diver();
    let depth_ft = |out_ft: f64, mph: f64| {
        let depth = tackle.depth(&on("Port diver ", out_ft * M_PER_FT), &Tow::by_log(mph * MPS_PER_MPH));
        depth.map(|depth| depth.depth_m / M_PER_FT)
    };
    let near =
        |got: Result<f64, Refusal>, want: f64| assert!((got.unwrap() - want).abs() < 1e-9, "{got:?} {want}");
    near(depth_ft(80.0, 2.0), 32.0);
    near(depth_ft(100.0, 2.0), 39.0);
    near(depth_ft(160.0, 2.6), 54.0);
    near(depth_ft(100.0, 2.3), 37.5);
    near(depth_ft(80.0, 1.6), 32.0);
    assert!(matches!(depth_ft(79.0, 2.0), Err(Refusal::TableLine { .. })));
    assert!(matches!(depth_ft(161.0, 2.0), Err(Refusal::TableLine { .. })));
    assert!(matches!(depth_ft(100.0, 1.2), Err(Refusal::TableSpeed { .. })));
    assert!(matches!(depth_ft(100.0, 3.4), Err(Refusal::TableSpeed { .. })));
    assert_eq!(tackle.depth(&on("starboard diver", 30.0), &Tow::by_log(1.0)), Err(Refusal::NoTable));
    assert!(tackle.depth(&on("setting 2", 30.0), &Tow::by_log(1.0)).is_ok());
    let depth = tackle.depth(&on("port diver", 30.0), &Tow::by_log(1.0)).unwrap();
    assert_eq!(depth.source, crate::DepthSource::Table);
    assert!(depth.depth_se_m > 0.1 * depth.depth_m && depth.depth_se_m < 0.2 * depth.depth_m);
}

#[test]
fn two_tables_that_no_rod_has_to_itself_are_not_guessed_between() {
    let table = |name: &str| DiverTable {
        name: name.to_owned(),
        rods: Vec::new(),
        speed_mps: 1.0,
        rows: vec![(10.0, 4.0), (60.0, 20.0)],
    };
    let tackle = Tackle::new(&[table("one"), table("three")], &[], 1000.0);
    assert_eq!(tackle.depth(&on("port", 30.0), &Tow::by_log(1.0)), Err(Refusal::WhichTable));
    assert!(tackle.depth(&on("three", 30.0), &Tow::by_log(1.0)).is_ok());
}

#[test]
fn what_is_not_reached_says_how_far_it_goes() {
    let tackle = Tackle::default();
    let tow = Tow::by_log(1.0);
    let core = Setup { method: Some(LineMethod::Leadcore), colors: Some(5.0), ..Setup::default() };
    let Err(Refusal::TooDeep { deepest_m, line_out_m }) = tackle.reach(&core, &tow, 60.0) else { panic!() };
    assert!((line_out_m - LINE_MAX_M).abs() < 1e-6 && (8.0..25.0).contains(&deepest_m), "{deepest_m}");
    let clip = Setup { method: Some(LineMethod::ClipWeight), weight_kg: Some(0.1), ..Setup::default() };
    let Err(Refusal::TooShallow { shallowest_m }) = tackle.reach(&clip, &tow, 0.5) else { panic!() };
    assert!((0.5..3.0).contains(&shallowest_m), "{shallowest_m}");
    assert_eq!(tackle.reach(&Setup { weight_kg: None, ..clip }, &tow, 9.0), Err(Refusal::NoWeight));
    let Err(Refusal::TooDeep { deepest_m, .. }) = diver().reach(&on("port diver", 0.0), &tow, 30.0) else {
        panic!()
    };
    assert!((deepest_m / M_PER_FT - 58.0).abs() < 2.0, "{deepest_m}");
}

#[test]
fn no_more_line_is_let_out_than_is_worth_it() {
    let tackle = Tackle::default();
    let tow = Tow::by_log(1.0);
    for method in MODELLED {
        let weight_kg = (method != LineMethod::Downrigger).then_some(0.1);
        let any = Setup { method: Some(method), weight_kg, ..Setup::default() };
        let needed_m =
            tackle.reach(&any, &tow, 12.0).map_or(LINE_MAX_M, |reached| reached.line_out_m.unwrap());
        let enough = Setup { longest_m: Some(needed_m + 0.1), ..any };
        assert_eq!(
            tackle.reach(&enough, &tow, 12.0).map(|reached| reached.line_out_m),
            tackle.reach(&any, &tow, 12.0).map(|reached| reached.line_out_m)
        );
        let longest_m = 0.6 * needed_m;
        let too_short = Setup { longest_m: Some(longest_m), ..any };
        let Err(Refusal::TooDeep { deepest_m, line_out_m }) = tackle.reach(&too_short, &tow, 12.0) else {
            panic!("{method:?}")
        };
        assert!(line_out_m == longest_m && deepest_m < 12.0, "{method:?} {deepest_m}");
        // with the longest line it runs as deep as that says
        if let Ok(reached) = tackle.reach(&too_short, &tow, 0.999 * deepest_m) {
            assert!(reached.line_out_m.unwrap() <= longest_m, "{method:?} {reached:?}");
        } else {
            panic!("{method:?} does not reach {deepest_m}");
        }
    }
    let on_diver = Setup { longest_m: Some(30.0), ..on("port diver", 0.0) };
    let Err(Refusal::TooDeep { deepest_m, line_out_m: 30.0 }) = diver().reach(&on_diver, &tow, 17.0) else {
        panic!()
    };
    assert_eq!(diver().depth(&on("port diver", 30.0), &tow).map(|depth| depth.depth_m), Ok(deepest_m));
}

#[test]
fn colours_come_before_backing() {
    let tackle = Tackle::default();
    let core = Setup { method: Some(LineMethod::Leadcore), colors: Some(5.0), ..Setup::default() };
    let shallow = tackle.reach(&core, &Tow::by_log(1.0), 5.0).unwrap();
    assert!((1.0..5.0).contains(&shallow.colors.unwrap()));
    let deep = tackle.reach(&core, &Tow::by_log(1.0), 9.5).unwrap();
    assert_eq!(deep.colors, Some(5.0));
    assert!(deep.line_out_m.unwrap() > 5.0 * COLOR_M + LEADER_M + 1.0);
}

const MODELLED: [LineMethod; 6] = [
    LineMethod::Downrigger,
    LineMethod::Leadcore,
    LineMethod::WeightedWire,
    LineMethod::ClipWeight,
    LineMethod::KeelWeight,
    LineMethod::FlatLine,
];

proptest! {
    #[test]
    fn line_that_reaches_a_depth_runs_there(
        which in 0usize..6, want_m in 0.5f64..25.0, stw_mps in 0.4f64..1.8, slower in 0.5f64..1.3,
        weight_kg in 0.03f64..0.5, sheared in any::<bool>(),
    ) {
        let method = MODELLED[which];
        let weight_kg = (method != LineMethod::Downrigger).then_some(weight_kg);
        let setup = Setup { method: Some(method), weight_kg, ..Setup::default() };
        let below = [(10.0, slower * stw_mps)];
        let tow = Tow { below: if sheared { &below } else { &[] }, ..Tow::by_log(stw_mps) };
        let tackle = Tackle::default();
        match tackle.reach(&setup, &tow, want_m) {
            Ok(reached) => {
                let got_m = tackle.shape(&reached, &tow).unwrap().depth_m;
                prop_assert!((got_m - want_m).abs() < 1e-5 * want_m + 2e-5, "{got_m} {want_m} {reached:?}");
                let with_error_m = tackle.depth(&reached, &tow).unwrap().depth_m;
                prop_assert!((with_error_m - want_m).abs() < 1e-3 * want_m, "{with_error_m} {want_m}");
            }
            Err(Refusal::TooDeep { deepest_m, .. }) => prop_assert!(deepest_m < want_m),
            Err(Refusal::TooShallow { shallowest_m }) => prop_assert!(shallowest_m > want_m - 1e-5),
            Err(other) => prop_assert!(false, "{other:?}"),
        }
    }

    #[test]
    fn a_diver_runs_back_to_the_depth_that_was_asked(want_ft in 30f64..60.0, mph in 1.5f64..3.1) {
        let (tackle, tow) = (diver(), Tow::by_log(mph * MPS_PER_MPH));
        if let Ok(reached) = tackle.reach(&on("port diver", 0.0), &tow, want_ft * M_PER_FT) {
            let got = tackle.depth(&reached, &tow).unwrap();
            prop_assert!((got.depth_m - want_ft * M_PER_FT).abs() < 1e-9);
        }
    }

    #[test]
    fn more_line_more_weight_and_less_speed_run_deeper(
        which in 0usize..6, out_m in 20f64..100.0, stw_mps in 0.4f64..2.0, weight_kg in 0.03f64..0.5,
    ) {
        let method = MODELLED[which];
        let tackle = Tackle::default();
        let depth_m = |out_m: f64, stw_mps: f64, weight: f64| {
            // leaders of the same length for all, shorter than the line
            let weight_kg = if method == LineMethod::Downrigger { 20.0 * weight } else { weight };
            let setup = Setup {
                method: Some(method), line_out_m: Some(out_m), weight_kg: Some(weight_kg), leader_m: Some(3.0),
                ..Setup::default()
            };
            tackle.shape(&setup, &Tow::by_log(stw_mps)).unwrap().depth_m
        };
        let as_it_is = depth_m(out_m, stw_mps, weight_kg);
        prop_assert!(depth_m(1.05 * out_m, stw_mps, weight_kg) > as_it_is);
        prop_assert!(depth_m(out_m, 1.05 * stw_mps, weight_kg) < as_it_is);
        let weighted = matches!(method, LineMethod::Downrigger | LineMethod::ClipWeight | LineMethod::KeelWeight);
        prop_assert!(!weighted || depth_m(out_m, stw_mps, 1.1 * weight_kg) > as_it_is);
    }
}
