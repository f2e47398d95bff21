//! In which depth, temperature, speed, distance to a break or light did the bites come, per hour of line in
//! that water?

use waterseam_tackle::Spell;

use crate::effort::EffortRow;
use crate::factor::{FACTORS, Factor};
use crate::place::PlacedBite;
use crate::rates::{Counted, Gamma};
use crate::scan::{Cluster, ScanSettings, Strata, Water};

/// Bins and levels.
#[derive(Clone, Debug, PartialEq)]
pub struct BandSettings {
    /// Width of a bin of depth or of height above the thermocline, m: about 10 ft, the step in which lines are set (common practice, no source).
    pub depth_step_m: f64,
    /// Width of a temperature bin, °C: a small part of any species' range.
    pub temp_step_c: f64,
    /// Width of a speed bin, m/s: about 0.2 mph, the step in which speed is changed (common practice, no
    /// source).
    pub stw_step_mps: f64,
    /// Width of the first bin of the distance to a break, m; each further bin is as wide as all before it.
    /// A bite is placed to some 30 m at trolling speed.
    pub break_distance_first_m: f64,
    /// Width of a bin of the sun's elevation, degrees: 40 minutes at the equator, an hour at mid latitudes.
    pub sun_step_deg: f64,
    /// Part of the posterior that the interval of a rate holds.
    pub level: f64,
    /// Greatest p-value, corrected for the factors, at which a band is called productive.
    pub p_value_max: f64,
    /// So far from a break its sides are compared, m: within reach of a boat that works it (common practice, no source).
    pub sides_within_m: f64,
    /// The scan.
    pub scan: ScanSettings,
}

impl Default for BandSettings {
    fn default() -> Self {
        Self {
            depth_step_m: 3.0,
            temp_step_c: 1.0,
            stw_step_mps: 0.1,
            break_distance_first_m: 100.0,
            sun_step_deg: 10.0,
            level: 0.9,
            p_value_max: 0.05,
            sides_within_m: 400.0,
            scan: ScanSettings::default(),
        }
    }
}

/// Effort and bites of one trip. Both refer to its spells.
#[derive(Clone, Copy, Debug)]
pub struct Fished<'a> {
    /// Spells.
    pub spells: &'a [Spell],
    /// Minutes, in order of time.
    pub effort: &'a [EffortRow],
    /// Bites.
    pub bites: &'a [PlacedBite],
}

/// A bin of one factor: a row of the table `bands`.
#[derive(Clone, Debug, PartialEq)]
pub struct Band {
    /// Factor.
    pub factor: Factor,
    /// Species, `*` for all.
    pub species: String,
    /// Lower end, in the unit of the factor.
    pub low: f64,
    /// Upper end.
    pub high: f64,
    /// Effort in it, rod-hours.
    pub rod_hours: f64,
    /// Bites in it.
    pub bites: u64,
    /// The rate; `None` where there were bites and no logged effort.
    pub rate: Option<Rate>,
    /// Whether it belongs to the productive band of the factor.
    pub in_productive_band: bool,
    /// Chance of a band like the best of this factor where the rate is the same everywhere; the same for
    /// all its bins. `None` where there was nothing to compare.
    pub band_p_value: Option<f64>,
    /// The same for the best of any factor: `band_p_value` corrected for the factors that were looked at.
    pub band_p_adjusted: Option<f64>,
}

/// Bites per rod-hour.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rate {
    /// The rate itself: of bands what was counted over the effort, with a prior the posterior's mean.
    pub per_rod_hour: f64,
    /// Lower end of the interval.
    pub low: f64,
    /// Upper end of the interval.
    pub high: f64,
}

