//! The account of a file, for `inspect`: all that a captain asks of a strange file, on one screen.

use std::fmt::Write;

use jiff::tz::TimeZone;
use serde_json::{Value, json};
use waterseam_logs::{Kind, SetAside, SourceReport};
use waterseam_units::show::printable;
use waterseam_units::time::{local_text, seconds_between, timestamp};

use crate::sentences;
use crate::summary::wrap;
use crate::words::duration;

/// Columns of a terminal.
const WIDTH: usize = 80;
/// Where what is said starts, behind its label.
const MARGIN: usize = 10;
/// Lines that one list may fill, so that the whole fits a screen.
const LIST_LINES: usize = 10;
/// Records set aside that are shown for each reason.
const EXAMPLES: usize = 2;
/// Share of the records set aside, beyond which the file itself is in doubt. Common practice, no source.
const MUCH_SET_ASIDE: f64 = 0.1;

/// One file in words: what it is, its span, what is in it, what is set aside and why, and what to do.
pub fn source(report: &SourceReport, set_aside: &[SetAside], zone: &TimeZone) -> String {
    let mut page = Page { text: format!("{}\n", printable(&report.file_name)) };
    page.say("what", &format!("{}, {} bytes", report.described, grouped(report.bytes)));
    if report.kind.is_some() {
        page.say("span", &span(report, zone));
        page.say("clock", &clock(report));
        page.say("records", &account(report));
    }
    page.list("found", &found(report));
    page.list("columns", &columns(report));
    page.list("starts", &report.first_lines);
    page.raw("aside", &aside(report, set_aside));
    for remark in report.remarks.iter().map(String::as_str).chain(advice(report)) {
        page.say("note", remark);
    }
    page.text
}

/// Labels in the margin and text beside them, no wider than a terminal where words allow.
struct Page {
    text: String,
}

impl Page {
    fn say(&mut self, label: &str, text: &str) {
        let mut label = label;
        for line in text.lines().flat_map(|line| wrap(&printable(line), WIDTH - MARGIN)) {
            let _ = writeln!(self.text, "  {label:<width$}{line}", width = MARGIN - 2);
            label = "";
        }
    }

    /// Lines that stand in columns and are cut, not wrapped.
    fn raw(&mut self, label: &str, lines: &[String]) {
        let mut label = label;
        for line in lines {
            let line = cut(&printable(line), WIDTH - MARGIN);
            let _ = writeln!(self.text, "  {label:<width$}{line}", width = MARGIN - 2);
            label = "";
        }
    }

    /// The same, of a long list only the first lines.
    fn list(&mut self, label: &str, lines: &[String]) {
        self.raw(label, &lines[..lines.len().min(LIST_LINES)]);
        if lines.len() > LIST_LINES {
            self.raw("", &[format!("and {} more (--format json has them all)", lines.len() - LIST_LINES)]);
        }
    }
}

fn span(report: &SourceReport, zone: &TimeZone) -> String {
    let (Some(first), Some(last)) = (report.time_first_us, report.time_last_us) else {
        return "no time that could be read".to_owned();
    };
    let zone_name = zone.iana_name().unwrap_or("UTC");
    let took = duration(seconds_between(first, last));
    format!("{} to {} {zone_name} ({took})", local_text(first, zone), local_text(last, zone))
}

fn clock(report: &SourceReport) -> String {
    match (report.clock_offset_s, report.clock_offset_method) {
        (Some(offset), Some(method)) => format!("{offset:+} s to UTC ({})", method.replace('_', " ")),
        _ => String::new(),
    }
}

fn account(report: &SourceReport) -> String {
    format!(
        "{}: {} used, {} not needed, {} set aside",
        grouped(report.records_read),
        grouped(report.records_used),
        grouped(report.records_not_needed),
        grouped(report.records_set_aside())
    )
}

/// Sentences and fields, most frequent first, with how often they come.
fn found(report: &SourceReport) -> Vec<String> {
    let mut contents: Vec<(&String, u64)> = report.contents.iter().map(|(name, n)| (name, *n)).collect();
    contents.sort_by(|a, b| b.1.cmp(&a.1).then(a.0.cmp(b.0)));
    let width = contents.iter().map(|(name, _)| printable(name).chars().count()).max().unwrap_or(0).min(28);
    let is_nmea = report.kind == Some(Kind::Nmea0183);
    let line = |(name, n): &(&String, u64)| {
        let words = if is_nmea { sentences::words(name) } else { String::new() };
        let text =
            format!("{:<width$} {:>10}  {:<14}{words}", printable(name), grouped(*n), rate(report, *n));
        text.trim_end().to_owned()
    };
    contents.iter().map(line).collect()
}

/// Mean interval between `n` records over the span of the file, s.
fn interval_s(report: &SourceReport, n: u64) -> Option<f64> {
    let seconds = seconds_between(report.time_first_us?, report.time_last_us?);
    (n > 1 && seconds > 0.0).then(|| seconds / (n - 1) as f64)
}

