//! Running the binary and reading what it says.

use std::path::{Path, PathBuf};
use std::process::{Command, Output};

/// The binary under test.
pub fn waterseam() -> Command {
    Command::new(env!("CARGO_BIN_EXE_waterseam"))
}

/// The project's own sample logs.
pub fn sample_logs() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../../sample-logs")
}

/// Runs `process` with one input, without pages.
pub fn process(input: &Path, logbook: &Path) -> Output {
    let mut command = waterseam();
    command.args(["process", "--no-report"]).arg(input).arg("--logbook").arg(logbook);
    command.output().expect("the binary runs")
}

/// Stdout as text.
pub fn stdout(output: &Output) -> String {
    String::from_utf8_lossy(&output.stdout).into_owned()
}

/// Stderr as text.
pub fn stderr(output: &Output) -> String {
    String::from_utf8_lossy(&output.stderr).into_owned()
}

/// Fails unless the run ended with this status, without a panic.
pub fn expect_status(output: &Output, status: i32) {
    let said = stderr(output);
    assert_eq!(output.status.code(), Some(status), "stdout: {}\nstderr: {said}", stdout(output));
    assert!(!said.contains("panicked"), "{said}");
}

/// Every file below a folder with its bytes, in order of path.
pub fn contents(dir: &Path) -> Vec<(PathBuf, Vec<u8>)> {
    let mut files = Vec::new();
    let mut folders = vec![dir.to_owned()];
    while let Some(folder) = folders.pop() {
        for entry in std::fs::read_dir(&folder).into_iter().flatten().flatten() {
            let path = entry.path();
            if path.is_dir() {
                folders.push(path);
            } else {
                files.push((
                    path.strip_prefix(dir).expect("below").to_owned(),
                    std::fs::read(&path).expect("readable"),
                ));
            }
        }
    }
    files.sort();
    files
}

/// Parquet files below a folder.
pub fn tables(dir: &Path) -> Vec<PathBuf> {
    contents(dir)
        .into_iter()
        .map(|(path, _)| path)
        .filter(|p| p.extension().is_some_and(|e| e == "parquet"))
        .collect()
}

/// An NMEA sentence with its checksum.
pub fn sentence(body: &str) -> String {
    let sum = body.bytes().fold(0, |sum, byte| sum ^ byte);
    format!("${body}*{sum:02X}\r\n")
}

/// A small plain log: ten minutes of trolling east at 1 Hz with a surface temperature.
pub fn small_log() -> String {
    (0..600)
        .map(|second| {
            let minutes = 24.0 - f64::from(second) * 0.0008;
            let clock = format!("12{:02}{:02}", second / 60, second % 60);
            sentence(&format!("GPRMC,{clock},A,4612.0000,N,029{minutes:07.4},W,2.1,90.0,140626,,,A"))
                + &sentence(&format!("YXMTW,{:.1},C", 12.0 + 0.1 * f64::from(second % 2)))
        })
        .collect()
}
