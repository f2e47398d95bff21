//! When, where, how deep and in what water was each bite?

use jiff::tz::TimeZone;
use waterseam_logs::{BiteNote, NoteTime, Outcome};
use waterseam_tackle::{Depth, DepthSource, Setup, Spell, Tackle, Tow, noted_se_m, rod_key};
use waterseam_units::LatLon;
use waterseam_units::time::US_PER_S;

use crate::along::{Place, place_at, row_at};
use crate::clock::resolve_clock;
use crate::near::Side;
use crate::surroundings::{Surroundings, Temp};
use crate::unplaced::{Reason, Unplaced};

/// A bite with everything that is known of its place: the columns of the table `bites`.
#[derive(Clone, Debug, PartialEq)]
pub struct PlacedBite {
    /// Index of its note.
    pub note_index: usize,
    /// When, µs since 1970 UTC.
    pub time_us: i64,
    /// Standard error of the time, s.
    pub time_se_s: f64,
    /// Where: as noted, else where the boat was.
    pub at: LatLon,
    /// Species.
    pub species: Option<String>,
    /// What became of it.
    pub outcome: Option<Outcome>,
    /// Weight of the fish, kg.
    pub weight_kg: Option<f64>,
    /// Length of the fish, m.
    pub length_m: Option<f64>,
    /// Rod: as noted, else that of the spell.
    pub rod: Option<String>,
    /// Index of the spell of its rod.
    pub spell: Option<usize>,
    /// Lure: as noted, else that of the spell.
    pub lure: Option<String>,
    /// Depth of the lure, m.
    pub depth_m: Option<f64>,
    /// Standard error of the depth, m.
    pub depth_se_m: Option<f64>,
    /// Where the depth comes from.
    pub depth_source: Option<DepthSource>,
    /// Temperature there, °C.
    pub temp_at_depth_c: Option<f64>,
    /// Its standard error, with what that of the depth makes of it, °C.
    pub temp_at_depth_se_c: Option<f64>,
    /// Temperature at the surface, °C.
    pub surface_temp_c: Option<f64>,
    /// Depth of the water, m.
    pub water_depth_m: Option<f64>,
    /// Speed over ground, mean of the minute around, m/s.
    pub sog_mps: Option<f64>,
    /// Speed through the water, mean of the minute around, m/s.
    pub stw_mps: Option<f64>,
    /// Speed of the water past the lure, by a probe near its depth, mean of the minute around, m/s.
    pub lure_speed_mps: Option<f64>,
    /// Direction toward which the water moved, degrees true.
    pub set_deg: Option<f64>,
    /// Speed of the water, m/s.
    pub drift_mps: Option<f64>,
    /// Distance to the nearest break, m.
    pub break_distance_m: Option<f64>,
    /// Side of that break.
    pub break_side: Option<Side>,
    /// Height above the thermocline, m; negative below it.
    pub above_thermocline_m: Option<f64>,
    /// Elevation of the sun, degrees.
    pub sun_elevation_deg: f64,
    /// H3 cell at resolution 9 of the boat's place.
    pub cell: u64,
    /// Free text.
    pub note: Option<String>,
}

/// Every note, placed or not.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Placed {
    /// Bites in order of time, then of the notes.
    pub bites: Vec<PlacedBite>,
    /// Notes without a place, in their order.
    pub unplaced: Vec<Unplaced>,
}

/// Standard error of a time written with seconds: the hand is on the rod first (common practice, no
/// source), s.
pub const TIME_SE_S: f64 = 30.0;
/// Standard error of a time on a whole minute, which is taken for one written without seconds (common
/// practice, no source), s.
pub const MINUTE_TIME_SE_S: f64 = 60.0;

/// A bite still belongs to a spell, or to the trip, when its time misses it by this many standard errors.
const SLACK_SE: f64 = 2.0;

