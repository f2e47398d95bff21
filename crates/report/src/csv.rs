//! Rows of a table for a spreadsheet: CSV (RFC 4180).
//!
//! One header line whose names say the units, SI as in the tables; nothing is empty but what is missing. The cautions stand in
//! the first row of a column of their own, because a line of remarks above the header is data to most programs.

use std::fmt::Write;

use serde::Serialize;
use serde_json::Value;
use waterseam_tables::{Column, Kind, Table};

use crate::cautions::CAUTIONS;
use crate::fields::fields;

/// The rows with a header line; shapes are left out.
pub fn csv<R: Table + Serialize>(rows: &[R]) -> String {
    let mut text = String::new();
    let columns = R::COLUMNS.iter().filter(|column| column.kind != Kind::Shape);
    line(&mut text, columns.map(heading).chain(["mind".to_owned()]));
    let mut mind = CAUTIONS.join(" ");
    for row in rows {
        let values = fields(row).into_iter().map(|(_, value)| written(&value));
        line(&mut text, values.chain([std::mem::take(&mut mind)]));
    }
    text
}

fn line(text: &mut String, fields: impl Iterator<Item = String>) {
    for (at, field) in fields.enumerate() {
        let comma = if at > 0 { "," } else { "" };
        // clause 2, rules 6 and 7
        let _ = if field.contains([',', '"', '\r', '\n']) {
            write!(text, "{comma}\"{}\"", field.replace('"', "\"\""))
        } else {
            write!(text, "{comma}{field}")
        };
    }
    text.push_str("\r\n");
}

/// Name of a column with its unit, where the name does not say it.
fn heading(column: &Column) -> String {
    let unit = match (column.kind, column.unit) {
        (Kind::Time, _) => "_utc",
        (_, "m") => "_m",
        (_, "s") => "_s",
        (_, "kg") => "_kg",
        (_, "h") => "_hours",
        (_, "m/s") => "_mps",
        (_, "°C") => "_c",
        (_, "°C/km") => "_c_per_km",
        (_, "degree") => "_deg",
        (_, "1/h") => "_per_rod_hour",
        (_, "1/km") => "_per_km",
        (_, "1/s") => "_per_s",
        _ => "",
    };
    if column.name.ends_with(unit) { column.name.to_owned() } else { format!("{}{unit}", column.name) }
}

fn written(value: &Value) -> String {
    match value {
        Value::Null => String::new(),
        Value::String(text) => harmless(text),
        other => other.to_string(),
    }
}

/// Text that no spreadsheet takes for a formula: one that starts as a formula does gets an apostrophe before it, which
/// spreadsheets take as the mark of a text. The letters are those of OWASP, "CSV Injection" (from memory).
fn harmless(text: &str) -> String {
    let looks_like_one = text.starts_with(['=', '+', '-', '@', '\t', '\r', '\n', '＝', '＋', '－', '＠']);
    if looks_like_one { format!("'{text}") } else { text.to_owned() }
}

#[cfg(test)]
mod tests {
    use super::*;
    use waterseam_tables::{cell_visits, isotherms, wkb};

    #[test]
    fn units_stand_in_the_header_and_cautions_in_the_first_row() {
        let row = |cell: u64, surface_temp_c: Option<f64>| cell_visits::Row {
            trip_id: "20260614T051200Z".to_owned(),
            cell,
            rod_hours: 0.25,
            run_m: 420.0,
            breaks: 1,
            surface_temp_c,
        };
        let text = csv(&[row(0x0891_a6ba_d5b3_ffff, Some(14.1)), row(0x0891_a6ba_d5b3_ffff, None)]);
        insta::assert_snapshot!(text.replace('\r', ""), @r#"
        trip_id,cell,rod_hours,run_m,breaks,surface_temp_c,mind
        20260614T051200Z,891a6bad5b3ffff,0.25,420.0,1,14.1,"Not for navigation; these are past trips, and your licence, training and eyes come first. Offshore is beyond phone coverage and cold water kills fast: check the marine forecast, radio working, life-jackets on, float plan left ashore, another boat in company. Local rules on seasons, sizes and limits decide."
        20260614T051200Z,891a6bad5b3ffff,0.25,420.0,1,,
        "#);
        assert_eq!(text.matches("\r\n").count(), 3);
    }

    #[test]
    fn every_heading_says_its_unit() {
        for schema in waterseam_tables::SCHEMAS {
            // what is counted in bytes is called so
            let has_unit = |column: &&Column| !["", "byte", "bytes"].contains(&column.unit);
            for column in schema.columns.iter().filter(has_unit) {
                let name = heading(column);
                let known = ["_m", "_s", "_kg", "_hours", "_mps", "_c", "_km", "_deg", "_hour", "_per_s"];
                assert!(
                    known.iter().any(|unit| name.ends_with(unit)),
                    "{} {}: {name}, {}",
                    schema.name,
                    column.name,
                    column.unit
                );
            }
        }
    }

    #[test]
    fn no_text_becomes_a_formula() {
        for (text, written) in [
            ("=HYPERLINK(\"http://x\")", "\"'=HYPERLINK(\"\"http://x\"\")\""),
            ("+1", "'+1"),
            ("@x", "'@x"),
            ("-spoon", "'-spoon"),
            ("green, spoon", "\"green, spoon\""),
        ] {
            let row = isotherms::Row {
                trip_id: "t".to_owned(),
                isotherm_id: text.to_owned(),
                geometry: wkb::line(&[]),
                temp_c: -0.5,
                length_m: 1.0,
            };
            let text = csv(&[row]);
            let line = text.lines().nth(1).unwrap();
            assert!(line.starts_with(&format!("t,{written},-0.5,1.0,")), "{line}");
        }
    }
}
