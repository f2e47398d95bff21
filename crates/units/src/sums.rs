//! What was done in a place, by many rods on many trips, when no order of them may change the sum?

use std::ops::AddAssign;

const US_PER_H: f64 = 3.6e9;
const MM_PER_M: f64 = 1e3;
const MICRO: f64 = 1e6;

/// Time and length as whole microseconds, millimetres and millionths of a degree, so that the sum is the same whatever
/// the order.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct PlaceSums {
    /// Time of one rod with its line in the water, all rods together, µs.
    pub fished_us: i64,
    /// That part of it in which the temperature of the surface was measured, µs.
    pub measured_us: i64,
    /// Sum of time by temperature over that part, µs · 10⁻⁶ °C.
    pub temp_us_micro_c: i128,
    /// Way run, mm.
    pub run_mm: i64,
    /// Crossings of breaks.
    pub breaks: i64,
}

impl PlaceSums {
    /// Adds fishing, and the temperature of the surface over it where that is known, °C.
    pub fn fish(&mut self, rod_hours: f64, surface_temp_c: Option<f64>) {
        let fished_us = (rod_hours * US_PER_H).round() as i64;
        self.fished_us += fished_us;
        if let Some(temp_c) = surface_temp_c {
            self.measured_us += fished_us;
            self.temp_us_micro_c += i128::from(fished_us) * (temp_c * MICRO).round() as i128;
        }
    }

    /// Adds way run, m.
    pub fn run(&mut self, way_m: f64) {
        self.run_mm += (way_m * MM_PER_M).round() as i64;
    }

    /// Adds crossings of breaks.
    pub fn cross(&mut self, breaks: i64) {
        self.breaks += breaks;
    }

    /// Hours of one rod with its line in the water.
    pub fn rod_hours(self) -> f64 {
        self.fished_us as f64 / US_PER_H
    }

    /// Way run, m.
    pub fn run_m(self) -> f64 {
        self.run_mm as f64 / MM_PER_M
    }

    /// Temperature at the surface, mean over the rod-hours, °C; `None` where none was measured.
    pub fn surface_temp_c(self) -> Option<f64> {
        (self.measured_us > 0).then(|| self.temp_us_micro_c as f64 / self.measured_us as f64 / MICRO)
    }
}

impl AddAssign for PlaceSums {
    fn add_assign(&mut self, other: Self) {
        self.fished_us += other.fished_us;
        self.measured_us += other.measured_us;
        self.temp_us_micro_c += other.temp_us_micro_c;
        self.run_mm += other.run_mm;
        self.breaks += other.breaks;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn the_mean_is_over_the_rod_hours_that_were_measured() {
        let mut sums = PlaceSums::default();
        sums.fish(0.01, Some(10.0));
        sums.fish(0.03, Some(14.0));
        sums.fish(0.05, None);
        sums.run(12.3456);
        sums.cross(2);
        assert_eq!((sums.fished_us, sums.run_mm, sums.breaks), (324_000_000, 12_346, 2));
        assert_eq!((sums.surface_temp_c(), PlaceSums::default().surface_temp_c()), (Some(13.0), None));
    }

    proptest! {
        #[test]
        fn no_order_and_no_grouping_changes_a_sum(
            minutes in prop::collection::vec((0.0..2.0, prop::option::of(-2.0..30.0)), 0..40),
            cut in 0_usize..40,
        ) {
            let of = |minutes: &[(f64, Option<f64>)]| {
                let mut sums = PlaceSums::default();
                for &(rod_hours, temp_c) in minutes {
                    sums.fish(rod_hours, temp_c);
                }
                sums
            };
            let (first, rest) = minutes.split_at(cut.min(minutes.len()));
            let mut grouped = of(rest);
            grouped += of(first);
            prop_assert_eq!(grouped, of(&minutes));
        }
    }
}
