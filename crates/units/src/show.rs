//! Numbers for people: the three unit systems that a captain can choose from.

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Serialize};

use crate::convert::{
    KG_PER_LB, M_PER_FT, M_PER_MI, M_PER_NMI, MPS_PER_KMH, MPS_PER_KN, MPS_PER_MPH, f_difference_from_c,
    f_from_c,
};
use crate::geodesy::LatLon;

/// A text that moves no cursor, rings no bell and turns no line around when it is printed: characters that steer a
/// terminal (C0 and C1 controls) or the direction of writing (Unicode UAX #9) are written as `\u{1b}`.
pub fn printable(text: &str) -> String {
    let steers = |letter: char| {
        letter.is_control()
            || matches!(letter, '\u{200e}' | '\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
    };
    if !text.contains(steers) {
        return text.to_owned();
    }
    text.chars()
        .map(|letter| if steers(letter) { letter.escape_unicode().to_string() } else { letter.to_string() })
        .collect()
}

/// Units in which numbers are shown and, where a file names none, read.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum UnitSystem {
    /// °F, ft, mph, statute miles, lb
    #[default]
    Imperial,
    /// °C, m, km/h, km, kg
    Metric,
    /// °C, m, kn, nautical miles, kg
    Marine,
}

impl FromStr for UnitSystem {
    type Err = String;

    fn from_str(word: &str) -> Result<Self, Self::Err> {
        match word {
            "imperial" => Ok(Self::Imperial),
            "metric" => Ok(Self::Metric),
            "marine" => Ok(Self::Marine),
            _ => Err(format!("'{word}' is not a unit system; write imperial, metric or marine")),
        }
    }
}

impl fmt::Display for UnitSystem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Imperial => "imperial",
            Self::Metric => "metric",
            Self::Marine => "marine",
        })
    }
}

impl UnitSystem {
    /// Depth in this system's unit, as a number.
    pub fn depth_value(self, depth_m: f64) -> f64 {
        if self == Self::Imperial { depth_m / M_PER_FT } else { depth_m }
    }

    /// Name of the depth unit.
    pub fn depth_unit(self) -> &'static str {
        if self == Self::Imperial { "ft" } else { "m" }
    }

    /// A depth or a short length: `48 ft`, `14.6 m`.
    pub fn depth(self, depth_m: f64) -> String {
        if self == Self::Imperial {
            format!("{:.0} ft", self.depth_value(depth_m))
        } else {
            format!("{depth_m:.1} m")
        }
    }

    /// A length across the surface of tens to hundreds of metres: `390 ft`, `120 m`.
    pub fn short_distance(self, distance_m: f64) -> String {
        let value = self.depth_value(distance_m);
        let rounded = if value.abs() < 100.0 { value.round() } else { (value / 10.0).round() * 10.0 };
        format!("{rounded:.0} {}", self.depth_unit())
    }

    /// Temperature in this system's unit, as a number.
    pub fn temp_value(self, temp_c: f64) -> f64 {
        if self == Self::Imperial { f_from_c(temp_c) } else { temp_c }
    }

    /// Name of the temperature unit.
    pub fn temp_unit(self) -> &'static str {
        if self == Self::Imperial { "°F" } else { "°C" }
    }

    /// A temperature: `54.3 °F`.
    pub fn temp(self, temp_c: f64) -> String {
        format!("{:.1} {}", self.temp_value(temp_c), self.temp_unit())
    }

    /// A temperature difference: `3.6 °F`.
    pub fn temp_difference(self, difference_c: f64) -> String {
        let value = if self == Self::Imperial { f_difference_from_c(difference_c) } else { difference_c };
        format!("{value:.1} {}", self.temp_unit())
    }

    /// Speed in this system's unit, as a number.
    pub fn speed_value(self, speed_mps: f64) -> f64 {
        match self {
            Self::Imperial => speed_mps / MPS_PER_MPH,
            Self::Metric => speed_mps / MPS_PER_KMH,
            Self::Marine => speed_mps / MPS_PER_KN,
        }
    }

    /// Name of the speed unit.
    pub fn speed_unit(self) -> &'static str {
        match self {
            Self::Imperial => "mph",
            Self::Metric => "km/h",
            Self::Marine => "kn",
        }
    }

    /// A speed: `2.3 mph`.
    pub fn speed(self, speed_mps: f64) -> String {
        format!("{:.1} {}", self.speed_value(speed_mps), self.speed_unit())
    }

    /// A slow speed, of water or of its change: `0.23 mph`.
    pub fn slow_speed(self, speed_mps: f64) -> String {
        format!("{:.2} {}", self.speed_value(speed_mps), self.speed_unit())
    }

    /// Distance of kilometres in this system's unit, as a number.
    pub fn distance_value(self, distance_m: f64) -> f64 {
        match self {
            Self::Imperial => distance_m / M_PER_MI,
            Self::Metric => distance_m / 1000.0,
            Self::Marine => distance_m / M_PER_NMI,
        }
    }

    /// Name of that unit.
    pub fn distance_unit(self) -> &'static str {
        match self {
            Self::Imperial => "mi",
            Self::Metric => "km",
            Self::Marine => "nmi",
        }
    }

    /// A distance of kilometres: `21.4 mi`.
    pub fn distance(self, distance_m: f64) -> String {
        format!("{:.1} {}", self.distance_value(distance_m), self.distance_unit())
    }

    /// A fish's weight: `11.5 lb`.
    pub fn fish_weight(self, weight_kg: f64) -> String {
        if self == Self::Imperial {
            format!("{:.1} lb", weight_kg / KG_PER_LB)
        } else {
            format!("{weight_kg:.1} kg")
        }
    }
}

