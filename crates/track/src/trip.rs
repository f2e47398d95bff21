//! What does one trip's track look like, column by column?

use std::ops::Range;

use waterseam_logs::{North, Observation};
use waterseam_units::Flag;
use waterseam_units::angle::{mean_direction_deg, turn_deg, wrap_deg};

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
use crate::steady::{BySender, Sender, apart, name};
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
        readings(observations, &senders, settings.transducer_depth_m.is_some());

    let unplaced = unplaced(&windows, &surface_temp);
    let mut trip = Trip { marks, ..Trip::default() };
    place(&mut trip, &rows, fixes, settings);
    report_currents(&mut trip, &currents);
    move_over_ground(&mut trip, &rows, &windows, velocity, logs, settings);
    hull_temp(&mut trip, &windows, surface_temp, logs, settings);
    sounding::depth(&mut trip, &windows, water_depth, logs, settings);
    move_through_water(&mut trip, &windows, water_speed, logs, settings);
    point(&mut trip, &windows, heading, logs, settings);
    blow(&mut trip, &windows, wind, logs);
    lower_probe(&mut trip, &windows, &probe, settings);
    trip.remarks.extend(unplaced);
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
    velocity: BySender<(f64, Option<f64>)>,
    logs: &[String],
    settings: &Settings,
) {
    let mut velocity = chosen(trip, "speed over ground", velocity, logs).samples;
    let speeds = velocity.series(|&(sog_mps, _)| sog_mps);
    let speeds = Stream::judged(trip, "sog", speeds, &settings.sog, |sog_mps| sog_mps);
    let mut sog_qc = speeds.best_flags(windows);
    if speeds.flags.contains(&Flag::Fail) {
        let all = velocity.time_us.into_iter().zip(velocity.values).zip(&speeds.flags);
        velocity = all.filter(|&(_, &flag)| flag != Flag::Fail).map(|(sample, _)| sample).collect();
    }
    let motion = motion(rows, owned(windows, &velocity.time_us), &velocity.values);
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
    temps: BySender<f64>,
    logs: &[String],
    settings: &Settings,
) {
    let temps = chosen(trip, "water temperature", temps, logs).samples;
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
    speeds: BySender<HullSpeed>,
    logs: &[String],
    settings: &Settings,
) {
    let mut speed_logs = apart(speeds).into_iter().map(|(sender, own)| {
        let along = own.series(|speed| speed.along_mps);
        let along = Stream::judged(trip, STW, along, &settings.stw, |stw_mps| stw_mps);
        let (means, stw_qc) = along.means(windows);
        let across = |samples: Range<usize>| {
            let good = samples.filter(|&sample| along.flags[sample] != Flag::Fail);
            mean(good.filter_map(|sample| own.values[sample].across_mps))
        };
        let stw_across_mps = if own.values.iter().any(|speed| speed.across_mps.is_some()) {
            along.shared_out(windows).map(across).collect()
        } else {
            vec![None; windows.len()]
        };
        SpeedLog {
            name: name(sender, logs),
            stw_mps: means
                .iter()
                .zip(&stw_qc)
                .map(|(mean, &flag)| mean.filter(|_| flag != Flag::Fail))
                .collect(),
            stw_across_mps,
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
    heading: BySender<f64>,
    logs: &[String],
    settings: &Settings,
) {
    let heading = chosen(trip, "heading", heading, logs);
    let is_magnetic = heading.rank == Some(MAGNETIC);
    let headings = heading.samples;
    let on = counted_on(&headings);
    let on = Stream::judged(trip, "heading", on, &settings.heading, |heading_deg| heading_deg);
    let heading_qc = on.best_flags(windows);
    // of each row the samples of its best grade; of rows that failed none
    let of_row = |(samples, &grade): (Range<usize>, &Flag)| {
        let is_kept = |&sample: &usize| {
            let flag = on.flags[sample];
            grade != Flag::Fail && (flag == grade || grade.is_usable() && flag.is_usable())
        };
        let first_us = *headings.time_us.get(samples.start)?;
        let kept = samples.filter(is_kept);
        Some((first_us, mean_direction_deg(kept.map(|sample| headings.values[sample]))?))
    };
    let means = on.shared_out(windows).zip(&heading_qc).map(of_row);
    let track = &trip.track;
    trip.track.heading_deg = true_headings_deg(means, is_magnetic, |row| track.at(row));
    trip.track.heading_qc = heading_qc;
    if is_magnetic && !is_within_model(trip.track.time_us[0]) {
        trip.remarks.push(
            "The magnetic model does not cover the date of this trip; the declination of the nearest year is used."
                .to_owned(),
        );
    }
}

fn blow(trip: &mut Trip, windows: &[Range<i64>], winds: BySender<Wind>, logs: &[String]) {
    let winds = chosen(trip, "wind", winds, logs);
    let track = &trip.track;
    let of_row = |(row, samples): (usize, Range<usize>)| {
        let wind = wind::mean(&winds.samples.values[samples])?;
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
    let winds = owned(windows, &winds.samples.time_us).enumerate().map(of_row);
    (trip.track.wind_speed_mps, trip.track.wind_from_deg) =
        winds.map(|wind| (wind.map(|wind| wind.speed_mps), wind.map(|wind| wind.from_deg))).unzip();
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
    let times: Vec<i64> = probe.iter().map(|reading| reading.time_us).collect();
    let owned: Vec<Range<usize>> = owned(windows, &times).collect();
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
fn unplaced(windows: &[Range<i64>], temps: &BySender<f64>) -> Option<String> {
    let all: usize = temps.times_us().map(<[i64]>::len).sum();
    let placed: usize = temps.times_us().flat_map(|times| owned(windows, times)).map(|row| row.len()).sum();
    let unplaced = all - placed;
    (unplaced > 0).then(|| {
        format!(
            "{unplaced} of {all} hull temperatures fell between positions and have no place on the track."
        )
    })
}

/// Headings that go on through north: 359°, 361° …
fn counted_on(headings: &Series) -> Series {
    let mut on_deg = headings.values.first().copied().unwrap_or_default();
    let count = |&heading_deg: &f64| {
        on_deg += turn_deg(on_deg, heading_deg);
        on_deg
    };
    Series { time_us: headings.time_us.clone(), values: headings.values.iter().map(count).collect() }
}
