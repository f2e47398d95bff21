//! What does one row say?

use waterseam_units::LatLon;
use waterseam_units::convert::Unit;
use waterseam_units::time::US_PER_S;

use super::columns::Column;
use super::settle::Settled;
use super::{CAST_SPACING_US, pressure};
use crate::boat::BoatFile;
use crate::observation::{DepthReference, FixKind, Value};
use crate::quantity::{Dimension, quantity};
use crate::source::SourceReport;
use crate::table;
use crate::table::account::Account;
use crate::table::moment::{Civil, DateOrder, Moment, Zone, moment};
use crate::table::number::{degrees, is_missing, number};
use crate::table::when::{ClockUse, Midnights, When};

/// Values of a row, in the order in which they are handed out.
pub(super) type Values = [Option<Value>; 5];

/// A row with its time.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Sampled {
    pub time_us: i64,
    pub values: Values,
}

/// Reads rows one after another.
pub(super) struct Reader {
    settled: Settled,
    clock_use: ClockUse,
    n_rows: i64,
    midnights: Midnights,
    bad_cells: u64,
    bad_positions: u64,
}

/// A cell of numbers.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Cell<T> {
    Value(T),
    Missing,
    Bad,
}

impl<T> Cell<T> {
    fn value(self) -> Option<T> {
        match self {
            Self::Value(value) => Some(value),
            Self::Missing | Self::Bad => None,
        }
    }
}

/// Longest time since the start of a log, s: ten years.
const ELAPSED_MAX_S: f64 = 10.0 * 366.0 * 86_400.0;

impl Reader {
    pub fn new(settled: Settled) -> Self {
        Self {
            settled,
            clock_use: ClockUse::default(),
            n_rows: 0,
            midnights: Midnights::default(),
            bad_cells: 0,
            bad_positions: 0,
        }
    }

