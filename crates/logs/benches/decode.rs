//! How fast is a log read, and how fast does the bare `nmea` crate take the same bytes?
//!
//! `cargo bench -p waterseam-logs`. Both run in the same process over the same log, which is made here: one
//! second of a plotter after the other, seven sentences that both can decode.

use std::fmt::Write;

use divan::Bencher;
use divan::counter::BytesCount;
use waterseam_logs::boat::BoatFile;
use waterseam_logs::nmea::{decode, read};
use waterseam_logs::{BiteNote, GearEntry, Observation, SetAside, Sink, SourceReport};

/// Seconds in the log.
const SECONDS: u32 = 20_000;

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

fn log() -> String {
    let mut text = String::new();
    for second in 0..SECONDS {
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
            write!(text, "${inside}*{checksum:02X}\r\n").expect("a string takes any text");
        }
    }
    text
}

/// The whole reading: lines, sentences, values, times, account.
#[divan::bench]
fn read_a_log(bencher: Bencher) {
    let text = log();
    bencher.counter(BytesCount::of_str(&text)).bench_local(|| {
        let (mut report, mut sink) = (SourceReport::default(), Counted::default());
        read(&mut text.as_bytes(), &BoatFile::default(), "log", &mut report, &mut sink)
            .expect("memory can be read");
        assert_eq!(report.records_used, u64::from(SECONDS) * 7);
        sink.0
    });
}

/// Our decoding alone, sentence by sentence.
#[divan::bench]
fn decode_sentences(bencher: Bencher) {
    let text = log();
    bencher.counter(BytesCount::of_str(&text)).bench_local(|| {
        let n = text.lines().filter(|line| decode(divan::black_box(line.as_bytes())).is_ok()).count();
        assert_eq!(n, SECONDS as usize * 7);
    });
}

/// The bare crate, sentence by sentence.
#[divan::bench]
fn bare_nmea_crate(bencher: Bencher) {
    let text = log();
    bencher.counter(BytesCount::of_str(&text)).bench_local(|| {
        let n = text.lines().filter(|line| nmea::parse_str(divan::black_box(line)).is_ok()).count();
        assert_eq!(n, SECONDS as usize * 7);
    });
}
