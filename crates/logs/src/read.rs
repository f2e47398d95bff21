//! What is in this file, and what became of every record of it?

use std::fmt::Write as _;
use std::fs::File;
use std::io::{self, BufRead, BufReader, Cursor, Read};
use std::path::{Path, PathBuf};
use std::sync::Arc;

use crate::boat::BoatFile;
use crate::member::Member;
use crate::recognise::{Content, HEAD_BYTES, is_text, recognise};
use crate::source::{Kind, Sink, SourceReport};
use crate::story::{ClockHints, Retime};
use crate::table::account::{Account, Place};
use crate::table::vocabulary::{note, sample};
use crate::unpack::{Trouble, Unpacked};
use crate::{bites, gear, gpx, nmea, notes, probe};
use waterseam_units::convert::Unit;
use waterseam_units::show::printable;

/// A file that cannot be read.
#[derive(Debug, thiserror::Error)]
pub enum ReadError {
    /// It cannot be opened.
    #[error("{}: cannot be opened ({error}); check that it is there and that you may read it", path.display())]
    Open {
        /// The file.
        path: PathBuf,
        /// What the system says.
        error: io::Error,
    },
    /// It was opened, but not all of it can be read.
    #[error(
        "{}: cannot be read to its end ({error}); copy it from the card once more, or leave it out",
        path.display()
    )]
    Read {
        /// The file.
        path: PathBuf,
        /// What the system says.
        error: io::Error,
    },
}

/// Reads a file of any kind, which is recognised by its content, and hands out what it says in the order of the file.
///
/// Memory does not grow with the file. A table is read twice, because only the whole of it tells in which order its
/// dates are written. A file of no known kind is no error: its report has no kind, says what it looks like and
/// counts no records. Gzip is unpacked on the way, and hash and length are those of what was in it. A zip archive has
/// several files: [`members`](crate::members) lists them.
///
/// # Errors
/// Where the file cannot be opened, or not even its first byte can be read. Where it cannot be read on, what comes before
/// is used, and the rest is one record set aside.
pub fn read_file(path: &Path, boat: &BoatFile, sink: &mut dyn Sink) -> Result<SourceReport, ReadError> {
    read_member(&Member::on_disk(path), boat, &ClockHints::default(), sink)
}

/// Reads a file or a member of an archive.
///
/// # Errors
/// As [`read_file`].
pub(crate) fn read_member(
    member: &Member,
    boat: &BoatFile,
    hints: &ClockHints,
    sink: &mut dyn Sink,
) -> Result<SourceReport, ReadError> {
    let path = || member.path().to_owned();
    let unreadable = |error| ReadError::Read { path: path(), error };
    if let Some(why) = member.refusal() {
        let mut report = report_of(member.name());
        report.described.push_str(why);
        if member.is_whole_file() {
            let file = File::open(member.path()).map_err(|error| ReadError::Open { path: path(), error })?;
            Hashed::new(file).finish(&mut report).map_err(unreadable)?;
        }
        return Ok(report);
    }
    // what the system reports before the first byte is read is about opening
    let open = || member.unpack().map_err(|error| ReadError::Open { path: path(), error });
    read_opened(member.name(), &open, &unreadable, (boat, hints), sink)
}

/// Reads bytes that are in memory as [`read_file`] reads a file of that name.
///
/// # Example
/// ```
/// use waterseam_logs::{Collected, Kind, boat::BoatFile, read_bytes};
/// let log = b"$GPRMC,120000,A,4612.0,N,02924.0,W,2.1,90.0,140626,,*3D\r\n$YXMTW,17.1,C*15\r\n";
/// let mut found = Collected::default();
/// let report = read_bytes("LOG00001.TXT", log, &BoatFile::default(), &mut found);
/// assert_eq!((report.kind, report.records_used), (Some(Kind::Nmea0183), 2));
/// ```
pub fn read_bytes(name: &str, bytes: &[u8], boat: &BoatFile, sink: &mut dyn Sink) -> SourceReport {
    let bytes: Arc<[u8]> = bytes.into();
    let path = || PathBuf::from(name);
    let open = || Unpacked::in_memory(bytes.clone()).map_err(|error| ReadError::Open { path: path(), error });
    let unreadable = |error| ReadError::Read { path: path(), error };
    // memory cannot fail to be read
    let hints = ClockHints::default();
    read_opened(name, &open, &unreadable, (boat, &hints), sink).unwrap_or_else(|_| report_of(name))
}

