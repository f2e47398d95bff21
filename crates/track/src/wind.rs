//! What is the true wind, from a wind felt aboard?
//!
//! Vectors point to where the air moves. Over ground: true = apparent, turned by the heading, + boat over
//! ground. A wind over the water that is given from the bow is only turned.

use waterseam_units::angle::{east_north, length_direction, wrap_deg};

/// Below this speed the course over ground does not stand in for a heading, m/s: leeway and current turn it too
/// far (4 kn; common practice, no source).
const COURSE_FOR_HEADING_MPS: f64 = 2.0;

/// Wind of one row: speed and direction from which it blows.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Wind {
    pub speed_mps: f64,
    pub from_deg: f64,
}

/// Boat of one row.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Boat {
    pub heading_deg: Option<f64>,
    pub sog_mps: Option<f64>,
    pub cog_deg: Option<f64>,
}

impl Boat {
    fn bow_deg(self) -> Option<f64> {
        let runs = self.sog_mps.is_some_and(|sog_mps| sog_mps >= COURSE_FOR_HEADING_MPS);
        self.heading_deg.or(self.cog_deg.filter(|_| runs))
    }
}

/// Mean of winds as vectors; `None` of none. A calm blows from nowhere and is given from north.
pub(crate) fn mean(winds: &[Wind]) -> Option<Wind> {
    // one wind is its own mean
    if let [Wind { speed_mps, from_deg }] = *winds
        && speed_mps > 0.0
    {
        return Some(Wind { speed_mps, from_deg: wrap_deg(from_deg) });
    }
    if winds.is_empty() {
        return None;
    }
    let (mut east, mut north) = (0.0, 0.0);
    for wind in winds {
        let (e, n) = east_north(wind.speed_mps, wind.from_deg);
        east += e;
        north += n;
    }
    let n = winds.len() as f64;
    let (speed_mps, from) = length_direction(east / n, north / n);
    Some(Wind { speed_mps, from_deg: from.unwrap_or(0.0) })
}

/// Wind from true north, of a wind from the bow over the water.
pub(crate) fn from_north(wind: Wind, boat: Boat) -> Option<Wind> {
    Some(Wind { from_deg: wrap_deg(wind.from_deg + boat.bow_deg()?), ..wind })
}

/// True wind over ground, of the wind felt aboard. A boat with no speed needs no course.
pub(crate) fn from_apparent(felt: Wind, boat: Boat) -> Option<Wind> {
    let felt = from_north(felt, boat)?;
    let sog_mps = boat.sog_mps?;
    let course = boat.cog_deg.or((sog_mps == 0.0).then_some(0.0))?;
    // the sum of the vectors "toward", written with the wind's direction "from"
    let (felt_east, felt_north) = east_north(felt.speed_mps, felt.from_deg);
    let (boat_east, boat_north) = east_north(sog_mps, course);
    let (speed_mps, from) = length_direction(felt_east - boat_east, felt_north - boat_north);
    Some(Wind { speed_mps, from_deg: from.unwrap_or(0.0) })
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;
    use waterseam_units::angle::turn_deg;

    fn boat(heading: f64, sog: f64, cog: f64) -> Boat {
        Boat { heading_deg: Some(heading), sog_mps: Some(sog), cog_deg: Some(cog) }
    }

    #[test]
    fn in_a_calm_a_boat_feels_her_own_speed_from_ahead() {
        let felt = Wind { speed_mps: 5.0, from_deg: 0.0 };
        assert!(from_apparent(felt, boat(90.0, 5.0, 90.0)).unwrap().speed_mps < 1e-12);
    }

    #[test]
    fn running_before_the_wind() {
        let felt = Wind { speed_mps: 3.0, from_deg: 180.0 };
        let wind = from_apparent(felt, boat(0.0, 5.0, 0.0)).unwrap();
        assert!((wind.speed_mps - 8.0).abs() < 1e-12 && (wind.from_deg - 180.0).abs() < 1e-9);
    }

    #[test]
    fn slow_boats_without_a_compass_have_no_wind() {
        let felt = Wind { speed_mps: 3.0, from_deg: 40.0 };
        let slow = Boat { heading_deg: None, sog_mps: Some(1.0), cog_deg: Some(10.0) };
        assert_eq!(from_apparent(felt, slow), None);
        assert!(from_apparent(felt, Boat { sog_mps: Some(6.0), ..slow }).is_some());
    }

    proptest! {
        /// What a boat would feel in a known wind leads back to that wind.
        #[test]
        fn there_and_back(
            speed in 0.1f64..20.0, from in 0f64..360.0, heading in 0f64..360.0,
            sog in 0f64..15.0, cog in 0f64..360.0,
        ) {
            let (we, wn) = east_north(speed, from + 180.0);
            let (be, bn) = east_north(sog, cog);
            let (felt_speed, felt_toward) = length_direction(we - be, wn - bn);
            let from_bow = wrap_deg(felt_toward.unwrap_or(0.0) + 180.0 - heading);
            let felt = Wind { speed_mps: felt_speed, from_deg: from_bow };
            let wind = from_apparent(felt, boat(heading, sog, cog)).unwrap();
            prop_assert!((wind.speed_mps - speed).abs() < 1e-9);
            prop_assert!(turn_deg(wind.from_deg, from).abs() < 1e-6);
        }
    }
}
