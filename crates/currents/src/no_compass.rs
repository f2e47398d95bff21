//! The current of a boat without a compass: which windows, and what is to be said of them?

use waterseam_units::angle::length_direction;

use crate::model::{OFFSET, SCALE};
use crate::steady::{GAP_S, steady, steady_s};
use crate::tips::{At, LogBefore, Smoothed, Tip, currents_at};
use crate::{Carried, Currents, Method, Motion, Settings, Velocity, Window};

/// A piece shorter than this part of [`Settings::mean_s`] has no mean.
const LEAST_PART: f64 = 0.25;
/// Up to this many times its median the speed over ground is the ordinary one.
const ORDINARY_SPEED: f64 = 1.5;

/// A row of steady motion.
#[derive(Clone, Copy)]
struct Row {
    time_s: f64,
    distance_m: f64,
    ground: Velocity,
    stw_mps: Option<f64>,
}

/// Current in windows by the velocities over ground, with the log's readings where all that lacks is the heading.
pub(crate) fn currents(
    motion: &Motion,
    ground: &[Option<Velocity>],
    stw_mps: &[Option<f64>],
    lack: Lack,
    earlier: Option<&Carried>,
    settings: &Settings,
) -> Currents {
    let (stw_mps, method) = match lack {
        Lack::Heading => (Some(stw_mps), Method::CourseCircle),
        _ => (None, Method::ReciprocalLegs),
    };
    let not_known = |why: &str| format!("The current is not known: {}, and {why}.", lack.words());
    let rows = rows(motion, ground, stw_mps, settings);
    let pieces = pieces(&rows, settings);
    let tips = tips(&pieces, settings);
    let Some(Smoothed { at: all, is_even }) = currents_at(&tips, &log_before(earlier, settings)) else {
        return Currents { remarks: vec![not_known(TOO_LITTLE)], ..Currents::default() };
    };
    if method == Method::ReciprocalLegs && !is_even {
        return Currents { remarks: vec![not_known(UNEVEN)], ..Currents::default() };
    }
    let windows = windows(&pieces, &tips, &all, method, settings);
    let remark = if windows.is_empty() {
        not_known(&open(&tips, &all, settings))
    } else {
        let from = match method {
            Method::ReciprocalLegs => {
                "the current comes from the speeds over ground on courses there and back, and holds as far as the \
                 throttle was left alone"
            }
            _ => "the current comes from the speeds over ground and through the water on several courses",
        };
        format!("As {}, {from}; edges are not looked for.", lack.words())
    };
    Currents { windows, remarks: vec![remark], ..Currents::default() }
}

const UNEVEN: &str = "the speeds over ground fit no even current at one throttle: either the current changed on the way or the throttle";
const TOO_LITTLE: &str = "there is too little steady motion";

/// What is not aboard, or does not work.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Lack {
    Heading,
    WaterSpeed,
    Both,
    LogReadsZero,
}

impl Lack {
    fn words(self) -> &'static str {
        match self {
            Self::Heading => "no heading was logged",
            Self::WaterSpeed => "no speed through the water was logged",
            Self::Both => "neither a heading nor a speed through the water was logged",
            Self::LogReadsZero => "the speed log reads zero throughout",
        }
    }
}

/// Why the tips leave the current open.
fn open(tips: &[Tip], all: &[At], settings: &Settings) -> String {
    let sum: Velocity = tips.iter().map(|tip| tip.ground * tip.ground.speed_mps().recip()).sum();
    let (length, direction_deg) = length_direction(sum.east_mps, sum.north_mps);
    if let Some(course_deg) = direction_deg.filter(|_| length > settings.one_course * tips.len() as f64) {
        return format!("the boat kept to one course, about {course_deg:.0}° true");
    }
    // what is known best, and along which line
    let best = all.iter().map(best_line).min_by(|a, b| a.2.total_cmp(&b.2));
    match best.filter(|best| best.2 <= settings.window_se_max_mps) {
        Some((along, drift_mps, _)) => {
            let toward = if drift_mps < 0.0 { along * -1.0 } else { along };
            format!(
                "the courses tell it along one line only: {:.2} m/s toward {:.0}° true, with what sets across that open",
                drift_mps.abs(),
                toward.speed_direction().1.unwrap_or_default()
            )
        }
        None => "the courses leave too much open".to_owned(),
    }
}

/// The direction along which a current is known best, its component there and the standard error of that, m/s.
fn best_line(at: &At) -> (Velocity, f64, f64) {
    let (east, both, north) = at.spread;
    let half = (0.25 * (east - north).powi(2) + both * both).sqrt();
    let least = 0.5 * (east + north) - half;
    // axis of least variance of a symmetric matrix of two rows
    let turn = 0.5 * (2.0 * both).atan2(east - north) + std::f64::consts::FRAC_PI_2;
    let along = Velocity { east_mps: turn.cos(), north_mps: turn.sin() };
    (along, along.dot(at.current), least.max(0.0).sqrt())
}

