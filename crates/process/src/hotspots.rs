//! From the trips of a logbook to its layer: where, when, how deep and at what temperature many trips did well.

use std::collections::BTreeSet;

use jiff::civil::Date;
use rayon::prelude::*;
use waterseam_hotspots::{
    self as spots, Bite, Expected, Hotspot, Model, Quartiles, SeasonPart, Settings, Skill, Visit, cells,
};
use waterseam_tables::{PoolRows, hotspots, wkb};

use crate::outings::{Outing, visits_and_bites};

/// A species with fewer bites than this in the whole logbook has no rows of its own: nothing could be said of its places.
const SPECIES_BITES_MIN: usize = 10;
/// What stands for all species.
pub const ALL_SPECIES: &str = "*";

/// Visits and bites of trips, as the layer takes them.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Years {
    /// What was done in each cell.
    pub visits: Vec<Visit>,
    /// The bites.
    pub bites: Vec<Bite>,
}

impl Years {
    /// Of the trips of a logbook.
    pub fn of(outings: &[Outing]) -> Self {
        let (visits, bites) = visits_and_bites(outings);
        Self { visits, bites }
    }

    /// Of the trips of a pool, or of what another engine answers about one.
    pub fn of_pool(rows: &PoolRows) -> Self {
        let day = |trip: usize| rows.trips[trip].day;
        let visits = rows.visits.iter().map(|visit| Visit {
            trip: visit.trip,
            day: day(visit.trip),
            cell: visit.cell,
            rod_hours: visit.sums.rod_hours(),
            run_m: visit.sums.run_m(),
            breaks: u32::try_from(visit.sums.breaks).unwrap_or_default(),
            surface_temp_c: visit.sums.surface_temp_c(),
        });
        let bites = rows.bites.iter().map(|bite| Bite {
            trip: bite.trip,
            day: day(bite.trip),
            cell: bite.cell,
            species: bite.species.clone(),
            depth_m: bite.depth_m,
            temp_at_depth_c: bite.temp_at_depth_c,
            surface_temp_c: bite.surface_temp_c,
        });
        Self { visits: visits.collect(), bites: bites.collect() }
    }

    /// Species with bites enough, by name.
    pub fn species(&self) -> Vec<String> {
        let named: BTreeSet<&String> = self.bites.iter().filter_map(|bite| bite.species.as_ref()).collect();
        let bites = |species: &String| {
            self.bites.iter().filter(|bite| bite.species.as_ref() == Some(species)).count()
        };
        named.into_iter().filter(|species| bites(species) >= SPECIES_BITES_MIN).cloned().collect()
    }

    /// The rows of the layer for all species together and for each of them, by species, part of the season and cell.
    pub fn layer(&self, resolution: u8, division: SeasonPart) -> Vec<hotspots::Row> {
        let mut asked = vec![None];
        asked.extend(self.species().into_iter().map(Some));
        let of_each: Vec<Vec<hotspots::Row>> = asked
            .into_par_iter()
            .map(|species| self.rows(resolution, division, species.as_deref()))
            .collect();
        of_each.concat()
    }

    /// The same for one species, or for all together.
    pub fn rows(&self, resolution: u8, division: SeasonPart, species: Option<&str>) -> Vec<hotspots::Row> {
        let rows = spots::layer(&self.visits, &self.bites, &settings(resolution, division, species));
        rows.into_iter().map(|hotspot| row(hotspot, resolution, species.unwrap_or(ALL_SPECIES))).collect()
    }

    /// The model of the rate at a surface temperature.
    pub fn model(&self, resolution: u8, division: SeasonPart, species: Option<&str>) -> Model {
        Model::new(&self.visits, &self.bites, &settings(resolution, division, species))
    }

    /// What the model is worth; `None` with fewer than two years, or no bite.
    pub fn skill(&self, resolution: u8, division: SeasonPart, species: Option<&str>) -> Option<Skill> {
        spots::skill(&self.visits, &self.bites, &settings(resolution, division, species))
    }
}

fn settings(resolution: u8, division: SeasonPart, species: Option<&str>) -> Settings {
    Settings { resolution, division, species: species.map(str::to_owned), ..Settings::default() }
}

/// What is expected of every cell on a day, in water of a temperature or as it usually is.
pub fn expected(model: &Model, day: Date, surface_temp_c: Option<f64>) -> Vec<Expected> {
    model.expected(model.division().number(day), surface_temp_c)
}