/// Bites per rod-hour in bins of every factor, over one trip or several, for one species or (`None`) for all.
///
/// The bins of a factor run from the lowest to the highest with effort or bites; those with neither are left out.
/// Effort where the factor is not known takes no part, nor do bites where it is not. A bite counts in the
/// bin of the effort that it interrupted (its spell and minute), so that bites and hours are measured
/// alike; without a spell, in the bin of its own value.
///
/// # Method
/// Poisson counts. A rate is bites over rod-hours, as those of trips and seasons are and as whoever divides the two columns gets it, with the
/// interval of [`Gamma::JEFFREYS`], equal-tailed, which always holds it; down to 0 where nothing bit. Thin bins are not drawn toward the mean of
/// the trip: that mean is not known well enough itself to make their intervals narrower, and a rate of one estimate in the interval of another
/// lies at its end or outside. What draws them is the boat's other trips ([`prior_of_bins`](crate::prior_of_bins)), and then both. The
/// productive band of a factor is the likeliest of its runs of bins, if its p-value, corrected for the factors, is small
/// enough. Trips are compared within themselves: a day on which everything bit says nothing for its depth.
pub fn bands(trips: &[Fished], species: Option<&str>, settings: &BandSettings) -> Vec<Band> {
    bands_of_each(trips, &[species], settings).pop().unwrap_or_default()
}

/// The same for each of several species, one after the other: the effort is gone through once.
pub fn bands_of_each(trips: &[Fished], species: &[Option<&str>], settings: &BandSettings) -> Vec<Vec<Band>> {
    let effort: Vec<(Water<FACTORS, i64>, f64)> = trips
        .iter()
        .enumerate()
        .flat_map(|(stratum, trip)| {
            trip.effort.iter().map(move |row| (water(stratum, |f| f.of_effort(row), settings), row.rod_hours))
        })
        .collect();
    let bites: Vec<(&PlacedBite, Water<FACTORS, i64>)> = trips
        .iter()
        .enumerate()
        .flat_map(|(stratum, trip)| {
            trip.bites.iter().map(move |bite| {
                let own = match interrupted(trip.effort, bite) {
                    Some(row) => water(stratum, |f| f.of_effort(&trip.effort[row]), settings),
                    None => water(stratum, |f| f.of_bite(bite), settings),
                };
                (bite, own)
            })
        })
        .collect();
    let waters = || effort.iter().map(|(water, _)| water).chain(bites.iter().map(|(_, water)| water));
    let bins: [Vec<i64>; FACTORS] = std::array::from_fn(|f| {
        let mut bins: Vec<i64> = waters().filter_map(|water| water.bins[f]).collect();
        bins.sort_unstable();
        bins.dedup();
        bins
    });
    let index = |water: &Water<FACTORS, i64>| Water::<FACTORS> {
        stratum: water.stratum,
        bins: std::array::from_fn(|f| {
            let bin = water.bins[f]?;
            Some(bins[f].partition_point(|&other| other < bin))
        }),
    };
    let exposures: Vec<(Water<FACTORS>, f64)> =
        effort.iter().map(|(water, hours)| (index(water), *hours)).collect();
    let bites: Vec<(&PlacedBite, Water<FACTORS>)> =
        bites.iter().map(|(bite, water)| (*bite, index(water))).collect();
    let n_bins = std::array::from_fn(|f| bins[f].len());
    let strata = Strata::new(&exposures, n_bins);
    let fished: [Vec<Counted>; FACTORS] = std::array::from_fn(|f| {
        let mut fished = vec![Counted::default(); n_bins[f]];
        for (water, hours) in &exposures {
            if let Some(bin) = water.bins[f] {
                fished[bin].exposure += hours;
            }
        }
        fished
    });
    let all: Vec<&PlacedBite> = bites.iter().map(|(bite, _)| *bite).collect();
    let bands = of_each(&all, species, |is_counted| {
        let counted = bites.iter().zip(is_counted).filter(|(_, is_counted)| **is_counted);
        let events: Vec<Water<FACTORS>> = counted.map(|((_, water), _)| *water).collect();
        let clusters = strata.scan(&events, &settings.scan);
        let factors = Factor::ALL.into_iter().enumerate().zip(&clusters);
        factors
            .flat_map(|((f, factor), cluster)| {
                let mut counted = fished[f].clone();
                events.iter().filter_map(|water| water.bins[f]).for_each(|bin| counted[bin].count += 1);
                rows(&bins[f], &counted, factor, cluster.as_ref(), settings)
            })
            .collect::<Vec<Band>>()
    });
    bands.into_iter().zip(species).map(|(bands, species)| named(bands, *species)).collect()
}

