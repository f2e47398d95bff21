//! What becomes of files that no trip could use?
//!
//! Their accounts stand in the logbook without a trip, so that every byte that was given is accounted for, until a
//! later run makes a trip of them.

use std::collections::BTreeSet;

use waterseam_logs::SourceReport;
use waterseam_tables::{Error, LogbookWriter};

use crate::read::ReadFile;
use crate::rows;

/// Writes the accounts of the files of this run that no trip of the logbook rests on, beside those of earlier runs.
/// `used` are the content hashes of the files that trips rest on.
pub fn keep(
    files: &[ReadFile],
    idle: &[usize],
    used: &BTreeSet<&str>,
    writer: &LogbookWriter,
) -> Result<(), Error> {
    let mut kept = writer.logbook().without_trip()?;
    kept.sources.retain(|row| row.bytes == 0 || !used.contains(row.content_hash.as_str()));
    // what is not there any more takes its records with it
    let names: BTreeSet<String> = kept.sources.iter().map(|row| row.file_name.clone()).collect();
    kept.set_aside.retain(|row| names.contains(&row.file_name));
    let mut known: BTreeSet<(String, String)> =
        kept.sources.iter().map(|row| identity(&row.content_hash, &row.file_name, row.bytes == 0)).collect();
    let idle: BTreeSet<usize> = idle.iter().copied().collect();
    for (index, file) in files.iter().enumerate() {
        let report = &file.report;
        let is_empty = report.bytes == 0;
        if (!is_empty && used.contains(report.content_hash.as_str()))
            || !known.insert(identity(&report.content_hash, &report.file_name, is_empty))
        {
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

/// What makes a file the same in a later run: its content, and of one without any its name.
fn identity(content_hash: &str, file_name: &str, is_empty: bool) -> (String, String) {
    (content_hash.to_owned(), if is_empty { file_name.to_owned() } else { String::new() })
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
