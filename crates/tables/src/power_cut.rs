//! What does a power cut leave of a write, at every moment and whatever the disk had not yet been told to keep?
//!
//! The operations of a write are recorded. For each moment a disk is built on which everything that was flushed is
//! there, and of the rest all, nothing, or any choice: names that were made, moved or removed since their folder was
//! last flushed may be there or not, each for itself; a file that was not flushed has half its bytes (POSIX, `fsync`
//! and `rename`; a name that moved between folders may be in both, never in neither, as journals keep it). From
//! there the logbook must open as it was before the write or as it is after it.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};

use tempfile::TempDir;

use crate::disk::record::{self, Operation};
use crate::{Logbook, LogbookWriter, Outcome, PackedTrip, TripTables, WithoutTrip, verify};

#[path = "../tests/files/mod.rs"]
pub(crate) mod files;
#[path = "../tests/sample/mod.rs"]
pub(crate) mod sample;

use files::tree;
use sample::{START_US, trip};

/// Choices of what was not flushed, drawn for each moment beside all and nothing: `WATERSEAM_POWER_CUTS`, or these.
const DRAWS: u64 = 1;

type Files = BTreeMap<String, Vec<u8>>;

/// A change to one name in one folder.
#[derive(Clone, Debug)]
struct Entry {
    folder: usize,
    name: String,
    node: Option<usize>,
    /// The other half of a move: this entry is gone only when that one is there.
    after: Option<usize>,
    is_safe: bool,
}

/// A file or folder, whatever its names are.
#[derive(Clone, Debug)]
enum Node {
    Folder,
    File { bytes: Vec<u8>, is_safe: bool },
}

/// A disk with its unflushed changes.
#[derive(Default)]
struct Disk {
    nodes: Vec<Node>,
    entries: Vec<Entry>,
    /// Folder of each path, as the running program sees it.
    seen: BTreeMap<PathBuf, usize>,
}

impl Disk {
    /// Everything below `root`, flushed.
    fn of(root: &Path) -> Self {
        let mut disk = Self { nodes: vec![Node::Folder], ..Self::default() };
        disk.seen.insert(root.to_owned(), 0);
        let mut folders = vec![root.to_owned()];
        while let Some(folder) = folders.pop() {
            for path in crate::layout::entries(&folder).unwrap() {
                if path.is_dir() {
                    disk.add(&path, Node::Folder);
                    folders.push(path);
                } else {
                    disk.add(&path, Node::File { bytes: fs::read(&path).unwrap(), is_safe: true });
                }
            }
        }
        disk.entries.iter_mut().for_each(|entry| entry.is_safe = true);
        disk
    }

    fn folder_of(&self, path: &Path) -> Option<(usize, String)> {
        let folder = self.seen.get(path.parent()?)?;
        Some((*folder, path.file_name()?.to_str()?.to_owned()))
    }

    fn add(&mut self, path: &Path, node: Node) {
        self.nodes.push(node);
        self.link(path, self.nodes.len() - 1);
    }

    fn link(&mut self, path: &Path, node: usize) -> Option<usize> {
        let (folder, name) = self.folder_of(path)?;
        self.entries.push(Entry { folder, name, node: Some(node), after: None, is_safe: false });
        self.seen.insert(path.to_owned(), node);
        Some(self.entries.len() - 1)
    }

    fn unlink(&mut self, path: &Path, after: Option<usize>) {
        let Some((folder, name)) = self.folder_of(path) else { return };
        self.entries.push(Entry { folder, name, node: None, after, is_safe: false });
        self.seen.remove(path);
    }

    fn apply(&mut self, operation: &Operation) {
        match operation {
            Operation::MakeFolder(path) => self.add(path, Node::Folder),
            Operation::Write(path, bytes) => {
                self.add(path, Node::File { bytes: bytes.clone(), is_safe: false });
            }
            Operation::SyncFile(path) => {
                if let Some(Node::File { is_safe, .. }) =
                    self.seen.get(path).map(|&node| &mut self.nodes[node])
                {
                    *is_safe = true;
                }
            }
            Operation::Rename(from, to) => {
                let node = self.seen[from];
                let there = self.link(to, node);
                self.unlink(from, there);
            }
            Operation::RemoveFile(path) | Operation::RemoveFolder(path) => self.unlink(path, None),
            Operation::SyncFolder(path) => {
                let Some(folder) = self.seen.get(path) else { return };
                let safe = self.entries.iter_mut().filter(|entry| entry.folder == *folder);
                safe.for_each(|entry| entry.is_safe = true);
            }
        }
    }

