use std::io::{Cursor, Write};

use flate2::Compression;
use flate2::write::GzEncoder;
use proptest::prelude::*;
use zip::write::SimpleFileOptions;
use zip::{CompressionMethod, ZipWriter};

use super::*;
use crate::read_file;
use crate::source::{Collected, Kind};

const NMEA: &str = "$GPRMC,051203,A,4612.000,N,02924.000,W,2.0,90.0,140626,,*3A\r\n$YXMTW,17.1,C*15\r\n";

fn gzip(bytes: &[u8]) -> Vec<u8> {
    let mut writer = GzEncoder::new(Vec::new(), Compression::default());
    writer.write_all(bytes).unwrap();
    writer.finish().unwrap()
}

fn zip(files: &[(&str, &[u8])]) -> Vec<u8> {
    let mut writer = ZipWriter::new(Cursor::new(Vec::new()));
    for (at, (name, bytes)) in files.iter().enumerate() {
        let method = [CompressionMethod::Deflated, CompressionMethod::Stored][at % 2];
        writer.start_file(*name, SimpleFileOptions::default().compression_method(method)).unwrap();
        writer.write_all(bytes).unwrap();
    }
    writer.finish().unwrap().into_inner()
}

/// Where a file lies, with its name behind it, its account and what it says.
type Found = (PathBuf, SourceReport, Collected);

/// All that is at a path with these bytes.
fn read_all(name: &str, bytes: &[u8]) -> Vec<Found> {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join(name);
    std::fs::write(&path, bytes).unwrap();
    let all = members(&path).unwrap().into_iter().map(|member| {
        let mut found = Collected::default();
        let report = member.read(&BoatFile::default(), &mut found).unwrap();
        let sum = report.records_used + report.records_not_needed + report.records_set_aside();
        assert_eq!(report.records_read, sum);
        (member.shown_path().strip_prefix(folder.path()).unwrap().to_owned(), report, found)
    });
    all.collect()
}

fn described(name: &str, bytes: &[u8]) -> Vec<String> {
    read_all(name, bytes).into_iter().map(|(_, report, _)| report.described).collect()
}

#[test]
fn the_same_log_is_the_same_content_packed_or_not() {
    let plain = read_all("log.nmea", NMEA.as_bytes());
    assert_eq!(plain[0].1.records_used, 2);
    let twice = gzip(NMEA.as_bytes());
    for (name, bytes) in [
        ("log.nmea.gz", gzip(NMEA.as_bytes())),
        ("card.zip", zip(&[("LOGS/log.nmea", NMEA.as_bytes())])),
        ("card.zip", zip(&[("log.nmea.gz", &twice)])),
    ] {
        let found = read_all(name, &bytes);
        assert_eq!((&found[0].1, &found[0].2), (&plain[0].1, &plain[0].2), "{name}");
    }
}

#[test]
fn tables_in_archives_are_read_twice_too() {
    let probe = "time,depth_m,temp_c\n13/06/2026 05:12:03,1,8\n02/06/2026 05:12:03,2,7\n";
    let gpx = "<gpx><trk><trkseg><trkpt lat='46.2' lon='-29.4'><time>2026-06-14T05:12:03Z</time></trkpt></trkseg></trk></gpx>";
    let found =
        read_all("card.zip", &zip(&[("a/probe.csv", probe.as_bytes()), ("track.gpx", gpx.as_bytes())]));
    let kinds: Vec<_> = found.iter().map(|(_, report, _)| (report.kind, report.records_used)).collect();
    assert_eq!(kinds, [(Some(Kind::Probe), 2), (Some(Kind::Gpx), 1)]);
    assert_eq!(found[1].0, Path::new("card.zip/track.gpx"));
}

#[test]
fn names_are_labels() {
    for (name, want) in [
        ("../../etc/x.nmea", "x.nmea"),
        ("/etc/x.nmea", "x.nmea"),
        ("C:\\logs\\x.nmea", "x.nmea"),
        ("a\u{1b}[31mb\n.nmea", "a[31mb.nmea"),
        ("x/..", "member 3"),
        ("", "member 3"),
    ] {
        assert_eq!(label(name, 2), want);
    }
    let found = read_all("card.zip", &zip(&[("../../../tmp/x.nmea", NMEA.as_bytes())]));
    assert_eq!((found[0].1.file_name.as_str(), found[0].1.records_used), ("x.nmea", 2));
    let found = read_all("x\u{1b}[31m\n.nmea", NMEA.as_bytes());
    assert_eq!(found[0].1.file_name, "x[31m.nmea");
    let hidden = zip(&[("__MACOSX/._x.nmea", b"x"), (".trash/x.nmea", b"x"), ("x.nmea", NMEA.as_bytes())]);
    assert_eq!(read_all("card.zip", &hidden).len(), 1);
}

