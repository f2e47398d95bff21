//! Which fields does a line of a delimited table have?

use std::borrow::Cow;

use csv_core::{ReadRecordResult, Reader, ReaderBuilder};
use memchr::{memchr, memchr_iter};

/// Splits lines at a delimiter, with quoted fields as in RFC 4180. Its buffers are used again for every line.
pub(crate) struct Splitter {
    /// For lines with quotes, which few tables have.
    reader: Option<Box<Reader>>,
    delimiter: u8,
    text: Vec<u8>,
    ends: Vec<usize>,
}

/// Fields of one line.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Fields<'a> {
    text: &'a str,
    ends: &'a [usize],
    /// Bytes between a field and the next.
    gap: usize,
    /// The line ended inside a quoted field.
    pub open_quote: bool,
}

impl Splitter {
    /// A splitter at `delimiter`.
    pub fn new(delimiter: u8) -> Self {
        Self { reader: None, delimiter, text: vec![0; 256], ends: vec![0; 32] }
    }

    /// The fields of a line without its end. A quote that is never closed is closed at the end of the line.
    pub fn split<'a>(&'a mut self, line: &'a str) -> Fields<'a> {
        let plain = line.strip_prefix('\u{feff}').unwrap_or(line);
        if memchr(b'"', plain.as_bytes()).is_some() || plain.is_empty() {
            return self.split_quoted(line);
        }
        self.ends.clear();
        self.ends.extend(memchr_iter(self.delimiter, plain.as_bytes()));
        self.ends.push(plain.len());
        Fields { text: plain, ends: &self.ends, gap: 1, open_quote: false }
    }

    fn split_quoted(&mut self, line: &str) -> Fields<'_> {
        let build = || Box::new(ReaderBuilder::new().delimiter(self.delimiter).build());
        let reader = self.reader.get_or_insert_with(build);
        reader.reset();
        self.ends.resize(self.ends.capacity(), 0);
        let (mut n_text, mut n_ends, mut open_quote) = (0, 0, false);
        let mut input = line.as_bytes();
        let mut ending: &[u8] = b"\n";
        loop {
            let (result, n_in, n_out, n_fields) =
                reader.read_record(input, &mut self.text[n_text..], &mut self.ends[n_ends..]);
            input = &input[n_in..];
            n_text += n_out;
            n_ends += n_fields;
            match result {
                ReadRecordResult::Record | ReadRecordResult::End => break,
                ReadRecordResult::OutputFull => self.text.resize(2 * self.text.len(), 0),
                ReadRecordResult::OutputEndsFull => self.ends.resize(2 * self.ends.len(), 0),
                ReadRecordResult::InputEmpty if input.is_empty() => {
                    // the line end; where that does not end the record, the end of the input does
                    open_quote |= ending.is_empty();
                    input = std::mem::take(&mut ending);
                }
                ReadRecordResult::InputEmpty => {}
            }
        }
        // quotes and delimiters that were taken out leave whole letters
        let text = std::str::from_utf8(&self.text[..n_text]).unwrap_or_default();
        Fields { text, ends: &self.ends[..n_ends], gap: 0, open_quote }
    }
}

impl<'a> Fields<'a> {
    /// Number of fields.
    pub fn len(&self) -> usize {
        self.ends.len()
    }

    /// A field without the blanks around it, empty where the line has no such field.
    pub fn get(&self, at: usize) -> &'a str {
        let Some(&end) = self.ends.get(at) else { return "" };
        let start = if at == 0 { 0 } else { self.ends[at - 1] + self.gap };
        self.text.get(start..end).unwrap_or_default().trim()
    }

    /// The fields in their order.
    pub fn iter(self) -> impl Iterator<Item = &'a str> {
        (0..self.len()).map(move |at| self.get(at))
    }
}

/// The text of a line: UTF-8, else each byte as the character of the same number (ISO 8859-1).
pub(crate) fn decode(line: &[u8]) -> Cow<'_, str> {
    match std::str::from_utf8(line) {
        Ok(text) => Cow::Borrowed(text),
        Err(_) => Cow::Owned(line.iter().map(|&byte| char::from(byte)).collect()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn split(line: &str) -> (Vec<String>, bool) {
        let mut splitter = Splitter::new(b',');
        let fields = splitter.split(line);
        (fields.iter().map(str::to_owned).collect(), fields.open_quote)
    }

    #[test]
    fn quotes_and_inch_signs() {
        assert_eq!(
            split(r#"a, "b,c" ,24""#).0,
            ["a", "\"b", "c\"", "24\""],
            "a quote after a blank is a letter"
        );
        assert_eq!(split(r#"a,"b ""x"", c",d"#).0, ["a", "b \"x\", c", "d"]);
        assert_eq!(
            split(r#"a,"never closed, b"#),
            (vec!["a".to_owned(), "never closed, b".to_owned()], true)
        );
        assert_eq!(split("a,,").0, ["a", "", ""]);
        assert!(!split("a,b").1);
    }

    #[test]
    fn bytes_that_are_no_utf8() {
        assert_eq!(decode(b"Wasser \xB0C"), "Wasser °C");
    }

    proptest! {
        #[test]
        fn a_line_without_quotes_is_split_alike_in_both_ways(line in "\u{feff}{0,2}[^\"\r\n]{0,30}|[a,;. 1é]{0,20}") {
            let (mut plain, mut quoted) = (Splitter::new(b','), Splitter::new(b','));
            let all = |fields: Fields| fields.iter().map(str::to_owned).collect::<Vec<_>>();
            prop_assert_eq!(all(plain.split(&line)), all(quoted.split_quoted(&line)));
        }

        #[test]
        fn agrees_with_the_csv_writer(fields in proptest::collection::vec("[^\r\n\u{feff}]{0,20}", 2..40)) {
            let mut writer = csv::Writer::from_writer(Vec::new());
            writer.write_record(&fields).unwrap();
            let text = String::from_utf8(writer.into_inner().unwrap()).unwrap();
            let (got, open) = split(text.trim_end_matches('\n'));
            let want: Vec<_> = fields.iter().map(|field| field.trim().to_owned()).collect();
            prop_assert_eq!(got, want);
            prop_assert!(!open);
        }

        #[test]
        fn no_line_makes_it_panic(line in ".{0,80}") {
            let _ = split(&line);
        }
    }
}
