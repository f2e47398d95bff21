//! Do all engines say the same of one pool?
//!
//! The pool in `tests/pool` is invented (`cargo run -p waterseam-tables --example scale -- sample …`), and `tests/expected.csv` is
//! what the reader of the main program says of it (`scale places`), which a test of its own holds to it.

#![expect(clippy::unwrap_used, reason = "a test ends at the first thing that is not as it should be")]

use std::io::{BufRead, BufReader};
use std::net::TcpStream;
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use datafusion::arrow::array::RecordBatch;
use datafusion::prelude::ParquetReadOptions;
use waterseam_fleet::ask::{self, Answer, Question};
use waterseam_fleet::cluster::Cluster;
use waterseam_fleet::{csv, keep};

const PROGRAM: &str = env!("CARGO_BIN_EXE_waterseam-fleet");

/// Greatest difference between two engines in a value that is no whole number.
const DIFFERENCE_MAX: f64 = 1e-9;

fn folder(name: &str) -> String {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests").join(name).display().to_string()
}

async fn answered(scheduler: Option<&str>, season_part: &str) -> String {
    let session = match scheduler {
        Some(scheduler) => ask::there(scheduler).await.unwrap(),
        None => ask::here().unwrap(),
    };
    let question = Question { resolution: 7, season_part: season_part.to_owned() };
    csv::text(&ask::layer(&session, &folder("pool"), &question).await.unwrap()).unwrap()
}

/// Words and whole numbers must be the same, other numbers nearly so.
fn check_same(found: &str, expected: &str) {
    assert_eq!(found.lines().count(), expected.lines().count());
    for (found, expected) in found.lines().zip(expected.lines()) {
        let values = found.split(',').zip(expected.split(','));
        for (a, b) in values {
            let near = |a: f64, b: f64| (a - b).abs() <= DIFFERENCE_MAX * b.abs().max(1.0);
            let same = a == b || matches!((a.parse(), b.parse()), (Ok(a), Ok(b)) if near(a, b));
            assert!(same, "{found}\nis not\n{expected}");
        }
    }
}

/// Lines of CSV in an order of their own: engines give rows in any.
fn lines(rows: &[RecordBatch]) -> Vec<String> {
    let mut lines: Vec<String> = csv::text(rows).unwrap().lines().map(str::to_owned).collect();
    lines.sort();
    lines
}

/// The answers are those of `tests/answers`, of which a test of the main program makes the same layer as of the pool itself.
async fn check_kept(scheduler: Option<&str>) {
    let session = match scheduler {
        Some(scheduler) => ask::there(scheduler).await.unwrap(),
        None => ask::here().unwrap(),
    };
    let answers = ask::answers(&session, &folder("pool")).await.unwrap();
    let out = tempfile::tempdir().unwrap();
    keep::keep(&answers, out.path()).unwrap();
    assert_eq!(answers.len(), 3);
    let reader = ask::here().unwrap();
    for Answer { name, rows, .. } in &answers {
        for folder in [out.path(), Path::new(&folder("answers"))] {
            let path = folder.join(format!("{name}.parquet")).display().to_string();
            let kept = reader.read_parquet(path, ParquetReadOptions::default()).await.unwrap();
            let kept = lines(&kept.collect().await.unwrap());
            assert!(kept.len() > 3, "{name}");
            assert_eq!(lines(rows), kept, "{name}");
        }
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn one_process_answers_what_is_kept() {
    check_kept(None).await;
}

/// A cluster that is killed cannot end its processes: they see that it is gone.
#[test]
fn nothing_is_left_of_a_killed_cluster() {
    let mut cluster = Command::new(PROGRAM)
        .args(["cluster", "--executors", "1"])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    let mut url = String::new();
    BufReader::new(cluster.stdout.take().unwrap()).read_line(&mut url).unwrap();
    let address = url.trim().trim_start_matches("df://");
    assert!(TcpStream::connect(address).is_ok(), "{url}");
    let folders = format!("waterseam-fleet-{}-", cluster.id());
    let is_left = || {
        let mut entries = std::fs::read_dir(std::env::temp_dir()).unwrap();
        entries.any(|entry| entry.unwrap().file_name().to_string_lossy().starts_with(&folders))
    };
    assert!(is_left());
    cluster.kill().unwrap();
    cluster.wait().unwrap();
    let start = Instant::now();
    while TcpStream::connect(address).is_ok() || is_left() {
        assert!(
            start.elapsed() < Duration::from_mins(1),
            "still there a minute after its cluster was killed"
        );
        std::thread::sleep(Duration::from_millis(50));
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn one_process_says_what_the_main_program_says() {
    let expected = std::fs::read_to_string(folder("expected.csv")).unwrap();
    assert!(expected.lines().count() > 20);
    check_same(&answered(None, "month").await, &expected);
}

#[tokio::test(flavor = "multi_thread")]
async fn one_executor_and_two_say_the_same() {
    let here = answered(None, "half-month").await;
    for executors in [1, 2] {
        let cluster = Cluster::start(Path::new(PROGRAM), executors).unwrap();
        assert_eq!(cluster.at_work(), 0);
        assert_eq!(answered(Some(&cluster.url()), "half-month").await, here, "{executors} executors");
        check_kept(Some(&cluster.url())).await;
        println!("{} of {executors} executors worked", cluster.at_work());
        assert!(cluster.at_work() > 0, "the question was answered elsewhere");
    }
}
