//! Input that was made to do harm: bounded memory, a clear message, nothing outside the logbook, nothing that steers
//! the terminal.

#![cfg(unix)]

use std::fs::{self, File};
use std::io::{BufWriter, Cursor, Write};
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};
use std::time::{Duration, Instant};

use flate2::Compression;
use flate2::write::GzEncoder;
use zip::ZipWriter;
use zip::write::SimpleFileOptions;

use super::helpers::{contents, expect_status, small_log, stderr, stdout, waterseam};

/// Most memory that any input may take.
const MEMORY_MB_MAX: f64 = 300.0;

/// Waypoints of the long GPX file: `WATERSEAM_WAYPOINTS`, or these, which take some seconds.
const WAYPOINTS: u64 = 300_000;

/// Longest that a run may take here before it is taken to hang.
const PATIENCE: Duration = Duration::from_mins(5);

/// What a run said, and the most memory that it held.
struct Run {
    output: Output,
    memory_mb: Option<f64>,
}

/// Runs the binary and looks at its high-water mark of memory (Linux, `proc(5)`: `VmHWM` only grows) until it ends.
fn run(command: &mut Command) -> Run {
    let began = Instant::now();
    let mut child =
        command.stdin(Stdio::null()).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
    let (stdout, stderr) = (child.stdout.take().unwrap(), child.stderr.take().unwrap());
    let read = |mut pipe: Box<dyn std::io::Read + Send>| {
        std::thread::spawn(move || {
            let mut said = Vec::new();
            let _ = pipe.read_to_end(&mut said);
            said
        })
    };
    let (stdout, stderr) = (read(Box::new(stdout)), read(Box::new(stderr)));
    let status_file = format!("/proc/{}/status", child.id());
    let mut memory_mb = None;
    let status = loop {
        if let Some(mark) = fs::read_to_string(&status_file).ok().and_then(|text| high_water_mb(&text)) {
            memory_mb = Some(mark);
        }
        if let Some(status) = child.try_wait().unwrap() {
            break status;
        }
        if began.elapsed() > PATIENCE {
            let _ = child.kill();
            panic!("it hangs: {command:?}");
        }
        std::thread::sleep(Duration::from_millis(3));
    };
    let output = Output { status, stdout: stdout.join().unwrap(), stderr: stderr.join().unwrap() };
    Run { output, memory_mb }
}

fn high_water_mb(status: &str) -> Option<f64> {
    let line = status.lines().find(|line| line.starts_with("VmHWM:"))?;
    Some(line.split_whitespace().nth(1)?.parse::<f64>().ok()? / 1024.0)
}

/// A card with a good log and room for what is hostile.
struct Card {
    dir: tempfile::TempDir,
    name: &'static str,
}

impl Card {
    fn new(name: &'static str) -> Self {
        let dir = tempfile::tempdir().unwrap();
        fs::create_dir(dir.path().join("card")).unwrap();
        fs::write(dir.path().join("card/plotter.log"), small_log()).unwrap();
        Self { dir, name }
    }

    fn path(&self, name: &str) -> PathBuf {
        self.dir.path().join("card").join(name)
    }

    fn logbook(&self) -> PathBuf {
        self.dir.path().join("logbook")
    }

    /// The good log is processed, and what is said about the rest holds `expected`. Returns all that was said.
    fn check(&self, expected: &str) -> String {
        let card = self.dir.path().join("card");
        let process =
            run(waterseam().args(["process", "--no-report"]).arg(&card).arg("--logbook").arg(self.logbook()));
        let inspect = run(waterseam().arg("inspect").arg(&card));
        let mut said = String::new();
        for (word, run) in [("process", &process), ("inspect", &inspect)] {
            expect_status(&run.output, 0);
            if let Some(memory_mb) = run.memory_mb {
                eprintln!("{}: {word}: {memory_mb:.0} MB", self.name);
                assert!(memory_mb <= MEMORY_MB_MAX, "{word} took {memory_mb:.0} MB");
            }
            said.push_str(&stderr(&run.output));
            said.push_str(&stdout(&run.output));
        }
        assert!(said.contains(expected), "{expected:?} is missing in\n{said}");
        let good = ["1,200: 1,200 used", "12:00 to 12:09 (10 min)"];
        assert!(good.iter().all(|words| said.contains(words)), "the good log is lost:\n{said}");
        let steers = |letter: char| letter.is_control() && letter != '\n';
        assert!(!said.contains(steers), "{:?}", said.find(steers).map(|at| &said[at.saturating_sub(40)..]));
        expect_status(&waterseam().args(["verify", "--logbook"]).arg(self.logbook()).output().unwrap(), 0);
        let inside: Vec<_> =
            fs::read_dir(self.dir.path()).unwrap().map(|entry| entry.unwrap().file_name()).collect();
        assert_eq!(inside.len(), 2, "only the card and the logbook: {inside:?}");
        said
    }
}

