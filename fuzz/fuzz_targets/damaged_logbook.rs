//! Opening a logbook of which one file is damaged: an error or a finding, never a panic, and never a wrong reading that
//! `verify` calls good.
//!
//! The first byte chooses the file, the rest is what stands in it. Sums are taken away, so that the decoders see the
//! damage; with its sum in place, every change must be found.
#![no_main]

use std::fs;
use std::path::{Path, PathBuf};
use std::sync::OnceLock;

use libfuzzer_sys::fuzz_target;
use waterseam_tables::{Error, Logbook, LogbookWriter, Problem, SCHEMAS, verify};

#[path = "../../crates/tables/tests/sample/mod.rs"]
mod sample;

/// A whole logbook and its files, made once.
struct Whole {
    root: PathBuf,
    /// Path and content of the tables' files, then of the sums and of the file that names the format.
    files: Vec<(PathBuf, Vec<u8>)>,
}

static WHOLE: OnceLock<Whole> = OnceLock::new();

fn whole() -> &'static Whole {
    WHOLE.get_or_init(|| {
        let memory = Path::new("/dev/shm");
        let folder = if memory.is_dir() { memory.to_owned() } else { std::env::temp_dir() };
        let root = folder.join(format!("waterseam-fuzz-{}", std::process::id()));
        let _ = fs::remove_dir_all(&root);
        let writer = LogbookWriter::open_or_create(&root).expect("a folder of our own");
        writer.write_trip(&sample::trip("t1", sample::START_US, 20)).expect("the sample is right");
        let tables = SCHEMAS.iter().map(|schema| format!("{}/year=2026/trip=t1/part-0.parquet", schema.name));
        let names = tables.chain([".sums/t1.blake3".to_owned(), "logbook.toml".to_owned()]);
        let files = names
            .map(|name| {
                let path = root.join(name);
                let content = fs::read(&path).expect("it was written");
                if let Some(seeds) = std::env::var_os("WATERSEAM_FUZZ_SEEDS") {
                    let n = fs::read_dir(&seeds).map_or(0, Iterator::count);
                    let seed = [&[u8::try_from(n).unwrap_or_default()], content.as_slice()].concat();
                    fs::write(Path::new(&seeds).join(format!("whole-{n:02}")), seed)
                        .expect("a folder for seeds");
                }
                (path, content)
            })
            .collect();
        // a damaged file may make a decoder of the library panic, which the logbook catches: not the end of the run
        std::panic::set_hook(Box::new(|panic| {
            if std::env::var_os("WATERSEAM_FUZZ_PANICS").is_some() {
                eprintln!("{panic}");
            }
        }));
        Whole { root, files }
    })
}

fuzz_target!(init: { whole(); }, |input: &[u8]| {
    let Whole { root, files } = whole();
    let [choice, content @ ..] = input else { return };
    let at = usize::from(*choice) % files.len();
    let (path, good) = &files[at];
    let is_table = at < SCHEMAS.len();
    fs::write(path, content).expect("memory takes all");
    if is_table && content != good {
        let findings = verify(root).expect("damage is no error");
        assert!(findings.iter().any(|finding| finding.problem == Problem::SumDiffers), "{findings:?}");
    }
    if is_table {
        let (sums, _) = &files[SCHEMAS.len()];
        fs::remove_file(sums).expect("it is there");
    }
    let found = verify(root);
    let read = Logbook::open(root).and_then(|logbook| logbook.read_trip("t1"));
    for (path, good) in [&files[at], &files[SCHEMAS.len()]] {
        fs::write(path, good).expect("memory takes all");
    }
    match (found, read) {
        (Ok(findings), read) => {
            let only_no_sums = |problem: &Problem| matches!(problem, Problem::NoSums { .. });
            if is_table && findings.iter().all(|finding| only_no_sums(&finding.problem)) {
                assert!(read.is_ok(), "{read:?}");
            }
            if content == good {
                assert!(read.is_ok(), "{read:?}");
            }
        }
        (Err(error), read) => {
            assert!(!is_table, "damage of a table is no error: {error}");
            assert!(matches!(read, Err(Error::Toml { .. } | Error::NewerFormat { .. } | Error::Io { .. })), "{read:?}");
        }
    }
});
