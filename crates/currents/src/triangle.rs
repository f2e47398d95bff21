//! Which course and speed go with which track, in a known current?
//!
//! The current triangle of chart work: velocity through the water plus current is velocity over ground (American
//! Practical Navigator, chapter on dead reckoning; from memory). Any unit of speed will do, as long as it is the same
//! throughout; directions are degrees true, a set is the direction toward which the current flows.

use waterseam_units::angle::{east_north, length_direction, turn_deg, wrap_deg};

/// A direction, degrees true, and the speed along it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Way {
    /// Degrees true.
    pub direction_deg: f64,
    /// In the unit of the arguments.
    pub speed: f64,
}

/// Course and speed made good over ground, from course and speed through the water.
///
/// `None` where the boat stands still over ground and makes good no course.
pub fn made_good(course_deg: f64, speed: f64, set_deg: f64, drift: f64) -> Option<Way> {
    sum((speed, course_deg), (drift, set_deg))
}

/// Course to steer at a speed through the water to make good a track, and the speed made good along it.
///
/// `None` where the current sets across the track faster than the boat goes, or carries it backward along it.
pub fn course_to_steer(track_deg: f64, speed: f64, set_deg: f64, drift: f64) -> Option<Way> {
    let (across, along) = east_north(drift, turn_deg(track_deg, set_deg));
    if across.abs() > speed {
        return None;
    }
    let correction_deg = (across / speed).asin().to_degrees();
    let made_good = speed * correction_deg.to_radians().cos() + along;
    (made_good > 0.0).then(|| Way { direction_deg: wrap_deg(track_deg - correction_deg), speed: made_good })
}

/// Course and speed through the water that make good a track at a speed over ground.
///
/// `None` where the current alone does it and there is no course.
pub fn course_and_speed(track_deg: f64, speed_made_good: f64, set_deg: f64, drift: f64) -> Option<Way> {
    sum((speed_made_good, track_deg), (-drift, set_deg))
}

fn sum((a, a_deg): (f64, f64), (b, b_deg): (f64, f64)) -> Option<Way> {
    let ((a_east, a_north), (b_east, b_north)) = (east_north(a, a_deg), east_north(b, b_deg));
    let (speed, direction_deg) = length_direction(a_east + b_east, a_north + b_north);
    direction_deg.map(|direction_deg| Way { direction_deg, speed })
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn a_current_too_strong_for_the_boat() {
        assert_eq!(course_to_steer(0.0, 2.0, 90.0, 2.5), None, "sets across faster than the boat goes");
        assert_eq!(course_to_steer(0.0, 2.0, 180.0, 2.5), None, "carries it backward");
        assert_eq!(course_to_steer(0.0, 0.0, 90.0, 0.0), None, "a boat that does not move");
    }

    proptest! {
        #[test]
        fn steering_makes_good_the_track(
            track in 0f64..360.0, speed in 1f64..10.0, set in 0f64..360.0, part in 0f64..0.95,
        ) {
            let steer = course_to_steer(track, speed, set, part * speed).unwrap();
            let back = made_good(steer.direction_deg, speed, set, part * speed).unwrap();
            prop_assert!(turn_deg(back.direction_deg, track).abs() < 1e-6);
            prop_assert!((back.speed - steer.speed).abs() < 1e-9);
            let both = course_and_speed(track, steer.speed, set, part * speed).unwrap();
            prop_assert!(turn_deg(both.direction_deg, steer.direction_deg).abs() < 1e-6);
            prop_assert!((both.speed - speed).abs() < 1e-9);
        }
    }
}
