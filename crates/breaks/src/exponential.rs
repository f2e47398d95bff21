//! What are the exponential and the hyperbolic tangent of many numbers?
//!
//! Without a branch and without a call, so that the compiler works on as many numbers at once as the machine has lanes.

/// The exponential of a number that is not above zero: a power of two times that of what is left, by its series.
// only where it is inlined it is compiled for the wider lanes
#[allow(clippy::inline_always)]
#[inline(always)]
pub(crate) fn exp(x: f64) -> f64 {
    /// Smaller ones are next to nothing, and below any number soon after.
    const LEAST: f64 = -700.0;
    /// Added to a number, it leaves only whole ones (Hacker's Delight, from memory).
    const WHOLE: f64 = 6_755_399_441_055_744.0;
    /// ln 2 in two parts, the first with zeros at its end, so that a whole number of times it is exact (fdlibm, from
    /// memory).
    const LN_2: [f64; 2] = [6.931_471_803_691_238e-1, 1.908_214_929_270_587_7e-10];
    let x = if x < LEAST { LEAST } else { x };
    let shifted = x * std::f64::consts::LOG2_E + WHOLE;
    let twos = shifted - WHOLE;
    let r = x - twos * LN_2[0] - twos * LN_2[1];
    // no more than half of ln 2: the next term is below a 10⁻¹⁶th
    let (r2, r4) = (r * r, (r * r) * (r * r));
    let first = (1.0 + r) + r2 * (0.5 + r * (1.0 / 6.0));
    let second = (1.0 / 24.0 + r * (1.0 / 120.0)) + r2 * (1.0 / 720.0 + r * (1.0 / 5_040.0));
    let third = (1.0 / 40_320.0 + r * (1.0 / 362_880.0))
        + r2 * (1.0 / 3_628_800.0 + r * (1.0 / 39_916_800.0))
        + r4 * (1.0 / 479_001_600.0);
    let series = first + r4 * (second + r4 * third);
    series * f64::from_bits((shifted.to_bits() << 52).wrapping_add(1_f64.to_bits()))
}

/// The hyperbolic tangent, within 10⁻¹⁵.
// only where it is inlined it is compiled for the wider lanes
#[allow(clippy::inline_always)]
#[inline(always)]
pub(crate) fn tanh(x: f64) -> f64 {
    let small = exp(-2.0 * x.abs());
    ((1.0 - small) / (1.0 + small)).copysign(x)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn ends_of_the_exponential() {
        assert_eq!((exp(0.0), exp(-0.0)), (1.0, 1.0));
        assert!(exp(-1e300) < 1e-300 && exp(f64::NEG_INFINITY) < 1e-300 && exp(f64::NAN).is_nan());
    }

    proptest! {
        /// Source: the standard library.
        #[test]
        fn the_exponential_is_that_of_the_standard_library(x in -690f64..0.0) {
            prop_assert!((exp(x) / x.exp() - 1.0).abs() <= 1e-15, "{}", x);
        }

        /// Source: the standard library.
        #[test]
        fn the_tangent_is_that_of_the_standard_library(x in -40f64..40.0) {
            prop_assert!((tanh(x) - x.tanh()).abs() <= 1e-15, "{}", x);
        }
    }
}
