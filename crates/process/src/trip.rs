//! One trip's material to its tables.

use std::collections::BTreeSet;
use std::io::{BufRead, BufReader, Read};

use waterseam_bites::rates::{Counted, Gamma};
use waterseam_bites::{Fished, Reason};
use waterseam_breaks::PlacedCrossing;
use waterseam_logs::boat::BoatFile;
use waterseam_logs::{BiteNote, GearEntry, Member, NoteTime, SetAside, SourceReport};
use waterseam_tables::{TripTables, trips};
use waterseam_tackle::UnusedReason;
use waterseam_track::{Activity, Track, Trip};
use waterseam_units::time::day_in;
use waterseam_units::{LatLon, LocalFrame};

use crate::card::{self, Batch};
use crate::cell_visits::cell_visits;
use crate::currents::Found;
use crate::read::ReadFile;
use crate::sensor_care::{self, SensorCare};
use crate::span::Span;
use crate::water::{self, Water};
use crate::{angling, current_rows, doubles, lure, map_rows, rates, rows, section_rows};

/// Everything that one trip is made of.
pub struct Material<'a> {
    /// The trip.
    pub trip: Trip,
    /// Its currents.
    pub currents: Found,
    /// Its time.
    pub span: Span,
    /// All files of the card.
    pub files: &'a [ReadFile],
    /// The batch that the trip is part of.
    pub batch: &'a Batch,
    /// Bite notes with their files.
    pub bites: Vec<(usize, BiteNote)>,
    /// Gear rows with their files.
    pub gear: Vec<(usize, GearEntry)>,
    /// Whether no other batch is left to begin, so that threads are free.
    pub is_last: bool,
}

/// Analyses a trip.
pub fn tables(mut material: Material, boat: &BoatFile) -> TripTables {
    let mut trip = std::mem::take(&mut material.trip);
    let (material, span) = (&material, &material.span);
    let usable = water::usable(&trip.track);
    let (care, crossings) = sensor_care::care(&mut trip, &usable, boat);
    let trip_id = trip_id(*span);
    let map = || {
        let (map, frame) = water::map(&trip.track, &usable)?;
        Some((map_rows::surface_map(&trip_id, &map, &frame), map_rows::isotherms(&trip_id, &map, &frame)))
    };
    let rest = || without_map(&trip_id, material, &trip, &usable, crossings, &care, boat);
    // the map takes as long as all the rest; while there are other batches, each thread has one of its own to do
    let (map, tables) = if material.is_last { rayon::join(map, rest) } else { (map(), rest()) };
    let (surface_map, isotherms) = map.unwrap_or_default();
    TripTables { surface_map, isotherms, ..tables }
}

