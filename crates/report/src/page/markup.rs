//! How does text get into a page without becoming markup?
//!
//! Markup stands in the source of the program; whatever a value is, it is escaped on its way in. A note that holds
//! `<script>` is then a note that is read as `<script>`.

use std::fmt::{self, Display, Write};

/// A page, or a part of one.
#[derive(Debug, Default)]
pub(crate) struct Markup(String);

impl Markup {
    /// Markup as it stands in the source.
    pub(crate) fn raw(&mut self, markup: &'static str) {
        self.0.push_str(markup);
    }

    /// Text, whatever is in it.
    pub(crate) fn text(&mut self, text: &str) {
        self.formatted(format_args!("{}", Escaped(&text)));
    }

    /// Another part.
    pub(crate) fn put(&mut self, part: &Self) {
        self.0.push_str(&part.0);
    }

    /// Values for the script of the page. JSON may hold no `<` there, lest it end the element that it stands in.
    pub(crate) fn json(&mut self, value: &serde_json::Value) {
        self.0.push_str(&value.to_string().replace('<', "\\u003c"));
    }

    /// For the macro `put!` alone, which escapes every value.
    pub(crate) fn formatted(&mut self, markup: fmt::Arguments) {
        let _ = self.0.write_fmt(markup);
    }

    /// The whole.
    pub(crate) fn into_string(self) -> String {
        self.0
    }

    #[cfg(test)]
    pub(crate) fn as_str(&self) -> &str {
        &self.0
    }
}

/// Writes markup with values in it: `put!(page, "<p>{}</p>", name)`. Every value is escaped. A value is always an
/// argument and never a name inside the braces, which would pass by unescaped; a test looks for such names.
macro_rules! put {
    ($page:expr, $markup:literal $(, $value:expr)* $(,)?) => {
        $page.formatted(format_args!($markup $(, $crate::page::markup::Escaped(&$value))*))
    };
}
pub(crate) use put;

/// A value as text: what HTML and XML read as markup is written as a reference, and what a page cannot hold (control
/// characters) or what turns a line around (Unicode UAX #9) as a replacement character.
pub(crate) struct Escaped<'a, T>(pub &'a T);

impl<T: Display> Display for Escaped<'_, T> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(Escape(f), "{}", self.0)
    }
}

struct Escape<'a, 'f>(&'a mut fmt::Formatter<'f>);

impl Write for Escape<'_, '_> {
    fn write_str(&mut self, text: &str) -> fmt::Result {
        // most of a page is the coordinates of its drawings: a look at all bytes without a way out in between goes many at a time
        if text.bytes().fold(true, |plain, byte| plain & is_plain(byte)) {
            return self.0.write_str(text);
        }
        for letter in text.chars() {
            match letter {
                '&' => self.0.write_str("&amp;")?,
                '<' => self.0.write_str("&lt;")?,
                '>' => self.0.write_str("&gt;")?,
                '"' => self.0.write_str("&quot;")?,
                '\'' => self.0.write_str("&#39;")?,
                '\n' | '\t' => self.0.write_char(' ')?,
                _ if letter.is_control() || turns_a_line_around(letter) => self.0.write_char('\u{fffd}')?,
                _ => self.0.write_char(letter)?,
            }
        }
        Ok(())
    }
}

/// Whether a byte stands for itself on any page, whatever is beside it.
fn is_plain(byte: u8) -> bool {
    matches!(byte, b' '..=b'~') && !matches!(byte, b'&' | b'<' | b'>' | b'"' | b'\'')
}

fn turns_a_line_around(letter: char) -> bool {
    matches!(letter, '\u{200e}' | '\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
}

/// A coordinate of a drawing: tenths, and no digits that say nothing.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Px(pub f64);

impl Display for Px {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let mut digits = String::new();
        self.push_to(&mut digits);
        f.write_str(&digits)
    }
}

impl Px {
    /// Adds it to a text, without the machinery of formats: a page has some hundred thousand of them.
    fn push_to(self, out: &mut String) {
        let tenths = self.0 * 10.0;
        let tenths = (tenths + 0.5_f64.copysign(tenths)) as i64;
        let mut rest = tenths.unsigned_abs();
        if tenths < 0 {
            out.push('-');
        }
        // digits from the last to the first: no whole number has more than twenty
        let mut digits = [0_u8; 24];
        let mut at = digits.len();
        if !rest.is_multiple_of(10) {
            at -= 2;
            digits[at] = b'.';
            digits[at + 1] = b'0' + (rest % 10) as u8;
        }
        rest /= 10;
        loop {
            at -= 1;
            digits[at] = b'0' + (rest % 10) as u8;
            rest /= 10;
            if rest == 0 {
                break;
            }
        }
        out.push_str(std::str::from_utf8(&digits[at..]).unwrap_or_default());
    }
}

/// The `d` of a path through points.
pub(crate) fn path(points: impl IntoIterator<Item = (f64, f64)>) -> String {
    let mut d = String::new();
    push_path(&mut d, points);
    d
}

/// Adds a path through points to others.
pub(crate) fn push_path(d: &mut String, points: impl IntoIterator<Item = (f64, f64)>) {
    let mut command = 'M';
    for (x, y) in points {
        d.push(command);
        Px(x).push_to(d);
        d.push(' ');
        Px(y).push_to(d);
        command = 'L';
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn text_stays_text() {
        let mut page = Markup::default();
        put!(page, "<p title=\"{}\">", "a\"b'c");
        page.text("<script>alert(1)</script> & a\u{202e}b\u{1b}");
        page.raw("</p>");
        assert_eq!(
            page.as_str(),
            "<p title=\"a&quot;b&#39;c\">&lt;script&gt;alert(1)&lt;/script&gt; &amp; a\u{fffd}b\u{fffd}</p>"
        );
    }

    #[test]
    fn json_cannot_end_the_element_that_it_stands_in() {
        let mut page = Markup::default();
        page.json(&serde_json::json!({ "note": "</script><b>" }));
        assert!(!page.as_str().contains('<'));
        let back: serde_json::Value = serde_json::from_str(page.as_str()).unwrap();
        assert_eq!(back["note"], "</script><b>");
    }

    #[test]
    fn coordinates_carry_no_noise() {
        assert_eq!(Px(0.1 + 0.2).to_string(), "0.3");
        assert_eq!(Px(-0.04).to_string(), "0");
        assert_eq!(Px(-12.25).to_string(), "-12.3");
        assert_eq!(path([(0.0, 1.0), (2.55, 3.0)]), "M0 1L2.6 3");
    }

    proptest! {
        #[test]
        fn whatever_the_text_no_markup_comes_of_it(text in ".{0,60}") {
            let mut page = Markup::default();
            page.text(&text);
            prop_assert!(!page.as_str().contains(['<', '>', '"', '\'']), "{}", page.as_str());
        }
    }
}
