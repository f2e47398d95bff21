//! What do bite notes say?

use std::io::{BufRead, Result};

use crate::boat::BoatFile;
use crate::notes::{Reader, Survey};
use crate::observation::{BiteNote, NoteTime, Outcome};
use crate::source::{Sink, SourceReport};
use crate::table::account::Account;
use crate::table::fields::Fields;
use crate::table::layout::Layout;
use crate::table::rows::{self, Row};
use crate::table::vocabulary::Note;

/// Words for what became of a bite: common practice, no source.
const OUTCOMES: [(Outcome, &[&str]); 3] = [
    (
        Outcome::Landed,
        &[
            "landed",
            "kept",
            "keeper",
            "keep",
            "caught",
            "boated",
            "boxed",
            "in the box",
            "harvested",
            "netted",
        ],
    ),
    (
        Outcome::Released,
        &["released", "release", "let go", "returned", "put back", "c&r", "cr", "thrown back", "tagged"],
    ),
    (
        Outcome::Lost,
        &[
            "lost",
            "came off",
            "off",
            "dropped",
            "missed",
            "shook",
            "threw it",
            "threw hook",
            "broke off",
            "broken off",
            "bit off",
            "pulled",
            "pulled hook",
            "long release",
            "miss",
        ],
    ),
];

/// Reads the notes from their start.
///
/// # Errors
/// What the input reports. The rows before the failure have been handed out.
pub(crate) fn read(
    input: &mut dyn BufRead,
    layout: &Layout,
    survey: &Survey,
    boat: &BoatFile,
    report: &mut SourceReport,
    sink: &mut dyn Sink,
) -> Result<()> {
    let file_name = report.file_name.clone();
    report.described = format!(
        "bite notes, columns parted by {}, headings in line {}",
        layout.delimiter_name(),
        layout.heading_line
    );
    let mut reader = Reader::new(layout, survey, boat, &file_name);
    let mut account = Account { report, sink };
    let mut n_bites = 0;
    rows::each(input, layout, |place, row| match row {
        Row::TooLong => account.set_aside("line_too_long", place),
        Row::NotText => account.set_aside("not_text", place),
        Row::Word => account.set_aside("no_time", place),
        Row::Above | Row::HeadingsAgain | Row::Comment => account.not_needed(),
        Row::Values(fields) => match reader.time(fields, Note::Time) {
            Err(reason) => account.set_aside(reason, place),
            Ok(time) => {
                account.used();
                if let NoteTime::Instant(time_us) = time {
                    account.seen_at(time_us);
                }
                n_bites += 1;
                let bite = bite(&mut reader, fields, time);
                account.sink.bite(BiteNote { file_name: file_name.clone(), line: place.line, ..bite });
            }
        },
    })?;
    account.report.contents.insert("bite".to_owned(), n_bites);
    reader.report(boat, account.report);
    Ok(())
}

fn bite(reader: &mut Reader, fields: Fields<'_>, time: NoteTime) -> BiteNote {
    let outcome = reader.text(fields, Note::Outcome).and_then(|word| {
        let outcome = outcome(&word);
        reader.counted(Note::Outcome, outcome)
    });
    BiteNote {
        time,
        species: reader.text(fields, Note::Species).map(|species| species.to_lowercase()),
        outcome,
        rod: reader.text(fields, Note::Rod),
        lure: reader.text(fields, Note::Lure),
        depth_m: reader.amount(fields, Note::Depth),
        line_out_m: reader.amount(fields, Note::LineOut),
        weight_kg: reader.amount(fields, Note::Weight),
        length_m: reader.amount(fields, Note::Length),
        at: reader.position(fields),
        note: reader.free_text(fields),
        ..BiteNote::default()
    }
}

fn outcome(word: &str) -> Option<Outcome> {
    let word = word.to_lowercase().replace(['_', '-'], " ");
    OUTCOMES.iter().find(|(_, words)| words.contains(&word.trim())).map(|(outcome, _)| *outcome)
}
