//! What does one trip's track look like, column by column?

use std::ops::Range;

use waterseam_logs::{North, Observation};
use waterseam_units::Flag;
use waterseam_units::angle::{turn_deg, wrap_deg};

use crate::activity::activities;
use crate::cells::cells;
use crate::distance::{Step, along_m};
use crate::heading::{declination_deg, is_within_model, true_headings_deg};
use crate::motion::motion;
use crate::position::{self, Fix};
use crate::readings::{APPARENT, FROM_BOW, HullSpeed, MAGNETIC, ProbeReading, Readings, SetDrift, readings};
use crate::rows::{Row, owned, rows, windows};
use crate::series::{Series, mean};
use crate::settings::Settings;
use crate::sounding;
use crate::steady::{Reading, Sender, apart, name};
use crate::stream::{Stream, chosen};
use crate::sun::sun_elevations_deg;
use crate::temperature::{HullCorrection, flipping};
use crate::track::{ProbeSample, ReportedCurrent, SpeedLog, Trip};
use crate::wind::{self, Boat, Wind};

/// Fuses the observations of one trip about its fixes; `None` where these make less than two rows. `logs` are the names
/// of the sources.
pub(crate) fn trip(
    observations: &[Observation],
    fixes: &[Fix],
    logs: &[String],
    settings: &Settings,
) -> Option<Trip> {
    let rows = rows(fixes);
    if rows.len() < 2 {
        return None;
    }
    let windows = windows(&rows);
    let mut senders: Vec<Sender> = fixes.iter().map(|fix| fix.sender).collect();
    senders.sort_unstable();
    senders.dedup();
    let Readings { velocity, surface_temp, water_depth, water_speed, heading, wind, probe, currents, marks } =
        readings(observations, &senders);

    let mut trip = Trip { marks, ..Trip::default() };
    place(&mut trip, &rows, fixes, settings);
    report_currents(&mut trip, &currents);
    move_over_ground(&mut trip, &rows, &windows, &velocity, logs, settings);
    hull_temp(&mut trip, &windows, &surface_temp, logs, settings);
    sounding::depth(&mut trip, &windows, &water_depth, logs, settings);
    move_through_water(&mut trip, &windows, &water_speed, logs, settings);
    point(&mut trip, &windows, &heading, logs, settings);
    blow(&mut trip, &windows, &wind, logs);
    lower_probe(&mut trip, &windows, &probe, settings);
    remark_unplaced(&mut trip, &windows, &surface_temp);
    Some(trip)
}

/// Time, position, cell and sun.
fn place(trip: &mut Trip, rows: &[Row], fixes: &[Fix], settings: &Settings) {
    trip.quality.push(position::quality(fixes, settings));
    let track = &mut trip.track;
    track.time_us = rows.iter().map(|row| row.time_us).collect();
    track.lat_deg = rows.iter().map(|row| row.at.lat_deg).collect();
    track.lon_deg = rows.iter().map(|row| row.at.lon_deg).collect();
    track.position_qc = rows.iter().map(|row| row.flag).collect();
    track.cell = cells(rows.iter().map(|row| row.at));
    track.sun_elevation_deg = sun_elevations_deg(&track.time_us, |row| rows[row].at);
    let failed = fixes.iter().filter(|fix| fix.flag == Flag::Fail).count();
    if failed > 0 {
        let all = fixes.len();
        trip.remarks.push(format!(
            "{failed} of {all} positions jumped away or stood still while the boat moved; they are not used."
        ));
    }
}

fn move_over_ground(
    trip: &mut Trip,
    rows: &[Row],
    windows: &[Range<i64>],
    velocity: &[Reading<(f64, Option<f64>)>],
    logs: &[String],
    settings: &Settings,
) {
    let mut velocity = chosen(trip, "speed over ground", velocity, logs).readings;
    let speeds = velocity.iter().map(|&(time_us, (sog_mps, _))| (time_us, sog_mps));
    let speeds = Stream::judged(trip, "sog", speeds.collect(), &settings.sog, |sog_mps| sog_mps);
    let (_, mut sog_qc) = speeds.means(windows);
    let mut flags = speeds.flags.iter();
    velocity.retain(|_| flags.next() != Some(&Flag::Fail));
    let motion = motion(rows, &owned(windows, &velocity, |&(time_us, _)| time_us), &velocity);
    let track = &mut trip.track;
    (track.sog_mps, track.cog_deg) = (motion.sog_mps, motion.cog_deg);
    for (row, flag) in sog_qc.iter_mut().enumerate() {
        // a speed from the positions is as good as they are
        if matches!(flag, Flag::Fail | Flag::Missing) && track.sog_mps[row].is_some() {
            *flag = rows[row].flag;
        }
    }
    track.sog_qc = sog_qc;
    track.activity = activities(rows, &track.sog_mps, settings);
    let step = |(row, &activity): (&Row, _)| Step {
        time_us: row.time_us,
        at: row.at,
        is_usable: row.flag.is_usable(),
        activity,
    };
    let steps: Vec<Step> = rows.iter().zip(&track.activity).map(step).collect();
    track.distance_m = along_m(&steps, settings);
}

