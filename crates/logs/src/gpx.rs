//! What does a GPX file (1.0 or 1.1) say?
//!
//! A track point with a time is a fix, with the velocity, water temperature and depth that stand beside it: as
//! elements of GPX 1.0 or in `extensions` of any namespace, known by their local names. A waypoint with a time is a
//! mark. Points of routes are plans and not needed. Units where none is written: m/s, degrees true, °C, m; times
//! without a zone are UTC (all from the GPX 1.0 and 1.1 schemas, except that of temperature: common practice, no
//! source). `atemp` is the air and is not taken.
//!
//! Each point is a record. One that cannot be used is set aside alone; where the XML itself breaks, what came before
//! is used and the rest is one record set aside. Entities of a document type are never expanded.

mod ascii;
mod point;
#[cfg(test)]
mod tests;

use std::io::{self, BufRead};

use quick_xml::events::Event;
use quick_xml::{Error, Reader};

use self::ascii::Ascii;
use self::point::Points;
use crate::boat::BoatFile;
use crate::source::{Sink, SourceReport};
use crate::table::account::{Account, Place};

/// Longest tag, text or comment that is read: more than any log has, and little memory.
const MARKUP_BYTES_MAX: usize = 1 << 20;

/// Reads the file from its start; `add_us` is added to its times.
///
/// # Errors
/// What the input reports. The points before the failure have been handed out.
pub(crate) fn read(
    input: &mut dyn BufRead,
    add_us: i64,
    boat: &BoatFile,
    report: &mut SourceReport,
    sink: &mut dyn Sink,
) -> io::Result<()> {
    "GPX".clone_into(&mut report.described);
    let mut points = Points::new(Account { report, sink }, add_us, boat);
    let mut reader = Reader::from_reader(Ascii::new(input));
    let config = reader.config_mut();
    // a wrong end tag spoils one point, not all behind it
    config.check_end_names = false;
    config.allow_unmatched_ends = true;
    config.allow_dangling_amp = true;
    let mut markup = Vec::new();
    let result = loop {
        markup.clear();
        reader.get_mut().allow(MARKUP_BYTES_MAX);
        let (line, byte) = (reader.get_ref().line(), reader.buffer_position());
        match reader.read_event_into(&mut markup) {
            Ok(Event::Start(tag)) => points.start(&tag, (line, byte)),
            Ok(Event::Empty(tag)) => {
                points.start(&tag, (line, byte));
                points.end(tag.local_name().into_inner());
            }
            Ok(Event::End(tag)) => points.end(tag.local_name().into_inner()),
            Ok(Event::Text(text)) => points.text(&text),
            Ok(Event::CData(text)) => points.text(&text),
            Ok(Event::GeneralRef(reference)) => points.reference(&reference),
            Ok(Event::DocType(_)) => points.has_document_type = true,
            Ok(Event::Eof) => {
                points.end_early();
                break Ok(());
            }
            Ok(_) => {}
            Err(Error::Io(error)) if !reader.get_ref().is_used_up() => {
                break Err(io::Error::new(error.kind(), error));
            }
            Err(_) => {
                let reason = if reader.get_ref().is_used_up() { "markup_too_long" } else { "xml_malformed" };
                let raw = String::from_utf8_lossy(&markup[..markup.len().min(1000)]);
                points.break_off(reason, Place { line, byte, raw: &raw });
                break Ok(());
            }
        }
    };
    points.report(boat);
    result
}
