//! Which places are hot, and by how much, and how sure is that?

use std::collections::{BTreeMap, BTreeSet};

use crate::habitat::Quartiles;
use crate::luck::{self, Chain};
use crate::season::SeasonPart;
use crate::tally::{Bite, Tally, Visit};
use crate::witnesses;

/// Settings of the layer.
#[derive(Clone, Debug, PartialEq)]
pub struct Settings {
    /// H3 resolution of its cells, 0 to 9. 7 is a hexagon of about 5 km², an hour's trolling.
    pub resolution: u8,
    /// How the season is divided.
    pub division: SeasonPart,
    /// Bites of one species; `None`: all.
    pub species: Option<String>,
    /// A hot place produces at least this many times the mean of its part of the season.
    pub hot_times: f64,
    /// ... more likely than not.
    pub hot_chance_alone: f64,
    /// ... with this probability, where a witness speaks for it: what it knows is not in the rates, which draw every place toward the mean. On
    /// invented lakes (seeds 200 to 211 of `tests/scored_hotspots`) 92 of 100 places that are called hot are, and 82 of 100 that are hot are called so.
    pub hot_chance: f64,
    /// ... and with at least this effort, rod-hours: what a boat with six rods does in about an hour and a half is no knowledge of years.
    pub hot_rod_hours_min: f64,
    /// A witness speaks for a place up to this chance of a false one: the adjusted p-value of Gi*, and the p-value of the search.
    pub witness_p_max: f64,
    /// No place is hot unless the search over all places and parts finds a group with at most this p-value: on a lake that is the same everywhere
    /// nothing is hot in 95 of 100 logbooks or more, whatever the rates say.
    pub search_p_max: f64,
    /// Draws of the null; 199 tell a p-value in steps of 0.005.
    pub draws: u32,
    /// Seed of the draws: the same input gives the same p-values.
    pub seed: u64,
}

impl Default for Settings {
    fn default() -> Self {
        Self {
            resolution: 7,
            division: SeasonPart::Month,
            species: None,
            hot_times: 2.0,
            hot_chance: 0.35,
            hot_chance_alone: 0.5,
            hot_rod_hours_min: 10.0,
            witness_p_max: 0.1,
            search_p_max: 0.05,
            draws: 199,
            seed: 0x5EA_5EA,
        }
    }
}

/// The chain of the layer: enough that the ends of an interval are good to a twentieth of its length (tested).
const CHAIN: Chain = Chain { warm_up: 600, kept: 800, thinning: 3, seed: 0x5EA_5EA };

/// What is known of a cell in a part of the season.
#[derive(Clone, Debug, PartialEq)]
pub struct Hotspot {
    /// H3 cell.
    pub cell: u64,
    /// The part of the season in a word.
    pub season_part: String,
    /// Number of that part, from 0.
    pub part: usize,
    /// Trips that fished it.
    pub trips: usize,
    /// Years in which it was fished.
    pub years: usize,
    /// Years with a bite.
    pub years_with_bites: usize,
    /// Years in which it gave more than the same trips had elsewhere.
    pub years_above: usize,
    /// Effort; 0 where it was only run through.
    pub rod_hours: f64,
    /// Way run in it, m.
    pub run_m: f64,
    /// Bites.
    pub bites: usize,
    /// Bites a rod-hour; `None` without effort.
    pub rate_raw: Option<f64>,
    /// What is known of its rate; `None` without effort.
    pub rate: Option<Rate>,
    /// Getis-Ord Gi*: normal deviate.
    pub gi_star_z: Option<f64>,
    /// Its p-value.
    pub gi_star_p: Option<f64>,
    /// The same, adjusted for the number of places.
    pub gi_star_q: Option<f64>,
    /// Group of places of the search that it belongs to, from 1, the strongest first.
    pub cluster: Option<usize>,
    /// P-value of that group.
    pub cluster_p: Option<f64>,
    /// Whether it is hot.
    pub hot: bool,
    /// Depth of the bites, m.
    pub depth_m: Option<Quartiles>,
    /// Temperature there, °C.
    pub temp_c: Option<Quartiles>,
    /// Temperature at the surface over the bites, °C.
    pub bite_surface_temp_c: Option<Quartiles>,
    /// Temperature at the surface, mean under the effort, °C.
    pub surface_temp_c: Option<f64>,
    /// Breaks crossed in each km run.
    pub breaks_per_km: Option<f64>,
}

/// What is known of a rate.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rate {
    /// Posterior mean at average luck, bites a rod-hour.
    pub mean: f64,
    /// 90 % interval.
    pub low: f64,
    /// Its upper end.
    pub high: f64,
    /// Over the mean of its part of the season.
    pub times_average: f64,
    /// 90 % interval of that.
    pub times_low: f64,
    /// Its upper end.
    pub times_high: f64,
    /// Probability that it is at least [`Settings::hot_times`] that mean.
    pub chance: f64,
    /// Rod-hours more after which its interval would leave the mean of its part, if it went on as it is; `None` where it has, or where it is the mean.
    pub more_rod_hours: Option<f64>,
}

