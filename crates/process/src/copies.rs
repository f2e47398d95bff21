//! Which files of a card hold nothing that another one does not?
//!
//! A file may have been copied twice, or copied while the plotter still wrote and again in the evening: then the
//! shorter one is the beginning of the longer.

use std::collections::{BTreeMap, BTreeSet};
use std::io::{self, BufReader, Read};
use std::path::PathBuf;

use waterseam_logs::Kind;

use crate::read::ReadFile;

/// First bytes by which beginnings are looked for.
const HEAD_BYTES: usize = 512;

/// A file that was left out because another one holds all of it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Copy {
    /// The file.
    pub path: PathBuf,
    /// The one that holds it.
    pub of: PathBuf,
    /// It is the whole of the other, not only its beginning.
    pub is_whole: bool,
}

/// Separates copies from the files that hold them. Of files with the same content the first stays.
pub fn apart(files: Vec<ReadFile>) -> (Vec<ReadFile>, Vec<Copy>) {
    let mut holder: BTreeMap<usize, (usize, bool)> = BTreeMap::new();
    let mut first: BTreeMap<&str, usize> = BTreeMap::new();
    for (index, file) in files.iter().enumerate().filter(|(_, file)| file.report.bytes > 0) {
        let held_by = *first.entry(&file.report.content_hash).or_insert(index);
        if held_by != index {
            holder.insert(index, (held_by, true));
        }
    }
    for (short, long) in beginnings(&files, &first.into_values().collect()) {
        holder.insert(short, (long, false));
    }
    let copies = holder
        .iter()
        .map(|(&index, &(of, is_whole))| Copy {
            path: files[index].path.clone(),
            of: files[of].path.clone(),
            is_whole,
        })
        .collect();
    let mut index = 0..;
    let mut files = files;
    files.retain(|_| index.next().is_some_and(|index| !holder.contains_key(&index)));
    (files, copies)
}

/// Files that are the beginning of another one, and which.
fn beginnings(files: &[ReadFile], among: &BTreeSet<usize>) -> Vec<(usize, usize)> {
    let head = |&index: &usize| {
        let file = &files[index];
        // a track in GPX ends with closing tags, so that a shorter copy is not its beginning
        let kind = file.report.kind.filter(|kind| *kind != Kind::Gpx)?;
        let mut head = Vec::new();
        file.member.open().ok()?.take(HEAD_BYTES as u64).read_to_end(&mut head).ok()?;
        Some((kind, head, index))
    };
    let mut heads: Vec<(Kind, Vec<u8>, usize)> = among.iter().filter_map(head).collect();
    // what starts alike is neighbours, the shortest first
    heads.sort_by(|a, b| (a.0, &a.1, files[a.2].report.bytes).cmp(&(b.0, &b.1, files[b.2].report.bytes)));
    let mut found = Vec::new();
    for (place, (kind, head, short)) in heads.iter().enumerate() {
        let alike = heads[place + 1..].iter().take_while(|(k, h, _)| k == kind && h.starts_with(head));
        let bytes = |index: usize| files[index].report.bytes;
        let longer = alike.filter(|(.., long)| bytes(*long) > bytes(*short));
        // the longest, so that of three copies both shorter ones name the same
        let mut longer: Vec<usize> = longer.map(|(.., long)| *long).collect();
        longer.sort_by_key(|&long| std::cmp::Reverse(bytes(long)));
        let holds = |&long: &usize| is_beginning(&files[*short], &files[long]).unwrap_or(false);
        found.extend(longer.into_iter().find(holds).map(|long| (*short, long)));
    }
    found
}

/// Whether the bytes of a file are the first ones of another; a last sentence that was torn may differ.
fn is_beginning(short: &ReadFile, long: &ReadFile) -> io::Result<bool> {
    let (mut a, mut b) = (BufReader::new(short.member.open()?), BufReader::new(long.member.open()?));
    let (mut of_short, mut of_long) = (vec![0; 1 << 16], vec![0; 1 << 16]);
    let mut line: Vec<u8> = Vec::new(); // of the short file, as far as it was read
    loop {
        let n = read_full(&mut a, &mut of_short)?;
        let m = read_full(&mut b, &mut of_long[..n.max(1)])?;
        let differs = (0..n).find(|&at| at >= m || of_short[at] != of_long[at]);
        if let Some(at) = differs {
            let rest_is_torn = short.report.kind == Some(Kind::Nmea0183)
                && n < of_short.len()
                && is_torn(&line, &of_short[..n], at);
            return Ok(rest_is_torn);
        }
        if n < of_short.len() {
            return Ok(true);
        }
        let start = of_short.iter().rposition(|byte| *byte == b'\n').map_or(0, |at| at + 1);
        if start > 0 {
            line.clear();
        }
        line.extend_from_slice(&of_short[start..]);
        line.truncate(1024);
    }
}