/// Places bites in a trip.
///
/// Notes become bites or are [`Unplaced`]; none is lost. The spell is that of the noted rod at that time;
/// without a rod, the only one with the noted lure, or the only one at all. The depth is the noted one
/// (`recorded`), else that of the noted line out on the method of the spell (`counter` or `model`), else
/// the running depth of the spell.
///
/// `zone` is the boat's, for notes with a clock time alone.
pub fn place(notes: &[BiteNote], spells: &[Spell], around: &Surroundings, zone: &TimeZone) -> Placed {
    let mut placed = Placed::default();
    for (note_index, note) in notes.iter().enumerate() {
        match place_note(note_index, note, spells, around, zone) {
            Ok(bite) => placed.bites.push(bite),
            Err(reason) => placed.unplaced.push(Unplaced { note: note.clone(), reason }),
        }
    }
    placed.bites.sort_by_key(|bite| (bite.time_us, bite.note_index));
    placed
}

fn place_note(
    note_index: usize,
    note: &BiteNote,
    spells: &[Spell],
    around: &Surroundings,
    zone: &TimeZone,
) -> Result<PlacedBite, Reason> {
    let (time_us, time_se_s) = time_of(note.time, around, zone)?;
    let place = match (place_at(around.track, time_us), note.at) {
        (Some(place), None) => place,
        (None, None) => return Err(Reason::NoPosition),
        (found, Some(at)) => {
            Place { at, ..found.or_else(|| row_at(around.track, time_us)).ok_or(Reason::NoPosition)? }
        }
    };
    let spell_index = spell_of(note, time_us, time_se_s, spells);
    let spell = spell_index.map(|index| &spells[index]);
    let (sog_mps, stw_mps) = (around.sog_mps(time_us), around.stw_mps(time_us));
    let tow = Tow { density_kg_per_m3: around.density_kg_per_m3, ..Tow::of(stw_mps, sog_mps) };
    let depth = depth_of(note, spell, &tow, around.tackle);
    let current = around.set_and_drift(&place, time_us);
    let near = around.nearest_break(place.at, time_us);
    let depth_m = depth.map(|d| d.depth_m);
    let temp = depth.and_then(|depth| temp_of(depth, time_us, around));
    Ok(PlacedBite {
        note_index,
        time_us,
        time_se_s,
        at: place.at,
        species: note.species.clone(),
        outcome: note.outcome,
        weight_kg: note.weight_kg,
        length_m: note.length_m,
        rod: note.rod.clone().or_else(|| spell.map(|s| s.rod.clone())),
        spell: spell_index,
        lure: note.lure.clone().or_else(|| spell.and_then(|s| s.lure.clone())),
        depth_m,
        depth_se_m: depth.map(|d| d.depth_se_m),
        depth_source: depth.map(|d| d.source),
        temp_at_depth_c: temp.map(|temp| temp.temp_c),
        temp_at_depth_se_c: temp.map(|temp| temp.se_c),
        surface_temp_c: around.surface_temp_c(time_us),
        water_depth_m: around.water_depth_m(time_us),
        sog_mps,
        stw_mps,
        lure_speed_mps: depth_m.and_then(|d| around.lure_speed_mps(time_us, d)),
        set_deg: current.and_then(|(set_deg, _)| set_deg),
        drift_mps: current.map(|(_, drift_mps)| drift_mps),
        break_distance_m: near.map(|n| n.distance_m),
        break_side: near.and_then(|n| n.side),
        above_thermocline_m: depth_m.and_then(|d| Some((around.thermocline_at)(time_us)? - d)),
        sun_elevation_deg: around.track.sun_elevation_deg[place.row],
        cell: around.track.cell[place.row],
        note: note.note.clone(),
    })
}

/// The instant of a note within the trip, and its standard error in s.
fn time_of(time: NoteTime, around: &Surroundings, zone: &TimeZone) -> Result<(i64, f64), Reason> {
    let ends = around.track.time_us.first().zip(around.track.time_us.last());
    let (NoteTime::Instant(written_us) | NoteTime::Clock(written_us)) = time;
    if time == NoteTime::default() {
        return Err(Reason::NoTime);
    }
    let (&start_us, &end_us) = ends.ok_or(Reason::OutsideTrip)?;
    let whole_minute = written_us % (60 * US_PER_S) == 0;
    let time_se_s = if whole_minute { MINUTE_TIME_SE_S } else { TIME_SE_S };
    let slack_us = (SLACK_SE * time_se_s * 1e6) as i64;
    let (start_us, end_us) = (start_us - slack_us, end_us + slack_us);
    let time_us = match time {
        NoteTime::Instant(time_us) if (start_us..=end_us).contains(&time_us) => time_us,
        NoteTime::Instant(_) => return Err(Reason::OutsideTrip),
        NoteTime::Clock(clock_us) => resolve_clock(clock_us, zone, start_us, end_us)?,
    };
    Ok((time_us, time_se_s))
}

