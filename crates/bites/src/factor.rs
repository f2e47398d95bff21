//! By what is fishing compared: depth, temperature, speed, a break, the thermocline, light.

use crate::bands::BandSettings;
use crate::effort::EffortRow;
use crate::near::Side;
use crate::place::PlacedBite;

/// What is compared.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Factor {
    /// Running depth, m.
    Depth,
    /// Temperature at the lure, °C.
    TempAtDepth,
    /// Speed through the water, m/s.
    Stw,
    /// Speed of the water past the lure, by a probe near its depth, m/s.
    LureSpeed,
    /// Distance to the nearest break, m.
    BreakDistance,
    /// The same with its side: positive on the warm side, negative on the cold, m.
    BreakSide,
    /// Height above the thermocline, m; negative below it.
    AboveThermocline,
    /// Elevation of the sun, degrees.
    SunElevation,
}

/// How many factors there are.
pub(crate) const FACTORS: usize = Factor::ALL.len();

impl Factor {
    /// All factors, in the order of the tables.
    pub const ALL: [Self; 8] = [
        Self::Depth,
        Self::TempAtDepth,
        Self::Stw,
        Self::LureSpeed,
        Self::BreakDistance,
        Self::BreakSide,
        Self::AboveThermocline,
        Self::SunElevation,
    ];

    /// The word of the tables.
    pub fn word(self) -> &'static str {
        match self {
            Self::Depth => "depth_m",
            Self::TempAtDepth => "temp_at_depth_c",
            Self::Stw => "stw_mps",
            Self::LureSpeed => "lure_speed_mps",
            Self::BreakDistance => "break_distance_m",
            Self::BreakSide => "break_side_m",
            Self::AboveThermocline => "above_thermocline_m",
            Self::SunElevation => "sun_elevation_deg",
        }
    }

    pub(crate) fn of_effort(self, row: &EffortRow) -> Option<f64> {
        match self {
            Self::Depth => row.depth_m,
            Self::TempAtDepth => row.temp_at_depth_c,
            Self::Stw => row.stw_mps,
            Self::LureSpeed => row.lure_speed_mps,
            Self::BreakDistance => row.break_distance_m,
            Self::BreakSide => beside(row.break_distance_m, row.break_side),
            Self::AboveThermocline => row.above_thermocline_m,
            Self::SunElevation => Some(row.sun_elevation_deg),
        }
    }

    pub(crate) fn of_bite(self, bite: &PlacedBite) -> Option<f64> {
        match self {
            Self::Depth => bite.depth_m,
            Self::TempAtDepth => bite.temp_at_depth_c,
            Self::Stw => bite.stw_mps,
            Self::LureSpeed => bite.lure_speed_mps,
            Self::BreakDistance => bite.break_distance_m,
            Self::BreakSide => beside(bite.break_distance_m, bite.break_side),
            Self::AboveThermocline => bite.above_thermocline_m,
            Self::SunElevation => Some(bite.sun_elevation_deg),
        }
    }

    /// Bin that a value falls into; `None` for a value that is not finite.
    pub(crate) fn bin(self, value: f64, settings: &BandSettings) -> Option<i64> {
        if !value.is_finite() {
            return None;
        }
        Some(match self {
            // a bin on the cold side is the complement of its mirror on the warm side: -1 is 0's, -2 is 1's
            Self::BreakSide if value < 0.0 => !doubling_bin(-value, settings),
            Self::BreakDistance | Self::BreakSide => doubling_bin(value, settings),
            _ => (value / self.step(settings)).floor() as i64,
        })
    }

    /// Lower and upper end of a bin.
    pub(crate) fn edges(self, bin: i64, settings: &BandSettings) -> (f64, f64) {
        match self {
            Self::BreakSide if bin < 0 => {
                let (low, high) = doubling_edges(!bin, settings);
                (-high, -low)
            }
            Self::BreakDistance | Self::BreakSide => doubling_edges(bin, settings),
            _ => (bin as f64 * self.step(settings), (bin + 1) as f64 * self.step(settings)),
        }
    }

    fn step(self, settings: &BandSettings) -> f64 {
        match self {
            Self::Depth | Self::AboveThermocline => settings.depth_step_m,
            Self::TempAtDepth => settings.temp_step_c,
            Self::Stw | Self::LureSpeed => settings.stw_step_mps,
            Self::BreakDistance | Self::BreakSide => settings.break_distance_first_m,
            Self::SunElevation => settings.sun_step_deg,
        }
    }
}

fn beside(distance_m: Option<f64>, side: Option<Side>) -> Option<f64> {
    Some(match side? {
        Side::Warm => distance_m?,
        // at the break itself the sign must not be lost
        Side::Cold => -distance_m?.max(f64::MIN_POSITIVE),
    })
}

fn doubling_bin(value: f64, settings: &BandSettings) -> i64 {
    let firsts = value.max(0.0) / settings.break_distance_first_m;
    if firsts < 1.0 { 0 } else { firsts.log2().floor() as i64 + 1 }
}

fn doubling_edges(bin: i64, settings: &BandSettings) -> (f64, f64) {
    let edge = |bin: i64| settings.break_distance_first_m * 2f64.powi(bin as i32);
    (if bin == 0 { 0.0 } else { edge(bin - 1) }, edge(bin))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_value_lies_between_the_ends_of_its_bin() {
        let settings = BandSettings::default();
        for factor in Factor::ALL {
            for value in [-5000.0, -800.0, -100.0, -99.0, -0.001, 0.0, 7.3, 100.0, 399.0, 400.0, 1e5] {
                let value = if factor == Factor::BreakDistance { f64::abs(value) } else { value };
                let (low, high) = factor.edges(factor.bin(value, &settings).unwrap(), &settings);
                // an end may be off by rounding
                let holds = low - 1e-9 <= value && value <= high + 1e-9;
                assert!(holds && low < high, "{factor:?} {value}: {low} to {high}");
            }
            assert_eq!(factor.bin(f64::NAN, &settings), None);
        }
    }

    #[test]
    fn the_sides_of_a_break_mirror_each_other_and_never_share_a_bin() {
        let settings = BandSettings::default();
        let bin = |value: f64| Factor::BreakSide.bin(value, &settings).unwrap();
        assert_eq!((bin(-150.0), bin(-50.0), bin(0.0), bin(50.0), bin(150.0)), (-2, -1, 0, 0, 1));
        assert_eq!(bin(beside(Some(0.0), Some(Side::Cold)).unwrap()), -1);
        assert_eq!(beside(Some(30.0), None), None);
        assert_eq!(Factor::BreakSide.edges(-2, &settings), (-200.0, -100.0));
    }
}
