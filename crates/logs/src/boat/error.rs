//! What is wrong with a boat file, where, and what would be right?

/// A boat file that cannot be used. Every message names the file, the line and the key.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum BoatFileError {
    /// The text is not TOML.
    #[error("{file_name}, line {line}: not valid TOML: {problem}")]
    Syntax {
        /// The file.
        file_name: String,
        /// Line, from 1.
        line: usize,
        /// What the TOML reader says.
        problem: String,
    },
    /// A key that means nothing here.
    #[error("{file_name}, line {line}: there is no key `{key}`{}", suggestion(nearest))]
    UnknownKey {
        /// The file.
        file_name: String,
        /// Line, from 1.
        line: usize,
        /// The key with its table (`sensors.depth`).
        key: String,
        /// The known key of that table that looks most like it, and all of them.
        nearest: Suggestion,
    },
    /// A value that cannot be meant.
    #[error("{file_name}, line {line}: `{key}`: found {found}; write {right}")]
    BadValue {
        /// The file.
        file_name: String,
        /// Line, from 1.
        line: usize,
        /// The key with its table.
        key: String,
        /// What stands there.
        found: String,
        /// What would be right.
        right: String,
    },
}

/// Known words that might have been meant.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Suggestion {
    /// The most similar known word, if one is similar at all.
    pub nearest: Option<String>,
    /// All known words.
    pub known: Vec<String>,
}

impl Suggestion {
    /// What might have been meant by `word`.
    pub(crate) fn new(word: &str, known: &[&str]) -> Self {
        Self {
            nearest: nearest(word, known).map(str::to_owned),
            known: known.iter().map(|&known| known.to_owned()).collect(),
        }
    }
}

fn suggestion(of: &Suggestion) -> String {
    match &of.nearest {
        Some(nearest) => format!("; did you mean `{nearest}`?"),
        None => format!("; known here: {}", of.known.join(", ")),
    }
}

/// The known word with the fewest changed letters, if fewer than half of its letters change.
pub(crate) fn nearest<'k>(word: &str, known: &[&'k str]) -> Option<&'k str> {
    let word = word.to_lowercase();
    known
        .iter()
        .map(|&candidate| (changed_letters(&word, candidate), candidate))
        .filter(|&(changes, candidate)| 2 * changes < candidate.len())
        .min()
        .map(|(_, candidate)| candidate)
}

/// Letters to insert, delete or replace (V. I. Levenshtein, Soviet Physics Doklady 10 (1966) 707–710).
fn changed_letters(a: &str, b: &str) -> usize {
    let b: Vec<char> = b.chars().collect();
    let mut row: Vec<usize> = (0..=b.len()).collect();
    for (i, letter) in a.chars().enumerate() {
        let mut diagonal = std::mem::replace(&mut row[0], i + 1);
        for (j, &other) in b.iter().enumerate() {
            let replaced = diagonal + usize::from(letter != other);
            diagonal = row[j + 1];
            row[j + 1] = replaced.min(row[j] + 1).min(diagonal + 1);
        }
    }
    row[b.len()]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nearest_words() {
        assert_eq!(changed_letters("kitten", "sitting"), 3);
        assert_eq!(nearest("timezone", &["boat", "time_zone"]), Some("time_zone"));
        assert_eq!(nearest("colour", &["boat", "time_zone"]), None);
    }
}