/// A position in degrees and minutes to a thousandth, as plotters show it: `46°12.345'N 029°24.120'W`.
pub fn degrees_minutes(at: LatLon) -> String {
    let part = |value: f64, width: usize, positive: char, negative: char| {
        let thousandths = (value.abs() * 60_000.0).round() as u64;
        let (degrees, rest) = (thousandths / 60_000, thousandths % 60_000);
        let hemisphere = if value < 0.0 { negative } else { positive };
        format!("{degrees:0width$}°{:06.3}'{hemisphere}", rest as f64 / 1000.0)
    };
    format!("{} {}", part(at.lat_deg, 2, 'N', 'S'), part(at.lon_deg, 3, 'E', 'W'))
}

const POINTS: [&str; 8] =
    ["north", "northeast", "east", "southeast", "south", "southwest", "west", "northwest"];

/// The nearest of the eight points of the compass.
pub fn compass_point(direction_deg: f64) -> &'static str {
    POINTS[(crate::angle::wrap_deg(direction_deg + 22.5) / 45.0) as usize % 8]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_steers_a_terminal_is_written_out() {
        assert_eq!(printable("8 °C, Äsche 鱒"), "8 °C, Äsche 鱒");
        assert_eq!(printable("a\x1b[2J\n\u{9b}b\u{202e}"), "a\\u{1b}[2J\\u{a}\\u{9b}b\\u{202e}");
    }

    #[test]
    fn the_three_systems() {
        assert_eq!(UnitSystem::Imperial.depth(14.63), "48 ft");
        assert_eq!(UnitSystem::Marine.speed(1.0289), "2.0 kn");
        assert_eq!(UnitSystem::Metric.temp(12.34), "12.3 °C");
        assert_eq!(UnitSystem::Imperial.temp_difference(2.0), "3.6 °F");
        assert_eq!(UnitSystem::Imperial.short_distance(120.0), "390 ft");
    }

    #[test]
    fn minutes_never_reach_sixty() {
        let at = LatLon { lat_deg: 45.999_999_9, lon_deg: -29.5 };
        assert_eq!(degrees_minutes(at), "46°00.000'N 029°30.000'W");
    }

    #[test]
    fn compass_points() {
        assert_eq!(compass_point(359.0), "north");
        assert_eq!(compass_point(22.6), "northeast");
        assert_eq!(compass_point(292.0), "west");
    }
}
