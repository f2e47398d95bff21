//! The account of a file, for `inspect`.

use std::fmt::Write;

use jiff::tz::TimeZone;
use serde_json::{Value, json};
use waterseam_logs::SourceReport;
use waterseam_units::time::{local_text, seconds_between, timestamp};

use crate::words::duration;

/// One file in words: what it is, its span, what is in it, what is set aside and why.
pub fn source(report: &SourceReport, zone: &TimeZone) -> String {
    let mut text = format!("{}  {} bytes, {}\n", report.file_name, report.bytes, report.described);
    if report.kind.is_none() {
        return text;
    }
    if let (Some(first), Some(last)) = (report.time_first_us, report.time_last_us) {
        let zone_name = zone.iana_name().unwrap_or("UTC");
        let seconds = seconds_between(first, last);
        let _ = writeln!(
            text,
            "  from {} to {} {zone_name} ({})",
            local_text(first, zone),
            local_text(last, zone),
            duration(seconds)
        );
    }
    if let (Some(offset), Some(method)) = (report.clock_offset_s, report.clock_offset_method) {
        let _ = writeln!(text, "  clock: {offset:+} s to UTC ({})", method.replace('_', " "));
    }
    let _ = writeln!(
        text,
        "  {} records: {} used, {} not needed, {} set aside",
        report.records_read,
        report.records_used,
        report.records_not_needed,
        report.records_set_aside()
    );
    let rate = |n: u64| match (report.time_first_us, report.time_last_us) {
        (Some(first), Some(last)) if last > first => {
            format!(" ({:.2} a second)", n as f64 / seconds_between(first, last))
        }
        _ => String::new(),
    };
    for (name, n) in &report.contents {
        let _ = writeln!(text, "    {name:<12} {n:>9}{}", rate(*n));
    }
    for (reason, n) in &report.set_aside {
        let _ = writeln!(text, "  set aside: {n} {}", reason.replace('_', " "));
    }
    for remark in &report.remarks {
        let _ = writeln!(text, "  note: {remark}");
    }
    text
}

/// The same as JSON.
pub fn source_json(report: &SourceReport) -> Value {
    let time = |time_us: Option<i64>| time_us.map(|t| timestamp(t).to_string());
    json!({
        "file_name": report.file_name,
        "content_hash": report.content_hash,
        "kind": report.kind.map(waterseam_logs::Kind::word),
        "described": report.described,
        "bytes": report.bytes,
        "records_read": report.records_read,
        "records_used": report.records_used,
        "records_not_needed": report.records_not_needed,
        "records_set_aside": report.records_set_aside(),
        "set_aside_reasons": report.set_aside,
        "time_first": time(report.time_first_us),
        "time_last": time(report.time_last_us),
        "clock_offset_s": report.clock_offset_s,
        "clock_offset_method": report.clock_offset_method,
        "contents": report.contents,
        "remarks": report.remarks,
    })
}
