//! Do all engines say the same of one pool?
//!
//! The pool in `tests/pool` is invented (`cargo run -p waterseam-tables --example scale -- sample …`), and `tests/expected.csv` is
//! what the reader of the main program says of it (`scale places`), which a test of its own holds to it.

#![expect(clippy::unwrap_used, reason = "a test ends at the first thing that is not as it should be")]

use std::path::Path;

use waterseam_fleet::ask::{self, Question};
use waterseam_fleet::cluster::Cluster;
use waterseam_fleet::csv;

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
        let cluster = Cluster::start(Path::new(env!("CARGO_BIN_EXE_waterseam-fleet")), executors).unwrap();
        assert_eq!(cluster.at_work(), 0);
        assert_eq!(answered(Some(&cluster.url()), "half-month").await, here, "{executors} executors");
        println!("{} of {executors} executors worked", cluster.at_work());
        assert!(cluster.at_work() > 0, "the question was answered elsewhere");
    }
}
