//! May a trip take the place of what the logbook already holds of that time?
//!
//! Nothing that is in the logbook is lost: a trip is replaced only when every file that it was made from is
//! among the new trip's files again, the same or in a longer copy. A longer copy begins with all bytes of the file that
//! was read before, or has its name and kind, is not smaller and covers its time.

use std::collections::{BTreeMap, BTreeSet};

use waterseam_tables::{sources, trips};

use crate::span::Span;

/// A trip that the logbook holds.
#[derive(Clone, Debug, PartialEq)]
pub struct Held {
    /// Its id.
    pub trip_id: String,
    /// Its time.
    pub span: Span,
    /// The files that it was made from.
    pub sources: Vec<sources::Row>,
}

/// A trip that was made now.
#[derive(Clone, Debug, PartialEq)]
pub struct Written {
    /// Its time.
    pub span: Span,
    /// Content hashes of the files that it was made from; none where the logbook keeps what it holds of that time.
    pub content: Vec<String>,
    /// Ids of the trips that it stands for: its own, and others of that time.
    pub stands_for: Vec<String>,
}

/// What to do with a new trip.
#[derive(Clone, Debug, PartialEq)]
pub enum Decision {
    /// Write it; these trips, other than one of the same id, go.
    Write {
        /// Ids of the trips that it replaces.
        instead_of: Vec<String>,
    },
    /// Leave the logbook as it is: the held trip rests on files that the new one does not have.
    Keep {
        /// The held trip.
        trip_id: String,
        /// Names of the files that are missing now.
        missing: Vec<String>,
    },
}

/// The trips of a logbook with their files.
pub fn held(trips: Vec<trips::Row>, sources: Vec<sources::Row>) -> Vec<Held> {
    let mut of: BTreeMap<String, Vec<sources::Row>> = BTreeMap::new();
    for source in sources {
        if let Some(id) = &source.trip_id {
            of.entry(id.clone()).or_default().push(source);
        }
    }
    trips
        .into_iter()
        .map(|trip| Held {
            span: Span { first_us: trip.time_start, last_us: trip.time_end },
            sources: of.remove(&trip.trip_id).unwrap_or_default(),
            trip_id: trip.trip_id,
        })
        .collect()
}

/// Decides for one new trip. `begins_with` tells whether a file of the new trip begins with all bytes of a file of the
/// held one.
pub fn decide(
    trip_id: &str,
    span: Span,
    sources: &[sources::Row],
    held: &[Held],
    begins_with: &dyn Fn(&sources::Row, &sources::Row) -> bool,
) -> Decision {
    let mut instead_of = Vec::new();
    for old in held.iter().filter(|old| old.span.overlaps(&span)) {
        let missing: Vec<String> = old
            .sources
            .iter()
            .filter(|was| !is_covered(was, sources, begins_with))
            .map(|was| was.file_name.clone())
            .collect();
        if !missing.is_empty() {
            return Decision::Keep { trip_id: old.trip_id.clone(), missing };
        }
        if old.trip_id != trip_id {
            instead_of.push(old.trip_id.clone());
        }
    }
    Decision::Write { instead_of }
}

/// Held trips of which every file was read now and is in a new trip, but at another time, because clocks are read better
/// now or the boat file says more. What the logbook holds of their time is no longer what the files say.
pub fn moved(written: &[Written], held: &[Held]) -> Vec<String> {
    let content: BTreeSet<&str> = written.iter().flat_map(|new| &new.content).map(String::as_str).collect();
    let spans: Vec<Span> = written.iter().map(|new| new.span).collect();
    may_move(held, &content, &spans).map(|old| old.trip_id.clone()).collect()
}

/// Held trips of which every file is among these, and of whose time there will be no other.
pub fn may_move<'a>(
    held: &'a [Held],
    content: &BTreeSet<&str>,
    spans: &[Span],
) -> impl Iterator<Item = &'a Held> {
    held.iter()
        .filter(|old| !spans.iter().any(|span| span.overlaps(&old.span)))
        .filter(|old| !old.sources.is_empty())
        .filter(|old| old.sources.iter().all(|was| content.contains(was.content_hash.as_str())))
}

/// Content hashes of the files that the trips of the logbook rest on, now that these were written and those have moved.
pub fn content<'a>(held: &'a [Held], written: &'a [Written], moved: &[String]) -> BTreeSet<&'a str> {
    let gone: BTreeSet<&String> = written.iter().flat_map(|new| &new.stands_for).chain(moved).collect();
    let stays = held.iter().filter(|old| !gone.contains(&old.trip_id));
    let of_held = stays.flat_map(|old| &old.sources).map(|source| &source.content_hash);
    written.iter().flat_map(|new| &new.content).chain(of_held).map(String::as_str).collect()
}

/// Held trips that lie within `gap_us` of a new one and rest on no file that was read now.
pub fn beside(span: Span, gap_us: i64, held: &[Held], read_now: &dyn Fn(&str) -> bool) -> Vec<String> {
    let wide = Span { first_us: span.first_us - gap_us, last_us: span.last_us + gap_us };
    held.iter()
        .filter(|old| old.span.overlaps(&wide) && !old.span.overlaps(&span))
        .filter(|old| !old.sources.iter().any(|source| read_now(&source.content_hash)))
        .map(|old| old.trip_id.clone())
        .collect()
}

