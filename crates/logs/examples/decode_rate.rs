//! How many megabytes of a card's logs a second does the bare `nmea` crate take, and how many does our reading?
//!
//! `cargo run --release -p waterseam-logs --example decode_rate -- CARD [REPEATS]`
//!
//! All runs are of the same bytes, in memory, on one thread, and take turns, so that what else the machine does falls on each
//! alike. A row is printed for each: name, median in MB/s (10^6 bytes), sentences that were taken.

#![expect(clippy::print_stdout, reason = "what it prints is its result")]

use std::error::Error;
use std::fs;
use std::hint::black_box;
use std::path::{Path, PathBuf};
use std::time::Instant;

use waterseam_logs::boat::BoatFile;
use waterseam_logs::nmea::{decode, looks_like};
use waterseam_logs::{BiteNote, GearEntry, Observation, SetAside, Sink, read_bytes};

const REPEATS: usize = 5;

fn main() -> Result<(), Box<dyn Error>> {
    let mut words = std::env::args_os().skip(1);
    let card = words.next().ok_or("name the folder of a card")?;
    let repeats = match words.next() {
        Some(word) => word.to_str().ok_or("REPEATS is no number")?.parse()?,
        None => REPEATS,
    };
    let logs = logs(Path::new(&card))?;
    let bytes: usize = logs.iter().map(String::len).sum();
    if bytes == 0 || repeats == 0 {
        return Err("no NMEA 0183 log in this folder, or no repeats".into());
    }
    let lines: Vec<&str> = logs.iter().flat_map(|log| log.lines()).collect();

    let runs: [(&str, &dyn Fn() -> u64); 3] = [
        ("bare_nmea_crate", &|| {
            lines.iter().filter(|line| nmea::parse_str(black_box(line)).is_ok()).count() as u64
        }),
        ("decode_sentences", &|| {
            lines.iter().filter(|line| decode(black_box(line.as_bytes())).is_ok()).count() as u64
        }),
        ("read_whole", &|| logs.iter().map(|log| read_whole(black_box(log.as_bytes()))).sum()),
    ];
    let mut seconds = [const { Vec::new() }; 3];
    let mut taken = [0; 3];
    for _ in 0..repeats {
        for (n, (_, run)) in runs.iter().enumerate() {
            let start = Instant::now();
            taken[n] = run();
            seconds[n].push(start.elapsed().as_secs_f64());
        }
    }
    println!("bytes\t{bytes}\t{}", lines.len());
    for (n, (name, _)) in runs.iter().enumerate() {
        seconds[n].sort_by(f64::total_cmp);
        println!("{name}\t{:.1}\t{}", bytes as f64 / 1e6 / seconds[n][repeats / 2], taken[n]);
    }
    Ok(())
}

/// Every log of sentences below a folder, in the order of their paths. Bytes that are no text are replaced, because the
/// crate takes only text.
fn logs(dir: &Path) -> std::io::Result<Vec<String>> {
    let mut paths: Vec<PathBuf> =
        fs::read_dir(dir)?.map(|entry| entry.map(|entry| entry.path())).collect::<Result<_, _>>()?;
    paths.sort();
    let mut logs = Vec::new();
    for path in paths {
        if path.is_dir() {
            logs.extend(self::logs(&path)?);
        } else {
            let bytes = fs::read(&path)?;
            if looks_like(&bytes) {
                logs.push(String::from_utf8_lossy(&bytes).into_owned());
            }
        }
    }
    Ok(logs)
}

/// Lines, sentences, values, times, account and hash; records that were used.
fn read_whole(log: &[u8]) -> u64 {
    read_bytes("log", log, &BoatFile::default(), &mut Ignored).records_used
}

/// Takes values without keeping them.
struct Ignored;

impl Sink for Ignored {
    fn observation(&mut self, observation: Observation) {
        black_box(observation);
    }
    fn bite(&mut self, _: BiteNote) {}
    fn gear(&mut self, _: GearEntry) {}
    fn set_aside(&mut self, _: SetAside) {}
}
