//! Where are the headings of a table, what parts its columns, and what stands before them?

use std::collections::BTreeMap;

use waterseam_units::convert::Unit;

use super::fields::{Fields, Splitter, decode};
use super::heading::Heading;
use super::moment::moment;
use super::number::{Commas, number};
use super::vocabulary::{IGNORE, note, sample};
use crate::lines::Lines;
use crate::source::ColumnReport;

/// Delimiters that are looked for, in the order of preference where they do equally well.
const DELIMITERS: [u8; 4] = [b'\t', b';', b'|', b','];
/// Lines in which the headings are looked for.
const LINES_MAX: usize = 400;
/// Rows behind a line that must look like data before the line is taken for the headings.
const ROWS_LOOKED_AT: usize = 20;
/// Rows that make a table of a text without a known word.
const ROWS_IN_SHAPE: usize = 3;
/// Longest heading, characters; longer ones are prose.
const HEADING_CHARACTERS_MAX: usize = 80;

/// Layout of a table.
#[derive(Clone, Debug)]
pub(crate) struct Layout {
    /// What parts the columns.
    pub delimiter: u8,
    /// Line of the headings, from 1.
    pub heading_line: u64,
    /// Line of the units behind them, where there is one.
    pub units_line: Option<u64>,
    /// The headings.
    pub headings: Vec<Heading>,
    /// What stands before them: key and value of each line that has both.
    pub preamble: Vec<(Heading, String)>,
}

impl Layout {
    /// The layout of a table that starts with `head`; `None` where no line of it can be the headings.
    ///
    /// The headings are the line with the most known words, of all lines and all delimiters, behind which rows
    /// with several fields stand. `columns` are the boat file's words for headings.
    pub fn find(head: &[u8], columns: &BTreeMap<String, String>) -> Option<Self> {
        let lines = lines(head);
        let meanings: BTreeMap<String, &str> =
            columns.iter().map(|(heading, meaning)| (heading.to_lowercase(), meaning.as_str())).collect();
        let mut best: Option<(usize, usize, Self)> = None;
        for delimiter in DELIMITERS {
            let mut splitter = Splitter::new(delimiter);
            for (at, (line, text)) in lines.iter().enumerate() {
                let Some(headings) = headings(splitter.split(without_comment_mark(text)), &meanings) else {
                    continue;
                };
                let known = headings.iter().filter(|h| sample(h).is_some() || note(h).is_some()).count();
                let better = best.as_ref().is_none_or(|best| (best.0, best.1) < (known, headings.len()));
                if !better || !rows_follow(&mut splitter, &lines[at + 1..], headings.len(), known) {
                    continue;
                }
                let mut layout =
                    Self { delimiter, heading_line: *line, units_line: None, headings, preamble: Vec::new() };
                layout.preamble = preamble(&mut splitter, &lines[..at]);
                layout.take_units(&mut splitter, &lines[at + 1..]);
                best = Some((known, layout.headings.len(), layout));
            }
        }
        best.map(|(_, _, layout)| layout)
    }

    /// Headings of a text that is a table by its shape, although none of its words is known: a line of words with
    /// as many fields as each of the next rows, in which there are digits.
    pub fn unknown_headings(head: &[u8]) -> Option<Self> {
        let mut lines = lines(head);
        lines.retain(|(_, text)| !text.trim().is_empty());
        DELIMITERS.into_iter().find_map(|delimiter| {
            let mut splitter = Splitter::new(delimiter);
            let (at, headings) = lines.iter().enumerate().find_map(|(at, (_, text))| {
                Some((at, headings(splitter.split(without_comment_mark(text)), &BTreeMap::new())?))
            })?;
            let rows = lines.get(at + 1..at + 1 + ROWS_IN_SHAPE)?;
            let in_shape = rows.iter().all(|(_, text)| {
                splitter.split(text).len() == headings.len() && text.bytes().any(|b| b.is_ascii_digit())
            });
            let named = headings.iter().all(|heading| !heading.text.is_empty());
            (in_shape && named).then_some(Self {
                delimiter,
                heading_line: lines[at].0,
                units_line: None,
                headings,
                preamble: Vec::new(),
            })
        })
    }

