//! Bad input: a clear message, exit status 1 or the rest processed, no panic, no half-written table.

use std::fs::{self, File};
use std::io::Write;
use std::path::Path;

use super::helpers::{expect_status, process, small_log, stderr, stdout, tables, waterseam};

/// Start of a JPEG file (JFIF, ISO/IEC 10918-5).
const JPEG: &[u8] =
    b"\xFF\xD8\xFF\xE0\x00\x10JFIF\x00\x01\x01\x00\x00\x01\x00\x01\x00\x00\xFF\xDB\x00\x43\x00\x08\x06";

/// A folder with these files, and a logbook that does not exist yet.
fn card(files: &[(&str, &[u8])]) -> (tempfile::TempDir, std::path::PathBuf, std::path::PathBuf) {
    let dir = tempfile::tempdir().unwrap();
    let (card, logbook) = (dir.path().join("card"), dir.path().join("logbook"));
    fs::create_dir(&card).unwrap();
    for (name, bytes) in files {
        fs::write(card.join(name), bytes).unwrap();
    }
    (dir, card, logbook)
}

fn check_refused(files: &[(&str, &[u8])], expected: &str) {
    let (_dir, card, logbook) = card(files);
    let output = process(&card, &logbook);
    expect_status(&output, 1);
    assert!(stderr(&output).contains(expected), "{}", stderr(&output));
    assert!(tables(&logbook).is_empty());
}

fn check_rest_processed(files: &[(&str, &[u8])], expected: &str) {
    let log = small_log();
    let mut files = files.to_vec();
    files.push(("plotter.log", log.as_bytes()));
    let (_dir, card, logbook) = card(&files);
    let output = process(&card, &logbook);
    expect_status(&output, 0);
    let said = stderr(&output) + &stdout(&output);
    assert!(said.contains(expected), "{said}");
    assert!(!tables(&logbook).is_empty());
    verify(&logbook);
}

fn verify(logbook: &Path) {
    expect_status(&waterseam().args(["verify", "--logbook"]).arg(logbook).output().unwrap(), 0);
}

#[test]
fn an_empty_folder() {
    check_refused(&[], "no file");
}

#[test]
fn a_folder_that_does_not_exist() {
    let dir = tempfile::tempdir().unwrap();
    let output = process(&dir.path().join("no-such-card"), &dir.path().join("logbook"));
    expect_status(&output, 1);
    assert!(stderr(&output).contains("no-such-card"), "{}", stderr(&output));
}

#[test]
fn a_jpeg() {
    check_refused(&[("IMG_0012.JPG", JPEG)], "JPEG");
    check_rest_processed(&[("IMG_0012.JPG", JPEG)], "JPEG");
}

#[test]
fn a_jpeg_that_is_named_like_a_log() {
    check_refused(&[("plotter.log", JPEG)], "JPEG");
}

#[test]
fn a_zero_byte_file() {
    check_refused(&[("LOG00001.TXT", b"")], "empty");
    check_rest_processed(&[("LOG00001.TXT", b"")], "empty");
}

#[test]
fn a_log_cut_in_the_middle_of_a_sentence() {
    let log = small_log();
    let torn = &log.as_bytes()[..log.len() - 17];
    let (_dir, card, logbook) = card(&[("plotter.log", torn)]);
    let output = process(&card, &logbook);
    expect_status(&output, 0);
    assert!(stdout(&output).contains("1 set aside"), "{}", stdout(&output));
    verify(&logbook);
}

#[test]
fn a_line_of_a_gigabyte_without_an_end() {
    let (_dir, card, logbook) = card(&[("plotter.log", small_log().as_bytes())]);
    let mut file = File::options().append(true).open(card.join("plotter.log")).unwrap();
    file.write_all(b"$GPRMC,1220").unwrap();
    // a hole: a gigabyte of zero bytes that takes no room on the disk
    file.set_len(1 << 30).unwrap();
    // 600 MB of address space: the binary, its threads and buffers, but never the line
    let output = std::process::Command::new("sh")
        .args(["-c", "ulimit -v 600000; exec \"$0\" process \"$1\" --logbook \"$2\""])
        .arg(env!("CARGO_BIN_EXE_waterseam"))
        .args([&card, &logbook])
        .output()
        .unwrap();
    expect_status(&output, 0);
    let said = stdout(&output);
    assert!(said.contains("1200 used"), "the good lines are lost: {said}");
    assert!(said.contains("line too long") || said.contains("line too\n"), "{said}");
    verify(&logbook);
}

#[test]
fn a_probe_log_without_a_temperature() {
    let csv = b"Time,Depth (ft),Battery\n2026-06-14T12:00:10Z,20,3.6\n2026-06-14T12:00:20Z,22,3.6\n";
    check_rest_processed(&[("probe.csv", csv)], "temperature");
}

#[test]
fn bite_notes_without_a_time() {
    check_rest_processed(
        &[("bites.csv", b"species,rod,lure,depth\ncoho,port rigger,green spoon,48 ft\n")],
        "time",
    );
}

#[test]
fn a_logbook_that_cannot_be_written() {
    let (_dir, card, _) = card(&[("plotter.log", small_log().as_bytes())]);
    // a place where nobody, not even root, can make a folder
    let output = process(&card, &card.join("plotter.log").join("logbook"));
    expect_status(&output, 1);
    assert!(stderr(&output).contains("logbook"), "{}", stderr(&output));
}

#[test]
fn a_disk_that_takes_no_more() {
    let (_dir, card, logbook) = card(&[("plotter.log", small_log().as_bytes())]);
    // every write past 4 KiB of a file fails, as on a full disk; the signal for it is turned off first
    let output = std::process::Command::new("sh")
        .args(["-c", "trap '' XFSZ; ulimit -f 8; exec \"$0\" process \"$1\" --logbook \"$2\""])
        .arg(env!("CARGO_BIN_EXE_waterseam"))
        .args([&card, &logbook])
        .output()
        .unwrap();
    expect_status(&output, 1);
    assert!(tables(&logbook).is_empty(), "{:?}", tables(&logbook));
    // and with room again the same run succeeds
    expect_status(&process(&card, &logbook), 0);
    verify(&logbook);
}

#[test]
fn a_boat_file_with_a_mistake() {
    let (_dir, card, logbook) = card(&[("plotter.log", small_log().as_bytes())]);
    fs::write(card.join("waterseam.toml"), "boat = \"Kittiwake\"\nunitz = \"metric\"\n").unwrap();
    let output = process(&card, &logbook);
    expect_status(&output, 1);
    let said = stderr(&output);
    assert!(said.contains("waterseam.toml") && said.contains("unitz") && said.contains("line 2"), "{said}");
    assert!(tables(&logbook).is_empty());
}
