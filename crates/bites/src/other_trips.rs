//! What do the boat's other trips say of the rate of one?
//!
//! A short trip without a bite is no proof of empty water where forty others brought one an hour, and four bites in the first hour are
//! no proof that there are four in every hour. The others say how much trips differ; as much as that leaves open the trip decides itself.

use crate::bands::Rate;
use crate::rates::{Counted, Gamma, Mixture};

/// Fewest other trips with rods out, and fewest bites on them, that say how trips differ (the coverage of simulated seasons in the tests).
const LEAST_TRIPS: usize = 8;
const LEAST_BITES: u64 = 24;
/// Fewest bins, each of one trip, from which a prior of bins is learned, and fewest bites in them: below, what they say of how rates differ is
/// chance (the coverage of simulated trips in the tests).
const LEAST_BINS: usize = 24;
const LEAST_BITES_IN_BINS: u64 = 24;

/// The rate of a trip by itself, a weak prior about its own mean; `None` without rod-hours.
pub fn by_itself(trip: Counted, level: f64) -> Option<Rate> {
    with_prior(&Gamma::weak(trip).into(), trip, level)
}

/// The rate of a trip with what the boat's other trips say (empirical Bayes, [`Mixture::learned`]); `None` without rod-hours, or where the
/// others are too few.
pub fn with_others(trip: Counted, others: &[Counted], level: f64) -> Option<Rate> {
    let trips = others.iter().filter(|other| other.exposure > 0.0).count();
    let enough = trips >= LEAST_TRIPS && Counted::total(others).count >= LEAST_BITES;
    let prior = enough.then(|| Mixture::learned(others)).flatten()?;
    with_prior(&prior, trip, level)
}

/// What the bins of one factor are drawn from, by those of the boat's other trips, each of one trip (empirical Bayes, [`Mixture::learned`]).
/// `None` where they say too little.
pub fn prior_of_bins(of_others: &[Counted]) -> Option<Mixture> {
    let bins = of_others.iter().filter(|bin| bin.exposure > 0.0).count();
    let enough = bins >= LEAST_BINS && Counted::total(of_others).count >= LEAST_BITES_IN_BINS;
    enough.then(|| Mixture::learned(of_others)).flatten()
}

/// The rate of a trip, or of a bin of one, with a prior; `None` without rod-hours.
pub fn with_prior(prior: &Mixture, seen: Counted, level: f64) -> Option<Rate> {
    if seen.exposure <= 0.0 {
        return None;
    }
    let posterior = prior.posterior(seen);
    let (low, high) = posterior.interval(level)?;
    Some(Rate { per_rod_hour: posterior.mean()?, low, high })
}

#[cfg(test)]
mod tests {
    use rand::{RngExt, SeedableRng};
    use rand_chacha::ChaCha8Rng;
    use rand_distr::{Distribution, Normal, Poisson};

    use super::*;

    /// Goal, written before anything was scored: what nominal 90 % intervals hold. How much narrower others make them is printed: others
    /// that differ by 0.6 take a tenth off, those that differ by 0.3 a quarter.
    const COVERAGE: std::ops::RangeInclusive<f64> = 0.87..=0.93;
    /// Seeds below were looked at while it was made.
    const SCORED_FROM: u64 = 50_000;
    const SEASONS: u64 = 600;

    /// A season of trips: true rate and what was counted. Rates differ by a lognormal spread, rods are out for 4 to 40 hours.
    fn season(trips: usize, spread: f64, random: &mut ChaCha8Rng) -> Vec<(f64, Counted)> {
        let mean = 0.1 * 10f64.powf(random.random::<f64>());
        let luck = Normal::new(0.0, spread).expect("a spread");
        (0..trips)
            .map(|_| {
                let (rate, exposure): (f64, f64) =
                    (mean * f64::exp(luck.sample(random)), random.random_range(4.0..40.0));
                let count: f64 = Poisson::new(rate * exposure).expect("a rate").sample(random);
                (rate, Counted { count: count as u64, exposure })
            })
            .collect()
    }

    #[test]
    fn intervals_hold_the_rate_and_other_trips_make_them_narrower() {
        for (trips, spread) in [(9, 0.3), (9, 0.6), (20, 0.3), (20, 0.6), (60, 0.5)] {
            let (mut held, mut held_alone, mut all, mut width, mut width_alone) = (0, 0, 0, 0.0, 0.0);
            for seed in SCORED_FROM..SCORED_FROM + SEASONS {
                let season = season(trips, spread, &mut ChaCha8Rng::seed_from_u64(seed));
                let [(truth, last), others @ ..] = &season[..] else { panic!("a season") };
                let others: Vec<Counted> = others.iter().map(|(_, counted)| *counted).collect();
                let (Some(with), Some(alone)) = (with_others(*last, &others, 0.9), by_itself(*last, 0.9))
                else {
                    continue;
                };
                all += 1;
                held += u32::from((with.low..=with.high).contains(truth));
                held_alone += u32::from((alone.low..=alone.high).contains(truth));
                width += with.high - with.low;
                width_alone += alone.high - alone.low;
            }
            let (part, part_alone) =
                (f64::from(held) / f64::from(all), f64::from(held_alone) / f64::from(all));
            println!(
                "{trips} trips that differ by {spread}: {all} scored, alone {part_alone:.3}, with others {part:.3}; {:.2} as wide",
                width / width_alone
            );
            assert!(COVERAGE.contains(&part), "{part} of 90 % intervals");
            assert!(width < width_alone, "{width} {width_alone}");
        }
    }

    #[test]
    fn others_draw_a_thin_trip_more_than_a_long_one() {
        let others = vec![Counted { count: 10, exposure: 20.0 }; 12];
        let gap = |trip| with_others(trip, &others, 0.9).unwrap().per_rod_hour - 0.5;
        let (thin, long) =
            (gap(Counted { count: 0, exposure: 2.0 }), gap(Counted { count: 0, exposure: 60.0 }));
        assert!(thin > long && thin < 0.0 && long > -0.5, "{thin} {long}");
    }

    #[test]
    fn nothing_is_said_without_hours_or_with_few_others() {
        let trip = Counted { count: 2, exposure: 5.0 };
        let other = Counted { count: 9, exposure: 10.0 };
        assert_eq!(with_others(trip, &[other; 7], 0.9), None);
        assert_eq!(with_others(trip, &[Counted { count: 0, exposure: 9.0 }; 30], 0.9), None);
        assert!(with_others(trip, &[other; 8], 0.9).is_some());
        assert_eq!(with_others(Counted::default(), &[other; 8], 0.9), None);
        assert_eq!(by_itself(Counted::default(), 0.9), None);
    }
}