    /// The columns, for [`SourceReport::columns`](crate::SourceReport::columns), each with what `meaning` says it holds
    /// and in which unit.
    pub fn columns(
        &self,
        meaning: impl Fn(&Heading) -> Option<(&'static str, Option<Unit>)>,
    ) -> Vec<ColumnReport> {
        let column = |heading: &Heading| {
            let (meaning, unit) = meaning(heading).unzip();
            ColumnReport { heading: heading.text.clone(), meaning, unit: unit.flatten().map(Unit::symbol) }
        };
        self.headings.iter().map(column).collect()
    }

    /// Name of the delimiter.
    pub fn delimiter_name(&self) -> &'static str {
        match self.delimiter {
            b'\t' => "tabs",
            b';' => "semicolons",
            b'|' => "bars",
            _ => "commas",
        }
    }

    /// The headings as they stand in the file, for messages; of many, the first.
    pub fn heading_list(&self) -> String {
        const SHOWN: usize = 12;
        let names: Vec<_> = self.headings.iter().take(SHOWN).map(|heading| heading.text.as_str()).collect();
        names.join(", ") + if self.headings.len() > SHOWN { ", …" } else { "" }
    }

    /// Takes a row of units behind the headings for what it is.
    fn take_units(&mut self, splitter: &mut Splitter, behind: &[(u64, String)]) {
        let Some((line, text)) = behind.iter().find(|(_, text)| !text.trim().is_empty()) else { return };
        let fields = splitter.split(without_comment_mark(text));
        let units: Vec<Option<Unit>> = fields.iter().map(Unit::from_word).collect();
        let digits = text.bytes().any(|b| b.is_ascii_digit());
        if fields.len() < 2 || digits || units.iter().all(Option::is_none) {
            return;
        }
        for (heading, unit) in self.headings.iter_mut().zip(units) {
            heading.unit = heading.unit.or(unit);
        }
        self.units_line = Some(*line);
    }
}

/// The lines of the head with their numbers, those with more than blanks and those without.
fn lines(mut head: &[u8]) -> Vec<(u64, String)> {
    let mut reader = Lines::new(&mut head);
    let mut lines = Vec::new();
    // a slice cannot fail to be read
    while let Ok(Some(piece)) = reader.next() {
        if piece.goes_on || piece.continued || lines.len() == LINES_MAX {
            break;
        }
        let bytes = piece.bytes.strip_prefix(b"\xEF\xBB\xBF").unwrap_or(piece.bytes);
        lines.push((piece.line, decode(bytes).into_owned()));
    }
    lines
}

/// A line without the `#` or `%` that makes it a comment elsewhere.
pub(crate) fn without_comment_mark(line: &str) -> &str {
    let line = line.trim_end();
    let bare = line.trim_start().trim_start_matches(['%', '#']);
    if bare.len() < line.trim_start().len() { bare.trim_start() } else { line }
}

/// The fields of a line as headings, `None` where one of them cannot be a heading.
fn headings(fields: Fields<'_>, meanings: &BTreeMap<String, &str>) -> Option<Vec<Heading>> {
    if fields.len() < 2 {
        return None;
    }
    let heading = |text: &str| {
        if let Some(meaning) = meanings.get(&text.to_lowercase()) {
            return Some(Heading::new(text, if *meaning == IGNORE { "" } else { meaning }));
        }
        let value = number(text, Commas::Thousands).is_some() || moment(text).is_some();
        let prose = text.chars().count() > HEADING_CHARACTERS_MAX;
        (!value && !prose).then(|| Heading::new(text, text))
    };
    fields.iter().map(heading).collect()
}

/// Whether the lines behind the headings look like rows: a third at least has several fields and a digit in them.
/// Where no line follows, two known words must do.
fn rows_follow(splitter: &mut Splitter, behind: &[(u64, String)], n_headings: usize, n_known: usize) -> bool {
    let (mut rows, mut good) = (0, 0);
    for (_, text) in behind.iter().filter(|(_, text)| !text.trim().is_empty()).take(ROWS_LOOKED_AT) {
        let n_fields = splitter.split(text).len();
        rows += 1;
        good +=
            usize::from((2..=n_headings + 1).contains(&n_fields) && text.bytes().any(|b| b.is_ascii_digit()));
    }
    if rows == 0 { n_known > 1 } else { n_known > 0 && good > 0 && 3 * good >= rows }
}