#[test]
fn what_is_not_read_says_why() {
    let inner = zip(&[("x.nmea", NMEA.as_bytes())]);
    let outer = zip(&[("in.zip", &inner), ("log.nmea", NMEA.as_bytes())]);
    let found = described("card.zip", &outer);
    assert!(found[0].starts_with("zip in an archive") && found[1].starts_with("NMEA 0183"), "{found:?}");
    assert!(described("twice.gz", &gzip(&gzip(b"x")))[0].starts_with("gzip in an archive"));
    let sheet = zip(&[("[Content_Types].xml", b"<x/>"), ("xl/sheet1.xml", b"<x/>")]);
    assert!(described("sheet.xlsx", &sheet)[0].starts_with("spreadsheet"));
    assert!(described("torn.zip", &outer[..outer.len() / 2])[0].contains("damaged or cut short"));
    assert!(described("empty.zip", &zip(&[]))[0].contains("without a file"));
    let many: Vec<(String, &[u8])> = (0..=MEMBERS_MAX).map(|n| (format!("{n}"), &b"x"[..])).collect();
    let many: Vec<(&str, &[u8])> = many.iter().map(|(name, bytes)| (name.as_str(), *bytes)).collect();
    assert!(described("many.zip", &zip(&many))[0].contains("10001 members"));
}

#[test]
fn a_bomb_is_not_unpacked_and_the_rest_is_read() {
    // 70 MB of the same byte shrink to 70 kB: a thousand to one
    let zeros = vec![b'0'; 70 << 20];
    let found = read_all("card.zip", &zip(&[("bomb.txt", &zeros), ("log.nmea", NMEA.as_bytes())]));
    assert!(found[0].1.described.starts_with("unpacks to 73400320 bytes"), "{:?}", found[0].1);
    assert_eq!((found[0].1.bytes, found[1].1.records_used), (0, 2));

    let sentences = NMEA.repeat((70 << 20) / NMEA.len());
    let (_, report, found) = read_all("bomb.nmea.gz", &gzip(sentences.as_bytes())).remove(0);
    assert_eq!((report.kind, report.bytes), (Some(Kind::Nmea0183), 64 << 20));
    assert_eq!(report.set_aside["archive_too_large"], 1);
    let last = found.set_aside.last().unwrap();
    assert_eq!((last.byte, last.line), (64 << 20, 1 + (64 << 20) / NMEA.len() as u64 * 2));
    assert!(report.remarks.iter().any(|remark| remark.contains("made to fill a disk")));
}

#[test]
fn what_was_written_before_the_damage_is_used() {
    let log = NMEA.repeat(2000);
    let packed = gzip(log.as_bytes());
    let (_, report, _) = read_all("log.nmea.gz", &packed[..packed.len() / 2]).remove(0);
    // the same second on and on is a clock that stands still, but what was written before the damage is all there
    assert!(report.records_used > 10 && report.records_read > 100, "{report:?}");
    assert_eq!(report.set_aside["archive_damaged"], 1);

    // one bit of a stored member: its checksum is no longer right, and the member beside it is
    let mut archive = zip(&[("a.nmea", NMEA.as_bytes()), ("b.nmea", NMEA.as_bytes())]);
    let at = archive.windows(6).rposition(|window| window == b"$YXMTW").unwrap();
    archive[at + 7] ^= 1;
    let found = read_all("card.zip", &archive);
    assert_eq!(found[0].1.records_set_aside(), 0);
    assert_eq!(found[1].1.set_aside["archive_damaged"], 1);
    assert_eq!(found[1].1.records_used, 1);
}

#[test]
fn a_member_that_holds_more_than_its_directory_says_is_stopped() {
    let log = NMEA.repeat(1000);
    let mut archive = zip(&[("a.nmea", log.as_bytes())]);
    // the uncompressed size stands 24 bytes behind the start of the directory's entry (APPNOTE.TXT 4.3.12)
    let at = archive.windows(4).position(|window| window == b"PK\x01\x02").unwrap();
    archive[at + 24..at + 28].copy_from_slice(&1000_u32.to_le_bytes());
    let (_, report, _) = read_all("card.zip", &archive).remove(0);
    assert!(report.bytes <= 1000, "{report:?}");
}

#[test]
fn a_damaged_directory_loses_only_what_it_no_longer_names() {
    let mut archive = zip(&[("a.nmea", NMEA.as_bytes()), ("b.nmea", NMEA.as_bytes())]);
    let at = archive.windows(4).rposition(|window| window == b"PK\x01\x02").unwrap();
    archive[at] = b'X';
    let found = read_all("card.zip", &archive);
    assert_eq!((found.len(), found[0].1.records_used), (2, 2));
    assert!(found[1].1.described.starts_with("rest of an archive"), "{:?}", found[1].1);
}

#[test]
fn a_zip_itself_is_no_log() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("card.zip");
    std::fs::write(&path, zip(&[("x.nmea", NMEA.as_bytes())])).unwrap();
    let report = read_file(&path, &BoatFile::default(), &mut Collected::default()).unwrap();
    assert_eq!((report.kind, report.records_read), (None, 0));
}

proptest! {
    #[test]
    fn no_damage_makes_it_panic(
        at in 0usize..600, bytes in proptest::collection::vec(any::<u8>(), 1..8), is_zip in any::<bool>(),
    ) {
        let mut packed = if is_zip {
            zip(&[("a.nmea", NMEA.as_bytes()), ("b.nmea.gz", &gzip(NMEA.as_bytes()))])
        } else {
            gzip(NMEA.as_bytes())
        };
        let at = at % packed.len();
        let end = packed.len().min(at + bytes.len());
        packed[at..end].copy_from_slice(&bytes[..end - at]);
        read_all("x", &packed);
    }
}
