//! What a captain sees of a strange file: all of it on one screen.

use std::fs;
use std::io::{Cursor, Write};
use std::path::Path;

use zip::ZipWriter;
use zip::write::SimpleFileOptions;

use super::helpers::{expect_status, small_log, stderr, stdout, waterseam};

/// Lines and columns of a screen.
const SCREEN: (usize, usize) = (40, 80);

/// What is said of a file with this name and content; the same is in the JSON.
fn inspected(name: &str, bytes: &[u8]) -> String {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join(name);
    fs::write(&path, bytes).unwrap();
    let output = waterseam().arg("inspect").arg(&path).output().unwrap();
    assert!(output.status.code().is_some_and(|code| code < 2));
    let text = stdout(&output);
    let widest = text.lines().map(|line| line.chars().count()).max().unwrap_or(0);
    assert!(text.lines().count() <= SCREEN.0 && widest <= SCREEN.1, "{widest} columns:\n{text}");
    check_json(&path, &text);
    text
}

/// Every word of the JSON's columns, first lines, records set aside and remarks is in the text.
fn check_json(path: &Path, text: &str) {
    let output = waterseam().args(["inspect", "--format", "json"]).arg(path).output().unwrap();
    let files: Vec<serde_json::Value> = serde_json::from_slice(&output.stdout).unwrap();
    let flat = |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ");
    let text = flat(text);
    for file in &files {
        assert!(text.contains(file["file_name"].as_str().unwrap()));
        for column in file["columns"].as_array().unwrap() {
            assert!(
                text.contains(&flat(column["meaning"].as_str().unwrap_or("not known"))),
                "{column}\n{text}"
            );
        }
        for remark in file["remarks"].as_array().unwrap() {
            assert!(text.contains(&flat(remark.as_str().unwrap())), "{remark}\n{text}");
        }
        for example in file["set_aside_examples"].as_array().unwrap() {
            assert!(text.contains(&format!("line {}:", example["line"])), "{example}\n{text}");
        }
        for (name, found) in file["contents"].as_object().unwrap() {
            assert!(text.contains(name.as_str()) && found["count"].as_u64().is_some(), "{name}\n{text}");
        }
    }
}

/// A plotter's log with a wrong checksum, a line cut short, a maker's own sentence and noise.
fn rough_log() -> String {
    let log = small_log();
    let mut lines: Vec<String> = log.lines().take(400).map(str::to_owned).collect();
    lines[40] = lines[40].replace("W,2.1", "W,2.9");
    lines[42].truncate(30);
    lines.insert(50, "$PFEC,GPatt,45.2,-0.5,*44".to_owned());
    lines.insert(51, "\u{1b}[2J\u{7}noise".to_owned());
    lines.join("\r\n") + "\r\n"
}

const AMBIGUOUS: &str = "date,time,species,depth\n06/07/2026,07:42,coho,48 ft\n05/07/2026,08:10,pike,30 ft\n";

#[test]
fn a_plotters_log() {
    insta::assert_snapshot!(inspected("LOG00031.TXT", rough_log().as_bytes()));
}

#[test]
fn a_probe_log_with_headings_that_are_not_known() {
    let rows: String =
        (0..60).map(|n| format!("2026-06-14 12:00:{n:02};{};{};12\n", n % 30, 20 - n % 10)).collect();
    insta::assert_snapshot!(inspected("probe.csv", format!("Zeit;Tiefe;Wasser;Batterie\n{rows}").as_bytes()));
}

#[test]
fn a_probe_log_with_known_headings() {
    let rows: String =
        (0..60).map(|n| format!("2026-06-14 12:00:{n:02},{},{},3.6\n", n % 30, 60 - n % 10)).collect();
    insta::assert_snapshot!(inspected(
        "probe.csv",
        format!("Time (UTC),Depth (ft),Temp F,Battery\n{rows}").as_bytes()
    ));
}

#[test]
fn an_empty_file() {
    insta::assert_snapshot!(inspected("LOG00032.TXT", b""));
}

#[test]
fn an_image() {
    insta::assert_snapshot!(inspected(
        "IMG_0012.JPG",
        &b"\xFF\xD8\xFF\xE0\x00\x10JFIF\x00\x01\x01\x00\x00\x01".repeat(20)
    ));
}

#[test]
fn a_text_that_is_no_log() {
    insta::assert_snapshot!(inspected(
        "diary.txt",
        b"Dear diary, \x1b[31mit was cold.\n\nWe saw <b>gulls</b>.\n"
    ));
}

#[test]
fn notes_with_dates_that_can_be_read_two_ways() {
    insta::assert_snapshot!(inspected("bites.csv", AMBIGUOUS.as_bytes()));
}

#[test]
fn an_archive_with_several_members() {
    let mut archive = ZipWriter::new(Cursor::new(Vec::new()));
    for (name, bytes) in [
        ("logs/LOG00031.TXT", rough_log().as_bytes()),
        ("../bites.csv", AMBIGUOUS.as_bytes()),
        ("photo.jpg", b"\xFF\xD8\xFF\xE0"),
    ] {
        archive.start_file(name, SimpleFileOptions::default()).unwrap();
        archive.write_all(bytes).unwrap();
    }
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("card.zip");
    fs::write(&path, archive.finish().unwrap().into_inner()).unwrap();
    let output = waterseam().arg("inspect").arg(&path).output().unwrap();
    expect_status(&output, 0);
    assert_eq!(stderr(&output), "");
    insta::assert_snapshot!(stdout(&output));
}
