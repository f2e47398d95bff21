//! How good is a place on a day, in water of a temperature?

use std::f64::consts::TAU;

use h3o::{CellIndex, LatLng};
use jiff::civil::Date;
use serde::{Deserialize, Serialize};
use waterseam_units::LatLon;

use super::{DAY_SD_C, YEAR_SD_C, YearsBite};
use crate::dice::{Dice, round};
use crate::lake::Point;

/// The truth of a series of years. All of it is invented.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Fishing {
    /// Rate where no place is good and the surface has the temperature that the fish like, bites a rod-hour.
    pub base_per_rod_hour: f64,
    /// Places that produce in spring, summer and autumn; none on a uniform lake.
    pub areas: [Vec<Area>; 3],
    /// Waves of the rest of the lake: it is not quite even.
    pub ripples: Vec<Ripple>,
    /// By how much the surface is colder for each km away from the shore, °C.
    pub colder_c_per_km: f64,
}

/// A place that produces.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Area {
    /// Middle.
    pub middle: Point,
    /// Half its length from east to west, m.
    pub half_east_m: f64,
    /// Half its length from south to north, m.
    pub half_north_m: f64,
    /// Factor of the rate well inside it.
    pub factor: f64,
}

/// A wave of the logarithm of the rate.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Ripple {
    /// Amplitude.
    pub amplitude: f64,
    /// Wave number toward east, rad/m.
    pub east_per_m: f64,
    /// Wave number toward north, rad/m.
    pub north_per_m: f64,
    /// Phase, rad.
    pub phase: f64,
}

/// The edge of an area is so wide, m: within it the factor goes from 12 % to 88 %.
const EDGE_M: f64 = 250.0;
/// Days of the year about which spring turns into summer and summer into autumn: 1 June and 1 September.
const TURNS: [f64; 2] = [152.0, 244.0];
/// Days within which the share of the new season goes from 12 % to 88 %.
const TURN_DAYS: f64 = 6.0;
/// Surface temperature that the fish of each season like best, and how closely they keep to it, °C.
const BEST_C: [f64; 3] = [10.0, 16.0, 14.0];
const BEST_SD_C: f64 = 3.0;
/// Mean surface temperature of the year, its swing, and the day on which it is warmest.
const MEAN_C: f64 = 11.0;
const SWING_C: f64 = 7.0;
const WARMEST_DAY: f64 = 225.0;

/// Species with their shares in the three seasons.
const SPECIES: [(&str, [f64; 3]); 4] = [
    ("coho", [0.5, 0.2, 0.2]),
    ("chinook", [0.1, 0.4, 0.5]),
    ("steelhead", [0.1, 0.2, 0.1]),
    ("lake trout", [0.3, 0.2, 0.2]),
];
/// Depth of the bites in the three seasons, m, and its scatter.
const BITE_DEPTH_M: [f64; 3] = [7.0, 20.0, 12.0];
const BITE_DEPTH_SD_M: f64 = 3.0;
/// Temperature at the lure of a bite, °C, and its scatter.
const BITE_TEMP_C: f64 = 10.5;
const BITE_TEMP_SD_C: f64 = 1.2;

impl Fishing {
    pub(super) fn draw(is_uniform: bool, dice: &mut Dice) -> Self {
        let base_per_rod_hour = dice.rounded(0.3, 0.5, 2);
        if is_uniform {
            let areas = [Vec::new(), Vec::new(), Vec::new()];
            return Self { base_per_rod_hour, areas, ripples: Vec::new(), colder_c_per_km: 0.0 };
        }
        let area =
            |offshore_m: (f64, f64), half_east_m: (f64, f64), half_north_m: (f64, f64), dice: &mut Dice| {
                let mut draw = |(low, high)| dice.rounded(low, high, -1);
                let middle = Point { east_m: -draw(offshore_m), north_m: draw((-9_000.0, 9_000.0)) };
                let (half_east_m, half_north_m) = (draw(half_east_m), draw(half_north_m));
                Area { middle, half_east_m, half_north_m, factor: dice.rounded(5.0, 8.0, 1) }
            };
        // near the shore; along the contour of 45 m to 55 m; off a river
        let spring = area((1_500.0, 2_200.0), (1_200.0, 1_800.0), (3_000.0, 4_500.0), dice);
        let summer = area((7_500.0, 9_500.0), (1_200.0, 1_800.0), (3_500.0, 5_000.0), dice);
        let autumn = area((2_000.0, 3_000.0), (1_800.0, 2_500.0), (1_800.0, 2_500.0), dice);
        let ripples = (0..4)
            .map(|_| {
                let (length_m, toward) = (dice.uniform(4_000.0, 9_000.0), dice.uniform(0.0, TAU));
                Ripple {
                    amplitude: 0.1,
                    east_per_m: round(TAU / length_m * toward.sin(), 6),
                    north_per_m: round(TAU / length_m * toward.cos(), 6),
                    phase: dice.rounded(0.0, TAU, 3),
                }
            })
            .collect();
        Self {
            base_per_rod_hour,
            areas: [vec![spring], vec![summer], vec![autumn]],
            ripples,
            colder_c_per_km: 0.1,
        }
    }