/// Keys and values of the lines before the headings: parted by the delimiter, else by a colon or an equals sign.
fn preamble(splitter: &mut Splitter, lines: &[(u64, String)]) -> Vec<(Heading, String)> {
    let mut entries = Vec::new();
    for (_, text) in lines {
        let text = without_comment_mark(text);
        let fields = splitter.split(text);
        let pair = if fields.len() > 1 {
            Some((fields.get(0), fields.iter().skip(1).collect::<Vec<_>>().join(" ")))
        } else {
            text.split_once([':', '=']).map(|(key, value)| (key, value.trim().to_owned()))
        };
        if let Some((key, value)) = pair.filter(|(key, value)| !key.is_empty() && !value.is_empty()) {
            entries.push((Heading::new(key, key), value));
        }
    }
    entries
}

#[cfg(test)]
mod tests {
    use super::*;

    fn find(text: &str) -> Option<Layout> {
        Layout::find(text.as_bytes(), &BTreeMap::new())
    }

    #[test]
    fn headings_behind_a_preamble() {
        let text = "Unit,5101\nMax Lifetime Depth (dBar),220.9\nDownload Time,24/06/2021 04:11:06\n\
                    DateTime (UTC),Lat,Lon,Depth (dBar),Temperature C\n20210624T040108,-35.1,+174.3,1.2,17.559\n";
        let layout = find(text).unwrap();
        assert_eq!((layout.delimiter, layout.heading_line), (b',', 4));
        assert_eq!(layout.preamble[2].1, "24/06/2021 04:11:06");
    }

    #[test]
    fn semicolons_with_decimal_commas() {
        let layout = find("Date;Time;Depth m;Temp °C\n14.06.2026;05:12;12,5;8,25\n").unwrap();
        assert_eq!((layout.delimiter, layout.headings.len()), (b';', 4));
    }

    #[test]
    fn a_row_of_units() {
        let layout =
            find("time,depth,temperature\n(UTC),(ft),(degF)\n2026-06-14T05:12:03,12,52.1\n").unwrap();
        assert_eq!(layout.units_line, Some(2));
        assert_eq!(layout.headings[1].unit, Some(Unit::Foot));
        assert_eq!(layout.headings[2].unit, Some(Unit::Fahrenheit));
    }

    #[test]
    fn words_of_the_boat_file() {
        let columns = [("Wasser °C", "temp_c"), ("zeit", "time"), ("Tiefe", "depth_m")]
            .map(|(heading, meaning)| (heading.to_owned(), meaning.to_owned()));
        let text = "Zeit\tTiefe\tWasser °C\n2026-06-14 05:12\t12,5\t8,2\n";
        assert!(find(text).is_none());
        let layout = Layout::find(text.as_bytes(), &columns.into()).unwrap();
        assert_eq!(layout.delimiter, b'\t');
        assert!(layout.headings.iter().all(|heading| sample(heading).is_some()));
    }

    #[test]
    fn a_table_by_its_shape_alone() {
        let rows = "14.06.2026;12:00;1,5\n14.06.2026;12:01;2,5\n14.06.2026;12:02;3,5\n";
        let layout = Layout::unknown_headings(format!("Datum;Uhrzeit;Tiefe\n{rows}").as_bytes()).unwrap();
        assert_eq!((layout.delimiter, layout.heading_list().as_str()), (b';', "Datum, Uhrzeit, Tiefe"));
        for other in [rows, "Dear diary,\non 14 June, at noon,\nwe went 3 miles, then 4\nand 5, home\n", ""] {
            assert!(Layout::unknown_headings(other.as_bytes()).is_none(), "{other}");
        }
    }

    #[test]
    fn bars_part_columns_too() {
        let layout = find("time|depth_m|temp_c\n2026-06-14T05:12:03Z|12|8.2\n").unwrap();
        assert_eq!((layout.delimiter, layout.headings.len()), (b'|', 3));
    }

    #[test]
    fn prose_and_bare_numbers_have_no_headings() {
        assert!(
            find("We had a good time, the depth was right.\nThen we went home.\nNothing else.\n").is_none()
        );
        assert!(find("1,2,3\n4,5,6\n").is_none());
        assert!(find("").is_none());
    }
}