/// The layer: a row for every cell and part of the season in which a trip ran, by part, then by cell.
///
/// Bites in cells in which the trip had no effort are counted, and tell no rate.
pub fn layer(visits: &[Visit], bites: &[Bite], settings: &Settings) -> Vec<Hotspot> {
    let wanted = |bite: &Bite| settings.species.is_none() || bite.species == settings.species;
    let tally = Tally::new(visits, bites, settings.resolution, settings.division, wanted);
    let ones: Vec<Vec<f64>> = tally.trips.iter().map(|trip| vec![1.0; trip.pieces.len()]).collect();
    let fit = luck::fit(&tally, &ones, CHAIN);
    let witnesses = witnesses::ask(&tally, settings.draws, settings.seed);
    let mut group = vec![None; tally.places.len()];
    for (number, cluster) in witnesses.clusters.iter().enumerate() {
        for &place in &cluster.places {
            group[place] = Some((number + 1, cluster.p_value));
        }
    }
    let not_even = witnesses.clusters.iter().any(|cluster| cluster.p_value <= settings.search_p_max);
    let years = Years::new(&tally);
    let mut rows: Vec<Hotspot> = Vec::with_capacity(tally.places.len());
    for (index, place) in tally.places.iter().enumerate() {
        let (sums, bitten) = (tally.sums[index], &tally.bites[index]);
        let rate = fit.places[index].as_ref().map(|known| {
            let (mean, times_average) = (known.rate(), known.times());
            let (low, high) = known.rate_interval(0.9);
            let (times_low, times_high) = known.times_interval(0.9);
            let is_told = times_low > 1.0 || times_high < 1.0;
            let more = more_rod_hours(times_average, mean / times_average, sums.rod_hours());
            Rate {
                mean,
                low,
                high,
                times_average,
                times_low,
                times_high,
                chance: known.chance(settings.hot_times),
                more_rod_hours: more.filter(|_| !is_told),
            }
        });
        let gi_star = witnesses.gi_star[index];
        let spoken_for = gi_star.is_some_and(|gi| gi.q <= settings.witness_p_max)
            || group[index].is_some_and(|(_, p)| p <= settings.witness_p_max);
        let chance = if spoken_for { settings.hot_chance } else { settings.hot_chance_alone };
        let of = |value: fn(&Bite) -> Option<f64>| {
            Quartiles::of(bitten.iter().filter_map(|&bite| value(&bites[bite])))
        };
        rows.push(Hotspot {
            cell: place.cell,
            season_part: settings.division.name(place.part),
            part: place.part,
            trips: years.trips[index],
            years: years.fished[index].len(),
            years_with_bites: years.bitten[index].len(),
            years_above: years.above(index),
            rod_hours: sums.rod_hours(),
            run_m: sums.run_m(),
            bites: bitten.len(),
            rate_raw: (sums.rod_hours() > 0.0).then(|| bitten.len() as f64 / sums.rod_hours()),
            hot: not_even
                && sums.rod_hours() >= settings.hot_rod_hours_min
                && rate.is_some_and(|rate| rate.chance >= chance),
            rate,
            gi_star_z: gi_star.map(|gi| gi.z),
            gi_star_p: gi_star.map(|gi| gi.p),
            gi_star_q: gi_star.map(|gi| gi.q),
            cluster: group[index].map(|(number, _)| number),
            cluster_p: group[index].map(|(_, p)| p),
            depth_m: of(|bite| bite.depth_m),
            temp_c: of(|bite| bite.temp_at_depth_c),
            bite_surface_temp_c: of(|bite| bite.surface_temp_c),
            surface_temp_c: sums.surface_temp_c(),
            breaks_per_km: (sums.run_m() > 0.0).then(|| 1000.0 * sums.breaks as f64 / sums.run_m()),
        });
    }
    rows
}

/// Rod-hours more after which the 90 % interval of a rate leaves the mean, if it stays as it is: its standard error is then that of
/// its bites, and the difference must be 1.645 of them.
fn more_rod_hours(times_average: f64, mean: f64, rod_hours: f64) -> Option<f64> {
    let away = times_average - 1.0;
    // a tenth from the mean is the mean, to a captain
    (away.abs() > 0.1 && mean > 0.0).then(|| {
        let needed = (1.645 / away).powi(2) * times_average / mean;
        (needed - rod_hours).max(0.0)
    })
}

/// What each place did in each year.
struct Years {
    trips: Vec<usize>,
    fished: Vec<BTreeSet<i16>>,
    bitten: Vec<BTreeSet<i16>>,
    over: Vec<BTreeMap<i16, f64>>,
}

impl Years {
    fn new(tally: &Tally) -> Self {
        let n = tally.places.len();
        let mut years = Self {
            trips: vec![0; n],
            fished: vec![BTreeSet::new(); n],
            bitten: vec![BTreeSet::new(); n],
            over: vec![BTreeMap::new(); n],
        };
        for trip in &tally.trips {
            let rate = trip.bites() as f64 / trip.hours();
            let year = trip.day.year();
            for piece in &trip.pieces {
                years.trips[piece.place] += 1;
                years.fished[piece.place].insert(year);
                if piece.bites > 0 {
                    years.bitten[piece.place].insert(year);
                }
                *years.over[piece.place].entry(year).or_default() += piece.bites as f64 - rate * piece.hours;
            }
        }
        years
    }

    fn above(&self, place: usize) -> usize {
        self.over[place].values().filter(|&&over| over > 1e-9).count()
    }
}
