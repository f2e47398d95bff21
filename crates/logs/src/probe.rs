//! What did a temperature probe, or another logger of time and temperature, sample?
//!
//! A table with a depth (or a pressure) gives samples of the probe; a table with positions and without depths
//! gives temperatures of the surface; positions give fixes. What a table lacks is said in a remark, and its rows
//! are set aside: nothing is guessed that would put a temperature at the wrong depth.

mod columns;
mod preamble;
mod pressure;
mod sample;
mod settle;
pub(crate) mod stamped;
#[cfg(test)]
mod tests;

use std::io::{BufRead, Result};

use waterseam_units::convert::Unit;
use waterseam_units::time::US_PER_S;

use self::columns::Columns;
use self::sample::{Reader, Sampled, emit};
use self::settle::Settled;
pub(crate) use self::settle::Survey;
use crate::boat::BoatFile;
use crate::observation::{FixKind, Value};
use crate::source::{Sink, SourceReport};
use crate::table::account::Account;
use crate::table::layout::Layout;
use crate::table::rows::{self, Row};

/// Gathers what only the whole file can tell: order of day and month, decimal commas, units that no heading names.
///
/// # Errors
/// What the input reports.
pub(crate) fn survey(input: &mut dyn BufRead, layout: &Layout) -> Result<Survey> {
    let columns = Columns::of(&layout.headings);
    let mut survey = Survey::new(layout);
    rows::each(input, layout, |_, row| {
        if let Row::Values(fields) = row {
            survey.see(&columns, |at| fields.get(at));
        }
    })?;
    Ok(survey)
}

/// Reads the table from its start.
///
/// # Errors
/// What the input reports. The rows before the failure have been handed out.
pub(crate) fn read(
    input: &mut dyn BufRead,
    layout: &Layout,
    survey: &Survey,
    boat: &BoatFile,
    report: &mut SourceReport,
    sink: &mut dyn Sink,
) -> Result<()> {
    let columns = Columns::of(&layout.headings);
    let settled = Settled::new(columns, layout, survey, boat, &report.file_name);
    report.described = describe(layout, &settled.columns);
    report.remarks.extend(settled.remarks.iter().cloned());
    for column in settled.columns.measured() {
        report.columns[column.at].unit = column.unit.map(Unit::symbol);
    }
    let (start_at, end_at) = settled.cast_positions;
    let unusable = settled.unusable;
    let mut reader = Reader::new(settled);
    let mut account = Account { report, sink };
    let mut last_us = None;
    rows::each(input, layout, |place, row| match row {
        Row::TooLong => account.set_aside("line_too_long", place),
        Row::NotText => account.set_aside("not_text", place),
        Row::Above | Row::HeadingsAgain | Row::Comment | Row::Word => account.not_needed(),
        Row::Values(_) if unusable.is_some() => account.set_aside(unusable.unwrap_or_default(), place),
        Row::Values(fields) => {
            if fields.iter().skip(layout.headings.len()).any(|field| !field.is_empty()) {
                return account.set_aside("too_many_fields", place);
            }
            match reader.row(|at| fields.get(at)) {
                Ok(Sampled { time_us, values }) if values.iter().any(Option::is_some) => {
                    if let (None, Some(at)) = (last_us, start_at) {
                        account.hand_out(time_us, Value::Fix { at, from: FixKind::Row });
                    }
                    last_us = Some(time_us);
                    emit(time_us, &values, &mut account);
                }
                Ok(_) => account.not_needed(),
                Err(reason) => account.set_aside(reason, place),
            }
        }
    })?;
    if let (Some(time_us), Some(at)) = (last_us, end_at.or(start_at)) {
        account.hand_out(time_us, Value::Fix { at, from: FixKind::Row });
    }
    reader.report(survey.order, boat, account.report);
    if account.report.set_aside.contains_key("too_many_fields") {
        let hint = "Some rows have more fields than there are headings. If its decimals are commas, write the table \
                    with semicolons or tabs between the columns.";
        account.report.remarks.push(hint.to_owned());
    }
    Ok(())
}

fn describe(layout: &Layout, columns: &Columns) -> String {
    let what = match (columns.depth.is_some(), columns.has_temp(), columns.has_position()) {
        (true, true, _) => "probe log",
        (false, true, true) => "table of positions and surface temperature",
        (false, true, false) => "table of temperatures",
        (_, false, true) => "table of positions",
        (_, false, false) => "table without temperature",
    };
    format!("{what}, columns parted by {}, headings in line {}", layout.delimiter_name(), layout.heading_line)
}

/// Spacing of samples without any time of their own, µs.
const CAST_SPACING_US: i64 = US_PER_S;