/// All of a trip but the map of its surface.
fn without_map(
    trip_id: &str,
    material: &Material,
    trip: &Trip,
    usable: &[usize],
    crossings: Vec<PlacedCrossing>,
    care: &SensorCare,
    boat: &BoatFile,
) -> TripTables {
    let (track, span) = (&trip.track, &material.span);
    let water = water::analyse(trip, crossings, material.currents.currents.clone(), boat);
    let deep = lure::find(track, &material.currents);
    let instant = |time: NoteTime| card::instant(time, &boat.time_zone, *span);
    let (bites, bites_twice) = doubles::bites(&material.bites, &instant);
    let (gear_rows, gear_twice) = doubles::gear(&material.gear, &instant);
    let mut notes: Vec<(Option<usize>, BiteNote)> = bites.into_iter().map(|(f, n)| (Some(f), n)).collect();
    if boat.marks_are_bites {
        notes.extend(trip.marks.iter().map(|mark| {
            let time = NoteTime::Instant(mark.time_us);
            (None, BiteNote { time, at: Some(mark.at), note: Some("mark".to_owned()), ..BiteNote::default() })
        }));
    }
    let bite_notes: Vec<BiteNote> = notes.iter().map(|(_, note)| note.clone()).collect();
    let gear: Vec<GearEntry> = gear_rows.iter().map(|(_, entry)| entry.clone()).collect();
    let field = water::field(trip, usable, &water);
    let fishing = angling::analyse(trip, *span, &water, &field, &bite_notes, &gear, boat);

    let mut aside: Vec<(usize, SetAside)> = Vec::new();
    for unplaced in &fishing.bites.unplaced {
        let found = notes.iter().find(|(_, note)| *note == unplaced.note).and_then(|(file, _)| *file);
        aside.extend(found.map(|file| {
            (file, record(material.files, file, unplaced.note.line, not_in_trip(unplaced.reason)))
        }));
    }
    for unused in &fishing.spells.unused {
        let (file, entry) = &gear_rows[unused.entry];
        aside.push((*file, record(material.files, *file, entry.line, no_spell(unused.reason))));
    }

    let bites_twice = bites_twice.into_iter().map(|(file, note)| (file, note.line));
    for (file, line) in bites_twice.chain(gear_twice.into_iter().map(|(file, row)| (file, row.line))) {
        aside.push((file, record(material.files, file, line, doubles::SAME_AS_IN_ANOTHER_FILE)));
    }

    let fished =
        Fished { spells: &fishing.spells.spells, effort: &fishing.effort, bites: &fishing.bites.bites };
    let rates = rates::rates(trip_id, &[fished]);
    let mut tables = TripTables {
        track: rows::track(trip_id, trip),
        breaks: rows::breaks(trip_id, track, &water),
        break_lines: rows::break_lines(trip_id, track, &water),
        isotherm_breaks: rows::isotherm_breaks(trip_id, track, &water),
        currents: current_rows::currents(trip_id, trip, &material.currents, &deep),
        current_edges: current_rows::current_edges(trip_id, track, &water),
        calibrations: current_rows::calibrations(trip_id, &material.currents),
        lure_speeds: lure::rows(trip_id, &deep),
        profiles: rows::profiles(trip_id, track, &water),
        layers: rows::layers(trip_id, track, &water),
        sections: section_rows::sections(trip_id, track, &field),
        rod_spells: rows::rod_spells(trip_id, &fishing.spells.spells),
        bites: rows::bites(trip_id, &fishing.bites.bites),
        effort: rows::effort(trip_id, &fishing.effort),
        bands: rates.bands,
        tackle_rates: rates.tackle_rates,
        break_sides: rates.break_sides,
        ..TripTables::default()
    };
    tables.cell_visits = cell_visits(trip_id, &tables.track, &tables.effort, &tables.breaks);
    for file in sources_of(material) {
        let read = &material.files[file];
        let mut report: SourceReport = read.report.clone();
        let late: Vec<&SetAside> =
            aside.iter().filter(|(f, _)| *f == file).map(|(_, record)| record).collect();
        for record in &late {
            report.records_used = report.records_used.saturating_sub(1);
            *report.set_aside.entry(record.reason).or_default() += 1;
        }
        let all = read.set_aside.iter().chain(late);
        tables.set_aside.extend(all.map(|record| rows::set_aside(Some(trip_id), &report.file_name, record)));
        tables.sources.push(rows::source(Some(trip_id), &report));
    }
    tables.trips = vec![trip_row(trip_id, trip, &water, care, &tables, boat)];
    tables
}

/// Id of a trip: its first second in UTC, `20260614T071203Z`.
fn trip_id(span: Span) -> String {
    waterseam_units::time::timestamp(span.first_us).strftime("%Y%m%dT%H%M%SZ").to_string()
}

/// Files that the trip was made from, in order of path.
fn sources_of(material: &Material) -> BTreeSet<usize> {
    let speaks = |&&file: &&usize| {
        let file = &material.files[file];
        !file.has_track() || file.fixes.iter().any(|fixes| fixes.overlaps(&material.span))
    };
    let logs = material.batch.files.iter().filter(speaks).copied();
    let notes =
        material.bites.iter().map(|(file, _)| *file).chain(material.gear.iter().map(|(file, _)| *file));
    logs.chain(notes).collect()
}

