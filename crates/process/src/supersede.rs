//! May a trip take the place of what the logbook already holds of that time?
//!
//! Nothing that is in the logbook is lost: a trip is replaced only when every file that it was made from is
//! among the new trip's files again, the same or in a longer copy.

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
pub fn held(trips: Vec<trips::Row>, sources: &[sources::Row]) -> Vec<Held> {
    let of = |id: &str| sources.iter().filter(|source| source.trip_id == id).cloned().collect();
    trips
        .into_iter()
        .map(|trip| Held {
            span: Span { first_us: trip.time_start, last_us: trip.time_end },
            sources: of(&trip.trip_id),
            trip_id: trip.trip_id,
        })
        .collect()
}

/// Decides for one new trip.
pub fn decide(trip_id: &str, span: Span, sources: &[sources::Row], held: &[Held]) -> Decision {
    let mut instead_of = Vec::new();
    for old in held.iter().filter(|old| old.span.overlaps(&span)) {
        let missing: Vec<String> = old
            .sources
            .iter()
            .filter(|was| !sources.iter().any(|is| covers(is, was)))
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

/// Whether a file is the same as one that was read before, or a longer copy of it.
fn covers(is: &sources::Row, was: &sources::Row) -> bool {
    let same = is.content_hash == was.content_hash;
    let longer = is.kind == was.kind
        && is.bytes >= was.bytes
        && is.time_first <= was.time_first
        && was.time_last <= is.time_last;
    same || longer
}

#[cfg(test)]
mod tests {
    use super::*;

    fn source(name: &str, bytes: i64, time_last: i64) -> sources::Row {
        sources::Row {
            trip_id: "t".to_owned(),
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
        assert_eq!(&decide("new", span(120), new, &[old]), expected);
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
        assert_eq!(decide("new", span, &[], &[old]), Decision::Write { instead_of: vec![] });
    }
}
