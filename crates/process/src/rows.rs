//! Findings to rows of the tables.

use std::collections::BTreeMap;

use waterseam_bites::{EffortRow, PlacedBite};
use waterseam_breaks::PlacedCrossing;
use waterseam_column::HolteTalley;
use waterseam_logs::{SetAside, SourceReport};
use waterseam_tables::{
    Shared, bites, break_lines, breaks, effort, isotherm_breaks, layers, profiles, rod_spells, set_aside,
    sources, track,
};
use waterseam_tackle::Spell;
use waterseam_track::{Activity, Track, Trip};
use waterseam_units::{Flag, LatLon};

use crate::place;
use crate::stored;
use crate::water::Water;

/// Name of the `n`th thing of a kind in a trip, from 1: `20260614T071203Z-break-3`.
pub fn id(trip_id: &str, kind: &str, index: usize) -> String {
    format!("{trip_id}-{kind}-{}", index + 1)
}

/// Account of a file, of a trip or of none.
pub fn source(trip_id: Option<&str>, report: &SourceReport) -> sources::Row {
    sources::Row {
        trip_id: trip_id.map(str::to_owned),
        file_name: report.file_name.clone(),
        content_hash: report.content_hash.clone(),
        kind: report.kind.map_or("unknown", waterseam_logs::Kind::word).to_owned(),
        bytes: report.bytes as i64,
        records_read: report.records_read as i64,
        records_used: report.records_used as i64,
        records_not_needed: report.records_not_needed as i64,
        records_set_aside: report.records_set_aside() as i64,
        set_aside_reasons: json(&report.set_aside),
        time_first: report.time_first_us,
        time_last: report.time_last_us,
        clock_offset_s: report.clock_offset_s,
        clock_offset_method: report.clock_offset_method.map(str::to_owned),
        remarks: json(&report.remarks),
    }
}

/// A value as JSON text. Maps and lists of plain words and numbers cannot fail.
pub fn json(value: &impl serde::Serialize) -> String {
    serde_json::to_string(value).unwrap_or_default()
}

/// What the quality tests said, and the reader's syntax test, as JSON.
pub fn quality(trip: &Trip, sources: &[sources::Row]) -> String {
    type Counts = BTreeMap<&'static str, u64>;
    let mut streams: BTreeMap<&str, BTreeMap<&str, Counts>> = BTreeMap::new();
    for stream in &trip.quality {
        let tests = streams.entry(stream.stream).or_default();
        for tally in &stream.tests {
            let counts = [
                ("pass", tally.passed),
                ("not_evaluated", tally.not_evaluated),
                ("suspect", tally.suspect),
                ("fail", tally.failed),
            ];
            let said = counts.into_iter().filter(|&(_, n)| n > 0).map(|(word, n)| (word, n as u64));
            tests.insert(tally.test.word(), said.collect());
        }
    }
    let sum = |count: fn(&sources::Row) -> i64| sources.iter().map(|row| count(row) as u64).sum::<u64>();
    let syntax = Counts::from([
        ("pass", sum(|row| row.records_used + row.records_not_needed)),
        ("fail", sum(|row| row.records_set_aside)),
    ]);
    streams.entry("records").or_default().insert("syntax", syntax);
    json(&streams)
}

/// A record set aside, of a trip or of none.
pub fn set_aside(trip_id: Option<&str>, file_name: &str, record: &SetAside) -> set_aside::Row {
    set_aside::Row {
        trip_id: trip_id.map(str::to_owned),
        file_name: file_name.to_owned(),
        line: record.line as i64,
        byte: record.byte as i64,
        reason: record.reason.to_owned(),
        raw: record.raw.clone(),
    }
}

