//! How fast is a log read, and how fast does the bare `nmea` crate take the same bytes?
//!
//! `cargo bench -p waterseam-logs`. All run in the same process over the same log, which is made here: one second of a
//! plotter after the other, seven sentences that both can decode. Line ends and checksums alone say what the machine
//! can do with the bytes.

use std::fmt::Write;

use divan::Bencher;
use divan::counter::BytesCount;
use waterseam_logs::boat::BoatFile;
use waterseam_logs::nmea::{decode, read};
use waterseam_logs::{BiteNote, GearEntry, Observation, SetAside, Sink, SourceReport, read_bytes};

/// Seconds in the log: a reading of them is over before a busy machine turns to something else, so that the fastest
/// says what one core does.
const SECONDS: u32 = 1_000;

/// Seconds in the long log: a day.
const LONG_SECONDS: u32 = 86_400;

/// Rows in the probe log: ten hours at a sample a second.
const ROWS: u32 = 36_000;

fn main() {
    divan::main();
}

/// Takes values without keeping them, so that reading alone is timed.
#[derive(Default)]
struct Counted(u64);

impl Sink for Counted {
    fn observation(&mut self, _: Observation) {
        self.0 += 1;
    }
    fn bite(&mut self, _: BiteNote) {}
    fn gear(&mut self, _: GearEntry) {}
    fn set_aside(&mut self, record: SetAside) {
        panic!("{record:?}");
    }
}

/// A log of so many seconds, with something before each sentence.
fn log_of(seconds: u32, before: impl Fn(u32) -> String) -> String {
    let mut text = String::new();
    for second in 0..seconds {
        let before = before(second);
        let clock = format!("{:02}{:02}{:02}", second / 3600, second / 60 % 60, second % 60);
        let lat = format!("46{:07.4}", 10.0 + f64::from(second) * 2e-4);
        for inside in [
            format!("GPRMC,{clock}.00,A,{lat},N,02924.1830,W,2.14,91.3,140526,,,A"),
            format!("GPGGA,{clock}.00,{lat},N,02924.1830,W,1,09,0.9,180.2,M,-33.0,M,,"),
            "GPVTG,91.3,T,,M,2.14,N,3.96,K,A".to_owned(),
            format!("SDDPT,{}.{},0.5", 20 + second % 40, second % 10),
            format!("YXMTW,{}.{},C", 8 + second % 5, second % 10),
            format!("VWVHW,,T,{}.0,M,2.31,N,4.28,K", 90 + second % 7),
            format!("WIMWV,{}.0,R,9.{},N,A", 200 + second % 30, second % 10),
        ] {
            let checksum = inside.bytes().fold(0, |sum, b| sum ^ b);
            write!(text, "{before}${inside}*{checksum:02X}\r\n").expect("a string takes any text");
        }
    }
    text
}

fn log() -> String {
    log_of(SECONDS, |_| String::new())
}

fn time_of(second: u32) -> String {
    format!("2026-05-14T{:02}:{:02}:{:02}Z", second / 3600, second / 60 % 60, second % 60)
}

/// Line ends alone.
#[divan::bench]
fn count_line_ends(bencher: Bencher) {
    let text = log();
    bencher
        .counter(BytesCount::of_str(&text))
        .bench_local(|| memchr::memchr_iter(b'\n', divan::black_box(text.as_bytes())).count());
}

/// Checksums alone, of lines that were found before.
#[divan::bench]
fn sum_lines(bencher: Bencher) {
    let text = log();
    let lines: Vec<&[u8]> = text.lines().map(str::as_bytes).collect();
    let sum = |line: &[u8]| {
        let (words, rest) = line.as_chunks();
        let sum = words.iter().fold(0, |sum, word| sum ^ u64::from_le_bytes(*word));
        rest.iter().fold(sum, |sum, byte| sum ^ u64::from(*byte))
    };
    bencher
        .counter(BytesCount::of_str(&text))
        .bench_local(|| lines.iter().fold(0, |all, line| all ^ sum(divan::black_box(line))));
}

/// The whole reading: lines, sentences, values, times, account.
#[divan::bench]
fn read_a_log(bencher: Bencher) {
    read_through(bencher, &log(), SECONDS);
}

/// The same with a time before each sentence, as loggers write it.
#[divan::bench]
fn read_a_stamped_log(bencher: Bencher) {
    read_through(bencher, &log_of(SECONDS, |second| time_of(second) + " "), SECONDS);
}

/// A log that is long enough for several cores, on one and on more of them.
#[divan::bench(args = [1, 2], sample_count = 10)]
fn read_a_long_log(bencher: Bencher, n_threads: usize) {
    let text = log_of(LONG_SECONDS, |_| String::new());
    let pool = rayon::ThreadPoolBuilder::new().num_threads(n_threads).build().expect("threads can be had");
    bencher
        .counter(BytesCount::of_str(&text))
        .bench_local(|| pool.install(|| read_once(&text, LONG_SECONDS)));
}

fn read_through(bencher: Bencher, text: &str, seconds: u32) {
    bencher.counter(BytesCount::of_str(text)).bench_local(|| read_once(text, seconds));
}

fn read_once(text: &str, seconds: u32) -> u64 {
    let (mut report, mut sink) = (SourceReport::default(), Counted::default());
    read(&mut text.as_bytes(), &BoatFile::default(), "log", &mut report, &mut sink)
        .expect("memory can be read");
    assert_eq!(report.records_used, u64::from(seconds) * 7);
    sink.0
}

/// A file: recognised, read and hashed.
#[divan::bench]
fn read_a_file(bencher: Bencher) {
    let text = log();
    bencher.counter(BytesCount::of_str(&text)).bench_local(|| {
        let mut sink = Counted::default();
        let report = read_bytes("log", text.as_bytes(), &BoatFile::default(), &mut sink);
        assert_eq!(report.records_used, u64::from(SECONDS) * 7);
        sink.0
    });
}

/// The log of a probe.
#[divan::bench]
fn read_a_probe_log(bencher: Bencher) {
    let mut text = "time,depth_ft,temp_f,speed_mph\n".to_owned();
    for second in 0..ROWS {
        let depth_ft = 60.0 + 30.0 * f64::from(second % 120) / 120.0;
        let row = format!("{},{depth_ft:.1},{:.1},2.4\n", time_of(second), 60.0 - depth_ft / 10.0);
        text.push_str(&row);
    }
    bencher.counter(BytesCount::of_str(&text)).bench_local(|| {
        let mut sink = Counted::default();
        let report = read_bytes("probe.csv", text.as_bytes(), &BoatFile::default(), &mut sink);
        assert_eq!(report.records_used, u64::from(ROWS));
        sink.0
    });
}

/// Our decoding alone, of lines that were found before.
#[divan::bench]
fn decode_sentences(bencher: Bencher) {
    let text = log();
    let lines: Vec<&str> = text.lines().collect();
    bencher.counter(BytesCount::of_str(&text)).bench_local(|| {
        let n = lines.iter().filter(|line| decode(divan::black_box(line.as_bytes())).is_ok()).count();
        assert_eq!(n, SECONDS as usize * 7);
    });
}

/// The bare crate, of the same lines.
#[divan::bench]
fn bare_nmea_crate(bencher: Bencher) {
    let text = log();
    let lines: Vec<&str> = text.lines().collect();
    bencher.counter(BytesCount::of_str(&text)).bench_local(|| {
        let n = lines.iter().filter(|line| nmea::parse_str(divan::black_box(line)).is_ok()).count();
        assert_eq!(n, SECONDS as usize * 7);
    });
}
