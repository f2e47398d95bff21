//! Which rows does a table have, and which of its lines are something else?

use std::collections::VecDeque;
use std::io::{BufRead, Result};

use super::account::Place;
use super::fields::{Fields, Splitter, decode};
use super::layout::{Layout, without_comment_mark};
use super::moment::moment;
use crate::lines::Lines;

/// Lines that a quoted field may go on over.
const QUOTED_LINES_MAX: usize = 10;

/// A line of a table that is not blank.
pub(crate) enum Row<'a> {
    /// The headings, a row of units, or a line before them.
    Above,
    /// The headings once more, as loggers write them that append.
    HeadingsAgain,
    /// A comment among the rows.
    Comment,
    /// A word alone, like `END`.
    Word,
    /// A line beyond what is read whole.
    TooLong,
    /// Bytes without any text.
    NotText,
    /// A row.
    Values(Fields<'a>),
}

#[derive(Debug)]
struct Line {
    number: u64,
    byte: u64,
    text: String,
    too_long: bool,
    /// It was already looked at whether the next lines close its quote.
    single: bool,
}

/// Calls `each` for every line that is not blank, in the order of the file.
///
/// # Errors
/// What the input reports. The rows before the failure have been handed out.
pub(crate) fn each(
    input: &mut dyn BufRead,
    layout: &Layout,
    mut each: impl FnMut(Place<'_>, Row<'_>),
) -> Result<()> {
    let mut lines = Ahead { lines: Lines::new(input), waiting: VecDeque::new() };
    let mut splitter = Splitter::new(layout.delimiter);
    while let Some(mut line) = lines.next()? {
        if line.text.trim().is_empty() {
            continue;
        }
        let above = line.number <= layout.units_line.unwrap_or(layout.heading_line);
        let may_go_on = !above && !line.too_long && !line.single && line.text.contains('"');
        if may_go_on && splitter.split(&line.text).open_quote {
            lines.join(&mut line, layout, &mut splitter)?;
        }
        let place = Place { line: line.number, byte: line.byte, raw: &line.text };
        let row = if line.too_long {
            Row::TooLong
        } else if above {
            Row::Above
        } else {
            row(&line.text, layout, &mut splitter)
        };
        each(place, row);
    }
    Ok(())
}

fn row<'a>(text: &'a str, layout: &Layout, splitter: &'a mut Splitter) -> Row<'a> {
    if text.chars().all(|c| c.is_control() || c.is_whitespace()) {
        return Row::NotText;
    }
    let bare = without_comment_mark(text);
    let fields = splitter.split(bare);
    let again = || {
        fields.len() == layout.headings.len()
            && fields.iter().zip(&layout.headings).all(|(field, heading)| field == heading.text)
    };
    let filled = fields.iter().filter(|field| !field.is_empty()).count();
    let word = || filled <= 1 && !bare.bytes().any(|b| b.is_ascii_digit());
    if again() {
        Row::HeadingsAgain
    } else if bare.len() < text.trim_end().len() {
        Row::Comment
    } else if word() {
        Row::Word
    } else {
        Row::Values(fields)
    }
}

/// Lines, of which some may have been read ahead.
struct Ahead<'i> {
    lines: Lines<'i>,
    waiting: VecDeque<Line>,
}

impl Ahead<'_> {
    fn next(&mut self) -> Result<Option<Line>> {
        match self.waiting.pop_front() {
            Some(line) => Ok(Some(line)),
            None => self.read(),
        }
    }

    fn read(&mut self) -> Result<Option<Line>> {
        while let Some(piece) = self.lines.next()? {
            if piece.continued {
                continue;
            }
            let bytes = match piece.byte {
                0 => piece.bytes.strip_prefix(b"\xEF\xBB\xBF").unwrap_or(piece.bytes),
                _ => piece.bytes,
            };
            return Ok(Some(Line {
                number: piece.line,
                byte: piece.byte,
                text: decode(bytes).into_owned(),
                too_long: piece.goes_on,
                single: false,
            }));
        }
        Ok(None)
    }

    /// Joins a line that ends inside a quoted field with the next ones, if they close it and the row then has as
    /// many fields as there are headings. Otherwise a stray quote would swallow good rows.
    fn join(&mut self, first: &mut Line, layout: &Layout, splitter: &mut Splitter) -> Result<()> {
        let mut joined = first.text.clone();
        for at in 0..QUOTED_LINES_MAX {
            if self.waiting.len() == at {
                let Some(line) = self.read()? else { break };
                self.waiting.push_back(line);
            }
            let next = &self.waiting[at];
            if next.too_long {
                break;
            }
            let closing = closing_quote(&next.text, layout.delimiter);
            if closing == Some(false) || starts_a_row(splitter.split(&next.text)) {
                break;
            }
            joined.push('\n');
            joined.push_str(&next.text);
            if closing == Some(true) {
                if splitter.split(&joined).len() == layout.headings.len() {
                    first.text = joined;
                    self.waiting.drain(..=at);
                }
                break;
            }
        }
        first.single = true;
        Ok(())
    }
}

