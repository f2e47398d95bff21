//! Angles in degrees, clockwise from north, and vectors that point along them.

/// Wraps an angle in degrees into `0.0..360.0`.
///
/// ```
/// assert_eq!(waterseam_units::angle::wrap_deg(-10.0), 350.0);
/// assert_eq!(waterseam_units::angle::wrap_deg(360.0), 0.0);
/// ```
pub fn wrap_deg(angle_deg: f64) -> f64 {
    // most angles are within a turn of the range, and take no division
    if (0.0..360.0).contains(&angle_deg) {
        return angle_deg;
    }
    if (360.0..720.0).contains(&angle_deg) {
        return angle_deg - 360.0;
    }
    let is_turn_before = -360.0 < angle_deg && angle_deg < 0.0;
    let wrapped = if is_turn_before { angle_deg + 360.0 } else { angle_deg.rem_euclid(360.0) };
    // -1e-20 rounds up to 360.0 itself
    if wrapped < 360.0 { wrapped } else { 0.0 }
}

/// Signed turn from one direction to another, degrees in `-180.0..180.0`, positive clockwise.
pub fn turn_deg(from_deg: f64, to_deg: f64) -> f64 {
    wrap_deg(to_deg - from_deg + 180.0) - 180.0
}

/// East and north components of a vector of the given length toward a direction.
///
/// `direction_deg` is clockwise from north; the result carries the unit of `length`.
pub fn east_north(length: f64, direction_deg: f64) -> (f64, f64) {
    let (sin, cos) = sin_cos_deg(direction_deg);
    (length * sin, length * cos)
}

/// Sine and cosine of an angle in degrees, to the last digit or the one before it: the nearest quarter turn is taken off
/// without an error, and of what is left, up to 45°, the series are those of fdlibm (k_sin.c and k_cos.c, Sun Microsystems
/// 1993; coefficients from memory, tested against the library).
fn sin_cos_deg(angle_deg: f64) -> (f64, f64) {
    /// Added and taken off again, this leaves a whole number, and it in the last bits of the sum.
    const WHOLE: f64 = 6_755_399_441_055_744.0;
    /// Beyond this the quarter turns are not counted so.
    const MOST_DEG: f64 = 1e6;
    const SIN: [f64; 6] = [
        1.589_690_995_211_55e-10,
        -2.505_076_025_340_686_3e-8,
        2.755_731_370_707_007e-6,
        -1.984_126_982_985_795e-4,
        8.333_333_333_322_49e-3,
        -1.666_666_666_666_663_2e-1,
    ];
    const COS: [f64; 6] = [
        -1.135_964_755_778_819_5e-11,
        2.087_572_321_298_175e-9,
        -2.755_731_435_139_066_4e-7,
        2.480_158_728_947_673e-5,
        -1.388_888_888_887_411e-3,
        4.166_666_666_666_66e-2,
    ];
    if angle_deg.is_nan() || angle_deg.abs() > MOST_DEG {
        return angle_deg.to_radians().sin_cos();
    }
    let quarters = angle_deg / 90.0 + WHOLE;
    let left = (angle_deg - 90.0 * (quarters - WHOLE)).to_radians();
    let square = left * left;
    let nested = |terms: [f64; 6]| terms.into_iter().fold(0.0, |inner, term| inner * square + term);
    let sin = left + left * square * nested(SIN);
    let cos = 1.0 - (0.5 * square - square * square * nested(COS));
    match quarters.to_bits() & 3 {
        0 => (sin, cos),
        1 => (cos, -sin),
        2 => (-sin, -cos),
        _ => (-cos, sin),
    }
}

/// Squares in this range are as exact as any number: neither too large nor too small for one.
const SQUARED: std::ops::Range<f64> = 1e-250..1e250;

/// Length and direction (degrees, `0.0..360.0`, clockwise from north) of a vector.
///
/// The direction of a vector without length is unknown: `None`.
pub fn length_direction(east: f64, north: f64) -> (f64, Option<f64>) {
    let squares = east * east + north * north;
    let length = if SQUARED.contains(&squares) { squares.sqrt() } else { east.hypot(north) };
    let direction = (length > 0.0).then(|| wrap_deg(east.atan2(north).to_degrees()));
    (length, direction)
}

/// Two directions further apart may cancel, degrees.
const NEARLY_OPPOSITE_DEG: f64 = 179.0;