fn report_of(name: &str) -> SourceReport {
    SourceReport { file_name: name.to_owned(), ..SourceReport::default() }
}

fn read_opened(
    name: &str,
    open: &dyn Fn() -> Result<Unpacked, ReadError>,
    unreadable: &dyn Fn(io::Error) -> ReadError,
    (boat, hints): (&BoatFile, &ClockHints),
    sink: &mut dyn Sink,
) -> Result<SourceReport, ReadError> {
    let bytes = open()?;
    let mut report = report_of(if bytes.was_gzip { name_without_gz(name) } else { name });
    if bytes.was_utf16() {
        report
            .remarks
            .push("UTF-16 text: it was read as UTF-8, and its bytes are counted as such.".to_owned());
    }
    let mut whole = Hashed::new(bytes);
    let second = read(&mut whole, open, (boat, hints), &mut report, sink, unreadable)?;
    let first = whole.finish(&mut report).map_err(unreadable)?.trouble().cloned();
    let trouble = first.map(|trouble| (trouble, report.bytes)).or(second);
    if let Some((trouble, byte)) = trouble {
        report.remarks.push(trouble.remark(byte));
        if report.kind.is_some() {
            let line = 1 + line_ends(open()?.take(byte)).map_err(unreadable)?;
            let place = Place { line, byte, raw: "" };
            Account { report: &mut report, sink }.set_aside(trouble.reason(), place);
        } else {
            let _ = write!(report.described, " ({})", trouble.reason().replace('_', " "));
        }
    }
    Ok(report)
}

/// The name that a packed file has when it is unpacked.
fn name_without_gz(name: &str) -> &str {
    match name.len().checked_sub(3).map(|at| (at, name.get(at..))) {
        Some((at, Some(end))) if at > 0 && end.eq_ignore_ascii_case(".gz") => &name[..at],
        _ => name,
    }
}

fn line_ends(bytes: impl Read) -> io::Result<u64> {
    let mut input = BufReader::new(bytes);
    let mut n = 0;
    loop {
        let chunk = input.fill_buf()?;
        let length = chunk.len();
        n += memchr::memchr_iter(b'\n', chunk).count() as u64;
        if length == 0 {
            return Ok(n);
        }
        input.consume(length);
    }
}

