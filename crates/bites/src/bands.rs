//! In which depth, temperature, speed, distance to a break or light did the bites come, per hour of line in
//! that water?

use std::collections::BTreeMap;

use crate::effort::EffortRow;
use crate::place::PlacedBite;
use crate::rates::{Counted, Gamma};
use crate::scan::{ScanSettings, scan};

/// What is compared.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Factor {
    /// Running depth, m.
    Depth,
    /// Temperature at the lure, °C.
    TempAtDepth,
    /// Speed through the water, m/s.
    Stw,
    /// Distance to the nearest break, m.
    BreakDistance,
    /// Elevation of the sun, degrees.
    SunElevation,
}

impl Factor {
    /// All factors, in the order of the tables.
    pub const ALL: [Self; 5] =
        [Self::Depth, Self::TempAtDepth, Self::Stw, Self::BreakDistance, Self::SunElevation];

    /// The word of the tables: the column that the factor is.
    pub fn word(self) -> &'static str {
        match self {
            Self::Depth => "depth_m",
            Self::TempAtDepth => "temp_at_depth_c",
            Self::Stw => "stw_mps",
            Self::BreakDistance => "break_distance_m",
            Self::SunElevation => "sun_elevation_deg",
        }
    }

    fn of_effort(self, row: &EffortRow) -> Option<f64> {
        match self {
            Self::Depth => row.depth_m,
            Self::TempAtDepth => row.temp_at_depth_c,
            Self::Stw => row.stw_mps,
            Self::BreakDistance => row.break_distance_m,
            Self::SunElevation => Some(row.sun_elevation_deg),
        }
    }

    fn of_bite(self, bite: &PlacedBite) -> Option<f64> {
        match self {
            Self::Depth => bite.depth_m,
            Self::TempAtDepth => bite.temp_at_depth_c,
            Self::Stw => bite.stw_mps,
            Self::BreakDistance => bite.break_distance_m,
            Self::SunElevation => Some(bite.sun_elevation_deg),
        }
    }
}

/// Bins and levels.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BandSettings {
    /// Width of a depth bin, m: about 10 ft, the step in which lines are set (common practice, no source).
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
    /// Greatest p-value of the scan at which its band is called productive.
    pub p_value_max: f64,
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
            scan: ScanSettings::default(),
        }
    }
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
}

/// Bites per rod-hour.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rate {
    /// Posterior mean.
    pub per_rod_hour: f64,
    /// Lower end of the interval.
    pub low: f64,
    /// Upper end of the interval.
    pub high: f64,
}

/// Bites per rod-hour in bins of one factor, for one species or (`None`) for all.
///
/// The bins run from the lowest to the highest with effort or bites; those with neither are left out.
/// Effort where the factor is not known takes no part, nor do bites where it is not. A bite counts in the
/// bin of the effort that it interrupted (its spell and minute), so that bites and hours are measured
/// alike; without a spell, in the bin of its own value.
///
/// # Method
/// Poisson counts with the prior [`Gamma::weak`] of this factor's own total, equal-tailed posterior
/// interval. The productive band is that of [`scan`], if its p-value is small enough; it is not corrected
/// for the factors that are looked at.
pub fn bands(
    effort: &[EffortRow],
    bites: &[PlacedBite],
    factor: Factor,
    species: Option<&str>,
    settings: &BandSettings,
) -> Vec<Band> {
    let mut bins: BTreeMap<i64, Counted> = BTreeMap::new();
    for row in effort {
        if let Some(bin) = factor.of_effort(row).and_then(|value| settings.bin(factor, value)) {
            bins.entry(bin).or_default().exposure += row.rod_hours;
        }
    }
    for bite in bites.iter().filter(|bite| species.is_none() || bite.species.as_deref() == species) {
        let value = match interrupted(effort, bite) {
            Some(row) => factor.of_effort(row),
            None => factor.of_bite(bite),
        };
        if let Some(bin) = value.and_then(|value| settings.bin(factor, value)) {
            bins.entry(bin).or_default().count += 1;
        }
    }
    let counted: Vec<Counted> = bins.values().copied().collect();
    let exposed = counted.iter().filter(|bin| bin.exposure > 0.0).copied().collect::<Vec<_>>();
    let prior = Gamma::weak(Counted::total(&exposed));
    let cluster = scan(&counted, &settings.scan);
    let productive = cluster.as_ref().filter(|c| c.p_value <= settings.p_value_max);
    bins.iter()
        .enumerate()
        .map(|(index, (&bin, &seen))| {
            let (low, high) = settings.edges(factor, bin);
            Band {
                factor,
                species: species.unwrap_or("*").to_owned(),
                low,
                high,
                rod_hours: seen.exposure,
                bites: seen.count,
                rate: rate(prior, seen, settings.level),
                in_productive_band: productive.is_some_and(|c| c.bins.contains(&index)),
                band_p_value: cluster.as_ref().map(|c| c.p_value),
            }
        })
        .collect()
}

impl BandSettings {
    /// Bin that a value falls into; `None` for a value that is not finite.
    fn bin(&self, factor: Factor, value: f64) -> Option<i64> {
        if !value.is_finite() {
            return None;
        }
        Some(match factor {
            Factor::BreakDistance => {
                let firsts = value.max(0.0) / self.break_distance_first_m;
                if firsts < 1.0 { 0 } else { firsts.log2().floor() as i64 + 1 }
            }
            _ => (value / self.step(factor)).floor() as i64,
        })
    }

    fn edges(&self, factor: Factor, bin: i64) -> (f64, f64) {
        match factor {
            Factor::BreakDistance => {
                let edge = |bin: i64| self.break_distance_first_m * 2f64.powi(bin as i32);
                (if bin == 0 { 0.0 } else { edge(bin - 1) }, edge(bin))
            }
            _ => (bin as f64 * self.step(factor), (bin + 1) as f64 * self.step(factor)),
        }
    }

    fn step(&self, factor: Factor) -> f64 {
        match factor {
            Factor::Depth => self.depth_step_m,
            Factor::TempAtDepth => self.temp_step_c,
            Factor::Stw => self.stw_step_mps,
            Factor::BreakDistance => self.break_distance_first_m,
            Factor::SunElevation => self.sun_step_deg,
        }
    }
}

/// A bite whose minute was not fished (the boat had stopped for the fish before) belongs to the minute of
/// its spell that is nearest, this far away at most, µs.
const INTERRUPTED_WITHIN_US: i64 = 5 * 60_000_000;

/// The minute of effort that a bite interrupted.
fn interrupted<'a>(effort: &'a [EffortRow], bite: &PlacedBite) -> Option<&'a EffortRow> {
    let spell = bite.spell?;
    let minute_us = bite.time_us - bite.time_us.rem_euclid(60_000_000);
    let from = effort.partition_point(|row| row.time_us < minute_us - INTERRUPTED_WITHIN_US);
    let near = effort[from..].iter().take_while(|row| row.time_us <= minute_us + INTERRUPTED_WITHIN_US);
    near.filter(|row| row.spell == spell).min_by_key(|row| (row.time_us - minute_us).abs())
}

fn rate(prior: Gamma, seen: Counted, level: f64) -> Option<Rate> {
    if seen.exposure <= 0.0 {
        return None;
    }
    let posterior = prior.posterior(seen);
    let (low, high) = posterior.interval(level)?;
    Some(Rate { per_rod_hour: posterior.mean()?, low, high })
}