/// Mean of directions in degrees, as the direction of the sum of their unit vectors.
///
/// `None` for no directions and for directions that cancel. One direction is its own mean, and the mean of two that are not
/// nearly opposite lies halfway between them: neither takes trigonometry.
pub fn mean_direction_deg(directions_deg: impl IntoIterator<Item = f64>) -> Option<f64> {
    let mut directions_deg = directions_deg.into_iter();
    let first = directions_deg.next()?;
    let Some(second) = directions_deg.next() else {
        return first.is_finite().then(|| wrap_deg(first));
    };
    let third = directions_deg.next();
    let turn = turn_deg(first, second);
    if third.is_none() && turn.abs() < NEARLY_OPPOSITE_DEG {
        return Some(wrap_deg(first + turn / 2.0));
    }
    let (mut east, mut north, mut n) = (0.0, 0.0, 0.0);
    for direction in [first, second].into_iter().chain(third).chain(directions_deg) {
        let (e, k) = east_north(1.0, direction);
        east += e;
        north += k;
        n += 1.0;
    }
    let (length, direction) = length_direction(east, north);
    if length > 1e-9 * n { direction } else { None }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn mean_of_directions_about_north() {
        assert!(turn_deg(0.0, mean_direction_deg([350.0, 10.0]).unwrap()).abs() < 1e-9);
        assert_eq!(mean_direction_deg([0.0, 180.0]), None);
        assert_eq!(mean_direction_deg([]), None);
    }

    proptest! {
        #[test]
        fn wrap_stays_in_range(a in -1e6f64..1e6) {
            let w = wrap_deg(a);
            prop_assert!((0.0..360.0).contains(&w));
        }

        #[test]
        fn wrap_is_the_remainder_bit_by_bit(a in -800f64..800.0) {
            for angle in [a, a.round(), 360.0 * (a / 360.0).round()] {
                let want = angle.rem_euclid(360.0);
                prop_assert_eq!(wrap_deg(angle).to_bits(), if want < 360.0 { want } else { 0.0 }.to_bits());
            }
        }

        #[test]
        fn one_direction_is_its_own_mean(a in -720f64..720.0) {
            let both = mean_direction_deg([a, a]).unwrap();
            prop_assert!(turn_deg(mean_direction_deg([a]).unwrap(), both).abs() < 1e-9);
        }

        #[test]
        fn the_mean_of_two_directions_is_that_of_their_vectors(a in -720f64..720.0, b in -720f64..720.0) {
            let ((ae, an), (be, bn)) = (east_north(1.0, a), east_north(1.0, b));
            let (length, sum) = length_direction(ae + be, an + bn);
            prop_assume!(length > 1e-3);
            let mean = mean_direction_deg([a, b]).unwrap();
            prop_assert!(turn_deg(mean, sum.unwrap()).abs() < 1e-12 / length, "{mean} {sum:?}");
        }

        #[test]
        fn turn_leads_to_the_target(a in 0f64..360.0, b in 0f64..360.0) {
            let turn = turn_deg(a, b);
            prop_assert!((-180.0..=180.0).contains(&turn));
            prop_assert!(turn_deg(wrap_deg(a + turn), b).abs() < 1e-9);
        }

        #[test]
        fn sine_and_cosine_are_as_good_as_those_of_the_library(a in -1e3f64..1e3, wide in -2e6f64..2e6) {
            for angle in [a, a.round(), 45.0 * (a / 45.0).round(), 15.0 * (a / 15.0).round(), wide] {
                let ((sin, cos), (want_sin, want_cos)) = (sin_cos_deg(angle), angle.to_radians().sin_cos());
                // radians are rounded before the library sees them: 180ths of π to 1.7e-17, products with them to 1.11e-16
                let rounded = 3e-16 + 1.29e-16 * angle.abs().to_radians();
                prop_assert!((sin - want_sin).abs() < rounded, "sin {angle}: {sin} {want_sin}");
                prop_assert!((cos - want_cos).abs() < rounded, "cos {angle}: {cos} {want_cos}");
                prop_assert!((sin * sin + cos * cos - 1.0).abs() < 5e-16);
            }
        }

        #[test]
        fn vector_there_and_back(length in 1e-3f64..1e3, direction in 0f64..360.0) {
            let (e, n) = east_north(length, direction);
            let (l, d) = length_direction(e, n);
            prop_assert!((l - length).abs() < 1e-9 * length);
            prop_assert!(turn_deg(direction, d.unwrap()).abs() < 1e-9);
        }
    }
}
