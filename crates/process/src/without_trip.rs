//! What becomes of files that no trip could use?
//!
//! Their accounts stand in the logbook without a trip, so that every byte that was given is accounted for, until a
//! later run makes a trip of them.

use std::collections::BTreeSet;

use waterseam_logs::SourceReport;
use waterseam_tables::{Error, LogbookWriter, WithoutTrip};

use crate::read::ReadFile;
use crate::rows;

/// Writes the accounts of the files of this run that no trip of the logbook rests on, beside those of earlier runs.
pub fn keep(files: &[ReadFile], idle: &[usize], writer: &LogbookWriter) -> Result<(), Error> {
    let used = writer.logbook().trips_by_content()?;
    let mut kept = writer.logbook().without_trip()?;
    kept.sources.retain(|row| row.bytes == 0 || !used.contains_key(&row.content_hash));
    // what is not there any more takes its records with it
    let names: BTreeSet<String> = kept.sources.iter().map(|row| row.file_name.clone()).collect();
    kept.set_aside.retain(|row| names.contains(&row.file_name));
    for (index, file) in files.iter().enumerate() {
        let report = &file.report;
        let is_known = |kept: &WithoutTrip| {
            kept.sources.iter().any(|row| {
                row.content_hash == report.content_hash
                    && (row.bytes > 0 || row.file_name == report.file_name)
            })
        };
        if (report.bytes > 0 && used.contains_key(&report.content_hash)) || is_known(&kept) {
            continue;
        }
        let mut report = report.clone();
        report.remarks.insert(0, why(&report, idle.contains(&index)));
        kept.set_aside
            .extend(file.set_aside.iter().map(|record| rows::set_aside(None, &report.file_name, record)));
        kept.sources.push(rows::source(None, &report));
    }
    kept.sources.sort_by(|a, b| (&a.file_name, &a.content_hash).cmp(&(&b.file_name, &b.content_hash)));
    kept.set_aside.sort_by(|a, b| (&a.file_name, a.line, a.byte).cmp(&(&b.file_name, b.line, b.byte)));
    writer.write_without_trip(&kept).map(drop)
}

/// Why a file is in no trip, in words.
fn why(report: &SourceReport, is_idle: bool) -> String {
    match (report.kind, is_idle) {
        (None, _) => format!("{}: no log that can be read.", report.described),
        (Some(_), true) => format!("No trip could use it: {}.", why_idle(report)),
        (Some(_), false) => "Its trip stayed as the logbook holds it.".to_owned(),
    }
}

/// Why no trip could use a file: nothing in it could be used, or nothing says where the boat was then.
pub fn why_idle(report: &SourceReport) -> String {
    if report.records_used > 0 {
        return "nothing says where the boat was at the time of this file".to_owned();
    }
    let reasons: Vec<String> =
        report.set_aside.iter().map(|(reason, n)| format!("{n} {}", reason.replace('_', " "))).collect();
    let what = if reasons.is_empty() { "it holds no record".to_owned() } else { reasons.join(", ") };
    let remarks: String = report.remarks.iter().map(|remark| format!("\n  {remark}")).collect();
    format!("nothing in it could be used: {what}{remarks}")
}