/// Zeros or sentences, many of them, behind each other: one block is packed, and stands as often as it takes, for gzip
/// may have several members (RFC 1952, section 2.2).
fn packed(bytes: usize, unit: &[u8]) -> Vec<u8> {
    let block = unit.repeat((1 << 20) / unit.len());
    let mut packed = GzEncoder::new(Vec::new(), Compression::fast());
    packed.write_all(&block).unwrap();
    packed.finish().unwrap().repeat(bytes / block.len())
}

fn archive(members: &[(&str, &[u8])]) -> Vec<u8> {
    let mut archive = ZipWriter::new(Cursor::new(Vec::new()));
    for (name, bytes) in members {
        archive.start_file(*name, SimpleFileOptions::default()).unwrap();
        archive.write_all(bytes).unwrap();
    }
    archive.finish().unwrap().into_inner()
}

#[test]
fn gzip_that_is_made_to_fill_a_disk() {
    let card = Card::new("gzip bomb");
    fs::write(card.path("zeros.gz"), packed(500 << 20, b"\0")).unwrap();
    fs::write(card.path("log.gz"), packed(100 << 20, b"$YXMTW,17.1,C*15\r\n")).unwrap();
    let said = card.check("It unpacks to far more than its size allows");
    assert!(said.contains("archive too large"), "{said}");
}

#[test]
fn zip_that_is_made_to_fill_a_disk() {
    let card = Card::new("zip bomb");
    let zeros = vec![0; 100 << 20];
    let names: Vec<String> = (0..20).map(|n| format!("LOG{n:05}.TXT")).collect();
    let members: Vec<(&str, &[u8])> = names.iter().map(|name| (name.as_str(), zeros.as_slice())).collect();
    fs::write(card.path("high.zip"), archive(&members)).unwrap();
    card.check("far more than its archive should hold: not read");
}

#[test]
fn zip_in_zip_and_gzip_in_zip() {
    let card = Card::new("nested archives");
    let mut nested = archive(&[("a.txt", &vec![0; 50 << 20])]);
    for _ in 0..20 {
        nested = archive(&[("nested.zip", &nested), ("again.zip", &nested)]);
    }
    fs::write(card.path("nested.zip"), nested).unwrap();
    let log = packed(300 << 20, b"$YXMTW,17.1,C*15\r\n");
    fs::write(card.path("gz.zip"), archive(&[("a.gz", &log), ("b.gz", &log), ("c.gz", &log)])).unwrap();
    card.check("zip in an archive, or a spreadsheet: not read");
}

#[test]
fn zip_of_many_members() {
    let card = Card::new("many members");
    let names: Vec<String> = (0..60_000).map(|n| n.to_string()).collect();
    let members: Vec<(&str, &[u8])> = names.iter().map(|name| (name.as_str(), &b"x"[..])).collect();
    fs::write(card.path("many.zip"), archive(&members)).unwrap();
    card.check("zip archive of 60000 members: more than 10000 are not read");
}

