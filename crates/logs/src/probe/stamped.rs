//! What do numbers behind a time mean, when no heading says it?
//!
//! Instruments that are logged line by line write `2026-06-14T05:12:03.2Z 9.1127`, or several numbers. Which of
//! them is a temperature only the boat file can say.

use std::io::{BufRead, Result};

use waterseam_units::time::local_text;

use super::columns::Columns;
use super::sample::{Reader, Sampled, emit};
use super::settle::{Settled, Survey};
use crate::boat::BoatFile;
use crate::lines::Lines;
use crate::source::{Sink, SourceReport};
use crate::table::account::{Account, Place};
use crate::table::fields::decode;
use crate::table::heading::Heading;
use crate::table::layout::Layout;
use crate::table::moment::{Civil, DateOrder, Moment, moment};
use crate::table::number::{Commas, is_missing, number};
use crate::table::vocabulary::IGNORE;
use crate::table::when::When;

/// Columns that are told apart; a line with more numbers is none of these logs.
const COLUMNS_MAX: usize = 32;

/// Whether most lines of the head are a time with numbers behind it.
pub(crate) fn looks_like(head: &[u8]) -> bool {
    let mut input = head;
    let mut lines = Lines::new(&mut input);
    let (mut n, mut good) = (0_usize, 0);
    // a slice cannot fail to be read
    while let Ok(Some(piece)) = lines.next() {
        let text = decode(piece.bytes);
        if !text.trim().is_empty() {
            n += 1;
            good += usize::from(cells(&text).is_some());
        }
    }
    // four of five, one torn line apart
    good > 0 && 5 * good >= 4 * n.saturating_sub(1)
}

/// The time and the numbers of a line.
fn cells(text: &str) -> Option<Vec<&str>> {
    let is_mark = |c: char| matches!(c, ' ' | '\t' | ',' | ';');
    let text = text.trim_matches(|c: char| is_mark(c) || c == '\r');
    let whole = |stamp: &str| match moment(stamp) {
        Some(Moment::Epoch(_)) => true,
        Some(Moment::Civil(Civil { day, clock_us, .. })) => day.is_some() && clock_us.is_some(),
        None => false,
    };
    let ends = text.match_indices(is_mark).map(|(at, _)| at).take(2);
    let stamp_end = ends.into_iter().find(|&end| whole(&text[..end]))?;
    let mut cells = vec![&text[..stamp_end]];
    let numbers = text[stamp_end..].split(is_mark).filter(|cell| !cell.is_empty());
    for cell in numbers.take(COLUMNS_MAX + 1) {
        let good = number(cell, Commas::Thousands).is_some() || is_missing(cell);
        good.then(|| cells.push(cell))?;
    }
    (2..=COLUMNS_MAX + 1).contains(&cells.len()).then_some(cells)
}

/// What a column without a meaning holds.
#[derive(Clone, Copy, Debug)]
struct Range {
    n: u64,
    low: f64,
    high: f64,
}

/// Reads the file from its start.
///
/// # Errors
/// What the input reports. The lines before the failure have been handed out.
pub(crate) fn read(
    input: &mut dyn BufRead,
    boat: &BoatFile,
    report: &mut SourceReport,
    sink: &mut dyn Sink,
) -> Result<()> {
    let layout = layout(boat);
    let known = layout.headings.iter().skip(1).any(|heading| !heading.words.is_empty());
    let settled = Settled::new(Columns::of(&layout.headings), &layout, &Survey::new(&layout), boat, "");
    "stamped numbers without a heading".clone_into(&mut report.described);
    if known {
        report.remarks.extend(settled.remarks.iter().cloned());
    }
    let unusable = settled.unusable;
    let clock = settled.clock.clone();
    let mut reader = Reader::new(settled);
    let mut ranges: Vec<Range> = Vec::new();
    let mut account = Account { report, sink };
    let mut lines = Lines::new(input);
    while let Some(piece) = lines.next()? {
        if piece.continued {
            continue;
        }
        let text = decode(piece.bytes);
        let place = Place { line: piece.line, byte: piece.byte, raw: &text };
        if piece.goes_on {
            account.set_aside("line_too_long", place);
        } else if text.trim().is_empty() {
        } else if let Some(cells) = cells(&text) {
            if !known {
                see(&mut ranges, &cells);
                if let Ok(When::Instant { time_us, .. }) = clock.read(cells[0], "") {
                    account.seen_at(time_us);
                }
                account.set_aside("column_meaning_unknown", place);
                continue;
            }
            let row = reader.row(|at| cells.get(at).copied().unwrap_or_default());
            match unusable.map_or(row, Err) {
                Ok(Sampled { time_us, values }) if values.iter().any(Option::is_some) => {
                    emit(time_us, &values, &mut account);
                }
                Ok(_) => account.not_needed(),
                Err(reason) => account.set_aside(reason, place),
            }
        } else {
            account.set_aside("not_a_stamped_number", place);
        }
    }
    if known {
        reader.report(DateOrder::default(), boat, account.report);
    } else {
        account.report.remarks.push(unknown_meaning(&ranges, account.report));
    }
    Ok(())
}

/// The layout that the boat file gives to a line: its time, then a column for each number.
fn layout(boat: &BoatFile) -> Layout {
    let meaning =
        |n: usize| boat.columns.get(&n.to_string()).map(String::as_str).filter(|word| *word != IGNORE);
    let numbered = (1..=COLUMNS_MAX).map(|n| Heading::new(&n.to_string(), meaning(n).unwrap_or_default()));
    let headings = std::iter::once(Heading::new("time", "time")).chain(numbered).collect();
    Layout { delimiter: b' ', heading_line: 0, units_line: None, headings, preamble: Vec::new() }
}

fn see(ranges: &mut Vec<Range>, cells: &[&str]) {
    for (at, cell) in cells.iter().skip(1).enumerate() {
        if ranges.len() == at {
            ranges.push(Range { n: 0, low: f64::INFINITY, high: f64::NEG_INFINITY });
        }
        if let Some(value) = number(cell, Commas::Thousands) {
            let range = &mut ranges[at];
            *range = Range { n: range.n + 1, low: range.low.min(value), high: range.high.max(value) };
        }
    }
}

fn unknown_meaning(ranges: &[Range], report: &SourceReport) -> String {
    let n_rows = report.set_aside.get("column_meaning_unknown").copied().unwrap_or_default();
    let utc = jiff::tz::TimeZone::UTC;
    let span = match (report.time_first_us, report.time_last_us) {
        (Some(first), Some(last)) => {
            format!(" from {} to {} UTC", local_text(first, &utc), local_text(last, &utc))
        }
        _ => String::new(),
    };
    let columns: Vec<String> = ranges
        .iter()
        .enumerate()
        .filter(|(_, range)| range.n > 0)
        .map(|(at, range)| format!("column {}: {} values, {} to {}", at + 1, range.n, range.low, range.high))
        .collect();
    format!(
        "{n_rows} rows{span} have numbers behind a time and no heading. {}. Say in the boat file what a column is, like \
         [columns] \"1\" = \"surface_temp_c\", and read it again.",
        columns.join("; ")
    )
}