fn log_before(earlier: Option<&Carried>, settings: &Settings) -> LogBefore {
    let raw =
        LogBefore { scale: (1.0, settings.raw_scale_se), offset_mps: (0.0, settings.raw_offset_se_mps) };
    earlier.map_or(raw, |carried| {
        let se =
            |term: usize, raw: f64| carried.covariance[term][term].sqrt().hypot(settings.changed_part * raw);
        LogBefore {
            scale: (carried.terms[SCALE], se(SCALE, settings.raw_scale_se)),
            offset_mps: (carried.terms[OFFSET], se(OFFSET, settings.raw_offset_se_mps)),
        }
    })
}

fn rows(
    motion: &Motion,
    ground: &[Option<Velocity>],
    stw_mps: Option<&[Option<f64>]>,
    settings: &Settings,
) -> Vec<Row> {
    let ahead: Vec<Option<Velocity>> =
        ground.iter().map(|v| v.filter(|v| v.speed_mps() > 0.0).map(|v| v * v.speed_mps().recip())).collect();
    let over_ground: Vec<Option<f64>> = ground.iter().map(|v| v.map(Velocity::speed_mps)).collect();
    let speed = stw_mps.unwrap_or(&over_ground);
    let steady = steady(motion.time_s, &ahead, speed, settings);
    (0..motion.time_s.len())
        .filter(|&i| steady[i] && motion.time_s[i].is_finite() && motion.distance_m[i].is_finite())
        .filter_map(|i| {
            let stw_mps = match stw_mps {
                Some(column) => Some(column[i].filter(|stw| *stw >= settings.least_stw_mps)?),
                None => None,
            };
            let ground =
                ground[i].filter(|v| stw_mps.is_some() || v.speed_mps() >= settings.least_stw_mps)?;
            Some(Row { time_s: motion.time_s[i], distance_m: motion.distance_m[i], ground, stw_mps })
        })
        .collect()
}

/// Pieces of the track: each is unbroken, at most [`Settings::mean_s`] long, and so ends at a turn.
fn pieces<'a>(rows: &'a [Row], settings: &Settings) -> Vec<&'a [Row]> {
    let mut pieces = Vec::new();
    for unbroken in rows.chunk_by(|a, b| b.time_s - a.time_s <= GAP_S) {
        let index = |row: &Row| ((row.time_s - unbroken[0].time_s) / settings.mean_s).floor();
        let all = unbroken.chunk_by(|a, b| index(a) == index(b));
        pieces.extend(all.filter(|piece| length_s(piece) >= LEAST_PART * settings.mean_s));
    }
    pieces
}

fn length_s(rows: &[Row]) -> f64 {
    steady_s(rows.iter().map(|row| &row.time_s))
}

fn tips(pieces: &[&[Row]], settings: &Settings) -> Vec<Tip> {
    let mut tips: Vec<Tip> = pieces
        .iter()
        .map(|rows| {
            let n = rows.len() as f64;
            Tip {
                time_s: rows.iter().map(|row| row.time_s).sum::<f64>() / n,
                ground: rows.iter().map(|row| row.ground).sum::<Velocity>() * n.recip(),
                stw_mps: rows.iter().map(|row| row.stw_mps).sum::<Option<f64>>().map(|sum| sum / n),
                noise: settings.mean_s / length_s(rows).max(1.0),
                distance_m: rows.iter().map(|row| row.distance_m).sum::<f64>() / n,
                runs: false,
            }
        })
        .collect();
    let speeds: Vec<f64> = tips.iter().map(|tip| tip.ground.speed_mps()).collect();
    let ordinary_mps = crate::stats::median(&speeds);
    for tip in &mut tips {
        let ratio = tip.ground.speed_mps() / ordinary_mps;
        if ratio > ORDINARY_SPEED {
            tip.runs = true;
            tip.noise *= ratio * ratio;
        }
    }
    tips
}

/// Neighbouring pieces together, as long as a window may be, with the current of the middle one.
fn windows(pieces: &[&[Row]], tips: &[Tip], all: &[At], method: Method, settings: &Settings) -> Vec<Window> {
    let se_max_mps = match method {
        Method::ReciprocalLegs => settings.window_se_max_no_log_mps,
        _ => settings.window_se_max_mps,
    };
    let mut windows = Vec::new();
    let mut first = 0;
    while first < pieces.len() {
        let from = &pieces[first][0];
        let fits = |piece: &&[Row]| {
            let to = &piece[piece.len() - 1];
            to.time_s - from.time_s < settings.window_s && to.distance_m - from.distance_m < settings.window_m
        };
        let n = pieces[first..].iter().take_while(|piece| fits(piece)).count().max(1);
        let middle = first + n / 2;
        let (rows, At { current, spread: (east, _, north) }) = (pieces[middle], all[middle]);
        first += n;
        // in a run the course is too long for its current, and the water is another in every piece
        if tips[middle].runs || east.max(north).sqrt() > se_max_mps {
            continue;
        }
        windows.push(Window {
            time_s: rows.iter().map(|row| row.time_s).sum::<f64>() / rows.len() as f64,
            distance_m: rows.iter().map(|row| row.distance_m).sum::<f64>() / rows.len() as f64,
            east_mps: current.east_mps,
            north_mps: current.north_mps,
            east_se_mps: east.sqrt(),
            north_se_mps: north.sqrt(),
            method,
        });
    }
    windows
}
