//! What does a TOML table hold under a key, and on which line?

use std::ops::Range;

use toml::Spanned;
use toml::de::{DeTable, DeValue};
use waterseam_units::UnitSystem;

use super::error::{BoatFileError, Suggestion};
use crate::quantity::{Dimension, quantity};

/// The text of a boat file, to name places in it.
#[derive(Clone, Copy)]
pub(super) struct Source<'t> {
    pub file_name: &'t str,
    pub text: &'t str,
}

impl Source<'_> {
    /// Line of a byte, from 1.
    pub fn line(&self, byte: usize) -> usize {
        1 + self.text.bytes().take(byte).filter(|&b| b == b'\n').count()
    }
}

/// A table of the file, with the name under which messages speak of it.
pub(super) struct Section<'t> {
    source: Source<'t>,
    name: String,
    table: &'t DeTable<'t>,
}

impl<'t> Section<'t> {
    pub fn new(source: Source<'t>, name: &str, table: &'t DeTable<'t>) -> Self {
        Self { source, name: name.to_owned(), table }
    }

    /// Refuses keys that are not in the list.
    pub fn only(&self, known: &[&str]) -> Result<(), BoatFileError> {
        // in the order of the file, so that the first mistake is the one that is named
        let mut keys: Vec<_> = self.table.keys().collect();
        keys.sort_by_key(|key| key.span().start);
        match keys.into_iter().find(|key| !known.contains(&key.get_ref().as_ref())) {
            None => Ok(()),
            Some(key) => Err(BoatFileError::UnknownKey {
                file_name: self.source.file_name.to_owned(),
                line: self.source.line(key.span().start),
                key: self.key(key.get_ref()),
                nearest: Suggestion::new(key.get_ref(), known),
            }),
        }
    }

    pub fn get(&self, key: &str) -> Option<Entry<'t>> {
        self.table.get(key).map(|value| Entry { source: self.source, key: self.key(key), value })
    }

    /// Every key with its value, in the order of the file.
    pub fn entries(&self) -> Vec<(String, Entry<'t>)> {
        let mut entries: Vec<_> = self.table.iter().collect();
        entries.sort_by_key(|(key, _)| key.span().start);
        let entry = |(key, value): (&Spanned<_>, &'t _)| {
            let name: &std::borrow::Cow<'_, str> = key.get_ref();
            (name.to_string(), Entry { source: self.source, key: self.key(name), value })
        };
        entries.into_iter().map(entry).collect()
    }

    fn key(&self, key: &str) -> String {
        if self.name.is_empty() { key.to_owned() } else { format!("{}.{key}", self.name) }
    }
}

/// A value of the file with its key.
pub(super) struct Entry<'t> {
    source: Source<'t>,
    key: String,
    value: &'t Spanned<DeValue<'t>>,
}

impl<'t> Entry<'t> {
    /// The complaint that something else should stand here.
    pub fn wrong(&self, right: impl Into<String>) -> BoatFileError {
        let span: Range<usize> = self.value.span();
        let written = self.source.text.get(span.clone()).unwrap_or_default();
        let found = written.lines().next().unwrap_or_default().trim();
        BoatFileError::BadValue {
            file_name: self.source.file_name.to_owned(),
            line: self.source.line(span.start),
            key: self.key.clone(),
            found: if found.is_empty() { "nothing".to_owned() } else { found.to_owned() },
            right: right.into(),
        }
    }

    pub fn text(&self, right: &str) -> Result<&'t str, BoatFileError> {
        let text = self.value.get_ref().as_str().map(str::trim).filter(|text| !text.is_empty());
        text.ok_or_else(|| self.wrong(right))
    }

    pub fn number(&self, range: Range<f64>, right: &str) -> Result<f64, BoatFileError> {
        let number =
            number(self.value.get_ref()).filter(|number| range.contains(number) || *number == range.end);
        number.ok_or_else(|| self.wrong(format!("{right}, from {} to {}", range.start, range.end)))
    }

    /// A number in the usual unit, or a text with a unit; in SI.
    pub fn quantity(&self, dimension: Dimension, units: UnitSystem) -> Result<f64, BoatFileError> {
        let usual = dimension.usual_unit(units);
        let value = match self.value.get_ref() {
            DeValue::String(text) => quantity(text, dimension, usual),
            value => number(value).map(|number| dimension.to_si(number, usual)),
        };
        value.ok_or_else(|| self.wrong(dimension.examples()))
    }

    /// A quantity that is not negative.
    pub fn amount(&self, dimension: Dimension, units: UnitSystem) -> Result<f64, BoatFileError> {
        let value = self.quantity(dimension, units)?;
        if value < 0.0 {
            Err(self.wrong(format!("{}, not negative", dimension.examples())))
        } else {
            Ok(value)
        }
    }

    /// The two values of `[low, high]`.
    pub fn pair(&self, right: &str) -> Result<[Entry<'t>; 2], BoatFileError> {
        self.items(right)?.try_into().map_err(|_| self.wrong(right))
    }

    /// The values of a list.
    pub fn items(&self, right: &str) -> Result<Vec<Entry<'t>>, BoatFileError> {
        let array = self.value.get_ref().as_array().ok_or_else(|| self.wrong(right))?;
        let entry = |value| Entry { source: self.source, key: self.key.clone(), value };
        Ok(array.iter().map(entry).collect())
    }

    /// A list of texts.
    pub fn texts(&self, right: &str) -> Result<Vec<String>, BoatFileError> {
        self.items(right)?.iter().map(|entry| entry.text(right).map(str::to_owned)).collect()
    }

    pub fn table(&self, right: &str) -> Result<Section<'t>, BoatFileError> {
        let table = self.value.get_ref().as_table().ok_or_else(|| self.wrong(right))?;
        Ok(Section::new(self.source, &self.key, table))
    }

    /// The tables of `[[key]]`.
    pub fn tables(&self, right: &str) -> Result<Vec<Section<'t>>, BoatFileError> {
        self.items(right)?.iter().map(|entry| entry.table(right)).collect()
    }
}

fn number(value: &DeValue<'_>) -> Option<f64> {
    let number: f64 = match value {
        DeValue::Integer(integer) => i64::from_str_radix(integer.as_str(), integer.radix()).ok()? as f64,
        DeValue::Float(float) => float.as_str().parse().ok()?,
        _ => return None,
    };
    number.is_finite().then_some(number)
}