/// Reads the records; of a table that is read twice, why the second reading ended early and after how many bytes.
fn read(
    whole: &mut Hashed<Unpacked>,
    open: &dyn Fn() -> Result<Unpacked, ReadError>,
    (boat, hints): (&BoatFile, &ClockHints),
    report: &mut SourceReport,
    sink: &mut dyn Sink,
    unreadable: &dyn Fn(io::Error) -> ReadError,
) -> Result<Option<(Trouble, u64)>, ReadError> {
    let mut head = Vec::with_capacity(HEAD_BYTES);
    whole.by_ref().take(HEAD_BYTES as u64).read_to_end(&mut head).map_err(unreadable)?;
    let content = recognise(&head, boat);
    match &content {
        Content::Other { .. } => report.first_lines = first_lines(&head),
        Content::Probe(layout) => {
            report.columns = layout.columns(|heading| Some((sample(heading)?.words(), heading.unit)));
        }
        Content::Bites(layout) | Content::Gear(layout) => {
            report.columns = layout.columns(|heading| {
                let note = note(heading)?;
                let admits = |unit: &Unit| note.dimension().is_some_and(|dimension| dimension.admits(*unit));
                Some((note.words(), heading.unit.filter(admits)))
            });
        }
        Content::Nmea | Content::Gpx | Content::Stamped => {}
    }
    // who asks for a block of a log gets it without a copy on the way
    let mut input = Cursor::new(head).chain(BufReader::with_capacity(nmea::BLOCK_BYTES, whole));
    let mut again = None;
    let once_more = || Ok(BufReader::new(Hashed::new(open()?)));
    let done = match content {
        Content::Other { kind, described, remark } => {
            report.kind = kind;
            report.described = described;
            report.remarks.extend(remark);
            Ok(())
        }
        Content::Nmea => {
            report.kind = Some(Kind::Nmea0183);
            let file_name = report.file_name.clone();
            nmea::read_with(&mut input, boat, hints, &file_name, report, sink)
        }
        Content::Gpx => {
            report.kind = Some(Kind::Gpx);
            let add_us = match hints.of(0) {
                Retime::Add(add_us) => add_us,
                Retime::SetAside => 0,
            };
            gpx::read(&mut input, add_us, boat, report, sink)
        }
        Content::Stamped => {
            report.kind = Some(Kind::Probe);
            probe::stamped::read(&mut input, boat, report, sink)
        }
        Content::Probe(layout) => {
            report.kind = Some(Kind::Probe);
            let survey = probe::survey(&mut input, &layout).map_err(unreadable)?;
            probe::read(again.insert(once_more()?), &layout, &survey, boat, report, sink)
        }
        Content::Bites(layout) => {
            report.kind = Some(Kind::Bites);
            let survey = notes::survey(&mut input, &layout).map_err(unreadable)?;
            bites::read(again.insert(once_more()?), &layout, &survey, boat, report, sink)
        }
        Content::Gear(layout) => {
            report.kind = Some(Kind::Gear);
            let survey = notes::survey(&mut input, &layout).map_err(unreadable)?;
            gear::read(again.insert(once_more()?), &layout, &survey, boat, report, sink)
        }
    };
    done.map_err(unreadable)?;
    let second = again.map(BufReader::into_inner);
    Ok(second.and_then(|second| Some((second.bytes.trouble()?.clone(), second.n_bytes))))
}

/// How a file starts, fit to be printed: its first lines where it is text, else its first bytes.
fn first_lines(head: &[u8]) -> Vec<String> {
    const LINES: usize = 5;
    const CHARACTERS: usize = 70;
    const BYTES: usize = 22;
    if head.iter().all(|byte| *byte == 0) {
        return Vec::new();
    }
    let text = String::from_utf8_lossy(&head[..head.len().min(LINES * 1000)]);
    let n_replaced = text.chars().filter(|letter| *letter == char::REPLACEMENT_CHARACTER).count();
    if !is_text(head) || 10 * n_replaced > text.chars().count() {
        let bytes: Vec<String> = head.iter().take(BYTES).map(|byte| format!("{byte:02x}")).collect();
        return vec![bytes.join(" ")];
    }
    let lines = text.split(['\n', '\r']).filter(|line| !line.trim().is_empty()).take(LINES);
    lines.map(|line| printable(line).chars().take(CHARACTERS).collect()).collect()
}

/// Bytes that are counted and hashed as they are read.
struct Hashed<R> {
    bytes: R,
    hasher: blake3::Hasher,
    n_bytes: u64,
}

impl<R: Read> Hashed<R> {
    fn new(bytes: R) -> Self {
        Self { bytes, hasher: blake3::Hasher::new(), n_bytes: 0 }
    }

    /// Reads what is left and writes the hash of the whole and its length into the report.
    fn finish(mut self, report: &mut SourceReport) -> io::Result<R> {
        io::copy(&mut self, &mut io::sink())?;
        report.bytes = self.n_bytes;
        report.content_hash = self.hasher.finalize().to_hex().to_string();
        Ok(self.bytes)
    }
}