fn row(hotspot: Hotspot, resolution: u8, species: &str) -> hotspots::Row {
    let rate = hotspot.rate;
    let low = |quartiles: Option<Quartiles>| quartiles.map(|quartiles| quartiles.low);
    let median = |quartiles: Option<Quartiles>| quartiles.map(|quartiles| quartiles.median);
    let high = |quartiles: Option<Quartiles>| quartiles.map(|quartiles| quartiles.high);
    let count = |n: usize| n as i64;
    hotspots::Row {
        cell: hotspot.cell,
        resolution,
        geometry: wkb::area(&cells::corners(hotspot.cell)),
        season_part: hotspot.season_part,
        species: species.to_owned(),
        trips: count(hotspot.trips),
        years: count(hotspot.years),
        years_with_bites: count(hotspot.years_with_bites),
        years_above: count(hotspot.years_above),
        rod_hours: hotspot.rod_hours,
        run_m: hotspot.run_m,
        bites: count(hotspot.bites),
        rate_raw: hotspot.rate_raw,
        rate: rate.map(|rate| rate.mean),
        rate_low: rate.map(|rate| rate.low),
        rate_high: rate.map(|rate| rate.high),
        times_average: rate.map(|rate| rate.times_average),
        times_low: rate.map(|rate| rate.times_low),
        times_high: rate.map(|rate| rate.times_high),
        hot_chance: rate.map(|rate| rate.chance),
        more_rod_hours: rate.and_then(|rate| rate.more_rod_hours),
        gi_star_z: hotspot.gi_star_z,
        gi_star_p: hotspot.gi_star_p,
        gi_star_q: hotspot.gi_star_q,
        cluster: hotspot.cluster.map(count),
        cluster_p: hotspot.cluster_p,
        hot: hotspot.hot,
        bite_depth_m: median(hotspot.depth_m),
        bite_depth_low_m: low(hotspot.depth_m),
        bite_depth_high_m: high(hotspot.depth_m),
        bite_temp_c: median(hotspot.temp_c),
        bite_temp_low_c: low(hotspot.temp_c),
        bite_temp_high_c: high(hotspot.temp_c),
        bite_surface_temp_c: median(hotspot.bite_surface_temp_c),
        bite_surface_temp_low_c: low(hotspot.bite_surface_temp_c),
        bite_surface_temp_high_c: high(hotspot.bite_surface_temp_c),
        surface_temp_c: hotspot.surface_temp_c,
        break_rate: hotspot.breaks_per_km,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;
    use waterseam_demo::years::{YearsKnobs, years};

    /// A layer of trips of two years of the invented lake, as the table takes it.
    #[test]
    fn rows_of_an_invented_lake() {
        let invented = years(3, &YearsKnobs { years: 2, trips_a_year: 12, ..YearsKnobs::default() });
        let day = |trip: usize| invented.trips[trip].day;
        let years = Years {
            visits: invented
                .visits
                .iter()
                .map(|visit| Visit {
                    trip: visit.trip,
                    day: day(visit.trip),
                    cell: visit.cell,
                    rod_hours: visit.rod_hours,
                    run_m: visit.run_m,
                    breaks: visit.breaks,
                    surface_temp_c: visit.surface_temp_c,
                })
                .collect(),
            bites: invented
                .bites
                .iter()
                .map(|bite| Bite {
                    trip: bite.trip,
                    day: day(bite.trip),
                    cell: bite.cell,
                    species: Some(bite.species.to_owned()),
                    depth_m: Some(bite.depth_m),
                    temp_at_depth_c: Some(bite.temp_at_depth_c),
                    surface_temp_c: Some(bite.surface_temp_c),
                })
                .collect(),
        };
        let rows = years.layer(6, SeasonPart::Season);
        let all = || rows.iter().filter(|row| row.species == ALL_SPECIES);
        assert_eq!(all().map(|row| row.bites).sum::<i64>(), years.bites.len() as i64);
        let species = years.species();
        assert!(
            !species.is_empty() && species.iter().all(|name| rows.iter().any(|row| row.species == *name))
        );
        let hours: f64 = years.visits.iter().map(|visit| visit.rod_hours).sum();
        assert!((all().map(|row| row.rod_hours).sum::<f64>() - hours).abs() < 1e-3);
        assert!(all().any(|row| row.rod_hours == 0.0 && row.rate.is_none()), "run through is not fished");
        let keys: Vec<_> = rows.iter().map(|row| (&row.species, &row.season_part, row.cell)).collect();
        assert_eq!(keys.iter().collect::<BTreeSet<_>>().len(), keys.len());
        let model = years.model(6, SeasonPart::Season, None);
        assert!(!expected(&model, date(2026, 7, 4), Some(15.0)).is_empty());
    }
}
