//! Depths of setups.

use proptest::prelude::*;

use super::*;
use crate::materials::{COLOR_M, LEADER_M};

fn depth(setup: Setup, stw_mps: f64) -> Option<Depth> {
    Tackle::default().running_depth(&setup, &Tow::by_log(stw_mps))
}

fn by(method: LineMethod, line_out_m: f64) -> Setup<'static> {
    Setup { method: Some(method), line_out_m: Some(line_out_m), ..Setup::default() }
}

#[test]
fn the_order_of_sources() {
    let noted = Setup { depth_m: Some(18.0), ..by(LineMethod::Downrigger, 25.0) };
    assert_eq!(depth(noted, 1.0).unwrap().source, DepthSource::Recorded);
    assert_eq!(depth(noted, 1.0).unwrap().depth_m, 18.0);
    assert_eq!(depth(by(LineMethod::Downrigger, 25.0), 1.0).unwrap().source, DepthSource::Counter);
    assert_eq!(depth(by(LineMethod::FlatLine, 25.0), 1.0).unwrap().source, DepthSource::Model);
}

#[test]
fn what_is_not_known_has_no_depth() {
    assert_eq!(depth(Setup::default(), 1.0), None);
    assert_eq!(depth(by(LineMethod::Diver, 50.0), 1.0), None);
    assert_eq!(depth(by(LineMethod::ClipWeight, 30.0), 1.0), None);
    let all_leader = Setup { weight_kg: Some(0.1), leader_m: Some(30.0), ..by(LineMethod::ClipWeight, 30.0) };
    assert_eq!(depth(all_leader, 1.0), None);
    assert_eq!(depth(by(LineMethod::FlatLine, -3.0), 1.0), None);
    assert_eq!(depth(by(LineMethod::FlatLine, f64::NAN), 1.0), None);
    assert_eq!(depth(by(LineMethod::FlatLine, 30.0), f64::NAN), None);
    let diver = Setup { depth_m: Some(15.0), ..by(LineMethod::Diver, 50.0) };
    assert_eq!(depth(diver, 1.0).unwrap().depth_m, 15.0);
}

#[test]
fn blow_back_grows_with_speed_and_shrinks_with_weight() {
    let light = Setup { weight_kg: Some(4.0), ..by(LineMethod::Downrigger, 40.0) };
    let heavy = Setup { weight_kg: Some(7.0), ..light };
    let at = |setup, u| depth(setup, u).unwrap().depth_m;
    assert!(at(light, 1.4) < at(light, 1.0) && at(light, 1.0) < at(heavy, 1.0) && at(heavy, 1.0) < 40.0);
}

#[test]
fn backing_takes_cored_line_deeper() {
    let five =
        Setup { colors: Some(5.0), ..Setup { method: Some(LineMethod::Leadcore), ..Setup::default() } };
    let with_backing = Setup { line_out_m: Some(5.0 * COLOR_M + LEADER_M + 30.0), ..five };
    assert!(depth(with_backing, 1.0).unwrap().depth_m > depth(five, 1.0).unwrap().depth_m + 0.3);
}

proptest! {
    #[test]
    fn a_depth_is_within_the_line_and_its_error_is_honest(
        out in 1f64..150.0, weight in 0.05f64..8.0, u in 0.3f64..2.5, which in 0usize..6,
    ) {
        let method = [
            LineMethod::Downrigger, LineMethod::Leadcore, LineMethod::WeightedWire, LineMethod::ClipWeight,
            LineMethod::KeelWeight, LineMethod::FlatLine,
        ][which];
        let setup = Setup { weight_kg: Some(weight), ..by(method, out) };
        if let Some(got) = depth(setup, u) {
            let line_m = out.max(if method == LineMethod::Leadcore { LEADER_M } else { 0.0 });
            prop_assert!(got.depth_m >= 0.0 && got.depth_m <= line_m * (1.0 + 1e-6));
            prop_assert!(got.depth_se_m >= FLOOR_SE_M && got.depth_se_m.is_finite());
        }
    }
}