    /// Writes what is left when only the chosen ones of the unflushed changes came to the disk.
    fn write(&self, root: &Path, came: impl Fn(usize) -> bool) {
        let is_there = |at: usize| self.entries[at].is_safe || came(at);
        let mut names: BTreeMap<(usize, &str), Option<usize>> = BTreeMap::new();
        for (at, entry) in self.entries.iter().enumerate() {
            if is_there(at) && entry.after.is_none_or(is_there) {
                names.insert((entry.folder, &entry.name), entry.node);
            }
        }
        let mut folders = vec![(0, root.to_owned())];
        while let Some((folder, path)) = folders.pop() {
            for ((_, name), node) in names.range((folder, "")..(folder + 1, "")) {
                let Some(node) = *node else { continue };
                let path = path.join(name);
                match &self.nodes[node] {
                    Node::Folder => {
                        fs::create_dir(&path).unwrap();
                        folders.push((node, path));
                    }
                    Node::File { bytes, is_safe } => {
                        fs::write(path, &bytes[..if *is_safe { bytes.len() } else { bytes.len() / 2 }])
                            .unwrap();
                    }
                }
            }
        }
    }
}

/// A folder in memory where there is one: thousands of small logbooks are written here.
fn temporary() -> TempDir {
    TempDir::new_in("/dev/shm").or_else(|_| TempDir::new()).unwrap()
}

/// A different number for each moment and draw: splitmix64 (Steele, Lea & Flood 2014, from memory).
fn mixed(seed: u64) -> u64 {
    let mut z = seed.wrapping_mul(0x9e37_79b9_7f4a_7c15);
    z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    z ^ (z >> 31)
}

/// The tables and sums of a logbook, without the lock file, which has no content, and the format.
fn content(root: &Path) -> Files {
    tree(root)
        .into_iter()
        .filter(|(path, _)| ![".lock", "logbook.toml", "pool.toml"].contains(&path.as_str()))
        .collect()
}

/// How a folder is opened after a power cut.
#[derive(Clone, Copy)]
struct Opening {
    /// Opens it, and gives what it then holds.
    open: fn(&Path) -> Files,
    /// Says what is wrong with it.
    verify: fn(&Path) -> String,
}

const LOGBOOK: Opening = Opening {
    open: opened,
    verify: |root| verify(root).unwrap().iter().map(|finding| format!("{finding}\n")).collect(),
};

/// Does `change` on a copy of the logbook that `before` makes; at every moment a power cut must leave the old state
/// or the new one. Returns how many of the cuts left which.
fn check(before: &dyn Fn(&Path), change: &dyn Fn(&Path)) -> (usize, usize) {
    check_opened(LOGBOOK, &one_or_other, before, change)
}

/// Whether what was found is what was before, or what is after.
type IsGood<'a> = &'a dyn Fn(&Files, [&Files; 2]) -> bool;

fn one_or_other(found: &Files, either: [&Files; 2]) -> bool {
    either.contains(&found)
}

/// The same of each trip by itself.
fn one_or_other_of_each(found: &Files, either: [&Files; 2]) -> bool {
    let ids = ["t1", "t2", "t3"];
    let of = |files: &Files, id: &str| -> Files {
        let is_of =
            |path: &str| path.contains(&format!("trip={id}/")) || path == format!(".sums/{id}.blake3");
        files
            .iter()
            .filter(|(path, _)| is_of(path))
            .map(|(path, bytes)| (path.clone(), bytes.clone()))
            .collect()
    };
    let nothing_else = ids.iter().map(|id| of(found, id).len()).sum::<usize>() == found.len();
    nothing_else && ids.iter().all(|id| either.iter().any(|files| of(files, id) == of(found, id)))
}

fn check_opened(
    opening: Opening,
    is_good: IsGood,
    before: &dyn Fn(&Path),
    change: &dyn Fn(&Path),
) -> (usize, usize) {
    let draws = std::env::var("WATERSEAM_POWER_CUTS").map_or(DRAWS, |text| text.parse().unwrap());
    let folder = temporary();
    let root = folder.path().join("logbook");
    fs::create_dir(&root).unwrap();
    before(&root);
    let mut disk = Disk::of(&root);
    // what an interrupted write had left is not the old state: that is what opening makes of it
    let (old, _) = outcomes(opening, &root);
    let ((), operations) = record::of(|| change(&root));
    let (new, _) = outcomes(opening, &root);

    let mut left = (0, 0);
    for moment in 0..=operations.len() {
        if moment > 0 {
            disk.apply(&operations[moment - 1]);
        }
        let mut seen = BTreeSet::new();
        for draw in 0..draws + 2 {
            let came = |at: usize| match draw {
                0 => false,
                1 => true,
                _ => mixed(((moment as u64) << 32) ^ (draw << 16) ^ at as u64) & 1 == 1,
            };
            let open: Vec<bool> =
                (0..disk.entries.len()).filter(|at| !disk.entries[*at].is_safe).map(came).collect();
            if !seen.insert(open) {
                continue;
            }
            let cut = folder.path().join("cut");
            fs::create_dir(&cut).unwrap();
            disk.write(&cut, came);
            let as_left = tree(&cut);
            let (found, said) = if draw == 1 && moment % 8 == 0 {
                outcomes(opening, &cut)
            } else {
                ((opening.open)(&cut), String::new())
            };
            let what = || {
                let next = operations.get(moment);
                format!(
                    "before {next:?}, draw {draw}: left {:?}\nopened as {:?}\n{said}",
                    as_left.keys(),
                    found.keys()
                )
            };
            assert!(is_good(&found, [&old, &new]), "{}", what());
            assert!(said.is_empty(), "{}", what());
            left.0 += usize::from(found == old);
            left.1 += usize::from(found == new);
            fs::remove_dir_all(&cut).unwrap();
        }
    }
    left
}