fn trip_row(
    trip_id: &str,
    trip: &Trip,
    water: &Water,
    care: &SensorCare,
    tables: &TripTables,
    boat: &BoatFile,
) -> trips::Row {
    let track = &trip.track;
    let temps = || {
        (0..track.len())
            .filter(|&row| track.surface_temp_qc[row].is_usable())
            .filter_map(|row| track.surface_temp_c[row])
    };
    let rod_hours: f64 = tables.effort.iter().map(|row| row.rod_hours).sum();
    let seen = Counted { count: tables.bites.len() as u64, exposure: rod_hours };
    let posterior = (rod_hours > 0.0).then(|| Gamma::weak(seen).posterior(seen));
    let interval = posterior.and_then(|gamma| gamma.interval(0.9));
    let mut remarks = trip.remarks.clone();
    remarks.extend(care.remarks());
    remarks.extend(water.currents.remarks.iter().cloned());
    remarks.extend(angling::tackle_remark(boat));
    trips::Row {
        trip_id: trip_id.to_owned(),
        boat: boat.boat.clone(),
        time_start: track.time_us.first().copied().unwrap_or_default(),
        time_end: track.time_us.last().copied().unwrap_or_default(),
        distance_m: track.distance_m.last().copied().unwrap_or_default(),
        trolling_s: angling::seconds_of(track, Activity::Troll),
        farthest_from_start_m: farthest_from_start_m(track),
        bites: tables.bites.len() as i64,
        rod_hours,
        surface_temp_min_c: temps().reduce(f64::min),
        surface_temp_max_c: temps().reduce(f64::max),
        program_version: env!("CARGO_PKG_VERSION").to_owned(),
        units: boat.units.to_string(),
        time_zone: boat.time_zone.iana_name().unwrap_or("UTC").to_owned(),
        effort_assumed: tables.rod_spells.iter().any(|spell| spell.assumed),
        rate_per_rod_hour: posterior.and_then(Gamma::mean),
        rate_low: interval.map(|(low, _)| low),
        rate_high: interval.map(|(_, high)| high),
        remarks: rows::json(&remarks),
        hull_temp_bias_c: care.bias.map(|bias| bias.value),
        hull_temp_bias_se_c: care.bias.and_then(|bias| bias.se),
        hull_temp_bias_method: care.bias.map(|bias| bias.method.to_owned()),
        hull_temp_bias_applied: care.bias.map(|bias| bias.applied),
        hull_temp_lag_s: care.lag.map(|lag| lag.value),
        hull_temp_lag_se_s: care.lag.and_then(|lag| lag.se),
        hull_temp_lag_method: care.lag.map(|lag| lag.method.to_owned()),
        hull_temp_lag_applied: care.lag.map(|lag| lag.applied),
        transducer_depth_m: trip.transducer_depth.map(|transducer| transducer.depth_m),
        transducer_depth_method: trip
            .transducer_depth
            .map(|transducer| if transducer.is_stated { "boat_file" } else { "sounder" }.to_owned()),
        quality: Some(rows::quality(trip, &tables.sources)),
        probe_lag_s: water.probe_lag.map(|(lag, _)| lag.lag_s),
        probe_lag_se_s: water.probe_lag.map(|(lag, _)| lag.lag_se_s),
        probe_lag_applied: water.probe_lag.map(|(_, applied)| applied),
        local_date: track.time_us.first().map(|&start_us| day_in(&boat.time_zone, start_us).to_string()),
    }
}

/// Greatest distance of a usable position from the first, m.
fn farthest_from_start_m(track: &Track) -> f64 {
    let mut good = (0..track.len()).filter(|&row| track.position_qc[row].is_usable());
    let Some(from) = good.next().map(|row| track.at(row)) else { return 0.0 };
    // a plane halfway tells which is the farthest, to a few metres; only the earth tells how far it is
    let apart_m2 = |at: LatLon| {
        let halfway = LocalFrame::new(LatLon { lat_deg: f64::midpoint(from.lat_deg, at.lat_deg), ..from });
        let ((east_m, north_m), (_, from_north_m)) = (halfway.to_local(at), halfway.to_local(from));
        east_m * east_m + (north_m - from_north_m) * (north_m - from_north_m)
    };
    let farthest = good
        .map(|row| (apart_m2(track.at(row)), row))
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, row)| track.at(row));
    farthest.map_or(0.0, |at| waterseam_units::geodesy::distance_m(from, at))
}

fn record(files: &[ReadFile], file: usize, line: u64, reason: &'static str) -> SetAside {
    let found = line_of(&files[file].member, line);
    SetAside { line, byte: found.byte, reason, raw: found.text }
}

/// Word of the table `set_aside` for a bite without a place.
fn not_in_trip(reason: Reason) -> &'static str {
    match reason {
        Reason::NoTime => "time_missing",
        Reason::OutsideTrip => "outside_the_trip",
        Reason::ClockFitsTwice => "clock_time_fits_twice",
        Reason::NoPosition => "no_position_then",
    }
}

/// Word of the table `set_aside` for a row of the gear log without a spell.
fn no_spell(reason: UnusedReason) -> &'static str {
    match reason {
        UnusedReason::NoTime => "time_missing",
        UnusedReason::OutBeforeIn => "line_out_before_in",
        UnusedReason::OutsideTrip => "outside_the_trip",
        UnusedReason::NeverWentOut => "line_never_went_out",
        UnusedReason::Replaced => "replaced_by_a_later_row",
    }
}

/// A line of a file and the byte at which it starts.
pub struct Line {
    /// First byte, from 0.
    pub byte: u64,
    /// First 200 characters, lossy.
    pub text: String,
}

/// Reads one line of a small text file again; empty where it is gone.
pub fn line_of(member: &Member, line: u64) -> Line {
    const MOST_BYTES: u64 = 800;
    let nothing = Line { byte: 0, text: String::new() };
    let Ok(file) = member.open() else { return nothing };
    let mut reader = BufReader::new(file);
    let mut byte = 0;
    for _ in 1..line {
        match reader.skip_until(b'\n') {
            Ok(skipped) if skipped > 0 => byte += skipped as u64,
            _ => return nothing,
        }
    }
    let mut bytes = Vec::new();
    let _ = reader.take(MOST_BYTES).read_until(b'\n', &mut bytes);
    let text = String::from_utf8_lossy(&bytes);
    Line { byte, text: text.trim_end_matches(['\r', '\n']).chars().take(200).collect() }
}