/// Whether what differs from byte `at` on is only a last sentence without its end.
fn is_torn(line_before: &[u8], last: &[u8], at: usize) -> bool {
    let start = last[..at].iter().rposition(|byte| *byte == b'\n').map(|newline| newline + 1);
    let line = match start {
        Some(start) => last[start..].to_vec(),
        None => [line_before, last].concat(),
    };
    line.len() < 1024 && !line.iter().any(|byte| matches!(byte, b'\n' | b'*'))
}

fn read_full(from: &mut impl Read, into: &mut [u8]) -> io::Result<usize> {
    let mut n = 0;
    while n < into.len() {
        match from.read(&mut into[n..]) {
            Ok(0) => break,
            Ok(more) => n += more,
            Err(error) if error.kind() == io::ErrorKind::Interrupted => {}
            Err(error) => return Err(error),
        }
    }
    Ok(n)
}

#[cfg(test)]
mod tests {
    use waterseam_logs::boat::BoatFile;

    use super::*;

    /// Names of the files that stay, and of each copy with the file that holds it.
    fn check(files: &[(&str, &[u8])], stay: &[&str], expected: &[(&str, &str, bool)]) {
        let dir = tempfile::tempdir().unwrap();
        let mut paths: Vec<PathBuf> = files.iter().map(|(name, _)| dir.path().join(name)).collect();
        for (path, (_, bytes)) in paths.iter().zip(files) {
            std::fs::write(path, bytes).unwrap();
        }
        paths.sort();
        let shelf = crate::shelf::Shelf::beside(dir.path());
        let (kept, copies) = apart(crate::read::all(&paths, &BoatFile::default(), &shelf, &|_| {}).unwrap());
        let name = |path: &PathBuf| path.file_name().unwrap().to_string_lossy().into_owned();
        assert_eq!(kept.iter().map(|file| name(&file.path)).collect::<Vec<_>>(), stay);
        let copies: Vec<_> = copies.iter().map(|c| (name(&c.path), name(&c.of), c.is_whole)).collect();
        let expected: Vec<_> =
            expected.iter().map(|(path, of, whole)| ((*path).to_owned(), (*of).to_owned(), *whole)).collect();
        assert_eq!(copies, expected);
    }

    fn log(sentences: usize) -> Vec<u8> {
        (0..sentences).map(|n| format!("$YXMTW,{}.{},C\r\n", n % 20, n % 7)).collect::<String>().into_bytes()
    }

    #[test]
    fn the_beginning_of_a_longer_file_is_a_copy() {
        let (short, middle, long) = (log(50), log(9_000), log(20_000));
        let torn = &middle[..middle.len() - 5];
        check(
            &[("a", &long), ("b", torn), ("c", &short), ("d", &long)],
            &["a"],
            &[("b", "a", false), ("c", "a", false), ("d", "a", true)],
        );
    }

    #[test]
    fn a_torn_last_sentence_may_differ() {
        let long = log(9_000);
        let torn = [&log(8_000)[..], b"$YXMTW,9\0\0\0"].concat();
        check(&[("a", &torn), ("b", &long)], &["b"], &[("a", "b", false)]);
        // a whole last sentence that differs is a reading of its own, and so is a row of a table
        let other = [&log(8_000)[..], b"$YXMTW,18.1,C*1A\r\n"].concat();
        check(&[("a", &other), ("b", &long)], &["a", "b"], &[]);
        let head = "time,rod,species\n2026-06-14 06:00,port,coho\n";
        let (a, b) =
            (format!("{head}2026-06-14 06:10,port,coho"), format!("{head}2026-06-14 06:20,port,coho\nx\n"));
        check(&[("a", a.as_bytes()), ("b", b.as_bytes())], &["a", "b"], &[]);
    }

    #[test]
    fn notes_with_more_rows_hold_the_shorter_ones() {
        let head = "time,rod,species\n2026-06-14 06:00,port,coho\n";
        let longer = format!("{head}2026-06-14 06:20,port,coho\n");
        check(
            &[("bites.csv", head.as_bytes()), ("later.csv", longer.as_bytes())],
            &["later.csv"],
            &[("bites.csv", "later.csv", false)],
        );
    }
}