    /// True rate at a cell on a day, in water with this temperature at the surface, bites a rod-hour, with luck and year at
    /// their means.
    pub fn rate_per_rod_hour(&self, cell: u64, day: Date, surface_temp_c: f64) -> f64 {
        let off = (surface_temp_c - best_c(day)) / BEST_SD_C;
        self.base_per_rod_hour * self.place_factor(cell, day) * (-0.5 * off * off).exp()
    }

    /// The mean of that over the temperatures which a day may bring: what the place is worth before the day is known.
    ///
    /// The product of two normal curves, integrated.
    pub fn mean_rate_per_rod_hour(&self, cell: u64, day: Date) -> f64 {
        let wide_c = BEST_SD_C.hypot(DAY_SD_C).hypot(YEAR_SD_C);
        let off = (self.usual_temp_c(cell, day) - best_c(day)) / wide_c;
        self.base_per_rod_hour * self.place_factor(cell, day) * BEST_SD_C / wide_c * (-0.5 * off * off).exp()
    }

    /// What the place does to the rate on a day.
    pub fn place_factor(&self, cell: u64, day: Date) -> f64 {
        let Some(point) = middle(cell) else { return 1.0 };
        let good: f64 = self
            .areas
            .iter()
            .zip(shares(day))
            .flat_map(|(areas, share)| {
                areas.iter().map(move |area| share * (area.factor - 1.0) * area.holds(point))
            })
            .sum();
        let ripple: f64 = self
            .ripples
            .iter()
            .map(|r| {
                r.amplitude * (r.east_per_m * point.east_m + r.north_per_m * point.north_m + r.phase).sin()
            })
            .sum();
        (1.0 + good) * ripple.exp()
    }

    /// Surface temperature that is usual at a cell on a day, °C.
    pub fn usual_temp_c(&self, cell: u64, day: Date) -> f64 {
        let offshore_km = middle(cell).map_or(0.0, |point| -1e-3 * point.east_m);
        let turn = TAU * (f64::from(day.day_of_year()) - WARMEST_DAY) / 365.25;
        MEAN_C + SWING_C * turn.cos() - self.colder_c_per_km * offshore_km
    }

    /// Where word has it that the fish are on a day; `None` on a uniform lake.
    pub(super) fn talk_of_the_harbour(&self, day: Date, dice: &mut Dice) -> Option<Area> {
        let drawn = dice.unit();
        let season = season_of(shares(day), drawn);
        self.areas[season].first().copied()
    }
}

/// A bite that comes in a cell on a day.
pub(super) fn bite(trip: usize, cell: u64, day: Date, surface_temp_c: f64, dice: &mut Dice) -> YearsBite {
    let season = season_of(shares(day), dice.unit());
    let drawn = dice.unit();
    let mut reached = 0.0;
    let species = SPECIES.iter().find(|(_, shares)| {
        reached += shares[season];
        drawn < reached
    });
    let depth_m = (BITE_DEPTH_M[season] + BITE_DEPTH_SD_M * dice.normal()).max(1.0);
    let temp_at_depth_c = (BITE_TEMP_C + BITE_TEMP_SD_C * dice.normal()).min(surface_temp_c.max(4.0));
    let species = species.unwrap_or(&SPECIES[0]).0;
    YearsBite { trip, cell, species, depth_m, temp_at_depth_c, surface_temp_c }
}

impl Area {
    /// 1 well inside, 0 well outside.
    fn holds(&self, point: Point) -> f64 {
        let inside = |off_m: f64, half_m: f64| 1.0 / (1.0 + ((off_m.abs() - half_m) / (0.25 * EDGE_M)).exp());
        inside(point.east_m - self.middle.east_m, self.half_east_m)
            * inside(point.north_m - self.middle.north_m, self.half_north_m)
    }
}

/// Surface temperature that the fish like best on a day, °C.
fn best_c(day: Date) -> f64 {
    shares(day).iter().zip(BEST_C).map(|(share, best_c)| share * best_c).sum()
}

/// How much of a day is spring, summer and autumn; together 1.
fn shares(day: Date) -> [f64; 3] {
    let [summer, autumn] =
        TURNS.map(|turn| 1.0 / (1.0 + (-(f64::from(day.day_of_year()) - turn) / (0.25 * TURN_DAYS)).exp()));
    [1.0 - summer, summer * (1.0 - autumn), summer * autumn]
}

fn season_of(shares: [f64; 3], drawn: f64) -> usize {
    let [spring, summer, _] = shares;
    if drawn < spring {
        0
    } else if drawn < spring + summer {
        1
    } else {
        2
    }
}

/// Middle of a cell on the lake; `None` for what is no cell.
fn middle(cell: u64) -> Option<Point> {
    let at = LatLng::from(CellIndex::try_from(cell).ok()?);
    Some(Point::at(LatLon { lat_deg: at.lat(), lon_deg: at.lng() }))
}
