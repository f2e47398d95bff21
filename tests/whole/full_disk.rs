//! A disk that fills up at any moment: a clear message, the old state or the new one of every trip, and the same bytes
//! as ever once there is room.
//!
//! The disk is a small one in memory that the test mounts for itself alone, in namespaces of its own, which Linux
//! lets an ordinary user do on most machines. Where it does not, a limit on the size of files stands in, and the test
//! says so.

#![cfg(target_os = "linux")]

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

use super::helpers::{contents, expect_status, process, sample_logs};

/// Disks that fill up: `WATERSEAM_FILLS`, or these few, a quarter of them by their number of files.
const FILLS: u32 = 8;

/// Runs `process`, `verify`, makes room, and does it again. `$1` limits the disk, `$2` gives it room; what is said goes
/// to `$out`.
const SCRIPT: &str = r#"
"$bin" process "$card" --logbook "$book" >"$out/first.out" 2>"$out/first.said"; echo $? >"$out/first"
if [ -e "$book/logbook.toml" ]; then
  "$bin" verify --logbook "$book" >"$out/verify.said" 2>&1; echo $? >"$out/verify"
  [ ! -d "$book/.sums" ] || cp -r "$book/.sums" "$out/sums"
fi
"#;

/// How a disk is made small.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Means {
    /// A mount of one's own; `true` where one must first be root in a namespace of one's own.
    Mount { as_user: bool },
    /// `ulimit -f`.
    FileSize,
}

fn unshare(as_user: bool) -> Command {
    let mut command = Command::new("unshare");
    command.arg("--mount");
    if as_user {
        command.args(["--user", "--map-root-user"]);
    }
    command
}

fn means(folder: &Path) -> Means {
    let works = |as_user| {
        let mount = unshare(as_user).args(["mount", "-t", "tmpfs", "tmpfs"]).arg(folder).output();
        mount.is_ok_and(|output| output.status.success())
    };
    let means = [false, true].into_iter().find(|as_user| works(*as_user));
    means.map_or(Means::FileSize, |as_user| Means::Mount { as_user })
}

struct Level {
    /// Room beside what the logbook holds already, bytes.
    room_bytes: u64,
    /// Files and folders beside those that are there already, where their number is what ends.
    room_files: Option<u64>,
}

/// Runs the script on a disk of so much room and returns the folder with what was said; the logbook is copied there
/// after the run with room again.
fn run(means: Means, base: &Path, level: &Level, folder: &Path) -> PathBuf {
    let (out, disk) = (folder.join("out"), folder.join("disk"));
    fs::create_dir(&out).unwrap();
    fs::create_dir(&disk).unwrap();
    let copy = r#"[ ! -d "$base" ] || cp -r "$base" "$book""#;
    let again = r#""$bin" process "$card" --logbook "$book" >"$out/second.out" 2>"$out/second.said"; echo $? >"$out/second"
"$bin" verify --logbook "$book" >"$out/second_verify.said" 2>&1; echo $? >"$out/second_verify"
cp -r "$book" "$out/logbook""#;
    let (mut command, script) = match means {
        Means::Mount { as_user } => {
            let files = level.room_files.map_or(String::new(), |files| {
                format!("nr_inodes=$(( $(find \"$disk\" | wc -l) + {files} )),")
            });
            // with its source the mount forgets its options, of which an ordinary user may not repeat the owner
            let limit = format!(
                "used=$(( $(stat -f -c '(%b-%f)*%S' \"$disk\") ))\nmount -o remount,{files}size=$(( used + {} )) tmpfs \"$disk\" || exit 9",
                level.room_bytes.max(4096)
            );
            let script = format!(
                "mount -t tmpfs -o size=1g tmpfs \"$disk\" || exit 9\n{copy}\n{limit}\n{SCRIPT}\nmount -o remount,size=1g,nr_inodes=0 tmpfs \"$disk\" || exit 9\n{again}"
            );
            let mut command = unshare(as_user);
            command.args(["sh", "-c"]);
            (command, script)
        }
        Means::FileSize => {
            let blocks = level.room_bytes / 512 / 20;
            let limited = format!("(trap '' XFSZ; ulimit -f {blocks}\n{SCRIPT})");
            let mut command = Command::new("sh");
            command.arg("-c");
            (command, format!("{copy}\n{limited}\n{again}"))
        }
    };
    let output = command
        .arg(script)
        .env("bin", env!("CARGO_BIN_EXE_waterseam"))
        .env("card", sample_logs())
        .env("base", base)
        .env("disk", &disk)
        .env("book", disk.join("logbook"))
        .env("out", &out)
        .output()
        .unwrap();
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    out
}