/// The track.
pub fn track(trip_id: &str, trip: &Trip) -> Vec<track::Row> {
    let t = &trip.track;
    let trip_id = Shared::from(trip_id);
    let activities = [Activity::Run, Activity::Troll, Activity::Drift, Activity::Stopped];
    let words = activities.map(|activity| (activity, Shared::from(activity.word())));
    let word = |activity: Activity| {
        let known = words.iter().find(|(known, _)| *known == activity);
        known.map_or_else(|| activity.word().into(), |(_, word)| word.clone())
    };
    (0..t.len())
        .map(|row| track::Row {
            trip_id: trip_id.clone(),
            time: t.time_us[row],
            lat: stored::degree(t.lat_deg[row]),
            lon: stored::degree(t.lon_deg[row]),
            position_qc: t.position_qc[row].code(),
            distance_m: stored::way_m(t.distance_m[row]),
            sog_mps: t.sog_mps[row],
            cog_deg: t.cog_deg[row],
            stw_mps: t.stw_mps[row],
            stw_across_mps: t.stw_across_mps[row],
            heading_deg: t.heading_deg[row],
            water_depth_m: t.water_depth_m[row],
            water_depth_qc: t.water_depth_qc[row].code(),
            surface_temp_c: t.surface_temp_c[row],
            surface_temp_raw_c: t.surface_temp_raw_c[row],
            surface_temp_qc: t.surface_temp_qc[row].code(),
            sog_qc: Some(t.sog_qc[row].code()),
            stw_qc: Some(t.stw_qc[row].code()),
            heading_qc: Some(t.heading_qc[row].code()),
            probe_depth_m: t.probe_depth_m[row],
            probe_temp_c: t.probe_temp_c[row],
            probe_temp_qc: probe_flag(t, row).code(),
            probe_speed_mps: t.probe_speed_mps[row],
            wind_speed_mps: t.wind_speed_mps[row].map(stored::wind_mps),
            wind_from_deg: t.wind_from_deg[row].map(stored::wind_deg),
            activity: word(t.activity[row]),
            sun_elevation_deg: stored::sun_deg(t.sun_elevation_deg[row]),
            cell: t.cell[row],
        })
        .collect()
}

/// The track holds good probe temperatures only; what failed is missing there and flagged in the samples.
fn probe_flag(track: &Track, row: usize) -> Flag {
    if track.probe_temp_c[row].is_some() { Flag::Pass } else { Flag::Missing }
}

/// Break crossings, at the surface first.
pub fn breaks(trip_id: &str, track: &Track, water: &Water) -> Vec<breaks::Row> {
    let line_of = |index: usize| water.lines.iter().position(|line| line.crossings.contains(&index));
    let surface = water.crossings.iter().enumerate().map(|(index, placed)| {
        let line = line_of(index);
        // one crossing only says that the warm water lay ahead or astern; a line knows across
        let warm_deg = line.map_or_else(|| ahead_deg(placed), |line| water.lines[line].warm_side_deg);
        breaks::Row {
            break_line_id: line.map(|line| id(trip_id, "line", line)),
            warm_side_deg: Some(waterseam_units::angle::wrap_deg(warm_deg)),
            ..crossing(trip_id, track, id(trip_id, "break", index), placed)
        }
    });
    let deep = water.deep_crossings.iter().enumerate().map(|(index, (placed, depth_m))| breaks::Row {
        depth_m: Some(*depth_m),
        ..crossing(trip_id, track, id(trip_id, "deep-break", index), placed)
    });
    surface.chain(deep).collect()
}

/// Direction of the warm water as one crossing tells it: ahead or astern.
fn ahead_deg(placed: &PlacedCrossing) -> f64 {
    if placed.crossing.step_c > 0.0 { placed.course_deg } else { placed.course_deg + 180.0 }
}

fn crossing(trip_id: &str, track: &Track, break_id: String, placed: &PlacedCrossing) -> breaks::Row {
    let crossing = &placed.crossing;
    breaks::Row {
        trip_id: trip_id.to_owned(),
        break_id,
        break_line_id: None,
        time: place::instant(track, crossing.time_s),
        lat: placed.at.lat_deg,
        lon: placed.at.lon_deg,
        distance_m: crossing.distance_m,
        temp_before_c: crossing.temp_before_c,
        temp_after_c: crossing.temp_after_c,
        step_c: crossing.step_c,
        width_m: crossing.width_m,
        gradient_c_per_km: crossing.gradient_c_per_km,
        centre_se_m: crossing.centre_se_m,
        step_se_c: crossing.step_se_c,
        p_value: crossing.p_value,
        kind: crossing.kind.word().to_owned(),
        warm_side_deg: Some(waterseam_units::angle::wrap_deg(ahead_deg(placed))),
        depth_m: None,
        gap_m: Some(crossing.gap_m),
    }
}