/// What a logbook holds after it is opened, which must know the trips that have a table and no others.
fn opened(root: &Path) -> Files {
    let (logbook, _) = record::of(|| LogbookWriter::open_or_create(root).unwrap());
    let found = content(root);
    let trips = logbook.logbook().trip_ids().unwrap();
    assert_eq!(trips.len(), found.keys().filter(|path| path.starts_with("trips/")).count(), "{trips:?}");
    found
}

/// Opens a copy: what it then holds, and what is wrong with it.
fn outcomes(opening: Opening, root: &Path) -> (Files, String) {
    let folder = temporary();
    let copy = folder.path().join("logbook");
    fs::create_dir(&copy).unwrap();
    Disk::of(root).write(&copy, |_| true);
    ((opening.open)(&copy), (opening.verify)(&copy))
}

fn written(tables: TripTables) -> impl Fn(&Path) {
    move |root| {
        LogbookWriter::open_or_create(root).unwrap().write_trip(&tables).unwrap();
    }
}

fn both(tables: [TripTables; 2]) -> impl Fn(&Path) {
    move |root| {
        let logbook = LogbookWriter::open_or_create(root).unwrap();
        for tables in &tables {
            logbook.write_trip(tables).unwrap();
        }
    }
}

/// Whether both states occurred: a test in which only one does would show nothing.
fn both_occur((old, new): (usize, usize)) {
    assert!(old > 5 && new > 5, "{old} times the old state, {new} times the new one");
}

const YEAR_US: i64 = 365 * 86_400 * 1_000_000;

#[test]
fn the_first_trip_of_a_new_logbook() {
    both_occur(check(&|_| {}, &written(trip("t1", START_US, 3))));
}

#[test]
fn a_trip_in_place_of_itself() {
    both_occur(check(&written(trip("t1", START_US, 3)), &written(trip("t1", START_US, 5))));
}

#[test]
fn a_trip_that_moves_to_another_year() {
    both_occur(check(&written(trip("t1", START_US - YEAR_US, 3)), &written(trip("t1", START_US, 5))));
}

#[test]
fn a_trip_instead_of_two_others() {
    let before = both([trip("t1", START_US, 3), trip("t2", START_US - YEAR_US, 3)]);
    let change = |root: &Path| {
        let logbook = LogbookWriter::open_or_create(root).unwrap();
        let others = ["t1".to_owned(), "t2".to_owned(), "t9".to_owned()];
        logbook.write_trip_instead_of(&trip("t3", START_US, 5), &others).unwrap();
        assert_eq!(logbook.logbook().trip_ids().unwrap(), ["t3"]);
    };
    both_occur(check(&before, &change));
}

#[test]
fn many_trips_at_once() {
    let change = |root: &Path| {
        let logbook = LogbookWriter::open_or_create(root).unwrap();
        let trips = [trip("t1", START_US, 5), trip("t2", START_US - YEAR_US, 3), trip("t3", START_US, 3)];
        let trips = trips.map(|tables| PackedTrip::new(&tables, &[]).unwrap());
        let outcomes = logbook.put(&trips).unwrap();
        assert_eq!(outcomes, [Outcome::Replaced, Outcome::Added, Outcome::Unchanged]);
    };
    let before = both([trip("t1", START_US, 3), trip("t3", START_US, 3)]);
    both_occur(check_opened(LOGBOOK, &one_or_other_of_each, &before, &change));
}

#[test]
fn trips_that_follow_each_other() {
    let folder = temporary();
    let logbook = LogbookWriter::open_or_create(folder.path()).unwrap();
    let packed = |id, n, instead_of: &[&str]| {
        let instead_of: Vec<String> = instead_of.iter().map(|id| (*id).to_owned()).collect();
        PackedTrip::new(&trip(id, START_US, n), &instead_of).unwrap()
    };
    // the second takes the place of the first, and the last is the first again
    let trips =
        [packed("t1", 3, &[]), packed("t2", 4, &["t1"]), packed("t3", 5, &[]), packed("t1", 6, &["t3"])];
    let outcomes = logbook.put(&trips).unwrap();
    assert_eq!(outcomes, [Outcome::Added; 4]);
    assert_eq!(logbook.logbook().trip_ids().unwrap(), ["t1", "t2"]);
    assert_eq!(logbook.logbook().read_trip("t1").unwrap(), trip("t1", START_US, 6));
    assert_eq!(logbook.put(&[]).unwrap(), []);
    drop(logbook);
    assert_eq!(verify(folder.path()).unwrap(), []);
}