/// The spell that a note belongs to: by its rod, else by its lure, else the only one; nearest in time
/// within the slack.
fn spell_of(note: &BiteNote, time_us: i64, time_se_s: f64, spells: &[Spell]) -> Option<usize> {
    let slack_us = (SLACK_SE * time_se_s * 1e6) as i64;
    let misses_us = |spell: &Spell| (spell.start_us - time_us).max(time_us - spell.end_us).max(0);
    let out = || (0..spells.len()).filter(|&i| misses_us(&spells[i]) <= slack_us);
    if let Some(rod) = &note.rod {
        let rod = rod_key(rod);
        // of two spells of the rod that meet here, the later start is the nearer setup
        return out()
            .filter(|&i| rod_key(&spells[i].rod) == rod)
            .min_by_key(|&i| (misses_us(&spells[i]), -spells[i].start_us));
    }
    let only = |candidates: Vec<usize>| if let [index] = candidates[..] { Some(index) } else { None };
    let at_time = || out().filter(|&i| misses_us(&spells[i]) == 0);
    match &note.lure {
        Some(lure) => only(at_time().filter(|&i| same_lure(lure, &spells[i])).collect()),
        None => only(at_time().collect()),
    }
}

fn same_lure(lure: &str, spell: &Spell) -> bool {
    spell.lure.as_deref().is_some_and(|other| rod_key(other) == rod_key(lure))
}

fn depth_of(note: &BiteNote, spell: Option<&Spell>, tow: &Tow<'_>, tackle: &Tackle) -> Option<Depth> {
    if let Some(depth_m) = note.depth_m.filter(|d| d.is_finite() && *d >= 0.0) {
        return Some(Depth { depth_m, depth_se_m: noted_se_m(depth_m), source: DepthSource::Recorded });
    }
    let spell = spell?;
    let by_line_out = note.line_out_m.and_then(|line_out_m| {
        let setup = Setup {
            rod: Some(&spell.rod),
            method: spell.method,
            line_out_m: Some(line_out_m),
            weight_kg: spell.weight_kg,
            ..Setup::default()
        };
        tackle.running_depth(&setup, tow)
    });
    by_line_out.or_else(|| {
        Some(Depth {
            depth_m: spell.running_depth_m?,
            depth_se_m: spell.running_depth_se_m?,
            source: spell.depth_source?,
        })
    })
}

/// Temperature at the depth of a bite. Its error is that of the water and what that of the depth makes of it: the mean square over a normal
/// depth, by the three points of Gauss and Hermite. Where nobody measured on one side, it changes there as on the other.
fn temp_of(depth: Depth, time_us: i64, around: &Surroundings) -> Option<Temp> {
    let at = |depth_m: f64| (around.temp_at)(time_us, depth_m).map(|temp| temp.temp_c);
    let temp = (around.temp_at)(time_us, depth.depth_m)?;
    let off_m = 3f64.sqrt() * depth.depth_se_m;
    let change_c = |depth_m: f64| at(depth_m).map(|temp_c| temp_c - temp.temp_c);
    let (above_c, below_c) = (change_c((depth.depth_m - off_m).max(0.0)), change_c(depth.depth_m + off_m));
    let [above_c, below_c] = [above_c.or(below_c), below_c.or(above_c)].map(Option::unwrap_or_default);
    let by_depth_c2 = (above_c * above_c + below_c * below_c) / 6.0;
    Some(Temp { se_c: (temp.se_c * temp.se_c + by_depth_c2).sqrt(), ..temp })
}