impl<R: Read> Read for Hashed<R> {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        let n = self.bytes.read(buffer)?;
        self.hasher.update(&buffer[..n]);
        self.n_bytes += n as u64;
        Ok(n)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::source::{Collected, MARKS_TAKEN_MAX};
    use crate::testing::read_bytes;

    #[test]
    fn the_whole_file_is_hashed_whatever_it_is() {
        // of a table every byte is read before its rows are; of an image only the first bytes are looked at
        let image = [b"\xFF\xD8\xFF".to_vec(), vec![7; 300_000]].concat();
        let table =
            format!("time,depth_m,temp_c\n{}", "2026-06-14T05:12:03Z,1,8\n".repeat(10_000)).into_bytes();
        for bytes in [Vec::new(), image, table] {
            let (report, _) = read_bytes("x", &bytes, &BoatFile::default());
            assert_eq!(report.content_hash, blake3::hash(&bytes).to_hex().to_string());
            assert_eq!(report.bytes, bytes.len() as u64);
        }
    }

    #[test]
    fn a_column_of_times_has_no_unit() {
        let gear = "time_in,time_out,rod,line_out_ft\n2026-06-14T05:12:00Z,2026-06-14T06:12:00Z,port,80\n";
        let (report, _) = read_bytes("gear.csv", gear.as_bytes(), &BoatFile::default());
        let units: Vec<_> = report.columns.iter().map(|column| column.unit).collect();
        assert_eq!(units, [None, None, None, Some("ft")]);
        assert!(report.columns.iter().all(|column| column.meaning.is_some()));
    }

    #[test]
    fn utf_16_says_what_utf_8_says() {
        let text = "\u{feff}time\tdepth_m\ttemp_c\r\n2026-06-14T05:12:03Z\t12.5\t8.25\r\nx\t1\t2\r\n";
        let plain = read_bytes("x.csv", text.as_bytes(), &BoatFile::default());
        assert_eq!((plain.0.records_used, plain.0.records_set_aside()), (1, 1));
        for order in [u16::to_le_bytes, u16::to_be_bytes] {
            let wide: Vec<u8> = text.encode_utf16().flat_map(order).collect();
            let unmarked = wide[2..].to_vec();
            for bytes in [wide, unmarked] {
                let (mut report, found) = read_bytes("x.csv", &bytes, &BoatFile::default());
                assert!(report.remarks.remove(0).contains("UTF-16"));
                let values = |found: &Collected| (found.observations.clone(), found.set_aside.len());
                assert_eq!(values(&found), values(&plain.1));
                assert_eq!(report.remarks, plain.0.remarks);
            }
        }
    }