    /// Time and values of a row.
    ///
    /// # Errors
    /// The reason to set it aside.
    pub fn row<'f>(&mut self, get: impl Fn(usize) -> &'f str) -> Result<Sampled, &'static str> {
        let row = self.n_rows;
        self.n_rows += 1;
        let (time_us, added_us, method) = self.time(row, &get)?;
        let (values, problem) = self.values(&get);
        if values.iter().all(Option::is_none)
            && let Some(problem) = problem
        {
            return Err(problem);
        }
        if values.iter().any(Option::is_some) {
            self.clock_use.see(added_us, method);
        }
        Ok(Sampled { time_us, values })
    }

    /// Writes what was found out about the file as a whole into the report.
    pub fn report(&self, order: DateOrder, boat: &BoatFile, report: &mut SourceReport) {
        self.clock_use.report(order, boat, report);
        if report.set_aside.contains_key("no_date") {
            report.remarks.push(
                "Its rows have a clock time without a date, and neither the lines before the headings nor the file's \
                 name (like 2026-06-14) give one."
                    .to_owned(),
            );
        }
        if report.set_aside.contains_key("no_start_time") {
            report.remarks.push(
                "Its times count from the start of the log, and no line before the headings says when that was.".to_owned(),
            );
        }
        for (n, what) in
            [(self.bad_cells, "cells are no numbers"), (self.bad_positions, "positions are none")]
        {
            if n > 0 {
                report.remarks.push(format!("{n} {what}: taken as missing, the rest of the row was used."));
            }
        }
    }

    fn time<'f>(
        &mut self,
        row: i64,
        get: &impl Fn(usize) -> &'f str,
    ) -> Result<(i64, i64, &'static str), &'static str> {
        let columns = &self.settled.columns;
        if columns.time.is_none() && columns.date.is_none() {
            let since_us = match columns.elapsed.map(|(at, unit_s)| (get(at), unit_s)) {
                None => row * CAST_SPACING_US,
                Some((cell, _)) if is_missing(cell) => return Err("no_time"),
                Some((cell, unit_s)) => match (number(cell, self.settled.commas), moment(cell)) {
                    // seconds since 1970 under a heading that only says seconds
                    (_, Some(Moment::Epoch(time_us))) => return Ok((time_us, 0, "utc_stated")),
                    (Some(elapsed), _) if (elapsed * unit_s).abs() > ELAPSED_MAX_S => return Err("bad_time"),
                    (Some(elapsed), _) => (elapsed * unit_s * US_PER_S as f64).round() as i64,
                    (None, Some(Moment::Civil(Civil { day: None, clock_us: Some(clock_us), .. }))) => {
                        clock_us
                    }
                    _ => return Err("bad_time"),
                },
            };
            let (start_us, added_us, method) = self.settled.start.ok_or("no_start_time")?;
            return Ok((start_us.saturating_add(since_us), added_us, method));
        }
        let cell = |at: Option<usize>| at.map_or("", get);
        match self.settled.clock.read(cell(columns.time), cell(columns.date))? {
            When::Instant { time_us, added_us, method } => Ok((time_us, added_us, method)),
            When::Clock(clock_us) => self.on_a_day(clock_us),
        }
    }

    /// A clock time without a date, on the first day or on one behind it.
    fn on_a_day(&mut self, clock_us: i64) -> Result<(i64, i64, &'static str), &'static str> {
        let day = self.settled.first_day.ok_or("no_date")?;
        let day = self.midnights.day(day, clock_us).ok_or("bad_time")?;
        match self.settled.clock.instant(day, clock_us, Zone::Unsaid) {
            Some(When::Instant { time_us, added_us, method }) => Ok((time_us, added_us, method)),
            _ => Err("bad_time"),
        }
    }

    /// The values, and what is wrong with the row if there are none.
    fn values<'f>(&mut self, get: &impl Fn(usize) -> &'f str) -> (Values, Option<&'static str>) {
        let settled = &self.settled;
        let columns = &settled.columns;
        let at = position(columns.lat.zip(columns.lon).map(|(lat, lon)| (get(lat), get(lon))), settled);
        let measure = |column: Option<Column>, dimension| {
            column.map_or(Cell::Missing, |column| measure(get(column.at), column.unit, dimension, settled))
        };
        let depth = measure(columns.depth, Dimension::Depth);
        let temp = measure(columns.temp, Dimension::Temperature);
        let surface = measure(columns.surface_temp, Dimension::Temperature);
        let speed = measure(columns.speed, Dimension::Speed);
        let ground_speed = measure(columns.ground_speed, Dimension::Speed);
        let water_depth = measure(columns.water_depth, Dimension::Depth);
        let course = columns.course.and_then(|at| number(get(at), settled.commas));

        let probe = columns.depth.is_some();
        let surface_temp = surface.value().or(temp.value().filter(|_| settled.temp_is_surface));
        // a speed without a depth beside positions is that of the boat
        let sog = ground_speed.value().or(speed.value().filter(|_| !probe && columns.has_position()));
        let values = [
            at.value().map(|at| Value::Fix { at, from: FixKind::Row }),
            sog.filter(|sog_mps| *sog_mps >= 0.0).map(|sog_mps| Value::GroundVelocity {
                sog_mps,
                cog_deg: course.filter(|course| (0.0..=360.0).contains(course)).map(|course| course % 360.0),
            }),
            depth.value().filter(|_| temp.value().is_some() || speed.value().is_some()).map(|depth_m| {
                Value::Probe {
                    depth_m: if settled.depth_negative_down { -depth_m } else { depth_m },
                    temp_c: temp.value(),
                    speed_mps: speed.value(),
                }
            }),
            surface_temp.map(|temp_c| Value::WaterTemp { temp_c }),
            water_depth.value().map(|depth_m| Value::WaterDepth {
                depth_m,
                reference: DepthReference::Surface,
                offset_m: None,
            }),
        ];
        let cells = [depth, temp, surface, speed, ground_speed, water_depth];
        let n_bad = cells.iter().filter(|cell| **cell == Cell::Bad).count() as u64;
        let problem = if n_bad > 0 {
            Some("bad_number")
        } else if at == Cell::Bad {
            Some("bad_position")
        } else if probe && temp.value().is_some() {
            Some("no_depth")
        } else if probe && depth.value().is_some() {
            Some("no_temperature")
        } else {
            None
        };
        if values.iter().any(Option::is_some) {
            self.bad_cells += n_bad;
            self.bad_positions += u64::from(at == Cell::Bad);
        }
        (values, problem)
    }
}

/// A cell in SI. A unit in the cell itself goes before that of the heading.
fn measure(cell: &str, unit: Option<Unit>, dimension: Dimension, settled: &Settled) -> Cell<f64> {
    if is_missing(cell) {
        return Cell::Missing;
    }
    let unit = unit.unwrap_or(Unit::Metre);
    let value = match (number(cell, settled.commas), unit) {
        (Some(pressure_dbar), Unit::Decibar) => Some(pressure::depth_m(pressure_dbar, settled.salinity_psu)),
        (Some(value), unit) => Some(dimension.to_si(value, unit)),
        (None, unit) => quantity(cell, dimension, unit),
    };
    value.map_or(Cell::Bad, Cell::Value)
}

fn position(cells: Option<(&str, &str)>, settled: &Settled) -> Cell<LatLon> {
    let Some((lat, lon)) = cells else { return Cell::Missing };
    if is_missing(lat) && is_missing(lon) {
        return Cell::Missing;
    }
    let read = |cell| degrees(cell, settled.commas);
    let at = read(lat).zip(read(lon)).and_then(|(lat, lon)| table::number::position(lat, lon));
    at.map_or(Cell::Bad, Cell::Value)
}

/// Hands out the values of a used row.
pub(super) fn emit(time_us: i64, values: &Values, account: &mut Account<'_>) {
    account.used();
    account.seen_at(time_us);
    values.iter().flatten().for_each(|&value| account.hand_out(time_us, value));
}
