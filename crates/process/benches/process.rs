//! How many bytes of raw log a second: the bare sentence decoder, our reading, and the whole main job, on the
//! same bytes in the same run.

use std::fs;
use std::path::PathBuf;

use divan::Bencher;
use divan::counter::BytesCount;
use waterseam_demo::{DemoTrip, Scenario};
use waterseam_logs::Collected;
use waterseam_logs::boat::BoatFile;
use waterseam_process::Request;

fn main() {
    divan::main();
}

fn demo() -> DemoTrip {
    waterseam_demo::trip(1, Scenario::SummerBreak)
}

fn card(demo: &DemoTrip) -> tempfile::TempDir {
    let dir = tempfile::tempdir().expect("a temporary folder");
    for file in &demo.files {
        fs::write(dir.path().join(&file.name), &file.bytes).expect("a written file");
    }
    dir
}

fn bytes(demo: &DemoTrip) -> u64 {
    demo.files.iter().map(|file| file.bytes.len() as u64).sum()
}

/// The plotter's log of the trip: its largest file.
fn log(demo: &DemoTrip) -> &[u8] {
    demo.files.iter().map(|file| file.bytes.as_slice()).max_by_key(|bytes| bytes.len()).expect("a log")
}

#[divan::bench]
fn bare_nmea_crate(bencher: Bencher) {
    let demo = demo();
    let text = String::from_utf8_lossy(log(&demo)).into_owned();
    bencher
        .counter(BytesCount::new(text.len()))
        .bench(|| text.lines().filter(|line| nmea::parse_str(divan::black_box(line)).is_ok()).count());
}

#[divan::bench]
fn read_log(bencher: Bencher) {
    let demo = demo();
    let dir = card(&demo);
    let path = dir.path().join(&demo.files.iter().max_by_key(|file| file.bytes.len()).expect("a log").name);
    bencher.counter(BytesCount::new(log(&demo).len())).bench(|| {
        let mut sink = Collected::default();
        waterseam_logs::read_file(&path, &BoatFile::default(), &mut sink).expect("a readable log");
        sink
    });
}

#[divan::bench]
fn whole_process(bencher: Bencher) {
    let demo = demo();
    let dir = card(&demo);
    let inputs: [PathBuf; 1] = [dir.path().to_owned()];
    let boat =
        BoatFile::from_toml(&waterseam_demo::boat_file(), "waterseam.toml").expect("a right boat file");
    bencher
        .counter(BytesCount::new(bytes(&demo)))
        .with_inputs(|| tempfile::tempdir().expect("a temporary folder"))
        .bench_values(|out| {
            let request = Request { inputs: &inputs, boat: &boat, logbook: &out.path().join("logbook") };
            let done = waterseam_process::run(&request, &|_| (), &|_| (), &|_| ()).expect("a processed card");
            assert_eq!(done.trips.len(), 1);
            out
        });
}