    #[test]
    fn a_file_and_its_bytes_are_read_alike() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("LOG00001.TXT");
        let bytes = b"$YXMTW,17.1,C*15\r\n$GPZDA,000000,14,05,2026,,*4E\r\nnoise\r\n";
        std::fs::write(&path, bytes).unwrap();
        let mut found = Collected::default();
        let report = read_file(&path, &BoatFile::default(), &mut found).unwrap();
        assert_eq!((report, found), read_bytes("LOG00001.TXT", bytes, &BoatFile::default()));
    }

    #[test]
    fn an_unknown_file_is_described() {
        let (report, found) = read_bytes("photo.csv", b"\xFF\xD8\xFF\xE0", &BoatFile::default());
        assert_eq!((report.kind, report.described.as_str(), report.records_read), (None, "JPEG image", 0));
        assert_eq!(found, Collected::default());
        assert_eq!(report.first_lines, ["ff d8 ff e0"]);
        let (report, _) = read_bytes("x", b"\n  Dear diary, \x1b[2Jgulls.\nGulls.\n", &BoatFile::default());
        assert_eq!(report.first_lines, ["  Dear diary, \\u{1b}[2Jgulls.", "Gulls."]);
    }

    #[test]
    fn records_kept_are_bounded_and_their_count_is_not() {
        let rows = "x,1,8\n".repeat(10_050);
        let text = format!("time,depth_m,temp_c\n2026-06-14T05:12:03Z,1,8\n{rows}");
        let (report, found) = read_bytes("x.csv", text.as_bytes(), &BoatFile::default());
        assert_eq!(report.set_aside["bad_time"], 10_050);
        assert_eq!(found.set_aside.len(), 10_000);
    }

    #[test]
    fn what_comes_before_a_bad_sector_is_used() {
        struct Broken;
        impl Read for Broken {
            fn read(&mut self, _: &mut [u8]) -> io::Result<usize> {
                Err(io::Error::from_raw_os_error(5))
            }
        }
        let rows = "2026-06-14T05:12:03Z,1,8\n".repeat(20_000);
        let table = format!("time,depth_m,temp_c\n{rows}");
        let log = "$GPZDA,000000,14,05,2026,,*4E\r\n".to_owned() + &"$YXMTW,17.1,C*15\r\n".repeat(20_000);
        // the readings that fail: of a table the first, or only the second, which is for its rows
        for (text, failing, records) in [(&log, 1.., 20_001), (&table, 1.., 20_001), (&table, 2.., 20_001)] {
            let opened = std::cell::Cell::new(0);
            let open = || {
                opened.set(opened.get() + 1);
                let bytes = Cursor::new(text.clone().into_bytes());
                let broken: Box<dyn Read> = if failing.contains(&opened.get()) {
                    Box::new(bytes.chain(Broken))
                } else {
                    Box::new(bytes)
                };
                Ok(Unpacked::of(broken, false, u64::MAX).unwrap())
            };
            let boat = BoatFile::default();
            let mut found = Collected::default();
            let unreadable = |error| panic!("{error}");
            let report =
                read_opened("x", &open, &unreadable, (&boat, &ClockHints::default()), &mut found).unwrap();
            assert_eq!(report.records_read, records + 1);
            assert_eq!(report.set_aside, [("reading_failed", 1)].into());
            assert_eq!(report.bytes, text.len() as u64);
            let last = found.set_aside.last().unwrap();
            assert_eq!((last.line, last.byte), (records + 1, text.len() as u64));
            assert!(
                report.remarks.iter().any(|remark| remark.contains("os error 5")),
                "{:?}",
                report.remarks
            );
        }
        let refused = Unpacked::of(Box::new(Broken), false, u64::MAX);
        assert!(refused.is_err(), "a file of which nothing can be read has no account");
    }

    #[test]
    fn more_marks_than_any_plotter_keeps_are_counted_and_not_taken() {
        let numbers = 0..MARKS_TAKEN_MAX + 3;
        let point = |n: u64| {
            let lon = 29.0 + n as f64 * 1e-6;
            format!("<wpt lat='46.2' lon='-{lon:.6}'><time>2026-06-14T12:00:00Z</time></wpt>\n")
        };
        let gpx = format!("<gpx>{}</gpx>", numbers.clone().map(point).collect::<String>());
        let sentence = |n: u64| format!("$GPWPL,4612.000,N,02924.000,W,{n}\r\n");
        let log = "$GPZDA,000000,14,05,2026,,*4E\r\n".to_owned() + &numbers.map(sentence).collect::<String>();
        for text in [gpx, log] {
            let (report, found) = read_bytes("x", text.as_bytes(), &BoatFile::default());
            assert_eq!(report.set_aside, [("too_many_marks", 3)].into());
            assert_eq!(found.observations.len() as u64, MARKS_TAKEN_MAX);
            assert_eq!(report.records_read, report.records_used + 3);
        }
    }

    #[test]
    fn a_failure_names_the_file() {
        let folder = tempfile::tempdir().unwrap();
        let missing = folder.path().join("no-such.csv");
        let read =
            |path: &Path| read_file(path, &BoatFile::default(), &mut Collected::default()).unwrap_err();
        let message = read(&missing).to_string();
        assert!(message.contains("no-such.csv: cannot be opened"), "{message}");
        assert!(matches!(read(folder.path()), ReadError::Read { .. } | ReadError::Open { .. }));
    }
}
