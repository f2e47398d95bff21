//! How long was each line in which water?

use std::collections::BTreeMap;

use waterseam_tackle::Spell;
use waterseam_track::Activity;
use waterseam_units::LatLon;

use crate::along::{Place, place_at, row_at, stretches};
use crate::near::{NearBreak, Side};
use crate::surroundings::{Probe, Surroundings};

/// A minute of one spell: the columns of the table `effort`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct EffortRow {
    /// Start of the minute, µs since 1970 UTC.
    pub time_us: i64,
    /// Where the boat was in the middle of the fished part of it.
    pub at: LatLon,
    /// H3 cell at resolution 9.
    pub cell: u64,
    /// Index of the spell.
    pub spell: usize,
    /// Line in the water while trolling or drifting, hours.
    pub rod_hours: f64,
    /// Running depth of the spell, m.
    pub depth_m: Option<f64>,
    /// Temperature there, °C.
    pub temp_at_depth_c: Option<f64>,
    /// Temperature at the surface, °C.
    pub surface_temp_c: Option<f64>,
    /// Speed through the water, mean of the minute around, m/s.
    pub stw_mps: Option<f64>,
    /// Speed of the water past the lure, by a probe near its depth, mean of the minute around, m/s.
    pub lure_speed_mps: Option<f64>,
    /// Distance to the nearest break, m.
    pub break_distance_m: Option<f64>,
    /// Side of that break.
    pub break_side: Option<Side>,
    /// Height of the lure above the thermocline, m; negative below it.
    pub above_thermocline_m: Option<f64>,
    /// Elevation of the sun, degrees.
    pub sun_elevation_deg: f64,
}

const MINUTE_US: i64 = 60_000_000;
const HOUR_US: f64 = 3.6e9;

/// Effort by minute and spell: the time that the line was in the water while the boat trolled or drifted.
///
/// In order of time, then of the spell. Minutes are those of UTC. The rod-hours of a spell add up to its
/// time within the stretches of trolling and drifting, to the microsecond.
pub fn effort(spells: &[Spell], around: &Surroundings) -> Vec<EffortRow> {
    let fishing = stretches(around.track, |activity| matches!(activity, Activity::Troll | Activity::Drift));
    let mut rows = Vec::new();
    let mut instants = Instants::default();
    for (index, spell) in spells.iter().enumerate() {
        let (mut minute_us, mut fished_us, mut weighted_us) = (i64::MIN, 0, 0);
        for (start_us, end_us) in minutes_within(&fishing, spell.start_us, spell.end_us) {
            let this_us = start_us.div_euclid(MINUTE_US) * MINUTE_US;
            if this_us != minute_us {
                let middle_us = middle_us(minute_us, fished_us, weighted_us);
                rows.extend(
                    middle_us
                        .and_then(|at| row(index, spell, minute_us, fished_us, at, around, &mut instants)),
                );
                (minute_us, fished_us, weighted_us) = (this_us, 0, 0);
            }
            let part_us = end_us - start_us;
            fished_us += part_us;
            weighted_us += part_us * (start_us - this_us + part_us / 2);
        }
        let middle_us = middle_us(minute_us, fished_us, weighted_us);
        rows.extend(
            middle_us.and_then(|at| row(index, spell, minute_us, fished_us, at, around, &mut instants)),
        );
    }
    rows.sort_by_key(|row| (row.time_us, row.spell));
    rows
}

/// Parts of the fishing stretches within a spell, cut at whole minutes.
fn minutes_within(fishing: &[(i64, i64)], from_us: i64, to_us: i64) -> impl Iterator<Item = (i64, i64)> {
    let first = fishing.partition_point(|&(_, end)| end <= from_us);
    let within = fishing[first..].iter().take_while(move |&&(start, _)| start < to_us);
    within.flat_map(move |&(start, end)| {
        let (start, end) = (start.max(from_us), end.min(to_us));
        let minutes = start.div_euclid(MINUTE_US)..=(end - 1).div_euclid(MINUTE_US);
        minutes.map(move |m| (start.max(m * MINUTE_US), end.min((m + 1) * MINUTE_US)))
    })
}

/// The middle of what was fished of a minute; `None` where nothing was.
fn middle_us(minute_us: i64, fished_us: i64, weighted_us: i64) -> Option<i64> {
    (fished_us > 0).then(|| minute_us + weighted_us / fished_us)
}

/// What is the same for all lines at an instant, as far as it was asked for: several are out at a time.
#[derive(Default)]
struct Instants(BTreeMap<i64, Option<Instant>>);

#[derive(Clone, Copy)]
struct Instant {
    place: Place,
    surface_temp_c: Option<f64>,
    stw_mps: Option<f64>,
    probe: Option<Probe>,
    near: Option<NearBreak>,
    thermocline_m: Option<f64>,
}

impl Instants {
    fn at(&mut self, time_us: i64, around: &Surroundings) -> Option<Instant> {
        let new = || {
            // a long gap between good positions loses the place, not the effort
            let place = place_at(around.track, time_us).or_else(|| row_at(around.track, time_us))?;
            Some(Instant {
                place,
                surface_temp_c: around.surface_temp_c(time_us),
                stw_mps: around.stw_mps(time_us),
                probe: around.probe(time_us),
                near: around.nearest_break(place.at, time_us),
                thermocline_m: (around.thermocline_at)(time_us),
            })
        };
        *self.0.entry(time_us).or_insert_with(new)
    }
}

fn row(
    index: usize,
    spell: &Spell,
    minute_us: i64,
    fished_us: i64,
    middle_us: i64,
    around: &Surroundings,
    instants: &mut Instants,
) -> Option<EffortRow> {
    let Instant { place, surface_temp_c, stw_mps, probe, near, thermocline_m } =
        instants.at(middle_us, around)?;
    Some(EffortRow {
        time_us: minute_us,
        at: place.at,
        cell: around.track.cell[place.row],
        spell: index,
        rod_hours: fished_us as f64 / HOUR_US,
        depth_m: spell.running_depth_m,
        temp_at_depth_c: spell.running_depth_m.and_then(|d| Some((around.temp_at)(middle_us, d)?.temp_c)),
        surface_temp_c,
        stw_mps,
        lure_speed_mps: spell.running_depth_m.and_then(|d| probe?.lure_speed_mps(d)),
        break_distance_m: near.map(|near| near.distance_m),
        break_side: near.and_then(|near| near.side),
        above_thermocline_m: spell.running_depth_m.and_then(|d| Some(thermocline_m? - d)),
        sun_elevation_deg: around.track.sun_elevation_deg[place.row],
    })
}