/// How often: `every 2.0 s`, `5.0 a second`.
fn rate(report: &SourceReport, n: u64) -> String {
    match interval_s(report, n) {
        Some(seconds) if seconds < 0.8 => format!("{:.1} a second", 1.0 / seconds),
        Some(seconds) if seconds < 99.5 => format!("every {seconds:.1} s"),
        Some(seconds) => format!("every {}", duration(seconds)),
        None => String::new(),
    }
}

/// Columns with what they were taken for.
fn columns(report: &SourceReport) -> Vec<String> {
    let headings = || report.columns.iter().map(|column| printable(&column.heading));
    let width = headings().map(|heading| heading.chars().count()).max().unwrap_or(0).min(30);
    let columns = report.columns.iter().zip(headings()).enumerate();
    columns
        .map(|(at, (column, heading))| {
            let meaning = column.meaning.unwrap_or("not needed, or not known");
            let unit = column.unit.map_or(String::new(), |unit| format!(", {unit}"));
            format!("{:>2} {:<width$}  {meaning}{unit}", at + 1, cut(&heading, width))
        })
        .collect()
}

/// Each reason with its count and the first records as they stand in the file.
fn aside(report: &SourceReport, set_aside: &[SetAside]) -> Vec<String> {
    let mut reasons: Vec<(&str, u64)> = report.set_aside.iter().map(|(reason, n)| (*reason, *n)).collect();
    reasons.sort_by(|a, b| b.1.cmp(&a.1).then(a.0.cmp(b.0)));
    let mut lines = Vec::new();
    for (reason, n) in reasons {
        lines.push(format!("{} {}", grouped(n), reason.replace('_', " ")));
        let of_reason = set_aside.iter().filter(|record| record.reason == reason);
        lines.extend(
            of_reason.take(EXAMPLES).map(|record| format!("  line {}: {}", record.line, record.raw.trim())),
        );
    }
    lines
}

/// What to do, where the reader's own remarks do not say it.
fn advice(report: &SourceReport) -> Option<&'static str> {
    let share = report.records_set_aside() as f64 / report.records_read.max(1) as f64;
    match report.kind {
        None if report.remarks.is_empty() && report.described.starts_with("text") => Some(
            "It is left out, and its name and size are noted in the logbook. If it is a table of a log, write in the \
             boat file what its columns are: [columns] \"heading\" = \"temp_c\" (or time, depth_ft, lat, lon …).",
        ),
        Some(_) if share > MUCH_SET_ASIDE && report.remarks.is_empty() => Some(
            "Much of this file could not be used: copy it from the card once more, and look at the lines above.",
        ),
        _ => None,
    }
}

/// A count with its thousands apart: `12,345`.
fn grouped(n: u64) -> String {
    let digits = n.to_string();
    let mut text = String::new();
    for (at, digit) in digits.chars().enumerate() {
        if at > 0 && (digits.len() - at).is_multiple_of(3) {
            text.push(',');
        }
        text.push(digit);
    }
    text
}

/// At most `width` characters.
fn cut(line: &str, width: usize) -> String {
    if line.chars().count() <= width {
        return line.to_owned();
    }
    line.chars().take(width.saturating_sub(1)).chain(['…']).collect()
}

/// The same as JSON.
pub fn source_json(report: &SourceReport, set_aside: &[SetAside]) -> Value {
    let time = |time_us: Option<i64>| time_us.map(|t| timestamp(t).to_string());
    let contents: serde_json::Map<String, Value> = report
        .contents
        .iter()
        .map(|(name, n)| (name.clone(), json!({ "count": n, "interval_s": interval_s(report, *n) })))
        .collect();
    let columns: Vec<Value> = report
        .columns
        .iter()
        .map(|column| json!({ "heading": column.heading, "meaning": column.meaning, "unit": column.unit }))
        .collect();
    let examples = report.set_aside.keys().flat_map(|reason| {
        let of_reason = set_aside.iter().filter(move |record| record.reason == *reason).take(EXAMPLES);
        of_reason.map(|record| {
            json!({ "reason": record.reason, "line": record.line, "byte": record.byte, "raw": record.raw })
        })
    });
    let examples: Vec<Value> = examples.collect();
    json!({
        "file_name": report.file_name,
        "content_hash": report.content_hash,
        "kind": report.kind.map(Kind::word),
        "described": report.described,
        "bytes": report.bytes,
        "records_read": report.records_read,
        "records_used": report.records_used,
        "records_not_needed": report.records_not_needed,
        "records_set_aside": report.records_set_aside(),
        "set_aside_reasons": report.set_aside,
        "set_aside_examples": examples,
        "time_first": time(report.time_first_us),
        "time_last": time(report.time_last_us),
        "clock_offset_s": report.clock_offset_s,
        "clock_offset_method": report.clock_offset_method,
        "contents": contents,
        "columns": columns,
        "first_lines": report.first_lines,
        "remarks": report.remarks.iter().map(String::as_str).chain(advice(report)).collect::<Vec<_>>(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn thousands_stand_apart() {
        for (n, text) in [(0, "0"), (999, "999"), (1000, "1,000"), (1_234_567, "1,234,567")] {
            assert_eq!(grouped(n), text);
        }
    }

    #[test]
    fn long_lines_are_cut() {
        assert_eq!(cut("°C and so on", 4), "°C …");
        assert_eq!(cut("°C", 2), "°C");
    }
}