#[test]
fn a_trip_that_is_forgotten() {
    let before = both([trip("t1", START_US, 3), trip("t2", START_US, 3)]);
    both_occur(check(&before, &|root| LogbookWriter::open_or_create(root).unwrap().forget("t1").unwrap()));
}

#[test]
fn files_without_a_trip() {
    let rows = |n: i64| {
        let mut tables = trip("t1", START_US, 3);
        tables.sources[0].trip_id = None;
        tables.sources[0].bytes = n;
        tables.set_aside[0].trip_id = None;
        WithoutTrip { sources: tables.sources, set_aside: tables.set_aside }
    };
    let write = move |rows: WithoutTrip| {
        move |root: &Path| {
            let logbook = LogbookWriter::open_or_create(root).unwrap();
            logbook.write_without_trip(&rows).unwrap();
            assert_eq!(logbook.logbook().without_trip().unwrap(), rows);
        }
    };
    both_occur(check(&write(rows(1)), &write(rows(2))));
    both_occur(check(&write(rows(1)), &write(WithoutTrip::default())));
}

/// The power goes a second time, while the first cut is made good.
#[test]
fn a_recovery() {
    let cut_at = |part: usize| {
        move |root: &Path| {
            let other = temporary();
            let path = other.path().join("logbook");
            fs::create_dir(&path).unwrap();
            written(trip("t1", START_US - YEAR_US, 3))(&path);
            let mut disk = Disk::of(&path);
            let ((), operations) = record::of(|| written(trip("t1", START_US, 5))(&path));
            operations.iter().take(operations.len() * part / 4).for_each(|done| disk.apply(done));
            disk.write(root, |_| true);
        }
    };
    for part in 1..4 {
        let (old, new) = check(&cut_at(part), &|root| drop(LogbookWriter::open_or_create(root).unwrap()));
        assert!(old + new > 10, "{old} and {new} at {part} quarters");
    }
}

/// A pool is opened by making it hold no more than it does: a logbook that is not there is no reason to.
const POOL: Opening = Opening {
    open: |root| {
        record::of(|| drop(crate::pool::open_or_create(root).unwrap()));
        content(root)
    },
    verify: crate::pool::wrong_sums,
};

/// The logbook of these trips beside the pool, and the pool of it.
fn pooled(trips: Vec<TripTables>) -> impl Fn(&Path) {
    move |root| {
        let folder = temporary();
        let logbook = folder.path().join("logbook");
        // a thread of its own: what is done to the logbook is no operation of the pool
        std::thread::scope(|scope| {
            scope.spawn(|| {
                let writer = LogbookWriter::open_or_create(&logbook).unwrap();
                for trip in &trips {
                    writer.write_trip(trip).unwrap();
                }
            });
        });
        crate::pool::compact_within(&[logbook], root, &crate::pool::Limits { rows: 7, ..Default::default() })
            .unwrap();
    }
}

#[test]
fn a_year_of_a_pool() {
    let few = vec![trip("t1", START_US, 3)];
    let more = vec![trip("t1", START_US, 3), trip("t2", START_US + 1, 6)];
    both_occur(check_opened(POOL, &one_or_other, &|_| {}, &pooled(few.clone())));
    both_occur(check_opened(POOL, &one_or_other, &pooled(more), &pooled(few.clone())));
    both_occur(check_opened(POOL, &one_or_other, &pooled(few), &pooled(Vec::new())));
}

/// An open logbook says what it put right, once.
#[test]
fn repairs_are_said() {
    let folder = temporary();
    written(trip("t1", START_US, 3))(folder.path());
    let staging = folder.path().join(".staging/t2");
    fs::create_dir_all(&staging).unwrap();
    fs::write(folder.path().join(".logbook.toml.tmp"), "form").unwrap();
    let logbook = Logbook::open(folder.path()).unwrap();
    let said: Vec<String> = logbook.repairs().iter().map(ToString::to_string).collect();
    assert_eq!(said.len(), 2, "{said:?}");
    assert!(said[0].starts_with("trip t2: its write was interrupted half-way; it is undone"), "{said:?}");
    assert!(said[1].starts_with(".logbook.toml.tmp: a temporary file"), "{said:?}");
    drop(logbook);
    assert_eq!(Logbook::open(folder.path()).unwrap().repairs(), []);
}