/// Whether a file that was read before is among those of now, the same or in a longer copy.
fn is_covered(
    was: &sources::Row,
    now: &[sources::Row],
    begins_with: &dyn Fn(&sources::Row, &sources::Row) -> bool,
) -> bool {
    let is_same = |is: &sources::Row| is.content_hash == was.content_hash;
    let may_be_longer = |is: &&sources::Row| is.kind == was.kind && is.bytes >= was.bytes;
    let covers_its_time =
        |is: &sources::Row| is.time_first <= was.time_first && was.time_last <= is.time_last;
    // what has to be read is asked last
    now.iter().any(is_same)
        || now.iter().filter(may_be_longer).any(|is| is.file_name == was.file_name && covers_its_time(is))
        || now.iter().filter(may_be_longer).any(|is| begins_with(is, was))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn source(name: &str, bytes: i64, time_last: i64) -> sources::Row {
        sources::Row {
            trip_id: Some("t".to_owned()),
            file_name: name.to_owned(),
            content_hash: format!("{name}{bytes}"),
            kind: name.to_owned(),
            bytes,
            records_read: 0,
            records_used: 0,
            records_not_needed: 0,
            records_set_aside: 0,
            set_aside_reasons: "{}".to_owned(),
            time_first: Some(0),
            time_last: Some(time_last),
            clock_offset_s: None,
            clock_offset_method: None,
            remarks: "[]".to_owned(),
        }
    }

    fn check(new: &[sources::Row], expected: &Decision) {
        let span = |last_us| Span { first_us: 0, last_us };
        let old = Held {
            trip_id: "old".to_owned(),
            span: span(100),
            sources: vec![source("nmea0183", 1000, 100), source("bites", 50, 90)],
        };
        assert_eq!(&decide("new", span(120), new, &[old], &|_, _| false), expected);
    }

    #[test]
    fn a_longer_copy_replaces() {
        let write = Decision::Write { instead_of: vec!["old".to_owned()] };
        check(&[source("nmea0183", 1500, 150), source("bites", 50, 90)], &write);
        check(&[source("nmea0183", 1000, 100), source("bites", 50, 90), source("probe", 9, 9)], &write);
    }

    #[test]
    fn a_poorer_set_of_files_does_not() {
        let keep =
            |missing: &str| Decision::Keep { trip_id: "old".to_owned(), missing: vec![missing.to_owned()] };
        check(&[source("nmea0183", 1500, 150)], &keep("bites"));
        check(&[source("nmea0183", 500, 50), source("bites", 50, 90)], &keep("nmea0183"));
    }

    #[test]
    fn another_time_is_another_trip() {
        let span = Span { first_us: 500, last_us: 600 };
        let old =
            Held { trip_id: "old".to_owned(), span: Span { first_us: 0, last_us: 100 }, sources: vec![] };
        assert_eq!(decide("new", span, &[], &[old], &|_, _| false), Decision::Write { instead_of: vec![] });
    }

    fn held(id: &str, first_us: i64, last_us: i64, sources: Vec<sources::Row>) -> Held {
        Held { trip_id: id.to_owned(), span: Span { first_us, last_us }, sources }
    }

    #[test]
    fn another_file_of_that_time_is_no_longer_copy_unless_it_begins_with_it() {
        let was = source("nmea0183", 1000, 100);
        let is = sources::Row { file_name: "other".to_owned(), ..source("nmea0183", 2000, 200) };
        let now = [is];
        assert!(!is_covered(&was, &now, &|_, _| false));
        assert!(is_covered(&was, &now, &|_, _| true));
    }

    #[test]
    fn what_the_same_files_said_at_another_time_is_moved() {
        let new = [Written {
            span: Span { first_us: 900, last_us: 1000 },
            content: ["nmea018310", "probe5"].map(str::to_owned).into(),
            stands_for: vec!["now".to_owned()],
        }];
        let held = [
            held("before", 0, 100, vec![source("nmea0183", 10, 9)]),
            held("other", 0, 100, vec![source("nmea0183", 11, 9)]),
            held("now", 950, 1000, vec![source("nmea0183", 10, 9)]),
            held("bare", 0, 100, vec![]),
        ];
        let gone = moved(&new, &held);
        assert_eq!(gone, ["before"]);
        assert_eq!(content(&held, &new, &gone), ["nmea018310", "nmea018311", "probe5"].into());
    }

    #[test]
    fn a_trip_shortly_before_from_other_files_is_beside() {
        let span = Span { first_us: 100, last_us: 200 };
        let old = |first_us, last_us, file: &str| held(file, first_us, last_us, vec![source(file, 1, 1)]);
        let held = [old(0, 60, "a"), old(0, 40, "b"), old(150, 300, "c"), old(210, 300, "d")];
        assert_eq!(beside(span, 50, &held, &|hash| hash == "d1"), ["a"]);
    }
}
