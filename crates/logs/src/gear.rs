//! When did which line go into the water and come out of it, and how was it rigged?

use std::io::{self, BufRead};

use crate::boat::BoatFile;
use crate::notes::{Reader, Survey};
use crate::observation::{GearEntry, LineMethod, NoteTime};
use crate::source::{Sink, SourceReport};
use crate::table::account::Account;
use crate::table::fields::Fields;
use crate::table::layout::Layout;
use crate::table::rows::{self, Row};
use crate::table::vocabulary::Note;

/// Rod of a row that names none but says when its line went in and came out.
const UNNAMED_ROD: &str = "unnamed rod";

/// Reads the gear log from its start.
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
) -> io::Result<()> {
    let file_name = report.file_name.clone();
    report.described = format!(
        "gear log, columns parted by {}, headings in line {}",
        layout.delimiter_name(),
        layout.heading_line
    );
    let mut reader = Reader::new(layout, survey, boat, &file_name);
    let out_is_start = survey.out_is_start();
    if out_is_start {
        report.remarks.push(
            "In most rows the time out is before the time in: taken as the line going out and being reeled in.".to_owned(),
        );
    }
    let mut account = Account { report, sink };
    let mut n_entries = 0;
    rows::each(input, layout, |place, row| match row {
        Row::TooLong => account.set_aside("line_too_long", place),
        Row::NotText => account.set_aside("not_text", place),
        Row::Word => account.set_aside("no_time", place),
        Row::Above | Row::HeadingsAgain | Row::Comment => account.not_needed(),
        Row::Values(fields) => match entry(&mut reader, fields, out_is_start) {
            Err(reason) => account.set_aside(reason, place),
            Ok(entry) => {
                account.used();
                for time in [entry.start, entry.end] {
                    if let Some(NoteTime::Instant(time_us)) = time {
                        account.seen_at(time_us);
                    }
                }
                n_entries += 1;
                account.sink.gear(GearEntry { file_name: file_name.clone(), line: place.line, ..entry });
            }
        },
    })?;
    account.report.contents.insert("line out or in".to_owned(), n_entries);
    reader.report(boat, account.report);
    Ok(())
}

fn entry(reader: &mut Reader, fields: Fields<'_>, out_is_start: bool) -> Result<GearEntry, &'static str> {
    let by_event = !reader.columns.has(Note::TimeIn) && !reader.columns.has(Note::TimeOut);
    let rod = reader.text(fields, Note::Rod);
    let (start, end, rod) = if by_event {
        let time = reader.time(fields, Note::Time)?;
        let out = goes_out(reader.columns.cell(fields, Note::Event)).ok_or("unknown_event")?;
        (out.then_some(time), (!out).then_some(time), rod.ok_or("no_rod")?)
    } else {
        let (start, end) = spell(reader, fields, out_is_start)?;
        (start, end, rod.unwrap_or_else(|| UNNAMED_ROD.to_owned()))
    };
    let method = reader.text(fields, Note::Method).and_then(|word| {
        let method = LineMethod::understood(&word);
        reader.counted(Note::Method, method)
    });
    Ok(GearEntry {
        start,
        end,
        rod,
        method,
        line_out_m: reader.amount(fields, Note::LineOut),
        colors: reader.count(fields, Note::Colors),
        weight_kg: reader.amount(fields, Note::Weight),
        leader_m: reader.amount(fields, Note::Leader),
        lure: reader.text(fields, Note::Lure),
        depth_m: reader.amount(fields, Note::Depth),
        ..GearEntry::default()
    })
}

/// Start and end of a row with a time in and a time out, at least one of which must be readable.
fn spell(
    reader: &mut Reader,
    fields: Fields<'_>,
    out_is_start: bool,
) -> Result<(Option<NoteTime>, Option<NoteTime>), &'static str> {
    let (first, last) =
        if out_is_start { (Note::TimeOut, Note::TimeIn) } else { (Note::TimeIn, Note::TimeOut) };
    let start = reader.time(fields, first);
    let end = reader.end_time(fields, last, start.ok());
    match (start, end) {
        (Ok(start), Ok(end)) => Ok((Some(start), Some(end))),
        // a line that was never noted as out of the water is a line that is still out
        (Ok(start), Err("no_time")) => Ok((Some(start), None)),
        (Err("no_time"), Ok(end)) => Ok((None, Some(end))),
        (Err(reason), _) | (_, Err(reason)) => Err(reason),
    }
}

/// Whether a line goes out (`true`) or is reeled in; a row that does not say it goes out.
fn goes_out(event: &str) -> Option<bool> {
    match event.to_lowercase().trim() {
        "" | "out" | "set" | "start" | "deployed" | "lines out" | "line out" | "down" => Some(true),
        "in" | "reeled in" | "reeled" | "retrieved" | "end" | "stop" | "up" | "lines in" | "line in"
        | "pulled" => Some(false),
        _ => None,
    }
}