/// Whether the first quote of a line that goes on inside a quoted field can end that field: only blanks, the
/// delimiter or nothing may follow it. `None`: there is no quote.
fn closing_quote(text: &str, delimiter: u8) -> Option<bool> {
    let mut bytes = text.bytes().peekable();
    while let Some(byte) = bytes.next() {
        if byte == b'"' && bytes.next_if_eq(&b'"').is_none() {
            return Some(bytes.peek().is_none_or(|&next| next == delimiter || next.is_ascii_whitespace()));
        }
    }
    None
}

/// Whether a line is a row of its own: its first field is a time.
fn starts_a_row(fields: Fields<'_>) -> bool {
    fields.len() > 1 && moment(fields.get(0)).is_some()
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeMap;

    use super::*;

    /// Line number and kind of every line of a table; of rows, the fields joined with `|`.
    fn rows(text: &str) -> Vec<(u64, String)> {
        let layout = Layout::find(text.as_bytes(), &BTreeMap::new()).unwrap();
        let mut all = Vec::new();
        let mut input = text.as_bytes();
        each(&mut input, &layout, |place, row| {
            let kind = match row {
                Row::Above => "above".to_owned(),
                Row::HeadingsAgain => "again".to_owned(),
                Row::Comment => "comment".to_owned(),
                Row::Word => "word".to_owned(),
                Row::TooLong => "too long".to_owned(),
                Row::NotText => "not text".to_owned(),
                Row::Values(fields) => fields.iter().collect::<Vec<_>>().join("|"),
            };
            all.push((place.line, kind));
        })
        .unwrap();
        all
    }

    #[test]
    fn lines_that_are_no_rows() {
        let text = "\u{feff}unit 12\ntime,depth_m,temp_c\n05:12,1,2\n\n# battery low\ntime,depth_m,temp_c\n\
                    05:13,2,3\n\0\0\0\nEND\n";
        let want = ["above", "above", "05:12|1|2", "comment", "again", "05:13|2|3", "not text", "word"];
        let got = rows(text);
        assert_eq!(got.iter().map(|(_, kind)| kind.as_str()).collect::<Vec<_>>(), want);
        assert_eq!(got[2].0, 3);
    }

    #[test]
    fn a_note_over_two_lines_is_one_row() {
        let text = "time,species,note\n05:12,coho,\"big one,\nnear the flag\"\n05:30,coho,x\n";
        assert_eq!(
            rows(text)[1..],
            [(2, "05:12|coho|big one,\nnear the flag".to_owned()), (4, "05:30|coho|x".to_owned())]
        );
    }

    #[test]
    fn a_stray_quote_swallows_no_row() {
        let text = "time,species,note\n05:12,coho,\"big one\n05:30,king,\"x\"\n05:40,king,y\n";
        let got = rows(text);
        assert_eq!(got.len(), 4);
        assert_eq!(got[2].1, "05:30|king|x");
    }

    #[test]
    fn an_endless_line_does_not_hide_the_next() {
        let text = format!("time,depth_m,temp_c\n05:12,1,2\n{}\n05:13,2,3\n", "9".repeat(3_000_000));
        let got = rows(&text);
        assert_eq!(got[2], (3, "too long".to_owned()));
        assert_eq!(got[3], (4, "05:13|2|3".to_owned()));
    }
}
