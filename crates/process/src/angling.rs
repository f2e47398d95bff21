//! What did the lines of one trip do: spells, bites, effort?

use waterseam_bites::{Breaks, EffortRow, Placed, Surroundings, Temp};
use waterseam_column::Field;
use waterseam_logs::boat::BoatFile;
use waterseam_logs::{BiteNote, GearEntry, NoteTime};
use waterseam_tackle::{GearSpells, Tow, TripContext};
use waterseam_track::{Activity, Track, Trip};
use waterseam_units::time::US_PER_S;

use crate::span::Span;
use crate::water::Water;
use crate::{card, place, settings};

/// Spells, bites and effort of one trip.
#[derive(Debug, Default)]
pub struct Angling {
    /// Rod spells.
    pub spells: GearSpells,
    /// Bites, and notes without a place.
    pub bites: Placed,
    /// Minutes of the spells.
    pub effort: Vec<EffortRow>,
}

/// A thermocline further in time than this from a profile is not known, s: as long as a profile's
/// temperatures speak for the water.
const THERMOCLINE_WITHIN_S: f64 = waterseam_column::PROFILE_SPEAKS_FOR_S;

/// Places the fishing of one trip in its water.
pub fn analyse(
    trip: &Trip,
    span: Span,
    water: &Water,
    field: &Field,
    notes: &[BiteNote],
    gear: &[GearEntry],
    boat: &BoatFile,
) -> Angling {
    let track = &trip.track;
    let temp_at = |time_us: i64, depth_m: f64| {
        let temp = field.temp_at(place::seconds_at(track, time_us), depth_m)?;
        Some(Temp { temp_c: temp.temp_c, se_c: temp.se_c })
    };
    let thermocline_at = |time_us: i64| thermocline_m(water, place::seconds_at(track, time_us));
    let surface_c = water.layers.iter().find_map(|layers| layers.surface_temp_c).unwrap_or(10.0);
    let around = Surroundings {
        track,
        breaks: Breaks {
            zero_us: track.time_us.first().copied().unwrap_or_default(),
            crossings: &water.crossings,
            lines: &water.lines,
        },
        windows: &water.currents.windows,
        temp_at: &temp_at,
        thermocline_at: &thermocline_at,
        density_kg_per_m3: waterseam_column::density_kg_m3(surface_c, boat.salinity_psu, 0.0),
        tackle: &settings::tackle(boat),
    };
    let tow = |from_us: i64, to_us: i64| tow(track, from_us, to_us, around.density_kg_per_m3);
    let spells = if gear.is_empty() {
        let trolling = waterseam_bites::stretches(track, |activity| activity == Activity::Troll);
        GearSpells {
            spells: waterseam_tackle::assumed_spells(&boat.spread, &trolling, &tow, around.tackle),
            unused: Vec::new(),
        }
    } else {
        let resolve = |time: NoteTime| card::instant(time, &boat.time_zone, span);
        let context = TripContext {
            start_us: span.first_us,
            end_us: span.last_us,
            resolve: &resolve,
            tow: &tow,
            tackle: around.tackle,
        };
        waterseam_tackle::spells(gear, &context)
    };
    let bites = waterseam_bites::place(notes, &spells.spells, &around, &boat.time_zone);
    let effort = waterseam_bites::effort(&spells.spells, &around);
    Angling { spells, bites, effort }
}

/// What observed depths did to the running depths, for the captain.
pub fn tackle_remark(boat: &BoatFile) -> Option<String> {
    let tackle = settings::tackle(boat);
    let (all, used) = (tackle.seen().len(), tackle.seen().iter().filter(|seen| seen.without.is_ok()).count());
    let of = |n: usize| if n == 1 { "1 observed depth".to_owned() } else { format!("{n} observed depths") };
    match (all, used) {
        (0, _) => None,
        (_, 0) => Some(format!("The {} of the boat file could not be used: rundepth says why.", of(all))),
        (_, _) if used == all => Some(format!("Running depths are set by {} of the boat file.", of(used))),
        _ => Some(format!(
            "Running depths are set by {} of the boat file; {} more could not be used: rundepth says why.",
            of(used),
            all - used
        )),
    }
}

/// Mean speed past the lines over a stretch of trolling.
fn tow(track: &Track, from_us: i64, to_us: i64, density_kg_per_m3: f64) -> Tow<'static> {
    let rows =
        track.time_us.partition_point(|&t| t < from_us)..track.time_us.partition_point(|&t| t <= to_us);
    let mean = |column: &[Option<f64>]| {
        let trolled = rows.clone().filter(|&row| track.activity[row] == Activity::Troll);
        let (sum, n) =
            trolled.filter_map(|row| column[row]).fold((0.0, 0.0), |(sum, n), v| (sum + v, n + 1.0));
        (n > 0.0).then(|| sum / n)
    };
    Tow { density_kg_per_m3, ..Tow::of(mean(&track.stw_mps), mean(&track.sog_mps)) }
}

/// Depth of the thermocline at a time: between the profiles that have one, on a straight line.
fn thermocline_m(water: &Water, time_s: f64) -> Option<f64> {
    let known = water.profiles.iter().zip(&water.layers).filter_map(|(profile, layers)| {
        let near = (profile.time_s - time_s).abs() <= THERMOCLINE_WITHIN_S;
        near.then_some((profile.time_s, layers.thermocline_depth_m?))
    });
    let (mut before, mut after) = (None, None);
    for (at_s, depth_m) in known {
        if at_s <= time_s {
            before = Some((at_s, depth_m));
        } else if after.is_none() {
            after = Some((at_s, depth_m));
        }
    }
    match (before, after) {
        (Some((t0, d0)), Some((t1, d1))) => Some(d0 + (d1 - d0) * (time_s - t0) / (t1 - t0)),
        (one, other) => one.or(other).map(|(_, depth_m)| depth_m),
    }
}

/// Seconds that the boat spent in one activity.
pub fn seconds_of(track: &Track, activity: Activity) -> f64 {
    let stretches = waterseam_bites::stretches(track, |a| a == activity);
    stretches.iter().map(|(start, end)| (end - start) as f64 / US_PER_S as f64).sum()
}
