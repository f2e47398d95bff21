//! A run that is killed at any instant leaves the old state or the new one, and the next run makes it good.

use std::path::Path;
use std::process::Stdio;
use std::time::{Duration, Instant};

use super::helpers::{contents, expect_status, process, sample_logs, waterseam};

/// Runs that are killed: `WATERSEAM_KILLS`, or these few.
const KILLS: u32 = 16;

fn verify(logbook: &Path) {
    expect_status(&waterseam().args(["verify", "--logbook"]).arg(logbook).output().unwrap(), 0);
}

#[test]
fn killed_at_random_instants() {
    let kills = std::env::var("WATERSEAM_KILLS").map_or(KILLS, |text| text.parse().unwrap());
    let whole = tempfile::tempdir().unwrap();
    let began = Instant::now();
    expect_status(&process(&sample_logs(), whole.path()), 0);
    let whole_run = began.elapsed();
    let undisturbed = contents(whole.path());

    let mut interrupted = 0;
    for kill in 0..kills {
        let dir = tempfile::tempdir().unwrap();
        let logbook = dir.path().join("logbook");
        let mut child = waterseam()
            .args(["process", "--no-report"])
            .arg(sample_logs())
            .arg("--logbook")
            .arg(&logbook)
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        // instants spread over the run and a little beyond; the golden ratio leaves no part of it out
        let part = (f64::from(kill) * 0.618_033_988_75).fract();
        std::thread::sleep(Duration::from_secs_f64(whole_run.as_secs_f64() * 1.2 * part));
        let _ = child.kill();
        interrupted += u32::from(!child.wait().unwrap().success());
        if logbook.join("logbook.toml").exists() {
            verify(&logbook);
        }
        expect_status(&process(&sample_logs(), &logbook), 0);
        verify(&logbook);
        assert!(contents(&logbook) == undisturbed, "kill {kill}: the next run gave other bytes");
    }
    assert!(
        interrupted > kills / 4,
        "only {interrupted} of {kills} runs were interrupted: nothing was tested"
    );
}

#[test]
fn a_second_run_at_the_same_time_is_told_to_wait() {
    let dir = tempfile::tempdir().unwrap();
    expect_status(&process(&sample_logs(), dir.path()), 0);
    let lock = std::fs::File::options().write(true).open(dir.path().join(".lock")).unwrap();
    lock.lock().unwrap();
    let output = process(&sample_logs(), dir.path());
    expect_status(&output, 1);
    let said = super::helpers::stderr(&output);
    assert!(said.contains("another program is using this logbook"), "{said}");
}

/// Four programs at once: those that must wait say so, and the logbook is that of one undisturbed run.
#[test]
fn several_runs_at_the_same_time() {
    let dir = tempfile::tempdir().unwrap();
    let (alone, together) = (dir.path().join("alone"), dir.path().join("together"));
    expect_status(&process(&sample_logs(), &alone), 0);
    let outputs: Vec<_> = std::thread::scope(|scope| {
        let runs: Vec<_> = (0..4).map(|_| scope.spawn(|| process(&sample_logs(), &together))).collect();
        runs.into_iter().map(|run| run.join().unwrap()).collect()
    });
    assert!(outputs.iter().any(|output| output.status.success()));
    for output in outputs.iter().filter(|output| !output.status.success()) {
        expect_status(output, 1);
        let said = super::helpers::stderr(output);
        assert!(said.contains("another program is using this logbook; wait until it has finished"), "{said}");
    }
    verify(&together);
    assert!(contents(&together) == contents(&alone));
}