/// Steps in the depth of isotherms.
pub fn isotherm_breaks(trip_id: &str, track: &Track, water: &Water) -> Vec<isotherm_breaks::Row> {
    water
        .isotherm_steps
        .iter()
        .enumerate()
        .map(|(index, (step, at))| isotherm_breaks::Row {
            trip_id: trip_id.to_owned(),
            break_id: id(trip_id, "isotherm-break", index),
            isotherm_c: step.isotherm_c,
            time: place::instant(track, step.time_s),
            lat: at.lat_deg,
            lon: at.lon_deg,
            distance_m: step.distance_m,
            // a level that was fitted may lie a little above the surface
            depth_before_m: step.depth_before_m.max(0.0),
            depth_after_m: step.depth_after_m.max(0.0),
            step_m: step.step_m,
            width_m: step.width_m,
            gap_m: step.gap_m,
            centre_se_m: step.centre_se_m,
            step_se_m: step.step_se_m,
            p_value: step.p_value,
        })
        .collect()
}

/// Break lines.
pub fn break_lines(trip_id: &str, track: &Track, water: &Water) -> Vec<break_lines::Row> {
    water
        .lines
        .iter()
        .enumerate()
        .map(|(index, line)| {
            let times =
                || line.crossings.iter().map(|&c| place::instant(track, water.crossings[c].crossing.time_s));
            let last_s =
                line.crossings.iter().map(|&c| water.crossings[c].crossing.time_s).fold(0.0, f64::max);
            break_lines::Row {
                trip_id: trip_id.to_owned(),
                break_line_id: id(trip_id, "line", index),
                geometry: waterseam_tables::wkb::line(&line.vertices),
                crossings: line.crossings.len() as i64,
                step_c: line.step_c,
                length_m: line.length_m,
                warm_side_deg: line.warm_side_deg,
                drift_mps: line.drift().map(|drift| drift.0),
                drift_toward_deg: line.drift().map(|drift| drift.1),
                drift_se_mps: line.drift().map(|drift| drift.2),
                direction_se_deg: line.course.as_ref().map(waterseam_breaks::Course::direction_se_deg),
                across_se_m: line.course.as_ref().map(|course| course.across_se_m(last_s)),
                time_first: times().min().unwrap_or_default(),
                time_last: times().max().unwrap_or_default(),
            }
        })
        .collect()
}

/// Depth bins of the profiles.
pub fn profiles(trip_id: &str, track: &Track, water: &Water) -> Vec<profiles::Row> {
    let mut rows = Vec::new();
    for (index, profile) in water.profiles.iter().enumerate() {
        let time = place::instant(track, profile.time_s);
        let Some(LatLon { lat_deg, lon_deg }) = place::at(track, time) else { continue };
        rows.extend(profile.bins.iter().map(|bin| profiles::Row {
            trip_id: trip_id.to_owned(),
            profile_id: id(trip_id, "profile", index),
            time,
            lat: lat_deg,
            lon: lon_deg,
            depth_m: bin.depth_m,
            temp_c: bin.temp_c,
            temp_qc: bin.temp_qc.code(),
            samples: bin.samples as i64,
        }));
    }
    rows
}

/// Layers of the profiles.
pub fn layers(trip_id: &str, track: &Track, water: &Water) -> Vec<layers::Row> {
    let all = water.profiles.iter().zip(&water.layers).zip(&water.layer_errors).enumerate();
    all.filter_map(|(index, ((profile, layers), errors))| {
        let time = place::instant(track, profile.time_s);
        let at = place::at(track, time)?;
        let mixed = layers
            .surface_temp_c
            .and_then(|_| waterseam_column::mixed_layer(profile, &HolteTalley::default()));
        Some(layers::Row {
            trip_id: trip_id.to_owned(),
            profile_id: id(trip_id, "profile", index),
            time,
            lat: at.lat_deg,
            lon: at.lon_deg,
            surface_temp_c: layers.surface_temp_c,
            mixed_layer_depth_m: layers.mixed_layer_depth_m,
            mixed_layer_fit_m: layers.mixed_layer_fit_m,
            mixed_layer_chosen_m: mixed.map(|mixed| mixed.depth_m),
            mixed_layer_method: mixed.map(|mixed| mixed.by.word().to_owned()),
            thermocline_depth_m: layers.thermocline_depth_m,
            thermocline_depth_se_m: errors.thermocline_depth_se_m,
            thermocline_top_m: layers.thermocline_top_m,
            thermocline_bottom_m: layers.thermocline_bottom_m,
            thermocline_gradient_c_per_m: layers.thermocline_gradient_c_per_m,
            deepest_sampled_m: layers.deepest_sampled_m,
            preferred_top_m: layers.preferred_top_m,
            preferred_top_se_m: errors.preferred_top_se_m,
            preferred_bottom_m: layers.preferred_bottom_m,
            preferred_bottom_se_m: errors.preferred_bottom_se_m,
        })
    })
    .collect()
}

