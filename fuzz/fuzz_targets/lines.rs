//! Line splitting, and the log that is read through it: the pieces in which a file arrives change nothing.
#![no_main]

use std::io::BufReader;

use libfuzzer_sys::fuzz_target;
use waterseam_fuzz::{boat, check};
use waterseam_logs::boat::BoatFile;
use waterseam_logs::{Collected, SourceReport, nmea};

#[path = "../../crates/logs/src/lines.rs"]
mod lines;

fuzz_target!(|input: &[u8]| {
    let [choice, chunk, log @ ..] = input else { return };
    let chunk = usize::from(*chunk).max(1);
    split(log, chunk);
    let boat = boat(*choice);
    let whole = read(log, log.len().max(1), &boat);
    check(&whole.0, &whole.1, log);
    assert_eq!(whole, read(log, chunk, &boat), "in pieces of {chunk} bytes");
    // a line end before and behind, where the file has none there, is not a record
    let framed = [b"\r\n".as_slice(), log, b"\r\n"].concat();
    let framed = read(&framed, 7, &boat);
    assert_eq!(
        (whole.0.records_read, &whole.0.set_aside, &whole.1.observations),
        (framed.0.records_read, &framed.0.set_aside, &framed.1.observations)
    );
});

/// Between the pieces stand line ends and nothing else, and lines are counted as a text editor does.
fn split(log: &[u8], chunk: usize) {
    let mut input = BufReader::with_capacity(chunk, log);
    let mut lines = lines::Lines::new(&mut input);
    let (mut next, mut line) = (0, 1);
    while let Some(piece) = lines.next().expect("memory can be read") {
        let at = piece.byte as usize;
        let between = &log[next..at];
        assert!(between.iter().all(|b| matches!(b, b'\n' | b'\r')));
        let crlf = between.windows(2).filter(|pair| *pair == b"\r\n").count();
        line += between.len() - crlf;
        assert_eq!((piece.line, &log[at..at + piece.bytes.len()]), (line as u64, piece.bytes));
        assert!(piece.continued || !piece.bytes.iter().any(|b| matches!(b, b'\n' | b'\r')));
        next = at + piece.bytes.len();
    }
    assert!(log[next..].iter().all(|b| matches!(b, b'\n' | b'\r')));
}

fn read(log: &[u8], chunk: usize, boat: &BoatFile) -> (SourceReport, Collected) {
    let mut input = BufReader::with_capacity(chunk, log);
    let (mut report, mut found) = (SourceReport::default(), Collected::default());
    nmea::read(&mut input, boat, "LOG00001.TXT", &mut report, &mut found).expect("memory can be read");
    report.bytes = log.len() as u64;
    (report, found)
}
