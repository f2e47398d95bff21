//! Which of the boat's lines reach a depth at trolling speed?

use waterseam_logs::boat::BoatFile;
use waterseam_tackle::{Setup, Tow};

use crate::settings::{density_kg_per_m3, tackle};

/// A line of the boat, set to run at the depth.
#[derive(Clone, Copy, Debug)]
pub struct Reaching<'a> {
    /// As much line out as it takes.
    pub setup: Setup<'a>,
    /// Depth that it then runs at, m.
    pub depth_m: f64,
}

/// The lines of the usual spread and of the tackle aboard that reach a depth, in the order of the boat file.
pub fn reaching(boat: &BoatFile, stw_mps: f64, depth_m: f64) -> Vec<Reaching<'_>> {
    let tow = Tow { density_kg_per_m3: density_kg_per_m3(boat), ..Tow::by_log(stw_mps) };
    let tackle = tackle(boat);
    let lines = boat.spread.iter().chain(&boat.tackle);
    lines
        .filter_map(|line| {
            let setup = tackle.reach(&Setup::from(line), &tow, depth_m).ok()?;
            let depth_m = tackle.running_depth(&setup, &tow)?.depth_m;
            Some(Reaching { setup, depth_m })
        })
        .collect()
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
            reaching(&boat, 1.0, depth_m).iter().filter_map(|line| line.setup.rod).collect()
        };
        assert!(names(10.0).contains(&"rigger") && names(10.0).contains(&"core"));
        assert_eq!(names(40.0), ["rigger"]);
        for line in reaching(&boat, 1.0, 10.0) {
            assert!((line.depth_m - 10.0).abs() < 0.5, "{line:?}");
        }
    }
}
