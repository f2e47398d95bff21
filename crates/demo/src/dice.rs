//! Where do random numbers come from, so that a seed gives the same trip everywhere?
//!
//! ChaCha8, one stream for each part of the day, so that more noise in one instrument moves no other. Uniform and
//! normal numbers are made here: how a library draws them may change with its version, the cipher may not.

use std::f64::consts::TAU;

use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng, SeedableRng};

/// Part of the day that draws its own numbers.
#[derive(Clone, Copy, Debug)]
pub(crate) enum Stream {
    Day = 1,
    Fronts,
    Helm,
    Position,
    Hull,
    Edge,
    Dirt,
    Lines,
    Bites,
    Probe,
    Notes,
    Calendar,
    Weather,
    Handling,
    Below,
    ProbeSpeed,
    Years,
}

/// Random numbers of one stream.
pub(crate) struct Dice(ChaCha8Rng);

impl Dice {
    pub(crate) fn new(seed: u64, stream: Stream) -> Self {
        let mut generator = ChaCha8Rng::seed_from_u64(seed);
        generator.set_stream(stream as u64);
        Self(generator)
    }

    /// Uniform in `0.0..1.0`, with 53 random bits.
    pub(crate) fn unit(&mut self) -> f64 {
        (self.0.next_u64() >> 11) as f64 / (1_u64 << 53) as f64
    }

    pub(crate) fn uniform(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.unit()
    }

    /// Uniform, rounded to decimal places, so that a parameter reads well in the truth.
    pub(crate) fn rounded(&mut self, low: f64, high: f64, places: i32) -> f64 {
        round(self.uniform(low, high), places)
    }

    /// Whole number, uniform in `low..=high`.
    pub(crate) fn whole(&mut self, low: u64, high: u64) -> u64 {
        low + (self.unit() * (high - low + 1) as f64) as u64
    }

    pub(crate) fn chance(&mut self, p: f64) -> bool {
        self.unit() < p
    }

    pub(crate) fn sign(&mut self) -> f64 {
        if self.chance(0.5) { 1.0 } else { -1.0 }
    }

    pub(crate) fn pick<'a, T>(&mut self, of: &'a [T]) -> &'a T {
        &of[self.whole(0, of.len() as u64 - 1) as usize]
    }

    /// Standard normal (Box and Muller 1958, one of the pair).
    pub(crate) fn normal(&mut self) -> f64 {
        let radius = (-2.0 * (1.0 - self.unit()).ln()).sqrt();
        radius * (TAU * self.unit()).cos()
    }

    /// Seed for another set of dice.
    pub(crate) fn seed(&mut self) -> u64 {
        self.0.next_u64()
    }
}

/// A value that wanders about zero: first-order autoregression with a standard deviation and a memory in steps.
pub(crate) struct Wander {
    value: f64,
    keep: f64,
    kick: f64,
}

impl Wander {
    pub(crate) fn new(sd: f64, memory_steps: f64) -> Self {
        let keep = (-1.0 / memory_steps).exp();
        Self { value: 0.0, keep, kick: sd * (1.0 - keep * keep).sqrt() }
    }

    pub(crate) fn step(&mut self, dice: &mut Dice) -> f64 {
        self.value = self.keep * self.value + self.kick * dice.normal();
        self.value
    }
}

/// Rounds to decimal places.
pub(crate) fn round(value: f64, places: i32) -> f64 {
    let scale = 10_f64.powi(places);
    (value * scale).round() / scale
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn streams_differ_and_repeat() {
        let first = |stream| Dice::new(7, stream).seed();
        assert_eq!(first(Stream::Helm), first(Stream::Helm));
        assert_ne!(first(Stream::Helm), first(Stream::Hull));
    }

    #[test]
    fn normal_has_mean_zero_and_sd_one() {
        let mut dice = Dice::new(1, Stream::Day);
        let n = 40_000;
        let draws: Vec<f64> = (0..n).map(|_| dice.normal()).collect();
        let mean = draws.iter().sum::<f64>() / f64::from(n);
        let variance = draws.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / f64::from(n);
        // five standard errors: 1/sqrt(n) and sqrt(2/n)
        assert!(mean.abs() < 5.0 / f64::from(n).sqrt(), "{mean}");
        assert!((variance - 1.0).abs() < 5.0 * (2.0 / f64::from(n)).sqrt(), "{variance}");
    }

    #[test]
    fn whole_numbers_reach_both_ends() {
        let mut dice = Dice::new(2, Stream::Day);
        let drawn: Vec<u64> = (0..200).map(|_| dice.whole(3, 5)).collect();
        assert_eq!((drawn.iter().min(), drawn.iter().max()), (Some(&3), Some(&5)));
    }
}