#[test]
fn names_in_an_archive_that_lead_out_of_it() {
    let card = Card::new("path traversal");
    let log = small_log().replace(",140626,", ",150626,");
    let note = b"time,species\n2026-06-14T12:05:00Z,coho\n";
    let members: [(&str, &[u8]); 4] = [
        ("../../../../escape.csv", note),
        ("/tmp/waterseam-escape.txt", log.as_bytes()),
        ("..\\..\\escape.csv", b"what"),
        ("C:\\escape.csv", b"ever"),
    ];
    fs::write(card.path("paths.zip"), archive(&members)).unwrap();
    let said = card.check("escape.csv");
    assert!(!Path::new("/tmp/waterseam-escape.txt").exists());
    assert!(!said.contains("../") && !said.contains("..\\"), "{said}");
    assert!(contents(&card.logbook()).iter().all(|(path, _)| !path.to_string_lossy().contains("escape")));
}

#[test]
fn gpx_with_entities() {
    let card = Card::new("entity expansion");
    let laughs: String =
        (1..40).map(|n| format!("<!ENTITY l{n} \"{}\">", format!("&l{};", n - 1).repeat(10))).collect();
    let gpx = format!(
        "<?xml version=\"1.0\"?><!DOCTYPE gpx [<!ENTITY l0 \"lol\">{laughs}\
         <!ENTITY outside SYSTEM \"file:///etc/passwd\"><!ENTITY % far SYSTEM \"http://example.invalid/x.dtd\"> %far;]>\
         <gpx version=\"1.1\"><wpt lat=\"46.2\" lon=\"-29.4\"><time>2026-06-14T12:01:00Z</time>\
         <name>&l39;&outside;</name></wpt></gpx>"
    );
    fs::write(card.path("laughs.gpx"), gpx).unwrap();
    let said = card.check("GPX");
    assert!(!said.contains("lollol") && !said.contains("root:"), "{said}");
    let tables = contents(&card.logbook());
    assert!(tables.iter().all(|(_, bytes)| !String::from_utf8_lossy(bytes).contains("root:")));
}

#[test]
fn gpx_with_many_waypoints() {
    let waypoints = std::env::var("WATERSEAM_WAYPOINTS").map_or(WAYPOINTS, |text| text.parse().unwrap());
    let card = Card::new("waypoints");
    let mut gpx = BufWriter::new(File::create(card.path("marks.gpx")).unwrap());
    writeln!(gpx, "<?xml version=\"1.0\"?><gpx version=\"1.1\">").unwrap();
    for n in 0..waypoints {
        let lon = 29.4 - (n % 1000) as f64 * 1e-6;
        let (minute, second) = (n % 600 / 60, n % 60);
        writeln!(
            gpx,
            "<wpt lat=\"46.2\" lon=\"-{lon:.6}\"><time>2026-06-14T12:{minute:02}:{second:02}Z</time><name>{n}</name></wpt>"
        )
        .unwrap();
    }
    writeln!(gpx, "</gpx>").unwrap();
    drop(gpx);
    card.check(if waypoints > 100_000 { "too many marks" } else { "GPX" });
}

#[test]
fn markup_without_an_end() {
    let card = Card::new("endless markup");
    let mut gpx = File::create(card.path("endless.gpx")).unwrap();
    gpx.write_all(b"<gpx><wpt lat=\"46.2\" lon=\"-29.4\"><name>").unwrap();
    gpx.set_len(1 << 30).unwrap();
    let mut deep = BufWriter::new(File::create(card.path("deep.gpx")).unwrap());
    deep.write_all(b"<gpx>").unwrap();
    for _ in 0..2_000_000 {
        deep.write_all(b"<trk>").unwrap();
    }
    drop(deep);
    card.check("markup too long");
}

#[test]
fn a_line_of_a_gigabyte() {
    let card = Card::new("a line of 1 GB");
    for (name, start) in
        [("long.log", "$GPRMC,1220"), ("long.csv", "time,depth_m,temp_c\n2026-06-14T12:00:00Z,1,")]
    {
        let mut file = File::create(card.path(name)).unwrap();
        file.write_all(start.as_bytes()).unwrap();
        file.set_len(1 << 30).unwrap();
    }
    card.check("line too long");
}

