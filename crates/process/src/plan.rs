//! Which of the boat's lines reach a depth at trolling speed?

use waterseam_logs::boat::BoatFile;
use waterseam_tackle::{Refusal, Setup, Tow};

use crate::settings::{density_kg_per_m3, tackle};

/// A line of the boat, set to run at the depth.
#[derive(Clone, Copy, Debug)]
pub struct Reaching<'a> {
    /// As much line out as it takes.
    pub setup: Setup<'a>,
    /// Depth that it then runs at, m.
    pub depth_m: f64,
}

/// The lines of the usual spread and of the tackle aboard that reach a depth, in the order of the boat file; and those that
/// would with more line than the boat file says is worth letting out, by name, with why not.
pub fn reaching(boat: &BoatFile, stw_mps: f64, depth_m: f64) -> (Vec<Reaching<'_>>, Vec<(&str, Refusal)>) {
    let tow = Tow { density_kg_per_m3: density_kg_per_m3(boat), ..Tow::by_log(stw_mps) };
    let tackle = tackle(boat);
    let lines = boat.spread.iter().chain(&boat.tackle);
    let (mut reaching, mut too_short) = (Vec::new(), Vec::new());
    for line in lines {
        match tackle.reach(&Setup::from(line), &tow, depth_m) {
            Ok(setup) => reaching.extend(
                tackle.running_depth(&setup, &tow).map(|depth| Reaching { setup, depth_m: depth.depth_m }),
            ),
            Err(why @ Refusal::TooDeep { line_out_m, .. }) if line.longest_m == Some(line_out_m) => {
                too_short.push((line.rod.as_str(), why));
            }
            Err(_) => {}
        }
    }
    (reaching, too_short)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_that_reach_and_lines_that_do_not() {
        let text = "[[spread]]\nrod = \"rigger\"\nmethod = \"downrigger\"\nweight = \"12 lb\"\ndepth = \"50 ft\"\n\
                    [[tackle]]\nname = \"core\"\nmethod = \"leadcore\"\n\
                    [[tackle]]\nname = \"flat\"\nmethod = \"flat_line\"\nline_out = \"80 ft\"\n";
        let boat = BoatFile::from_toml(text, "boat.toml").expect("a boat file");
        let names = |depth_m| -> Vec<&str> {
            reaching(&boat, 1.0, depth_m).0.iter().filter_map(|line| line.setup.rod).collect()
        };
        assert!(names(10.0).contains(&"rigger") && names(10.0).contains(&"core"));
        assert_eq!(names(40.0), ["rigger"]);
        for line in reaching(&boat, 1.0, 10.0).0 {
            assert!((line.depth_m - 10.0).abs() < 0.5, "{line:?}");
        }
        let needed_m = reaching(&boat, 1.0, 10.0)
            .0
            .iter()
            .find(|line| line.setup.rod == Some("core"))
            .map(|core| core.setup.line_out_m);
        assert!(needed_m.flatten().is_some_and(|needed_m| needed_m > 30.0));
        let boat = BoatFile::from_toml(&format!("longest_line = \"30 m\"\n{text}"), "boat.toml")
            .expect("a boat file");
        let (lines, too_short) = reaching(&boat, 1.0, 10.0);
        assert!(lines.iter().all(|line| line.setup.rod != Some("core")));
        let [("core", Refusal::TooDeep { deepest_m, line_out_m: 30.0 }), ("flat", _)] = too_short[..] else {
            panic!("{too_short:?}")
        };
        assert!((1.0..10.0).contains(&deepest_m));
    }
}
