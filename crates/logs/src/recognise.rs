//! What kind of file is this, by its first bytes?

use crate::boat::BoatFile;
use crate::nmea;
use crate::probe::stamped;
use crate::source::Kind;
use crate::table::layout::Layout;
use crate::table::vocabulary::{Note, Sample, note, sample};

/// Bytes of a file that recognition sees.
pub(crate) const HEAD_BYTES: usize = 64 * 1024;

/// What a file holds.
#[derive(Debug)]
pub(crate) enum Content {
    /// NMEA 0183 sentences.
    Nmea,
    /// A probe log or another table of samples.
    Probe(Layout),
    /// Bite notes.
    Bites(Layout),
    /// A gear log.
    Gear(Layout),
    /// GPX.
    Gpx,
    /// Numbers behind a time, without headings.
    Stamped,
    /// Something that is not read.
    Other {
        /// Its kind, where that is one of ours.
        kind: Option<Kind>,
        /// What it looks like.
        described: String,
        /// What to do about it.
        remark: Option<String>,
    },
}

/// What a file holds that starts with `head`.
pub(crate) fn recognise(head: &[u8], boat: &BoatFile) -> Content {
    if head.is_empty() {
        return other("empty file");
    }
    if head.iter().all(|&byte| byte == 0) {
        return other(
            "nothing but zero bytes at its start, as a card leaves them that was pulled out while writing",
        );
    }
    if let Some(known) = by_first_bytes(head) {
        return known;
    }
    if nmea::looks_like(head) {
        return Content::Nmea;
    }
    if let Some(xml) = xml(head) {
        return xml;
    }
    if let Some(layout) = Layout::find(head, &boat.columns) {
        return table(layout);
    }
    if stamped::looks_like(head) {
        return Content::Stamped;
    }
    if !is_text(head) {
        return other("binary data of no known kind");
    }
    let described = "text that is no known log";
    match Layout::unknown_headings(head) {
        Some(layout) => advice(None, described, &unknown_headings(&layout)),
        None => other(described),
    }
}

fn unknown_headings(layout: &Layout) -> String {
    format!(
        "It is a table, but none of its headings is known: {}. If it is a log, say in the boat file what its columns \
         hold, like [columns] \"{}\" = \"time\", and read it again.",
        layout.heading_list(),
        layout.headings.first().map_or("", |heading| heading.text.as_str()),
    )
}

fn other(described: &str) -> Content {
    Content::Other { kind: None, described: described.to_owned(), remark: None }
}

fn advice(kind: Option<Kind>, described: &str, remark: &str) -> Content {
    Content::Other { kind, described: described.to_owned(), remark: Some(remark.to_owned()) }
}

/// Kinds with a signature (from memory, checked against the `file` utility's names).
const SIGNATURES: [(&[u8], &str); 12] = [
    (b"\xFF\xD8\xFF", "JPEG image"),
    (b"\x89PNG\r\n\x1A\n", "PNG image"),
    (b"GIF8", "GIF image"),
    (b"II*\0", "TIFF image"),
    (b"MM\0*", "TIFF image"),
    (b"%PDF-", "PDF document"),
    (b"RIFF", "sound, image or video (RIFF)"),
    (b"7z\xBC\xAF\x27\x1C", "7z archive"),
    (b"SQLite format 3\0", "SQLite database"),
    (b"PAR1", "Parquet table"),
    (b"\x7FELF", "program"),
    (b"\xD0\xCF\x11\xE0", "document of an old office program"),
];

fn by_first_bytes(head: &[u8]) -> Option<Content> {
    let packed_twice = "An archive in an archive is not read: unpack it and give what is in it.";
    if head.starts_with(b"\x1F\x8B") {
        return Some(advice(None, "gzip in an archive: not read", packed_twice));
    }
    if head.starts_with(b"PK\x03\x04") {
        return Some(advice(None, "zip in an archive, or a spreadsheet: not read", packed_twice));
    }
    // POSIX.1-1988, ustar: the magic behind 257 bytes of header, which are padded with zeros, as no text is
    if head.get(257..262) == Some(b"ustar") && head[..257].contains(&0) {
        return Some(advice(None, "tar archive: not read", "Unpack it and give what is in it."));
    }
    if head.get(4..8) == Some(b"ftyp") {
        return Some(other("video or image (ISO media)"));
    }
    SIGNATURES.iter().find(|(signature, _)| head.starts_with(signature)).map(|(_, name)| other(name))
}

fn xml(head: &[u8]) -> Option<Content> {
    let start = head.strip_prefix(b"\xEF\xBB\xBF").unwrap_or(head).trim_ascii_start();
    if !start.starts_with(b"<") {
        return None;
    }
    // a copy that lost its first lines still has its points
    let has = |word: &[u8]| start.windows(word.len()).any(|window| window.eq_ignore_ascii_case(word));
    let is_gpx = [&b"<gpx"[..], b"<trkpt", b"<wpt"].into_iter().any(has);
    Some(if is_gpx { Content::Gpx } else { other("XML or HTML that is no known log") })
}

/// Words that a survey's table of catches has; two of them make it one.
const SURVEY_WORDS: [&str; 7] = ["catch", "cpue", "haul", "station", "stratum", "tow", "trawl"];