#[test]
fn names_of_files_that_steer_the_terminal() {
    use std::ffi::OsStr;
    use std::os::unix::ffi::OsStrExt;
    let card = Card::new("names of files");
    let names: [&[u8]; 4] = [
        b"red \x1b[31m\x1b[2J\x1b]0;title\x07.txt",
        b"two\nwarning: lines\r.txt",
        b"no text \xff\xfe\x80.txt",
        "c1 \u{9b}31m right \u{202e}txt.exe".as_bytes(),
    ];
    for (n, name) in names.iter().enumerate() {
        // a system whose names must be text has one hostile name less
        let _ = fs::write(card.path("").join(OsStr::from_bytes(name)), format!("nothing {n}"));
    }
    let said = card.check("text that is no known log");
    assert!(!said.contains("\nwarning: lines"), "{said}");
    assert!(!said.contains('\u{202e}') && !said.contains('\u{9b}'), "{said}");
}

#[test]
fn notes_with_markup_and_escapes() {
    let card = Card::new("notes");
    let notes = "time,species,lure,note\n\
                 2026-06-14T12:05:00Z,<script>alert(1)</script>\x1b[2J,\x1b]0;x\x07spoon,<img src=x onerror=alert(1)>\x1b[31m\n\
                 2026-06-14T12:06:00Z,\"=cmd|' /C calc'!A0\",\u{202e}eno,&lt;b&gt;\n";
    fs::write(card.path("bites.csv"), notes).unwrap();
    card.check("<script>alert(1)</script>");
    for args in [["summary", "--all"], ["summary", "--format=json"]] {
        let output = waterseam().args(args).arg("--logbook").arg(card.logbook()).output().unwrap();
        expect_status(&output, 0);
        assert!(!stdout(&output).contains(['\x1b', '\x07', '\u{202e}']), "{}", stdout(&output));
    }
}

#[test]
fn folders_links_pipes_and_devices() {
    let card = Card::new("folders and links");
    let mut deep = card.path("");
    while deep.as_os_str().len() < 3_000 {
        deep.push("d".repeat(60));
    }
    fs::create_dir_all(&deep).unwrap();
    fs::write(deep.join("IMG.JPG"), b"\xFF\xD8\xFF\xE0").unwrap();
    std::os::unix::fs::symlink(".", card.path("loop")).unwrap();
    std::os::unix::fs::symlink("b", card.path("a")).unwrap();
    std::os::unix::fs::symlink("a", card.path("b")).unwrap();
    std::os::unix::fs::symlink("/dev/zero", card.path("zero.log")).unwrap();
    let made = Command::new("mkfifo").arg(card.path("pipe.log")).status().unwrap();
    assert!(made.success());
    card.check("JPEG image");
    for input in [card.path("pipe.log"), PathBuf::from("/dev/zero"), card.path("zero.log")] {
        let refused = run(waterseam()
            .args(["process", "--no-report"])
            .arg(&input)
            .arg("--logbook")
            .arg(card.logbook()));
        expect_status(&refused.output, 1);
        assert!(
            stderr(&refused.output).contains("is neither a file nor a folder"),
            "{}",
            stderr(&refused.output)
        );
    }
}

#[test]
fn a_file_that_may_not_be_read() {
    use std::os::unix::fs::PermissionsExt;
    let card = Card::new("unreadable file");
    let locked = card.path("locked.log");
    fs::write(&locked, small_log()).unwrap();
    fs::set_permissions(&locked, fs::Permissions::from_mode(0o000)).unwrap();
    if File::open(&locked).is_ok() {
        println!("whoever may read everything cannot be refused: an input whose reading fails stands in");
        fs::remove_file(&locked).unwrap();
        // Linux, proc(5): memory of the process; its first page is not mapped, so reading it fails
        let unreadable = Path::new("/proc/self/mem");
        if unreadable.exists() {
            let run = run(waterseam()
                .args(["process", "--no-report"])
                .args([&card.path("plotter.log"), unreadable])
                .arg("--logbook")
                .arg(card.logbook()));
            expect_status(&run.output, 0);
            let said = stderr(&run.output);
            assert!(said.contains("/proc/self/mem: cannot be"), "{said}");
        }
        return;
    }
    card.check("cannot be opened");
}