fn hull_temp(
    trip: &mut Trip,
    windows: &[Range<i64>],
    temps: &[Reading<f64>],
    logs: &[String],
    settings: &Settings,
) {
    let temps = chosen(trip, "water temperature", temps, logs).readings.into_iter().collect();
    let mut temps = Stream::judged(trip, "surface_temp", temps, &settings.surface_temp, |temp_c| temp_c);
    if let Some(found) = flipping(&temps.series, settings.flip_c) {
        for sample in found.samples.into_iter().flatten() {
            temps.flags[sample] = temps.flags[sample].and(Flag::Suspect);
        }
        trip.remarks.push(format!(
            "The hull temperature jumps up and down by {:.1} °C within seconds ({} times), as if two sensors \
             shared one name: it is marked suspect there and not used.",
            found.height_c, found.flips
        ));
    }
    let track = &mut trip.track;
    (track.surface_temp_raw_c, track.surface_temp_qc) = temps.means(windows);
    track.correct_surface_temp(HullCorrection {
        add_c: settings.surface_temp_offset_c,
        lag_s: settings.surface_temp_lag_s,
    });
}

fn move_through_water(
    trip: &mut Trip,
    windows: &[Range<i64>],
    speeds: &[Reading<HullSpeed>],
    logs: &[String],
    settings: &Settings,
) {
    let mut speed_logs = apart(speeds).into_iter().map(|(sender, own)| {
        let along = own.iter().map(|&(time_us, speed)| (time_us, speed.along_mps)).collect();
        let along = Stream::judged(trip, STW, along, &settings.stw, |stw_mps| stw_mps);
        let (means, stw_qc) = along.means(windows);
        let across = |samples: Range<usize>| {
            let good = samples.filter(|&sample| along.flags[sample] != Flag::Fail);
            mean(good.filter_map(|sample| own[sample].1.across_mps))
        };
        SpeedLog {
            name: name(sender, logs),
            stw_mps: means
                .iter()
                .zip(&stw_qc)
                .map(|(mean, &flag)| mean.filter(|_| flag != Flag::Fail))
                .collect(),
            stw_across_mps: along.shared_out(windows).into_iter().map(across).collect(),
            stw_qc,
            quality: trip.quality.pop().unwrap_or_default(),
        }
    });
    let nothing = SpeedLog {
        stw_mps: vec![None; windows.len()],
        stw_qc: vec![Flag::Missing; windows.len()],
        stw_across_mps: vec![None; windows.len()],
        ..SpeedLog::default()
    };
    let first = speed_logs.next();
    let others = speed_logs.collect();
    trip.other_speed_logs = others;
    trip.speed_log = first.as_ref().map(|log| log.name.clone());
    trip.quality.extend(first.as_ref().map(|log| log.quality.clone()));
    let log = first.unwrap_or(nothing);
    let track = &mut trip.track;
    (track.stw_mps, track.stw_qc, track.stw_across_mps) = (log.stw_mps, log.stw_qc, log.stw_across_mps);
}

/// Name of the speed through the water among the streams that are judged.
const STW: &str = "stw";

/// Sets from magnetic north get the declination where the boat then was.
fn report_currents(trip: &mut Trip, reported: &[SetDrift]) {
    let track = &trip.track;
    let on_track = |&SetDrift { time_us, set_deg, north, drift_mps }: &SetDrift| {
        let declination_deg = match north {
            North::True => 0.0,
            North::Magnetic => declination_deg(time_us, track.at(track.nearest_row(time_us)?)),
        };
        Some(ReportedCurrent { time_us, set_deg: wrap_deg(set_deg + declination_deg), drift_mps })
    };
    trip.reported_currents = reported.iter().filter_map(on_track).collect();
}

fn point(
    trip: &mut Trip,
    windows: &[Range<i64>],
    heading: &[Reading<f64>],
    logs: &[String],
    settings: &Settings,
) {
    let heading = chosen(trip, "heading", heading, logs);
    let is_magnetic = heading.rank == Some(MAGNETIC);
    let on = counted_on(&heading.readings);
    let on = Stream::judged(trip, "heading", on, &settings.heading, |heading_deg| heading_deg);
    let (_, heading_qc) = on.means(windows);
    let (owned, flags) = (on.shared_out(windows), on.flags);
    // of each row the samples of its best grade; of rows that failed none
    let mut best: Vec<(i64, f64)> = Vec::with_capacity(heading.readings.len());
    let of_row = |(samples, &grade): (&Range<usize>, &Flag)| {
        let start = best.len();
        let is_kept = |&sample: &usize| {
            grade != Flag::Fail && (flags[sample] == grade || grade.is_usable() && flags[sample].is_usable())
        };
        best.extend(samples.clone().filter(is_kept).map(|sample| heading.readings[sample]));
        start..best.len()
    };
    let owned: Vec<Range<usize>> = owned.iter().zip(&heading_qc).map(of_row).collect();
    trip.track.heading_qc = heading_qc;
    let track = &trip.track;
    let at = |row: usize| track.at(row);
    trip.track.heading_deg = true_headings_deg(&owned, &best, is_magnetic, at);
    if is_magnetic && !is_within_model(trip.track.time_us[0]) {
        trip.remarks.push(
            "The magnetic model does not cover the date of this trip; the declination of the nearest year is used."
                .to_owned(),
        );
    }
}