/// Rod spells.
pub fn rod_spells(trip_id: &str, spells: &[Spell]) -> Vec<rod_spells::Row> {
    let spells = spells.iter().enumerate();
    spells
        .map(|(index, spell)| rod_spells::Row {
            trip_id: trip_id.to_owned(),
            spell_id: id(trip_id, "spell", index),
            rod: spell.rod.clone(),
            time_in: spell.start_us,
            time_out: spell.end_us,
            method: spell.method.map(|method| method.word().to_owned()),
            line_out_m: spell.line_out_m,
            weight_kg: spell.weight_kg,
            lure: spell.lure.clone(),
            running_depth_m: spell.running_depth_m,
            running_depth_se_m: spell.running_depth_se_m,
            depth_source: spell.depth_source.map(|source| source.word().to_owned()),
            assumed: spell.assumed,
        })
        .collect()
}

/// Bites.
pub fn bites(trip_id: &str, placed: &[PlacedBite]) -> Vec<bites::Row> {
    let placed = placed.iter().enumerate();
    placed
        .map(|(index, bite)| bites::Row {
            trip_id: trip_id.to_owned(),
            bite_id: id(trip_id, "bite", index),
            time: bite.time_us,
            time_se_s: Some(bite.time_se_s),
            lat: bite.at.lat_deg,
            lon: bite.at.lon_deg,
            species: bite.species.clone(),
            outcome: bite.outcome.map(|outcome| outcome.word().to_owned()),
            weight_kg: bite.weight_kg,
            length_m: bite.length_m,
            rod: bite.rod.clone(),
            spell_id: bite.spell.map(|spell| id(trip_id, "spell", spell)),
            lure: bite.lure.clone(),
            depth_m: bite.depth_m,
            depth_se_m: bite.depth_se_m,
            depth_source: bite.depth_source.map(|source| source.word().to_owned()),
            temp_at_depth_c: bite.temp_at_depth_c,
            temp_at_depth_se_c: bite.temp_at_depth_se_c,
            surface_temp_c: bite.surface_temp_c,
            water_depth_m: bite.water_depth_m,
            sog_mps: bite.sog_mps,
            stw_mps: bite.stw_mps,
            lure_speed_mps: bite.lure_speed_mps,
            set_deg: bite.set_deg,
            drift_mps: bite.drift_mps,
            break_distance_m: bite.break_distance_m,
            break_side: bite.break_side.map(|side| side.word().to_owned()),
            above_thermocline_m: bite.above_thermocline_m,
            sun_elevation_deg: bite.sun_elevation_deg,
            cell: bite.cell,
            note: bite.note.clone(),
        })
        .collect()
}

/// Effort.
pub fn effort(trip_id: &str, minutes: &[EffortRow]) -> Vec<effort::Row> {
    let trip_id = Shared::from(trip_id);
    minutes
        .iter()
        .map(|minute| effort::Row {
            trip_id: trip_id.clone(),
            time: minute.time_us,
            lat: stored::degree(minute.at.lat_deg),
            lon: stored::degree(minute.at.lon_deg),
            cell: minute.cell,
            spell_id: id(&trip_id, "spell", minute.spell),
            rod_hours: minute.rod_hours,
            depth_m: minute.depth_m,
            temp_at_depth_c: minute.temp_at_depth_c.map(stored::temp_c),
            surface_temp_c: minute.surface_temp_c,
            stw_mps: minute.stw_mps,
            lure_speed_mps: minute.lure_speed_mps,
            break_distance_m: minute.break_distance_m.map(stored::way_m),
            break_side: minute.break_side.map(|side| side.word().to_owned()),
            above_thermocline_m: minute.above_thermocline_m.map(stored::depth_m),
            sun_elevation_deg: stored::sun_deg(minute.sun_elevation_deg),
        })
        .collect()
}
