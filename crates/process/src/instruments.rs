//! Which logs of a batch come from one instrument, and which from two?
//!
//! A plotter starts a new file every hour, and the captain copies some of them twice: files that follow each other,
//! or that say the same where they overlap, are one log of the same instruments. Files that overlap and differ are
//! logs of two: two receivers, or two speed logs of one talker, whose readings must not be mixed.

use std::mem::{Discriminant, discriminant};

use waterseam_logs::{Kind, Observation, SourceReport, Talker, Value};

/// So many readings of a file may lie before the end of another that it follows: readings without a time of their own
/// get that of a neighbour, which differs where the file was cut.
const STRAYS: usize = 20;

/// Readings of one instant that are compared with each other; more come only from a clock that stands still.
const INSTANT_MAX: usize = 4096;

/// What was found.
#[derive(Debug, Default, PartialEq)]
pub struct Instruments {
    /// Names of the sources by number, for sentences.
    pub names: Vec<String>,
    /// Readings that an earlier file holds too and that were dropped: file and number.
    pub doubles: Vec<(usize, usize)>,
}

/// Brings observations into time order, drops what two files say alike, and gives every observation the number of its
/// source. On entry [`Observation::source`] is an index into `files`.
pub fn tell_apart(observations: &mut Vec<Observation>, files: &[&SourceReport]) -> Instruments {
    if files.len() < 2 {
        return Instruments {
            names: names(files, &(0..files.len()).collect::<Vec<_>>()),
            doubles: Vec::new(),
        };
    }
    observations.sort_by_key(|observation| observation.time_us);
    let doubles = drop_doubles(observations, files.len());
    let sources = sources(observations, files);
    if sources.iter().enumerate().any(|(file, source)| file != *source) {
        for observation in observations.iter_mut() {
            observation.source = sources[usize::from(observation.source)] as u16;
        }
    }
    Instruments {
        names: names(files, &sources),
        doubles: doubles.into_iter().enumerate().filter(|&(_, n)| n > 0).collect(),
    }
}

/// Drops readings that another file has at the same instant; gives how many for each file. Two equal readings of one
/// file stay.
fn drop_doubles(observations: &mut Vec<Observation>, n_files: usize) -> Vec<usize> {
    let mut doubles = vec![0; n_files];
    let mut dropped = vec![false; observations.len()];
    let is_of_two =
        |pair: &[Observation; 2]| pair[0].time_us == pair[1].time_us && pair[0].source != pair[1].source;
    let mut behind = 0;
    while let Some(at) = observations[behind..].array_windows().position(is_of_two) {
        let time_us = observations[behind + at].time_us;
        let is_then = |observation: &&Observation| observation.time_us == time_us;
        let n_before = observations[..behind + at].iter().rev().take_while(is_then).count();
        let start = behind + at - n_before;
        let instant = &observations[start..];
        let instant = &instant[..instant.iter().take_while(is_then).count()];
        behind = start + instant.len();
        if instant.len() > INSTANT_MAX {
            continue;
        }
        for (at, observation) in instant.iter().enumerate() {
            let is_double = (0..at).any(|before| {
                let other = &instant[before];
                !dropped[start + before]
                    && other.source != observation.source
                    && (other.talker, other.value) == (observation.talker, observation.value)
            });
            if is_double {
                dropped[start + at] = true;
                doubles[usize::from(observation.source)] += 1;
            }
        }
    }
    if doubles.iter().any(|&n| n > 0) {
        let mut dropped = dropped.into_iter();
        observations.retain(|_| !dropped.next().unwrap_or_default());
    }
    doubles
}

/// What a file says and when.
#[derive(Debug, Default)]
struct Log {
    file: usize,
    n: usize,
    /// Time from which on its readings count, µs.
    first_us: i64,
    last_us: i64,
    quantities: Quantities,
}

/// Number of the source of each file.
fn sources(observations: &[Observation], files: &[&SourceReport]) -> Vec<usize> {
    let mut logs: Vec<Log> = (0..files.len()).map(|file| Log { file, ..Log::default() }).collect();
    for run in observations.chunk_by(|a, b| a.source == b.source) {
        let log = &mut logs[usize::from(run[0].source)];
        let n_early = (STRAYS + 1).saturating_sub(log.n).min(run.len());
        if let Some(early) = run[..n_early].last() {
            log.first_us = early.time_us;
        }
        log.n += run.len();
        log.last_us = run[run.len() - 1].time_us;
        for observation in run {
            log.quantities.add((observation.talker, discriminant(&observation.value)));
        }
    }
    logs.sort_by_key(|log| (log.first_us, log.file));
    let mut source_of = vec![0; files.len()];
    let mut last_of: Vec<(Log, String, Option<Kind>)> = Vec::new();
    // of a file that says nothing of its own nothing is left
    for log in logs.into_iter().filter(|log| log.n > 0) {
        let report = files[log.file];
        let stem = stem(&report.file_name);
        let follows = |(before, its_stem, kind): &(Log, String, Option<Kind>)| {
            let shared = before.quantities.shared_with(&log.quantities);
            let is_next = *kind == report.kind && before.last_us < log.first_us && shared > 0;
            is_next.then_some((*its_stem == stem, shared))
        };
        // the first of the best: a later one must be better
        let best = last_of
            .iter()
            .enumerate()
            .filter_map(|(source, before)| Some((source, follows(before)?)))
            .reduce(|a, b| if b.1 > a.1 { b } else { a });
        if let Some((source, _)) = best {
            source_of[log.file] = source;
            let (before, ..) = &mut last_of[source];
            before.last_us = log.last_us;
            log.quantities.met.into_iter().for_each(|quantity| before.quantities.add(quantity));
        } else {
            source_of[log.file] = last_of.len();
            last_of.push((log, stem, report.kind));
        }
    }
    source_of
}