/// What is found for the bites of each of several species, `None` being all; not twice where they are the same bites, as on
/// a trip that had one species.
pub(crate) fn of_each<T: Clone>(
    bites: &[&PlacedBite],
    species: &[Option<&str>],
    find: impl Fn(&[bool]) -> T,
) -> Vec<T> {
    let mut found: Vec<(Vec<bool>, T)> = Vec::with_capacity(species.len());
    for species in species {
        let is_counted: Vec<bool> =
            bites.iter().map(|bite| species.is_none() || bite.species.as_deref() == *species).collect();
        let known = found.iter().find(|(others, _)| *others == is_counted).map(|(_, found)| found.clone());
        let of_these = known.unwrap_or_else(|| find(&is_counted));
        found.push((is_counted, of_these));
    }
    found.into_iter().map(|(_, found)| found).collect()
}

fn named(bands: Vec<Band>, species: Option<&str>) -> Vec<Band> {
    let name = species.unwrap_or("*");
    bands.into_iter().map(|band| Band { species: name.to_owned(), ..band }).collect()
}

/// The bins that the values of a minute of effort or of a bite fall into.
fn water(stratum: usize, of: impl Fn(Factor) -> Option<f64>, settings: &BandSettings) -> Water<FACTORS, i64> {
    Water { stratum, bins: Factor::ALL.map(|factor| factor.bin(of(factor)?, settings)) }
}

/// The bins of one factor that were fished or had bites, for a species that has no name yet.
fn rows(
    bins: &[i64],
    counted: &[Counted],
    factor: Factor,
    cluster: Option<&Cluster>,
    settings: &BandSettings,
) -> Vec<Band> {
    let productive = cluster.filter(|c| c.p_value_of_all <= settings.p_value_max);
    let bins = bins.iter().zip(counted).enumerate();
    let was_there = |(_, (_, seen)): &(usize, (&i64, &Counted))| seen.count > 0 || seen.exposure > 0.0;
    bins.filter(was_there)
        .map(|(index, (&bin, &seen))| {
            let (low, high) = factor.edges(bin, settings);
            Band {
                factor,
                species: String::new(),
                low,
                high,
                rod_hours: seen.exposure,
                bites: seen.count,
                rate: rate(seen, settings.level),
                in_productive_band: productive.is_some_and(|c| c.bins.contains(&index)),
                band_p_value: cluster.map(|c| c.p_value),
                band_p_adjusted: cluster.map(|c| c.p_value_of_all),
            }
        })
        .collect()
}

/// A bite whose minute was not fished (the boat had stopped for the fish before) belongs to the minute of
/// its spell that is nearest, this far away at most, µs.
const INTERRUPTED_WITHIN_US: i64 = 5 * 60_000_000;

/// Index of the minute of effort that a bite interrupted.
pub(crate) fn interrupted(effort: &[EffortRow], bite: &PlacedBite) -> Option<usize> {
    let spell = bite.spell?;
    let minute_us = bite.time_us - bite.time_us.rem_euclid(60_000_000);
    let from = effort.partition_point(|row| row.time_us < minute_us - INTERRUPTED_WITHIN_US);
    let near =
        (from..effort.len()).take_while(|&row| effort[row].time_us <= minute_us + INTERRUPTED_WITHIN_US);
    near.filter(|&row| effort[row].spell == spell).min_by_key(|&row| (effort[row].time_us - minute_us).abs())
}

fn rate(seen: Counted, level: f64) -> Option<Rate> {
    let per_rod_hour = seen.rate()?;
    let (low, high) = Gamma::JEFFREYS.posterior(seen).interval(level)?;
    // no event speaks against no rate, however small (L. D. Brown, T. T. Cai & A. DasGupta, Statistical Science 16 (2001) 101–133, on
    // Jeffreys's interval; from memory)
    let low = if seen.count == 0 { 0.0 } else { low };
    Some(Rate { per_rod_hour, low, high })
}