fn blow(trip: &mut Trip, windows: &[Range<i64>], winds: &[Reading<Wind>], logs: &[String]) {
    let winds = chosen(trip, "wind", winds, logs);
    let owned = owned(windows, &winds.readings, |&(time_us, _)| time_us);
    let track = &trip.track;
    let of_row = |(row, samples): (usize, Range<usize>)| {
        let wind = wind::mean(&winds.readings[samples])?;
        let boat = Boat {
            heading_deg: track.heading_deg[row],
            sog_mps: track.sog_mps[row],
            cog_deg: track.cog_deg[row],
        };
        match winds.rank {
            Some(APPARENT) => wind::from_apparent(wind, boat),
            Some(FROM_BOW) => wind::from_north(wind, boat),
            _ => Some(wind),
        }
    };
    let winds: Vec<Option<Wind>> = owned.into_iter().enumerate().map(of_row).collect();
    trip.track.wind_speed_mps = winds.iter().map(|wind| wind.map(|wind| wind.speed_mps)).collect();
    trip.track.wind_from_deg = winds.iter().map(|wind| wind.map(|wind| wind.from_deg)).collect();
}

/// The probe at its own rate, and the means of its usable samples in the rows.
fn lower_probe(trip: &mut Trip, windows: &[Range<i64>], probe: &[ProbeReading], settings: &Settings) {
    let depths: Series = probe.iter().map(|reading| (reading.time_us, reading.depth_m)).collect();
    let depth_flags =
        Stream::judged(trip, "probe_depth", depths, &settings.probe_depth, |depth_m| depth_m).flags;
    let temps: Series = probe.iter().filter_map(|reading| Some((reading.time_us, reading.temp_c?))).collect();
    let temps = Stream::judged(trip, "probe_temp", temps, &settings.probe_temp, |temp_c| temp_c);
    let mut temp_flags = temps.flags.into_iter();
    let sample = |(reading, &depth_flag): (&ProbeReading, &Flag)| {
        let temp_flag = reading.temp_c.and_then(|_| temp_flags.next()).unwrap_or(Flag::Missing);
        let ProbeReading { time_us, depth_m, temp_c, speed_mps } = *reading;
        let temp_qc = if temp_flag == Flag::Missing { temp_flag } else { temp_flag.and(depth_flag) };
        (ProbeSample { time_us, depth_m, temp_c, temp_qc, speed_mps }, depth_flag)
    };
    let samples: Vec<(ProbeSample, Flag)> = probe.iter().zip(&depth_flags).map(sample).collect();
    let owned = owned(windows, &samples, |(sample, _)| sample.time_us);
    let row_mean = |value: fn(&(ProbeSample, Flag)) -> Option<f64>| -> Vec<Option<f64>> {
        owned.iter().map(|row| mean(samples[row.clone()].iter().filter_map(value))).collect()
    };
    let track = &mut trip.track;
    track.probe_depth_m = row_mean(|(sample, flag)| flag.is_usable().then_some(sample.depth_m));
    track.probe_temp_c = row_mean(|(sample, _)| sample.temp_c.filter(|_| sample.temp_qc.is_usable()));
    track.probe_speed_mps = row_mean(|(sample, _)| sample.speed_mps);
    trip.probe = samples.into_iter().map(|(sample, _)| sample).collect();
}

/// Says when temperatures have no place because no row is near them.
fn remark_unplaced(trip: &mut Trip, windows: &[Range<i64>], temps: &[Reading<f64>]) {
    let placed: usize =
        owned(windows, temps, |reading| reading.time_us).iter().map(ExactSizeIterator::len).sum();
    let unplaced = temps.len() - placed;
    if 0 < unplaced {
        let all = temps.len();
        trip.remarks.push(format!(
            "{unplaced} of {all} hull temperatures fell between positions and have no place on the track."
        ));
    }
}

/// Headings that go on through north: 359°, 361° …
fn counted_on(headings: &[(i64, f64)]) -> Series {
    let mut on_deg = headings.first().map_or(0.0, |&(_, heading_deg)| heading_deg);
    let count = |&(time_us, heading_deg): &(i64, f64)| {
        on_deg += turn_deg(on_deg, heading_deg);
        (time_us, on_deg)
    };
    headings.iter().map(count).collect()
}