/// The name of a file without what counts up in it.
fn stem(name: &str) -> String {
    name.chars().filter(|letter| !letter.is_ascii_digit()).collect()
}

/// The first file of each source, and that there are more.
fn names(files: &[&SourceReport], source_of: &[usize]) -> Vec<String> {
    let n = source_of.iter().max().map_or(0, |last| last + 1);
    let of_source = |source: usize| {
        let mut members = (0..files.len()).filter(|&file| source_of[file] == source);
        let first = members.next().map_or("", |file| files[file].file_name.as_str());
        match members.count() {
            0 => first.to_owned(),
            more => format!("{first} and {more} more"),
        }
    };
    // one log needs no name
    if n < 2 { Vec::new() } else { (0..n).map(of_source).collect() }
}

/// Which talkers gave which kinds of value.
#[derive(Debug, Default)]
struct Quantities {
    met: Vec<(Talker, Discriminant<Value>)>,
    /// Where the one stands that came behind the last one when it was first met: sentences come in turns.
    guess: usize,
}

impl Quantities {
    fn add(&mut self, quantity: (Talker, Discriminant<Value>)) {
        let at = if self.met.get(self.guess) == Some(&quantity) {
            self.guess
        } else {
            self.met.iter().position(|known| *known == quantity).unwrap_or_else(|| {
                self.met.push(quantity);
                self.met.len() - 1
            })
        };
        self.guess = if at + 1 < self.met.len() { at + 1 } else { 0 };
    }

    fn shared_with(&self, other: &Self) -> usize {
        self.met.iter().filter(|quantity| other.met.contains(quantity)).count()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn report(name: &str) -> SourceReport {
        SourceReport { file_name: name.to_owned(), kind: Some(Kind::Nmea0183), ..SourceReport::default() }
    }

    /// One temperature and one speed a second; `by` tells instruments apart.
    fn log(source: u16, seconds: std::ops::Range<i64>, by: f64) -> Vec<Observation> {
        let of_second = |s: i64| {
            [
                Value::WaterTemp { temp_c: by + s as f64 / 1000.0 },
                Value::WaterSpeed { stw_mps: by, across_mps: None },
            ]
            .map(|value| Observation { time_us: s * 1_000_000, talker: *b"II", source, value })
        };
        seconds.flat_map(of_second).collect()
    }

    fn check(files: &[(&str, Vec<Observation>)], sources: &[u16], names: &[&str]) -> (usize, Instruments) {
        let reports: Vec<SourceReport> = files.iter().map(|(name, _)| report(name)).collect();
        let reports: Vec<&SourceReport> = reports.iter().collect();
        let mut all: Vec<Observation> = files.iter().flat_map(|(_, log)| log.clone()).collect();
        let found = tell_apart(&mut all, &reports);
        assert!(all.is_sorted_by_key(|o| o.time_us));
        assert_eq!(found.names, names);
        for (file, (_, log)) in files.iter().enumerate() {
            let last = log[log.len() - 1];
            let is_it = |o: &&Observation| (o.time_us, o.value) == (last.time_us, last.value);
            assert_eq!(all.iter().find(is_it).unwrap().source, sources[file], "file {file}");
        }
        (all.len(), found)
    }

    #[test]
    fn files_that_follow_each_other_are_one_log() {
        check(&[("LOG1.TXT", log(0, 0..500, 1.0)), ("LOG2.TXT", log(1, 500..900, 1.0))], &[0, 0], &[]);
    }

    #[test]
    fn files_that_overlap_and_say_the_same_are_one_log() {
        let (n, found) =
            check(&[("LOG1.TXT", log(0, 0..500, 1.0)), ("LOG2.TXT", log(1, 300..900, 1.0))], &[0, 0], &[]);
        assert_eq!((n, found.doubles), (1800, vec![(1, 400)]));
    }

    #[test]
    fn files_that_overlap_and_differ_are_two() {
        let names = ["doppler 1.txt", "speed 1.txt and 1 more"];
        let (n, found) = check(
            &[
                ("doppler 1.txt", log(0, 0..900, 1.0)),
                ("speed 1.txt", log(1, 0..500, 1.2)),
                ("speed 2.txt", log(2, 510..900, 1.2)),
            ],
            &[0, 1, 1],
            &names,
        );
        assert_eq!((n, found.doubles.len()), (2 * (900 + 500 + 390), 0));
    }

    #[test]
    fn equal_readings_of_one_file_stay() {
        let twice = [log(0, 0..5, 1.0), log(0, 0..5, 1.0)].concat();
        let (n, _) = check(&[("a", twice), ("b", log(1, 0..5, 1.0))], &[0, 0], &[]);
        assert_eq!(n, 20);
    }
}