fn read(out: &Path, name: &str) -> String {
    fs::read_to_string(out.join(name)).unwrap_or_default().trim().to_owned()
}

#[test]
fn a_disk_that_fills_up_at_any_moment() {
    let fills = std::env::var("WATERSEAM_FILLS").map_or(FILLS, |text| text.parse().unwrap());
    let dir = tempfile::tempdir().unwrap();
    let means = means(dir.path());
    if means == Means::FileSize {
        println!("no disk can be mounted here: a limit on the size of files stands in for a full disk");
    }
    let whole = dir.path().join("whole");
    expect_status(&process(&sample_logs(), &whole), 0);
    let undisturbed = contents(&whole);
    // a logbook that holds the same trips without their probe logs and notes: every trip is to be replaced
    let (poor, base) = (dir.path().join("poor"), dir.path().join("base"));
    for day in
        fs::read_dir(sample_logs()).unwrap().map(|entry| entry.unwrap().path()).filter(|path| path.is_dir())
    {
        let to = poor.join(day.file_name().unwrap());
        fs::create_dir_all(&to).unwrap();
        for file in fs::read_dir(day).unwrap().map(|entry| entry.unwrap().path()) {
            if file.extension().is_some_and(|extension| extension == "TXT") {
                fs::copy(&file, to.join(file.file_name().unwrap())).unwrap();
            }
        }
    }
    fs::copy(sample_logs().join("waterseam.toml"), poor.join("waterseam.toml")).unwrap();
    expect_status(&process(&poor, &base), 0);
    let before = contents(&base);

    let need_bytes: u64 =
        undisturbed.iter().map(|(_, bytes)| (bytes.len() as u64).next_multiple_of(4096)).sum();
    let (mut refused, mut kept_old, mut took_new) = (0, 0, 0);
    for fill in 0..fills {
        // the golden ratio leaves no part of the run out
        let part = (f64::from(fill) * 0.618_033_988_75).fract() * 1.1;
        let by_files = fill % 4 == 3 && means != Means::FileSize;
        let level = Level {
            room_bytes: if by_files { 1 << 29 } else { (need_bytes as f64 * part) as u64 },
            room_files: by_files.then_some((part * 120.0) as u64),
        };
        let with_base = fill % 2 == 1;
        let folder = dir.path().join(format!("fill{fill}"));
        fs::create_dir(&folder).unwrap();
        let none = folder.join("none");
        let out = run(means, if with_base { &base } else { &none }, &level, &folder);
        let said = read(&out, "first.said");
        let what = format!("fill {fill}, {} bytes, {:?} files: {said}", level.room_bytes, level.room_files);
        match read(&out, "first").as_str() {
            "0" => {}
            "1" => {
                refused += 1;
                assert!(said.contains("make room on the disk, then run again"), "{what}");
            }
            other => panic!("status {other}, {what}"),
        }
        assert!(!said.contains("panicked"), "{what}");
        assert!(matches!(read(&out, "verify").as_str(), "" | "0"), "{what}\n{}", read(&out, "verify.said"));
        // the sums of a trip that `verify` finds no fault with stand for all of its bytes
        for (name, sums) in contents(&out.join("sums")) {
            let of = |logbook: &[(PathBuf, Vec<u8>)]| {
                logbook.iter().any(|(path, bytes)| *path == Path::new(".sums").join(&name) && *bytes == sums)
            };
            let (old, new) = (with_base && of(&before), of(&undisturbed));
            assert!(old || new, "{what}: {} is neither the old trip nor the new one", name.display());
            (kept_old, took_new) = (kept_old + u32::from(old), took_new + u32::from(new));
        }
        assert_eq!(read(&out, "second"), "0", "{what}\n{}", read(&out, "second.said"));
        assert_eq!(read(&out, "second_verify"), "0", "{what}\n{}", read(&out, "second_verify.said"));
        assert!(contents(&out.join("logbook")) == undisturbed, "{what}: the run with room gave other bytes");
        fs::remove_dir_all(&folder).unwrap();
    }
    println!(
        "{fills} disks by {means:?}: {refused} runs refused, {kept_old} trips stayed old, {took_new} were new"
    );
    assert!(refused > fills / 4, "only {refused} of {fills} runs were refused: nothing was tested");
}