fn table(layout: Layout) -> Content {
    let notes: Vec<Note> = layout.headings.iter().filter_map(note).collect();
    let samples: Vec<Sample> = layout.headings.iter().filter_map(sample).collect();
    let has = |note: Note| notes.contains(&note);
    let count = |of: &[Note]| of.iter().filter(|note| has(**note)).count();
    let has_temp = [Sample::Temp, Sample::SurfaceTemp, Sample::Pressure].iter().any(|s| samples.contains(s));
    let survey =
        SURVEY_WORDS.iter().filter(|word| layout.headings.iter().any(|heading| heading.has(&[word]))).count();
    if survey >= 2 {
        let described = "table of catches by haul, as a survey makes it: no log of this boat";
        return advice(None, described, "It was not used: its rows are neither a track nor bites.");
    }
    let about_fish = count(&[Note::Species, Note::Outcome, Note::Length]);
    let about_spells = count(&[Note::TimeIn, Note::TimeOut, Note::Event]);
    let about_gear = about_spells + count(&[Note::Method, Note::Colors, Note::Leader]);
    let about_both = count(&[Note::Rod, Note::Lure, Note::LineOut, Note::Weight, Note::Text]);
    let has_time = count(&[Note::Time, Note::Date, Note::TimeIn, Note::TimeOut]) > 0;
    let is_gear = about_gear > about_fish || (about_gear > 0 && about_spells > 0 && about_gear == about_fish);
    if has_time && !has_temp && is_gear && about_gear + about_both >= 2 {
        return Content::Gear(layout);
    }
    // a note may carry the temperature, and a log of samples one column of remarks
    let is_bites = about_fish > 0 || about_both >= 2 || (about_both == 1 && !has_temp);
    if has_time && is_bites {
        return Content::Bites(layout);
    }
    let sampled = [Sample::Temp, Sample::SurfaceTemp, Sample::Depth, Sample::Pressure, Sample::WaterDepth];
    let position = samples.contains(&Sample::Lat) && samples.contains(&Sample::Lon);
    if position || sampled.iter().any(|s| samples.contains(s)) {
        return Content::Probe(layout);
    }
    let remark =
        "If it is one, say in the boat file what its columns are: [columns] \"its heading\" = \"temp_c\".";
    advice(None, &format!("table that is no known log (headings: {})", layout.heading_list()), remark)
}

/// Whether bytes look like text: hardly any control characters.
pub(crate) fn is_text(head: &[u8]) -> bool {
    // an escape character here and there is what a terminal's copy leaves
    let control =
        head.iter().filter(|b| b.is_ascii_control() && !b.is_ascii_whitespace() && **b != b'\x1b').count();
    100 * control < head.len()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Kind and description of what a file looks like.
    fn seen(head: &[u8]) -> String {
        match recognise(head, &BoatFile::default()) {
            Content::Nmea => "nmea".to_owned(),
            Content::Probe(_) => "probe".to_owned(),
            Content::Bites(_) => "bites".to_owned(),
            Content::Gear(_) => "gear".to_owned(),
            Content::Stamped => "stamped".to_owned(),
            Content::Gpx => "gpx".to_owned(),
            Content::Other { described, .. } => described,
        }
    }

    #[test]
    fn logs_by_their_content() {
        for (head, want) in [
            ("$YXMTW,17.1,C*15\r\n", "nmea"),
            ("time,depth,temp\n2026-06-14 05:12,40,50\n", "probe"),
            ("time,temp,sog,lat,lon,note\n2026-06-14 05:12,50,2,46.2,-29.4,x\n", "probe"),
            ("time,species\n7:42,coho\n", "bites"),
            ("time,species,depth,temp\n7:42,coho,40,50\n", "bites"),
            ("Time (GMT-2),species\n7:42,coho\n", "bites"),
            ("time,rod,note\n7:42,2,coho\n", "bites"),
            ("time_in,time_out,rod,lure\n5:10,7:00,1,x\n", "gear"),
            ("time,event,rod\n5:10,out,1\n", "gear"),
            ("<?xml version=\"1.0\"?>\n<gpx version=\"1.1\">", "gpx"),
            ("<trkpt lat=\"46.2\" lon=\"-29.4\">", "gpx"),
            ("time,rod,method,line_out\n5:10,1,diver,90\n", "gear"),
            ("2026-06-14T05:12:03Z 9.1\n2026-06-14T05:12:04Z 9.2\n", "stamped"),
            ("1781413923,9.1,31.5\n1781413924,9.2,31.4\n", "stamped"),
        ] {
            assert_eq!(seen(head.as_bytes()), want, "{head}");
        }
    }

    #[test]
    fn a_word_at_the_place_of_a_magic_makes_no_archive() {
        // found by fuzzing
        let gpx = format!("<gpx>{}ustar</gpx>", " ".repeat(252));
        assert_eq!(&gpx[257..262], "ustar");
        assert_eq!(seen(gpx.as_bytes()), "gpx");
        let mut tar = vec![0; 512];
        tar[257..262].copy_from_slice(b"ustar");
        tar[0] = b'a';
        assert!(seen(&tar).starts_with("tar archive"));
    }

    #[test]
    fn what_is_no_log() {
        for (head, want) in [
            (&b""[..], "empty file"),
            (b"\xFF\xD8\xFF\xE0\0\x10JFIF", "JPEG image"),
            (b"\0\0\0\0\0\0", "nothing but zero bytes"),
            (b"\x1F\x8B\x08\0", "gzip in an archive"),
            (b"PK\x03\x04", "zip in an archive"),
            (b"<html>", "XML or HTML"),
            (b"Dear diary, we had a good time.\n", "text that is no known log"),
            (b"name,street\nA,B 1\n", "text that is no known log"),
            (b"year,haul,start_time,lat,lon,surface_temp_c,species,cpue_kg\n2017,2,2017-07-29 15:33,60,-176,12,sole,0\n",
             "table of catches by haul"),
            (b"\x01\x02\x03\x80\x90\xA0", "binary data of no known kind"),
        ] {
            assert!(seen(head).starts_with(want), "{want}: {}", seen(head));
        }
    }
}
